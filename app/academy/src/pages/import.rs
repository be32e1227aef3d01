//! Bringing in last term's spreadsheet: preview, questions, then all or nothing.

mod batches;
mod reading;

use leptos::prelude::*;

use crate::browser;
use crate::components::Page;
use crate::session::session;
use reading::Sheet;

/// Largest file read, in bytes.
const CAP: u64 = 5 * 1024 * 1024;
/// Identifier of the file input.
const INPUT: &str = "sheet-file";

/// Imports a spreadsheet.
#[component]
pub(crate) fn ImportPage() -> impl IntoView {
    let session = session();
    let sheet = RwSignal::new(None::<Sheet>);
    let problem = RwSignal::new(None::<String>);
    let said = RwSignal::new(None::<String>);
    let read = move |_| {
        leptos::task::spawn_local(async move {
            said.set(None);
            let file = browser::file::read_chosen(INPUT, CAP).await.map_err(|error| error.to_string());
            match file.and_then(|file| Sheet::read(session, &file.name, &file.bytes)) {
                Ok(read) => {
                    problem.set(None);
                    sheet.set(Some(read));
                }
                Err(sentence) => problem.set(Some(sentence)),
            }
        });
    };
    let template = move |_| {
        if let Some(book) = session.book() {
            let text = logbook::spreadsheet::export::template(&book);
            browser::file::download("template.csv", "text/csv;charset=utf-8", &text);
        }
    };
    view! {
        <Page title="Bring in a spreadsheet">
            <p>"Services of last term as comma-separated values (CSV, UTF-8). They are kept as “imported, not observed” and never count as evidence."</p>
            <Show when=move || !session.may_assess()><super::mark::UnlockFirst/></Show>
            <label class="field"><span>"Spreadsheet (CSV)"</span><input type="file" id=INPUT accept=".csv,.tsv,.txt,text/csv"/></label>
            <p class="toolbar">
                <button type="button" class="button-primary" on:click=read>"Read and show, write nothing"</button>
                <button type="button" on:click=template>"Template to fill in"</button>
            </p>
            <div role="alert">
                {move || problem.get().map(|sentence| view! { <p class="notice notice-danger">{sentence}</p> })}
                {move || said.get().map(|sentence| view! { <p class="notice notice-info">{sentence}</p> })}
            </div>
            {move || sheet.get().is_some().then(|| view! { <Preview sheet=sheet said=said problem=problem/> })}
            <batches::Batches/>
        </Page>
    }
}

/// What the file would add, and the questions it leaves.
#[component]
fn Preview(
    /// The file as read, with the answers so far.
    sheet: RwSignal<Option<Sheet>>,
    /// What was done.
    said: RwSignal<Option<String>>,
    /// What went wrong.
    problem: RwSignal<Option<String>>,
) -> impl IntoView {
    let session = session();
    let ready = move || sheet.with(|sheet| sheet.as_ref().map_or(0, |sheet| sheet.preview.rows.len()));
    let confirm = move |_| {
        let Some(read) = sheet.get() else { return };
        leptos::task::spawn_local(async move {
            match read.write(session).await {
                Ok(words) => {
                    sheet.set(None);
                    browser::file::clear_chosen(INPUT);
                    problem.set(None);
                    said.set(Some(words));
                }
                Err(sentence) => problem.set(Some(sentence)),
            }
        });
    };
    view! {
        <h2>"Preview: nothing is written yet"</h2>
        <p role="status">{move || sheet.with(|sheet| sheet.as_ref().map(Sheet::summary).unwrap_or_default())}</p>
        <Columns sheet=sheet/>
        <Questions sheet=sheet/>
        {move || sheet.with(|sheet| sheet.as_ref().map(|sheet| problem_table("Rows that are left out", &sheet.preview.rejected)))}
        {move || sheet.with(|sheet| sheet.as_ref().map(|sheet| problem_table("Rows that wait for an answer", &sheet.preview.waiting)))}
        <Changed sheet=sheet/>
        <FirstRows sheet=sheet/>
        <button type="button" class="button-primary" disabled=move || ready() == 0 on:click=confirm>
            {move || format!("Import {} rows", ready())}
        </button>
    }
}

/// Which column is what.
#[component]
fn Columns(
    /// The file.
    sheet: RwSignal<Option<Sheet>>,
) -> impl IntoView {
    let session = session();
    let columns = move || sheet.with(|sheet| sheet.as_ref().map(|sheet| sheet.columns(session)).unwrap_or_default());
    let row = move |(place, name, choices, chosen): reading::ColumnChoice| {
        let choose = move |event: leptos::ev::Targeted<leptos::ev::Event, web_sys::HtmlSelectElement>| {
            let value = event.target().value();
            sheet.update(|sheet| {
                if let Some(sheet) = sheet {
                    sheet.match_column(session, place, value.parse().ok());
                }
            });
        };
        view! {
            <label class="field"><span>{name}</span>
                <select on:change:target=choose>
                    <option value="" selected=chosen.is_none()>"Leave out"</option>
                    {choices.into_iter().enumerate().map(|(number, label)| view! {
                        <option value=number.to_string() selected=chosen == Some(number)>{label}</option>
                    }).collect_view()}
                </select>
            </label>
        }
    };
    let problems = move || {
        sheet.with(|sheet| sheet.as_ref().map(|sheet| sheet.preview.mapping_problems.clone()).unwrap_or_default())
    };
    view! {
        <details open>
            <summary>"Columns"</summary>
            <div class="filters">{move || columns().into_iter().map(row).collect_view()}</div>
            <ul>{move || problems().into_iter().map(|line| view! { <li class="field-error">{line}</li> }).collect_view()}</ul>
        </details>
    }
}

