//! The course book as a file: saved to be edited, checked, adopted.

use leptos::prelude::*;
use logbook::Fact;
use practicum::course_book::text::{self, Problem};
use practicum::course_book::{CourseBook, example};
use practicum::ids::CourseBookId;

use crate::browser;
use crate::pages::form::{FileInput, Saving, SavingLine};
use crate::session::{Session, session};

/// Largest file read, in bytes.
const CAP: u64 = 2_000_000;
/// Identifier of the file input.
const INPUT: &str = "course-book-file";

/// A course book that was read, checked, and not adopted yet.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Checked {
    id: CourseBookId,
    words: String,
    text: String,
}

/// Export and import.
#[component]
pub(super) fn Exchange() -> impl IntoView {
    let session = session();
    let problems = RwSignal::new(Vec::<String>::new());
    let checked = RwSignal::new(None::<Checked>);
    let saving = Saving::new();
    let wrong = RwSignal::new(None::<String>);
    let export = move |_| {
        let records = session.records_now();
        let text = records.books().last().map_or_else(|| text::join(&example::files()), |book| book.text.clone());
        if !browser::file::download("course-book.txt", "text/plain;charset=utf-8", &text) {
            saving.say(Err("The browser refused to save the file.".to_owned()));
        }
    };
    let check = move |_| {
        leptos::task::spawn_local(async move {
            let outcome = read(session).await;
            checked.set(outcome.as_ref().ok().cloned());
            let lines = outcome.err().unwrap_or_default();
            wrong.set((!lines.is_empty()).then(|| "Not adopted: see the list below. Nothing was changed.".to_owned()));
            problems.set(lines);
        });
    };
    view! {
        <h2>"Edit it"</h2>
        <p>"Save it as one text file, edit it with any text editor, give it a new edition, and bring it in again. Records keep the edition that they were made under."</p>
        <p class="toolbar"><button type="button" on:click=export>"Save the course book as a text file"</button></p>
        <FileInput label="Edited course book" id=INPUT accept=".txt,.toml,text/plain" problem=wrong/>
        <p class="toolbar"><button type="button" on:click=check>"Check this file"</button></p>
        <div role="alert">{move || (!problems.with(Vec::is_empty)).then(|| view! { <Problems lines=problems.get()/> })}</div>
        {move || checked.get().map(|book| view! { <Adopt book=book checked=checked saving=saving/> })}
        <SavingLine saving=saving/>
    }
}

/// All that is wrong with a file.
#[component]
fn Problems(
    /// A line for each problem.
    lines: Vec<String>,
) -> impl IntoView {
    let title = match lines.len() {
        1 => "■ Not adopted, nothing was changed. One problem:".to_owned(),
        count => format!("■ Not adopted, nothing was changed. All {count} problems:"),
    };
    view! {
        <div class="notice notice-danger">
            <p>{title}</p>
            <ul>{lines.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
        </div>
    }
}

/// Adopts a book that was checked.
#[component]
fn Adopt(
    /// The book.
    book: Checked,
    /// Where it is kept until it is adopted.
    checked: RwSignal<Option<Checked>>,
    /// How adopting goes.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let owner = Memo::new(move |_| session.is_owner());
    let words = book.words.clone();
    let adopt = move |_| {
        let Checked { id, words, text } = book.clone();
        if !session.is_owner() {
            return saving.say(Err("The owner adopts a course book: switch at the top and unlock.".to_owned()));
        }
        let fact = Fact::BookAdopted { id, text };
        saving.write(
            session,
            vec![fact],
            format!("Adopted: {words}. Records from now on are made under it."),
            move || {
                checked.set(None);
                browser::file::clear_chosen(INPUT);
            },
        );
    };
    view! {
        <div class="notice notice-good">
            <p>{format!("✓ No problems found in {words}.")}</p>
            {move || (!owner.get()).then(|| view! { <p>"Only the owner adopts it: switch at the top and unlock with the PIN."</p> })}
            <button type="button" class="button-primary" disabled=move || saving.busy() || !owner.get() on:click=adopt>"Adopt this course book"</button>
        </div>
    }
}

fn say(problems: Vec<Problem>) -> Vec<String> {
    problems.iter().map(ToString::to_string).collect()
}

/// Reads the chosen file and checks it whole.
async fn read(session: Session) -> Result<Checked, Vec<String>> {
    let file = browser::file::read_chosen(INPUT, CAP).await.map_err(|error| vec![error.to_string()])?;
    let whole = file.text().map_err(|error| vec![error.to_string()])?;
    let book = parse(whole)?;
    session.records_now().may_adopt(&book.id, whole).map_err(|sentence| vec![sentence])?;
    if session.book().is_some_and(|now| now.id == book.id) {
        return Err(vec![format!("“{}” is in force already, word for word: there is nothing to adopt.", book.id)]);
    }
    Ok(Checked { words: format!("{}, edition {}", book.title, book.edition), id: book.id, text: whole.to_owned() })
}

fn parse(whole: &str) -> Result<CourseBook, Vec<String>> {
    let files = text::split(whole).map_err(say)?;
    let borrowed: Vec<(&str, &str)> = files.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    text::check(&borrowed).map_err(say)
}
