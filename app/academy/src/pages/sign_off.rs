//! Sign-off of one competency: evidence met and missing, decision, level, comment.

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::competency::{Decision, EvidenceLine, SignOff};
use practicum::ids::{CompetencyId, EntryId, PersonId};

use super::progress::ServiceLinks;
use crate::components::Page;
use crate::session::session;

/// One trainee's competency.
#[component]
pub(crate) fn SignOffPage(
    /// The trainee.
    person: PersonId,
    /// The competency.
    competency: CompetencyId,
) -> impl IntoView {
    let session = session();
    let row = session.competencies(&person).into_iter().find(|row| row.competency.id == competency);
    let (Some(row), Some(trainee)) = (row, session.person(&person)) else {
        return view! { <Page title="Sign-off"><p>"This trainee or competency is not on this device."</p></Page> }
            .into_any();
    };
    let title = format!("{}: {}", row.competency.label, trainee.name);
    let line = |line: EvidenceLine| {
        let mark = if line.met { "✓ there" } else { "○ missing" };
        view! {
            <tr>
                <th scope="row">{line.words.clone()}</th><td>{line.have}</td><td>{line.need}</td><td>{mark}</td>
                <td><ServiceLinks ids=line.services.clone()/></td>
            </tr>
        }
    };
    let not_worked_out = row.evidence.not_worked_out.clone();
    let history = session.sign_offs(&person, &competency);
    let evidence = row.evidence.clone();
    view! {
        <Page title=title>
            <div class="table-wrap" tabindex="0"><table>
                <caption>"Evidence"</caption>
                <thead><tr>
                    <th scope="col">"Needed"</th><th scope="col">"Have"</th><th scope="col">"Need"</th>
                    <th scope="col">"State"</th><th scope="col">"Services"</th>
                </tr></thead>
                <tbody>{row.evidence.lines.iter().cloned().map(line).collect_view()}</tbody>
            </table></div>
            {not_worked_out.map(|sentence| view! { <p class="notice notice-info">{sentence}</p> })}
            <h2>"Decisions so far"</h2>
            <ul class="plain-list">
                {history.into_iter().map(|one| view! {
                    <li>{format!(
                        "{}: {} by {}, independence level {}, not yet signed. {}",
                        one.at.date_naive(), one.decision.word(), session.person_name(&one.by), one.level, one.comment
                    )}</li>
                }).collect_view()}
            </ul>
            <Show when=move || session.may_assess() fallback=|| view! { <super::mark::UnlockFirst/> }>
                <DecideForm person=person.clone() competency=competency.clone() evidence=evidence.clone()/>
            </Show>
            <p class="small">"A sign-off is a training record and not a licence."</p>
        </Page>
    }
    .into_any()
}

/// The instructor's decision.
#[component]
fn DecideForm(
    /// The trainee.
    person: PersonId,
    /// The competency.
    competency: CompetencyId,
    /// Its evidence.
    evidence: practicum::competency::EvidenceState,
) -> impl IntoView {
    let session = session();
    let decision = RwSignal::new(None::<Decision>);
    let level = RwSignal::new(None::<u8>);
    let comment = RwSignal::new(String::new());
    let problem = RwSignal::new(None::<String>);
    let levels = session.book().map(|book| book.independence.clone()).unwrap_or_default();
    let options = levels.into_iter().map(|l| (l.level, format!("{} {}", l.level, l.label))).collect::<Vec<_>>();
    let decisions = [
        (Decision::Signed, "Sign off"),
        (Decision::NotYet, "Not yet"),
        (Decision::Withdrawn, "Withdraw an earlier sign-off"),
    ];
    let back = format!("#/progress/{person}");
    let save = move |_| {
        let (Some(chosen), Some(given), Some(by)) = (decision.get(), level.get(), session.who()) else {
            problem.set(Some("Choose the decision and the independence level. Nothing was lost.".to_owned()));
            return;
        };
        let refused = match chosen {
            Decision::Signed if !evidence.lines.iter().all(|line| line.met) => {
                Some("Evidence is missing: see the table. A sign-off needs all of it.".to_owned())
            }
            Decision::Signed => evidence.check_level(given).err(),
            _ => None,
        };
        if refused.is_some() {
            problem.set(refused);
            return;
        }
        let mut services: Vec<_> = evidence.lines.iter().flat_map(|line| line.services.clone()).collect();
        services.sort();
        services.dedup();
        let sign_off = SignOff {
            id: EntryId::new(String::new()),
            competency: competency.clone(),
            trainee: person.clone(),
            by: by.id,
            at: crate::session::reading().at,
            decision: chosen,
            level: given,
            comment: comment.get().trim().to_owned(),
            services,
        };
        let back = back.clone();
        leptos::task::spawn_local(async move {
            match session.write(vec![Fact::SignedOff(sign_off)]).await {
                Ok(()) => crate::browser::page::set_hash(&back),
                Err(sentence) => problem.set(Some(sentence)),
            }
        });
    };
    view! {
        <h2>"Decide (not yet signed by key)"</h2>
        <super::couch::Chips legend="Decision" name="decision" options=decisions.map(|(d, w)| (d, w.to_owned())).to_vec() chosen=decision/>
        <super::couch::Chips legend="Independence level" name="level" options=options chosen=level/>
        <label class="field">
            <span>"Comment"</span>
            <textarea rows="3" prop:value=move || comment.get() on:input:target=move |event| comment.set(event.target().value())></textarea>
        </label>
        <div role="alert">{move || problem.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}</div>
        <button type="button" class="button-primary" on:click=save>"Record the decision"</button>
    }
}
