//! Two records that look like the same service: an instructor says whether they are. Never done by the app itself.

use leptos::prelude::*;
use logbook::fact::{Fact, Settlement};
use practicum::ids::ServiceId;

use crate::components::When;
use crate::pages::form::{Field, Saving, SavingLine, TextInput, one_line};
use crate::route::Route;
use crate::session::{Session, session};

/// Two records as they are asked about.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Pair {
    first: Side,
    second: Side,
    why: &'static str,
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct Side {
    id: ServiceId,
    words: String,
}

fn side(session: Session, id: &ServiceId, device: Option<String>) -> Side {
    let Some(service) = session.service(id) else { return Side { id: id.clone(), words: id.to_string() } };
    let records = session.records();
    let marks = records.assessors_outcomes(&service).len();
    let mode = crate::pages::service::mode_words(&service);
    let device = device.unwrap_or_else(|| "another device".to_owned());
    let words = format!(
        "{}, began {}, {mode}; from {device}; marked {marks} times by assessors",
        session.service_line(&service),
        service.began.format("%H:%M")
    );
    Side { id: id.clone(), words }
}

fn pairs(session: Session) -> Vec<Pair> {
    let found = session.look_alikes();
    let records = session.records();
    let label = |id: &practicum::ids::DeviceId| {
        let known = records.devices().into_iter().find(|device| device.value.id == *id);
        let short = || format!("device {}", id.as_str().chars().take(8).collect::<String>());
        known.map_or_else(short, |known| format!("“{}”", known.value.label))
    };
    let pair = |(first, second, why): (ServiceId, ServiceId, &'static str)| {
        let device = |id: &ServiceId| session.device_of(id).map(|device| label(&device));
        Pair { first: side(session, &first, device(&first)), second: side(session, &second, device(&second)), why }
    };
    found.into_iter().map(pair).collect()
}

/// The pairs that nobody has spoken about yet.
#[component]
pub(super) fn LookAlikes() -> impl IntoView {
    let session = session();
    let found = Memo::new(move |_| pairs(session));
    let saving = Saving::new();
    let keyed = move || {
        let key = |pair: Pair| (format!("{} {}", pair.first.id, pair.second.id), pair);
        found.get().into_iter().map(key).collect::<Vec<_>>()
    };
    view! {
        <When when=move || !found.with(Vec::is_empty)>
            <section id=crate::session::DUPLICATES_PART tabindex="-1">
                <h2>"These look like the same service"</h2>
                <p>"Written down twice it would count twice. Say what they are: nothing is joined by itself, and the record that does not count stays readable."</p>
                <ul class="plain-list">
                    <For each=keyed key=|(key, _)| key.clone() let((_, pair))>
                        <Ask pair=pair saving=saving/>
                    </For>
                </ul>
            </section>
        </When>
        <SavingLine saving=saving/>
    }
}

/// One pair, and what may be said about it.
#[component]
fn Ask(
    /// The two.
    pair: Pair,
    /// The saving of the whole list.
    saving: Saving,
) -> impl IntoView {
    let session = session();
    let why = Field::empty();
    let input = format!("duplicate-{}-{}", pair.first.id, pair.second.id);
    let link = |side: &Side| (Route::Service(side.id.clone()).to_hash(), side.words.clone());
    let ((first, first_words), (second, second_words)) = (link(&pair.first), link(&pair.second));
    let ids = StoredValue::new((pair.first.id, pair.second.id));
    let settle = move |keep_first: bool, same: bool, done: &'static str| {
        let Some(why) = why.read(one_line) else { return };
        let (first, second) = ids.get_value();
        let (keep, other) = if keep_first { (first, second) } else { (second, first) };
        let fact = Fact::DuplicateSettled(Settlement { keep, other, same, why });
        saving.write(session, vec![fact], done.to_owned(), || {});
    };
    const ONE: &str = "Noted. The other record stays readable and counts no more.";
    const TWO: &str = "Noted as two services. It is not asked again.";
    view! {
        <li class="card stack">
            <p>"▲ "{pair.why}"."</p>
            <ol><li><a href=first>{first_words}</a></li><li><a href=second>{second_words}</a></li></ol>
            <When when=move || session.may_assess()
                fallback=|| view! { <p class="small">"An instructor or the owner who did not work it says this, unlocked at the top."</p> }>
                <TextInput label="Why (optional)" id=input.clone() field=why/>
                <p class="toolbar">
                    <button type="button" disabled=move || saving.busy() on:click=move |_| settle(true, true, ONE)>
                        "The same: the first counts"
                    </button>
                    <button type="button" disabled=move || saving.busy() on:click=move |_| settle(false, true, ONE)>
                        "The same: the second counts"
                    </button>
                    <button type="button" disabled=move || saving.busy() on:click=move |_| settle(true, false, TWO)>
                        "Two services"
                    </button>
                </p>
            </When>
        </li>
    }
}
