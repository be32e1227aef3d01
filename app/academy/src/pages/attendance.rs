//! Attendance and theory: a whole class at once, a trainee's own time alone, and hours by type.

mod entries;
mod papers;

use std::collections::BTreeSet;

use leptos::prelude::*;
use logbook::fact::{Coursework, Fact};
use practicum::coursework::hours::{Run, hours, say_minutes};
use practicum::coursework::{Attendance, Learning};
use practicum::ids::PersonId;
use practicum::moment::Day;
use practicum::person::Person;

use super::form::{
    ChoiceInput, Field, OnceUnlocked, Saving, SavingLine, SelectInput, TextInput, day, day_text, one_line,
};
use crate::components::{DataTable, Page, When, text_rows};
use crate::session::{Session, reading, session};

/// Attendance, theory papers and hours.
#[component]
pub(crate) fn AttendancePage() -> impl IntoView {
    let session = session();
    let trainee = move || session.who().filter(|who| !who.role.may_assess());
    view! {
        <Page title="Attendance and theory">
            <Totals/>
            {move || trainee().map(|who| view! { <AloneForm id=who.id/> })}
            <OnceUnlocked fallback=|| view! {
                <p class="notice notice-info">"● A class and its papers are entered by an instructor or the owner, unlocked at the top."</p>
            }>
                <ClassForm/>
                <papers::PaperForm/>
            </OnceUnlocked>
            <entries::Entries/>
        </Page>
    }
}

/// Trainees of a group who have not left, by name; everybody where the group is empty.
pub(super) fn of_group(session: Session, group: &str) -> Vec<Person> {
    let mut people = session.trainees();
    people.retain(|person| person.left.is_none() && (group.is_empty() || person.group == group));
    people
}

/// The groups there are, each as value and words, everybody first.
pub(super) fn groups(session: Session) -> Vec<(String, String)> {
    let mut groups: Vec<String> = session.trainees().into_iter().map(|person| person.group).collect();
    groups.retain(|group| !group.is_empty());
    groups.sort();
    groups.dedup();
    let all = std::iter::once((String::new(), "everybody".to_owned()));
    all.chain(groups.into_iter().map(|group| (group.clone(), group))).collect()
}

fn kinds() -> Vec<(String, String)> {
    Learning::ALL.map(|learning| (learning.word().to_owned(), learning.word().to_owned())).to_vec()
}

fn learning(typed: &str) -> Result<Learning, String> {
    let found = Learning::ALL.into_iter().find(|learning| learning.word() == typed);
    found.ok_or_else(|| "Choose how the time was spent.".to_owned())
}

fn minutes(typed: &str) -> Result<u32, String> {
    let wrong = || format!("Write whole minutes from 1 to {}, for example 90.", Attendance::MOST_MINUTES);
    typed.trim().parse().ok().filter(|minutes| (1..=Attendance::MOST_MINUTES).contains(minutes)).ok_or_else(wrong)
}

pub(super) fn needed_day(typed: &str) -> Result<Day, String> {
    day(typed)?.ok_or_else(|| "Choose the day.".to_owned())
}

/// What is typed about time.
#[derive(Clone, Copy)]
struct Time {
    on: Field,
    learning: Field,
    minutes: Field,
    title: Field,
}

impl Time {
    fn empty() -> Self {
        let today = reading().at.date_naive();
        Self {
            on: Field::of(day_text(Some(today))),
            learning: Field::empty(),
            minutes: Field::empty(),
            title: Field::empty(),
        }
    }

    fn of(known: &Attendance) -> Self {
        Self {
            on: Field::of(day_text(Some(known.on))),
            learning: Field::of(known.learning.word()),
            minutes: Field::of(known.minutes.to_string()),
            title: Field::of(known.title.as_str()),
        }
    }

    /// Reads it for a trainee; says beside the fields what is wrong.
    fn read(self) -> Option<Attendance> {
        let (on, learning) = (self.on.read(needed_day), self.learning.read(learning));
        let (minutes, title) = (self.minutes.read(minutes), self.title.read(one_line));
        let trainee = PersonId::new("");
        Some(Attendance {
            trainee,
            on: on?,
            learning: learning?,
            minutes: minutes?,
            title: title?,
            supervised_by: None,
        })
    }
}

/// The fields about time; `id` tells several on one page apart.
#[component]
fn TimeFields(
    /// What is typed.
    time: Time,
    /// Beginning of the fields' identifiers.
    #[prop(into)]
    id: String,
) -> impl IntoView {
    view! {
        <TextInput label="Day" id=format!("{id}-day") field=time.on kind="date"/>
        <ChoiceInput legend="How the time was spent" id=format!("{id}-kind") field=time.learning options=kinds()/>
        <TextInput label="Minutes" id=format!("{id}-minutes") field=time.minutes keyboard="numeric"/>
        <TextInput label="What about (optional)" id=format!("{id}-title") field=time.title/>
    }
}

