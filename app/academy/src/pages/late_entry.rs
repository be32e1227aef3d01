//! A service written down afterwards: marked late, with written times, never with a live clock.

use leptos::prelude::*;
use logbook::Fact;
use practicum::couch::Tint;
use practicum::couch::times::{StageTime, Times};
use practicum::course_book::{Medium, Part, Work};
use practicum::eye::PerEye;
use practicum::ids::{PracticeModelId, ServiceId, StageId};
use practicum::moment::Seconds;
use practicum::person::Person;
use practicum::section::{Sections, WorkedPlan};
use practicum::service::{Ending, Origin, Service, WrittenTimes};

use crate::browser;
use crate::components::Page;
use crate::session::{Session, session};

/// What is typed.
#[derive(Clone, Copy)]
struct Typed {
    trainee: RwSignal<String>,
    person: RwSignal<String>,
    day: RwSignal<String>,
    time: RwSignal<String>,
    left: RwSignal<String>,
    right: RwSignal<String>,
    service: RwSignal<String>,
    hands_on: RwSignal<String>,
    note: RwSignal<String>,
    problem: RwSignal<Option<String>>,
}

/// The form.
#[component]
pub(crate) fn LateEntryPage() -> impl IntoView {
    let session = session();
    let text = || RwSignal::new(String::new());
    let typed = Typed {
        trainee: RwSignal::new(session.who_now().map(|who| who.id.to_string()).unwrap_or_default()),
        person: text(),
        day: text(),
        time: text(),
        left: text(),
        right: text(),
        service: text(),
        hands_on: text(),
        note: text(),
        problem: RwSignal::new(None),
    };
    let stages: Vec<(StageId, String, RwSignal<String>)> = session
        .book()
        .map(|book| {
            let hands_on = book.stages.iter().filter(|s| s.part == Part::Service && s.work == Work::HandsOn);
            hands_on.map(|stage| (stage.id.clone(), stage.label.clone(), RwSignal::new(String::new()))).collect()
        })
        .unwrap_or_default();
    let shown = stages.clone();
    let save = move |_| save(session, typed, &stages);
    let field = |label: String, text: RwSignal<String>, kind: &'static str| {
        view! {
            <label class="field"><span>{label}</span>
                <input type=kind prop:value=move || text.get() on:input:target=move |event| text.set(event.target().value())/>
            </label>
        }
    };
    let select = |label: &'static str, text: RwSignal<String>, options: Vec<(String, String)>| {
        view! {
            <label class="field"><span>{label}</span>
                <select on:change:target=move |event| text.set(event.target().value())>
                    <option value="">"Choose"</option>
                    {options.into_iter().map(|(value, words)| {
                        let selected = text.get_untracked() == value;
                        view! { <option value=value selected=selected>{words}</option> }
                    }).collect_view()}
                </select>
            </label>
        }
    };
    let people = session.trainees().into_iter().map(|p| (p.id.to_string(), p.name)).collect();
    let codes = session.practice_models().into_iter().map(|p| (p.id.to_string(), p.code)).collect();
    let numbers = || [4, 3, 2, 1, 5, 6, 7, 8].map(|n: u8| (n.to_string(), n.to_string())).to_vec();
    view! {
        <Page title="Write down a service afterwards">
            <p class="notice notice-caution">"▲ This will be marked as a late entry. Its times never count for a time standard; it counts for quality only where an assessor observed it."</p>
            {select("Trainee", typed.trainee, people)}
            {select("Practice model", typed.person, codes)}
            {field("Day".to_owned(), typed.day, "date")}
            {field("Began at".to_owned(), typed.time, "time")}
            {select("Sections, left eye", typed.left, numbers())}
            {select("Sections, right eye", typed.right, numbers())}
            {field("Service time as m:ss or h:mm:ss (if known)".to_owned(), typed.service, "text")}
            {field("Hands-on time as m:ss or h:mm:ss (if known)".to_owned(), typed.hands_on, "text")}
            <details>
                <summary>"Hands-on time of each stage (if known)"</summary>
                {shown.into_iter().map(|(_, label, text)| field(format!("{label}, both eyes, m:ss"), text, "text")).collect_view()}
            </details>
            {field("Note".to_owned(), typed.note, "text")}
            <div role="alert">{move || typed.problem.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}</div>
            <button type="button" class="button-primary" on:click=save>"Save as a late entry"</button>
        </Page>
    }
}

