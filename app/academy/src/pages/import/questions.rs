//! Questions that a file leaves: the order of dates, short times, names that nobody bears.

use leptos::prelude::*;

use super::reading::{Asks, Sheet};
use crate::components::When;
use crate::session::session;

/// All questions of a file.
#[component]
pub(super) fn Questions(
    /// The file.
    sheet: RwSignal<Option<Sheet>>,
) -> impl IntoView {
    let session = session();
    let answer = move |change: fn(&mut Sheet, String), value: String| {
        sheet.update(|sheet| {
            if let Some(sheet) = sheet {
                change(sheet, value);
                sheet.again(session);
            }
        });
    };
    let asks: Memo<Asks> = Memo::new(move |_| sheet.with(|sheet| sheet.as_ref().map(Sheet::asks).unwrap_or_default()));
    let unknown = Memo::new(move |_| sheet.with(|sheet| sheet.as_ref().map(Sheet::unknown_names).unwrap_or_default()));
    let name = move |(place, name, resembles): (usize, String, Option<String>)| {
        view! { <Name sheet=sheet place=place name=name resembles=resembles/> }
    };
    view! {
        <When when=move || asks.get().dates>
            <label class="field"><span>"Dates such as 03/04/2026: which comes first?"</span>
                <select on:change:target=move |event| answer(Sheet::dates_are, event.target().value())>
                    <option value="">"Not answered"</option><option value="day">"The day"</option><option value="month">"The month"</option>
                </select>
            </label>
        </When>
        <When when=move || asks.get().durations>
            <label class="field"><span>"Service times such as 1:25 are"</span>
                <select on:change:target=move |event| answer(Sheet::durations_are, event.target().value())>
                    <option value="">"Not answered"</option><option value="hours">"hours and minutes"</option><option value="minutes">"minutes and seconds"</option>
                </select>
            </label>
        </When>
        {move || unknown.get().into_iter().map(name).collect_view()}
    }
}

/// A name that nobody bears.
#[component]
fn Name(
    /// The file.
    sheet: RwSignal<Option<Sheet>>,
    /// Place among the unknown names.
    place: usize,
    /// The name as written.
    name: String,
    /// A name that it may be another spelling of.
    resembles: Option<String>,
) -> impl IntoView {
    let session = session();
    let people = session.trainees();
    let chosen =
        Memo::new(move |_| sheet.with(|sheet| sheet.as_ref().map(|sheet| sheet.answer_to(place)).unwrap_or_default()));
    let choose = move |value: String| {
        sheet.update(|sheet| {
            if let Some(sheet) = sheet {
                sheet.name_is(place, value);
                sheet.again(session);
            }
        });
    };
    let is = move |value: &str| chosen.with(|chosen| chosen == value);
    let person = move |person: practicum::person::Person| {
        let id = person.id.to_string();
        let mine = id.clone();
        view! { <option value=id prop:selected=move || is(&mine)>{person.name}</option> }
    };
    let hint = resembles.map(|other| format!("Perhaps another spelling of “{other}”? Then choose that name."));
    view! {
        <label class="field"><span>{format!("Who is “{name}”?")}</span>
            <select on:change:target=move |event| choose(event.target().value())>
                <option value="" prop:selected=move || is("")>"Not answered: leave out"</option>
                <option value="new" prop:selected=move || is("new")>"Enrol as a new trainee"</option>
                {people.into_iter().map(person).collect_view()}
            </select>
        </label>
        {hint.map(|hint| view! { <p class="field-hint">{hint}</p> })}
    }
}
