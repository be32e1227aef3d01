//! The outcome rubric as a form: one row a criterion, four levels with their descriptors.

use std::collections::BTreeMap;

use leptos::prelude::*;
use practicum::course_book::{Criterion, Mark};
use practicum::eye::{Eye, PerEye};
use practicum::ids::{CriterionId, FaultId};
use practicum::order::{InOrder, set_of};
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
    /// Sections that each eye was worked in; where they are known, a fault may be put into its sections.
    #[prop(optional)]
    sections: Option<PerEye<u8>>,
) -> impl IntoView {
    let sides = StoredValue::new(faults);
    let side = move |eye: Eye| {
        let shown =
            move || seen.with(|seen| set_of(seen.iter().filter(|one| one.eye == eye).map(|one| &one.fault)).len());
        let count = sections.map_or(0, |sections| *sections.get(eye));
        let named = move || {
            let ticked =
                seen.with(|seen| set_of(seen.iter().filter(|one| one.eye == eye).map(|one| one.fault.clone())));
            let named = sides.with_value(|faults| {
                let ticked = faults.iter().filter(|(id, _)| ticked.contains(id));
                ticked.cloned().collect::<Vec<_>>()
            });
            named.into_iter().filter(|_| count > 1).collect::<Vec<_>>()
        };
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
                <For each=named key=|(id, _)| id.clone() let((id, label))>
                    <FaultSections id=id label=label eye=eye count=count seen=seen/>
                </For>
            </details>
        }
    };
    view! { <div class="faults">{Eye::BOTH.into_iter().map(side).collect_view()}</div> }
}

/// In which sections of an eye a fault was seen, counted from the inner corner; none means that nobody said.
#[component]
fn FaultSections(
    /// The fault.
    id: FaultId,
    /// Its name.
    label: String,
    /// The eye.
    eye: Eye,
    /// Sections that it was worked in.
    count: u8,
    /// Faults seen.
    seen: RwSignal<Vec<FaultSeen>>,
) -> impl IntoView {
    let id = StoredValue::new(id);
    let section = move |number: u8| {
        let this = move || FaultSeen { fault: id.get_value(), eye, section: Some(number) };
        let checked = move || seen.with(|seen| seen.contains(&this()));
        let toggle = move |_| seen.update(|seen| in_section(seen, &this()));
        view! {
            <label class="chip">
                <input type="checkbox" prop:checked=checked on:change=toggle/>
                <span>{number.to_string()}</span>
            </label>
        }
    };
    view! {
        <fieldset class="chips fault-sections">
            <legend class="small">{format!("{label}, {} eye: in section (from the inner corner)", eye.word())}</legend>
            {(1..=count).map(section).collect_view()}
        </fieldset>
    }
}

/// Puts a fault into a section or takes it out again; without any section left it is still seen on the eye.
fn in_section(seen: &mut Vec<FaultSeen>, this: &FaultSeen) {
    let same = |other: &FaultSeen| other.fault == this.fault && other.eye == this.eye;
    if seen.contains(this) {
        seen.retain(|other| other != this);
        if !seen.iter().any(same) {
            seen.push(FaultSeen { section: None, ..this.clone() });
        }
    } else {
        seen.retain(|other| !same(other) || other.section.is_some());
        seen.push(this.clone());
        seen.order_by(|a, b| a.cmp(b));
    }
}

/// Says which criteria have no mark yet, if any.
pub(crate) fn unmarked(criteria: &[Criterion], marks: &BTreeMap<CriterionId, Marked>) -> Option<String> {
    let missing: Vec<_> = criteria.iter().filter(|c| !marks.contains_key(&c.id)).map(|c| c.label.clone()).collect();
    (!missing.is_empty()).then(|| format!("Not marked yet: {}. Nothing was lost.", missing.join("; ")))
}

#[cfg(test)]
mod tests {
    use practicum::eye::Eye;
    use practicum::outcome::FaultSeen;

    use super::in_section;

    #[test]
    fn a_fault_is_put_into_sections_and_stays_on_the_eye() {
        let fault = |section| FaultSeen { fault: "crossed".into(), eye: Eye::Left, section };
        let other = FaultSeen { eye: Eye::Right, ..fault(None) };
        let mut seen = vec![fault(None), other.clone()];
        in_section(&mut seen, &fault(Some(3)));
        in_section(&mut seen, &fault(Some(1)));
        assert_eq!(seen, [fault(Some(1)), fault(Some(3)), other.clone()]);
        in_section(&mut seen, &fault(Some(3)));
        in_section(&mut seen, &fault(Some(1)));
        assert_eq!(seen, [other, fault(None)]);
    }
}
