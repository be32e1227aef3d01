//! The reviews of a whole group, put together in steps.

use leptos::prelude::*;
use leptos::task::spawn_local;
use practicum::evidence::Books;
use practicum::group::ByTrainee;
use practicum::order::InOrder;
use practicum::person::{Person, Role};
use practicum::section::Plan;
use practicum::standing::may_show_targets;

use super::{PAGE, PLACE, forecast_lines, hand_out, written};
use crate::browser;
use crate::components::{Page, When};
use crate::pages::form::{Saving, SavingLine};
use crate::review::document::{Paper, STYLE};
use crate::review::html::Html;
use crate::review::{page_rules, standalone};
use crate::session::{Session, reading, session};

/// Longest that a step holds the page, in milliseconds; one trainee's review is the smallest step.
const STEP_MS: u64 = 10;

/// How far the work is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    /// Nothing is asked for.
    Idle,
    /// So many of so many.
    Under(usize, usize),
    /// Stopped by hand after so many.
    Stopped(usize, usize),
    /// All of them.
    Done(usize),
}

/// The list, and all of them in one go.
#[component]
pub(crate) fn ReviewsPage() -> impl IntoView {
    let session = session();
    view! {
        <Page title="Course-end reviews">
            <When when=move || session.may_assess() fallback=|| view! {
                <p class="notice notice-info">"● For an instructor or the owner, unlocked at the top."</p>
            }>
                <All/>
            </When>
        </Page>
    }
}

fn trainees(session: Session, group: &str, left: bool) -> Vec<Person> {
    let records = session.records();
    let wanted = |person: &&&Person| {
        person.role == Role::Trainee && (group.is_empty() || person.group == group) && (left || person.left.is_none())
    };
    let mut people: Vec<Person> = records.people().iter().filter(wanted).map(|person| (*person).clone()).collect();
    people.order_by_key(|person| person.name.to_lowercase());
    people
}

#[component]
fn All() -> impl IntoView {
    let session = session();
    let (group, paper, left) = (RwSignal::new(String::new()), RwSignal::new(Paper::A4), RwSignal::new(false));
    let forecasts = RwSignal::new(true);
    let (state, saving) = (RwSignal::new(State::Idle), Saving::new());
    let turn = StoredValue::new(0_u32);
    let (articles, rules) = (StoredValue::new(Vec::<Html>::new()), StoredValue::new(String::new()));
    let shown = Memo::new(move |_| trainees(session, &group.get(), left.get()));
    let begin = move |_| {
        let mine = turn.with_value(|turn| turn.wrapping_add(1));
        turn.set_value(mine);
        browser::page::empty(PLACE);
        articles.set_value(Vec::new());
        rules.set_value(String::new());
        let (people, paper, forecasts) = (shown.get_untracked(), paper.get_untracked(), forecasts.get_untracked());
        style(rules);
        state.set(State::Under(0, people.len()));
        spawn_local(async move {
            let still = move || turn.try_get_value() == Some(mine);
            put_together(session, people, (paper, forecasts), state, articles, rules, still).await;
        });
    };
    let stop = move |_| {
        turn.update_value(|turn| *turn = turn.wrapping_add(1));
        style(rules);
        state.update(|state| {
            if let State::Under(done, of) = *state {
                *state = State::Stopped(done, of);
            }
        });
    };
    let save = move |_| {
        let text = articles.with_value(|articles| {
            rules.with_value(|rules| standalone("Training records of a group", rules, articles))
        });
        saving.say(hand_out(session, "reviews", "html", "text/html", &text));
    };
    on_cleanup(move || {
        turn.update_value(|turn| *turn = turn.wrapping_add(1));
        browser::page::own_style(None);
    });
    let groups = Memo::new(move |_| {
        let mut groups: Vec<String> = session.trainees().into_iter().map(|person| person.group).collect();
        groups.retain(|group| !group.is_empty());
        groups.sort();
        groups.dedup();
        groups
    });
    let option = |group: String| view! { <option value=group.clone()>{group.clone()}</option> };
    let line = |person: Person| {
        let left = person.left.map(|day| format!(" (left on {day})"));
        view! { <li><a href=format!("#/review/{}", person.id)>{person.name.clone()}</a>{left}</li> }
    };
    let say = move || match state.get() {
        State::Idle => None,
        State::Under(done, of) => Some(format!("Putting together {done} of {of} …")),
        State::Stopped(done, of) => Some(format!("Stopped after {done} of {of}. Those stand below.")),
        State::Done(of) => Some(format!("✓ {of} reviews stand below: print them, or save them as one page.")),
    };
    let under = move || matches!(state.get(), State::Under(..));
    view! {
        <div class="stack not-on-paper">
            <form class="filters" on:submit=|event| event.prevent_default()>
                <label class="field"><span>"Group"</span>
                    <select on:change:target=move |event| group.set(event.target().value())>
                        <option value="">"All"</option>{move || groups.get().into_iter().map(option).collect_view()}
                    </select>
                </label>
                <label class="field"><span>"Paper"</span>
                    <select on:change:target=move |event| paper.set(if event.target().value() == "letter" { Paper::Letter } else { Paper::A4 })>
                        <option value="a4">"A4"</option><option value="letter">"US Letter"</option>
                    </select>
                </label>
                <label class="chip"><input type="checkbox" on:change:target=move |event| left.set(event.target().checked())/>
                    <span>"Those who have left too"</span></label>
                <label class="chip"><input type="checkbox" prop:checked=move || forecasts.get()
                    on:change:target=move |event| forecasts.set(event.target().checked())/>
                    <span>"With forecasts, which take longest"</span></label>
            </form>
            <p class="toolbar">
                <When when=under fallback=move || view! {
                    <button type="button" class="button-primary" on:click=begin>{move || format!("Put all {} together", shown.with(Vec::len))}</button>
                }>
                    <button type="button" on:click=stop>"Stop"</button>
                </When>
                <When when=move || matches!(state.get(), State::Done(_) | State::Stopped(..))>
                    <button type="button" on:click=move |_| browser::page::print()>"Print them all"</button>
                    <button type="button" on:click=save>"Save as one page (HTML)"</button>
                </When>
            </p>
            <p role="status">{say}</p>
            <SavingLine saving=saving/>
            <p class="small">"The signed code is made on each trainee’s own review: it stands for that trainee’s record file."</p>
            <details prop:open=move || matches!(state.get(), State::Idle)>
                <summary>{move || format!("{} trainees", shown.with(Vec::len))}</summary>
                <ul class="plain-list">{move || shown.get().into_iter().map(line).collect_view()}</ul>
            </details>
        </div>
        <div id=PLACE class="review-place paper-sheet"></div>
    }
}

