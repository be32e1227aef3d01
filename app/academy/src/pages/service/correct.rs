//! Correcting a record: a new entry with a reason; the old value stays readable.

use leptos::prelude::*;
use logbook::Fact;
use logbook::spreadsheet::services::times;
use practicum::ids::{PracticeModelId, ServiceId};
use practicum::section::{Sections, WorkedPlan};
use practicum::service::{Origin, Service, WrittenTimes};

use super::withdrawn_words;
use crate::components::Page;
use crate::pages::form::{Field, LongInput, OnceUnlocked, Saving, SavingLine, SelectInput, TextInput, TickInput};
use crate::pages::late_entry::eyes::{EyeFields, Eyes};
use crate::pages::late_entry::free_text;
use crate::pages::late_entry::products::judge_by_products;
use crate::pages::late_entry::written::{Written, WrittenFields};
use crate::session::{Session, session};

/// Corrects what was written about a service. Times tapped live cannot be changed here.
#[component]
pub(crate) fn CorrectPage(
    /// The service.
    id: ServiceId,
) -> impl IntoView {
    let session = session();
    let found = StoredValue::new(session.service(&id));
    view! {
        <Page title="Correct a record">
            {match (withdrawn_words(session, &id), found.get_value()) {
                (Some(words), _) => view! { <p class="notice notice-caution">{words}</p> }.into_any(),
                (None, None) => view! { <p>"This service is not on this device."</p> }.into_any(),
                (None, Some(service)) => {
                    let service = StoredValue::new(service);
                    view! {
                        <OnceUnlocked private=true own=service.with_value(|service| service.trainee.clone()) fallback=|| view! {
                            <p class="notice notice-info">"● A record is corrected by its trainee, or by an instructor or the owner: switch at the top and unlock."</p>
                        }>
                            <Form service=service.get_value()/>
                        </OnceUnlocked>
                    }
                    .into_any()
                }
            }}
        </Page>
    }
}

/// Whether the present user may correct a record; nobody corrects a withdrawn one.
pub(super) fn may(session: Session, service: &Service) -> bool {
    withdrawn_words(session, &service.id).is_none()
        && (session.may_assess() || session.who().is_some_and(|who| who.id == service.trainee))
}

/// What is typed.
#[derive(Clone)]
struct Typed {
    room: Field,
    comfort: Field,
    note: Field,
    aftercare: Field,
    person: Field,
    worked: Field,
    mixed: RwSignal<bool>,
    eyes: Eyes,
    written: Option<Written>,
    reason: Field,
}

impl Typed {
    fn of(session: Session, service: &Service) -> Self {
        let written = match &service.origin {
            Origin::Live { .. } => None,
            Origin::Late(times) | Origin::Imported { times, .. } => Some(times),
        };
        let fields = |times: &WrittenTimes| session.book_of(service).map(|book| Written::of(&book, times));
        Self {
            room: Field::of(service.room.as_str()),
            comfort: Field::of(service.comfort.as_str()),
            note: Field::of(service.note.as_str()),
            aftercare: Field::of(service.aftercare_given.map_or("", |yes| if yes { "yes" } else { "no" })),
            person: Field::of(service.practice_model.as_ref().map_or("", PracticeModelId::as_str)),
            worked: Field::of(service.worked.map(|worked| worked.sections.number().to_string()).unwrap_or_default()),
            mixed: RwSignal::new(service.worked.is_some_and(|worked| worked.mixed)),
            eyes: Eyes::of(service),
            written: written.and_then(fields),
            reason: Field::empty(),
        }
    }
}

