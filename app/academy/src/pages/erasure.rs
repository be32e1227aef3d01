//! Erasing for good what says who a practice model or a person is: what would go, what stays, holds, and the act itself.

use std::collections::BTreeMap;

use leptos::prelude::*;
use logbook::fact::{Erasure, Fact, Ground, Hold};
use logbook::subject::Subject;
use practicum::ids::{EntryId, PersonId, PracticeModelId};
use practicum::person::Person;
use practicum::practice_model::PracticeModel;

use super::form::{ChoiceInput, Field, OnceUnlocked, Saving, SavingLine, TextInput, one_line};
use crate::components::{Page, When};
use crate::session::{Session, former_name, session};

/// Erasing who a practice model is.
#[component]
pub(crate) fn ErasePracticeModelPage(
    /// Which.
    id: PracticeModelId,
) -> impl IntoView {
    let session = session();
    let known = session.records_now().practice_model(&id).cloned();
    let Some(known) = known else {
        return view! { <Page title="Erase for good"><p>"This practice model is not known on this device."</p></Page> }
            .into_any();
    };
    let back = (crate::route::Route::PracticeModel(id.clone()).to_hash(), "Back to this practice model");
    view! { <ErasePage of=Subject::PracticeModel(id) word=known.code back=back/> }.into_any()
}

/// Erasing who somebody who has left was.
#[component]
pub(crate) fn ErasePersonPage(
    /// Who.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let Some(known) = session.records_now().person(&id).cloned() else {
        return view! { <Page title="Erase for good"><p>"This person is not known on this device."</p></Page> }
            .into_any();
    };
    view! { <ErasePage of=Subject::Person(id) word=known.name back=("#/people".to_owned(), "Back to people")/> }
        .into_any()
}

/// What stays, in plain words.
fn stays(of: &Subject) -> &'static [&'static str] {
    match of {
        Subject::PracticeModel(_) => &[
            "The code, so that services still have a name to stand under.",
            "Services with their dates, times and marks. The answers to the screening that were tapped while a service was under way stand within its own record and stay with it, under the code.",
            "Consents: the day and the wording agreed to.",
            "Incidents, because they may have to be shown.",
        ],
        _ => &[
            "Role, group and dates, under a name that says nothing.",
            "Services, times, marks, decisions and sign-offs.",
            "What others wrote in comments and notes about a service: look there yourself.",
        ],
    }
}