/// A whole class at once.
#[component]
fn ClassForm() -> impl IntoView {
    let session = session();
    let (time, group, by, saving) = (Time::empty(), Field::empty(), Field::empty(), Saving::new());
    let absent = RwSignal::new(BTreeSet::<PersonId>::new());
    by.text.set(untrack(|| session.who()).map(|who| who.id.to_string()).unwrap_or_default());
    let supervisors = Signal::derive(move || {
        let people = session.instructors().into_iter().map(|person| (person.id.to_string(), person.name));
        people.chain([(String::new(), "nobody: each alone".to_owned())]).collect::<Vec<_>>()
    });
    let class = Memo::new(move |_| of_group(session, &group.text.get()));
    let there = move || class.with(|class| class.iter().filter(|p| absent.with(|a| !a.contains(&p.id))).count());
    let tick = move |person: Person| {
        let (id, other) = (person.id.clone(), person.id);
        view! {
            <label class="chip">
                <input type="checkbox" prop:checked=move || absent.with(|absent| !absent.contains(&id))
                    on:change:target=move |event| absent.update(|absent| {
                        if event.target().checked() { absent.remove(&other); } else { absent.insert(other.clone()); }
                    })/>
                <span>{person.name}</span>
            </label>
        }
    };
    let save = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        saving.hush();
        let Some(noted) = time.read() else {
            return saving.say(Err("Look at the fields marked ▲; nothing was lost.".to_owned()));
        };
        let supervised_by = (!by.typed().is_empty()).then(|| PersonId::new(by.typed()));
        let present = class.with_untracked(|class| {
            let there = class.iter().filter(|person| absent.with_untracked(|absent| !absent.contains(&person.id)));
            there.map(|person| person.id.clone()).collect::<Vec<_>>()
        });
        if present.is_empty() {
            return saving.say(Err("Nobody is ticked as present.".to_owned()));
        }
        let done = format!("{} entries are recorded, one for each who was there.", present.len());
        let of = |trainee| Attendance { trainee, supervised_by: supervised_by.clone(), ..noted.clone() };
        let facts = present.into_iter().map(of).map(Coursework::AttendanceNoted).map(Fact::Coursework).collect();
        saving.write(session, facts, done, move || {
            time.title.text.set(String::new());
            absent.set(BTreeSet::new());
        });
    };
    view! {
        <section class="stack">
            <h2>"A class"</h2>
            <form novalidate class="stack" on:submit=save>
                <TimeFields time=time id="class"/>
                <SelectInput label="Supervised by" id="class-by" field=by options=supervisors/>
                <SelectInput label="Group" id="class-group" field=group options=Signal::derive(move || groups(session))/>
                <fieldset><legend>"Who was there"</legend>
                    <div class="chips">{move || class.get().into_iter().map(tick).collect_view()}</div>
                </fieldset>
                <SavingLine saving=saving/>
                <button type="submit" class="button-primary" disabled=move || saving.busy()>{move || format!("Record {} present", there())}</button>
            </form>
        </section>
    }
}

/// A trainee's own time alone.
#[component]
fn AloneForm(
    /// The trainee, who is using the device.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let (time, saving) = (Time::empty(), Saving::new());
    let save = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        saving.hush();
        let Some(noted) = time.read() else {
            return saving.say(Err("Look at the fields marked ▲; nothing was lost.".to_owned()));
        };
        let noted = Attendance { trainee: id.clone(), ..noted };
        let facts = vec![Fact::Coursework(Coursework::AttendanceNoted(noted))];
        saving.write(session, facts, "The time is recorded, as not supervised.".to_owned(), move || {
            time.title.text.set(String::new());
        });
    };
    view! {
        <section class="stack">
            <h2>"My own time, alone"</h2>
            <form novalidate class="stack" on:submit=save>
                <TimeFields time=time id="alone"/>
                <SavingLine saving=saving/>
                <button type="submit" disabled=move || saving.busy()>"Record my time"</button>
            </form>
        </section>
    }
}

/// Hours of everybody who may be seen here, by type.
#[component]
fn Totals() -> impl IntoView {
    let session = session();
    let people = move || match session.may_assess() {
        true => session.trainees(),
        false => session.who().into_iter().filter(|who| !who.role.may_assess()).collect(),
    };
    let row = move |person: &Person| {
        let records = session.records();
        let attendance = records.attendance_of(&person.id);
        let noted: Vec<_> = attendance.iter().map(|known| &known.value).collect();
        let services = records.services_of(&person.id);
        let runs: Vec<Run> = services
            .iter()
            .filter(|known| known.withdrawn.is_none() && !known.value.is_imported())
            .map(|known| Run {
                service: &known.value,
                supervised: records.assessors_outcomes(&known.value).iter().any(|outcome| outcome.value.observed),
            })
            .collect();
        let sums = hours(&noted, &runs);
        let say = |learning: &Learning| {
            let minutes = sums.get(learning).copied().unwrap_or_default();
            match minutes.all() {
                0 => "–".to_owned(),
                all => format!("{} ({} supervised)", say_minutes(all), say_minutes(minutes.supervised)),
            }
        };
        let papers = records.theory_of(&person.id);
        let passed = papers.iter().filter(|paper| paper.value.passed()).count();
        let papers = format!("{passed} of {} passed", papers.len());
        std::iter::once(person.name.clone()).chain(Learning::ALL.iter().map(say)).chain([papers]).collect::<Vec<_>>()
    };
    let head: Vec<String> = std::iter::once("Trainee".to_owned())
        .chain(Learning::ALL.map(|learning| learning.word().to_owned()))
        .chain(["Theory papers".to_owned()])
        .collect();
    let table = move || {
        let rows: Vec<Vec<String>> = people().iter().map(row).collect();
        let head = head.clone();
        (!rows.is_empty()).then(|| view! { <DataTable caption="Hours by type" head=head rows=text_rows(rows)/> })
    };
    view! {
        <When when=move || !session.may_assess() && session.who().is_none_or(|who| who.role.may_assess())>
            <p>"Say at the top who is using this device to see hours."</p>
        </When>
        {table}
        <p class="small">"Services and drills logged at the couch count with their service time. Time of the same type noted here counts only on days without one, so that nothing counts twice."</p>
    }
}
