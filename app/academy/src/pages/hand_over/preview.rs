//! What there is to see of a file before it is taken in.

use leptos::prelude::*;
use logbook::hand_over::Preview;
use practicum::moment::Moment;

use crate::components::{DataTable, text_rows};

fn at(moment: &Moment) -> String {
    moment.format("%Y-%m-%d %H:%M").to_string()
}

/// Says in short lines what a file is and what it adds.
fn lines(preview: &Preview, lacks: usize) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    lines.push(("Academy", preview.academy.clone().unwrap_or_else(|| "not named in it".to_owned())));
    let from = preview.from.clone().unwrap_or_else(|| "a device that it does not name".to_owned());
    lines.push(("Written", format!("{} by {from}", at(&preview.written_at))));
    let what = match (&preview.trainee, preview.part) {
        (Some(trainee), false) => format!("Everything, with the contents that {trainee}’s device may hold"),
        (Some(trainee), true) => format!("A part, with the contents that {trainee}’s device may hold"),
        (None, false) => "Everything that device held".to_owned(),
        (None, true) => "A part: what another device lacked, or from a day on".to_owned(),
    };
    lines.push(("What it is", what));
    lines.push((
        "Sealed",
        if preview.sealed { "✓ by a passphrase" } else { "▲ no: anybody who has the file can read it" }.to_owned(),
    ));
    if let Some((first, last)) = &preview.span {
        lines.push(("New entries", format!("from {} to {}", at(first), at(last))));
    }
    if preview.headers_only > 0 {
        lines.push((
            "By header only",
            format!("{} of the new ones: their contents stay elsewhere", preview.headers_only),
        ));
    }
    let has = match lacks {
        _ if preview.part || preview.trainee.is_some() => {
            "○ It opens whole, but is no backup: it was not meant to hold everything.".to_owned()
        }
        0 => "✓ It opens whole and holds everything that this device has.".to_owned(),
        1 => "▲ It opens whole; 1 entry of this device is not in it, or not with its content.".to_owned(),
        lacks => format!("▲ It opens whole; {lacks} entries of this device are not in it, or not with their contents."),
    };
    lines.push(("As a backup", has));
    lines
}

/// The preview.
#[component]
pub(super) fn PreviewPart(
    /// What to show.
    preview: Preview,
    /// How many entries of this device are not in the file.
    lacks: usize,
) -> impl IntoView {
    let facts = lines(&preview, lacks);
    let kinds = preview.kinds.iter().map(|(kind, count)| vec![kind.to_string(), count.to_string()]).collect::<Vec<_>>();
    let shares = preview.shares.iter();
    let shares: Vec<_> =
        shares.map(|share| vec![share.person.clone(), share.device.clone(), share.entries.to_string()]).collect();
    let words = preview.words.iter().map(|(word, count)| vec![word.say().to_owned(), count.to_string()]);
    let words: Vec<_> = words.collect();
    let signed = match (preview.no_key, words.is_empty(), preview.brings_nothing()) {
        (_, _, true) => None,
        (true, ..) => Some("○ This academy has no key yet: nothing in the file is signed."),
        (false, true, _) => Some("✓ All that is new is signed by keys of this academy, and the signatures hold."),
        (false, false, _) => {
            Some("▲ Not all that is new is signed as it should be. It is kept and shown as what it is.")
        }
    };
    let (findings, said) = (preview.findings.clone(), preview.say());
    let table = |caption: &'static str, head: Vec<&'static str>, rows: Vec<Vec<String>>| {
        let head = head.into_iter().map(str::to_owned).collect();
        (!rows.is_empty()).then(|| view! { <DataTable caption=caption head=head rows=text_rows(rows)/> })
    };
    view! {
        <p class="lead">{said}</p>
        <dl class="facts">
            {facts.into_iter().map(|(term, words)| view! { <div><dt>{term}</dt><dd dir="auto">{words}</dd></div> }).collect_view()}
        </dl>
        {signed.map(|line| view! { <p>{line}</p> })}
        {preview.first_key.map(|key| view! {
            <p class="notice notice-info">"● This device has not known the academy’s key before, and will hold on to "<code>{key}</code>". Compare it with the recovery sheet or the owner’s page Keys before you take the file in."</p>
        })}
        {table("Signatures to heed", vec!["What to make of them", "Entries"], words)}
        {(!findings.is_empty()).then(|| view! {
            <div class="notice notice-caution">
                <p>"▲ To heed; it is kept as it came and nothing is repaired:"</p>
                <ul>{findings.into_iter().map(|line| view! { <li dir="auto">{line}</li> }).collect_view()}</ul>
            </div>
        })}
        {table("New entries by kind", vec!["Kind", "Entries"], kinds)}
        {table("New entries by person and device", vec!["Person", "Device", "Entries"], shares)}
    }
}
