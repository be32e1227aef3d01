//! Screening: every question of the course book, answered anew.

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::couch::Act;
use practicum::course_book::{ScreeningGroup, ScreeningQuestion};
use practicum::practice_model::{Screening, ScreeningAnswer};

use crate::components::When;
use crate::pages::couch::chips::Chips;
use crate::pages::couch::context::Couch;

/// One question's answer while it is being given.
#[derive(Clone)]
struct Asked {
    question: ScreeningQuestion,
    yes: RwSignal<Option<bool>>,
    advice: RwSignal<String>,
}

/// Asks all questions.
#[component]
pub(super) fn ScreeningStep() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let problem = RwSignal::new(None::<String>);
    let guardian = RwSignal::new(false);
    let asked: Vec<Asked> = couch
        .book()
        .screening
        .iter()
        .map(|question| Asked {
            question: question.clone(),
            yes: RwSignal::new(None),
            advice: RwSignal::new(String::new()),
        })
        .collect();
    let minor = couch
        .with_run(|run| run.prepared().practice_model.clone())
        .is_some_and(|person| couch.session().is_minor(&person));
    let all = asked.clone();
    let save = move |_| match answers(&all) {
        Err(sentence) => problem.set(Some(sentence)),
        Ok(answers) => {
            let Some(practice_model) = couch.with_run(|run| run.prepared().practice_model.clone()) else {
                problem.set(Some("Choose the practice model first.".to_owned()));
                return;
            };
            problem.set(None);
            let at = crate::session::reading().at;
            let screening = Screening { practice_model, at, answers, guardian_present: guardian.get() };
            couch.tap_and_write([Act::Screened(screening.clone())], vec![Fact::ScreeningAnswered(screening)]);
        }
    };
    view! {
        {asked.into_iter().map(|asked| view! { <Question asked=asked/> }).collect_view()}
        {minor.then(|| view! {
            <label class="chip">
                <input type="checkbox" on:change:target=move |event| guardian.set(event.target().checked())/>
                <span>"The guardian is in the room"</span>
            </label>
        })}
        <div role="alert">{move || problem.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}</div>
        <button type="button" class="couch-primary" on:click=save>"Save the screening"</button>
    }
}

fn answers(asked: &[Asked]) -> Result<Vec<ScreeningAnswer>, String> {
    let unanswered = asked.iter().filter(|asked| asked.yes.get_untracked().is_none()).count();
    if unanswered > 0 {
        return Err(format!("{unanswered} of {} questions are not answered yet. Nothing was lost.", asked.len()));
    }
    let answer = |asked: &Asked| {
        let advice = asked.advice.get_untracked();
        ScreeningAnswer {
            question: asked.question.id.clone(),
            yes: asked.yes.get_untracked() == Some(true),
            written_advice: (!advice.trim().is_empty()).then(|| advice.trim().to_owned()),
        }
    };
    Ok(asked.iter().map(answer).collect())
}

/// One question, with what a yes means.
#[component]
fn Question(
    /// The question and its answer.
    asked: Asked,
) -> impl IntoView {
    let Asked { question, yes, advice } = asked;
    let refer = question.group == ScreeningGroup::Refer;
    let group = match question.group {
        ScreeningGroup::DoNotTreat => "■ Do not treat today",
        ScreeningGroup::Refer => "▲ Refer: written medical advice first",
        ScreeningGroup::Adapt => "● Adapt",
    };
    let what = question.advice.clone();
    let id = question.id.to_string();
    view! {
        <div class="question">
            <Chips legend=question.question.clone() name=format!("q-{id}")
                options=vec![(false, "No".to_owned()), (true, "Yes".to_owned())] chosen=yes/>
            <When when=move || yes.get() == Some(true)>
                <p class="question-advice"><strong>{group}</strong>": "{what.clone()}</p>
                <When when=move || refer>
                    <label class="field">
                        <span>"Written advice: from whom, when, what it says"</span>
                        <input type="text" prop:value=move || advice.get()
                            on:input:target=move |event| advice.set(event.target().value())/>
                    </label>
                </When>
            </When>
        </div>
    }
}
