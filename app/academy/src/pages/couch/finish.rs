//! The end of a run: the trainee's own view of the outcome, a summary of the times, and saving.

use leptos::prelude::*;
use practicum::couch::fold::Run;
use practicum::course_book::Criterion;
use practicum::moment::format_seconds;
use practicum::outcome::{Outcome, applicable};
use practicum::service::{Closing, Service};

use super::answers::{Form, Kept};
use super::chips::Chips;
use super::context::Couch;
use super::doubts::Doubts;
use crate::pages::late_entry::written::duration;
use crate::pages::rubric::{FaultForm, RubricForm, unmarked};
use crate::pages::service::TimesTable;
use crate::session::Response;

/// The closing form, once what was answered before is read from the disk.
#[component]
pub(crate) fn FinishScreen() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let answers =
        LocalResource::new(move || async move { couch.session().load_answers(couch.opening().id.as_str()).await });
    view! {
        <Suspense fallback=|| view! { <p>"Reading what was answered so far…"</p> }>
            {move || Suspend::new(async move {
                match answers.await {
                    Ok(answers) => view! { <Closings form=Form::over(couch, answers)/> }.into_any(),
                    Err(sentence) => view! {
                        <p class="notice notice-danger">
                            {format!("What was answered so far cannot be read: {sentence}. It is still on the disk, and so are all taps.")}
                        </p>
                    }.into_any(),
                }
            })}
        </Suspense>
    }
}

/// The closing form, drawn anew when the times come to count otherwise.
#[component]
fn Closings(
    /// What was given so far.
    form: Form,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    // Time in doubt may still be spoken about here: what rests on the times is worked out anew then.
    let times = Memo::new(move |_| ended(couch, Closing::default()).map(|service| service.times));
    Effect::new(|_| crate::browser::page::focus_if_lost(&["finish-heading"]));
    move || {
        let _ = times.get();
        view! { <ClosingForm form=form/> }
    }
}

