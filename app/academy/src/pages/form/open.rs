//! A form that only an assessor, the owner or whom a record is about may use, kept while the lock closes over it.

use leptos::children::ViewFn;
use leptos::prelude::*;
use practicum::ids::PersonId;

use crate::components::When;
use crate::session::session;

/// Shows a form once an assessor, or with `owner` the owner, has unlocked; until then the fallback.
///
/// The lock closes again after five minutes, and reading takes longer than that: the form then stays with what
/// was typed, and says so. While somebody else is named it is there and hidden.
#[component]
pub(crate) fn OnceUnlocked(
    /// Whether it is the owner's alone.
    #[prop(optional)]
    owner: bool,
    /// Whose own record it is: they need no lock.
    #[prop(optional)]
    own: Option<PersonId>,
    /// Whether it shows what the lock hides: it is out of sight then while the lock is closed.
    #[prop(optional)]
    private: bool,
    /// What stands there before.
    #[prop(into)]
    fallback: ViewFn,
    /// The form.
    children: ChildrenFn,
) -> impl IntoView {
    let session = session();
    let allowed = Memo::new(move |_| {
        let theirs = own.is_some() && session.who().map(|who| who.id) == own;
        theirs || if owner { session.is_owner() } else { session.may_assess() }
    });
    // Whoever unlocked: another assessor begins anew, so that nobody saves what somebody else marked.
    let opened = Memo::new(move |before: Option<&Option<PersonId>>| match session.who() {
        Some(who) if allowed.get() => Some(who.id),
        _ => before.cloned().flatten(),
    });
    let theirs = Memo::new(move |_| opened.get().is_some_and(|id| session.who().is_some_and(|who| who.id == id)));
    view! {
        <When when=move || !allowed.get() && !theirs.get() fallback=move || view! {
            <When when=move || !allowed.get()>
                <p class="notice notice-caution">
                    "▲ The lock has closed after five minutes. What you typed is kept: unlock at the top, then save."
                </p>
            </When>
        }>{fallback.run()}</When>
        {move || opened.get().map(|_| view! { <div class="stack" hidden=move || !theirs.get() || private && !allowed.get()>{children()}</div> })}
    }
}