/// Both pages.
#[component]
fn ErasePage(
    /// Whose.
    of: Subject,
    /// The code or name, to be typed before anything goes.
    word: String,
    /// Where to go back.
    back: (String, &'static str),
) -> impl IntoView {
    let session = session();
    let title = format!("Erase for good: {word}");
    let (ofs, words) = (StoredValue::new(of), StoredValue::new(word));
    let bodies = Memo::new(move |_| ofs.with_value(|of| session.erasable(of)));
    let counted = move || {
        let mut kinds: BTreeMap<String, (usize, String, String)> = BTreeMap::new();
        for body in bodies.get() {
            let known = kinds.entry(body.kind).or_insert((0, body.day.clone(), body.day.clone()));
            known.0 += 1;
            known.2 = body.day;
        }
        let line = |(kind, (number, from, to)): (String, (usize, String, String))| {
            let days = if from == to { from } else { format!("{from} to {to}") };
            view! { <li>{format!("{number} × {kind} ({days})")}</li> }
        };
        kinds.into_iter().map(line).collect_view()
    };
    let past = move || {
        let records = session.records();
        let erasures = ofs.with_value(|of| records.erasures_of(of).into_iter().cloned().collect::<Vec<_>>());
        erasures
            .into_iter()
            .map(|erasure| {
                let by = session.person_name(&erasure.author);
                let (day, what, why) = (erasure.recorded_at.date_naive(), erasure.value.what, erasure.value.why);
                view! { <li>{format!("Erased on {day} by {by}: {what}. Why: {why}")}</li> }
            })
            .collect_view()
    };
    let stay = ofs.with_value(|of| stays(of).iter().map(|words| view! { <li>{*words}</li> }).collect_view());
    // Kept outside the form, which goes once there is nothing left to erase.
    let saving = Saving::new();
    let gone = move || bodies.with(Vec::is_empty);
    view! {
        <Page title=title>
            <p><a href=back.0>{back.1}</a></p>
            <ul class="plain-list">{past}</ul>
            <h2>"What would go"</h2>
            <When when=move || !gone() fallback=|| view! { <p>"○ Nothing more of this can be erased on this device."</p> }>
                <ul>{counted}</ul>
            </When>
            <p>"The place of each stays in the log and says that it was erased, by whom, when and why. Chains and signatures still hold."</p>
            <h2>"What stays"</h2>
            <ul>{stay}</ul>
            <p class="notice notice-caution">
                "▲ Nothing brings it back. Other devices drop it when they take in a newer hand-over. Files and backups that were handed out earlier still hold it: ask whoever has one to delete it."
            </p>
            <Holds of=ofs.get_value()/>
            <OnceUnlocked owner=true fallback=|| view! { <p class="notice notice-info">"● Only the owner erases, unlocked at the top."</p> }>
                <When when=move || !gone()>
                    <EraseForm of=ofs.get_value() word=words.get_value() saving=saving/>
                </When>
            </OnceUnlocked>
            <SavingLine saving=saving/>
        </Page>
    }
}

/// The act, with its reason and the code or name typed once more.
#[component]
fn EraseForm(
    /// Whose.
    of: Subject,
    /// The code or name.
    word: String,
    /// The saving of the page.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let (why, typed) = (Field::empty(), Field::empty());
    let asked = word.clone();
    let erase = move |_| {
        let reason = why.read(|typed| match one_line(typed)? {
            reason if reason.is_empty() => Err("Say why it goes. Do not name the person in it: this stays.".to_owned()),
            reason => Ok(reason),
        });
        let same = typed.read(|typed| match typed == word {
            true => Ok(()),
            false => Err(format!("Type {word} as it stands here.")),
        });
        let (Some(why), Some(())) = (reason, same) else { return };
        match untrack(|| facts(session, &of, why)) {
            Ok(facts) => {
                let done = "Erased on this device, and on every device that takes in what is handed over from now on.";
                saving.write(session, facts, done.to_owned(), || {});
            }
            Err(sentence) => saving.say(Err(sentence)),
        }
    };
    view! {
        <section class="card stack">
            <h2>"Erase"</h2>
            <TextInput label="Why" id="erase-why" field=why hint="It stays, and is shown on all devices: no names in it"/>
            <TextInput label=format!("Type “{asked}” to go on") id="erase-typed" field=typed/>
            <button type="button" class="button-danger" disabled=move || saving.busy() on:click=erase>"Erase for good"</button>
        </section>
    }
}

/// Makes the erasure, and says anew what has to stay of what it takes away.
fn facts(session: Session, of: &Subject, why: String) -> Result<Vec<Fact>, String> {
    let bodies = session.erasable(of);
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    bodies.iter().for_each(|body| *kinds.entry(body.kind.as_str()).or_default() += 1);
    let what: Vec<String> = kinds.iter().map(|(kind, number)| format!("{number} × {kind}")).collect();
    let hashes = bodies.iter().map(|body| body.hash.clone()).collect();
    let erasure = Erasure { of: of.clone(), hashes, what: what.join(", "), why };
    let records = session.records_now();
    let anew = match of {
        Subject::PracticeModel(id) => records.practice_model(id).map(|known| {
            let PracticeModel { id, code, .. } = known.clone();
            Fact::PracticeModelAdded(PracticeModel { id, code, born: None, guardian: None })
        }),
        Subject::Person(id) => {
            records.person(id).map(|known| Fact::PersonEnrolled(Person { name: former_name(known), ..known.clone() }))
        }
        _ => return Err("Only a practice model or a person is erased.".to_owned()),
    };
    Ok([Fact::Erased(erasure)].into_iter().chain(anew).collect())
}

/// Holds that stand, and the owner's forms to place and lift them.
#[component]
fn Holds(
    /// On whom.
    of: Subject,
) -> impl IntoView {
    let session = session();
    let ofs = StoredValue::new(of);
    let standing = Memo::new(move |_| {
        let records = session.records();
        let holds = ofs.with_value(|of| records.holds_on(of).into_iter().cloned().collect::<Vec<_>>());
        let line = |hold: logbook::records::Recorded<Hold>| {
            let (day, by) = (hold.recorded_at.date_naive(), session.person_name(&hold.author));
            let (ground, why) = (hold.value.ground.word(), hold.value.why);
            (hold.entry, format!("■ Hold since {day} by {by}, for {ground}: {why}"))
        };
        holds.into_iter().map(line).collect::<Vec<_>>()
    });
    let saving = Saving::new();
    view! {
        <section>
            <h2>"Holds"</h2>
            <When when=move || standing.with(Vec::is_empty)><p>"○ No hold stands: nothing asks that this is kept."</p></When>
            <ul class="plain-list">
                <For each=move || standing.get() key=|(entry, _)| entry.clone() let((entry, words))>
                    <li class="card stack">
                        <p>{words}</p>
                        <OnceUnlocked owner=true fallback=|| ()>
                            <LiftForm of=ofs.get_value() hold=entry.clone() saving=saving/>
                        </OnceUnlocked>
                    </li>
                </For>
            </ul>
            <OnceUnlocked owner=true fallback=|| ()>
                <PlaceForm of=ofs.get_value() saving=saving/>
            </OnceUnlocked>
            <SavingLine saving=saving/>
        </section>
    }
}

/// Lifts a hold.
#[component]
fn LiftForm(
    /// On whom.
    of: Subject,
    /// The hold.
    hold: EntryId,
    /// The saving of the whole part.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let why = Field::empty();
    let input = format!("lift-{hold}");
    let lift = move |_| {
        let read = why.read(|typed| match one_line(typed)? {
            why if why.is_empty() => Err("Say why the hold is lifted.".to_owned()),
            why => Ok(why),
        });
        let Some(why) = read else { return };
        let fact = Fact::HoldLifted { hold: hold.clone(), on: of.clone(), why };
        saving.write(session, vec![fact], "The hold is lifted.".to_owned(), || {});
    };
    view! {
        <div class="stack screen-only">
            <TextInput label="Why it is lifted" id=input field=why/>
            <button type="button" disabled=move || saving.busy() on:click=lift>"Lift this hold"</button>
        </div>
    }
}

/// Places a hold.
#[component]
fn PlaceForm(
    /// On whom.
    of: Subject,
    /// The saving of the whole part.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let (ground, why) = (Field::empty(), Field::empty());
    let options = [Ground::Claim, Ground::Law].map(|ground| (ground.word().to_owned(), ground.word().to_owned()));
    let place = move |_| {
        let chosen = ground.read(|typed| {
            let found = [Ground::Claim, Ground::Law].into_iter().find(|ground| ground.word() == typed);
            found.ok_or_else(|| "Choose what asks for it.".to_owned())
        });
        let reason = why.read(|typed| match one_line(typed)? {
            why if why.is_empty() => Err("Say which claim or law.".to_owned()),
            why => Ok(why),
        });
        let (Some(ground), Some(reason)) = (chosen, reason) else { return };
        let fact = Fact::HoldPlaced(Hold { on: of.clone(), ground, why: reason });
        saving.write(
            session,
            vec![fact],
            "The hold stands: nothing is erased until it is lifted.".to_owned(),
            move || {
                why.clear();
            },
        );
    };
    view! {
        <details class="form-part">
            <summary>"Place a hold: this must be kept for now"</summary>
            <ChoiceInput legend="What asks for it" id="hold-ground" field=ground options=options.to_vec()/>
            <TextInput label="Which claim or law" id="hold-why" field=why hint="It is shown on all devices: no names in it"/>
            <button type="button" disabled=move || saving.busy() on:click=place>"Place the hold"</button>
        </details>
    }
}
