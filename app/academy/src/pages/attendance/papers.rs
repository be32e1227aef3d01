//! Results of a theory paper, for a whole class at once.

use std::collections::BTreeMap;

use leptos::prelude::*;
use logbook::fact::{Coursework, Fact};
use practicum::coursework::TheoryResult;
use practicum::ids::PersonId;
use practicum::person::Person;

use super::{groups, needed_day, of_group};
use crate::pages::form::{Field, Saving, SavingLine, SelectInput, TextInput, day_text, name};
use crate::session::{reading, session};

fn points(typed: &str) -> Result<u32, String> {
    typed.trim().parse().map_err(|_| "Write whole points, for example 18.".to_owned())
}

/// The paper's form: points for each who wrote it.
#[component]
pub(super) fn PaperForm() -> impl IntoView {
    let session = session();
    let (paper, out_of, needed, group) = (Field::empty(), Field::empty(), Field::empty(), Field::empty());
    let (on, saving) = (Field::of(day_text(Some(reading().at.date_naive()))), Saving::new());
    let reached = RwSignal::new(BTreeMap::<PersonId, String>::new());
    let class = Memo::new(move |_| of_group(session, &group.text.get()));
    let line = move |person: Person| {
        let (id, other) = (person.id.clone(), person.id.clone());
        let input = format!("points-{}", person.id);
        view! {
            <div class="field">
                <label for=input.clone()>{person.name}</label>
                <input id=input inputmode="numeric" prop:value=move || reached.with(|all| all.get(&id).cloned().unwrap_or_default())
                    on:input:target=move |event| reached.update(|all| { all.insert(other.clone(), event.target().value()); })/>
            </div>
        }
    };
    let save = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        saving.hush();
        let (title, day) = (paper.read(|typed| name("the paper", typed)), on.read(needed_day));
        let (out_of, least) = (out_of.read(points), needed.read(points));
        let (Some(title), Some(day), Some(out_of), Some(least)) = (title, day, out_of, least) else {
            return saving.say(Err("Look at the fields marked ▲; nothing was lost.".to_owned()));
        };
        let mut facts = Vec::new();
        for person in class.get_untracked() {
            let typed = reached.with_untracked(|all| all.get(&person.id).cloned().unwrap_or_default());
            if typed.trim().is_empty() {
                continue;
            }
            let result = points(&typed).and_then(|points| {
                let (trainee, paper) = (person.id.clone(), title.clone());
                let result = TheoryResult { trainee, paper, on: day, points, out_of, needed: least };
                result.check().map(|()| result)
            });
            match result {
                Ok(result) => facts.push(Fact::Coursework(Coursework::TheoryMarked(result))),
                Err(sentence) => return saving.say(Err(format!("{}: {sentence} Nothing was lost.", person.name))),
            }
        }
        if facts.is_empty() {
            return saving.say(Err("No points are written: write them beside each who wrote the paper.".to_owned()));
        }
        let done = format!("{} results are recorded.", facts.len());
        saving.write(session, facts, done, move || reached.set(BTreeMap::new()));
    };
    view! {
        <section class="stack">
            <h2>"A theory paper"</h2>
            <form novalidate class="stack" on:submit=save>
                <TextInput label="Paper" id="paper-name" field=paper/>
                <TextInput label="Written on" id="paper-day" field=on kind="date"/>
                <TextInput label="Points that could be reached" id="paper-of" field=out_of keyboard="numeric"/>
                <TextInput label="Points needed to pass" id="paper-needed" field=needed keyboard="numeric"/>
                <SelectInput label="Group" id="paper-group" field=group options=Signal::derive(move || groups(session))/>
                <fieldset><legend>"Points of each; empty for who did not write it"</legend>
                    <div class="filters columns">{move || class.get().into_iter().map(line).collect_view()}</div>
                </fieldset>
                <SavingLine saving=saving/>
                <button type="submit" class="button-primary" disabled=move || saving.busy()>"Record the results"</button>
            </form>
        </section>
    }
}
