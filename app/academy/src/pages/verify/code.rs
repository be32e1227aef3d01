//! The code of a printed review: what it says alone, and whether a record file is the one that it stands for.

use leptos::prelude::*;
use logbook::fact::Scope;
use logbook::review_code::{ReviewCode, SameRecord, SignedCompetency};
use logbook::verify::{Report, What};

use crate::components::{DataTable, text_rows};

/// Whether the file that was looked at belongs to a code.
pub(super) fn compared(code: &ReviewCode, report: &Report, file: &[u8]) -> (bool, String) {
    let What::Record(trainee) = &report.what else {
        return (false, "▲ The file is no record file: choose the record file that came with the paper.".to_owned());
    };
    let day = code.said.on;
    match code.compare(file, trainee, report.key.as_ref()) {
        SameRecord::SomebodyElse => {
            (false, "■ The file is of somebody else, or of another academy, than the code.".to_owned())
        }
        SameRecord::Another => (
            false,
            format!(
                "▲ The file is of the same trainee and academy, and not the record that the code names: it was written at \
                 another time, or changed. The code is as of {day}, the file as of {}.",
                report.as_of.format("%Y-%m-%d %H:%M")
            ),
        ),
        SameRecord::Same => match report.keys.iter().find(|seen| seen.key == code.said.key) {
            Some(seen) if seen.scope == Scope::Owning && seen.ended.is_none() => {
                let who = seen.person.clone().unwrap_or_else(|| seen.label.clone());
                (true, format!("✓ The file is the record that the code names, to the last sign, and the academy’s key admitted the key that signed the code: {who}."))
            }
            Some(_) => (
                false,
                "■ The file is the record that the code names, but the key that signed the code may not sign for the academy, or no longer."
                    .to_owned(),
            ),
            None => (
                false,
                "■ The file is the record that the code names, but the academy never admitted the key that signed the code."
                    .to_owned(),
            ),
        },
    }
}

/// What a code says.
#[component]
pub(super) fn CodeShown(
    /// The code, whose signature holds.
    code: ReviewCode,
    /// What became of comparing it with the file that was looked at.
    with_file: Signal<Option<(bool, String)>, LocalStorage>,
) -> impl IntoView {
    let said = code.said;
    let row = |one: &SignedCompetency| vec![one.competency.clone(), one.level.to_string(), one.on.to_string()];
    let rows: Vec<Vec<String>> = said.sign_offs.iter().map(row).collect();
    let more = (said.more > 0)
        .then(|| view! { <p>{format!("{} further sign-offs stand in the record file.", said.more)}</p> });
    let none = rows.is_empty().then(|| view! { <p>"○ It names no sign-off."</p> });
    let head = ["Competency", "Level", "Signed off on"].map(str::to_owned).to_vec();
    view! {
        <section>
            <h2>"Code of a printed review"</h2>
            <p class="notice notice-good">"✓ One key signed this code, and nothing in it was changed since."</p>
            <p>{format!("Trainee code {}, as of {}. The name stands on the paper only.", said.trainee, said.on)}</p>
            <p class="strong">{format!("As of {}: a later withdrawal shows only with a newer file.", said.on)}</p>
            {none}
            <DataTable caption="Signed off, by the code" head=head rows=text_rows(rows)/>
            {more}
            <p>"Key that signed it: "<code>{said.key.fingerprint()}</code></p>
            <p>"Academy’s key that it names: "<code>{spaced(&said.academy)}</code>" Compare it with the one that the academy prints or tells. The code alone does not show that the academy admitted the key that signed it: the record file does."</p>
            <p>"Hash of the record: "<code class="cell-long">{said.record_hash.clone()}</code></p>
            <p role="status">{move || match with_file.get() {
                None => view! { <p class="notice notice-info">"● Choose the record file above too, to see that it is the same record."</p> }.into_any(),
                Some((true, words)) => view! { <p class="notice notice-good">{words}</p> }.into_any(),
                Some((false, words)) => view! { <p class="notice notice-caution">{words}</p> }.into_any(),
            }}</p>
            <p class="small">"A training record is not a licence."</p>
        </section>
    }
}

fn spaced(fingerprint: &str) -> String {
    let letters: Vec<char> = fingerprint.chars().collect();
    letters.chunks(5).map(|part| part.iter().collect::<String>()).collect::<Vec<_>>().join(" ")
}
