//! Bringing in last term's spreadsheet: preview, questions, then all or nothing.

mod batches;
mod matching;
mod questions;
mod reading;
mod writing;

use leptos::prelude::*;

use crate::browser;
use crate::components::{Page, When};
use crate::pages::form::FileInput;
use crate::session::session;
use matching::Columns;
use questions::Questions;
use reading::Sheet;

/// Largest file read, in bytes.
const CAP: u64 = logbook::spreadsheet::table::MOST_BYTES as u64;
/// Identifier of the file input.
const INPUT: &str = "sheet-file";

/// Imports a spreadsheet.
#[component]
pub(crate) fn ImportPage() -> impl IntoView {
    let session = session();
    let sheet = RwSignal::new(None::<Sheet>);
    // The preview stays while its answers change, so that the focus stays in it.
    let which = Memo::new(move |_| sheet.with(|sheet| sheet.as_ref().map(|sheet| sheet.id.clone())));
    let problem = RwSignal::new(None::<String>);
    let said = RwSignal::new(None::<String>);
    let wrong = RwSignal::new(None::<String>);
    let read = move |_| {
        leptos::task::spawn_local(async move {
            said.set(None);
            wrong.set(None);
            let file = browser::file::read_chosen(INPUT, CAP).await.map_err(|error| error.to_string());
            match file.and_then(|file| Sheet::read(session, &file.name, &file.bytes)) {
                Ok(read) => {
                    problem.set(None);
                    sheet.set(Some(read));
                }
                Err(sentence) => {
                    problem.set(None);
                    sheet.set(None);
                    wrong.set(Some(format!("{} Nothing was written.", ended(&sentence))));
                }
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
            <When when=move || !session.may_assess()><super::mark::UnlockFirst/></When>
            <FileInput label="Spreadsheet (CSV)" id=INPUT accept=".csv,.tsv,.txt,text/csv" problem=wrong/>
            <p class="toolbar">
                <button type="button" class="button-primary" on:click=read>"Read and show, write nothing"</button>
                <button type="button" on:click=template>"Template to fill in"</button>
            </p>
            <div role="alert">
                {move || problem.get().map(|sentence| view! { <p class="notice notice-danger">{sentence}</p> })}
                {move || said.get().map(|sentence| view! { <p class="notice notice-info">{sentence}</p> })}
            </div>
            {move || which.get().is_some().then(|| view! { <Preview sheet=sheet said=said problem=problem/> })}
            <batches::Batches/>
        </Page>
    }
}

/// Ends a sentence that has no end yet.
pub(super) fn ended(sentence: &str) -> String {
    if sentence.ends_with(['.', '?', '!']) { sentence.to_owned() } else { format!("{sentence}.") }
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
    let ready = Memo::new(move |_| {
        sheet.with(|sheet| sheet.as_ref().map_or((0, 0), |sheet| (sheet.preview.rows.len(), sheet.corrections())))
    });
    let words = move || match ready.get() {
        (1, 0) => "Import 1 row".to_owned(),
        (rows, 0) => format!("Import {rows} rows"),
        (0, corrections) => format!("Correct {corrections}"),
        (rows, corrections) => format!("Import {rows} and correct {corrections}"),
    };
    let busy = RwSignal::new(false);
    let confirm = move |_| {
        let Some(read) = sheet.get_untracked().filter(|_| !busy.get_untracked()) else { return };
        busy.set(true);
        said.set(None);
        leptos::task::spawn_local(async move {
            let outcome = read.write(session).await;
            let _ = busy.try_set(false);
            match outcome {
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
        <Remarks sheet=sheet/>
        <Changed sheet=sheet/>
        <FirstRows sheet=sheet/>
        <button type="button" class="button-primary" disabled=move || busy.get() || ready.get() == (0, 0) on:click=confirm>
            {words}
        </button>
    }
}

/// What is worth a look beside the rows.
#[component]
fn Remarks(
    /// The file.
    sheet: RwSignal<Option<Sheet>>,
) -> impl IntoView {
    let lines = Memo::new(move |_| sheet.with(|sheet| sheet.as_ref().map(Sheet::remarks).unwrap_or_default()));
    view! {
        <When when=move || lines.with(|lines| !lines.is_empty())>
            <details>
                <summary>{move || format!("{} remarks: repeated rows, new practice models, odd rows", lines.with(Vec::len))}</summary>
                <ul>{move || lines.get().into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
            </details>
        </When>
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
        <div class="table-wrap" role="region" tabindex="0" aria-label=title><table>
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
        <When when=move || !lines().is_empty()>
            <h3>"Rows with other times than the log holds"</h3>
            <ul>{move || lines().into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
            <label class="chip">
                <input type="checkbox" on:change:target=move |event| set(event.target().checked())/>
                <span>"Record these as corrections of the imported rows"</span>
            </label>
        </When>
    }
}

/// The first rows as they would be kept.
#[component]
fn FirstRows(
    /// The file.
    sheet: RwSignal<Option<Sheet>>,
) -> impl IntoView {
    let rows = move || sheet.with(|sheet| sheet.as_ref().map(Sheet::first_rows).unwrap_or_default());
    let any = move || sheet.with(|sheet| sheet.as_ref().is_some_and(|sheet| !sheet.preview.rows.is_empty()));
    let row = |cells: [String; 6]| view! { <tr>{cells.into_iter().map(|cell| view! { <td>{cell}</td> }).collect_view()}</tr> };
    view! {
        <When when=any>
            <h3>"The first rows as they would be kept"</h3>
            <div class="table-wrap" role="region" tabindex="0" aria-label="The first rows as they would be kept"><table>
                <thead><tr>
                    <th scope="col">"Line"</th><th scope="col">"Trainee"</th><th scope="col">"Day"</th>
                    <th scope="col">"Sections left, right"</th><th scope="col">"Service time"</th><th scope="col">"Note"</th>
                </tr></thead>
                <tbody>{move || rows().into_iter().map(row).collect_view()}</tbody>
            </table></div>
        </When>
    }
}
