//! Everything that is asked before lotion, each answered anew at every service.

mod analysis;
mod assessed;
mod consent;
mod figures;
mod person;
mod screening;
mod sections;
mod shield;
mod skin_tests;
mod tint;

use leptos::prelude::*;
use practicum::couch::What;
use practicum::couch::fold::{Prepared, Run};
use practicum::eye::PerEye;

use super::context::Couch;
use crate::browser;

/// A thing to be answered before lotion.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Step {
    Person,
    Consent,
    Screening,
    Tint,
    Products,
    Tests,
    Analysis,
    Shield,
    Sections,
    Figures,
    Assessed,
    Sound,
}

impl Step {
    const SERVICE: [Step; 12] = [
        Step::Sound,
        Step::Person,
        Step::Consent,
        Step::Screening,
        Step::Tint,
        Step::Products,
        Step::Tests,
        Step::Analysis,
        Step::Shield,
        Step::Sections,
        Step::Figures,
        Step::Assessed,
    ];
    const DRILL: [Step; 2] = [Step::Shield, Step::Sections];

    fn all(drill: bool) -> &'static [Step] {
        if drill { &Step::DRILL } else { &Step::SERVICE }
    }

    fn id(self) -> &'static str {
        match self {
            Step::Person => "step-person",
            Step::Consent => "step-consent",
            Step::Screening => "step-screening",
            Step::Tint => "step-tint",
            Step::Products => "step-products",
            Step::Tests => "step-tests",
            Step::Analysis => "step-analysis",
            Step::Shield => "step-shield",
            Step::Sections => "step-sections",
            Step::Figures => "step-figures",
            Step::Assessed => "step-assessed",
            Step::Sound => "step-sound",
        }
    }

    fn label(self) -> &'static str {
        match self {
            Step::Person => "Practice model",
            Step::Consent => "Consent",
            Step::Screening => "Screening",
            Step::Tint => "Tint or not",
            Step::Products => "Products and lots",
            Step::Tests => "Sensitivity tests",
            Step::Analysis => "Lash analysis",
            Step::Shield => "Shields",
            Step::Sections => "Sections",
            Step::Figures => "Dwell figures",
            Step::Assessed => "Assessor",
            Step::Sound => "Sound check",
        }
    }

    fn done(self, prepared: &Prepared, sound: Option<bool>) -> bool {
        let both = |there: PerEye<bool>| there.left && there.right;
        match self {
            Step::Person => prepared.practice_model.is_some(),
            Step::Consent => prepared.consent_checked,
            Step::Screening => prepared.screening.is_some(),
            Step::Tint => prepared.tint.is_some(),
            Step::Products => {
                tint::products_wanted(prepared.tint).iter().all(|kind| prepared.products.contains_key(kind))
            }
            Step::Tests => prepared.tests_checked,
            Step::Analysis => both(prepared.analysis.map(|_, there| there.is_some())),
            Step::Shield => both(prepared.shields.map(|_, there| there.is_some())),
            Step::Sections => both(prepared.sections.map(|_, there| there.is_some())),
            Step::Figures => figures::wanted(prepared.tint)
                .iter()
                .all(|kind| prepared.dwell_plans.keys().filter(|(planned, _)| planned == kind).count() == 2),
            Step::Assessed => prepared.will_be_assessed.is_some(),
            Step::Sound => sound.is_some(),
        }
    }

    fn form(self) -> AnyView {
        match self {
            Step::Person => view! { <person::PersonStep/> }.into_any(),
            Step::Consent => view! { <consent::ConsentStep/> }.into_any(),
            Step::Screening => view! { <screening::ScreeningStep/> }.into_any(),
            Step::Tint => view! { <tint::TintStep/> }.into_any(),
            Step::Products => view! { <tint::ProductsStep/> }.into_any(),
            Step::Tests => view! { <skin_tests::TestsStep/> }.into_any(),
            Step::Analysis => view! { <analysis::AnalysisStep/> }.into_any(),
            Step::Shield => view! { <shield::ShieldStep/> }.into_any(),
            Step::Sections => view! { <sections::SectionsStep/> }.into_any(),
            Step::Figures => view! { <figures::FiguresStep/> }.into_any(),
            Step::Assessed => view! { <assessed::AssessedStep/> }.into_any(),
            Step::Sound => view! { <assessed::SoundStep/> }.into_any(),
        }
    }
}

/// Whether a run still has a step of its preparation to answer.
pub(super) fn unanswered(run: &Run<'_>, drill: bool) -> bool {
    Step::all(drill).iter().any(|step| !step.done(run.prepared(), run.sound_checked()))
}

/// The list of preparation steps; the first unanswered one stands open.
#[component]
pub(crate) fn Preparation() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let drill = couch.opening().what != What::Service;
    let steps = Step::all(drill).to_vec();
    let done = move |step: Step| couch.with_run(|run| step.done(run.prepared(), run.sound_checked()));
    let all = steps.clone();
    let first = Memo::new(move |_| all.iter().copied().find(|step| !done(*step)));
    let chosen = RwSignal::new(None::<Step>);
    Effect::new(move |before: Option<Option<Step>>| {
        // Answering the open step opens the next unanswered one.
        let first = first.get();
        if before.is_some_and(|before| before != first) {
            chosen.set(None);
            let ids = first.map(Step::id).into_iter().chain(["primary-both", "primary-left", "primary-right"]);
            browser::page::focus_if_lost(&ids.collect::<Vec<_>>());
        }
        first
    });
    let open = Memo::new(move |_| chosen.get().or(first.get()));
    let row = move |step: Step| {
        let word = move || if done(step) { "✓ answered" } else { "○ to answer" };
        view! {
            <li class="step">
                <button type="button" class="step-head" id=step.id()
                    aria-expanded=move || (open.get() == Some(step)).to_string()
                    on:click=move |_| chosen.set(Some(step))>
                    <span class="step-name">{step.label()}</span>
                    <span class="step-state">{word}</span>
                </button>
                {move || (open.get() == Some(step)).then(|| view! { <div class="step-form">{step.form()}</div> })}
            </li>
        }
    };
    view! {
        <section class="preparation" aria-label="Preparation">
            <h2>{if drill { "Before the drill" } else { "Before lotion" }}</h2>
            <ol class="steps">{steps.into_iter().map(row).collect_view()}</ol>
        </section>
    }
}
