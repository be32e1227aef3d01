//! Opening a service or drill: two taps from the start page to a running clock.

use leptos::prelude::*;
use practicum::couch::{Opening, What};
use practicum::ids::{DrillKindId, ServiceId};
use practicum::product::ProductKind;
use practicum::section::Plan;

use super::chips::Chips;
use super::lane::capital;
use crate::browser;
use crate::session::{Session, session};

/// Preference keys of the last choices; nothing that matters is kept in them.
const LAST_WHAT: &str = "couch-what";
const LAST_ROOM: &str = "couch-room";

/// The choices on the opening form.
#[derive(Clone, Copy)]
struct Choices {
    what: RwSignal<Option<What>>,
    plan: RwSignal<Option<Plan>>,
    room: RwSignal<String>,
    problem: RwSignal<Option<String>>,
}

/// The opening form: everything has the last choice, so that one tap begins.
#[component]
pub(crate) fn StartForm() -> impl IntoView {
    let session = session();
    let choices = Choices {
        what: RwSignal::new(Some(last_what(session))),
        plan: RwSignal::new(Some(session.present_plan())),
        room: RwSignal::new(browser::page::get_pref(LAST_ROOM).unwrap_or_default()),
        problem: RwSignal::new(None),
    };
    let drills = session.book().map(|book| book.drills.clone()).unwrap_or_default();
    let mut whats = vec![(What::Service, "Service on a live practice model".to_owned())];
    whats.extend(drills.into_iter().map(|drill| (What::Drill(drill.id), format!("Drill: {}", drill.label))));
    let plans = Plan::ALL.map(|plan| (plan, capital(plan.word()))).to_vec();
    let who = move || session.who().map(|person| person.name).unwrap_or_default();
    let begin = move |_| begin(session, choices);
    view! {
        <section class="page couch-start">
            <h1>"At the couch"</h1>
            <p>"Working: "<strong>{who}</strong></p>
            <div role="alert">
                {move || choices.problem.get().map(|sentence| view! { <p class="notice notice-danger">{sentence}</p> })}
            </div>
            <button type="button" class="couch-primary" on:click=begin>"Begin: the clock starts"</button>
            <p class="small">
                "Practice model, consent, screening, test, lashes and shields are asked while the consultation clock runs."
            </p>
            <Chips legend="What" name="what" options=whats chosen=choices.what/>
            <Chips legend="Plan" name="plan" options=plans chosen=choices.plan/>
            <label class="field">
                <span>"Room"</span>
                <input type="text" prop:value=move || choices.room.get()
                    on:input:target=move |event| choices.room.set(event.target().value())/>
            </label>
            <LastProducts/>
            <p><a href="#/late-entry">"Write down yesterday’s service instead"</a></p>
        </section>
    }
}

/// Names the products that will be taken over; they can be changed in the run.
#[component]
fn LastProducts() -> impl IntoView {
    let session = session();
    let words = move || {
        let lots = session.last_products();
        let say = |(kind, lot): &(ProductKind, practicum::product::Lot)| {
            format!("{}: {}, lot {}", kind.word(), session.product_name(&lot.product), lot.number)
        };
        if lots.is_empty() {
            "Products: chosen in the run".to_owned()
        } else {
            lots.iter().map(say).collect::<Vec<_>>().join(" · ")
        }
    };
    view! { <p class="small">{words}</p> }
}

fn last_what(session: Session) -> What {
    let known = |id: &String| session.book().is_some_and(|book| book.drill(&DrillKindId::new(id.as_str())).is_some());
    match browser::page::get_pref::<String>(LAST_WHAT).filter(known) {
        Some(id) => What::Drill(DrillKindId::new(id)),
        None => What::Service,
    }
}

fn begin(session: Session, choices: Choices) {
    // A tap unlocks the sound: browsers are silent before the first one.
    leptos::task::spawn_local(async {
        let _ = browser::alarm::unlock().await;
    });
    let (Some(what), Some(plan)) = (choices.what.get(), choices.plan.get()) else {
        choices.problem.set(Some("Choose what, and the plan.".to_owned()));
        return;
    };
    let Some(trainee) = session.who().filter(|person| !person.role.may_assess()) else {
        choices
            .problem
            .set(Some("A service is worked by a trainee: switch to the trainee at the top first.".to_owned()));
        return;
    };
    let Some(book) = session.book() else {
        choices.problem.set(Some("No course book is in force: the owner adopts one first.".to_owned()));
        return;
    };
    let room = choices.room.get().trim().to_owned();
    browser::page::set_pref(LAST_ROOM, room.clone());
    browser::page::set_pref(
        LAST_WHAT,
        match &what {
            What::Service => String::new(),
            What::Drill(id) => id.to_string(),
        },
    );
    let products = if what == What::Service { session.last_products() } else { Vec::new() };
    let id = ServiceId::new(browser::random::hex_id());
    let opening = Opening { id, trainee: trainee.id, what, plan, room, products, course_book: book.id.clone() };
    leptos::task::spawn_local(async move {
        match session.open_run(opening).await {
            Ok(()) => browser::page::set_hash("#/couch/run"),
            Err(sentence) => choices.problem.set(Some(sentence)),
        }
    });
}
