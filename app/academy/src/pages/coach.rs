//! Coaching a trainee: what repeats itself, with the services behind it; one cause to try; the note that the trainee
//! sees on the next service.

mod cases;

use leptos::prelude::*;
use logbook::Recorded;
use logbook::fact::{Coursework, Fact};
use logbook::records::Replied;
use practicum::coursework::CoachingNote;
use practicum::ids::{FaultId, PersonId};
use practicum::standing::Coaching;

use super::form::{ChoiceInput, Field, LongInput, OnceUnlocked, Saving, SavingLine};
use super::progress::CoachingLine;
use super::replies::Replies;
use crate::components::{Page, When};
use crate::session::{Session, session};

/// One trainee's coaching.
#[component]
pub(crate) fn CoachPage(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let Some(person) = session.person(&id) else {
        return view! { <Page title="Coaching"><p>"This person is not on this device."</p></Page> }.into_any();
    };
    let ids = StoredValue::new(id.clone());
    let lines = move || ids.with_value(|id| session.standing(id)).map(|standing| standing.coaching).unwrap_or_default();
    let dropped = move || {
        let found = ids.with_value(|id| session.dropped_lifts(id))?;
        let words = format!(
            "▲ The lift had dropped in {} of the last {} looked at again: ",
            found.services.len(),
            found.of_last
        );
        Some(view! { <p>{words}<super::progress::ServiceLinks ids=found.services/></p> })
    };
    let notes = move || {
        let records = session.records();
        let mut notes: Vec<Recorded<CoachingNote>> =
            ids.with_value(|id| records.coaching_of(id).into_iter().cloned().collect());
        notes.reverse();
        notes
    };
    view! {
        <Page title=format!("Coaching: {}", person.name)>
            <p><a href=format!("#/progress/{id}")>"Progress of this trainee"</a></p>
            <h2>"What repeats itself"</h2>
            <When when=move || lines().is_empty()><p>"○ No fault repeats itself, by the course book’s rule."</p></When>
            <ul class="plain-list">{move || lines().into_iter().map(|line| view! { <li><CoachingLine coaching=line/></li> }).collect_view()}</ul>
            {dropped}
            <OnceUnlocked fallback=|| view! { <super::mark::UnlockFirst/> }>
                <NoteForm id=ids.get_value() lines=untrack(lines)/>
            </OnceUnlocked>
            <h2>"What was said"</h2>
            <When when=move || notes().is_empty()><p>"○ Nothing yet."</p></When>
            <For each=notes key=|note| note.entry.clone() let:note><NoteCard note=note/></For>
            <cases::Cases id=ids.get_value()/>
        </Page>
    }
    .into_any()
}

/// Writes a note.
#[component]
fn NoteForm(
    /// The trainee.
    id: PersonId,
    /// What repeats itself.
    lines: Vec<Coaching>,
) -> impl IntoView {
    let session = session();
    let (fault, cause, words, saving) = (Field::empty(), Field::empty(), Field::empty(), Saving::new());
    let known = StoredValue::new(lines.clone());
    let faults: Vec<(String, String)> = lines
        .iter()
        .map(|line| (line.fault.to_string(), line.label.clone()))
        .chain([(String::new(), "something else".to_owned())])
        .collect();
    let causes = move || {
        let chosen = fault.text.get();
        let book = session.book();
        book.and_then(|book| book.fault(&FaultId::new(chosen)).map(|fault| fault.causes.clone())).unwrap_or_default()
    };
    let cause_options = move || {
        let options: Vec<_> = causes().into_iter().map(|cause| (cause.clone(), cause)).collect();
        (!options.is_empty()).then(|| {
            view! {
                <ChoiceInput legend="One cause to try" id="coach-cause" field=cause options=options/>
            }
        })
    };
    let propose = move |_| {
        let chosen = fault.text.get_untracked();
        let line = known
            .with_value(|lines| lines.iter().find(|line| line.fault.as_str() == chosen).map(|line| line.line.clone()));
        words.text.set(line.unwrap_or_default());
    };
    let save = move |_| {
        let said = (cause.typed(), words.typed());
        if said.1.trim().is_empty() {
            return saving.say(Err("Say what to do on the next service.".to_owned()));
        }
        let chosen = fault.typed();
        let services = known.with_value(|lines| {
            let line = lines.iter().find(|line| line.fault.as_str() == chosen);
            line.map(|line| line.services.clone()).unwrap_or_default()
        });
        let fault = (!chosen.is_empty()).then(|| FaultId::new(chosen));
        let note = CoachingNote { trainee: id.clone(), fault, services, cause: said.0, words: said.1 };
        let done = "It is recorded: the trainee sees it at the next service.".to_owned();
        saving.write(session, vec![Fact::Coursework(Coursework::CoachingGiven(note))], done, move || words.clear());
    };
    view! {
        <section class="stack">
            <h2>"A word to the trainee"</h2>
            <ChoiceInput legend="About" id="coach-fault" field=fault options=faults/>
            {cause_options}
            <p><button type="button" class="quiet" on:click=propose>"Take the course book’s words"</button></p>
            <LongInput label="What to do on the next service" id="coach-words" field=words/>
            <SavingLine saving=saving/>
            <button type="button" class="button-primary" disabled=move || saving.busy() on:click=save>"Record it"</button>
        </section>
    }
}

