//! One service or drill: every time, mark and fault, with what it was corrected from.

mod correct;
mod doubts;
mod dwells;
mod incident;
mod lift;
pub(crate) mod marks;
pub(crate) mod photos;
mod record;
mod taken_back;
mod times;
mod versions;

use leptos::prelude::*;
use practicum::ids::ServiceId;
use practicum::service::{Ending, Origin, Service};

use crate::components::Page;
use crate::session::{Session, session};

pub(crate) use correct::CorrectPage;
pub(crate) use record::may_read;
pub(crate) use taken_back::act_words;
pub(crate) use times::{TimesTable, stage_label, target_words};

/// One service's page.
#[component]
pub(crate) fn ServicePage(
    /// The service.
    id: ServiceId,
) -> impl IntoView {
    let session = session();
    // Who looks decides what is shown: this is drawn anew when somebody else takes the device.
    let viewer = Memo::new(move |_| (session.who(), session.may_assess(), session.may_see_private()));
    // The record itself decides the rest; what stands beside it follows changes by itself, so that a sentence that is
    // being typed stays when something else is written.
    let service = Memo::new(move |_| session.service(&id));
    let shown = move || {
        // Read, not only tracked: a memo that was never worked out counts as changed by whatever it follows.
        let _ = viewer.get();
        match service.get() {
            Some(service) => view! { <Shown service=service/> }.into_any(),
            None => view! { <p>"This service is not on this device."</p> }.into_any(),
        }
    };
    view! { <Page title="Service">{shown}</Page> }
}

/// Says that a record is withdrawn, if it is: nothing is marked or corrected in it then.
pub(crate) fn withdrawn_words(session: Session, id: &ServiceId) -> Option<String> {
    let gone = session.records().service(id)?.withdrawn.clone()?;
    let (at, by, why) = (gone.at.date_naive(), session.person_name(&gone.by), gone.reason.trim_end_matches('.'));
    Some(format!("▲ Withdrawn on {at} by {by}: {why}. It counts for nothing."))
}

/// How a record came about, in words.
pub(crate) fn mode_words(service: &Service) -> &'static str {
    match service.origin {
        Origin::Live { .. } => "● live at the couch",
        Origin::Late(_) => "▲ late entry: written down afterwards",
        Origin::Imported { .. } => "▲ imported, not observed",
    }
}

/// How it ended, in words.
pub(crate) fn ending_words(service: &Service) -> String {
    use practicum::couch::Stop;
    match &service.ending {
        Ending::Finished => "finished".to_owned(),
        Ending::Stopped(Stop::BeforeLotion(why)) => format!("■ stopped before lotion: {why}"),
        Ending::Stopped(Stop::Fault(why)) => format!("■ stopped for a fault: {why}"),
        Ending::Stopped(Stop::Reaction) => "■ stopped, reaction".to_owned(),
        Ending::Stopped(Stop::Other(why)) => format!("■ stopped: {why}"),
    }
}

/// Everything about it.
#[component]
fn Shown(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let id = service.id.clone();
    let parts = StoredValue::new(service);
    let the = move || parts.get_value();
    let against = parts.with_value(Service::is_service);
    view! {
        <p class="lead">{move || parts.with_value(|service| session.service_line(service))}</p>
        {move || view! { <Head service=the()/><incident::IncidentSection service=the()/><record::Record service=the()/> }}
        <h2>"Times"</h2>
        {move || view! { <TimesTable service=the() against=against/><doubts::DoubtsSection service=the()/><taken_back::TakenBack service=the()/> }}
        <h2>"Marks"</h2>
        <marks::MarksSection service=the()/>
        {move || view! { <photos::PhotosSection service=the()/><lift::LiftSection service=the()/> }}
        <h2>"Corrections"</h2>
        {move || view! { <versions::Versions id=id.clone()/> }}
    }
}

/// What stands at the top: what it is worth, and what can be done with it.
#[component]
fn Head(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let withdrawn = withdrawn_words(session, &service.id);
    let in_force = withdrawn.is_none();
    let withdrawn = withdrawn.map(|words| view! { <p class="notice notice-caution">{words}</p> });
    let missing = !session.books().iter().any(|book| book.id == service.course_book);
    let missing = missing.then(|| view! {
        <p class="notice notice-caution">"▲ The course book of this record is not on this device; names and figures are those of the one in force."</p>
    });
    let late = session.book_of(&service).map_or(0, |book| book.rules.late_seconds);
    let breaches = service.times.breaches(late);
    let breaches = (!breaches.is_empty()).then(|| view! {
        <p class="notice notice-danger">{format!("■ SAFETY BREACH recorded by the clocks: {}. The whole service is Not yet.", breaches.join("; "))}</p>
    });
    let id = service.id.clone();
    view! {
        {withdrawn}{missing}{breaches}
        <p class="toolbar">
            {in_force.then(|| view! {
                <a href=format!("#/mark/{id}")>"Mark this service"</a>
                <a href=format!("#/correct/{id}")>"Correct this record"</a>
            })}
            <a href=format!("#/progress/{}", service.trainee)>"Progress of this trainee"</a>
        </p>
    }
}