/// Questions that the file leaves: dates, short times, names.
#[component]
fn Questions(
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
    let asks = move || sheet.with(|sheet| sheet.as_ref().map(Sheet::asks).unwrap_or_default());
    let unknown = move || sheet.with(|sheet| sheet.as_ref().map(Sheet::unknown_names).unwrap_or_default());
    let name = move |(place, name, chosen): (usize, String, String)| {
        let people = session.trainees();
        let choose = move |event: leptos::ev::Targeted<leptos::ev::Event, web_sys::HtmlSelectElement>| {
            let value = event.target().value();
            sheet.update(|sheet| {
                if let Some(sheet) = sheet {
                    sheet.name_is(place, value);
                    sheet.again(session);
                }
            });
        };
        view! {
            <label class="field"><span>{format!("Who is “{name}”?")}</span>
                <select on:change:target=choose>
                    <option value="" selected=chosen.is_empty()>"Not answered: leave out"</option>
                    <option value="new" selected=chosen == "new">"Enrol as a new trainee"</option>
                    {people.into_iter().map(|person| {
                        let selected = chosen == person.id.as_str();
                        view! { <option value=person.id.to_string() selected=selected>{person.name.clone()}</option> }
                    }).collect_view()}
                </select>
            </label>
        }
    };
    view! {
        <Show when=move || asks().dates>
            <label class="field"><span>"Dates such as 03/04/2026: which comes first?"</span>
                <select on:change:target=move |event| answer(Sheet::dates_are, event.target().value())>
                    <option value="">"Not answered"</option><option value="day">"The day"</option><option value="month">"The month"</option>
                </select>
            </label>
        </Show>
        <Show when=move || asks().durations>
            <label class="field"><span>"Service times such as 1:25 are"</span>
                <select on:change:target=move |event| answer(Sheet::durations_are, event.target().value())>
                    <option value="">"Not answered"</option><option value="hours">"hours and minutes"</option><option value="minutes">"minutes and seconds"</option>
                </select>
            </label>
        </Show>
        {move || unknown().into_iter().map(name).collect_view()}
    }
}

fn problem_table(title: &'static str, rejected: &[logbook::spreadsheet::rows::Rejected]) -> impl IntoView + use<> {
    let rows: Vec<_> = rejected
        .iter()
        .map(|one| {
            view! { <tr><td>{one.line}</td><td>{one.column.clone()}</td><td>{one.value.clone()}</td><td>{one.reason.clone()}</td></tr> }
        })
        .collect();
    (!rows.is_empty()).then(|| view! {
        <h3>{title}</h3>
        <div class="table-wrap" tabindex="0"><table>
            <thead><tr><th scope="col">"Line"</th><th scope="col">"Column"</th><th scope="col">"Value"</th><th scope="col">"Why"</th></tr></thead>
            <tbody>{rows}</tbody>
        </table></div>
    })
}

/// Rows that say something else than the log does: offered as corrections.
#[component]
fn Changed(
    /// The file.
    sheet: RwSignal<Option<Sheet>>,
) -> impl IntoView {
    let session = session();
    let lines = move || sheet.with(|sheet| sheet.as_ref().map(|sheet| sheet.changed(session)).unwrap_or_default());
    let set = move |yes: bool| {
        sheet.update(|sheet| {
            if let Some(sheet) = sheet {
                sheet.correct = yes;
            }
        });
    };
    view! {
        <Show when=move || !lines().is_empty()>
            <h3>"Rows with other times than the log holds"</h3>
            <ul>{move || lines().into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
            <label class="chip">
                <input type="checkbox" on:change:target=move |event| set(event.target().checked())/>
                <span>"Record these as corrections of the imported rows"</span>
            </label>
        </Show>
    }
}

/// The first rows as they would be kept.
#[component]
fn FirstRows(
    /// The file.
    sheet: RwSignal<Option<Sheet>>,
) -> impl IntoView {
    let rows = move || sheet.with(|sheet| sheet.as_ref().map(Sheet::first_rows).unwrap_or_default());
    let row = |cells: [String; 6]| view! { <tr>{cells.into_iter().map(|cell| view! { <td>{cell}</td> }).collect_view()}</tr> };
    view! {
        <h3>"The first rows as they would be kept"</h3>
        <div class="table-wrap" tabindex="0"><table>
            <thead><tr>
                <th scope="col">"Line"</th><th scope="col">"Trainee"</th><th scope="col">"Day"</th>
                <th scope="col">"Sections left, right"</th><th scope="col">"Service time"</th><th scope="col">"Note"</th>
            </tr></thead>
            <tbody>{move || rows().into_iter().map(row).collect_view()}</tbody>
        </table></div>
    }
}
