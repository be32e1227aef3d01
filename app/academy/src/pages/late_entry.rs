//! A service written down afterwards: marked late, with written times, never with a live clock.

pub(crate) mod eyes;
mod own_view;
pub(crate) mod products;
pub(crate) mod written;

use chrono::Duration;
use leptos::prelude::*;
use logbook::Fact;
use logbook::spreadsheet::services::times;
use practicum::couch::{Stop, Tint};
use practicum::course_book::{CourseBook, Medium};
use practicum::eye::PerEye;
use practicum::ids::{PersonId, PracticeModelId, ServiceId};
use practicum::moment::{Day, Moment};
use practicum::outcome::Outcome;
use practicum::person::{Person, Role};
use practicum::service::{Ending, Origin, Service, WrittenTimes};

use super::form::{
    Field, LongInput, Saving, SavingLine, SelectInput, TextInput, moment_of_local, not_in_the_future, one_line,
};
use crate::browser;
use crate::components::{Page, When};
use crate::session::{Session, reading, session};
use eyes::{EyeFields, Eyes, worked};
use own_view::{OwnView, OwnViewFields};
use products::{ProductFields, Products, judge_by_products};
use written::{Written, WrittenFields};

/// Longest free text taken, in characters.
const LONGEST: usize = 4_000;

/// What is typed.
#[derive(Clone)]
struct Form {
    trainee: Field,
    person: Field,
    began: Field,
    tint: Field,
    ended: Field,
    why: Field,
    note: Field,
    eyes: Eyes,
    products: Products,
    written: Written,
    own: OwnView,
}

/// Values and words of how it ended.
const ENDINGS: [(&str, &str); 4] = [
    ("finished", "finished"),
    ("fault", "stopped for a fault"),
    ("reaction", "stopped, reaction"),
    ("other", "stopped for another reason"),
];
/// Values and words of tint.
const TINTS: [(&str, &str); 3] =
    [("none", "none"), ("own", "a stage of its own"), ("mixed", "mixed into the setting lotion")];

fn options(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    pairs.iter().map(|(value, words)| ((*value).to_owned(), (*words).to_owned())).collect()
}

/// The page.
#[component]
pub(crate) fn LateEntryPage() -> impl IntoView {
    let session = session();
    let form = session.book().map(|book| {
        let empty = Field::empty;
        Form {
            trainee: empty(),
            person: empty(),
            began: empty(),
            tint: Field::of("none"),
            ended: Field::of("finished"),
            why: empty(),
            note: empty(),
            eyes: Eyes::empty(),
            products: Products::empty(),
            written: Written::of(&book, &WrittenTimes::default()),
            own: OwnView::empty(),
        }
    });
    view! {
        <Page title="Write down a service afterwards">
            <p class="notice notice-caution">"▲ This is marked as a late entry. Its times never count for a time standard; it counts for quality only where an assessor observed it. It has no taps and cannot stand for a live clock."</p>
            {match form {
                Some(form) => view! { <Fields form=form/> }.into_any(),
                None => view! { <p>"No course book is in force."</p> }.into_any(),
            }}
        </Page>
    }
}

