//! Samples of the marking: a second pair of eyes looks at services that somebody else marked.

use std::collections::BTreeSet;

use leptos::prelude::*;
use logbook::Recorded;
use logbook::fact::{Coursework, Fact};
use practicum::competency::{EvidenceInput, evidence_state};
use practicum::coursework::{Sample, SampleFinding, SampleLook};
use practicum::ids::{CompetencyId, EntryId, PersonId, ServiceId};

use crate::browser;
use crate::components::When;
use crate::pages::form::{ChoiceInput, Field, LongInput, Saving, SavingLine, SelectInput, TextInput, whole_number};
use crate::session::{Session, reading, session};

/// Draws samples and shows those that are open.
#[component]
pub(super) fn Samples() -> impl IntoView {
    let session = session();
    let open = move || {
        let records = session.records();
        let all: Vec<Recorded<Sample>> = records.samples().into_iter().rev().cloned().collect();
        all
    };
    view! {
        <h2>"Samples of the marking"</h2>
        <p class="small">"A second pair of eyes draws services that somebody else has marked, and looks at them again."</p>
        <DrawForm/>
        <When when=move || open().is_empty()><p>"○ No sample was drawn yet."</p></When>
        <For each=open key=|one| one.entry.clone() let:one><SampleCard sample=one/></For>
    }
}

/// Services that an assessor marked, of a competency's evidence where one is named, not sampled before.
fn candidates(session: Session, assessor: Option<&PersonId>, competency: Option<&CompetencyId>) -> Vec<ServiceId> {
    let records = session.records();
    let me = session.who().map(|who| who.id);
    let sampled: BTreeSet<ServiceId> =
        records.samples().into_iter().flat_map(|sample| sample.value.services.clone()).collect();
    let of_competency = competency.map(|id| {
        let trials = records.trials();
        let found = session.with_books(|books| {
            let services = records.services_in_force();
            let outcomes = records.outcomes_in_force();
            let Some(known) = books.present.competency(id) else { return BTreeSet::new() };
            let trainees: BTreeSet<&PersonId> = services.iter().map(|service| &service.trainee).collect();
            let lines = trainees.into_iter().flat_map(|trainee| {
                let input = EvidenceInput { trainee, books, services: &services, outcomes: &outcomes, trials: &trials };
                evidence_state(known, &input).lines
            });
            lines.flat_map(|line| line.services).collect::<BTreeSet<ServiceId>>()
        });
        found.unwrap_or_default()
    });
    let fits = |outcome: &&practicum::outcome::Outcome| {
        let own = records.service(&outcome.service).is_some_and(|known| known.value.trainee == outcome.marker);
        !own && Some(&outcome.marker) != me.as_ref()
            && assessor.is_none_or(|assessor| outcome.marker == *assessor)
            && of_competency.as_ref().is_none_or(|services| services.contains(&outcome.service))
            && !sampled.contains(&outcome.service)
    };
    let found: BTreeSet<ServiceId> =
        records.outcomes_in_force().into_iter().filter(fits).map(|outcome| outcome.service.clone()).collect();
    // Nobody looks again at what they marked themself.
    let mine: BTreeSet<ServiceId> = records
        .outcomes_in_force()
        .into_iter()
        .filter(|outcome| Some(&outcome.marker) == me.as_ref())
        .map(|outcome| outcome.service.clone())
        .collect();
    found.into_iter().filter(|service| !mine.contains(service)).collect()
}

