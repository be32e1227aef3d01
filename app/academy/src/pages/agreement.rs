//! Marking by a second assessor: what waits for it, how far assessors agree, and what is to be talked over; samples of
//! the marking for a second pair of eyes.

mod sampling;

use leptos::prelude::*;
use logbook::fact::{Coursework, Fact};
use practicum::evidence::agreement::{Agreement, Difference, Estimate, agreement, differences, marked_twice};
use practicum::ids::ServiceId;

use super::form::{Field, LongInput, OnceUnlocked, Saving, SavingLine};
use crate::components::{DataTable, Page, When, text_rows};
use crate::session::{Session, session};

/// Agreement between assessors.
#[component]
pub(crate) fn AgreementPage() -> impl IntoView {
    view! {
        <Page title="Marking by two">
            <OnceUnlocked private=true fallback=|| view! { <super::mark::UnlockFirst/> }>
                <Due/>
                <Found/>
                <TalkOver/>
                <sampling::Samples/>
            </OnceUnlocked>
        </Page>
    }
}

/// Services that wait for a second assessor.
#[component]
fn Due() -> impl IntoView {
    let session = session();
    let rules = move || session.book().and_then(|book| book.rules.double);
    let line = move |id: ServiceId| {
        let words = session.service(&id).map(|service| session.service_line(&service)).unwrap_or_default();
        view! { <li><a href=format!("#/mark/{id}")>{words}</a></li> }
    };
    view! {
        <h2>"For a second assessor"</h2>
        {move || match rules() {
            None => view! { <p>"The course book names no share of services to mark twice."</p> }.into_any(),
            Some(rules) => view! {
                <p>{format!(
                    "{:.0} of 100 services are marked by a second assessor, who does not see the first marks. Which ones, nobody \
                     chooses: it follows from their identifiers.", rules.share * 100.0)}</p>
            }.into_any(),
        }}
        <When when=move || session.double_marks_due().is_empty()><p>"○ None waits for you."</p></When>
        <ul class="plain-list">{move || session.double_marks_due().into_iter().map(line).collect_view()}</ul>
    }
}

fn say(estimate: Option<Estimate>) -> String {
    match estimate {
        None => "no value".to_owned(),
        Some(Estimate { value, interval: None }) => format!("{value:.2}"),
        Some(Estimate { value, interval: Some((low, high)) }) => format!("{value:.2} ({low:.2} to {high:.2})"),
    }
}

/// Works out the agreement from everything here.
fn worked_out(session: Session) -> Option<Agreement> {
    let records = session.records();
    let needed = session.book()?.rules.double?.needed;
    session.with_books(|books| {
        let services = records.services_in_force();
        let outcomes = records.outcomes_in_force();
        let twice = marked_twice(&services, &outcomes);
        agreement(&twice, &services, &outcomes, &books, needed)
    })
}

/// How far assessors agree, once enough services are marked twice.
#[component]
fn Found() -> impl IntoView {
    let session = session();
    let shown = move || {
        match worked_out(session) {
        None => view! { <p>"○ The course book sets no figures for it."</p> }.into_any(),
        Some(Agreement::TooFew { have, need }) => view! {
            <p>{format!("○ {have} services are marked twice. Agreement is worked out from {need} on: {} more are needed.", need.saturating_sub(have))}</p>
        }
        .into_any(),
        Some(Agreement::Found { pairs, agreed, intraclass, lenient }) => {
            let rows = agreed
                .iter()
                .map(|one| {
                    vec![
                        one.label.clone(),
                        one.pairs.to_string(),
                        format!("{:.0} of 100", one.same * 100.0),
                        say(one.kappa),
                        if one.weighted.is_some() { say(one.weighted) } else { "–".to_owned() },
                    ]
                })
                .collect();
            let head = ["What", "Marked twice", "Same mark", "Kappa (95 %)", "Kappa, weighted (95 %)"];
            let head = head.map(str::to_owned).to_vec();
            let lenience: Vec<Vec<String>> = lenient
                .iter()
                .map(|one| {
                    vec![session.person_name(&one.assessor), one.services.to_string(), format!("{:+.2}", one.above)]
                })
                .collect();
            let lenient_head = ["Assessor", "Services marked", "Mean mark above the others’"].map(str::to_owned).to_vec();
            view! {
                <p>{format!("By {pairs} services marked twice. Kappa is 1 for full agreement and 0 for what chance gives.")}</p>
                <DataTable caption="Agreement" head=head rows=text_rows(rows)/>
                <p>{format!("Mean marks of the same service: intraclass correlation, one assessor, {} (95 %).", say(intraclass))}</p>
                <DataTable caption="How leniently each marks, trainees allowed for (0 to 3)" head=lenient_head rows=text_rows(lenience)/>
                <details><summary>"How this was worked out"</summary><p>
                    "Of several assessors the first two count, each with their first view. Kappa: Cohen 1960, with quadratic weights Cohen 1968, its standard error Fleiss, Cohen and Everitt 1969. Intraclass correlation: one-way, one assessor, Shrout and Fleiss 1979. Leniency: a mixed fit of mean marks with trainees and assessors."
                </p></details>
            }
            .into_any()
        }
    }
    };
    view! { <h2>"How far assessors agree"</h2>{shown} }
}

/// Services that two assessors marked far apart.
#[component]
fn TalkOver() -> impl IntoView {
    let session = session();
    let all = move || {
        let records = session.records();
        let found = session.with_books(|books| {
            let services = records.services_in_force();
            let outcomes = records.outcomes_in_force();
            differences(&marked_twice(&services, &outcomes), &books)
        });
        let mut found = found.unwrap_or_default();
        found.retain(|difference| records.talked_over(&difference.service).is_empty());
        found
    };
    view! {
        <h2>"To talk over"</h2>
        <p class="small">"Far apart: two levels or more in a criterion, or one acceptable and the other not. Both marks stay; nothing is averaged."</p>
        <When when=move || all().is_empty()><p>"○ Nothing is."</p></When>
        <For each=all key=|one| one.service.clone() let:one><TalkCard difference=one/></For>
    }
}

/// One difference, and the note that it was talked over.
#[component]
fn TalkCard(
    /// The difference.
    difference: Difference,
) -> impl IntoView {
    let session = session();
    let (words, saving) = (Field::empty(), Saving::new());
    let id = difference.service.clone();
    let line = untrack(|| session.service(&id)).map(|service| untrack(|| session.service_line(&service)));
    let names = [&difference.first, &difference.second].map(|id| untrack(|| session.person_name(id)));
    let save = move |_| {
        let said = words.typed();
        if said.trim().is_empty() {
            return saving.say(Err("Say what you agreed on.".to_owned()));
        }
        let fact = Coursework::MarksTalkedOver { service: id.clone(), words: said };
        saving.write(session, vec![Fact::Coursework(fact)], "It is noted. Both marks stay.".to_owned(), || {});
    };
    view! {
        <div class="card stack">
            <p><a href=format!("#/service/{}", difference.service)>{line}</a>{format!(": {} and {}", names[0], names[1])}</p>
            <ul>{difference.words.iter().map(|words| view! { <li>{words.clone()}</li> }).collect_view()}</ul>
            <LongInput label="What you agreed on" id=format!("talk-{}", difference.service) field=words/>
            <SavingLine saving=saving/>
            <button type="button" disabled=move || saving.busy() on:click=save>"Note that it was talked over"</button>
        </div>
    }
}
