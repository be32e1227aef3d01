//! Who is using the device: always in sight, switched in two taps.

mod pin;

use leptos::prelude::*;
use practicum::ids::PersonId;
use practicum::order::InOrder;
use practicum::person::{Person, Role};

use crate::browser;
use crate::components::When;
use crate::session::{Session, session};

pub(crate) use pin::{NewPin, may_set_pin};

/// The user's name in the header; a tap opens the list of people, a second one switches.
#[component]
pub(crate) fn WhoMenu() -> impl IntoView {
    let session = session();
    let open = RwSignal::new(false);
    let chosen = RwSignal::new(None::<PersonId>);
    let problem = RwSignal::new(None::<String>);
    let founded = move || session.records().academy().is_some();
    let close = move || {
        open.set(false);
        chosen.set(None);
        problem.set(None);
    };
    let toggle = move |_| if open.get() { close() } else { open.set(true) };
    let key = move |event: leptos::ev::KeyboardEvent| {
        if event.key() == "Escape" && open.get() {
            close();
            browser::page::focus("who-button");
        }
    };
    let menu = Menu { open, chosen, problem };
    view! {
        <When when=founded>
            <div class="who" on:keydown=key>
                <button type="button" id="who-button" class="who-button" aria-controls="who-list"
                    aria-expanded=move || open.get().to_string() on:click=toggle>
                    <span class="visually-hidden">"Using this device: "</span>
                    {move || match session.who() {
                        None => view! { "Who is using this device?" }.into_any(),
                        Some(person) => {
                            let words = in_words(session, &person);
                            view! { <span><bdi>{person.name}</bdi>{words}</span> }.into_any()
                        }
                    }}
                </button>
                <When when=move || session.unlocked()>
                    <button type="button" class="quiet who-lock" on:click=move |_| session.lock_now()>"Lock now"</button>
                </When>
                <div id="who-list" class="who-list" hidden=move || !open.get()>
                    <When when=move || open.get()><People menu=menu/></When>
                </div>
            </div>
        </When>
    }
}

/// What is open in the menu.
#[derive(Clone, Copy)]
struct Menu {
    open: RwSignal<bool>,
    /// An instructor or the owner whose PIN is asked.
    chosen: RwSignal<Option<PersonId>>,
    problem: RwSignal<Option<String>>,
}

impl Menu {
    fn done(&self) {
        self.open.try_set(false);
        self.chosen.try_set(None);
        self.problem.try_set(None);
    }
}

/// Says what stands behind the name: role, and for an instructor or the owner the lock.
fn in_words(session: Session, person: &Person) -> String {
    let lock = match person.role.may_assess() {
        false => "",
        true if session.unlocked() => " · unlocked",
        true => " · locked",
    };
    format!(" · {}{lock}", person.role.word())
}

/// Everybody who has not left: trainees by name, then instructors and the owner.
fn present(session: Session) -> Vec<Person> {
    let mut people: Vec<Person> =
        session.records().people().into_iter().filter(|person| person.left.is_none()).cloned().collect();
    people.order_by_key(|person| (person.role.may_assess(), person.role == Role::Owner, person.name.to_lowercase()));
    people
}

/// The list of people; a tap on a trainee switches, a tap on an instructor or the owner asks the PIN.
#[component]
fn People(
    /// The menu.
    menu: Menu,
) -> impl IntoView {
    let session = session();
    let tap = move |person: &Person| {
        let id = person.id.clone();
        menu.problem.set(None);
        if person.role.may_assess() {
            menu.chosen.set(Some(id));
            return;
        }
        leptos::task::spawn_local(async move {
            match session.switch_to(&id, "").await {
                Ok(()) => menu.done(),
                Err(sentence) => drop(menu.problem.try_set(Some(sentence))),
            }
        });
    };
    let row = move |person: Person| {
        let (mine, asked) = (person.id.clone(), person.id.clone());
        let current = move || session.who().is_some_and(|who| who.id == mine).then_some("true");
        let (name, role) = (person.name.clone(), format!(" · {}", person.role.word()));
        let ask = move || {
            (menu.chosen.get().as_ref() == Some(&asked))
                .then(|| view! { <pin::AskPin id=asked.clone() done=Callback::new(move |()| menu.done())/> })
        };
        view! {
            <li>
                <button type="button" class="who-person" aria-current=current on:click=move |_| tap(&person)>
                    <span><bdi>{name}</bdi>{role}</span>
                </button>
                {ask}
            </li>
        }
    };
    view! {
        <div role="alert">
            {move || menu.problem.get().map(|sentence| view! { <p class="field-error">"▲ "{sentence}</p> })}
        </div>
        <ul class="plain-list">{move || present(session).into_iter().map(row).collect_view()}</ul>
        <p class="small"><a href="#/people" on:click=move |_| menu.done()>"Enrol somebody else"</a></p>
    }
}
