//! Disputes that nobody has answered yet.

use leptos::prelude::*;
use logbook::fact::Reply;
use logbook::records::Recorded;

use crate::components::When;
use crate::route::Route;
use crate::session::{Session, session};

/// Says what is disputed, and where it stands.
fn place(session: Session, dispute: &Recorded<Reply>) -> (String, String) {
    let records = session.records();
    let entry = &dispute.value.about.entry;
    if let Some(marks) = records.outcome_record(entry) {
        let by = session.person_name(&marks.value.marker);
        let line = session.service(&marks.value.service).map(|service| session.service_line(&service));
        let words = format!("marks by {by} of {}", line.unwrap_or_else(|| marks.value.service.to_string()));
        return (words, Route::Service(marks.value.service.clone()).to_hash());
    }
    if let Some(sign_off) = records.sign_off_record(entry) {
        let (by, value) = (session.person_name(&sign_off.value.by), &sign_off.value);
        let words = format!("“{}” on {} by {by}", value.decision.word(), value.at.date_naive());
        return (words, Route::SignOff(value.trainee.clone(), value.competency.clone()).to_hash());
    }
    let by = records.decision_record(entry).map(|decision| session.person_name(&decision.value.by));
    let words = format!("the decision about the plan by {}", by.unwrap_or_default());
    (words, Route::Progress(dispute.value.about.person.clone()).to_hash())
}

/// The disputes that wait, the oldest first.
#[component]
pub(super) fn OpenDisputes() -> impl IntoView {
    let session = session();
    let waiting = Memo::new(move |_| {
        let records = session.records();
        let open = records.open_disputes().into_iter().map(|dispute| {
            let (words, link) = place(session, dispute);
            let (day, name) = (dispute.recorded_at.date_naive(), session.person_name(&dispute.author));
            let why = dispute.value.disputed.clone().unwrap_or_default();
            (link, format!("{name} on {day}: {words}"), why)
        });
        open.collect::<Vec<_>>()
    });
    let row = |(link, words, why): (String, String, String)| {
        view! { <li>"▲ "<a href=link>{words}</a>" – “"<bdi>{why}</bdi>"”"</li> }
    };
    view! {
        <section>
            <h2>"Disputes to answer"</h2>
            <When when=move || waiting.with(Vec::is_empty)><p>"No dispute waits."</p></When>
            <ul class="plain-list">{move || waiting.get().into_iter().map(row).collect_view()}</ul>
        </section>
    }
}
