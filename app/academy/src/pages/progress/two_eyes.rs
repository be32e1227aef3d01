//! The service laid out for two eyes at a trainee's pace, and whether the eyes may overlap.

use leptos::prelude::*;
use logbook::Fact;
use practicum::couch::{DwellPlan, Tint};
use practicum::course_book::CourseBook;
use practicum::evidence::pace::{Piece, paces};
use practicum::evidence::records_of;
use practicum::evidence::two_eyes::{Block, BlockKind, Layout, NoLayout, TwoEyes, Wanted, two_eyes};
use practicum::ids::PersonId;
use practicum::moment::{Seconds, format_seconds};
use practicum::product::ProductKind;
use practicum::section::Plan;
use practicum::service::Service;
use practicum::standing::may_show_targets;

use crate::charts::{Bar, Chart, LaneBar, Lanes, lanes};
use crate::components::When;
use crate::pages::form::{Field, OnceUnlocked, Saving, SavingLine, TextInput, name};
use crate::pages::service::stage_label;
use crate::session::{Session, session};

/// The layout for a trainee, asked for on opening.
#[component]
pub(crate) fn TwoEyesSection(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let open = RwSignal::new(false);
    let known = StoredValue::new(id);
    view! {
        <h2>"Two eyes, one pair of hands"</h2>
        <button
            type="button"
            class="quiet"
            aria-expanded=move || open.get().to_string()
            on:click=move |_| open.update(|open| *open = !*open)
        >
            {move || if open.get() { "Put the layout away" } else { "Lay the service out at the present pace" }}
        </button>
        <div class="two-eyes">
            <When when=move || open.get()>
                {move || laid_out(known.get_value())}
                <Allowing id=known.get_value()/>
            </When>
        </div>
    }
}

/// What is laid out, and for which plan and tint.
struct Found {
    plan: Plan,
    book: std::sync::Arc<CourseBook>,
    laid: Result<TwoEyes, NoLayout>,
    services: usize,
    may_show: bool,
}

fn find(session: &Session, id: &PersonId) -> Option<Found> {
    let standing = session.standing(id)?;
    let book = session.book()?;
    let services = session.services();
    let services: Vec<&Service> = services.iter().collect();
    let records: Vec<&Service> = records_of(id, &services);
    let plan = standing.plan;
    let last_services = book.rules.two_eyes.map_or(0, |figures| figures.last);
    let last_services = usize::try_from(last_services).unwrap_or(usize::MAX);
    let found = session.with_books(|books| paces(&records, &books, plan, last_services))?;
    let at_plan = records.iter().rev().filter(|service| service.plan() == Some(plan));
    let last = at_plan.clone().next();
    let laid = two_eyes(&Wanted {
        book: &book,
        plan,
        tint: last.map_or(Tint::None, |service| service.tint),
        paces: &found,
        dwells: &figures(&records),
        check: usual_check(&records, last_services),
    });
    let may_show = may_show_targets(&standing, plan);
    Some(Found { plan, services: at_plan.take(last_services).count(), may_show, book, laid })
}

/// Returns the dwell figures that were in force in the last service with each product.
fn figures(records: &[&Service]) -> Vec<(ProductKind, DwellPlan)> {
    let mut figures: Vec<(ProductKind, DwellPlan)> = Vec::new();
    for dwell in records.iter().rev().flat_map(|service| &service.times.dwells) {
        if let Some(plan) = dwell.plan
            && figures.iter().all(|(kind, _)| *kind != dwell.product)
        {
            figures.push((dwell.product, plan));
        }
    }
    figures
}

/// Returns the middle of the last services' checks.
fn usual_check(records: &[&Service], last: usize) -> Seconds {
    let mut checks: Vec<Seconds> = records.iter().rev().filter_map(|service| service.times.checks).take(last).collect();
    checks.sort_unstable();
    checks.get(checks.len() / 2).copied().unwrap_or(0)
}

