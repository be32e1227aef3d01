//! Stretches of time that the clocks disagree about: what is doubtful, and what a person says happened.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::couch::clock::{Doubt, Doubtful};
use practicum::moment::{Seconds, format_seconds};

use super::chips::Chips;
use super::context::Couch;
use crate::components::When;
use crate::pages::late_entry::written::duration;
use crate::session::Session;

/// Which time is the right one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Right {
    Counted,
    Other,
    Typed,
}

/// What happened.
const HAPPENED: [&str; 4] =
    ["the device slept or was off", "the app was closed", "somebody set the clock", "something else"];

/// What was said: the tap at the end of the stretch, seconds, what happened.
pub(crate) type Said = (u32, Seconds, String);

/// Asks about one stretch.
#[component]
pub(crate) fn StretchForm(
    /// The stretch.
    stretch: Doubtful,
    /// Whether who is using the device may say less than the clocks count: an instructor, unlocked.
    #[prop(into)]
    may_shorten: Signal<bool>,
    /// What is done with the answer.
    on_said: Callback<Said>,
) -> impl IntoView {
    let right = RwSignal::new(None::<Right>);
    let what = RwSignal::new(None::<&'static str>);
    let (typed, words) = (RwSignal::new(String::new()), RwSignal::new(String::new()));
    let problem = RwSignal::new(None::<String>);
    let number = stretch.at_tap;
    let mut options = Vec::new();
    if stretch.doubt != Doubt::BackWhileClosed {
        options.push((Right::Counted, format!("{}, as counted", format_seconds(stretch.counted))));
    }
    options.extend(stretch.other.map(|other| (Right::Other, format!("{}, the other clock", format_seconds(other)))));
    options.push((Right::Typed, "Another time".to_owned()));
    let asked = stretch.clone();
    let say = move |_| {
        let read = seconds(&asked, right.get_untracked(), &typed.get_untracked(), may_shorten.get_untracked())
            .and_then(|seconds| Ok((seconds, happened(what.get_untracked(), &words.get_untracked())?)));
        match read {
            Ok((seconds, what)) => {
                problem.set(None);
                on_said.run((number, seconds, what));
            }
            Err(sentence) => problem.set(Some(sentence)),
        }
    };
    view! {
        <div class="stretch">
            <p>{sentence(&stretch)}</p>
            <Chips legend="How long was it really?" name=format!("stretch-{number}") options=options chosen=right/>
            <When when=move || right.get() == Some(Right::Typed)>
                <label class="field">
                    <span>"Time that really passed, such as 4:30 or 1:05:00"</span>
                    <input type="text" inputmode="text" prop:value=move || typed.get()
                        on:input:target=move |event| typed.set(event.target().value())/>
                </label>
            </When>
            <Chips legend="What happened?" name=format!("happened-{number}")
                options=HAPPENED.map(|one| (one, one.to_owned())).to_vec() chosen=what/>
            <label class="field">
                <span>"In a few words (needed for “something else”)"</span>
                <input type="text" prop:value=move || words.get() on:input:target=move |event| words.set(event.target().value())/>
            </label>
            <div role="alert">{move || problem.get().map(|sentence| view! { <p class="field-error">{sentence}</p> })}</div>
            <button type="button" class="couch-secondary" on:click=say>"State this time"</button>
        </div>
    }
}

/// Says what is doubtful about a stretch.
pub(crate) fn sentence(stretch: &Doubtful) -> String {
    let counted = format_seconds(stretch.counted);
    let why = stretch.doubt.say();
    match (stretch.doubt, stretch.other) {
        (Doubt::BackWhileClosed, _) => {
            format!("▲ Time in doubt: {why}. Nothing is counted for it until somebody says how long it was.")
        }
        (_, Some(other)) => {
            format!(
                "▲ Time in doubt: {why}. {counted} is counted, the longer of two clocks; the other says {}.",
                format_seconds(other)
            )
        }
        (_, None) => format!("▲ Time in doubt: {why}. {counted} is counted."),
    }
}

/// Says what was stated about a stretch.
pub(crate) fn stated(session: Session, stretch: &Doubtful) -> Option<String> {
    let said = stretch.stated.as_ref()?;
    let (by, time, counted) =
        (session.person_name(&said.by), format_seconds(said.seconds), format_seconds(stretch.counted));
    let what = &said.what;
    Some(match stretch.doubt {
        Doubt::BackWhileClosed => format!("▲ Time stated by {by}: {time} ({what}). No clock took it."),
        _ => format!(
            "▲ Time stated by {by}: {time} ({what}). The clocks had counted {counted}: {}.",
            stretch.doubt.say()
        ),
    })
}

fn seconds(stretch: &Doubtful, right: Option<Right>, typed: &str, may_shorten: bool) -> Result<Seconds, String> {
    let seconds = match right.ok_or("Choose how long it really was.")? {
        Right::Counted => stretch.counted,
        Right::Other => stretch.other.ok_or("Choose how long it really was.")?,
        Right::Typed => duration(typed)?.ok_or("Type how long it really was, such as 4:30.")?,
    };
    if stretch.shortens(seconds) && !may_shorten {
        return Err("Less than the clocks count is for an instructor to say: switch at the top and unlock, now or later on the page of this service.".to_owned());
    }
    Ok(seconds)
}

fn happened(what: Option<&'static str>, words: &str) -> Result<String, String> {
    let words = words.trim();
    if words.chars().count() > 200 {
        return Err("Use at most 200 characters.".to_owned());
    }
    match (what, words) {
        (None, _) => Err("Choose what happened.".to_owned()),
        (Some("something else"), "") => Err("Say in a few words what happened.".to_owned()),
        (Some("something else"), words) => Ok(words.to_owned()),
        (Some(what), "") => Ok(what.to_owned()),
        (Some(what), words) => Ok(format!("{what}: {words}")),
    }
}

/// At the couch: every stretch in doubt, with its form; what was stated stays in sight.
#[component]
pub(super) fn Doubts() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let session = couch.session();
    let all = Memo::new(move |_| couch.with_run(|run| run.doubtful().to_vec()));
    let open =
        Memo::new(move |_| all.with(|all| all.iter().filter(|one| one.stated.is_none()).cloned().collect::<Vec<_>>()));
    let may_shorten = Signal::derive(move || session.may_assess());
    let said = move |(at_tap, seconds, what): Said| {
        let assessor = session.who_now().filter(|who| who.role.may_assess() && session.may_assess());
        let by = assessor.map_or_else(|| couch.opening().trainee, |who| who.id);
        couch.tap([Act::TimeConfirmed { at_tap, seconds, by, what }]);
    };
    let forms = move || {
        open.get()
            .into_iter()
            .map(|stretch| view! { <StretchForm stretch=stretch may_shorten=may_shorten on_said=Callback::new(said)/> })
            .collect_view()
    };
    view! {
        <When when=move || !open.get().is_empty()>
            <details class="doubts notice notice-caution">
                <summary>{move || format!("▲ {}. Say what happened", open.get().first().map_or("", |one| one.doubt.say()))}</summary>
                <p class="small">"Until somebody says so, this service stays out of time standards."</p>
                {forms}
            </details>
        </When>
        {move || all.get().iter().filter_map(|one| stated(session, one)).map(|line| view! { <p class="small">{line}</p> }).collect_view()}
    }
}

