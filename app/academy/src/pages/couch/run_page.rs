//! The screen of a run under way.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::couch::fold::{Phase, to_take_back};
use practicum::moment::{Seconds, format_seconds};

use super::alarms::Alarms;
use super::context::Couch;
use super::finish::FinishScreen;
use super::flow::{can_finish, lanes};
use super::lane::LaneView;
use super::prepare::Preparation;
use super::reaction::ReactionScreen;
use crate::browser;
use crate::components::When;

/// Which of its screens the run shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Screen {
    Lanes,
    Paused,
    Reaction,
    Finish,
}

/// Shows the run under way.
#[component]
pub(crate) fn RunScreen(
    /// The run.
    couch: Couch,
) -> impl IntoView {
    provide_context(couch);
    let ticking = browser::timer::every(500, move || {
        let _ = couch.now.try_set(crate::session::reading());
    });
    // Dropped with the page: no tick outlives the run's screen.
    let ticking = StoredValue::new_local(ticking);
    on_cleanup(move || {
        let _ = ticking.try_update_value(Option::take);
    });
    let screen = Memo::new(move |_| {
        couch.with_run(|run| match run.phase() {
            Phase::Paused(_) => Screen::Paused,
            Phase::Reaction(_) => Screen::Reaction,
            Phase::Finished | Phase::Stopped(_) => Screen::Finish,
            _ => Screen::Lanes,
        })
    });
    Effect::new(move |before: Option<Screen>| {
        // A tap far down the page must not leave the first line of the next screen out of sight.
        let screen = screen.get();
        if before.is_some_and(|before| before != screen) {
            browser::page::scroll_to_top();
        }
        screen
    });
    view! {
        <div class="couch">
            <Alarms/>
            <Problem/>
            {move || match screen.get() {
                Screen::Lanes => view! { <Clocks/><Lanes/><Tools/><ReactionButton/> }.into_any(),
                Screen::Paused => view! { <Clocks/><Paused/><ReactionButton/> }.into_any(),
                Screen::Reaction => view! { <ReactionScreen/> }.into_any(),
                Screen::Finish => view! { <FinishScreen/> }.into_any(),
            }}
        </div>
    }
}

/// Says what went wrong with the last tap.
#[component]
fn Problem() -> impl IntoView {
    let couch = expect_context::<Couch>();
    view! {
        <div role="alert" class="couch-problem">
            {move || couch.problem.get().map(|sentence| view! { <p class="notice notice-danger">{sentence}</p> })}
        </div>
    }
}

/// The clocks of the whole service.
#[component]
fn Clocks() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let say = |seconds: Option<Seconds>| seconds.map_or_else(|| "–".to_owned(), format_seconds);
    let line = move || {
        let live = couch.live();
        let doubt = if live.doubtful { " · the clock was changed or the device slept" } else { "" };
        format!(
            "Service {} · hands-on {} · waiting {}{doubt}",
            say(live.service),
            say(live.hands_on),
            say(live.waiting)
        )
    };
    view! { <p class="couch-clocks">{line}</p> }
}

/// The lanes, and what is still missing before lotion.
#[component]
fn Lanes() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let shown = Memo::new(move |_| couch.with_run(lanes));
    let finishing = Memo::new(move |_| couch.with_run(can_finish));
    let preparing =
        Memo::new(move |_| couch.with_run(|run| !run.lotion_begun() && !run.missing_before_lotion().is_empty()));
    let open = RwSignal::new(None::<bool>);
    view! {
        <div class="lanes">
            {move || shown.get().into_iter().map(|lane| view! { <LaneView lane=lane/> }).collect_view()}
        </div>
        <When when=move || finishing.get()>
            <button type="button" class="couch-primary" on:click=move |_| couch.tap([Act::Finish])>
                "Finish the service"
            </button>
        </When>
        <When when=move || open.get().unwrap_or(preparing.get())>
            <Preparation/>
        </When>
        <button type="button" class="couch-secondary"
            aria-expanded=move || open.get().unwrap_or(preparing.get()).to_string()
            on:click=move |_| open.set(Some(!open.get().unwrap_or(preparing.get())))>
            {move || if open.get().unwrap_or(preparing.get()) { "Hide preparation" } else { "Show preparation" }}
        </button>
    }
}

/// Pause, take back, reaction.
#[component]
fn Tools() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let pausing = RwSignal::new(false);
    let slip = move || to_take_back(&couch.taps(), &couch.now.get()).is_some();
    let slip = Memo::new(move |_| slip());
    let reasons = couch.book().pause_reasons.clone();
    view! {
        <div class="couch-row couch-tools">
            <button type="button" class="couch-secondary" aria-expanded=move || pausing.get().to_string()
                on:click=move |_| pausing.update(|open| *open = !*open)>"Pause"</button>
            <button type="button" class="couch-secondary" disabled=move || !slip.get()
                on:click=move |_| couch.tap([Act::TakeBack])>"Back: undo last tap"</button>
        </div>
        <When when=move || pausing.get()>
            <div class="couch-row" role="group" aria-label="Why the pause?">
                {reasons.clone().into_iter().map(|reason| {
                    let act = Act::Pause(reason.clone());
                    view! {
                        <button type="button" class="couch-secondary" on:click=move |_| couch.tap([act.clone()])>{reason}</button>
                    }
                }).collect_view()}
            </div>
        </When>
        <super::stop::StopEarly/>
    }
}

/// One tap from anywhere: the first response.
#[component]
fn ReactionButton() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let react = move |_| couch.tap([Act::Reaction(browser::random::hex_id().as_str().into())]);
    view! {
        <div class="couch-reaction-bar">
            <button type="button" class="couch-reaction" on:click=react>"■ Reaction"</button>
        </div>
    }
}

/// The pause screen.
#[component]
fn Paused() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let time = move || format_seconds(couch.live().paused.unwrap_or(0));
    // A product on an eye can be taken off in a pause too.
    let on_eyes = Memo::new(move |_| {
        couch.with_run(|run| {
            let on = |lane: &super::flow::Lane| lane.eye.is_some_and(|eye| run.product_on(eye).is_some());
            lanes(run).into_iter().filter(on).collect::<Vec<_>>()
        })
    });
    let reason = couch.with_run(|run| match run.phase() {
        Phase::Paused(reason) => reason.clone(),
        _ => String::new(),
    });
    view! {
        <section class="lane">
            <h2 class="lane-stage">"Paused"</h2>
            <p class="lane-state">{reason}</p>
            <p class="lane-clock" role="timer">{time}</p>
            <p>"Dwell countdowns go on."</p>
            <button type="button" class="couch-primary" on:click=move |_| couch.tap([Act::Resume])>"Go on"</button>
        </section>
        <div class="lanes">
            {move || on_eyes.get().into_iter().map(|lane| view! { <LaneView lane=lane/> }).collect_view()}
        </div>
    }
}
