//! An invented group: eight trainees over ten weeks, with good, slow, uneven and careless courses.

use std::collections::BTreeMap;

use chrono::Duration;
use practicum::couch::Tint;
use practicum::course_book::{CourseBook, LashCondition, Mark};
use practicum::eye::Eye;
use practicum::ids::{IncidentId, PersonId, PracticeModelId, ServiceId};
use practicum::moment::Moment;
use practicum::order::InOrder;
use practicum::outcome::{FaultSeen, Marked, Outcome, applicable};
use practicum::person::{Person, Role};
use practicum::practice_model::PracticeModel;
use practicum::product::{DwellWindow, Lot, Product, ProductKind};
use practicum::section::Plan;
use practicum::service::Service;
use practicum::standing::PlanDecision;

use super::couch::{Script, work};
use super::dice::Dice;

/// Weeks that the demo covers.
const WEEKS: i64 = 10;

/// Everything invented for the demo, in the order it happened.
#[derive(Debug, Clone, Default)]
pub(super) struct Group {
    /// Owner, instructors, trainees.
    pub(super) people: Vec<Person>,
    /// Practice models.
    pub(super) practice_models: Vec<PracticeModel>,
    /// Products.
    pub(super) products: Vec<Product>,
    /// Open lots.
    pub(super) lots: Vec<Lot>,
    /// Services, oldest first.
    pub(super) services: Vec<Service>,
    /// Outcomes: the trainee's own and the assessor's.
    pub(super) outcomes: Vec<Outcome>,
    /// Decisions about the plan.
    pub(super) decisions: Vec<PlanDecision>,
}

/// How a trainee's course goes.
#[derive(Debug, Clone, Copy)]
struct Course {
    name: &'static str,
    /// Pace at the first service, against a usual beginner.
    pace: f64,
    /// How quickly hands-on time falls: exponent of the power law.
    learning: f64,
    /// Chance in a hundred that a core criterion falls short.
    slips: u64,
    /// Chance in a hundred that a dwell runs late.
    late: u64,
    /// Chance in a hundred that the two eyes differ.
    uneven: u64,
}

const COURSES: [Course; 8] = [
    Course { name: "Anouk Ferreira-Lind", pace: 0.95, learning: 0.30, slips: 4, late: 2, uneven: 3 },
    Course { name: "Bram Oyelaran", pace: 1.05, learning: 0.26, slips: 6, late: 2, uneven: 4 },
    Course { name: "Chiara Novakova", pace: 1.45, learning: 0.12, slips: 5, late: 2, uneven: 3 },
    Course { name: "Delphine Achterberg", pace: 1.5, learning: 0.10, slips: 8, late: 3, uneven: 5 },
    Course { name: "Esra Lindqvist", pace: 1.0, learning: 0.22, slips: 12, late: 4, uneven: 45 },
    Course { name: "Farida O’Shaughnessy", pace: 1.1, learning: 0.20, slips: 14, late: 5, uneven: 40 },
    Course { name: "Goran Teixeira-Holm", pace: 0.8, learning: 0.28, slips: 35, late: 25, uneven: 15 },
    Course { name: "Hye-jin Marchetti", pace: 0.85, learning: 0.25, slips: 30, late: 20, uneven: 12 },
];

/// Invents the group so that its last service was the day before `today`.
pub(super) fn invent(book: &CourseBook, today: Moment) -> Group {
    let start = today - Duration::weeks(WEEKS);
    let mut dice = Dice::new(20_260_302);
    let mut group = Group { people: people(start), products: products(book), ..Group::default() };
    group.lots = group.products.iter().map(|product| lot(product, start)).collect();
    group.practice_models = (1..=24_u32).map(|number| practice_model(number, start)).collect();
    let in_use: Vec<(ProductKind, Lot)> =
        group.products.iter().map(|product| product.kind).zip(group.lots.iter().cloned()).collect();
    for (number, course) in COURSES.iter().enumerate() {
        trainee_course(&mut group, book, course, number, start, &in_use, &mut dice);
    }
    let yesterday = today - Duration::days(1);
    group.services.retain(|service| service.began <= yesterday);
    group.services.order_by_key(|service| service.began);
    group
}