#[cfg(test)]
mod tests {
    use practicum::couch::clock::{Doubt, Doubtful};

    use super::{Right, happened, seconds};

    fn ahead() -> Doubtful {
        Doubtful { at_tap: 4, doubt: Doubt::Ahead, counted: 3_900, other: Some(300), ends: 4_000, stated: None }
    }

    #[test]
    fn the_longer_time_is_anybodys_to_confirm_and_a_shorter_one_an_instructors() {
        assert_eq!(seconds(&ahead(), Some(Right::Counted), "", false), Ok(3_900));
        assert_eq!(seconds(&ahead(), Some(Right::Typed), "1:10:00", false), Ok(4_200));
        assert!(seconds(&ahead(), Some(Right::Other), "", false).is_err());
        assert!(seconds(&ahead(), Some(Right::Typed), "5:00", false).is_err());
        assert_eq!(seconds(&ahead(), Some(Right::Other), "", true), Ok(300));
    }

    #[test]
    fn nothing_is_stated_without_a_time_and_a_word() {
        for (right, typed) in [(None, ""), (Some(Right::Typed), ""), (Some(Right::Typed), "soon")] {
            assert!(seconds(&ahead(), right, typed, true).is_err());
        }
        assert!(happened(None, "x").is_err() && happened(Some("something else"), " ").is_err());
        assert_eq!(happened(Some("the app was closed"), ""), Ok("the app was closed".to_owned()));
    }
}
