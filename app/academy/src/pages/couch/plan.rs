//! Before a service: how it may lie in time for two eyes, folded away below the way to the running clock.

use leptos::prelude::*;
use practicum::section::Plan;

use crate::components::{Folded, When};
use crate::pages::two_eyes::TwoEyesPlan;
use crate::session::session;

/// The service laid out at the pace of the trainee who is using the device, at the plan that is chosen.
#[component]
pub(super) fn PlanAhead(
    /// The plan.
    plan: RwSignal<Option<Plan>>,
) -> impl IntoView {
    let session = session();
    let trainee = Memo::new(move |_| session.who().filter(|who| !who.role.may_assess()).map(|who| who.id));
    view! {
        <When when=move || trainee.with(Option::is_some)>
            <Folded class="two-eyes" head="Plan ahead: two eyes, one pair of hands".into_any()>
                {move || trainee.get().map(|id| view! { <TwoEyesPlan id=id plan=plan.into()/> })}
            </Folded>
        </When>
    }
}
