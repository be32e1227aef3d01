//! Lash analysis of each eye.

use leptos::prelude::*;
use practicum::couch::{Act, Analysis, Direction, LastLift};
use practicum::course_book::LashCondition;
use practicum::eye::Eye;
use practicum::moment::Day;

use crate::components::When;
use crate::pages::couch::chips::Chips;
use crate::pages::couch::context::Couch;
use crate::pages::couch::lane::capital;

/// Asks for both eyes.
#[component]
pub(super) fn AnalysisStep() -> impl IntoView {
    view! {
        {Eye::BOTH.into_iter().map(|eye| view! { <EyeForm eye=eye/> }).collect_view()}
    }
}

/// How the last lift is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Lifted {
    Never,
    OnDay,
    Unknown,
}

/// Asks for one eye.
#[component]
fn EyeForm(
    /// The eye.
    eye: Eye,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let length = RwSignal::new(String::new());
    let condition = RwSignal::new(None::<LashCondition>);
    let direction = RwSignal::new(None::<Direction>);
    let lifted = RwSignal::new(None::<Lifted>);
    let day = RwSignal::new(String::new());
    let problem = RwSignal::new(None::<String>);
    let save = move |_| match read(&length.get(), condition.get(), direction.get(), lifted.get(), &day.get()) {
        Ok(analysis) => {
            problem.set(None);
            couch.tap([Act::Analysed(eye, analysis)]);
        }
        Err(sentence) => problem.set(Some(sentence)),
    };
    let done = move || couch.with_run(|run| run.prepared().analysis.get(eye).is_some());
    let conditions = LashCondition::ALL.map(|c| (c, capital(c.word()))).to_vec();
    let directions = [
        (Direction::Up, "Up"),
        (Direction::Straight, "Straight"),
        (Direction::Down, "Down"),
        (Direction::Mixed, "Mixed"),
    ];
    let lifts = [(Lifted::Never, "Never"), (Lifted::OnDay, "On a day"), (Lifted::Unknown, "Day not known")];
    let word = eye.word();
    view! {
        <section class="eye-form">
            <h3>{capital(word)}" eye"{move || if done() { " ✓" } else { "" }}</h3>
            <label class="field">
                <span>{format!("Lash length in mm, {word} eye")}</span>
                <input type="number" inputmode="numeric" min="1" max="25" prop:value=move || length.get()
                    on:input:target=move |event| length.set(event.target().value())/>
            </label>
            <Chips legend=format!("Condition, {word} eye") name=format!("condition-{word}") options=conditions chosen=condition/>
            <Chips legend=format!("Direction, {word} eye") name=format!("direction-{word}")
                options=directions.map(|(d, w)| (d, w.to_owned())).to_vec() chosen=direction/>
            <Chips legend=format!("Last lift, {word} eye") name=format!("lifted-{word}")
                options=lifts.map(|(l, w)| (l, w.to_owned())).to_vec() chosen=lifted/>
            <When when=move || lifted.get() == Some(Lifted::OnDay)>
                <label class="field">
                    <span>{format!("Day of the last lift, {word} eye")}</span>
                    <input type="date" prop:value=move || day.get() on:input:target=move |event| day.set(event.target().value())/>
                </label>
            </When>
            <div role="alert">{move || problem.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}</div>
            <button type="button" class="couch-primary" on:click=save>{format!("Save the {word} eye")}</button>
        </section>
    }
}

fn read(
    length: &str,
    condition: Option<LashCondition>,
    direction: Option<Direction>,
    lifted: Option<Lifted>,
    day: &str,
) -> Result<Analysis, String> {
    let length_mm = length
        .trim()
        .parse()
        .ok()
        .filter(|mm| (1..=25_u8).contains(mm))
        .ok_or_else(|| format!("Length: type whole millimetres from 1 to 25, not “{length}”."))?;
    let condition = condition.ok_or("Choose the condition.")?;
    let direction = direction.ok_or("Choose the direction.")?;
    let last_lift = match lifted.ok_or("Say when these lashes were last lifted.")? {
        Lifted::Never => LastLift::Never,
        Lifted::Unknown => LastLift::Unknown,
        Lifted::OnDay => {
            let today = crate::session::reading().at.date_naive();
            let day = Day::parse_from_str(day, "%Y-%m-%d").map_err(|_| "Choose the day of the last lift.")?;
            if today < day {
                return Err("The last lift cannot be in the future.".to_owned());
            }
            LastLift::On(day)
        }
    };
    Ok(Analysis { length_mm, condition, direction, last_lift })
}
