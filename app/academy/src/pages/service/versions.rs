//! What a record was corrected from: every value it ever had, with who changed it, when and why.

use leptos::prelude::*;
use logbook::records::Version;
use practicum::couch::fold::Run;
use practicum::course_book::CourseBook;
use practicum::ids::ServiceId;
use practicum::service::{Origin, Service};

use super::{dwells, record, times};
use crate::components::{DataTable, text_rows};
use crate::session::{Session, session};

/// Every value the record ever had.
#[component]
pub(super) fn Versions(
    /// The service.
    id: ServiceId,
) -> impl IntoView {
    let session = session();
    let versions = session.records().service_history(&id).to_vec();
    if versions.is_empty() {
        return view! { <p>"Never corrected."</p> }.into_any();
    }
    let before = std::iter::once(None).chain(versions.iter().map(Some)).collect::<Vec<_>>();
    let shown = versions.iter().zip(before).map(|(version, before)| one(session, version, before)).collect_view();
    view! { <ol>{shown}</ol> }.into_any()
}

fn one(session: Session, version: &Version, before: Option<&Version>) -> impl IntoView + use<> {
    let reason = if version.reason.is_empty() { "as first written".to_owned() } else { version.reason.clone() };
    let head = format!("{}, {}: {reason}", version.at.format("%Y-%m-%d %H:%M"), session.person_name(&version.by));
    let contested = version.contested.then(|| {
        view! { <p>"▲ Another correction speaks about the same earlier value; the later one holds."</p> }
    });
    let now = version.fact.service().map(|service| everything(session, service)).unwrap_or_default();
    let changes = before.and_then(|before| before.fact.service()).map(|old| changes(&everything(session, old), &now));
    let changes = changes.map(|lines| {
        view! { <ul>{lines.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul> }
    });
    let rows = now.into_iter().map(|(name, words)| vec![name, words]).collect();
    view! {
        <li>
            <strong>{head.clone()}</strong>
            {contested}{changes}
            <details>
                <summary>"The whole record as it stood then"</summary>
                <DataTable caption=format!("As it stood then: {head}") head=vec!["What".to_owned(), "Recorded".to_owned()] rows=text_rows(rows)/>
            </details>
        </li>
    }
}

/// Lists all that a version says, its times included.
fn everything(session: Session, service: &Service) -> Vec<record::Line> {
    let book = session.book_of(service);
    let late = book.as_ref().map(|book| book.rules.late_seconds);
    let service = &with_times(service, book.as_deref());
    let mut lines = record::lines(session, service);
    lines.extend(super::doubts::lines(session, service));
    lines.extend(times::rows(service, book.as_deref()).into_iter().map(|row| (row.name.clone(), row.time())));
    lines.extend(service.times.dwells.iter().filter_map(|dwell| {
        let mut cells = dwells::row(dwell, late).into_iter();
        Some((format!("Dwell, {}", cells.next()?), cells.collect::<Vec<_>>().join("; ")))
    }));
    lines
}

/// What was tapped live is worked out from its taps, whatever the entry keeps beside them.
fn with_times(service: &Service, book: Option<&CourseBook>) -> Service {
    let mut service = service.clone();
    if let (Origin::Live { opening, taps }, Some(book)) = (&service.origin, book) {
        service.times = Run::fold(book, opening, taps).times();
    }
    service
}

/// Says what differs between two versions.
fn changes(old: &[record::Line], new: &[record::Line]) -> Vec<String> {
    let find = |lines: &[record::Line], name: &str| {
        lines
            .iter()
            .find(|(known, _)| known == name)
            .map_or_else(|| "not recorded".to_owned(), |(_, words)| words.clone())
    };
    let gone = old.iter().filter(|(name, _)| !new.iter().any(|(known, _)| known == name));
    let changed = new.iter().chain(gone).filter_map(|(name, _)| {
        let (before, after) = (find(old, name), find(new, name));
        (before != after).then(|| format!("{name}: was “{before}”, now “{after}”"))
    });
    let changed: Vec<String> = changed.collect();
    if changed.is_empty() { vec!["Nothing that is shown here differs from before.".to_owned()] } else { changed }
}

#[cfg(test)]
mod tests {
    use super::changes;

    fn lines(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
        pairs.iter().map(|(name, words)| ((*name).to_owned(), (*words).to_owned())).collect()
    }

    #[test]
    fn the_old_value_stands_beside_the_new_one() {
        let old = lines(&[("Room", "2"), ("Note", "a"), ("Dwell", "7:00")]);
        let new = lines(&[("Room", "3"), ("Note", "a")]);
        assert_eq!(changes(&old, &new), ["Room: was “2”, now “3”", "Dwell: was “7:00”, now “not recorded”"]);
        assert_eq!(changes(&old, &old).len(), 1);
    }
}
