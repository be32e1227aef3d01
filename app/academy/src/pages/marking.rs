//! One list of what waits for an instructor: each line leads to where it is done, and goes when it is done.

mod answer;
mod duplicates;
mod overrides;

use leptos::prelude::*;
use practicum::ids::PersonId;

use super::form::{Field, SelectInput};
use crate::browser;
use crate::components::{Page, When};
use crate::session::{KINDS, Place, WaitingLine, session};

pub(crate) use overrides::{claim_in_words, state_in_words};

/// The list of what waits.
#[component]
pub(crate) fn MarkingPage() -> impl IntoView {
    let session = session();
    view! {
        <Page title="Marking">
            <When when=move || !session.may_assess()><super::mark::UnlockFirst/></When>
            <p class="small">
                <a href="#/agreement">"Marking by two, agreement and samples"</a>" · "
                <a href="#/sign-several">"Sign several competencies"</a>
            </p>
            <Waiting/>
            <overrides::OverridesToConfirm/>
            <duplicates::LookAlikes/>
            <answer::AnswerPart/>
        </Page>
    }
}

/// Everything that waits, kind by kind, narrowed down to a trainee or a kind if chosen.
#[component]
fn Waiting() -> impl IntoView {
    let session = session();
    let lines = RwSignal::new(Vec::new());
    let (turn, under_way) = (StoredValue::new(0_u32), RwSignal::new(true));
    Effect::new(move |_| {
        // What it depends on; what was known is shown until the new list is there.
        let _ = (session.records(), session.who(), session.last_backup());
        let mine = turn.with_value(|turn| turn.wrapping_add(1));
        turn.set_value(mine);
        under_way.set(true);
        leptos::task::spawn_local(async move {
            let found = session.waiting().await;
            if turn.try_get_value() == Some(mine) {
                lines.set(found);
                under_way.set(false);
            }
        });
    });
    let (trainee, kind) = (Field::empty(), Field::empty());
    let trainees = move || {
        let people = session.trainees().into_iter();
        people.map(|person| (person.id.to_string(), person.name)).collect::<Vec<_>>()
    };
    let kinds = KINDS.map(|kind| (kind.to_owned(), kind.to_owned())).to_vec();
    let wanted = move |line: &WaitingLine| {
        let (whose, what) = (trainee.text.get(), kind.text.get());
        let theirs = whose.is_empty() || line.trainee.as_ref() == Some(&PersonId::new(whose));
        theirs && (what.is_empty() || line.kind == what)
    };
    let shown = Memo::new(move |_| lines.get().into_iter().filter(wanted).collect::<Vec<_>>());
    let parts = move || {
        let all = shown.get();
        let of = |kind: &'static str| {
            let own: Vec<_> = all.iter().filter(|one| one.kind == kind).cloned().collect();
            (!own.is_empty()).then(|| {
                view! {
                    <section class="waiting-part">
                        <h3>{format!("{kind}: {}", own.len())}</h3>
                        <SomeLines lines=own/>
                    </section>
                }
            })
        };
        KINDS.map(of).collect_view()
    };
    let summary = move || match (shown.with(Vec::len), lines.with(Vec::len)) {
        (_, 0) if under_way.get() => "Looking …".to_owned(),
        (_, 0) => "○ Nothing waits.".to_owned(),
        (0, all) => format!("○ Nothing of this waits; {all} other lines do."),
        (1, _) => "● 1 line waits.".to_owned(),
        (some, _) => format!("● {some} lines wait, in each kind the longest first."),
    };
    view! {
        <h2>"What waits"</h2>
        <div class="filters">
            <SelectInput label="Of whom" id="waiting-trainee" field=trainee options=Signal::derive(trainees) none="everybody"/>
            <SelectInput label="What" id="waiting-kind" field=kind options=kinds none="everything"/>
        </div>
        <p role="status">{summary}</p>
        {parts}
    }
}

/// How many lines of a kind are drawn at first, and how many more each time.
const SHOWN_AT_FIRST: usize = 25;

/// Lines of one kind, the first of them; the others on asking.
#[component]
fn SomeLines(
    /// The lines.
    lines: Vec<WaitingLine>,
) -> impl IntoView {
    let shown = RwSignal::new(SHOWN_AT_FIRST);
    let total = lines.len();
    let lines = StoredValue::new(lines);
    let line = |one: WaitingLine| {
        let link = match one.to {
            Place::Page(to) => view! { <a href=to>{one.words}</a> }.into_any(),
            Place::Below(part) => {
                let go = move |_| {
                    browser::page::focus(part);
                };
                view! { <button type="button" class="quiet" on:click=go>{one.words}</button> }.into_any()
            }
        };
        view! { <li>{link}</li> }
    };
    let drawn = move || {
        let first = lines.with_value(|lines| lines.iter().take(shown.get()).cloned().collect::<Vec<_>>());
        first.into_iter().map(line).collect_view()
    };
    let more = move |_| shown.update(|shown| *shown = shown.saturating_add(SHOWN_AT_FIRST));
    view! {
        <ul class="plain-list">{drawn}</ul>
        <When when=move || shown.get() < total>
            <p><button type="button" on:click=more>
                {move || format!("Show more ({} not shown)", total.saturating_sub(shown.get()))}
            </button></p>
        </When>
    }
}