fn person(id: &str, name: &str, role: Role, since: Moment) -> Person {
    Person {
        id: id.into(),
        name: name.to_owned(),
        role,
        group: if role == Role::Trainee { "Autumn group (demo)".to_owned() } else { String::new() },
        since: Some(since.date_naive()),
        left: None,
        show_times_early: false,
    }
}

fn people(start: Moment) -> Vec<Person> {
    let mut people = vec![
        person("demo-owner", "Orla Vasquez-Thorne (demo)", Role::Owner, start),
        person("demo-instructor-1", "Mirela Tofte (demo)", Role::Instructor, start),
        person("demo-instructor-2", "Dane Okonjo-Berg (demo)", Role::Instructor, start),
    ];
    let trainee = |(number, course): (usize, &Course)| {
        person(&format!("demo-trainee-{}", number + 1), &format!("{} (demo)", course.name), Role::Trainee, start)
    };
    people.extend(COURSES.iter().enumerate().map(trainee));
    people
}

fn products(book: &CourseBook) -> Vec<Product> {
    let product = |(kind, name): (ProductKind, &str)| {
        let example = |condition| book.dwell_example(kind, condition, false);
        let window = |condition| {
            example(condition).map_or_else(DwellWindow::default, |example| DwellWindow {
                planned: Some(example.planned),
                minimum: Some(example.minimum),
                maximum: Some(example.maximum),
            })
        };
        let longest = LashCondition::ALL.into_iter().filter_map(example).map(|example| example.maximum).max();
        Product {
            id: format!("demo-{}", kind.word().replace(' ', "-")).as_str().into(),
            name: name.to_owned(),
            kind,
            windows: LashCondition::ALL.map(window),
            label_maximum: longest.map(|maximum| maximum + 120),
            label_test_hours: Some(24),
            may_carry_tint: false,
        }
    };
    [
        (ProductKind::Adhesive, "Demo adhesive"),
        (ProductKind::Lift, "Demo lift lotion"),
        (ProductKind::Setting, "Demo setting lotion"),
    ]
    .map(product)
    .to_vec()
}

fn lot(product: &Product, start: Moment) -> Lot {
    Lot { product: product.id.clone(), number: "D-1047".to_owned(), opened_on: Some(start.date_naive()) }
}

fn practice_model(number: u32, start: Moment) -> PracticeModel {
    let years = i64::from(21 + number * 7 % 30);
    PracticeModel {
        id: format!("demo-pm-{number:02}").as_str().into(),
        code: format!("PM-{number:03}"),
        born: Some(start.date_naive() - Duration::days(years * 366 + i64::from(number))),
        guardian: None,
    }
}

fn trainee_course(
    group: &mut Group,
    book: &CourseBook,
    course: &Course,
    number: usize,
    start: Moment,
    in_use: &[(ProductKind, Lot)],
    dice: &mut Dice,
) {
    let trainee: PersonId = format!("demo-trainee-{}", number + 1).as_str().into();
    let assessors: [PersonId; 2] = ["demo-instructor-1".into(), "demo-instructor-2".into()];
    let services = 12 + dice.below(4);
    let mut plan = Plan::Quarters;
    let mut good_in_a_row = 0;
    for n in 0..services {
        let days = i64::try_from(n).unwrap_or(0) * (WEEKS * 7 - 4) / i64::try_from(services).unwrap_or(12);
        let began = start + Duration::days(days) + Duration::minutes(i64::try_from(dice.below(300)).unwrap_or(0));
        let practised = u32::try_from(n + 1).map_or(1.0, f64::from);
        let reaction = (number == 6 && n == 5).then(|| IncidentId::from("demo-incident-1"));
        let script = Script {
            id: ServiceId::new(format!("demo-service-{}-{:02}", number + 1, n + 1)),
            trainee: trainee.clone(),
            person: pick_person(group, dice),
            began,
            plan,
            pace: course.pace * practised.powf(-course.learning),
            late: if dice.percent(course.late) { 70 + u32::try_from(dice.below(60)).unwrap_or(0) } else { 0 },
            condition: LashCondition::ALL
                .get(usize::try_from(dice.below(3)).unwrap_or(1))
                .copied()
                .unwrap_or(LashCondition::Average),
            products: in_use.to_vec(),
            tint: Tint::None,
            assessed: !dice.percent(8),
            reaction,
        };
        let Some(service) = work(book, &script, dice) else { continue };
        let marked = mark(book, &service, course, dice);
        let own = Outcome { marker: trainee.clone(), observed: false, independence_next: None, ..marked.clone() };
        group.outcomes.push(Outcome { marks: own.marks.into_iter().map(kinder).collect(), ..own });
        let good = acceptable(book, &service, &marked);
        // The last service of every other trainee still waits to be marked.
        let waits = n + 1 == services && number.is_multiple_of(2);
        if script.assessed && !waits {
            let assessor =
                assessors.get(usize::try_from(n % 2).unwrap_or(0)).cloned().unwrap_or_else(|| trainee.clone());
            group.outcomes.push(Outcome { marker: assessor.clone(), ..marked });
            good_in_a_row = if good { good_in_a_row + 1 } else { 0 };
            if good_in_a_row == 4
                && let Some(next) = wider(plan)
            {
                plan = next;
                good_in_a_row = 0;
                group.decisions.push(PlanDecision {
                    id: practicum::ids::EntryId::new(String::new()),
                    trainee: trainee.clone(),
                    plan,
                    at: began + Duration::hours(4),
                    by: assessor,
                    why: "Four acceptable services in a row (demo).".to_owned(),
                });
            }
        }
        group.services.push(service);
    }
}

