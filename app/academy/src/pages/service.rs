//! One service or drill: every time, mark and fault, with what it was corrected from.

mod correct;
pub(crate) mod marks;
mod times;

use leptos::prelude::*;
use practicum::eye::Eye;
use practicum::ids::ServiceId;
use practicum::service::{Ending, Origin, Service};

use crate::components::Page;
use crate::session::{Session, session};

pub(crate) use correct::CorrectPage;
pub(crate) use times::TimesTable;

/// One service's page.
#[component]
pub(crate) fn ServicePage(
    /// The service.
    id: ServiceId,
) -> impl IntoView {
    let session = session();
    let shown = move || match session.service(&id) {
        Some(service) => view! { <Shown service=service/> }.into_any(),
        None => view! { <p>"This service is not on this device."</p> }.into_any(),
    };
    view! { <Page title="Service">{shown}</Page> }
}

/// How a record came about, in words.
pub(crate) fn mode_words(service: &Service) -> &'static str {
    match service.origin {
        Origin::Live { .. } => "live at the couch",
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
    let withdrawn = session.records().service(&service.id).and_then(|known| known.withdrawn.clone());
    let withdrawn =
        withdrawn.map(|w| view! { <p class="notice notice-caution">{format!("▲ Withdrawn: {}", w.reason)}</p> });
    let id = service.id.clone();
    view! {
        <p class="lead">{session.service_line(&service)}</p>
        {withdrawn}
        <Facts service=service.clone()/>
        <h2>"Times"</h2>
        <TimesTable service=service.clone() against=true/>
        <h2>"Marks"</h2>
        <marks::MarksSection service=service.clone()/>
        <IncidentSection service=service.clone()/>
        <h2>"Earlier versions"</h2>
        <Versions service=service.clone()/>
        <p class="toolbar">
            <a href=format!("#/mark/{id}")>"Mark this service"</a>
            <a href=format!("#/correct/{id}")>"Correct this record"</a>
            <a href=format!("#/progress/{}", service.trainee)>"Progress of this trainee"</a>
        </p>
    }
}

fn eyes(session: Session, service: &Service) -> Vec<(String, String)> {
    let book = session.book_of(service);
    let shield = |id: &practicum::ids::ShieldId| {
        book.as_ref().and_then(|book| book.shield(id).map(|s| s.label.clone())).unwrap_or_else(|| id.to_string())
    };
    let mut lines = Vec::new();
    for eye in Eye::BOTH {
        let mut words = Vec::new();
        if let Some(analysis) = service.analysis.get(eye) {
            words.push(format!("{} mm, {} lashes", analysis.length_mm, analysis.condition.word()));
        }
        if let Some(choice) = service.shields.get(eye) {
            let tried: Vec<String> = choice.tried.iter().map(|(id, _)| shield(id)).collect();
            words.push(format!("shield {} (tried: {})", shield(&choice.chosen), tried.join(", ")));
        }
        if let Some(sections) = service.sections.get(eye) {
            words.push(format!("{} section(s)", sections.number()));
        }
        lines.push((format!("{} eye", eye.word()), if words.is_empty() { "–".to_owned() } else { words.join("; ") }));
    }
    lines
}

