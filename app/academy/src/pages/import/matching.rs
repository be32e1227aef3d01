//! Which column of a file is what.

use leptos::prelude::*;

use super::reading::Sheet;
use crate::session::session;

/// Which column is what, with guesses that can be corrected.
#[component]
pub(super) fn Columns(
    /// The file.
    sheet: RwSignal<Option<Sheet>>,
) -> impl IntoView {
    let session = session();
    let names = sheet.with_untracked(|sheet| sheet.as_ref().map(Sheet::columns).unwrap_or_default());
    let fields = StoredValue::new(Sheet::fields(session));
    let samples = sheet.with_untracked(|sheet| sheet.as_ref().map(Sheet::samples).unwrap_or_default());
    let column = move |(place, (name, sample)): (usize, (String, String))| {
        view! { <Column sheet=sheet place=place name=name sample=sample fields=fields/> }
    };
    let problems = Memo::new(move |_| {
        sheet.with(|sheet| sheet.as_ref().map(|sheet| sheet.preview.mapping_problems.clone()).unwrap_or_default())
    });
    view! {
        <details open>
            <summary>"Columns"</summary>
            <div class="filters columns">{names.into_iter().zip(samples).enumerate().map(column).collect_view()}</div>
            <div role="alert">{move || problems.get().into_iter().map(|line| view! { <p class="field-error">"▲ "{line}</p> }).collect_view()}</div>
        </details>
    }
}

/// One column.
#[component]
fn Column(
    /// The file.
    sheet: RwSignal<Option<Sheet>>,
    /// Place of the column, from 0.
    place: usize,
    /// Its name in the file.
    name: String,
    /// What stands in it first.
    sample: String,
    /// Words of the fields.
    fields: StoredValue<Vec<String>>,
) -> impl IntoView {
    let session = session();
    let chosen = Memo::new(move |_| sheet.with(|sheet| sheet.as_ref().and_then(|sheet| sheet.matched(session, place))));
    let choose = move |value: String| {
        sheet.update(|sheet| {
            if let Some(sheet) = sheet {
                sheet.match_column(session, place, value.parse().ok());
            }
        });
    };
    let option = move |(number, label): (usize, String)| {
        view! { <option value=number.to_string() prop:selected=move || chosen.get() == Some(number)>{label}</option> }
    };
    let name = if name.trim().is_empty() { format!("Column {}", place + 1) } else { name };
    view! {
        <label class="field"><span>{name}</span>
            <select on:change:target=move |event| choose(event.target().value())>
                <option value="" prop:selected=move || chosen.get().is_none()>"Leave out"</option>
                {fields.get_value().into_iter().enumerate().map(option).collect_view()}
            </select>
            <span class="field-hint">{if sample.is_empty() { "empty".to_owned() } else { format!("such as “{sample}”") }}</span>
        </label>
    }
}
