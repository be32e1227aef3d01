//! What the app says of a group's curve, against lme4's fit of the same group.
//!
//! `checks/03_lme_lash12.json` names its source. The app's curve averages eight shapes (the power law has 92 % of
//! the likelihood here), weighs far-off services down and ends relearning after 12, so that the two agree closely
//! and not to the last digit: the typical times to 6 %, the steps to one standard error.

use practicum::evidence::learning::{Ask, Basis, Figures, Past, Pool, Row, Term, answer};
use practicum::section::Plan;
use serde_json::Value;

const FILE: &str = include_str!("checks/03_lme_lash12.json");
/// Agreement of ln(seconds).
const CLOSE: f64 = 0.06;

/// A service of the file: whose, its number, plan, place within the plan and seconds.
struct Service {
    name: String,
    row: Row,
}

fn services(file: &Value) -> Vec<Service> {
    let column = |name: &str| file["inputs"]["columns"][name].as_array().unwrap().clone();
    let (names, numbers, within) = (column("trainee"), column("n"), column("m_within_plan"));
    let (plans, seconds) = (column("plan"), column("time_s"));
    let whole = |value: &Value| u32::try_from(value.as_u64().unwrap()).unwrap();
    let one = |at: usize| {
        let plan = match plans[at].as_str().unwrap() {
            "quarters" => Plan::Quarters,
            "halves" => Plan::Halves,
            "whole" => Plan::Whole,
            other => panic!("{other}"),
        };
        let name = names[at].as_str().unwrap().to_owned();
        let trainee = name[1..].parse::<u32>().unwrap() - 1;
        let seconds = seconds[at].as_f64().unwrap();
        Service { row: Row { trainee, number: whole(&numbers[at]), plan, within: whole(&within[at]), seconds }, name }
    };
    (0..names.len()).map(one).collect()
}

fn ask_about(trainee: u32, services: &[Service]) -> Ask {
    let own: Vec<&Row> = services.iter().map(|service| &service.row).filter(|row| row.trainee == trainee).collect();
    let mut done_at = [0; 4];
    for row in &own {
        done_at[Plan::ALL.iter().position(|plan| *plan == row.plan).unwrap()] = row.within;
    }
    Ask {
        rows: services.iter().map(|service| service.row).collect(),
        pool: Pool::Group,
        trainee: Some(trainee),
        past: own.iter().map(|row| Past { number: row.number, plan: row.plan, within: row.within }).collect(),
        done: own.len().try_into().unwrap(),
        done_at,
        weeks: 0.0,
        present: Plan::Whole,
        plans: vec![Plan::Whole],
        targets: [None, None, None, Some(2700.0)],
        refresher_weeks: 8.0,
        figures: Some(Figures { tau: 0.05, ahead: 1 }),
    }
}

#[test]
fn typical_times_and_steps_agree_with_lme4() {
    let file: Value = serde_json::from_str(FILE).unwrap();
    let fit = &file["expected"]["REML"];
    let number = |value: &Value| value.as_f64().unwrap();
    let [b0, b1, half, whole, relearning] =
        ["(Intercept)", "ln", "h", "w", "lm"].map(|name| number(&fit["beta"][name]));
    let services = services(&file);
    let mut compared = 0;
    for (at, name) in fit["levels"].as_array().unwrap().iter().enumerate() {
        let trainee = u32::try_from(at).unwrap();
        let found = answer(&ask_about(trainee, &services));
        assert_eq!((found.basis, found.trainees, found.shape_known), (Basis::Pool, 12, true));
        let own = &fit["blup"][at];
        for service in services.iter().filter(|service| service.row.trainee == trainee) {
            assert_eq!(service.name, name.as_str().unwrap());
            let Row { number: n, plan, within, .. } = service.row;
            let ln = f64::from(n).ln();
            let above = |yes: bool, value: f64| if yes { value } else { 0.0 };
            let coarser = plan > Plan::Quarters;
            let expected = b0
                + number(&own[0])
                + (b1 + number(&own[1])) * ln
                + above(coarser, half + relearning * f64::from(within).ln())
                + above(plan == Plan::Whole, whole);
            let point = found.curve(plan).unwrap().past.iter().find(|point| point.number == n).unwrap();
            let apart = point.typical.ln() - expected;
            assert!(
                apart.abs() < CLOSE,
                "{} service {n}: {} s, lme4 {} s",
                service.name,
                point.typical,
                expected.exp()
            );
            compared += 1;
        }
        let effect = |term: Term| found.effects.iter().find(|effect| effect.term == term).unwrap();
        let errors = &fit["se_beta"];
        for (term, value, error) in [
            (Term::Step(Plan::Halves), half, &errors[2]),
            (Term::Step(Plan::Whole), whole, &errors[3]),
            (Term::Relearning, relearning, &errors[4]),
        ] {
            let found = effect(term);
            assert!((found.value - value).abs() < number(error), "{term:?}: {found:?}, lme4 {value}");
            assert!((found.error / number(error)).ln().abs() < 0.5, "{term:?}: {found:?}, lme4 {error}");
        }
    }
    assert_eq!(compared, services.len());
}
