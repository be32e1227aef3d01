//! A service in time for two eyes and one pair of hands: the picture, and what would buy most minutes.

use std::sync::Arc;

use leptos::prelude::*;
use practicum::couch::Tint;
use practicum::course_book::CourseBook;
use practicum::evidence::pace::Piece;
use practicum::evidence::two_eyes::{Block, BlockKind, Layout, StageWorth, TwoEyes, present};
use practicum::ids::PersonId;
use practicum::moment::format_seconds;
use practicum::section::Plan;
use practicum::service::Service;
use practicum::standing::may_show_targets;

use crate::charts::{Bar, Chart, LaneBar, Lanes, lanes};
use crate::pages::service::stage_label;
use crate::session::{Session, session};

/// Fewer services than this give a rough pace only.
const FEW: usize = 3;

/// The shortest service that a trainee's present stage times allow, against one eye after the other.
#[component]
pub(crate) fn TwoEyesPlan(
    /// The trainee.
    id: PersonId,
    /// The section plan; the trainee's present one unless said.
    plan: Signal<Option<Plan>>,
) -> impl IntoView {
    let session = session();
    move || laid_out(&session, &id, plan.get())
}

/// What is laid out, and for which plan.
struct Found {
    plan: Plan,
    book: Arc<CourseBook>,
    may_show: bool,
    offered: bool,
}

fn laid_out(session: &Session, id: &PersonId, plan: Option<Plan>) -> AnyView {
    let (Some(standing), Some(book)) = (session.standing(id), session.book()) else {
        return view! { <p>"There is no course book in force, or this person is not a trainee."</p> }.into_any();
    };
    let plan = plan.unwrap_or(standing.plan);
    let services = session.services();
    let services: Vec<&Service> = services.iter().collect();
    let Some(found) = session.with_books(|books| present(id, &services, &books, plan)) else { return ().into_any() };
    let laid = match found.laid {
        Ok(laid) => laid,
        Err(why) => {
            let words = format!("○ Nothing can be laid out yet in {}: {why}.", plan.word());
            return view! { <p>{words}</p> }.into_any();
        }
    };
    let allowed = session.records().overlap_of(id).is_some_and(|said| said.value.allowed);
    let offered = allowed && laid.gains() && laid.holds();
    let few = if found.rests_on.len() < FEW { " These are few: take it as a rough guess." } else { "" };
    let rests = format!(
        "Laid out in {}, {}: each piece of work at the time that is kept {} times in 100, each dwell as planned in the \
         last service. The product’s label and the instructor come first.{few} From: ",
        plan.word(),
        if found.tint == Tint::None { "without tint" } else { "with tint" },
        (laid.figures.planned_share * 100.0).round(),
    );
    let shown = Found { plan, book, may_show: may_show_targets(&standing, plan), offered };
    let waits = laid.waits.iter().map(|wait| view! { <p class="notice notice-caution">{format!("▲ {wait}.")}</p> });
    let waits = waits.collect_view();
    view! {
        <div class="stack">
        <p>{overlap_words(&laid, allowed)}</p>
        {drawing(&shown, &laid)}
        {waits}
        {worth_words(&shown, &laid)}
        <p class="small">{rests}<super::progress::ServiceLinks ids=found.rests_on/></p>
        </div>
    }
    .into_any()
}

/// Says whether overlapping the eyes is offered, and why not.
fn overlap_words(laid: &TwoEyes, allowed: bool) -> String {
    let saves = laid.apart.total.saturating_sub(laid.together.total);
    if !laid.gains() {
        return "Overlapping the two eyes would gain nothing at this pace.".to_owned();
    }
    if !laid.holds() {
        return format!(
            "Overlapping the two eyes is not offered: a dwell would be overrun about {:.1} times in 100; the limit is \
             {:.1}.",
            laid.together.largest_overrun() * 100.0,
            laid.figures.most_overrun * 100.0,
        );
    }
    match allowed {
        true => format!(
            "Overlapping the two eyes would save {}. Chance of overrunning a dwell: at most {:.1} in 100.",
            format_seconds(saves),
            laid.together.largest_overrun() * 100.0,
        ),
        false => "Overlapping the two eyes is shown once an instructor has allowed it.".to_owned(),
    }
}

