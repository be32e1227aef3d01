//! A button for what cannot be undone: held for a second, or pressed twice.

use leptos::ev::KeyboardEvent;
use leptos::prelude::*;

use crate::browser;

/// Milliseconds to hold.
const HOLD: u32 = 1_000;
/// Milliseconds within which a second press confirms.
const ASK: u32 = 5_000;
/// Milliseconds after a press during which another one is taken for a slip of the finger.
const SLIP: u32 = 300;

/// What the button waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Wait {
    /// A press.
    Press,
    /// The end of a hold.
    Hold {
        /// A press came shortly before, so that letting go confirms.
        asked: bool,
    },
    /// Nothing, for a moment after a short press.
    Slip,
    /// A second press.
    Second,
}

/// What the button waits for, and how often that has changed.
#[derive(Clone, Copy)]
struct Holding {
    wait: RwSignal<(u32, Wait)>,
    on_hold: Callback<()>,
}

impl Holding {
    fn wait(self) -> Option<Wait> {
        self.wait.try_get_untracked().map(|(_, wait)| wait)
    }

    fn become_now(self, wait: Wait) -> u32 {
        let turn = self.wait.try_get_untracked().map_or(0, |(turn, _)| turn.wrapping_add(1));
        let _ = self.wait.try_set((turn, wait));
        turn
    }

    /// Does `then` after a while unless something else has happened, or the page is gone.
    fn later(self, turn: u32, milliseconds: u32, then: impl FnOnce(Self) + 'static) {
        leptos::task::spawn_local(async move {
            browser::timer::pause(milliseconds).await;
            if self.wait.try_get_untracked().is_some_and(|(now, _)| now == turn) {
                then(self);
            }
        });
    }

    fn press(self) {
        let asked = match self.wait() {
            Some(Wait::Press) => false,
            Some(Wait::Second) => true,
            _ => return,
        };
        let turn = self.become_now(Wait::Hold { asked });
        self.later(turn, HOLD, Self::confirm);
    }

    fn let_go(self) {
        match self.wait() {
            Some(Wait::Hold { asked: true }) => self.confirm(),
            Some(Wait::Hold { asked: false }) => {
                let turn = self.become_now(Wait::Slip);
                self.later(turn, SLIP, |holding| {
                    let turn = holding.become_now(Wait::Second);
                    holding.later(turn, ASK, Self::cancel);
                });
            }
            _ => {}
        }
    }

    fn leave(self) {
        if matches!(self.wait(), Some(Wait::Hold { .. })) {
            self.cancel();
        }
    }

    fn cancel(self) {
        self.become_now(Wait::Press);
    }

    fn confirm(self) {
        self.become_now(Wait::Press);
        let _ = self.on_hold.try_run(());
    }
}

/// Acts after it was held for a second by pointer, Enter or Space, or pressed twice within five seconds.
#[component]
pub fn HoldButton(
    /// What the button says.
    #[prop(into)]
    label: String,
    /// What it does.
    on_hold: Callback<()>,
) -> impl IntoView {
    let holding = Holding { wait: RwSignal::new((0, Wait::Press)), on_hold };
    // A press that is no pointer and no key, as readers of the screen send it, comes as a bare click.
    let pressed = StoredValue::new(false);
    let wait = move || holding.wait.get().1;
    let asked = move || matches!(wait(), Wait::Slip | Wait::Second | Wait::Hold { asked: true });
    let key = |event: &KeyboardEvent| matches!(event.key().as_str(), "Enter" | " ").then(|| event.prevent_default());
    let down = move |event: KeyboardEvent| {
        if key(&event).is_some() && !event.repeat() {
            holding.press();
        }
    };
    let up = move |event: KeyboardEvent| {
        if key(&event).is_some() {
            holding.let_go();
        }
    };
    let pointer_down = move |_| {
        pressed.set_value(true);
        holding.press();
    };
    let click = move |_| {
        if !pressed.get_value() {
            holding.press();
            holding.let_go();
        }
        pressed.set_value(false);
    };
    view! {
        <button type="button" class="hold" class:hold-pressed=move || matches!(wait(), Wait::Hold { .. }) class:hold-asked=asked
            on:pointerdown=pointer_down on:pointerup=move |_| holding.let_go()
            on:pointerleave=move |_| holding.leave() on:pointercancel=move |_| holding.leave()
            on:keydown=down on:keyup=up on:blur=move |_| holding.leave() on:click=click
            on:contextmenu=|event| event.prevent_default()>{label}</button>
        <span class="hold-word" role="status">
            {move || asked().then_some("Not done yet: hold for a second, or press once more within 5 seconds.")}
        </span>
    }
}
