//! The course book in force: readable, exported to be edited, imported with a list of all problems.

mod care;
mod choosing;
mod exchange;
mod handout;
mod judging;
mod work;

use std::sync::Arc;

use leptos::prelude::*;
use practicum::course_book::CourseBook;

use crate::components::{DataTable, Page, When, text_rows};
use crate::session::session;

/// The course book.
#[component]
pub(crate) fn CourseBookPage() -> impl IntoView {
    let session = session();
    view! {
        <Page title="Course book">
            {move || session.book().map(|book| view! { <Shown book=book/> })}
            <Editions/>
            <exchange::Exchange/>
        </Page>
    }
}

/// A table of the course book.
fn table(caption: &str, head: &[&str], rows: Vec<Vec<String>>) -> impl IntoView + use<> {
    let head = head.iter().map(|word| (*word).to_owned()).collect();
    view! { <DataTable caption=caption.to_owned() head=head rows=text_rows(rows)/> }
}

/// Frames a part of the course book that opens under its heading; on paper all of it stands.
fn part(title: impl Into<String>, inside: impl IntoView) -> impl IntoView {
    let title = title.into();
    view! {
        <details class="book-part">
            <summary><h2>{title}</h2></summary>
            <div class="stack">{inside}</div>
        </details>
    }
}

/// What stands in it.
#[component]
fn Shown(
    /// The book.
    book: Arc<CourseBook>,
) -> impl IntoView {
    let sources = book.sources.iter().map(|(part, source)| vec![part.clone(), source.clone()]).collect();
    let handouts = book.handouts.iter().map(|(name, words)| {
        view! { <handout::Handout name=name.clone() text=words.clone()/> }
    });
    let handouts = handouts.collect_view();
    view! {
        <p class="lead">{format!("In force: {}, edition {}", book.title, book.edition)}</p>
        <p class="small screen-only">"Press a heading to open its part."</p>
        {part("Where its figures come from", table("Parts with their sources", &["Part", "Source"], sources))}
        <work::WorkPart book=book.clone()/>
        <judging::JudgingPart book=book.clone()/>
        <choosing::ChoosingPart book=book.clone()/>
        <care::CarePart book=book.clone()/>
        {part("Handouts", handouts)}
    }
}

/// Course books that were adopted, the one in force last.
#[component]
fn Editions() -> impl IntoView {
    let session = session();
    let rows = Memo::new(move |_| {
        let records = session.records();
        let books = records.books().iter().map(|adopted| {
            let state = adopted.book.as_ref().err().map_or("✓ readable".to_owned(), |problems| {
                format!("■ {} problems; records under it are judged by the next one", problems.len())
            });
            vec![adopted.at.format("%Y-%m-%d").to_string(), adopted.id.to_string(), state]
        });
        books.collect::<Vec<_>>()
    });
    view! {
        <When when=move || { rows.with(Vec::len) > 1 }>
            <h2>"Adopted so far"</h2>
            {move || table("The last one is in force", &["Adopted", "Title and edition", "State"], rows.get())}
        </When>
    }
}