fn laid_out(id: PersonId) -> AnyView {
    let session = session();
    let Some(found) = find(&session, &id) else {
        return view! { <p>"There is no course book in force, or this person is not a trainee."</p> }.into_any();
    };
    let laid = match &found.laid {
        Ok(laid) => laid,
        Err(why) => {
            let words = format!("Nothing can be laid out yet in {}: {why}.", found.plan.word());
            return view! { <p>{words}</p> }.into_any();
        }
    };
    let allowed = session.records().overlap_of(&id).is_some_and(|said| said.value.allowed);
    let offered = allowed && laid.gains() && laid.holds();
    let rests = format!(
        "Laid out in {} from the last {} services there: each piece of work at the time that is kept {} times in \
         100, each dwell as planned in the last service. The product’s label and the instructor come first.",
        found.plan.word(),
        found.services,
        (laid.figures.planned_share * 100.0).round(),
    );
    let waits: Vec<String> = laid.waits.clone();
    view! {
        <p>{rests}</p>
        <p>{overlap_words(laid, allowed)}</p>
        {drawing(&found, laid, offered)}
        {waits.into_iter().map(|wait| view! { <p class="notice notice-caution">{format!("▲ {wait}.")}</p> }).collect_view()}
        {worth_words(&found, laid)}
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

fn drawing(found: &Found, laid: &TwoEyes, offered: bool) -> AnyView {
    let mut layouts = vec![("One eye after the other", &laid.apart)];
    if offered {
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
            description="Filled: the trainee’s hands. Hatched: a product works. Empty: an instructor looks. One pair of hands does one thing at a time."
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
        words: label(book, block),
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
            block.overrun.map_or_else(|| "–".to_owned(), |chance| format!("{:.1} in 100", chance * 100.0)),
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
    let target = laid.target?;
    let now = laid.apart.total;
    if now <= target {
        let words = format!(
            "One eye after the other takes {}, inside the target of {}.",
            format_seconds(now),
            format_seconds(target)
        );
        return Some(view! { <p>{words}</p> }.into_any());
    }
    let line = |worth: &practicum::evidence::two_eyes::StageWorth| {
        let stage = stage_label(Some(&found.book), &worth.stage);
        let words = format!(
            "{stage}: from {} to its target of {} would save {}",
            format_seconds(worth.now),
            format_seconds(worth.target),
            format_seconds(worth.saves),
        );
        view! { <li>{words}</li> }
    };
    let over = format!("{} over the target of {}. ", format_seconds(now - target), format_seconds(target));
    let buys = if laid.worth.is_empty() { "No stage is above its own target." } else { "What would buy most:" };
    Some(view! { <p>{over}{buys}</p><ul>{laid.worth.iter().take(2).map(line).collect_view()}</ul> }.into_any())
}

/// Says whether the eyes may overlap, and lets an instructor decide.
#[component]
fn Allowing(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let trainee = id.clone();
    let said = Memo::new(move |_| {
        let records = session.records();
        let said = records.overlap_of(&trainee)?;
        let by = session.person_name(&said.author);
        Some((
            said.value.allowed,
            format!("{by}, {}: {}", said.recorded_at.date_naive(), said.value.why.trim_end_matches('.')),
        ))
    });
    let allowed = Signal::derive(move || said.with(|said| said.as_ref().is_some_and(|(allowed, _)| *allowed)));
    let words = move || match said.get() {
        Some((true, by)) => format!("✓ Overlapping the eyes is allowed, not yet signed ({by})."),
        Some((false, by)) => format!("○ Overlapping the eyes is no longer allowed ({by})."),
        None => "○ Nobody has allowed overlapping the eyes.".to_owned(),
    };
    view! {
        <p>{words}</p>
        <OnceUnlocked fallback=|| ()>
            <AllowForm id=id.clone() allowed=allowed/>
        </OnceUnlocked>
    }
}

/// An instructor's word on whether the eyes may overlap.
#[component]
fn AllowForm(
    /// The trainee.
    id: PersonId,
    /// Whether they may now.
    allowed: Signal<bool>,
) -> impl IntoView {
    let session = session();
    let why = Field::empty();
    let saving = Saving::new();
    let save = move |_| {
        let Some(reason) = why.read(|typed| name("why, in a few words", typed)) else { return };
        let fact = Fact::OverlapAllowed { trainee: id.clone(), allowed: !allowed.get_untracked(), why: reason };
        saving.write(session, vec![fact], "The decision is recorded.".to_owned(), move || why.clear());
    };
    view! {
        <details class="decide">
            <summary>"Record a decision about overlapping the eyes"</summary>
            <TextInput label="Why the eyes may overlap, or no longer" id="overlap-why" field=why/>
            <SavingLine saving=saving/>
            <button type="button" class="button-primary" disabled=move || saving.busy() on:click=save>
                {move || if allowed.get() { "Allow it no longer" } else { "Allow overlapping the eyes" }}
            </button>
        </details>
    }
}
