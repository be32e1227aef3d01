//! The outcome rubric as a form: one row a criterion, four levels with their descriptors.

use std::collections::BTreeMap;

use leptos::prelude::*;
use practicum::course_book::{Criterion, Mark};
use practicum::eye::Eye;
use practicum::ids::{CriterionId, FaultId};
use practicum::outcome::{FaultSeen, Marked};

/// Marks while they are being given.
pub(crate) type Marks = RwSignal<BTreeMap<CriterionId, Marked>>;

/// The rubric as a form; keys 1 to 4 choose a level in the row that has the focus.
#[component]
pub(crate) fn RubricForm(
    /// Criteria that apply.
    criteria: Vec<Criterion>,
    /// Highest mark that the clocks allow.
    cap: Mark,
    /// The marks.
    marks: Marks,
    /// Whether a row without a mark says so.
    #[prop(optional, into)]
    asked: Signal<bool>,
    /// Where a key leads after the last row: the identifier of an element. Without one a key stays in its row.
    #[prop(optional)]
    then: Option<&'static str>,
) -> impl IntoView {
    let next: Vec<Option<String>> = criteria
        .iter()
        .skip(1)
        .map(|criterion| Some(level_id(&criterion.id, Mark::NotYet)))
        .chain([then.map(str::to_owned)])
        .map(|next| next.filter(|_| then.is_some()))
        .collect();
    let row = move |(number, criterion): (usize, Criterion)| {
        let cap = if criterion.watches_clocks { cap } else { Mark::Strong };
        let next = next.get(number).cloned().flatten();
        view! { <CriterionRow number=number + 1 criterion=criterion cap=cap marks=marks asked=asked next=next/> }
    };
    view! { <div class="rubric">{criteria.into_iter().enumerate().map(row).collect_view()}</div> }
}

/// One criterion.
#[component]
fn CriterionRow(
    /// Number on screen.
    number: usize,
    /// The criterion.
    criterion: Criterion,
    /// Highest mark allowed here.
    cap: Mark,
    /// All marks.
    marks: Marks,
    /// Whether it says that a mark is missing.
    asked: Signal<bool>,
    /// What takes the focus after a key has chosen a level: the next row.
    next: Option<String>,
) -> impl IntoView {
    let id = StoredValue::new(criterion.id.clone());
    let give = move |mark: Marked| {
        marks.update(|marks| {
            marks.insert(id.get_value(), mark);
        });
    };
    let is = move |mark: Marked| marks.with(|marks| id.with_value(|id| marks.get(id) == Some(&mark)));
    let missing = move || asked.get() && marks.with(|marks| id.with_value(|id| !marks.contains_key(id)));
    let name = format!("criterion-{}", criterion.id);
    let error = format!("{name}-error");
    let described = error.clone();
    let kind = match (criterion.safety_critical, criterion.core) {
        (true, _) => " · ■ safety-critical",
        (_, true) => " · ◆ core",
        _ => "",
    };
    let capped = (cap < Mark::Strong).then(|| format!("The clocks allow no more than {} here.", cap.word()));
    let decisive = criterion.safety_critical || criterion.core;
    let key = move |event: leptos::ev::KeyboardEvent| {
        let level = event.key().parse::<u8>().ok().and_then(|key| key.checked_sub(1)).and_then(Mark::from_number);
        if let Some(level) = level.filter(|level| *level <= cap) {
            give(Marked::Level(level));
            // Tab leads from the chosen level to the next row, and from another one to the chosen.
            let chosen = id.with_value(|id| level_id(id, level));
            crate::browser::page::focus(next.as_deref().unwrap_or(&chosen));
            event.prevent_default();
        }
    };
    let descriptors = criterion.descriptors.clone();
    let group = name.clone();
    let level = move |(mark, descriptor): (Mark, String)| {
        view! {
            <label class="mark">
                <input type="radio" id=id.with_value(|id| level_id(id, mark)) name=group.clone() disabled=cap < mark prop:checked=move || is(Marked::Level(mark))
                    on:change=move |_| give(Marked::Level(mark))/>
                <span class="mark-word">{format!("{} {}", mark.number() + 1, mark.word())}</span>
                <span class="mark-descriptor">{descriptor}</span>
            </label>
        }
    };
    view! {
        <fieldset class="criterion" aria-describedby=described on:keydown=key>
            <legend>{format!("{number}. {}{kind}", criterion.label)}</legend>
            {capped.map(|sentence| view! { <p class="small">{sentence}</p> })}
            <div id=error>{move || missing().then(|| view! { <p class="field-error">"▲ Not marked yet."</p> })}</div>
            <div class="marks">{Mark::ALL.into_iter().zip(descriptors).map(level).collect_view()}</div>
            {(!decisive).then(|| view! {
                <label class="mark mark-none">
                    <input type="radio" name=name prop:checked=move || is(Marked::NotApplicable)
                        on:change=move |_| give(Marked::NotApplicable)/>
                    <span class="mark-word">"Not applicable"</span>
                </label>
            })}
        </fieldset>
    }
}

/// Returns the identifier of a level of a criterion on the page.
pub(crate) fn level_id(id: &CriterionId, mark: Mark) -> String {
    format!("criterion-{id}-{}", mark.number() + 1)
}

/// Faults seen on each eye.
#[component]
pub(crate) fn FaultForm(
    /// Faults of the course book: identifier and name.
    faults: Vec<(FaultId, String)>,
    /// Faults seen.
    seen: RwSignal<Vec<FaultSeen>>,
) -> impl IntoView {
    let sides = StoredValue::new(faults);
    let side = move |eye: Eye| {
        let shown = move || seen.with(|seen| seen.iter().filter(|fault| fault.eye == eye).count());
        let rows = sides.get_value().into_iter().map(|(id, label)| {
            let fault = FaultSeen { fault: id, eye, section: None };
            let mine = fault.clone();
            let checked =
                move || seen.with(|seen| seen.iter().any(|other| other.fault == mine.fault && other.eye == eye));
            let toggle = move |_| {
                seen.update(|seen| {
                    let before = seen.len();
                    seen.retain(|other| other.fault != fault.fault || other.eye != eye);
                    if seen.len() == before {
                        seen.push(fault.clone());
                    }
                });
            };
            view! {
                <label class="chip">
                    <input type="checkbox" prop:checked=checked on:change=toggle/>
                    <span>{label}</span>
                </label>
            }
        });
        view! {
            <details class="fault-side">
                <summary>{format!("Faults, {} eye: ", eye.word())}{move || shown().to_string()}</summary>
                <fieldset class="chips" aria-label=format!("Faults, {} eye", eye.word())>{rows.collect_view()}</fieldset>
            </details>
        }
    };
    view! { <div class="faults">{Eye::BOTH.into_iter().map(side).collect_view()}</div> }
}

/// Says which criteria have no mark yet, if any.
pub(crate) fn unmarked(criteria: &[Criterion], marks: &BTreeMap<CriterionId, Marked>) -> Option<String> {
    let missing: Vec<_> = criteria.iter().filter(|c| !marks.contains_key(&c.id)).map(|c| c.label.clone()).collect();
    (!missing.is_empty()).then(|| format!("Not marked yet: {}. Nothing was lost.", missing.join("; ")))
}