/// The form for the times as they count now; what was given so far is kept.
#[component]
fn ClosingForm(
    /// What was given so far.
    form: Form,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let Some(service) = untrack(|| ended(couch, Closing::default())) else {
        return view! { <p>"The run has not ended."</p> }.into_any();
    };
    let book = couch.book();
    let criteria: Vec<Criterion> = applicable(&book, &service).into_iter().cloned().collect();
    let cap = service.times.timing_cap(book.rules.late_seconds);
    let faults = book.faults.iter().map(|fault| (fault.id.clone(), fault.label.clone())).collect::<Vec<_>>();
    let aftercare_lines = book.aftercare.clone();
    let live = service.is_service();
    let needed = criteria.clone();
    let save = move |_| save(couch, form, &needed);
    view! {
        <section class="finish">
            <h2 id="finish-heading" tabindex="-1">"How did it go?"</h2>
            <Summary service=service.clone()/>
            <Doubts/>
            {service.incident.is_some().then(|| view! { <Responded form=form/> })}
            <RubricForm criteria=criteria cap=cap marks=form.marks/>
            <FaultForm faults=faults seen=form.faults/>
            <TextField label="Comfort: stinging, watering, anything said" text=form.comfort/>
            {live.then(|| view! {
                <details><summary>"Aftercare to give"</summary>
                    <ul>{aftercare_lines.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
                </details>
                <Chips legend="Aftercare given?" name="aftercare"
                    options=vec![(true, "Yes".to_owned()), (false, "No".to_owned())] chosen=form.aftercare/>
            })}
            <TextField label="Note" text=form.note/>
            <Kept form=form/>
            <div role="alert">{move || form.problem.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}</div>
            <button type="button" class="couch-primary" disabled=move || form.saving.get() on:click=save>
                "Save the record"
            </button>
        </section>
    }
    .into_any()
}

fn ended(couch: Couch, closing: Closing) -> Option<Service> {
    let (book, opening, taps) = (couch.book(), couch.opening(), couch.taps());
    let run = Run::fold(&book, &opening, &taps);
    let medium = couch.session().medium_of(&opening.what);
    Service::from_run(&run, &opening, &taps, medium, closing)
}

fn save(couch: Couch, form: Form, criteria: &[Criterion]) {
    let stopped = couch.with_run(|run| !matches!(run.phase(), practicum::couch::fold::Phase::Finished));
    // A run that was stopped may be saved without marks: nobody should have to mark in such a moment.
    if let Some(sentence) = unmarked(criteria, &form.marks.get_untracked()).filter(|_| !stopped) {
        form.problem.set(Some(sentence));
        return;
    }
    let closing = Closing {
        aftercare_given: form.aftercare.get_untracked(),
        comfort: form.comfort.get_untracked().trim().to_owned(),
        note: form.note.get_untracked().trim().to_owned(),
    };
    if couch.opening().what == practicum::couch::What::Service && closing.aftercare_given.is_none() && !stopped {
        form.problem.set(Some("Say whether aftercare was given.".to_owned()));
        return;
    }
    let Some(service) = ended(couch, closing) else { return };
    let response = match response(form, service.incident.is_some()) {
        Ok(response) => response,
        Err(sentence) => return form.problem.set(Some(sentence)),
    };
    let outcome = Outcome {
        service: service.id.clone(),
        marker: service.trainee.clone(),
        at: crate::session::reading().at,
        marks: form.marks.get_untracked(),
        faults: form.faults.get_untracked(),
        comment: String::new(),
        independence_next: None,
        observed: false,
    };
    let outcome = (!outcome.marks.is_empty() || !outcome.faults.is_empty()).then_some(outcome);
    form.saving.set(true);
    leptos::task::spawn_local(async move {
        let id = service.id.clone();
        // What another tab answered is shown before it is saved.
        match form.keep().await {
            Ok(false) => {}
            told => {
                form.saving.set(false);
                let another = "Another tab gave answers too. All of them are shown here now: look at them, then save.";
                return form.problem.set(Some(told.err().unwrap_or_else(|| another.to_owned())));
            }
        }
        match couch.session().finish_run(service, outcome, &response).await {
            Ok(()) => crate::browser::page::set_hash(&format!("#/service/{id}")),
            Err(sentence) => {
                form.saving.set(false);
                form.problem.set(Some(sentence));
            }
        }
    });
}

/// Reads what was done about a reaction.
fn response(form: Form, reacted: bool) -> Result<Response, String> {
    if !reacted {
        return Ok(Response::default());
    }
    let swelling = form.swelling.get_untracked();
    let swelling_or_breathing =
        swelling.ok_or("Say whether there was swelling of the face or trouble breathing. Nothing was lost.")?;
    let rinsed = duration(&form.rinsed.get_untracked()).map_err(|why| format!("Rinsed for: {why}"))?;
    Ok(Response { rinsed, swelling_or_breathing })
}

/// Asks what was done about the reaction.
#[component]
fn Responded(
    /// The form.
    form: Form,
) -> impl IntoView {
    view! {
        <section>
            <h3>"■ The reaction"</h3>
            <Chips legend="Swelling of the face, or trouble breathing?" name="swelling"
                options=vec![(true, "Yes".to_owned()), (false, "No".to_owned())] chosen=form.swelling/>
            <label class="field">
                <span>"Rinsed for, in minutes and seconds such as 15:00 (empty: not known)"</span>
                <input type="text" prop:value=move || form.rinsed.get()
                    on:input:target=move |event| form.rinsed.set(event.target().value())/>
            </label>
        </section>
    }
}

/// A short text.
#[component]
fn TextField(
    /// Label.
    label: &'static str,
    /// The text.
    text: RwSignal<String>,
) -> impl IntoView {
    view! {
        <label class="field">
            <span>{label}</span>
            <textarea rows="2" prop:value=move || text.get() on:input:target=move |event| text.set(event.target().value())></textarea>
        </label>
    }
}

/// The times of the run; targets stand beside them only once quality is met at this plan.
#[component]
fn Summary(
    /// The service as it would be recorded.
    service: Service,
) -> impl IntoView {
    let times = &service.times;
    let rows = [
        ("Service time", times.service),
        ("Hands-on", times.hands_on),
        ("Waiting", times.waiting),
        ("Pauses", times.pauses),
        ("Checks", times.checks),
    ];
    let row = |(name, seconds): (&'static str, Option<u32>)| {
        view! { <div><dt>{name}</dt><dd>{seconds.map_or_else(|| "–".to_owned(), format_seconds)}</dd></div> }
    };
    let against = service.is_service();
    view! {
        <dl class="times">{rows.into_iter().map(row).collect_view()}</dl>
        <details>
            <summary>"Every time of this run"</summary>
            <TimesTable service=service.clone() against=against/>
        </details>
    }
}