/// The form.
#[component]
fn Form(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let typed = Typed::of(session, &service);
    let saving = Saving::new();
    let line = session.service_line(&service);
    let live = service.is_live_entry();
    let codes = session.practice_models().into_iter().map(|p| (p.id.to_string(), p.code)).collect::<Vec<_>>();
    let shields = session
        .book_of(&service)
        .map(|book| book.shields.iter().map(|s| (s.id.to_string(), s.label.clone())).collect());
    let numbers = (1..=8).map(|n: u8| (n.to_string(), n.to_string())).collect::<Vec<_>>();
    let answers = vec![("yes".to_owned(), "yes".to_owned()), ("no".to_owned(), "no".to_owned())];
    let on_person = service.is_service();
    let kept = typed.clone();
    let save = move |_| save(session, &service, &kept, saving);
    view! {
        <p class="lead">{line}</p>
        <p>"The record gets a new version; the old one stays readable beside it."{live.then_some(" Times tapped live cannot be changed.")}</p>
        {on_person.then(|| view! { <SelectInput label="Practice model" id="practice-model" field=typed.person options=codes/> })}
        <TextInput label="Room" id="room" field=typed.room/>
        <SelectInput label="Plan as worked: sections on an eye, the larger number" id="worked" field=typed.worked options=numbers/>
        <TickInput label="Mixed: changed within an eye, or unequal" ticked=typed.mixed/>
        <EyeFields eyes=typed.eyes shields=shields.unwrap_or_default()/>
        {typed.written.clone().map(|written| view! { <WrittenFields written=written/> })}
        <SelectInput label="Aftercare given" id="aftercare" field=typed.aftercare options=answers/>
        <LongInput label="Comfort" id="correct-comfort" field=typed.comfort/>
        <LongInput label="Note" id="correct-note" field=typed.note/>
        <TextInput label="Why is it corrected?" id="reason" field=typed.reason/>
        <SavingLine saving=saving/>
        <button type="button" class="button-primary" disabled=move || saving.busy() on:click=save>"Record the correction"</button>
    }
}

/// Reads the form into a new value of the record; says beside each field what is wrong with it.
fn read(session: Session, service: &Service, typed: &Typed) -> Option<(Service, String)> {
    let book = session.book_of(service)?;
    let mut corrected = service.clone();
    let reason = typed.reason.read(|reason| match free_text(reason)? {
        reason if reason.is_empty() => Err("Say why it is corrected.".to_owned()),
        reason => Ok(reason),
    });
    let (room, comfort, note) = (typed.room.read(free_text), typed.comfort.read(free_text), typed.note.read(free_text));
    let eyes = typed.eyes.read_into(&book, &mut corrected);
    let written = typed.written.as_ref().map(Written::read);
    let worked = typed.worked.typed().parse().ok().and_then(Sections::new);
    corrected.worked = worked.map(|sections| WorkedPlan { sections, mixed: typed.mixed.get_untracked() });
    corrected.aftercare_given = match typed.aftercare.typed().as_str() {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    };
    let person = typed.person.typed();
    if corrected.is_service() {
        corrected.practice_model = (!person.is_empty()).then(|| PracticeModelId::new(person));
    }
    (corrected.room, corrected.comfort, corrected.note) = (room?, comfort?, note?);
    if let Some(written) = written {
        let written = written?;
        corrected.times = times(&written, &book);
        // What could be judged by its product still is; what lacks one stays as it was.
        let _ = judge_by_products(&mut corrected, |id| untrack(|| session.product(id)), |_| false);
        match &mut corrected.origin {
            Origin::Late(kept) | Origin::Imported { times: kept, .. } => *kept = written,
            Origin::Live { .. } => {}
        }
    }
    let reason = reason?;
    eyes.then_some((corrected, reason))
}

fn save(session: Session, service: &Service, typed: &Typed, saving: Saving) {
    let wrong = "Something is missing: look at the sentences beside the fields. What you typed is still there.";
    let Some((corrected, reason)) = read(session, service, typed) else { return saving.say(Err(wrong.to_owned())) };
    if corrected == *service {
        return saving.say(Err("Nothing differs from the record as it is.".to_owned()));
    }
    let records = session.records_now();
    let Some(known) = records.service(&corrected.id) else {
        return saving.say(Err("This service is not on this device.".to_owned()));
    };
    let (of, id) = (known.latest.clone(), corrected.id.clone());
    let fact = if corrected.is_service() { Fact::ServiceLogged(corrected) } else { Fact::DrillLogged(corrected) };
    let facts = vec![Fact::Corrected { of, reason, fact: Box::new(fact) }];
    saving.write(session, facts, "The correction is recorded.".to_owned(), move || {
        crate::browser::page::set_hash(&format!("#/service/{id}"));
    });
}
