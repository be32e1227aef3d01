//! All trainees of a group at a glance, on one scale; by name or by what is due, never by speed.

mod card;
mod rows;

use leptos::prelude::*;
use practicum::group::{Order, Row, Whole, in_order, whole};
use practicum::person::Person;

use self::card::Card;
use self::rows::{Work, Working};
use crate::charts::SmallScale;
use crate::components::{Page, When};
use crate::session::session;

/// Cards that are put on the page at a time, so that hundreds of them never hold it up.
const AT_ONCE: usize = 8;

/// What is shown of the group.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
struct Choice {
    /// Name of the group; empty for everybody.
    group: String,
    /// Part of a name.
    name: String,
    /// Which trainees.
    which: Which,
    /// By what is due, not by name.
    by_due: bool,
    /// Those who have left too.
    left: bool,
}

/// Which trainees are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Which {
    /// Everybody.
    #[default]
    All,
    /// With something to be done.
    ToDo,
    /// Who stall.
    Stalled,
}

impl Choice {
    fn fits(&self, row: &Row) -> bool {
        let person = &row.trainee;
        let which = match self.which {
            Which::All => true,
            Which::ToDo => !row.to_do.is_empty(),
            Which::Stalled => row.stall.is_some(),
        };
        let name = person.name.to_lowercase().contains(&self.name.trim().to_lowercase());
        which && name && self.of_group(person)
    }

    fn of_group(&self, person: &Person) -> bool {
        (self.group.is_empty() || person.group == self.group) && (self.left || person.left.is_none())
    }
}

/// All trainees.
#[component]
pub(crate) fn GroupPage() -> impl IntoView {
    let session = session();
    view! {
        <Page title="Group">
            <When when=move || session.trainees().is_empty()>
                <p>"No trainee is enrolled yet. "<a href="#/people">"Enrol one"</a></p>
            </When>
            <When when=move || session.may_assess() && !session.trainees().is_empty() fallback=names>
                <Cards/>
            </When>
        </Page>
    }
}

/// Names only: marks and times of the group are for who assesses.
fn names() -> impl IntoView {
    let session = session();
    let row = move |person: Person| {
        let standing = session.standing(&person.id);
        let plan = standing.as_ref().map(|standing| standing.plan.word()).unwrap_or_default();
        let left = person.left.map(|day| format!(" (left on {day})"));
        view! {
            <tr>
                <th scope="row"><a href=format!("#/progress/{}", person.id)>{person.name.clone()}</a>{left}</th>
                <td>{person.group.clone()}</td><td>{plan}</td>
            </tr>
        }
    };
    view! {
        <When when=move || !session.trainees().is_empty()>
            <p class="notice notice-info">
                "● Charts, marks and what is due of the whole group are for an instructor or the owner, unlocked at the top."
            </p>
            <div class="table-wrap" role="region" tabindex="0" aria-label="Trainees by name"><table>
                <caption>"Trainees by name"</caption>
                <thead><tr>
                    <th scope="col">"Trainee"</th><th scope="col">"Group"</th><th scope="col">"Present plan"</th>
                </tr></thead>
                <tbody>{move || session.trainees().into_iter().map(row).collect_view()}</tbody>
            </table></div>
        </When>
    }
}

/// The cards of everybody, worked out in steps.
#[component]
fn Cards() -> impl IntoView {
    let session = session();
    let work = Work::begin(session);
    let choice = RwSignal::new(Choice::default());
    let scale = Memo::new(move |_| {
        work.rows.with(|rows| {
            let points: Vec<_> = rows.iter().flat_map(card::points).collect();
            SmallScale::of(&points)
        })
    });
    let shown = Memo::new(move |_| {
        let choice = choice.get();
        let mut rows: Vec<Row> = work.rows.with(|rows| rows.iter().filter(|row| choice.fits(row)).cloned().collect());
        in_order(&mut rows, if choice.by_due { Order::Due } else { Order::Name });
        rows
    });
    let limit = RwSignal::new(AT_ONCE);
    rows::grow(limit, move || shown.with_untracked(Vec::len));
    Effect::new(move |_| {
        shown.track();
        rows::grow(limit, move || shown.with_untracked(Vec::len));
    });
    let placed = move || {
        let round = work.round.get();
        shown.with(|rows| rows.iter().take(limit.get()).map(|row| (round, row.clone())).collect::<Vec<_>>())
    };
    view! {
        <Filters choice=choice/>
        <p role="status" class="small">{move || say_work(&work.working.get(), shown.with(Vec::len))}</p>
        {move || weak(&work, &choice.get())}
        <When when=move || work.working.with(|working| matches!(working, Working::Done(_)))>
            <Legend scale=scale/>
            <ol class="group-cards">
                <For each=placed key=|(round, row)| (*round, row.trainee.id.to_string())
                    children=move |(_, row)| view! { <li><Card row=row scale=scale.get_untracked()/></li> }/>
            </ol>
        </When>
    }
}

