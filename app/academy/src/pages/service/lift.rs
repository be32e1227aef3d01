//! How the lift of a service holds: planned looks, what was seen, and what a drop may come from.

use leptos::prelude::*;
use logbook::Recorded;
use logbook::fact::{Aftercare, Fact};
use practicum::after_the_couch::{Comfort, LiftFollowUp, LiftSeen};
use practicum::eye::{Eye, PerEye};
use practicum::service::{Ending, Service};

use crate::components::When;
use crate::pages::form::{ChoiceInput, Field, LongInput, Saving, SavingLine, TextInput, TickInput, day, day_text};
use crate::session::{Session, reading, session};

/// The part of the service's page.
#[component]
pub(super) fn LiftSection(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    if !service.is_service() || service.ending != Ending::Finished {
        return None;
    }
    let known = StoredValue::new(service.clone());
    let looks = move || {
        let records = session.records();
        known.with_value(|service| records.lift_looks_of(&service.id).into_iter().cloned().collect::<Vec<_>>())
    };
    let line = move |look: Recorded<LiftFollowUp>| {
        let value = look.value;
        let planned = value.planned_day.map(|days| format!(" (planned look, day {days})")).unwrap_or_default();
        let uneven = if value.uneven { "; uneven" } else { "" };
        let said = if value.words.is_empty() { String::new() } else { format!(": {}", value.words) };
        let words = format!(
            "{}{planned}: left {}, right {}{uneven}; {}{said} ({})",
            value.on,
            value.eyes.left.word(),
            value.eyes.right.word(),
            value.comfort.word(),
            session.person_name(&look.author)
        );
        view! { <li>{words}</li> }
    };
    let waiting = move || {
        let days = known.with_value(|service| session.lift_looks_due(service));
        days.last().map(|days| format!("▲ A look is due: day {days} after the service."))
    };
    let dropped = move || looks().iter().any(|look| look.value.dropped());
    Some(view! {
        <h2>"How the lift holds"</h2>
        <p>{waiting}</p>
        <When when=move || looks().is_empty()><p>"○ Nobody has looked yet."</p></When>
        <ul>{move || looks().into_iter().map(line).collect_view()}</ul>
        <When when=dropped><Drop service=known.get_value()/></When>
        <When when=move || known.with_value(|service| may_note(session, service))>
            <LookForm service=known.get_value()/>
        </When>
    })
}

fn may_note(session: Session, service: &Service) -> bool {
    session.may_assess() || session.who().is_some_and(|who| who.id == service.trainee)
}

/// What a dropped lift may come from: the faults that were seen then, with their causes, and the dwells.
#[component]
fn Drop(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let book = session.book_of(&service);
    let records = session.records();
    let late = book.as_ref().map_or(0, |book| book.rules.late_seconds);
    let seen: std::collections::BTreeSet<_> = records
        .assessors_outcomes(&service)
        .into_iter()
        .filter(|outcome| outcome.withdrawn.is_none())
        .flat_map(|outcome| outcome.value.faults.iter().map(|fault| fault.fault.clone()))
        .collect();
    let fault = |id: practicum::ids::FaultId| {
        let known = book.as_ref().and_then(|book| book.fault(&id).cloned())?;
        Some(view! { <li>{format!("{}: likely {}", known.label, known.causes.join("; "))}</li> })
    };
    let dwell = |dwell: &practicum::couch::times::Dwell| {
        let seconds = practicum::moment::format_seconds(dwell.from_first(0));
        view! { <li>{format!("{}, {} eye: {seconds}, {}", dwell.product.word(), dwell.eye.word(), dwell.judge(0, late).word())}</li> }
    };
    let none = seen.is_empty().then(|| view! { <li>"no fault was marked then"</li> });
    view! {
        <div class="notice notice-caution">
            <p>"▲ The lift has dropped. What was seen at the service, and how long each product was on:"</p>
            <ul>{none}{seen.into_iter().filter_map(fault).collect_view()}{service.times.dwells.iter().map(dwell).collect_view()}</ul>
            <p class="small">"It says what to look at, not what the cause is. A dwell is never made longer for it than the label allows."</p>
        </div>
    }
}

/// Notes a look.
#[component]
fn LookForm(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let eyes = PerEye { left: Field::empty(), right: Field::empty() };
    let (comfort, words, uneven) = (Field::empty(), Field::empty(), RwSignal::new(false));
    let (on, saving) = (Field::of(day_text(Some(reading().at.date_naive()))), Saving::new());
    let options = LiftSeen::ALL.map(|seen| (seen.word().to_owned(), seen.word().to_owned())).to_vec();
    let comforts = Comfort::ALL.map(|one| (one.word().to_owned(), one.word().to_owned())).to_vec();
    let known = StoredValue::new(service);
    let seen = |typed: &str| {
        let found = LiftSeen::ALL.into_iter().find(|seen| seen.word() == typed);
        found.ok_or_else(|| "Choose how it looks.".to_owned())
    };
    let save = move |_| {
        saving.hush();
        let (left, right) = (eyes.left.read(seen), eyes.right.read(seen));
        let said = comfort.read(|typed| {
            let found = Comfort::ALL.into_iter().find(|one| one.word() == typed);
            found.ok_or_else(|| "Choose what the practice model says.".to_owned())
        });
        let day = on.read(|typed| match day(typed)? {
            None => Err("Choose the day.".to_owned()),
            Some(day) if day > reading().at.date_naive() => Err("This day lies in the future.".to_owned()),
            Some(day) if known.with_value(|service| day < service.day()) => {
                Err("This is before the service.".to_owned())
            }
            Some(day) => Ok(day),
        });
        let (Some(left), Some(right), Some(comfort), Some(day)) = (left, right, said, day) else {
            return saving.say(Err("Look at the fields marked ▲; nothing was lost.".to_owned()));
        };
        let planned_day = known.with_value(|service| untrack(|| session.lift_looks_due(service))).pop();
        let service = known.with_value(|service| service.id.clone());
        let eyes = PerEye { left, right };
        let look = LiftFollowUp {
            service,
            on: day,
            planned_day,
            eyes,
            uneven: uneven.get_untracked(),
            comfort,
            words: words.typed(),
        };
        saving.write(
            session,
            vec![Fact::Aftercare(Aftercare::LiftLookedAt(look))],
            "The look is recorded.".to_owned(),
            || {},
        );
    };
    let side = move |eye: Eye| {
        let field = *eyes.get(eye);
        view! { <ChoiceInput legend=format!("The {} eye", eye.word()) id=format!("lift-{}", eye.word()) field=field options=options.clone()/> }
    };
    view! {
        <details class="form-part"><summary>"Note how the lift holds"</summary>
            <TextInput label="Looked at on" id="lift-day" field=on kind="date"/>
            {Eye::BOTH.map(side).collect_view()}
            <TickInput label="The eyes, or the lashes of one, have become uneven" ticked=uneven/>
            <ChoiceInput legend="The practice model says" id="lift-comfort" field=comfort options=comforts/>
            <LongInput label="In words (optional)" id="lift-words" field=words/>
            <SavingLine saving=saving/>
            <button type="button" disabled=move || saving.busy() on:click=save>"Record the look"</button>
        </details>
    }
}
