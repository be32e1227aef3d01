//! What a file says, and whether it holds.

use leptos::prelude::*;
use logbook::evidence::{Evidence, State};
use logbook::fact::Scope;
use logbook::signature::PublicKey;
use logbook::trust::Word;
use logbook::verify::{KeySeen, Report, SignOffSeen, What};

use crate::components::{DataTable, When, text_rows};
use crate::pages::form::{Field, TextInput};

/// How many entries that do not hold are listed.
const MOST: usize = 100;

/// The whole report.
#[component]
pub(super) fn Shown(
    /// Name of the file.
    name: String,
    /// What it says.
    report: Report,
) -> impl IntoView {
    let what = match &report.what {
        What::Backup => "a backup of everything that a device held".to_owned(),
        What::HandOver { part: true } => "a hand-over of a part of the records".to_owned(),
        What::HandOver { part: false } => "a hand-over".to_owned(),
        What::Record(_) => format!("the record of {}", report.trainee.clone().unwrap_or_default()),
    };
    let academy = report.academy.clone().unwrap_or_else(|| "an academy that the file does not name".to_owned());
    let as_of = report.as_of.format("%Y-%m-%d %H:%M").to_string();
    let all_holds = report.fallen.is_empty() && report.problems.is_empty() && report.key.is_some();
    let (all, with_content) = report.entries;
    let not_admitted = report.words.get(&Word::KeyNotAdmitted).copied().unwrap_or(0);
    let verdict = if all_holds && not_admitted > 0 {
        let words = format!(
            "▲ What an admitted key signed holds under the key below. Entries signed by a key that the academy has not \
             admitted: {not_admitted}."
        );
        view! { <p class="notice notice-caution">{words}</p> }.into_any()
    } else if all_holds {
        view! { <p class="notice notice-good">"✓ Everything in this file that was signed holds under the key below."</p> }.into_any()
    } else if report.key.is_none() {
        view! { <p class="notice notice-danger">"■ This academy had no key: nobody signed anything here. The file agrees or disagrees with itself, and proves nothing to others."</p> }.into_any()
    } else {
        view! { <p class="notice notice-danger">{not_all(report.fallen.len(), report.problems.len())}</p> }.into_any()
    };
    let demo = report.demo.then(|| view! { <p class="notice notice-caution">"▲ Invented records of the demo: they prove nothing about anybody."</p> });
    let sign_offs = report.sign_offs.clone();
    let none = sign_offs.is_empty();
    let certificate = |one: &logbook::verify::CertificateSeen| {
        let state = match &one.withdrawn {
            Some((day, why)) => format!("■ withdrawn on {day}: {why}"),
            None => format!("in force as of {as_of}; a later withdrawal shows only with a newer file"),
        };
        format!(
            "{}, {}, {}, issued on {}, assessor {}, copies {}: {state}",
            one.number,
            one.trainee,
            one.scope.word(),
            one.on,
            one.assessor,
            one.copies
        )
    };
    let certificates: Vec<String> = report.certificates.iter().map(certificate).collect();
    let keys = report.keys.clone();
    let admitted = report.keys.clone();
    view! {
        <section>
            <h2>{format!("“{name}”")}</h2>
            <p>{format!("This is {what}, of {academy}, as of {as_of}. {all} entries, {with_content} of them with their content.")}</p>
            <p class="small">"As of that moment: a later withdrawal or correction shows only with a newer file."</p>
            {demo}{verdict}
            {report.key.map(|key| view! { <KeyPart key=key/> })}
            {report.other_keys.iter().map(|key| view! {
                <p class="notice notice-danger">{format!("■ Another key in this file claims to be the academy’s: {}. It is not believed.", key.fingerprint())}</p>
            }).collect_view()}
            <h2>"Decisions about competencies"</h2>
            {none.then(|| view! { <p>"○ The file holds none."</p> })}
            {sign_offs.into_iter().map(|one| view! { <SignOffCard seen=one keys=admitted.clone()/> }).collect_view()}
            {(!certificates.is_empty()).then(|| view! {
                <h2>"Certificates"</h2>
                <ul>{certificates.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
            })}
            <p class="small">"A sign-off is a training record and not a licence."</p>
            <KeysTable keys=keys/>
            <Rest report=report/>
        </section>
    }
}

/// Says how much does not hold.
fn not_all(fallen: usize, problems: usize) -> String {
    let count = |number: usize, one: &str, more: &str| match number {
        1 => format!("1 {one}"),
        number => format!("{number} {more}"),
    };
    let entries = count(fallen, "entry does not hold", "entries do not hold");
    let things = count(problems, "thing does not fit together", "things do not fit together");
    match (fallen, problems) {
        (_, 0) => format!("■ Not everything holds: {entries}. See below which."),
        (0, _) => format!("■ Not everything holds: {things}. See below what."),
        _ => format!("■ Not everything holds: {entries}, and {things}. See below."),
    }
}

/// The key that everything rests on, to be compared.
#[component]
fn KeyPart(
    /// The academy's key.
    key: PublicKey,
) -> impl IntoView {
    let typed = Field::empty();
    let fingerprint = key.fingerprint();
    let plain = |text: &str| text.chars().filter(char::is_ascii_hexdigit).collect::<String>().to_lowercase();
    let wanted = plain(&fingerprint);
    let compared = move || {
        let typed = plain(&typed.text.get());
        match (typed.is_empty(), typed == wanted) {
            (true, _) => None,
            (false, true) => Some("✓ The same: this is the key that was printed."),
            (false, false) => Some("■ Not the same: do not trust this file before you know why."),
        }
    };
    view! {
        <h2>"The key that must be trusted"</h2>
        <p class="lead"><code>{fingerprint}</code></p>
        <p>"Everything here rests on this key. Compare it with the one printed on the academy’s recovery sheet or certificate, or ask the academy on another way. A file alone shows only that it agrees with itself."</p>
        <TextInput label="Fingerprint as printed (optional)" id="verify-fingerprint" field=typed/>
        <p role="status"><strong>{compared}</strong></p>
        <details><summary>"The whole key"</summary><p><code class="cell-long">{key.text()}</code></p></details>
    }
}

/// One decision.
#[component]
fn SignOffCard(
    /// The decision.
    seen: SignOffSeen,
    /// Keys that the academy admitted.
    keys: Vec<KeySeen>,
) -> impl IntoView {
    let day = seen.at.format("%Y-%m-%d %H:%M");
    let title = match &seen.says {
        Some(says) => format!("{}: {}, {}", says.trainee, says.competency, says.decision.word()),
        None => "A decision whose content is not in this file".to_owned(),
    };
    let state = match (&seen.word, &seen.withdrawn) {
        (Err(why), _) => format!("■ Does not hold: {why}."),
        (Ok(word), Some(withdrawn)) if word.believed() => format!("■ {}. It was {withdrawn}.", word.in_words()),
        (Ok(Word::Holds), None) => "✓ Holds: signed, and the signature is right.".to_owned(),
        (Ok(word), None) if word.believed() => word.in_words(),
        (Ok(word), _) => format!("■ Does not hold: {}.", word.say()),
    };
    let level = seen.says.as_ref().map(|says| {
        let book = says.course_book.as_ref().map(|book| format!(" Under the course book {book}.")).unwrap_or_default();
        let comment = if says.comment.is_empty() { String::new() } else { format!(" Comment: {}", says.comment) };
        format!("Independence level {}.{book}{comment}", says.level)
    });
    let admitted = seen.key.as_ref().and_then(|key| keys.into_iter().find(|known| known.key == *key));
    let key = match (&seen.key, &admitted) {
        (Some(key), Some(known)) => format!(
            "Signed by {} on {day} with the key {}, which the academy’s key admitted for {}.",
            seen.by,
            key.fingerprint(),
            scope_word(known.scope)
        ),
        (Some(key), None) => {
            format!("Written in the name of {} on {day}; the key {} was never admitted.", seen.by, key.fingerprint())
        }
        (None, _) => format!("Written in the name of {} on {day}; nobody signed it.", seen.by),
    };
    let unnamed = || "○ It does not name the entries that it stands on.".to_owned();
    let evidence = seen.evidence.as_ref().map_or_else(unnamed, evidence_in_words);
    let fallen = seen.evidence.iter().flat_map(|evidence| evidence.pieces.iter()).filter(|piece| !piece.state.stands());
    let fallen: Vec<String> = fallen
        .map(|piece| {
            let kind = piece.kind.as_ref().map_or("an entry", |kind| kind.word());
            let hash: String = piece.hash.chars().take(12).collect();
            format!("{kind} {hash}…: {}", state_word(&piece.state))
        })
        .collect();
    let replies = seen.replies.clone();
    view! {
        <article class="card stack">
            <h3>{title}</h3>
            <p><strong>{state}</strong></p>
            {level.map(|words| view! { <p>{words}</p> })}
            <p>{key}</p>
            <p>{evidence}</p>
            <ul>{fallen.into_iter().map(|words| view! { <li>{words}</li> }).collect_view()}</ul>
            {replies.into_iter().map(|words| view! { <p>{words}</p> }).collect_view()}
        </article>
    }
}

fn evidence_in_words(evidence: &Evidence) -> String {
    let all = evidence.pieces.len();
    let withheld =
        evidence.pieces.iter().filter(|piece| matches!(piece.state, State::Withheld | State::Erased)).count();
    let standing = evidence.pieces.iter().filter(|piece| piece.state.stands()).count();
    let without = if withheld > 0 { format!(" ({withheld} without their content)") } else { String::new() };
    match all - standing {
        0 => format!("✓ All {all} entries that it stands on are in this file, unchanged{without}."),
        fallen => format!("▲ Evidence changed since: {fallen} of {all} entries that it stands on."),
    }
}

fn state_word(state: &State) -> String {
    match state {
        State::Unchanged | State::Withheld | State::Erased => "there".to_owned(),
        State::Corrected(_) => "▲ corrected since".to_owned(),
        State::Withdrawn(why) => format!("▲ withdrawn: {why}"),
        State::DoesNotCount(why) => format!("■ does not count: {why}"),
        State::Missing => "■ not in this file".to_owned(),
    }
}

fn scope_word(scope: Scope) -> &'static str {
    match scope {
        Scope::Records => "records, not for marks or sign-offs",
        Scope::Assessing => "assessing and signing off",
        Scope::Owning => "everything but admitting keys",
    }
}