fn say_work(working: &Working, shown: usize) -> String {
    match working {
        Working::Under { done, of } => format!("Working out {done} of {of} trainees …"),
        Working::Done(all) => format!("{shown} of {all} trainees shown."),
    }
}

/// Says what the group is weak in.
fn weak(work: &Work, choice: &Choice) -> Option<AnyView> {
    let session = session();
    let book = session.book()?;
    if !work.working.with(|working| matches!(working, Working::Done(_))) {
        return None;
    }
    let of: Vec<Row> =
        work.rows.with(|rows| rows.iter().filter(|row| choice.of_group(&row.trainee)).cloned().collect());
    let last = book.rules.widen_last;
    let body = match whole(&of, book.rules.group) {
        Whole::NotAsked => view! {
            <p>"The course book sets no figures for a group, so nothing is said of it as a whole."</p>
        }
        .into_any(),
        Whole::TooFew { have, need } => view! {
            <p>{format!("{have} trainees have marks that count. What compares people is shown from {need} on.")}</p>
        }
        .into_any(),
        Whole::WeakIn(weak) if weak.is_empty() => {
            view! { <p>{format!("In no criterion is the group weak, by everybody’s last {last} marked services.")}</p> }
                .into_any()
        }
        Whole::WeakIn(weak) => {
            let line = |weak: practicum::group::Weak| {
                let label =
                    book.criterion(&weak.criterion).map_or_else(|| weak.criterion.to_string(), |c| c.label.clone());
                view! {
                    <li><b>{label}</b>{format!(
                        ": {} of {} marks below Meets, with {} of {} trainees",
                        weak.below, weak.marks, weak.trainees.0, weak.trainees.1
                    )}</li>
                }
            };
            view! {
                <p>{format!("Worth teaching to everybody next, by everybody’s last {last} marked services:")}</p>
                <ul>{weak.into_iter().map(line).collect_view()}</ul>
            }
            .into_any()
        }
    };
    Some(view! { <section class="card"><h2>"The group as a whole"</h2>{body}</section> }.into_any())
}

/// What the signs in the small charts mean, and their one scale.
#[component]
fn Legend(
    /// The scale.
    scale: Memo<SmallScale>,
) -> impl IntoView {
    view! {
        <p class="small">
            {move || scale.with(|scale| format!(
                "All charts have one scale: across, live services 1 to {}; up, hands-on minutes of both eyes, 0 to {}. ",
                scale.services, scale.minutes
            ))}
            "The shape says the plan: ■ quarters, ◆ thirds, ● halves, ▲ whole lash line. Filled: acceptable; hollow: not \
            acceptable; small: not marked; ✕ above: safety breach; below the line: no time taken by a clock."
        </p>
    }
}

/// Filters and order.
#[component]
fn Filters(
    /// What is shown.
    choice: RwSignal<Choice>,
) -> impl IntoView {
    let session = session();
    let groups = Memo::new(move |_| {
        let mut groups: Vec<String> = session.trainees().into_iter().map(|person| person.group).collect();
        groups.retain(|group| !group.is_empty());
        groups.sort();
        groups.dedup();
        groups
    });
    let option = move |group: String| {
        let (mine, value) = (group.clone(), group.clone());
        view! { <option value=value prop:selected=move || choice.with(|c| c.group == mine)>{group}</option> }
    };
    let which = move |text: &str| match text {
        "to do" => Which::ToDo,
        "stalled" => Which::Stalled,
        _ => Which::All,
    };
    view! {
        <form class="filters" on:submit=|event| event.prevent_default()>
            <label class="field"><span>"Group"</span>
                <select on:change:target=move |event| choice.update(|c| c.group = event.target().value())>
                    <option value="" prop:selected=move || choice.with(|c| c.group.is_empty())>"All"</option>
                    {move || groups.get().into_iter().map(option).collect_view()}
                </select>
            </label>
            <label class="field"><span>"Name holds"</span>
                <input type="search" prop:value=move || choice.with(|c| c.name.clone())
                    on:input:target=move |event| choice.update(|c| c.name = event.target().value())/>
            </label>
            <label class="field"><span>"Show"</span>
                <select on:change:target=move |event| choice.update(|c| c.which = which(&event.target().value()))>
                    <option value="all">"everybody"</option>
                    <option value="to do">"with something to do"</option>
                    <option value="stalled">"who stall"</option>
                </select>
            </label>
            <label class="field"><span>"Order"</span>
                <select on:change:target=move |event| choice.update(|c| c.by_due = event.target().value() == "due")>
                    <option value="name">"by name"</option>
                    <option value="due">"by what is due"</option>
                </select>
            </label>
            <label class="chip"><input type="checkbox" prop:checked=move || choice.with(|c| c.left)
                on:change:target=move |event| choice.update(|c| c.left = event.target().checked())/>
                <span>"Those who have left too"</span></label>
        </form>
    }
}
