//! Marking a service or drill by an assessor. The trainee's own view stays hidden until this is saved.

use std::collections::BTreeMap;

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::course_book::{Criterion, IndependenceLevel, Mark};
use practicum::eye::PerEye;
use practicum::ids::{PersonId, ServiceId};
use practicum::outcome::{FaultSeen, Marked, Outcome, applicable};
use practicum::service::Service;

use super::form::{ChoiceInput, Field, LongInput, OnceUnlocked, Saving, SavingLine};
use super::rubric::{FaultForm, Marks, RubricForm, level_id, unmarked};
use super::service::marks::verdict_words;
use super::service::{TimesTable, withdrawn_words};
use crate::browser;
use crate::components::Page;
use crate::session::{Session, session};

/// Identifier of the first independence level, where a key leads after the last row of the rubric.
const INDEPENDENCE: &str = "independence-0";
/// Identifier of the button that saves.
const SAVE: &str = "mark-save";

/// What an assessor fills in.
#[derive(Clone, Copy)]
struct Form {
    marks: Marks,
    faults: RwSignal<Vec<FaultSeen>>,
    comment: Field,
    next: Field,
    observed: RwSignal<bool>,
    /// Saving was asked for, so that rows without a mark say so.
    asked: RwSignal<bool>,
    saving: Saving,
}

impl Form {
    fn empty() -> Self {
        Self {
            marks: RwSignal::new(BTreeMap::new()),
            faults: RwSignal::new(Vec::new()),
            comment: Field::empty(),
            next: Field::empty(),
            observed: RwSignal::new(false),
            asked: RwSignal::new(false),
            saving: Saving::new(),
        }
    }

    /// Puts what was chosen so far together.
    fn outcome(self, service: &ServiceId, marker: PersonId) -> Outcome {
        Outcome {
            service: service.clone(),
            marker,
            at: crate::session::reading().at,
            marks: self.marks.get(),
            faults: self.faults.get_untracked(),
            comment: self.comment.typed(),
            independence_next: self.next.typed().parse().ok(),
            observed: self.observed.get_untracked(),
        }
    }
}

/// Marks one service.
#[component]
pub(crate) fn MarkPage(
    /// The service.
    id: ServiceId,
) -> impl IntoView {
    let session = session();
    let found = session.service(&id);
    view! {
        <Page title="Mark a service">
            {match (withdrawn_words(session, &id), found) {
                (Some(words), _) => view! { <p class="notice notice-caution">{words}</p> }.into_any(),
                (None, None) => view! { <p>"This service is not on this device."</p> }.into_any(),
                (None, Some(service)) => {
                    let service = StoredValue::new(service);
                    view! {
                        <OnceUnlocked fallback=|| view! { <UnlockFirst/> }>
                            <MarkForm service=service.get_value()/>
                        </OnceUnlocked>
                    }
                    .into_any()
                }
            }}
        </Page>
    }
}

/// Says who may do this, and how.
#[component]
pub(crate) fn UnlockFirst() -> impl IntoView {
    view! {
        <p class="notice notice-info">
            "● For an instructor or the owner: switch at the top and unlock with the PIN. It locks again after five minutes."
        </p>
    }
}

