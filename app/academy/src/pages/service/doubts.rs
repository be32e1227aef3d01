//! On the page of a service: stretches of time in doubt, what was stated, and the form to state it afterwards.

use leptos::prelude::*;
use logbook::Fact;
use practicum::couch::clock::Doubtful;
use practicum::couch::fold::Run;
use practicum::couch::{Act, Tap};
use practicum::service::{Origin, Service};

use super::correct::may;
use crate::pages::couch::{Said, StretchForm, sentence, stated};
use crate::pages::form::{Saving, SavingLine};
use crate::session::{Session, reading, session};

/// Every stretch of time in doubt, if the service has any.
#[component]
pub(super) fn DoubtsSection(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let all = doubtful(session, &service);
    if all.is_empty() {
        return ().into_any();
    }
    let saving = Saving::new();
    let allowed = may(session, &service);
    let service = StoredValue::new(service);
    let may_shorten = Signal::derive(move || session.may_assess());
    let on_said = Callback::new(move |said: Said| state(session, &service.get_value(), said, saving));
    let one = |stretch: Doubtful| {
        let line = stated(session, &stretch).unwrap_or_else(|| sentence(&stretch));
        // A trainee speaks once; an instructor may set right what was said.
        let form = allowed && (stretch.stated.is_none() || session.may_assess());
        let words = if stretch.stated.is_none() { "Say what happened" } else { "Set right what was stated" };
        view! {
            <li>
                <p>{line}</p>
                {form.then(|| view! {
                    <details><summary>{words}</summary><StretchForm stretch=stretch may_shorten=may_shorten on_said=on_said/></details>
                })}
            </li>
        }
    };
    view! {
        <h2>"Time in doubt"</h2>
        <p>"A stretch that nobody has spoken about keeps this service out of time standards; so does one set to another length than the clocks counted."</p>
        <ul class="plain-list">{all.into_iter().map(one).collect_view()}</ul>
        <SavingLine saving=saving/>
    }
    .into_any()
}

fn doubtful(session: Session, service: &Service) -> Vec<Doubtful> {
    match (&service.origin, session.book_of(service)) {
        (Origin::Live { opening, taps }, Some(book)) => Run::fold(&book, opening, taps).doubtful().to_vec(),
        _ => Vec::new(),
    }
}

/// Says every stretch of time in doubt, with what was stated about it.
pub(super) fn lines(session: Session, service: &Service) -> Vec<super::record::Line> {
    let line = |stretch: &Doubtful| stated(session, stretch).unwrap_or_else(|| sentence(stretch));
    let name = |stretch: &Doubtful| format!("Time in doubt before tap {}", stretch.at_tap);
    doubtful(session, service).iter().map(|stretch| (name(stretch), line(stretch))).collect()
}

/// Adds what was said to the taps, as a correction; no tap that was made is changed.
fn state(session: Session, service: &Service, (at_tap, seconds, what): Said, saving: Saving) {
    let Some(who) = session.who_now() else {
        return saving.say(Err("Say at the top who is using this device.".to_owned()));
    };
    let (Some(book), Origin::Live { opening, taps }) = (session.book_of(service), &service.origin) else { return };
    let sequence = taps.last().map_or(0, |last| last.sequence.saturating_add(1));
    let reason = format!("time in doubt: {what}");
    let tap = Tap { sequence, reading: reading(), act: Act::TimeConfirmed { at_tap, seconds, by: who.id, what } };
    if let Some(why) = Run::fold(&book, opening, taps).refuses(&tap.act) {
        return saving.say(Err(format!("Not recorded: {why}.")));
    }
    let taps: Vec<Tap> = taps.iter().cloned().chain([tap]).collect();
    let mut told = service.clone();
    told.times = Run::fold(&book, opening, &taps).times();
    told.origin = Origin::Live { opening: opening.clone(), taps };
    let records = session.records_now();
    let Some(known) = records.service(&told.id) else {
        return saving.say(Err("This service is not on this device.".to_owned()));
    };
    let of = known.latest.clone();
    let fact = if told.is_service() { Fact::ServiceLogged(told) } else { Fact::DrillLogged(told) };
    saving.write(
        session,
        vec![Fact::Corrected { of, reason, fact: Box::new(fact) }],
        "What happened is recorded.".to_owned(),
        || {},
    );
}
