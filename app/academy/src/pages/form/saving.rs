//! A form being saved: one at a time, with a sentence of how it went.

use leptos::prelude::*;
use logbook::fact::Fact;

use crate::session::Session;

/// How the last saving went, and whether one is under way.
#[derive(Clone, Copy)]
pub(crate) struct Saving {
    busy: RwSignal<bool>,
    said: RwSignal<Option<Result<String, String>>>,
    session: Option<Session>,
}

impl Saving {
    /// Nothing was saved yet.
    pub(crate) fn new() -> Self {
        Self { busy: RwSignal::new(false), said: RwSignal::new(None), session: use_context() }
    }

    /// Whether something is being saved.
    pub(crate) fn busy(&self) -> bool {
        self.busy.get()
    }

    /// Takes back what was said before: something is tried anew.
    pub(crate) fn hush(&self) {
        self.said.set(None);
    }

    /// Says what is wrong, or how it went.
    pub(crate) fn say(&self, outcome: Result<String, String>) {
        self.said.set(Some(outcome));
    }

    /// Writes facts, then says that it is done and runs `after`; a refusal is said and nothing else happens.
    pub(crate) fn write(self, session: Session, facts: Vec<Fact>, done: String, after: impl FnOnce() + 'static) {
        self.run(async move { session.write(facts).await.map(|()| done) }, after);
    }

    /// Runs an act, then says how it went; `after` runs only when it went well.
    pub(crate) fn run(
        self,
        act: impl Future<Output = Result<String, String>> + 'static,
        after: impl FnOnce() + 'static,
    ) {
        if self.busy.get_untracked() {
            return;
        }
        self.busy.set(true);
        self.said.set(None);
        leptos::task::spawn_local(async move {
            let outcome = act.await;
            let well = outcome.is_ok();
            // The page may have been left meanwhile: a signal that is gone takes nothing, and what went wrong is
            // said at the top then.
            self.busy.try_set(false);
            if let (Some(Some(Err(sentence))), Some(session)) = (self.said.try_set(Some(outcome)), self.session) {
                session.alert.set(Some(format!("Not done. {sentence}")));
            }
            if well {
                after();
            }
        });
    }
}

/// The sentence of how the last saving went.
#[component]
pub(crate) fn SavingLine(
    /// The saving.
    saving: Saving,
) -> impl IntoView {
    let line = move || {
        saving.said.get().map(|outcome| match outcome {
            Ok(sentence) => view! { <p class="notice notice-good">"✓ "{sentence}</p> }.into_any(),
            Err(sentence) => view! { <p class="notice notice-danger">"■ Not done. "{sentence}</p> }.into_any(),
        })
    };
    view! { <div role="status">{line}</div> }
}