/// The form.
#[component]
fn MarkForm(
    /// The service.
    service: Service,
) -> impl IntoView {
    let session = session();
    let form = Form::empty();
    let Some(book) = session.book_of(&service) else {
        return view! { <p>"The course book of this service is not on this device."</p> }.into_any();
    };
    let criteria: Vec<Criterion> = applicable(&book, &service).into_iter().cloned().collect();
    let cap = service.times.timing_cap(book.rules.late_seconds);
    let breaches = service.times.breaches(book.rules.late_seconds);
    let faults = book.faults.iter().map(|fault| (fault.id.clone(), fault.label.clone())).collect::<Vec<_>>();
    let levels = book.independence.clone();
    let sections = PerEye::from_fn(|eye| service.sections.get(eye).map_or(0, |sections| sections.number()));
    let needed = criteria.clone();
    let claimed = session.has_claimed_override(&service);
    let id = service.id.clone();
    let save = move |_| save(session, form, &needed, id.clone());
    let whole = criteria.clone();
    let marked = service.clone();
    let keys = move |event: leptos::ev::KeyboardEvent| {
        let typing = event.target().is_some_and(|target| browser::page::takes_text(&target));
        match event.key().as_str() {
            "Enter" if event.ctrl_key() || event.meta_key() => browser::page::click(SAVE),
            _ if typing || event.ctrl_key() || event.meta_key() || event.alt_key() => return,
            "f" | "F" => browser::page::open_first(".fault-side"),
            "o" | "O" => form.observed.update(|observed| *observed = !*observed),
            "c" | "C" => {
                browser::page::focus("mark-comment");
            }
            _ => return,
        }
        event.prevent_default();
    };
    let known: Vec<String> = levels.iter().map(|level| level.level.to_string()).collect();
    let independence = move |event: leptos::ev::KeyboardEvent| {
        if known.contains(&event.key()) {
            form.next.text.set(event.key());
            form.next.problem.set(None);
            browser::page::focus(SAVE);
            event.prevent_default();
        }
    };
    Effect::new(|_| {
        browser::page::focus_first(".criterion input");
    });
    let amounts_to = move || {
        let complete = form.marks.with(|marks| unmarked(&whole, marks).is_none());
        let outcome = form.outcome(&marked.id, PersonId::new(""));
        let broken: Vec<&str> = form.marks.with(|marks| {
            let not_yet = |criterion: &&Criterion| {
                criterion.safety_critical && marks.get(&criterion.id) == Some(&Marked::Level(Mark::NotYet))
            };
            whole.iter().filter(not_yet).map(|criterion| criterion.label.as_str()).collect()
        });
        match (complete, broken.is_empty()) {
            (true, _) => Some(format!("So marked: {}", verdict_words(session, &marked, &outcome))),
            (false, false) => Some(format!(
                "■ SAFETY BREACH so far ({}): the whole service is Not yet, whatever else.",
                broken.join("; ")
            )),
            (false, true) => None,
        }
    };
    view! {
        <p class="lead">{session.service_line(&service)}</p>
        <p class="small">
            "By keyboard alone: "<kbd>"1"</kbd>" to "<kbd>"4"</kbd>" mark a row and go on to the next, the arrow keys change a mark, "
            <kbd>"0"</kbd>" to "<kbd>"6"</kbd>" choose the independence, "<kbd>"F"</kbd>" opens the faults, "
            <kbd>"O"</kbd>" ticks observed, "<kbd>"C"</kbd>" goes to the comment, "<kbd>"Ctrl"</kbd>"+"<kbd>"Enter"</kbd>" saves from anywhere."
        </p>
        <TimesTable service=service.clone() against=true/>
        <super::service::photos::PhotosSection service=service.clone()/>
        {(!breaches.is_empty()).then(|| view! {
            <p class="notice notice-danger">{format!("■ Safety breach recorded by the clocks: {}. The whole service is Not yet.", breaches.join("; "))}</p>
        })}
        <div class="stack" on:keydown=keys>
        <RubricForm criteria=criteria cap=cap marks=form.marks asked=form.asked then=INDEPENDENCE/>
        <div on:keydown=independence><Independence levels=levels next=form.next/></div>
        <FaultForm faults=faults seen=form.faults sections=sections/>
        <label class="chip">
            <input type="checkbox" prop:checked=move || form.observed.get()
                on:change:target=move |event| form.observed.set(event.target().checked())/>
            <span>"Observed from end to end"</span>
        </label>
        {claimed.then(|| view! {
            <p class="notice notice-caution">
                "▲ An override of this service is not confirmed: until the named instructor confirms it under "
                <a href="#/marking">"Marking"</a>", the service does not count as observed."
            </p>
        })}
        <LongInput label="Comment" id="mark-comment" field=form.comment/>
        <p role="status"><strong>{amounts_to}</strong></p>
        <SavingLine saving=form.saving/>
        <button type="button" id=SAVE class="button-primary" disabled=move || form.saving.busy() on:click=save>"Save the marks"</button>
        </div>
    }
    .into_any()
}

/// Independence level for next time.
#[component]
fn Independence(
    /// Levels of the course book.
    levels: Vec<IndependenceLevel>,
    /// The choice.
    next: Field,
) -> impl IntoView {
    let options = levels.into_iter().map(|level| (level.level.to_string(), format!("{} {}", level.level, level.label)));
    view! { <ChoiceInput legend="Independence next time" id="independence" field=next options=options.collect()/> }
}

fn save(session: Session, form: Form, criteria: &[Criterion], service: ServiceId) {
    form.asked.set(true);
    if let Some(sentence) = form.marks.with_untracked(|marks| unmarked(criteria, marks)) {
        form.saving.say(Err(sentence));
        let open = criteria.iter().find(|one| form.marks.with_untracked(|marks| !marks.contains_key(&one.id)));
        if let Some(criterion) = open {
            crate::browser::page::focus(&level_id(&criterion.id, Mark::NotYet));
        }
        return;
    }
    let chosen = |typed: &str| match typed {
        "" => Err("Choose the independence level for next time.".to_owned()),
        _ => Ok(()),
    };
    if form.next.read(chosen).is_none() {
        form.saving.say(Err("The independence level for next time is missing. Nothing was lost.".to_owned()));
        return;
    }
    let Some(marker) = session.who() else { return };
    let fact = Fact::OutcomeMarked(untrack(|| form.outcome(&service, marker.id)));
    // On to the next that waits, else to what was marked.
    let after = move || {
        let next = untrack(|| session.services_to_mark()).into_iter().find(|waiting| waiting.id != service);
        let to = next.map_or_else(|| format!("#/service/{service}"), |next| format!("#/mark/{}", next.id));
        browser::page::set_hash(&to);
    };
    form.saving.write(session, vec![fact], "The marks are saved.".to_owned(), after);
}
