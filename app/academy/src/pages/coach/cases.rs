//! Case studies of a trainee: set by an assessor, handed in by the trainee, marked by an assessor.

use std::collections::BTreeSet;

use leptos::prelude::*;
use logbook::Recorded;
use logbook::fact::{Coursework, Fact};
use practicum::coursework::{CaseFinding, CaseMark, CasePack, CaseStudy};
use practicum::ids::{EntryId, PersonId, ServiceId};

use crate::components::When;
use crate::pages::form::{
    ChoiceInput, Field, LongInput, OnceUnlocked, Saving, SavingLine, TextInput, day, day_text, name, whole_number,
};
use crate::pages::progress::ServiceLinks;
use crate::pages::replies::Replies;
use crate::session::{Session, reading, session};

/// All case studies of a trainee.
#[component]
pub(super) fn Cases(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let ids = StoredValue::new(id);
    let all = move || {
        let records = session.records();
        ids.with_value(|id| records.cases_of(id).into_iter().cloned().collect::<Vec<Recorded<CaseStudy>>>())
    };
    view! {
        <h2>"Case studies"</h2>
        <p class="small">"Evidence about work away from the academy, handed in within a window."</p>
        <When when=move || all().is_empty()><p>"○ None is set."</p></When>
        <For each=all key=|one| one.entry.clone() let:one><CaseCard case=one/></For>
        <OnceUnlocked fallback=|| ()><SetForm id=ids.get_value()/></OnceUnlocked>
    }
}

/// Sets a case study; window and hand-ins are proposed by the course book.
#[component]
fn SetForm(
    /// For whom.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let today = reading().at.date_naive();
    let rules = untrack(|| session.book()).and_then(|book| book.rules.case_study);
    let last = rules.and_then(|rules| today.checked_add_days(chrono::Days::new(rules.window_days.into())));
    let times = rules.map_or(1, |rules| rules.resubmissions.saturating_add(1));
    let (title, asks, saving) = (Field::empty(), Field::empty(), Saving::new());
    let (opens, due, often) =
        (Field::of(day_text(Some(today))), Field::of(day_text(last)), Field::of(times.to_string()));
    let needed = |typed: &str| day(typed)?.ok_or_else(|| "Choose the day.".to_owned());
    let save = move |_| {
        saving.hush();
        let (title, opens, due) = (title.read(|typed| name("its name", typed)), opens.read(needed), due.read(needed));
        let hand_ins = often.read(|typed| whole_number(typed, 1, 20));
        let (Some(title), Some(opens), Some(due), Some(hand_ins)) = (title, opens, due, hand_ins) else {
            return saving.say(Err("Look at the fields marked ▲; nothing was lost.".to_owned()));
        };
        let case = CaseStudy { trainee: id.clone(), competency: None, title, asks: asks.typed(), opens, due, hand_ins };
        let fact = Fact::Coursework(Coursework::CaseSet(case));
        saving.write(session, vec![fact], "The case study is set.".to_owned(), move || asks.clear());
    };
    view! {
        <details class="form-part"><summary>"Set a case study"</summary>
            <TextInput label="Name" id="case-title" field=title/>
            <LongInput label="What the pack must hold" id="case-asks" field=asks/>
            <TextInput label="First day to hand it in" id="case-opens" field=opens kind="date"/>
            <TextInput label="Last day" id="case-due" field=due kind="date"/>
            <TextInput label="How often it may be handed in, the first time counted" id="case-often" field=often keyboard="numeric"/>
            <SavingLine saving=saving/>
            <button type="button" disabled=move || saving.busy() on:click=save>"Set it"</button>
        </details>
    }
}

