//! Overrides that were claimed at the couch: the instructor in whose name that was confirms or refuses them.

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::couch::Override;
use practicum::ids::ServiceId;

use crate::components::When;
use crate::pages::form::{Field, Saving, SavingLine, TextInput, one_line};
use crate::session::{OverrideState, Session, session};

/// Says in words what became of an override.
pub(crate) fn state_in_words(session: Session, state: &OverrideState) -> String {
    let signed = match session.records().is_keyed() {
        true => "signed",
        false => "not signed: the academy has no key",
    };
    match state {
        OverrideState::Confirmed => format!("✓ confirmed, {signed}"),
        OverrideState::Claimed => "▲ claimed, not confirmed".to_owned(),
        OverrideState::Refused(refusal) => format!(
            "■ refused by {} on {}: {}; {signed}",
            session.person_name(&refusal.by),
            refusal.at.date_naive(),
            refusal.why
        ),
    }
}

/// Says what was let pass, by whom and why.
pub(crate) fn claim_in_words(session: Session, made: &Override) -> String {
    let code = made.reason_code.split(':').next().unwrap_or_default().replace('-', " ");
    format!("{code}, by {}: {}", session.person_name(&made.by), made.why)
}

/// The overrides that wait, the oldest service first.
#[component]
pub(super) fn OverridesToConfirm() -> impl IntoView {
    let session = session();
    let waiting = Memo::new(move |_| session.overrides_to_confirm());
    let keyed = move || {
        let key = |(service, made): &(ServiceId, Override)| format!("{service} {} {}", made.reason_code, made.by);
        waiting.get().into_iter().map(|one| (key(&one), one)).collect::<Vec<_>>()
    };
    // Kept outside the rows: a row goes as soon as it is decided, the sentence stays.
    let saving = Saving::new();
    view! {
        <section id=crate::session::OVERRIDES_PART tabindex="-1" hidden=move || waiting.with(Vec::is_empty)>
            <h2>"Overrides to confirm"</h2>
            <ul class="plain-list">
                <For each=keyed key=|(key, _)| key.clone() let((_, (service, made)))>
                    <Claim service=service made=made saving=saving/>
                </For>
            </ul>
            <SavingLine saving=saving/>
        </section>
    }
}

/// One claimed override; opened, it shows where it is decided.
#[component]
fn Claim(
    /// In which service.
    service: ServiceId,
    /// The override.
    made: Override,
    /// The saving of the whole list.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let known = || session.service(&service).map(|known| session.service_line(&known));
    let line = untrack(known).unwrap_or_else(|| service.to_string());
    let words = untrack(|| claim_in_words(session, &made));
    let open = format!("#/service/{}", crate::route::encode(service.as_str()));
    let named = made.by.clone();
    let mine = Memo::new(move |_| session.may_assess() && session.who().is_some_and(|who| who.id == named));
    let name = untrack(|| session.person_name(&made.by));
    let parts = StoredValue::new((service, made));
    view! {
        <li class="form-part">
            <details>
                <summary>{line}": "{words}</summary>
                <p>"▲ Claimed, not confirmed. Until it is confirmed the service does not count as observed. "
                    <a href=open>"The service"</a></p>
                <When when=move || mine.get()
                    fallback=move || view! {
                        <p class="notice notice-info">{format!("● Only {name} decides this, unlocked at the top.")}</p>
                    }>
                    {move || {
                        let (service, made) = parts.get_value();
                        view! { <Decide service=service made=made saving=saving/> }
                    }}
                </When>
            </details>
        </li>
    }
}

/// Confirming, or refusing with a reason.
#[component]
fn Decide(
    /// In which service.
    service: ServiceId,
    /// The override.
    made: Override,
    /// The saving of the whole list.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let why = Field::empty();
    let input = format!("refuse-{service}-{}", made.by);
    let (confirmed, refused) = ((service.clone(), made.clone()), (service, made));
    let confirm = move |_| {
        let (service, made) = confirmed.clone();
        let fact = Fact::OverrideNoted { service, made: Override { confirmed: true, ..made } };
        saving.write(session, vec![fact], "The override is confirmed.".to_owned(), || {});
    };
    let refuse = move |_| {
        let read = why.read(|typed| match one_line(typed)? {
            reason if reason.is_empty() => Err("Say why it is refused.".to_owned()),
            reason => Ok(reason),
        });
        let (Some(why), (service, made)) = (read, refused.clone()) else { return };
        let fact = Fact::OverrideRefused { service, reason_code: made.reason_code, by: made.by, why };
        let done = "The refusal is recorded. The service does not count as observed.".to_owned();
        saving.write(session, vec![fact], done, || {});
    };
    view! {
        <p><button type="button" class="button-primary" disabled=move || saving.busy() on:click=confirm>
            "Confirm: I let this pass"
        </button></p>
        <TextInput label="Why it is refused" id=input field=why/>
        <button type="button" disabled=move || saving.busy() on:click=refuse>"Refuse: I did not let this pass"</button>
    }
}
