//! Signing several competencies in one go: each only after it was opened, and as long as its evidence is the same.

use std::collections::BTreeSet;

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::competency::{Decision, SignOff};
use practicum::ids::{CompetencyId, EntryId, PersonId};
use practicum::order::InOrder;

use super::form::{Field, LongInput, OnceUnlocked, Saving, SavingLine};
use crate::components::{Page, When};
use crate::session::{Session, reading, session};

/// A competency with all its evidence that nobody has signed off.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Ready {
    trainee: PersonId,
    name: String,
    competency: CompetencyId,
    label: String,
    level: u8,
    opened: bool,
}

fn ready(session: Session) -> Vec<Ready> {
    let me = session.who().map(|who| who.id);
    let mut all = Vec::new();
    for person in session.trainees().into_iter().filter(|person| person.left.is_none()) {
        for row in session.ready_to_sign(&person.id) {
            let opened =
                me.as_ref().is_some_and(|me| session.was_opened(me, &person.id, &row.competency.id, &row.evidence));
            all.push(Ready {
                trainee: person.id.clone(),
                name: person.name.clone(),
                competency: row.competency.id.clone(),
                label: row.competency.label.clone(),
                level: row.evidence.level_at_least,
                opened,
            });
        }
    }
    all
}

/// The page.
#[component]
pub(crate) fn SignManyPage() -> impl IntoView {
    view! {
        <Page title="Sign several competencies">
            <p>"Each was looked at on its own first: open it, look at the evidence, come back and tick it. Where the evidence has changed since, it is to be opened again."</p>
            <OnceUnlocked fallback=|| view! { <super::mark::UnlockFirst/> }><SignManyForm/></OnceUnlocked>
            <p class="small">"A sign-off is a training record and not a licence."</p>
        </Page>
    }
}

#[component]
fn SignManyForm() -> impl IntoView {
    let session = session();
    let all = Memo::new(move |_| ready(session));
    let ticked = RwSignal::new(BTreeSet::<(PersonId, CompetencyId)>::new());
    let (comment, saving) = (Field::empty(), Saving::new());
    let chosen = move || {
        all.with(|all| {
            let fits = |one: &&Ready| {
                one.opened && ticked.with(|ticked| ticked.contains(&(one.trainee.clone(), one.competency.clone())))
            };
            all.iter().filter(fits).cloned().collect::<Vec<_>>()
        })
    };
    let sign = move |_| {
        saving.hush();
        let chosen = untrack(chosen);
        let Some(by) = untrack(|| session.who()) else { return };
        if chosen.is_empty() {
            return saving.say(Err("Nothing is ticked: open a competency first, then tick it here.".to_owned()));
        }
        let of = |one: &Ready| {
            let rows = untrack(|| session.competencies(&one.trainee));
            let evidence = rows.into_iter().find(|row| row.competency.id == one.competency).map(|row| row.evidence);
            let mut services: Vec<_> =
                evidence.into_iter().flat_map(|evidence| evidence.lines).flat_map(|line| line.services).collect();
            services.order_by(Ord::cmp);
            services.dedup();
            Fact::SignedOff(SignOff {
                id: EntryId::new(String::new()),
                competency: one.competency.clone(),
                trainee: one.trainee.clone(),
                by: by.id.clone(),
                at: reading().at,
                decision: Decision::Signed,
                level: one.level,
                comment: comment.typed(),
                services,
                stands_on: None,
            })
        };
        let facts: Vec<Fact> = chosen.iter().map(of).collect();
        let done = format!("Signed off: {}, one entry each.", facts.len());
        saving.write(session, facts, done, move || ticked.set(BTreeSet::new()));
    };
    let line = move |one: Ready| {
        let key = (one.trainee.clone(), one.competency.clone());
        let (mine, other) = (key.clone(), key);
        let link = format!("#/sign-off/{}/{}", one.trainee, one.competency);
        let words = format!("{}: {}, level {}", one.name, one.label, one.level);
        let state = if one.opened { "✓ opened" } else { "○ open it first" };
        view! {
            <li class="sign-line">
                <label class="check">
                    <input type="checkbox" disabled=!one.opened prop:checked=move || ticked.with(|ticked| ticked.contains(&mine))
                        on:change:target=move |event| ticked.update(|ticked| {
                            if event.target().checked() { ticked.insert(other.clone()); } else { ticked.remove(&other); }
                        })/>
                    <span>{words}</span>
                </label>
                " "<a href=link>{format!("Open {}", one.label)}</a>" "<span class="small">{state}</span>
            </li>
        }
    };
    view! {
        <When when=move || all.with(Vec::is_empty)><p>"○ No competency has all its evidence and waits."</p></When>
        <ul class="plain-list">{move || all.get().into_iter().map(line).collect_view()}</ul>
        <p class="small">"Each gets the lowest level that its competency asks for; another level is given on its own page."</p>
        <LongInput label="Comment for each (optional)" id="sign-many-comment" field=comment/>
        <SavingLine saving=saving/>
        <button type="button" class="button-primary" disabled=move || saving.busy() on:click=sign>
            {move || format!("Sign off what is ticked: {}", chosen().len())}
        </button>
    }
}
