//! Sounds, spoken words and the standing line when an alarm might not sound.

use leptos::prelude::*;
use practicum::couch::Act;
use practicum::couch::fold::Phase;
use practicum::course_book::Work;
use practicum::eye::{Eye, PerEye};

use super::context::Couch;
use crate::browser;
use crate::components::When;

/// Milliseconds after which a refusal of the browser is one.
const SETTLE_MS: u32 = 1_500;

/// What the alarm of one eye should be doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Call {
    #[default]
    Silent,
    Early,
    Sounding,
}

/// Drives alarms and keeps the screen awake while the run is on the page; draws the standing line.
#[component]
pub(crate) fn Alarms() -> impl IntoView {
    let couch = expect_context::<Couch>();
    let hidden = RwSignal::new(browser::visibility::hidden());
    browser::wake_lock::request();
    let watching = browser::visibility::on_visibility_change(move |now_hidden| {
        let _ = hidden.try_set(now_hidden);
    });
    let watching = StoredValue::new_local(Some(watching));
    on_cleanup(move || {
        let _ = watching.try_update_value(Option::take);
        browser::wake_lock::release();
        browser::alarm::silence();
    });
    let calls = Memo::new(move |_| calls(&couch));
    Effect::new(move |before: Option<PerEye<Call>>| {
        let calls = calls.get();
        for eye in Eye::BOTH {
            let was = before.map(|before| *before.get(eye)).unwrap_or_default();
            sound(eye, was, *calls.get(eye), couch);
        }
        calls
    });
    let reasons = Memo::new(move |_| {
        let _ = couch.now.get();
        let no_alarm = couch.with_run(|run| {
            let dwells = run.stages().into_iter().any(|stage| matches!(stage.work, Work::Dwell(_)));
            !dwells || matches!(run.phase(), Phase::Reaction(_) | Phase::Stopped(_) | Phase::Finished)
        });
        if no_alarm {
            return Vec::new();
        }
        may_be_lost(&couch, hidden.get(), browser::wake_lock::held())
    });
    let product_on =
        Memo::new(move |_| couch.with_run(|run| Eye::BOTH.iter().any(|eye| run.product_on(*eye).is_some())));
    // The browser needs a moment to say whether it keeps the screen awake: nothing is recorded before.
    let settled = RwSignal::new(false);
    leptos::task::spawn_local(async move {
        browser::timer::pause(SETTLE_MS).await;
        let _ = settled.try_set(true);
    });
    Effect::new(move |_| {
        if product_on.get() && settled.get() {
            let known = couch.with_run(|run| run.alarms_lost().to_vec());
            let new = reasons.get().into_iter().filter(|reason| !known.contains(reason));
            let acts: Vec<Act> = new.map(Act::AlarmMayBeLost).collect();
            if !acts.is_empty() {
                couch.tap(acts);
            }
        }
    });
    view! {
        <When when=move || !reasons.get().is_empty()>
            <p class="standing-line" role="status">
                "▲ The alarm may not sound: use a second timer ("{move || reasons.get().join("; ")}")"
            </p>
        </When>
    }
}

fn side(eye: Eye) -> browser::alarm::Side {
    match eye {
        Eye::Left => browser::alarm::Side::Left,
        Eye::Right => browser::alarm::Side::Right,
    }
}

fn calls(couch: &Couch) -> PerEye<Call> {
    let quiet = couch.with_run(|run| matches!(run.phase(), Phase::Reaction(_) | Phase::Stopped(_) | Phase::Finished));
    let live = couch.live();
    live.dwell.map(|_, dwell| match dwell {
        Some(dwell) if !quiet && dwell.due && !dwell.heard => Call::Sounding,
        Some(dwell) if !quiet && dwell.early => Call::Early,
        _ => Call::Silent,
    })
}

fn sound(eye: Eye, was: Call, call: Call, couch: Couch) {
    let product = couch.live().dwell.get(eye).as_ref().map_or("product", |dwell| dwell.product);
    match (was, call) {
        (Call::Sounding, Call::Sounding) => {}
        (_, Call::Sounding) => {
            browser::alarm::start_alarm(side(eye), &format!("{} eye. Take the {product} off.", eye.word()));
            browser::alarm::vibrate(&[400, 150, 400]);
        }
        (Call::Silent, Call::Early) => {
            browser::alarm::beep(side(eye));
            browser::alarm::speak(&format!("{} eye soon.", eye.word()));
        }
        (Call::Sounding, _) => browser::alarm::stop_alarm(side(eye)),
        _ => {}
    }
}

/// Lists the reasons why an alarm might not sound now.
fn may_be_lost(couch: &Couch, hidden: bool, awake: bool) -> Vec<String> {
    let checked = couch.with_run(|run| run.sound_checked());
    let reasons = [
        (hidden, "the page is hidden"),
        (!awake, "the screen may switch off"),
        (!browser::alarm::sound_ready(), "sound is not unlocked"),
        (checked.is_none(), "sound was not checked"),
        (checked == Some(false), "sound was checked and not heard"),
    ];
    reasons.into_iter().filter(|(holds, _)| *holds).map(|(_, why)| why.to_owned()).collect()
}