/// The form.
#[component]
fn Fields(
    /// What is typed.
    form: Form,
) -> impl IntoView {
    let session = session();
    let saving = Saving::new();
    let book = session.book();
    let codes = Signal::derive(move || {
        session.practice_models().into_iter().map(|p| (p.id.to_string(), p.code)).collect::<Vec<_>>()
    });
    let shields =
        book.iter().flat_map(|book| book.shields.iter()).map(|s| (s.id.to_string(), s.label.clone())).collect();
    let criteria = StoredValue::new(book.as_ref().map(|book| book.criteria.clone()).unwrap_or_default());
    let faults = book.iter().flat_map(|book| book.faults.iter()).map(|f| (f.id.clone(), f.label.clone()));
    let faults = StoredValue::new(faults.collect::<Vec<_>>());
    let own = form.own;
    let trainee = Memo::new(move |_| session.who().is_some_and(|who| who.role == Role::Trainee));
    let stopped = move || form.ended.text.with(|ended| ended == "fault" || ended == "other");
    let typed = form.clone();
    let save = move |_| save(session, &typed, saving);
    view! {
        <TraineeField field=form.trainee/>
        <SelectInput label="Practice model" id="practice-model" field=form.person options=codes hint="Not in the list? Add the code under Practice models first."/>
        <TextInput label="Day and time it began" id="began" field=form.began kind="datetime-local"/>
        <EyeFields eyes=form.eyes shields=shields/>
        <SelectInput label="Tint" id="tint" field=form.tint options=options(&TINTS)/>
        <ProductFields products=form.products/>
        <WrittenFields written=form.written/>
        <SelectInput label="How it ended" id="ended" field=form.ended options=options(&ENDINGS)/>
        <When when=stopped><TextInput label="Why it was stopped" id="why" field=form.why/></When>
        <LongInput label="Note" id="late-note" field=form.note/>
        <When when=move || trainee.get()>
            <OwnViewFields own=own criteria=criteria.get_value() faults=faults.get_value()/>
        </When>
        <SavingLine saving=saving/>
        <button type="button" class="button-primary" disabled=move || saving.busy() on:click=save>"Save as a late entry"</button>
    }
}

/// Whose service it is: the trainee who writes, or one chosen by an instructor.
#[component]
fn TraineeField(
    /// The choice of an instructor.
    field: Field,
) -> impl IntoView {
    let session = session();
    let trainees = Signal::derive(move || {
        session.trainees().into_iter().map(|person| (person.id.to_string(), person.name)).collect::<Vec<_>>()
    });
    let who = Memo::new(move |_| session.who());
    move || match who.get() {
        Some(person) if person.role == Role::Trainee => {
            view! { <p>"Trainee: "<strong>{person.name}</strong></p> }.into_any()
        }
        Some(_) => view! { <SelectInput label="Trainee" id="trainee" field=field options=trainees/> }.into_any(),
        None => view! { <p class="notice notice-info">"● Say at the top who is using this device."</p> }.into_any(),
    }
}

/// Reads a text of several lines that may be empty.
pub(crate) fn free_text(typed: &str) -> Result<String, String> {
    if typed.chars().count() > LONGEST {
        return Err(format!("This is longer than {LONGEST} characters: shorten it."));
    }
    Ok(typed.to_owned())
}

fn ending(form: &Form) -> Option<Ending> {
    let why = || {
        form.why.read(|typed| match one_line(typed)? {
            line if line.is_empty() => Err("Say why it was stopped.".to_owned()),
            line => Ok(line),
        })
    };
    match form.ended.typed().as_str() {
        "finished" => Some(Ending::Finished),
        "reaction" => Some(Ending::Stopped(Stop::Reaction)),
        "fault" => Some(Ending::Stopped(Stop::Fault(why()?))),
        "other" => Some(Ending::Stopped(Stop::Other(why()?))),
        _ => {
            form.ended.refuse("Choose how it ended.");
            None
        }
    }
}

/// Reads when it began; all of it lies in the past.
fn began(form: &Form, length: Option<u32>, now: &Moment) -> Option<Moment> {
    form.began.read(|typed| {
        let began = not_in_the_future(moment_of_local(typed)?, now)?;
        let end = began + Duration::seconds(i64::from(length.unwrap_or(0)));
        if end > *now + Duration::minutes(1) {
            return Err("With this service time it would end in the future: check both.".to_owned());
        }
        Ok(began)
    })
}

/// Says why a person cannot have worked on a day: not enrolled yet, or gone.
fn outside(person: &Person, day: Day) -> Option<String> {
    let name = &person.name;
    match (person.since, person.left) {
        (Some(since), _) if day < since => {
            Some(format!("{name} is enrolled since {since}: this lies before. Give the day of the service."))
        }
        (_, Some(left)) if day > left => {
            Some(format!("{name} left on {left}: this lies after. Give the day of the service."))
        }
        _ => None,
    }
}

