//! The screen of a run under way.

use leptos::prelude::*;
use practicum::couch::fold::{Phase, to_take_back};
use practicum::couch::{Act, What};
use practicum::eye::Eye;
use practicum::moment::{Seconds, format_seconds};

use super::alarms::Alarms;
use super::context::Couch;
use super::doubts::Doubts;
use super::dwell_bar::DwellBar;
use super::finish::FinishScreen;
use super::flow::{Lane, can_finish, lanes};
use super::gate_view::GateView;
use super::lane::LaneView;
use super::prepare::{self, Preparation};
use super::reaction::ReactionScreen;
use super::watch::watch;
use crate::browser;
use crate::components::When;
use crate::pages::service::act_words;

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
    watch(couch);
    let title = if couch.opening().what == What::Service { "Service under way" } else { "Drill under way" };
    browser::page::set_title(&format!("{title} · Upsweep"));
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
            {move || (screen.get() != Screen::Reaction).then(|| view! { <h1 class="visually-hidden">{title}</h1> })}
            <Ended/>
            <Alarms/>
            <Problem/>
            {move || match screen.get() {
                Screen::Lanes => view! { <Clocks/><Doubts/><Lanes/><Tools/><ReactionButton/> }.into_any(),
                Screen::Paused => view! { <Clocks/><Doubts/><Paused/><ReactionButton/> }.into_any(),
                Screen::Reaction => view! { <ReactionScreen/> }.into_any(),
                Screen::Finish => view! { <FinishScreen/> }.into_any(),
            }}
        </div>
    }
}

/// Says that the run was ended and saved, for a tab that still shows it.
#[component]
fn Ended() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let id = couch.opening().id;
    let record = format!("#/service/{id}");
    let ended = Memo::new(move |_| !couch.session().runs().iter().any(|run| run == id.as_str()));
    view! {
        <div role="alert">
            <When when=move || ended.get()>
                <p class="notice notice-info">"● This run has ended and its record is saved. "<a href=record.clone()>"See the record"</a></p>
            </When>
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
        format!("Service {} · hands-on {} · waiting {}", say(live.service), say(live.hands_on), say(live.waiting))
    };
    view! { <p class="couch-clocks">{line}</p> }
}

fn primary_id(eye: Option<Eye>) -> &'static str {
    match eye {
        None => "primary-both",
        Some(Eye::Left) => "primary-left",
        Some(Eye::Right) => "primary-right",
    }
}

/// Lanes that stay while what they show changes.
#[component]
fn Rows(
    /// What they show.
    shown: Memo<Vec<Lane>>,
) -> impl IntoView {
    let eyes = Memo::new(move |_| shown.with(|shown| shown.iter().map(|lane| lane.eye).collect::<Vec<_>>()));
    Effect::new(move |before: Option<Vec<Option<Eye>>>| {
        let eyes = eyes.get();
        if before.is_some_and(|before| before != eyes) {
            browser::page::focus_if_lost(&["primary-both", "primary-left", "primary-right"]);
        }
        eyes
    });
    // The focus, and with it what is in sight, follows the work from eye to eye.
    let working = Memo::new(move |_| shown.with(|shown| shown.iter().find(|lane| lane.running).map(|lane| lane.eye)));
    Effect::new(move |before: Option<Option<Option<Eye>>>| {
        let working = working.get();
        if let (Some(before), Some(eye)) = (before, working)
            && before != working
        {
            browser::page::focus_from("primary-", primary_id(eye));
        }
        working
    });
    let of = move |eye: Option<Eye>| {
        let lane = Memo::new(move |_| {
            shown.with(|shown| shown.iter().find(|lane| lane.eye == eye).cloned()).unwrap_or_default()
        });
        view! { <LaneView eye=eye lane=lane/> }
    };
    view! {
        <div class="lanes"><For each=move || eyes.get() key=|eye| *eye children=of/></div>
    }
}

/// The lanes, and what is still missing before lotion.
#[component]
fn Lanes() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let shown = Memo::new(move |_| couch.with_run(lanes));
    let finishing = Memo::new(move |_| couch.with_run(can_finish));
    let drill = couch.opening().what != What::Service;
    let preparing = Memo::new(move |_| couch.with_run(|run| !run.lotion_begun() && prepare::unanswered(run, drill)));
    Effect::new(move |before: Option<bool>| {
        let preparing = preparing.get();
        if before == Some(true) && !preparing {
            browser::page::focus_if_lost(&["primary-both", "primary-left", "primary-right"]);
        }
        preparing
    });
    let open = RwSignal::new(None::<bool>);
    let finish = if drill { "Finish the drill" } else { "Finish the service" };
    view! {
        <Rows shown=shown/>
        <When when=move || finishing.get()>
            <button type="button" class="couch-primary" on:click=move |_| couch.tap([Act::Finish])>{finish}</button>
        </When>
        <GateView lanes=shown/>
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
    let book = couch.book();
    let slip = Memo::new(move |_| {
        let taps = couch.taps();
        let undone = to_take_back(&taps, &couch.now.get());
        let words: Vec<String> = undone.iter().rev().map(|tap| brief(&act_words(Some(&book), &tap.act))).collect();
        words
    });
    let back = move || match slip.with(|words| words.join("” and “")) {
        words if words.is_empty() => "Back: nothing to undo".to_owned(),
        words => format!("Back: undo “{words}”"),
    };
    let undo = move |_| couch.tap(std::iter::repeat_n(Act::TakeBack, slip.with_untracked(Vec::len)));
    let reasons = couch.book().pause_reasons.clone();
    view! {
        <div class="couch-row couch-tools">
            <button type="button" class="couch-secondary" aria-expanded=move || pausing.get().to_string()
                on:click=move |_| pausing.update(|open| *open = !*open)>"Pause"</button>
            <button type="button" class="couch-secondary" disabled=move || slip.with(Vec::is_empty)
                on:click=undo>{back}</button>
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

/// Shortens what an act is called, so that it fits on a button.
fn brief(words: &str) -> String {
    let words = words.trim_end_matches(", both eyes");
    match words.split_once(": ") {
        Some((act, _)) if words.chars().count() > 34 => act.to_owned(),
        _ => words.to_owned(),
    }
}

/// One tap from anywhere: the first response.
#[component]
fn ReactionButton() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let react = move |_| couch.tap([Act::Reaction(browser::random::hex_id().as_str().into())]);
    view! {
        <div class="couch-reaction-bar">
            <DwellBar/>
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
            let on = |lane: &Lane| lane.eye.is_some_and(|eye| run.product_on(eye).is_some());
            lanes(run).into_iter().filter(on).collect::<Vec<_>>()
        })
    });
    Effect::new(|_| browser::page::focus_if_lost(&["go-on"]));
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
            <button type="button" class="couch-primary" id="go-on" on:click=move |_| couch.tap([Act::Resume])>"Go on"</button>
        </section>
        <Rows shown=on_eyes/>
    }
}
