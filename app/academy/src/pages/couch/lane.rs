//! One lane of the couch screen: an eye's stage with its clock, countdown and large button.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::eye::Eye;
use practicum::moment::format_seconds;

use super::context::Couch;
use super::flow::{Lane, Offer};
use super::gate_view::GateView;
use super::live::LiveDwell;
use crate::components::When;

/// Shows one lane.
#[component]
pub(crate) fn LaneView(
    /// What the lane shows.
    lane: Lane,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let eye = lane.eye;
    let name = match eye {
        Some(eye) => format!("{} eye", capital(eye.word())),
        None => "Both eyes".to_owned(),
    };
    let (running, worked) = (lane.running, lane.worked);
    let clock = move || format_seconds(if running { couch.live().stage.unwrap_or(worked) } else { worked });
    let cautions = lane.cautions.clone();
    let side = eye.map_or("both", Eye::word);
    view! {
        <section class=format!("lane lane-{side}") class:lane-running=running aria-label=name.clone()>
            <p class="lane-eye">{name.clone()}</p>
            <h2 class="lane-stage">{lane.stage.clone()}</h2>
            <p class="lane-state">{lane.state.clone()}</p>
            <p class="lane-clock" role="timer" aria-label="hands-on time of this stage">{clock}</p>
            {eye.map(|eye| view! { <Countdown eye=eye/> })}
            {lane.primary.clone().map(|offer| view! { <PrimaryButton offer=offer side=side/> })}
            <div class="couch-row">
                {lane.others.iter().cloned()
                    .map(|offer| view! { <OfferButton offer=offer kind="couch-secondary" side=side/> })
                    .collect_view()}
            </div>
            <ul class="lane-cautions">
                {cautions.into_iter().map(|caution| view! { <li>{caution}</li> }).collect_view()}
            </ul>
        </section>
    }
}

/// The large button; lotion only where the gate is open.
#[component]
fn PrimaryButton(
    /// What it records.
    offer: Offer,
    /// The eye's word.
    side: &'static str,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    if !offer.acts.iter().any(|act| matches!(act, Act::LotionStarts(..))) {
        return view! { <OfferButton offer=offer kind="couch-primary" side=side/> }.into_any();
    }
    let gate = Memo::new(move |_| couch.gate());
    let open = Memo::new(move |_| gate.with(|gate| gate.open));
    view! {
        <When when=move || open.get() fallback=move || view! { <GateView gate=gate/> }>
            <OfferButton offer=offer.clone() kind="couch-primary" side=side/>
        </When>
    }
    .into_any()
}

/// A button that records its acts.
#[component]
fn OfferButton(
    /// What it records.
    offer: Offer,
    /// Class of the button.
    kind: &'static str,
    /// The eye's word, for tests and readers.
    side: &'static str,
) -> impl IntoView {
    let couch = expect_context::<Couch>();
    let acts = offer.acts.clone();
    let label = if side == "both" { offer.words.clone() } else { format!("{}, {side} eye", offer.words) };
    view! {
        <button type="button" class=kind data-side=side aria-label=label on:click=move |_| couch.tap(acts.clone())>
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
    let on = Memo::new(move |_| dwell.get().is_some());
    let due = Memo::new(move |_| dwell.get().is_some_and(|d| d.due && !d.heard));
    let text = move |say: fn(&LiveDwell) -> String| move || dwell.get().as_ref().map(say).unwrap_or_default();
    let state = move || {
        dwell.get().map_or("", |d| {
            if d.due {
                "due"
            } else if d.early {
                "early"
            } else {
                "on"
            }
        })
    };
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
                <When when=move || due.get()>
                    <button type="button" class="couch-alarm" on:click=move |_| couch.tap([Act::AlarmHeard(eye)])>
                        {format!("Alarm heard: {} eye", eye.word())}
                    </button>
                </When>
            </div>
        </When>
    }
}

fn word(dwell: &LiveDwell) -> String {
    let state = if dwell.due {
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