/// What is known beside times and marks.
#[component]
fn Facts(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let medium = match &service.drill {
        Some(kind) => format!("drill: {kind} ({})", service.medium.word()),
        None => service.medium.word().to_owned(),
    };
    let plan = service.worked.map_or_else(
        || "not recorded".to_owned(),
        |worked| format!("{}{}", worked.sections.plan().word(), if worked.mixed { ", mixed" } else { "" }),
    );
    let products: Vec<String> = service
        .products
        .iter()
        .map(|(kind, lot)| format!("{}: {}, lot {}", kind.word(), session.product_name(&lot.product), lot.number))
        .collect();
    let assessed = match service.will_be_assessed {
        Some(true) => "yes",
        Some(false) => "no",
        None => "not declared",
    };
    let mut rows = vec![
        ("How recorded".to_owned(), mode_words(&service).to_owned()),
        ("What".to_owned(), medium),
        ("Began".to_owned(), service.began.format("%Y-%m-%d %H:%M %:z").to_string()),
        ("Ended".to_owned(), ending_words(&service)),
        ("Course book".to_owned(), service.course_book.to_string()),
        ("Plan as worked".to_owned(), plan),
    ];
    rows.extend(eyes(session, &service));
    rows.push(("Tint".to_owned(), tint_words(service.tint).to_owned()));
    rows.push(("Products".to_owned(), if products.is_empty() { "–".to_owned() } else { products.join("; ") }));
    rows.push(("To be assessed".to_owned(), assessed.to_owned()));
    for made in &service.overrides {
        let state = if made.confirmed {
            "by an unlocked instructor, not yet signed"
        } else {
            "claimed, not confirmed, not yet signed"
        };
        rows.push((
            "Override".to_owned(),
            format!("{} by {}: {} ({state})", made.reason_code, session.person_name(&made.by), made.why),
        ));
    }
    let private = session.may_see_private();
    let hidden =
        |text: &str| if private || text.is_empty() { text.to_owned() } else { "hidden: unlock at the top".to_owned() };
    rows.push(("Comfort".to_owned(), hidden(&service.comfort)));
    rows.push((
        "Aftercare given".to_owned(),
        service.aftercare_given.map_or("not said", |yes| if yes { "yes" } else { "no" }).to_owned(),
    ));
    rows.push(("Note".to_owned(), hidden(&service.note)));
    let row = |(name, words): (String, String)| view! { <tr><th scope="row">{name}</th><td>{words}</td></tr> };
    view! {
        <div class="table-wrap"><table>
            <caption>"Record"</caption>
            <tbody>{rows.into_iter().map(row).collect_view()}</tbody>
        </table></div>
    }
}

fn tint_words(tint: practicum::couch::Tint) -> &'static str {
    match tint {
        practicum::couch::Tint::None => "none",
        practicum::couch::Tint::Own => "a stage of its own",
        practicum::couch::Tint::Mixed => "mixed into the setting lotion",
    }
}

/// The incident, if there was one.
#[component]
fn IncidentSection(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let records = session.records();
    let incident = service.incident.as_ref().and_then(|id| records.incident(id)).map(|known| known.value.clone());
    incident.map(|incident| {
        let line = |on: &logbook::fact::OnEye| {
            let time = on.seconds_on.map(practicum::moment::format_seconds).unwrap_or_default();
            format!("{} eye: {} {} lot {}, on for {time}", on.eye.word(), on.kind.word(), on.name, on.lot)
        };
        let lines: Vec<String> = incident.on_the_eye.iter().map(line).collect();
        view! {
            <h2>"■ Incident"</h2>
            <p>{format!("Reported at {}.", incident.at.format("%Y-%m-%d %H:%M:%S"))}</p>
            <ul>{lines.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
        }
    })
}

/// Every value the record ever had.
#[component]
fn Versions(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let records = session.records();
    let versions = records.service_history(&service.id).to_vec();
    if versions.is_empty() {
        return view! { <p>"Never corrected."</p> }.into_any();
    }
    let line = move |version: logbook::records::Version| {
        let reason = if version.reason.is_empty() { "as first written".to_owned() } else { version.reason.clone() };
        let head = format!("{} by {}: {reason}", version.at.format("%Y-%m-%d %H:%M"), session.person_name(&version.by));
        let value = version.fact.service().map(|old| {
            format!(
                "room {}; note: {}; comfort: {}; plan {}",
                old.room,
                old.note,
                old.comfort,
                old.plan().map_or("–", |plan| plan.word())
            )
        });
        view! { <li><strong>{head}</strong><br/>{value}</li> }
    };
    view! { <ol>{versions.into_iter().map(line).collect_view()}</ol> }.into_any()
}
