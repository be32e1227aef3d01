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
    let shown = move || {
        viewer.track();
        match session.service(&id) {
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
        <p class="lead">{session.service_line(&service)}</p>
        {withdrawn}{missing}{breaches}
        <p class="toolbar">
            {in_force.then(|| view! {
                <a href=format!("#/mark/{id}")>"Mark this service"</a>
                <a href=format!("#/correct/{id}")>"Correct this record"</a>
            })}
            <a href=format!("#/progress/{}", service.trainee)>"Progress of this trainee"</a>
        </p>
        <incident::IncidentSection service=service.clone()/>
        <record::Record service=service.clone()/>
        <h2>"Times"</h2>
        <TimesTable service=service.clone() against=service.is_service()/>
        <doubts::DoubtsSection service=service.clone()/>
        <taken_back::TakenBack service=service.clone()/>
        <h2>"Marks"</h2>
        <marks::MarksSection service=service.clone()/>
        <photos::PhotosSection service=service.clone()/>
        <lift::LiftSection service=service.clone()/>
        <h2>"Corrections"</h2>
        <versions::Versions id=id/>
    }
}
