//! Decisions about a competency so far: what each stands on, whether that is still there, and what was replied.

use leptos::prelude::*;
use logbook::evidence::{Evidence, Piece, State};
use practicum::competency::SignOff;

use crate::components::{DataTable, Folded, text_rows};
use crate::pages::replies::Replies;
use crate::session::{Session, session};

/// One decision.
#[component]
pub(super) fn DecisionCard(
    /// The decision.
    sign_off: SignOff,
) -> impl IntoView {
    let session = session();
    let entry = sign_off.id.clone();
    let title =
        format!("{}: {} by {}", sign_off.at.date_naive(), sign_off.decision.word(), session.person_name(&sign_off.by));
    let comment = (!sign_off.comment.is_empty()).then(|| format!("Comment: {}", sign_off.comment));
    let level = format!("Independence level {}.", sign_off.level);
    let signed = {
        let entry = entry.clone();
        move || session.records().word(&entry).in_words()
    };
    view! {
        <article class="card stack">
            <h3>{title}</h3>
            <p>{level}" "{signed}</p>
            {comment.map(|words| view! { <p>{words}</p> })}
            <EvidencePart sign_off=sign_off/>
            <Replies entry=entry/>
        </article>
    }
}

/// What a decision stands on, as it is now.
#[component]
fn EvidencePart(
    /// The decision.
    sign_off: SignOff,
) -> impl IntoView {
    let session = session();
    let sign_offs = StoredValue::new(sign_off);
    let evidence = Memo::new(move |_| sign_offs.with_value(|sign_off| session.evidence_of(sign_off)));
    let words = move || evidence.with(|evidence| state_in_words(evidence.as_ref()));
    let changed = move || {
        evidence.with(|evidence| {
            let pieces = evidence.iter().flat_map(|evidence| evidence.pieces.iter());
            let fallen = pieces.filter(|piece| !piece.state.stands());
            fallen.map(|piece| piece_in_words(session, piece)).collect::<Vec<_>>()
        })
    };
    let rows = move || {
        evidence.with(|evidence| {
            let pieces = evidence.iter().flat_map(|evidence| evidence.pieces.iter());
            pieces
                .map(|piece| {
                    let hash: String = piece.hash.chars().take(12).collect();
                    vec![what(session, piece), state_word(&piece.state), hash]
                })
                .collect::<Vec<_>>()
        })
    };
    let book = sign_offs.with_value(|sign_off| sign_off.stands_on.as_ref().map(|on| on.course_book.to_string()));
    let head = ["Entry", "Now", "Begins with"].map(str::to_owned).to_vec();
    view! {
        <p>{words}</p>
        <ul>{move || changed().into_iter().map(|words| view! { <li>{words}</li> }).collect_view()}</ul>
        {book.map(|book| view! {
            <Folded class="chart-table" head=view! { "The entries it stands on" }.into_any()>
                {let (book, head) = (book.clone(), head.clone());
                 move || view! {
                    <DataTable caption=format!("Entries it stands on, under the course book {book}") head=head.clone() rows=text_rows(rows())/>
                }}
            </Folded>
        })}
    }
}

fn state_in_words(evidence: Option<&Evidence>) -> String {
    let Some(evidence) = evidence else {
        return "○ Recorded before decisions named the entries they stand on.".to_owned();
    };
    let all = evidence.pieces.len();
    let fallen = evidence.pieces.iter().filter(|piece| !piece.state.stands()).count();
    let since = match evidence.since.len() {
        0 => String::new(),
        1 => " 1 mark or correction of the same services came later.".to_owned(),
        since => format!(" {since} marks or corrections of the same services came later."),
    };
    match (all, fallen) {
        (0, _) => format!("○ It stands on no entry.{since}"),
        (1, 0) => format!("✓ The entry it stands on is here, unchanged.{since}"),
        (_, 0) => format!("✓ All {all} entries it stands on are here, unchanged.{since}"),
        (_, fallen) => format!("▲ Evidence changed since this sign-off: {fallen} of {all} entries.{since}"),
    }
}

fn state_word(state: &State) -> String {
    match state {
        State::Unchanged => "✓ here, unchanged".to_owned(),
        State::Withheld => "✓ here, content withheld".to_owned(),
        State::Erased => "✓ here, content erased".to_owned(),
        State::Corrected(_) => "▲ corrected since".to_owned(),
        State::Withdrawn(why) => format!("▲ withdrawn: {why}"),
        State::DoesNotCount(why) => format!("■ does not count: {why}"),
        State::Missing => "■ not on this device".to_owned(),
    }
}

fn what(session: Session, piece: &Piece) -> String {
    let service = piece.service.as_ref().map(|id| format!(" of {}", session.service_short(id))).unwrap_or_default();
    let kind = piece.kind.as_ref().map_or("an entry", |kind| kind.word());
    let by = piece.by.as_ref().map(|by| format!(", by {}", session.person_name(by))).unwrap_or_default();
    format!("{kind}{service}{by}")
}

fn piece_in_words(session: Session, piece: &Piece) -> String {
    format!("{}: {}", what(session, piece), state_word(&piece.state))
}