fn tint(form: &Form) -> Option<Tint> {
    form.tint.read(|typed| match typed {
        "none" => Ok(Tint::None),
        "own" => Ok(Tint::Own),
        "mixed" => Ok(Tint::Mixed),
        _ => Err("Choose the tint, or none.".to_owned()),
    })
}

/// Reads the whole form; says beside each field what is wrong with it.
fn read(session: Session, form: &Form, book: &CourseBook) -> Option<Service> {
    let now = reading().at;
    let records = session.records_now();
    let who = session.who_now()?;
    let trainee = if who.role == Role::Trainee {
        Some(who.id)
    } else {
        form.trainee.read(|typed| {
            let id = PersonId::new(typed);
            let found = records.person(&id).filter(|person| person.role == Role::Trainee);
            found.map(|_| id.clone()).ok_or_else(|| "Choose the trainee.".to_owned())
        })
    };
    let person = form.person.read(|typed| {
        let id = PracticeModelId::new(typed);
        records.practice_model(&id).map(|_| id.clone()).ok_or_else(|| "Choose the practice model.".to_owned())
    });
    let times_read = form.written.read();
    let began = began(form, times_read.as_ref().and_then(|times| times.service), &now);
    let (tint, ending, note) = (tint(form), ending(form), form.note.read(free_text));
    let mut service = Service {
        id: ServiceId::new(browser::random::hex_id()),
        trainee: PersonId::new(""),
        medium: Medium::Live,
        drill: None,
        practice_model: None,
        began: began.unwrap_or(now),
        course_book: book.id.clone(),
        room: String::new(),
        sections: PerEye::default(),
        worked: None,
        analysis: PerEye::default(),
        shields: PerEye::default(),
        tint: tint.unwrap_or_default(),
        products: form.products.read(session),
        will_be_assessed: None,
        overrides: Vec::new(),
        incident: None,
        ending: ending.clone().unwrap_or(Ending::Finished),
        aftercare_given: None,
        comfort: String::new(),
        note: note.clone().unwrap_or_default(),
        times: practicum::couch::times::Times::default(),
        origin: Origin::Late(WrittenTimes::default()),
    };
    let eyes = form.eyes.read_into(book, &mut service);
    let (written, _, _, _, _) = (times_read?, began?, tint?, ending?, note?);
    (service.trainee, service.practice_model) = (trainee?, Some(person?));
    service.worked = worked(&service.sections);
    service.times = times(&written, book);
    service.origin = Origin::Late(written);
    if let Some(sentence) =
        records.person(&service.trainee).and_then(|person| outside(person, service.began.date_naive()))
    {
        form.began.refuse(sentence);
        return None;
    }
    let entered = |kind| untrack(|| !session.lots(kind).is_empty());
    let unjudged = judge_by_products(&mut service, |id| records.product(id).cloned(), entered);
    for (kind, eye, why) in &unjudged {
        form.written.refuse_dwell(*kind, *eye, why);
    }
    (eyes && unjudged.is_empty()).then_some(service)
}

/// Whether the log holds a service of the same trainee that began at the same minute.
fn written_before(session: Session, service: &Service) -> bool {
    let same = |known: &&Service| {
        known.trainee == service.trainee && (known.began - service.began).abs() < Duration::minutes(1)
    };
    session.records_now().services_in_force().iter().any(same)
}

fn save(session: Session, form: &Form, saving: Saving) {
    let wrong = "Something is missing: look at the sentences beside the fields. What you typed is still there.";
    let Some(book) = session.book() else { return };
    if session.who_now().is_none() {
        return saving.say(Err("Say at the top who is using this device. What you typed is still there.".to_owned()));
    }
    let Some(service) = read(session, form, &book) else { return saving.say(Err(wrong.to_owned())) };
    if written_before(session, &service) {
        return saving
            .say(Err("A service of this trainee that began at this very time is in the log already.".to_owned()));
    }
    let own = session.who_now().is_some_and(|who| who.id == service.trainee);
    let outcome: Option<Outcome> = match own.then(|| form.own.read(&book, &service, reading().at)).transpose() {
        Ok(outcome) => outcome.flatten(),
        Err(sentence) => return saving.say(Err(sentence)),
    };
    let id = service.id.clone();
    let mut facts = vec![Fact::ServiceLogged(service)];
    facts.extend(outcome.map(Fact::OutcomeMarked));
    saving.write(session, facts, "The late entry is saved.".to_owned(), move || {
        browser::page::set_hash(&format!("#/service/{id}"));
    });
}

