//! What was noted of a trainee's time, entry by entry, each to be corrected with a reason; earlier values stay readable.

use leptos::prelude::*;
use logbook::Recorded;
use logbook::fact::{Coursework, Fact};
use practicum::coursework::Attendance;
use practicum::coursework::hours::say_minutes;
use practicum::ids::PersonId;

use super::{Time, TimeFields};
use crate::components::When;
use crate::pages::form::{Field, Saving, SavingLine, SelectInput, TextInput, one_line};
use crate::session::{Session, session};

/// Entries that are shown at first, and how many more each time.
const SHOWN_AT_FIRST: usize = 20;

/// Entries of one trainee, the last day first.
fn entries(session: Session, trainee: &PersonId) -> Vec<Recorded<Attendance>> {
    let records = session.records();
    let mut known: Vec<_> = records.attendance_of(trainee).into_iter().cloned().collect();
    known.reverse();
    known
}

/// The entries of whoever is chosen; a trainee sees the own ones.
#[component]
pub(super) fn Entries() -> impl IntoView {
    let session = session();
    let chosen = Field::empty();
    let own = move || session.who().filter(|who| !who.role.may_assess()).map(|who| who.id);
    let whose = Memo::new(move |_| match own() {
        Some(own) => Some(own),
        None => Some(chosen.text.get()).filter(|id| session.may_assess() && !id.is_empty()).map(PersonId::new),
    });
    let people = Signal::derive(move || {
        session.trainees().into_iter().map(|person| (person.id.to_string(), person.name)).collect::<Vec<_>>()
    });
    let shown = RwSignal::new(SHOWN_AT_FIRST);
    let all = Memo::new(move |_| whose.get().map(|whose| entries(session, &whose)).unwrap_or_default());
    let first = move || all.get().into_iter().take(shown.get()).collect::<Vec<_>>();
    let saving = Saving::new();
    let more = move |_| shown.update(|shown| *shown = shown.saturating_add(SHOWN_AT_FIRST));
    view! {
        <When when=move || session.may_assess() || own().is_some()>
            <section class="stack">
                <h2>"What was noted"</h2>
                <When when=move || own().is_none()>
                    <SelectInput label="Of whom" id="entries-of" field=chosen options=people none="nobody chosen"/>
                </When>
                <When when=move || whose.get().is_some() && all.with(Vec::is_empty)><p>"○ Nothing yet."</p></When>
                <ul class="plain-list">
                    <For each=first key=|known| known.latest.clone() let:known><Entry known=known saving=saving/></For>
                </ul>
                <When when=move || shown.get() < all.with(Vec::len)>
                    <p><button type="button" on:click=more>"Show more"</button></p>
                </When>
                <SavingLine saving=saving/>
            </section>
        </When>
    }
}

/// One entry; opened, it shows where it is corrected.
#[component]
fn Entry(
    /// The entry.
    known: Recorded<Attendance>,
    /// The saving of the whole list: a corrected entry is drawn anew.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let value = known.value.clone();
    let by = value.supervised_by.as_ref().map(|by| untrack(|| session.person_name(by)));
    let by = by.map_or_else(|| "alone".to_owned(), |by| format!("supervised by {by}"));
    let about = if value.title.is_empty() { String::new() } else { format!(": {}", value.title) };
    let corrected = if known.corrected { " (corrected)" } else { "" };
    let words =
        format!("{}, {}{about}, {}, {by}{corrected}", value.on, value.learning.word(), say_minutes(value.minutes));
    let known = StoredValue::new(known);
    // Time alone is corrected by who noted it too; anything else by an instructor or the owner.
    let may = move || {
        let own = session.who().map(|who| who.id);
        session.may_assess()
            || known.with_value(|known| Some(&known.author) == own.as_ref() && known.value.supervised_by.is_none())
    };
    view! {
        <li class="form-part">
            <When when=may fallback={ let words = words.clone(); move || words.clone() }>
                <details><summary>{words.clone()}</summary><Correct known=known.get_value() saving=saving/></details>
            </When>
        </li>
    }
}

/// Corrects an entry.
#[component]
fn Correct(
    /// The entry.
    known: Recorded<Attendance>,
    /// The saving of the whole list.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let (time, why) = (Time::of(&known.value), Field::empty());
    let id = format!("entry-{}", known.entry);
    let known = StoredValue::new(known);
    let save = move |_| {
        saving.hush();
        let reason = why.read(|typed| match one_line(typed)? {
            reason if reason.is_empty() => Err("Say why it is corrected.".to_owned()),
            reason => Ok(reason),
        });
        let (Some(noted), Some(reason)) = (time.read(), reason) else {
            return saving.say(Err("Look at the fields marked ▲; nothing was lost.".to_owned()));
        };
        let known = known.get_value();
        let (trainee, supervised_by) = (known.value.trainee, known.value.supervised_by);
        let fact = Fact::Coursework(Coursework::AttendanceNoted(Attendance { trainee, supervised_by, ..noted }));
        let fact = Fact::Corrected { of: known.latest, reason, fact: Box::new(fact) };
        saving.write(
            session,
            vec![fact],
            "The correction is recorded; the earlier value stays in the log.".to_owned(),
            || {},
        );
    };
    view! {
        <div class="stack">
            <TimeFields time=time id=id.clone()/>
            <TextInput label="Why it is corrected" id=format!("{id}-why") field=why/>
            <button type="button" disabled=move || saving.busy() on:click=save>"Record the correction"</button>
        </div>
    }
}