/// Reads `m:ss` or `h:mm:ss`; empty reads as unknown.
fn written(text: &str, what: &str) -> Result<Option<Seconds>, String> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(None);
    }
    let wrong = || format!("{what}: type minutes and seconds such as 47:30, or hours such as 1:05:00, not “{text}”.");
    let parts: Result<Vec<u32>, _> = text.split(':').map(str::parse::<u32>).collect();
    let seconds = match parts.map_err(|_| wrong())?.as_slice() {
        [m, s] if *s < 60 && *m < 600 => m * 60 + s,
        [h, m, s] if *m < 60 && *s < 60 && *h < 10 => h * 3600 + m * 60 + s,
        _ => return Err(wrong()),
    };
    if seconds == 0 || seconds > 9 * 3600 {
        return Err(format!("{what}: more than nothing and at most nine hours, not “{text}”."));
    }
    Ok(Some(seconds))
}

fn sections(text: &str, eye: &str) -> Result<Sections, String> {
    text.parse().ok().and_then(Sections::new).ok_or_else(|| format!("Choose the sections of the {eye} eye."))
}

fn read(
    session: Session,
    typed: Typed,
    stages: &[(StageId, String, RwSignal<String>)],
) -> Result<(Person, Service), String> {
    let records = session.records_now();
    let trainee = records.person(&typed.trainee.get().as_str().into()).cloned().filter(|p| !p.role.may_assess());
    let trainee = trainee.ok_or("Choose the trainee.")?;
    let person = PracticeModelId::new(typed.person.get());
    records.practice_model(&person).ok_or("Choose the practice model.")?;
    let local = format!("{} {}", typed.day.get(), typed.time.get());
    let local = chrono::NaiveDateTime::parse_from_str(local.trim(), "%Y-%m-%d %H:%M")
        .map_err(|_| "Say the day and the time at which it began.")?;
    let minutes = browser::clock::offset_minutes_at(local.and_utc().timestamp_millis());
    let offset = chrono::FixedOffset::east_opt(minutes.saturating_mul(60))
        .ok_or("The time zone of this device is not readable.")?;
    let began = local.and_local_timezone(offset).earliest().ok_or("This local time did not exist on that day.")?;
    if crate::session::reading().at < began {
        return Err("A service cannot be written down before it happened: check day and time.".to_owned());
    }
    let (left, right) = (sections(&typed.left.get(), "left")?, sections(&typed.right.get(), "right")?);
    let mut times = WrittenTimes {
        service: written(&typed.service.get(), "Service time")?,
        hands_on: written(&typed.hands_on.get(), "Hands-on time")?,
        ..WrittenTimes::default()
    };
    for (id, label, text) in stages {
        if let Some(seconds) = written(&text.get(), label)? {
            times.stages.push((id.clone(), None, seconds));
        }
    }
    if let (Some(hands_on), Some(service)) = (times.hands_on, times.service)
        && service < hands_on
    {
        return Err("Hands-on time is longer than the service time: check both.".to_owned());
    }
    let book = session.book().ok_or("No course book is in force.")?;
    let stage = |(stage, eye, hands_on): &(StageId, Option<practicum::eye::Eye>, Seconds)| StageTime {
        stage: stage.clone(),
        eye: *eye,
        hands_on: *hands_on,
    };
    let shown = Times {
        service: times.service,
        hands_on: times.hands_on,
        stages: times.stages.iter().map(stage).collect(),
        ..Times::default()
    };
    let service = Service {
        id: ServiceId::new(browser::random::hex_id()),
        trainee: trainee.id.clone(),
        medium: Medium::Live,
        drill: None,
        practice_model: Some(person),
        began,
        course_book: book.id.clone(),
        room: String::new(),
        sections: PerEye { left: Some(left), right: Some(right) },
        worked: Some(WorkedPlan { sections: left.max(right), mixed: left != right }),
        analysis: PerEye::default(),
        shields: PerEye::default(),
        tint: Tint::None,
        products: Vec::new(),
        will_be_assessed: None,
        overrides: Vec::new(),
        incident: None,
        ending: Ending::Finished,
        aftercare_given: None,
        comfort: String::new(),
        note: typed.note.get().trim().to_owned(),
        times: shown,
        origin: Origin::Late(times),
    };
    Ok((trainee, service))
}

fn save(session: Session, typed: Typed, stages: &[(StageId, String, RwSignal<String>)]) {
    let (trainee, service) = match read(session, typed, stages) {
        Ok(read) => read,
        Err(sentence) => {
            typed.problem.set(Some(format!("{sentence} Nothing was lost.")));
            return;
        }
    };
    if session.who_now().is_none_or(|who| who.id != trainee.id && !who.role.may_assess()) {
        typed.problem.set(Some("A trainee writes own services only: switch at the top.".to_owned()));
        return;
    }
    let id = service.id.clone();
    leptos::task::spawn_local(async move {
        match session.write(vec![Fact::ServiceLogged(service)]).await {
            Ok(()) => browser::page::set_hash(&format!("#/service/{id}")),
            Err(sentence) => typed.problem.set(Some(sentence)),
        }
    });
}
