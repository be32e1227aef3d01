//! One lane of the couch screen: an eye's stage with its clock, countdown and large button.
//!
//! A lane stays the same while what it shows changes, so that the button under a finger, or under the focus of a
//! keyboard, is still there after a tap.

use leptos::prelude::*;
use practicum::eye::Eye;
use practicum::moment::format_seconds;

use super::check::{CheckBy, with_name};
use super::context::Couch;
use super::flow::{Lane, Offer};
use super::live::LiveDwell;
use crate::components::When;

/// Shows one lane.
#[component]
pub(crate) fn LaneView(
    /// The eye; `None` for the lane of a shared stage.
    eye: Option<Eye>,
    /// What the lane shows.
    lane: Memo<Lane>,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let name = match eye {
        Some(eye) => format!("{} eye", capital(eye.word())),
        None => "Both eyes".to_owned(),
    };
    let running = move || lane.with(|lane| lane.running);
    let clock = move || {
        let worked = lane.with(|lane| lane.worked);
        format_seconds(if running() { couch.live().stage.unwrap_or(worked) } else { worked })
    };
    let cautions = Memo::new(move |_| lane.with(|lane| lane.cautions.clone()));
    let others = Memo::new(move |_| lane.with(|lane| lane.others.clone()));
    let checking = Memo::new(move |_| lane.with(|lane| lane.checking));
    let by = RwSignal::new(None);
    let note = RwSignal::new(String::new());
    provide_context(CheckBy { by, note });
    let side = eye.map_or("both", Eye::word);
    view! {
        <section class=format!("lane lane-{side}") class:lane-running=running aria-label=name.clone()>
            <p class="lane-eye">{name.clone()}</p>
            <h2 class="lane-stage">{move || lane.with(|lane| lane.stage.clone())}</h2>
            <p class="lane-state">{move || lane.with(|lane| lane.state.clone())}</p>
            <p class="lane-clock" role="timer" aria-label="hands-on time of this stage">{clock}</p>
            {eye.map(|eye| view! { <Countdown eye=eye/> })}
            <When when=move || checking.get()><super::check::WhoLooked/></When>
            <PrimaryButton lane=lane side=side/>
            <div class="couch-row">
                {move || others.get().into_iter()
                    .map(|offer| view! { <OfferButton offer=offer side=side/> })
                    .collect_view()}
            </div>
            <ul class="lane-cautions">
                {move || cautions.get().into_iter().map(|caution| view! { <li>{caution}</li> }).collect_view()}
            </ul>
        </section>
    }
}

fn spoken(words: &str, side: &str) -> String {
    if side == "both" { words.to_owned() } else { format!("{words}, {side} eye") }
}

/// The large button; lotion only where nothing speaks against it.
#[component]
fn PrimaryButton(
    /// The lane.
    lane: Memo<Lane>,
    /// The eye's word.
    side: &'static str,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let check = expect_context::<CheckBy>();
    let offer = Memo::new(move |_| lane.with(|lane| lane.primary.clone()));
    let locked = Memo::new(move |_| {
        offer.with(|offer| offer.as_ref().is_some_and(|offer| super::gate_view::locked(couch, offer)))
    });
    let words = move || offer.with(|offer| offer.as_ref().map(|offer| offer.words.clone()).unwrap_or_default());
    let there = Memo::new(move |_| offer.with(Option::is_some) && !locked.get());
    let tap = move |_| {
        if let Some(Offer { acts, .. }) = offer.get_untracked() {
            with_name(couch, check, acts);
        }
    };
    view! {
        <When when=move || locked.get()>
            <p class="gate-word">"■ Lotion is locked"</p>
        </When>
        <When when=move || there.get()>
            <button type="button" class="couch-primary" id=format!("primary-{side}") data-side=side
                aria-label=move || spoken(&words(), side) on:click=tap>{words}</button>
        </When>
    }
}

/// A smaller button that records its acts.
#[component]
fn OfferButton(
    /// What it records.
    offer: Offer,
    /// The eye's word, for tests and readers.
    side: &'static str,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let check = expect_context::<CheckBy>();
    let acts = offer.acts.clone();
    view! {
        <button type="button" class="couch-secondary" data-side=side aria-label=spoken(&offer.words, side)
            on:click=move |_| with_name(couch, check, acts.clone())>
            {offer.words.clone()}
        </button>
    }
}

/// The dwell countdown of an eye, while a product is on.
#[component]
fn Countdown(
    /// The eye.
    eye: Eye,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let dwell = Memo::new(move |_| couch.live().dwell.get(eye).clone());
    let on = Memo::new(move |_| dwell.with(Option::is_some));
    let text =
        move |say: fn(&LiveDwell) -> String| move || dwell.with(|dwell| dwell.as_ref().map(say).unwrap_or_default());
    let state = move || dwell.with(|dwell| dwell.as_ref().map_or("", LiveDwell::state));
    view! {
        <When when=move || on.get()>
            <div class="countdown" data-state=state>
                <p class="countdown-word">{text(word)}</p>
                <p class="countdown-time" role="timer">{text(LiveDwell::countdown)}</p>
                <progress
                    max=move || dwell.get().map_or(1, |d| d.whole.max(1))
                    value=move || dwell.get().map_or(0, |d| d.from_first.min(d.whole))
                    aria-label="dwell so far"
                ></progress>
                <p class="countdown-window">{text(|d| format!("Window {}", d.window))}</p>
                <p class="countdown-two">{text(two_clocks)}</p>
            </div>
        </When>
    }
}

fn word(dwell: &LiveDwell) -> String {
    let state = if dwell.unknown {
        "■ how long it has been on is not known: take it off now"
    } else if dwell.due {
        "■ take it off now"
    } else if dwell.early {
        "▲ soon"
    } else {
        "● on"
    };
    format!("{} {state}", capital(dwell.product))
}

fn two_clocks(dwell: &LiveDwell) -> String {
    let last =
        dwell.from_last.map_or_else(|| "not all on yet".to_owned(), |s| format!("{} since all on", format_seconds(s)));
    let judged = match dwell.judgement {
        practicum::couch::times::DwellJudgement::Within => String::new(),
        other => format!(" · {}", other.word()),
    };
    format!("{} since first contact, {last}{judged}", format_seconds(dwell.from_first))
}

/// Returns the word with a capital letter.
pub(crate) fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