fn drawing(found: &Found, laid: &TwoEyes) -> AnyView {
    let mut layouts = vec![("One eye after the other", &laid.apart)];
    if found.offered {
        layouts.push(("Both eyes, overlapping", &laid.together));
    }
    let shown: Vec<Lanes> = layouts
        .iter()
        .map(|(title, layout)| Lanes {
            title: (*title).to_owned(),
            bars: layout.blocks.iter().map(|block| bar(&found.book, block)).collect(),
            total: layout.total,
        })
        .collect();
    let target = laid.target.filter(|_| found.may_show);
    let words = ["Way", "Eye", "Work", "From", "Until", "Left in the window", "Chance of overrun"];
    let rows = layouts.iter().flat_map(|(title, layout)| rows(&found.book, title, layout)).collect();
    view! {
        <Chart
            title=format!("The service in time, {}", found.plan.word())
            description="Filled: the trainee’s hands. Hatched: a product works. Empty: an instructor looks. One pair of hands does one thing at a time. The figure in a dwell: how many times in 100 it would be overrun."
            svg=lanes(&shown, target)
            head=words.map(str::to_owned).to_vec()
            rows=rows
        />
    }
    .into_any()
}

fn label(book: &CourseBook, block: &Block) -> String {
    let stage = stage_label(Some(book), &block.stage);
    match block.kind {
        BlockKind::Hands(Piece::PutOn) => format!("{stage}: on"),
        BlockKind::Hands(Piece::TakeOff) => format!("{stage}: off"),
        BlockKind::Dwell(_) => format!("{stage}: dwell"),
        _ => stage,
    }
}

fn bar(book: &CourseBook, block: &Block) -> LaneBar {
    LaneBar {
        lane: block.eye.map(|eye| usize::from(eye == practicum::eye::Eye::Right)),
        from: block.from,
        until: block.until,
        bar: match block.kind {
            BlockKind::Hands(_) => Bar::Hands,
            BlockKind::Dwell(_) => Bar::Dwell,
            BlockKind::Check => Bar::Check,
        },
        words: match block.kind {
            BlockKind::Dwell(_) => block.overrun.map(in_100).unwrap_or_default(),
            _ => label(book, block),
        },
    }
}

/// Writes a chance as so many in 100; a small one never reads as none.
fn in_100(chance: f64) -> String {
    match chance * 100.0 {
        share if share > 0.0 && share < 0.05 => "< 0.1".to_owned(),
        share => format!("{share:.1}"),
    }
}

fn rows(book: &CourseBook, way: &str, layout: &Layout) -> Vec<Vec<String>> {
    let row = |block: &Block| {
        vec![
            way.to_owned(),
            block.eye.map_or("both", |eye| eye.word()).to_owned(),
            label(book, block),
            format_seconds(block.from),
            format_seconds(block.until),
            block.spare.map_or_else(|| "–".to_owned(), format_seconds),
            block.overrun.map_or_else(|| "–".to_owned(), |chance| format!("{} in 100", in_100(chance))),
        ]
    };
    layout.blocks.iter().map(row).collect()
}

/// Says which two stages would buy most; nothing before quality is met at the plan.
fn worth_words(found: &Found, laid: &TwoEyes) -> Option<AnyView> {
    if !found.may_show {
        let words = "● Quality first: what would bring the service under its target is said once quality is met.";
        return Some(view! { <p class="notice notice-info">{words}</p> }.into_any());
    }
    let Some(target) = laid.target else {
        return Some(view! { <p>"The course book has no target on service time at this plan."</p> }.into_any());
    };
    let (way, now, typical, buying) = match found.offered {
        true => ("Overlapping the eyes", laid.together.total, laid.typical.1, &laid.worth_together),
        false => ("One eye after the other", laid.apart.total, laid.typical.0, &laid.worth_apart),
    };
    let (target_words, now_words) = (format_seconds(target), format_seconds(now));
    let usual = format!(" At typical times it comes to {}.", format_seconds(typical));
    if now <= target {
        let words = format!("{way} takes {now_words} as laid out, inside the target of {target_words}.{usual}");
        return Some(view! { <p>{words}</p> }.into_any());
    }
    let line = |worth: &StageWorth| {
        let stage = stage_label(Some(&found.book), &worth.stage);
        let words = format!(
            "{stage}: from {} to its target of {} (both eyes) would save {}",
            format_seconds(worth.now),
            format_seconds(worth.target),
            format_seconds(worth.saves),
        );
        view! { <li>{words}</li> }
    };
    let over = format!(
        "{way} takes {now_words} as laid out, {} over the target of {target_words}.{usual}",
        format_seconds(now - target)
    );
    let two: Vec<&StageWorth> = buying.stages.iter().take(2).collect();
    let (buys, then) = match (two.len(), buying.with_two) {
        (0, _) => ("No stage is above its own target.", String::new()),
        (count, with_two) => {
            let at = if count == 1 { "With it at its target" } else { "With both at their targets" };
            let under = if with_two <= target { "under the target" } else { "still over the target" };
            (
                "What would bring it under the target, most first:",
                format!("{at} the service takes {}, {under}.", format_seconds(with_two)),
            )
        }
    };
    Some(
        view! { <p>{over}</p><p>{buys}</p><ul>{two.into_iter().map(line).collect_view()}</ul><p>{then}</p> }.into_any(),
    )
}