/// Keys that the academy's key admitted.
#[component]
fn KeysTable(
    /// The keys.
    keys: Vec<KeySeen>,
) -> impl IntoView {
    let row = |seen: KeySeen| {
        let person = seen.person.unwrap_or_else(|| "whoever uses the device".to_owned());
        let ended = seen.ended.map_or_else(|| "goes on".to_owned(), |last| format!("ended after entry {last}"));
        vec![seen.key.fingerprint(), person, scope_word(seen.scope).to_owned(), seen.label, ended]
    };
    let rows: Vec<Vec<String>> = keys.into_iter().map(row).collect();
    let head = ["Key", "Whose", "May sign", "Device", "Until"].map(str::to_owned).to_vec();
    (!rows.is_empty()).then(|| {
        view! {
            <h2>"Keys that the academy admitted"</h2>
            <DataTable caption="Keys that the academy admitted, by their fingerprints" head=head rows=text_rows(rows)/>
        }
    })
}

/// Receipts, counts, and everything that does not hold.
#[component]
fn Rest(
    /// What the file says.
    report: Report,
) -> impl IntoView {
    let receipts = report.receipts.into_iter().map(|receipt| {
        let agrees = if receipt.agrees { "✓" } else { "■ disagrees with another receipt:" };
        let device: String = receipt.device.as_str().chars().take(8).collect();
        view! { <li>{format!("{agrees} {} saw the records of device {device} up to entry {}.", receipt.by, receipt.up_to)}</li> }
    });
    let receipts = receipts.collect_view();
    let counts = report.words.into_iter().map(|(word, number)| vec![word.in_words(), number.to_string()]);
    let counts: Vec<Vec<String>> = counts.collect();
    let head = ["What to make of them", "Entries"].map(str::to_owned).to_vec();
    let more = report.fallen.len().saturating_sub(MOST);
    let fallen = report.fallen.into_iter().take(MOST);
    let fallen = fallen.map(|one| view! { <li>{format!("■ {}: {}.", one.what, one.why)}</li> }).collect_view();
    let problems = report.problems.into_iter().map(|words| view! { <li>"▲ "{words}</li> }).collect_view();
    let has_problems = !problems.is_empty();
    view! {
        <h2>"Everything else"</h2>
        <DataTable caption="All entries by what their signatures say" head=head rows=text_rows(counts)/>
        <ul class="plain-list">{receipts}</ul>
        <ul class="plain-list">{fallen}{(more > 0).then(|| view! { <li>{format!("… and {more} more that do not hold.")}</li> })}</ul>
        <When when=move || has_problems><h3>"What does not fit together"</h3></When>
        <ul class="plain-list">{problems}</ul>
    }
}
