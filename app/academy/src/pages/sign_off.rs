//! Sign-off of one competency: evidence met and missing, decision, level, comment.

mod decisions;

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::competency::{Decision, EvidenceLine, SignOff};
use practicum::group::quality_sentence;
use practicum::ids::{CompetencyId, EntryId, PersonId};
use practicum::order::InOrder;

use super::form::{ChoiceInput, Field, LongInput, OnceUnlocked, Saving, SavingLine};
use super::progress::Counted;
use crate::components::Page;
use crate::session::{Session, session};

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
        view! {
            <li>{line.words.clone()}": "<Counted number=line.have.into() ids=line.services.clone()/>" of "{line.need}</li>
        }
    };
    let (whose, which) = (person.clone(), competency.clone());
    Effect::new(move |_| {
        let row = session.competencies(&whose).into_iter().find(|row| row.competency.id == which);
        if let Some(row) = row.filter(|_| session.may_assess()) {
            session.note_opened(&whose, &which, &row.evidence);
        }
    });
    // A trial that is opened here, and a decision, show at once.
    let sought = StoredValue::new((person.clone(), competency.clone()));
    let evidence = move || {
        sought.with_value(|(person, competency)| {
            let row = session.competencies(person).into_iter().find(|row| row.competency.id == *competency);
            row.map(|row| row.evidence)
        })
    };
    let part = move |met: bool| {
        let lines = evidence().map(|evidence| evidence.lines).unwrap_or_default();
        let lines: Vec<EvidenceLine> = lines.into_iter().filter(|line| line.met == met).collect();
        let (shape, word) = if met { ("✓", "Held") } else { ("○", "Missing") };
        let none = lines.is_empty().then(|| view! { <p class="small">"Nothing."</p> });
        view! {
            <section class="card">
                <h2>{format!("{shape} {word}: {}", lines.len())}</h2>
                {none}
                <ul class="plain-list">{lines.into_iter().map(line).collect_view()}</ul>
            </section>
        }
    };
    let says = move || {
        sought.with_value(|(person, _)| {
            let standing = session.standing(person)?;
            let trial = session.trials(person).ok().and_then(|mut states| states.pop());
            Some(quality_sentence(trial.as_ref(), &standing))
        })
    };
    let not_worked_out = move || {
        let sentence = evidence().and_then(|evidence| evidence.not_worked_out);
        sentence.map(|sentence| view! { <p class="notice notice-info">{sentence}</p> })
    };
    let history = move || sought.with_value(|(person, competency)| session.sign_offs(person, competency));
    view! {
        <Page title=title>
            <div class="side-by-side">{move || part(false)}{move || part(true)}</div>
            <p>"What the figures say: "<strong>{says}</strong></p>
            {not_worked_out}
            {row.competency.whole_service.then(|| view! { <super::trial::TrialSection person=person.clone()/> })}
            <h2>"Decisions so far"</h2>
            {move || history().is_empty().then(|| view! { <p>"○ Nobody has decided yet."</p> })}
            <For each=history key=|one| one.id.clone() let:one><decisions::DecisionCard sign_off=one/></For>
            <OnceUnlocked fallback=|| view! { <super::mark::UnlockFirst/> }>
                <DecideForm person=person.clone() competency=competency.clone()/>
            </OnceUnlocked>
            <p class="small">"A sign-off is a training record and not a licence."</p>
        </Page>
    }
    .into_any()
}

/// What is chosen and typed.
#[derive(Clone, Copy)]
struct Form {
    decision: Field,
    level: Field,
    comment: Field,
    saving: Saving,
}