fn pick_person(group: &Group, dice: &mut Dice) -> PracticeModelId {
    let place = usize::try_from(dice.below(24)).unwrap_or(0);
    group.practice_models.get(place).map_or_else(|| "demo-pm-01".into(), |person| person.id.clone())
}

fn wider(plan: Plan) -> Option<Plan> {
    match plan {
        Plan::Quarters | Plan::Thirds => Some(Plan::Halves),
        Plan::Halves => Some(Plan::Whole),
        Plan::Whole => None,
    }
}

/// A trainee marks own work a little kinder.
fn kinder((id, marked): (practicum::ids::CriterionId, Marked)) -> (practicum::ids::CriterionId, Marked) {
    match marked {
        Marked::Level(Mark::Nearly) => (id, Marked::Level(Mark::Meets)),
        other => (id, other),
    }
}

fn mark(book: &CourseBook, service: &Service, course: &Course, dice: &mut Dice) -> Outcome {
    let cap = service.times.timing_cap(book.rules.late_seconds);
    let mut marks = BTreeMap::new();
    let mut faults = Vec::new();
    for criterion in applicable(book, service) {
        let usual = if dice.percent(25) { Mark::Strong } else { Mark::Meets };
        let short = criterion.core && dice.percent(course.slips)
            || criterion.id.as_str() == "symmetry" && dice.percent(course.uneven)
            || !criterion.core && !criterion.safety_critical && dice.percent(course.slips / 2);
        let mark = if criterion.watches_clocks {
            usual.min(cap)
        } else if short {
            Mark::Nearly
        } else {
            usual
        };
        if short {
            let fault = match criterion.id.as_str() {
                "symmetry" => "uneven-eyes",
                "curl" => "hooked",
                "direction" => "crossed",
                _ => "frizzy",
            };
            let eye = if dice.percent(50) { Eye::Left } else { Eye::Right };
            faults.push(FaultSeen { fault: fault.into(), eye, section: None });
        }
        marks.insert(criterion.id.clone(), Marked::Level(mark));
    }
    faults.retain(|seen| book.fault(&seen.fault).is_some());
    Outcome {
        service: service.id.clone(),
        marker: service.trainee.clone(),
        at: service.began + Duration::hours(3),
        marks,
        faults,
        comment: String::new(),
        independence_next: Some(if course.slips > 20 { 2 } else { 3 }),
        observed: dice.percent(60),
    }
}

fn acceptable(book: &CourseBook, service: &Service, outcome: &Outcome) -> bool {
    let breaches = service.times.breaches(book.rules.late_seconds);
    practicum::outcome::verdict(&applicable(book, service), &outcome.marks, &breaches)
        == practicum::outcome::Verdict::Acceptable
}