/// One case study: where it stands, what was handed in, and what may be done now.
#[component]
fn CaseCard(
    /// The case study.
    case: Recorded<CaseStudy>,
) -> impl IntoView {
    let session = session();
    let value = case.value.clone();
    let known = StoredValue::new(case);
    let state = move || known.with_value(|case| session.records().case_state(case, reading().at.date_naive()));
    let days = move || {
        let left = known.with_value(|case| (case.value.due - reading().at.date_naive()).num_days());
        if state().may_hand_in() { format!(" {left} days are left.") } else { String::new() }
    };
    let packs = move || {
        known.with_value(|case| {
            let records = session.records();
            let packs = records.packs_of(case).into_iter();
            packs.map(|(pack, mark)| (pack.clone(), mark.cloned())).collect::<Vec<_>>()
        })
    };
    let mine = move || known.with_value(|case| session.who().is_some_and(|who| who.id == case.value.trainee));
    let pack = move |(pack, mark): (Recorded<CasePack>, Option<Recorded<CaseMark>>)| {
        let entry = pack.entry.clone();
        let marked = mark.is_some();
        let mark = mark.map(|mark| {
            let words =
                format!("{} by {}: {}", mark.value.finding.word(), session.person_name(&mark.author), mark.value.words);
            view! { <p>{words}</p><Replies entry=mark.entry/> }
        });
        let trainee = pack.value.trainee.clone();
        view! {
            <div class="card stack">
                <p>{format!("Handed in on {}: {}", pack.value.on, pack.value.words)}</p>
                <ServiceLinks ids=pack.value.services.clone()/>
                {mark}
                {(!marked).then(|| view! { <OnceUnlocked fallback=|| view! { <p class="small">"○ Waits to be marked."</p> }><MarkForm pack=entry.clone() trainee=trainee.clone()/></OnceUnlocked> })}
            </div>
        }
    };
    view! {
        <article class="card stack">
            <h3>{value.title.clone()}</h3>
            <p>{format!("From {} to {}, to be handed in up to {} times.", value.opens, value.due, value.hand_ins)}</p>
            <p>{value.asks.clone()}</p>
            <p class="strong">{move || format!("{}.{}", state().word(), days())}</p>
            {move || packs().into_iter().map(pack).collect_view()}
            <When when=move || mine() && state().may_hand_in()><HandInForm case=known.get_value()/></When>
        </article>
    }
}

fn own_services(session: Session, trainee: &PersonId) -> Vec<(ServiceId, String)> {
    let records = session.records();
    let own = records.services_of(trainee).into_iter().rev().filter(|known| known.withdrawn.is_none());
    own.map(|known| (known.value.id.clone(), session.service_line(&known.value))).take(60).collect()
}

/// The trainee hands a pack in.
#[component]
fn HandInForm(
    /// The case study.
    case: Recorded<CaseStudy>,
) -> impl IntoView {
    let session = session();
    let (words, saving) = (Field::empty(), Saving::new());
    let chosen = RwSignal::new(BTreeSet::<ServiceId>::new());
    let services = untrack(|| own_services(session, &case.value.trainee));
    let id = format!("case-words-{}", case.entry);
    let save = move |_| {
        if words.typed().trim().is_empty() {
            words.refuse("Say what you saw and did.");
            return;
        }
        let pack = CasePack {
            case: case.entry.clone(),
            trainee: case.value.trainee.clone(),
            services: chosen.get_untracked().into_iter().collect(),
            words: words.typed(),
            on: reading().at.date_naive(),
        };
        saving.write(
            session,
            vec![Fact::Coursework(Coursework::CaseHandedIn(pack))],
            "It is handed in.".to_owned(),
            || {},
        );
    };
    let tick = move |(id, line): (ServiceId, String)| {
        let (mine, other) = (id.clone(), id);
        view! {
            <label class="check"><input type="checkbox" prop:checked=move || chosen.with(|all| all.contains(&mine))
                on:change:target=move |event| chosen.update(|all| {
                    if event.target().checked() { all.insert(other.clone()); } else { all.remove(&other); }
                })/><span>{line}</span></label>
        }
    };
    view! {
        <details class="form-part"><summary>"Hand it in"</summary>
            <LongInput label="What you saw and did" id=id field=words/>
            <fieldset><legend>"Services that belong to it"</legend>{services.into_iter().map(tick).collect_view()}</fieldset>
            <SavingLine saving=saving/>
            <button type="button" class="button-primary" disabled=move || saving.busy() on:click=save>"Hand it in"</button>
        </details>
    }
}

/// An assessor marks a pack.
#[component]
fn MarkForm(
    /// The entry that handed it in.
    pack: EntryId,
    /// Whose.
    trainee: PersonId,
) -> impl IntoView {
    let session = session();
    let (finding, words, saving) = (Field::empty(), Field::empty(), Saving::new());
    let options = CaseFinding::ALL.map(|one| (one.word().to_owned(), one.word().to_owned())).to_vec();
    let id = pack.clone();
    let save = move |_| {
        let found = finding.read(|typed| {
            let found = CaseFinding::ALL.into_iter().find(|one| one.word() == typed);
            found.ok_or_else(|| "Choose what you found.".to_owned())
        });
        let Some(finding) = found else { return };
        let mark = CaseMark { pack: pack.clone(), trainee: trainee.clone(), finding, words: words.typed() };
        saving.write(session, vec![Fact::Coursework(Coursework::CaseMarked(mark))], "It is marked.".to_owned(), || {});
    };
    view! {
        <ChoiceInput legend="Found" id=format!("case-{id}") field=finding options=options/>
        <LongInput label="In words" id=format!("case-said-{id}") field=words/>
        <SavingLine saving=saving/>
        <button type="button" disabled=move || saving.busy() on:click=save>"Mark it"</button>
    }
}