/// The instructor's decision.
#[component]
fn DecideForm(
    /// The trainee.
    person: PersonId,
    /// The competency.
    competency: CompetencyId,
) -> impl IntoView {
    let session = session();
    let form = Form { decision: Field::empty(), level: Field::empty(), comment: Field::empty(), saving: Saving::new() };
    let levels = untrack(|| session.book()).map(|book| book.independence.clone()).unwrap_or_default();
    let levels =
        levels.into_iter().map(|one| (one.level.to_string(), format!("{} {}", one.level, one.label))).collect();
    let decisions = DECISIONS.map(|(decision, words)| (decision.word().to_owned(), words.to_owned())).to_vec();
    let back = format!("#/progress/{person}");
    let save = move |_| match untrack(|| form.read(session, &person, &competency)) {
        Err(sentence) => form.saving.say(Err(sentence)),
        Ok(sign_off) => {
            let back = back.clone();
            let after = move || crate::browser::page::set_hash(&back);
            form.saving.write(session, vec![Fact::SignedOff(sign_off)], "The decision is recorded.".to_owned(), after);
        }
    };
    view! {
        <h2>"Decide"</h2>
        <ChoiceInput legend="Decision" id="decision" field=form.decision options=decisions/>
        <ChoiceInput legend="Independence level (not asked when a sign-off is withdrawn)" id="level" field=form.level options=levels/>
        <LongInput label="Comment" id="sign-off-comment" field=form.comment/>
        <SavingLine saving=form.saving/>
        <button type="button" class="button-primary" disabled=move || form.saving.busy() on:click=save>"Record the decision"</button>
    }
}

/// Decisions with the words of their choice.
const DECISIONS: [(Decision, &str); 3] = [
    (Decision::Signed, "Sign off"),
    (Decision::NotYet, "Not yet"),
    (Decision::Withdrawn, "Withdraw an earlier sign-off"),
];

impl Form {
    /// Reads the form and holds it against the evidence as it is now; says beside the fields what is wrong.
    fn read(self, session: Session, person: &PersonId, competency: &CompetencyId) -> Result<SignOff, String> {
        let look = || "Look at the fields marked ▲; nothing was lost.".to_owned();
        let by = session.who().ok_or("Say at the top who is using this device. Nothing was lost.")?;
        let rows = session.competencies(person);
        let row = rows.into_iter().find(|row| row.competency.id == *competency);
        let evidence = row.ok_or("This competency is not in the course book in force.")?.evidence;
        let last = session.sign_offs(person, competency).pop();
        let decision = self.decision.read(|typed| {
            let chosen = DECISIONS.into_iter().map(|(decision, _)| decision).find(|one| one.word() == typed);
            match chosen.ok_or("Choose the decision.")? {
                Decision::Signed if !evidence.lines.iter().all(|line| line.met) => {
                    Err("Evidence is missing: see what is listed as missing. A sign-off needs all of it.".to_owned())
                }
                Decision::Withdrawn if last.as_ref().is_none_or(|last| last.decision != Decision::Signed) => {
                    Err("There is no sign-off in force to withdraw.".to_owned())
                }
                decision => Ok(decision),
            }
        });
        let withdraws = decision == Some(Decision::Withdrawn);
        let level = self.level.read(|typed| match (typed.parse::<u8>(), &last) {
            (_, Some(last)) if withdraws => Ok(last.level),
            (Ok(level), _) if decision == Some(Decision::Signed) => evidence.check_level(level).map(|()| level),
            (Ok(level), _) => Ok(level),
            (Err(_), _) => Err("Choose the independence level.".to_owned()),
        });
        let comment = self.comment.read(|typed| match typed {
            "" if withdraws => Err("Say why the sign-off is withdrawn.".to_owned()),
            typed => Ok(typed.to_owned()),
        });
        let mut services: Vec<_> = evidence.lines.iter().flat_map(|line| line.services.clone()).collect();
        services.order_by(Ord::cmp);
        services.dedup();
        Ok(SignOff {
            id: EntryId::new(String::new()),
            competency: competency.clone(),
            trainee: person.clone(),
            by: by.id,
            at: crate::session::reading().at,
            decision: decision.ok_or_else(look)?,
            level: level.ok_or_else(look)?,
            comment: comment.ok_or_else(look)?,
            services,
            stands_on: None,
        })
    }
}