#[cfg(test)]
mod tests {
    use practicum::couch::times::DwellJudgement;
    use practicum::couch::{Analysis, Direction, LastLift, Tint};
    use practicum::course_book::LashCondition;
    use practicum::eye::Eye;
    use practicum::moment::{Day, parse_moment};
    use practicum::person::{Person, Role};
    use practicum::product::{DwellWindow, Lot, Product, ProductKind};
    use practicum::service::WrittenTimes;

    use super::{judge_by_products, outside, times};

    #[test]
    fn nobody_worked_before_enrolment_or_after_leaving() {
        let day = |day| Day::from_ymd_opt(2026, 3, day).unwrap();
        let person = Person {
            id: "t".into(),
            name: "Tea".to_owned(),
            role: Role::Trainee,
            group: String::new(),
            since: Some(day(5)),
            left: Some(day(20)),
            show_times_early: false,
        };
        assert!(outside(&person, day(4)).is_some_and(|why| why.contains("enrolled since 2026-03-05")));
        assert!(outside(&person, day(21)).is_some_and(|why| why.contains("left on 2026-03-20")));
        assert_eq!([day(5), day(20)].map(|day| outside(&person, day)), [None, None]);
        assert_eq!(outside(&Person { since: None, left: None, ..person }, day(1)), None);
    }

    #[test]
    fn a_written_dwell_is_judged_by_the_label_of_its_product() {
        let book = practicum::course_book::text::read(&practicum::course_book::example::files()).unwrap();
        let today = parse_moment("2026-11-25T12:00:00+00:00").unwrap();
        let mut service = crate::demo::facts(&book, today)
            .into_iter()
            .find_map(|dated| match dated.fact {
                logbook::Fact::ServiceLogged(service) => Some(service),
                _ => None,
            })
            .unwrap();
        let written = |kind| WrittenTimes { dwells: vec![(kind, Eye::Left, 481)], ..WrittenTimes::default() };
        let analysis = Analysis {
            length_mm: 9,
            condition: LashCondition::Average,
            direction: Direction::Up,
            last_lift: LastLift::Unknown,
        };
        let window = DwellWindow { planned: Some(360), minimum: Some(300), maximum: Some(480) };
        let product = Product {
            id: "p".into(),
            name: "P".to_owned(),
            kind: ProductKind::Lift,
            windows: [window; 3],
            label_maximum: Some(480),
            label_test_hours: None,
            may_carry_tint: false,
        };
        let lot = Lot { product: "p".into(), number: "L1".to_owned(), opened_on: None };
        let known = |_: &_| Some(product.clone());
        service.tint = Tint::None;
        service.times = times(&written(ProductKind::Lift), &book);
        (service.products, service.analysis.left) = (Vec::new(), Some(analysis));
        assert_eq!(judge_by_products(&mut service, known, |_| true).len(), 1, "the product is asked for");
        assert_eq!(judge_by_products(&mut service, known, |_| false), [], "none is entered: nothing to choose");
        service.products = vec![(ProductKind::Lift, lot)];
        assert_eq!(judge_by_products(&mut service, known, |_| true), []);
        assert_eq!(service.times.dwells[0].judge(0, 30), DwellJudgement::PastLabel);
        assert_eq!(service.times.breaches(30).len(), 1);
        service.analysis.left = None;
        assert_eq!(judge_by_products(&mut service, known, |_| true).len(), 1, "the lashes are asked for");
        service.times = times(&written(ProductKind::Tint), &book);
        assert_eq!(judge_by_products(&mut service, known, |_| false).len(), 1, "tint without tint");
    }
}