/// Says in how many marked services the fault was seen before and since.
fn before_and_since(session: Session, note: &Recorded<CoachingNote>) -> Option<String> {
    let fault = note.value.fault.as_ref()?;
    let records = session.records();
    let (mut before, mut since) = ((0, 0), (0, 0));
    for known in records.services_of(&note.value.trainee) {
        let service = &known.value;
        if known.withdrawn.is_some() || !service.is_service() {
            continue;
        }
        let views = records.assessors_outcomes(service);
        let Some(last) = views.last() else { continue };
        let sum = if service.began > note.recorded_at { &mut since } else { &mut before };
        sum.1 += 1;
        sum.0 += i32::from(last.value.faults.iter().any(|seen| seen.fault == *fault));
    }
    Some(format!(
        "Seen in {} of {} marked services before, and in {} of {} since.",
        before.0, before.1, since.0, since.1
    ))
}

/// A note that was written.
#[component]
pub(crate) fn NoteCard(
    /// The note.
    note: Recorded<CoachingNote>,
) -> impl IntoView {
    let session = session();
    let label = note.value.fault.as_ref().and_then(|fault| {
        untrack(|| session.book()).and_then(|book| book.fault(fault).map(|known| known.label.clone()))
    });
    let by = untrack(|| session.person_name(&note.author));
    let day = note.recorded_at.date_naive();
    let cause = (!note.value.cause.is_empty()).then(|| view! { <p>"Cause to try: "{note.value.cause.clone()}</p> });
    let known = StoredValue::new(note.clone());
    view! {
        <div class="card stack">
            <p class="small">{format!("{by}, {day}")}{label.map(|label| format!(": {label}"))}</p>
            {cause}
            <p class="strong">{note.value.words.clone()}</p>
            <p class="small">{move || known.with_value(|note| before_and_since(session, note))}</p>
            <super::progress::ServiceLinks ids=note.value.services.clone()/>
            <Replies entry=note.entry.clone()/>
        </div>
    }
}

/// Coaching that the trainee using the device has not acknowledged yet.
#[component]
pub(crate) fn OpenCoaching() -> impl IntoView {
    let session = session();
    let notes = move || {
        let Some(who) = session.who().filter(|who| !who.role.may_assess()) else { return Vec::new() };
        let records = session.records();
        let open = |note: &&Recorded<CoachingNote>| records.replied_to(&note.entry) == Replied::NotYet;
        records.coaching_of(&who.id).into_iter().filter(open).cloned().collect()
    };
    view! {
        <When when=move || !notes().is_empty()>
            <section class="stack"><h2>"From your instructor"</h2>
                <For each=notes key=|note| note.entry.clone() let:note><NoteCard note=note/></For>
            </section>
        </When>
    }
}