/// Gives the page the style of the document and the rules of its pages on paper.
fn style(rules: StoredValue<String>) {
    rules.with_value(|rules| browser::page::own_style(Some(&format!("{STYLE}{rules}"))));
}

/// Puts reviews together one after another; what `still` says ends it in between.
async fn put_together(
    session: Session,
    people: Vec<Person>,
    (paper, forecasts): (Paper, bool),
    state: RwSignal<State>,
    articles: StoredValue<Vec<Html>>,
    rules: StoredValue<String>,
    still: impl Fn() -> bool,
) {
    browser::timer::pause(0).await;
    let (records, books) = (session.records_now(), session.books_now());
    let Some(present) = books.last() else { return };
    let adopted: Vec<_> = books.iter().map(std::sync::Arc::as_ref).collect();
    let books = Books { present, adopted: &adopted };
    let services = records.services_in_force();
    browser::timer::pause(0).await;
    let outcomes = records.outcomes_in_force();
    browser::timer::pause(0).await;
    let sorted = ByTrainee::of(&services, &outcomes);
    let (now, of) = (reading().at, people.len());
    let mut began = browser::clock::now().mono_ms;
    for (number, person) in people.iter().enumerate() {
        if browser::clock::now().mono_ms.saturating_sub(began) > STEP_MS {
            state.try_set(State::Under(number, of));
            browser::timer::pause(0).await;
            began = browser::clock::now().mono_ms;
        }
        if !still() {
            return;
        }
        let Some(reviewed) = session.reviewed(&records, &sorted, books, &person.id, &now) else { continue };
        browser::timer::pause(0).await;
        // Where no target may be shown there is no forecast either, and nothing to wait for.
        let shown = Plan::ALL.into_iter().any(|plan| may_show_targets(&reviewed.standing, plan));
        let answer = if forecasts && shown { session.learned_whole(&person.id).await } else { None };
        let forecast = answer.map(|answer| forecast_lines(&reviewed, &answer)).unwrap_or_default();
        if !still() {
            return;
        }
        let html = written(session, &reviewed, books, (&forecast, &[]), None, number);
        browser::page::append_markup(PLACE, &html.clone().into_text());
        articles.update_value(|articles| articles.push(html));
        rules.update_value(|rules| rules.push_str(&page_rules(person, &now, paper, PAGE, number)));
    }
    style(rules);
    state.try_set(State::Done(of));
}