#[component]
fn DrawForm() -> impl IntoView {
    let session = session();
    let (assessor, competency, many, saving) = (Field::empty(), Field::empty(), Field::of("5"), Saving::new());
    let assessors = Signal::derive(move || {
        let me = session.who().map(|who| who.id);
        let others = session.instructors().into_iter().filter(|person| Some(&person.id) != me.as_ref());
        let all = std::iter::once((String::new(), "anybody".to_owned()));
        all.chain(others.map(|person| (person.id.to_string(), person.name))).collect::<Vec<_>>()
    });
    let competencies = Signal::derive(move || {
        let known = session.book().map(|book| book.competencies.clone()).unwrap_or_default();
        let all = std::iter::once((String::new(), "any".to_owned()));
        all.chain(known.into_iter().map(|one| (one.id.to_string(), one.label))).collect::<Vec<_>>()
    });
    let draw = move |_| {
        saving.hush();
        let Some(many) = many.read(|typed| whole_number(typed, 1, 50)) else {
            return saving.say(Err("Look at the field marked ▲.".to_owned()));
        };
        let of = (!assessor.typed().is_empty()).then(|| PersonId::new(assessor.typed()));
        let about = (!competency.typed().is_empty()).then(|| CompetencyId::new(competency.typed()));
        let mut from = untrack(|| candidates(session, of.as_ref(), about.as_ref()));
        let mut services = Vec::new();
        while services.len() < usize::try_from(many).unwrap_or(0) && !from.is_empty() {
            let number = browser::random::bytes().iter().take(8).fold(0_u64, |all, byte| all << 8 | u64::from(*byte));
            let length = u64::try_from(from.len()).unwrap_or(1);
            services.push(from.swap_remove(usize::try_from(number % length).unwrap_or(0)));
        }
        let sample = Sample { assessor: of, competency: about, services, on: reading().at.date_naive() };
        let done = format!("{} services are drawn, at random.", sample.services.len());
        saving.write(session, vec![Fact::Coursework(Coursework::SampleDrawn(sample))], done, || {});
    };
    view! {
        <div class="stack">
            <SelectInput label="Marked by" id="sample-by" field=assessor options=assessors/>
            <SelectInput label="Evidence of" id="sample-of" field=competency options=competencies/>
            <TextInput label="How many services" id="sample-many" field=many keyboard="numeric"/>
            <SavingLine saving=saving/>
            <button type="button" disabled=move || saving.busy() on:click=draw>"Draw a sample"</button>
        </div>
    }
}

#[component]
fn SampleCard(
    /// The sample.
    sample: Recorded<Sample>,
) -> impl IntoView {
    let session = session();
    let value = sample.value.clone();
    let by = untrack(|| session.person_name(&sample.author));
    let of = value.assessor.as_ref().map_or_else(|| "anybody".to_owned(), |id| untrack(|| session.person_name(id)));
    let entry = sample.entry.clone();
    let line = move |id: ServiceId| {
        let words =
            session.service(&id).map(|service| session.service_line(&service)).unwrap_or_else(|| id.to_string());
        let records = session.records();
        let looked = records.looks_at_sample(&entry).into_iter().rfind(|look| look.value.service == id).cloned();
        let state = match looked {
            Some(look) => {
                let said = if look.value.words.is_empty() { String::new() } else { format!(": {}", look.value.words) };
                let who = session.person_name(&look.author);
                view! { <span>{format!(" ✓ {}{said} ({who}, {})", look.value.finding.word(), look.value.on)}</span> }
                    .into_any()
            }
            None => view! { <LookForm sample=entry.clone() service=id.clone()/> }.into_any(),
        };
        view! { <li><a href=format!("#/service/{id}")>{words}</a>{state}</li> }
    };
    let services = StoredValue::new(value.services);
    view! {
        <div class="card">
            <p>{format!("Drawn on {} by {by}, of what {of} marked", value.on)}</p>
            <ul class="plain-list">{move || services.get_value().into_iter().map(&line).collect_view()}</ul>
        </div>
    }
}

/// What the second pair of eyes found.
#[component]
fn LookForm(
    /// The entry that drew the sample.
    sample: EntryId,
    /// The service.
    service: ServiceId,
) -> impl IntoView {
    let session = session();
    let (finding, words, saving) = (Field::empty(), Field::empty(), Saving::new());
    let options = SampleFinding::ALL.map(|one| (one.word().to_owned(), one.word().to_owned())).to_vec();
    let id = service.clone();
    let save = move |_| {
        let found = finding.read(|typed| {
            let found = SampleFinding::ALL.into_iter().find(|one| one.word() == typed);
            found.ok_or_else(|| "Choose what you found.".to_owned())
        });
        let Some(finding) = found else { return };
        let (sample, service, words) = (sample.clone(), service.clone(), words.typed());
        let look = SampleLook { sample, service, finding, words, on: reading().at.date_naive() };
        let done = "What you found is recorded.".to_owned();
        saving.write(session, vec![Fact::Coursework(Coursework::SampleLookedAt(look))], done, || {});
    };
    view! {
        <details class="form-part"><summary>"Record what you found"</summary>
            <ChoiceInput legend="Found" id=format!("look-{id}") field=finding options=options/>
            <LongInput label="In words (needed unless the marking holds)" id=format!("look-words-{id}") field=words/>
            <SavingLine saving=saving/>
            <button type="button" disabled=move || saving.busy() on:click=save>"Record it"</button>
        </details>
    }
}
