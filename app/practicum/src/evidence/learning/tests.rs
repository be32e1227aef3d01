//! What the curve says of invented trainees.

mod asking;
mod saying;
mod standard;

use super::*;

/// A fixed sequence of numbers that look drawn at random (Steele, Lea and Flood 2014, SplitMix).
pub(super) struct Draw(pub(super) u64);

impl Draw {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Sum of twelve even draws less six: as good as normal here.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| (self.next() >> 11) as f64 / 2.0_f64.powi(53)).sum::<f64>() - 6.0
    }
}

/// Trainees who go from quarters over halves to the whole line, each with so many services.
pub(super) fn group(trainees: u32, each: u32, seed: u64) -> Ask {
    let mut draw = Draw(seed);
    let (mut rows, mut past, mut done_at) = (Vec::new(), Vec::new(), [0_u32; 4]);
    for trainee in 0..trainees {
        let (own, slope) = (0.25 * draw.normal(), 0.05 * draw.normal());
        let mut within = [0_u32; 4];
        for number in 1..=each {
            let plan = match number * 4 / (each + 1) {
                0 | 1 => Plan::Quarters,
                2 => Plan::Halves,
                _ => Plan::Whole,
            };
            let at = &mut within[place(plan)];
            *at += 1;
            let step = [0.0, 0.0, 0.12, 0.22][place(plan)];
            let log = 5400.0_f64.ln() + own + (slope - 0.25) * f64::from(number).ln() + step + 0.1 * draw.normal();
            rows.push(Row { trainee, number, plan, within: *at, seconds: log.exp().round() });
            if trainee == 0 {
                past.push(Past { number, plan, within: *at });
            }
        }
        if trainee == 0 {
            done_at = within;
        }
    }
    Ask {
        rows,
        pool: Pool::Group,
        trainee: Some(0),
        past,
        done: each,
        done_at,
        weeks: 0.0,
        present: Plan::Whole,
        plans: vec![Plan::Whole],
        targets: [Some(4800.0), Some(4200.0), Some(3600.0), Some(2700.0)],
        refresher_weeks: 8.0,
        figures: Some(Figures { tau: 0.05, ahead: 10 }),
    }
}

fn finite(answer: &Answer) -> bool {
    let points = answer.curves.iter().flat_map(|curve| curve.past.iter().chain(&curve.ahead));
    let sound = |point: &Point| {
        let (low, high) = point.typical_band;
        let (lowest, highest) = point.single_band;
        lowest > 0.0
            && lowest <= low
            && low <= point.typical
            && point.typical <= high
            && high <= highest
            && highest.is_finite()
    };
    points.into_iter().all(sound)
}

#[test]
fn a_group_of_twelve_has_curves_forecasts_and_residuals() {
    let found = answer(&group(12, 16, 7));
    assert_eq!((found.basis, found.trainees, found.services, found.own), (Basis::Pool, 12, 192, 16));
    assert!(found.shape_known && !found.newcomer);
    assert_eq!(
        found.curves.iter().map(|curve| curve.plan).collect::<Vec<_>>(),
        [Plan::Quarters, Plan::Halves, Plan::Whole]
    );
    assert_eq!(found.curves.iter().map(|curve| curve.past.len()).sum::<usize>(), 16);
    assert_eq!(found.curve(Plan::Whole).unwrap().ahead.len(), 10);
    assert_eq!(found.residuals.len(), 16);
    assert!(finite(&found));
    let forecast = found.forecast(Plan::Whole).unwrap().outcome.unwrap();
    assert!((0.0..=1.0).contains(&forecast.typical_next) && (0.0..=1.0).contains(&forecast.single_next));
    let total: f64 = found.shapes.iter().map(|shape| shape.share).sum();
    assert!((total - 1.0).abs() < 1e-9 && found.shapes.len() == 8);
}

fn widths(answer: &Answer) -> Vec<f64> {
    let points = answer.curves.iter().flat_map(|curve| &curve.ahead);
    points.flat_map(|point| [point.typical_band, point.single_band].map(|(low, high)| (high / low).ln())).collect()
}

#[test]
fn a_range_never_shrinks_as_the_gap_grows() {
    for trainees in [1, 4, 12] {
        let mut ask = group(trainees, 12, 5);
        ask.refresher_weeks = 1000.0;
        if trainees == 1 {
            ask.plans = vec![Plan::Quarters];
        }
        let mut before: Option<(Vec<f64>, PlanForecast)> = None;
        for weeks in [0.0, 0.5, 1.0, 4.0, 52.0, 500.0] {
            ask.weeks = weeks;
            let found = answer(&ask);
            let now = (widths(&found), found.forecasts[0]);
            if let Some((widths, _)) = &before {
                assert_eq!(now.0.len(), widths.len());
                for (wider, than) in now.0.iter().zip(widths) {
                    assert!(*wider >= than - 1e-6, "{trainees} trainees, {weeks} weeks: {wider} {than}");
                }
            }
            before = Some(now);
        }
        assert!(before.is_some_and(|(widths, _)| widths.len() == 20), "{trainees}");
    }
}

#[test]
fn past_the_refresher_gap_nothing_is_forecast() {
    for trainees in [1, 4, 12] {
        let mut ask = group(trainees, 12, 5);
        ask.weeks = 8.2;
        let found = answer(&ask);
        let curve = found.curve(Plan::Whole).unwrap();
        assert!(curve.ahead.is_empty() && !curve.past.is_empty());
        let why = NoForecast::RefresherFirst { weeks: 8.2, limit: 8.0 };
        assert_eq!((curve.no_ahead, found.forecasts[0].outcome), (Some(why), Err(why)));
    }
}

#[test]
fn the_order_of_rows_does_not_matter() {
    for trainees in [1, 5, 12] {
        let ask = group(trainees, 12, 11);
        let found = answer(&ask);
        let mut turned = ask.clone();
        turned.rows.reverse();
        let other = answer(&turned);
        for (a, b) in found.curves.iter().zip(&other.curves) {
            for (a, b) in a.past.iter().chain(&a.ahead).zip(b.past.iter().chain(&b.ahead)) {
                assert!((a.typical / b.typical - 1.0).abs() < 1e-6, "{a:?} {b:?}");
                assert!((a.single_band.1 / b.single_band.1 - 1.0).abs() < 1e-5, "{a:?} {b:?}");
            }
        }
        let last = ask.rows.len() as u32 - 1;
        for (a, b) in found.residuals.iter().zip(&other.residuals) {
            assert_eq!((a.number, a.row, a.flagged), (b.number, last - b.row, b.flagged));
            assert!((a.residual - b.residual).abs() < 1e-6);
        }
    }
}

#[test]
fn a_service_far_off_is_flagged_and_named() {
    let mut ask = group(12, 14, 2);
    let at = ask.rows.iter().position(|row| row.trainee == 0 && row.number == 12).unwrap();
    ask.rows[at].seconds *= 3.0;
    let found = answer(&ask);
    let flagged: Vec<(u32, u32)> =
        found.residuals.iter().filter(|one| one.flagged).map(|one| (one.row, one.number)).collect();
    assert_eq!(flagged, [(at as u32, 12)]);
    assert!(found.residuals.iter().all(|one| one.number == 12 || one.residual.abs() < 4.0), "{:?}", found.residuals);
}

#[test]
fn a_plan_that_too_few_have_reached_is_counted_with_its_neighbour_and_that_is_said() {
    let mut ask = group(5, 12, 9);
    ask.rows.retain(|row| row.plan != Plan::Whole || row.trainee < 2);
    let found = answer(&ask);
    assert_eq!(found.merged, [Merged { plan: Plan::Whole, into: Plan::Halves, trainees: 2 }]);
    assert_eq!(found.forecasts[0].outcome.unwrap().counted_with, Some(Plan::Halves));
    assert!(notes(&found).iter().any(|note| note.contains("counted with those in halves")));
    ask.rows.retain(|row| row.plan != Plan::Whole);
    assert_eq!(answer(&ask).forecasts[0].outcome, Err(NoForecast::PlanUnseen));
}

#[test]
fn a_trainee_without_a_time_is_told_what_holds_for_any_new_one() {
    let mut ask = group(12, 12, 9);
    ask.rows.retain(|row| row.trainee != 0);
    (ask.trainee, ask.done, ask.done_at, ask.past) = (None, 0, [0; 4], Vec::new());
    (ask.present, ask.plans) = (Plan::Quarters, vec![Plan::Quarters, Plan::Halves]);
    let found = answer(&ask);
    assert!(found.newcomer && found.residuals.is_empty() && finite(&found));
    assert_eq!(found.curve(Plan::Quarters).unwrap().ahead.len(), 10);
    let known = answer(&group(12, 12, 9));
    let width = |answer: &Answer, plan: Plan| {
        let (low, high) = answer.curve(plan).unwrap().ahead[0].typical_band;
        (high / low).ln()
    };
    assert!(width(&found, Plan::Quarters) > width(&known, Plan::Whole), "less is known of somebody new");
}

#[test]
fn one_trainee_alone_agrees_with_a_line_through_the_logarithms() {
    // ln T = 8 - ln n / 2 and residuals that leave intercept and slope as they are: by hand from the normal equations.
    let mut ask = group(1, 4, 1);
    let numbers = [1.0_f64, 2.0, 4.0, 8.0];
    let residuals = [0.02, -0.04, 0.02, 0.0];
    ask.rows = numbers
        .iter()
        .zip(residuals)
        .enumerate()
        .map(|(at, (number, residual))| Row {
            trainee: 0,
            number: *number as u32,
            plan: Plan::Quarters,
            within: at as u32 + 1,
            seconds: (8.0 - number.ln() / 2.0 + residual).exp(),
        })
        .collect();
    ask.past = ask.rows.iter().map(|row| Past { number: row.number, plan: row.plan, within: row.within }).collect();
    (ask.done, ask.plans, ask.present) = (8, vec![Plan::Quarters], Plan::Quarters);
    let found = answer(&ask);
    assert_eq!(found.basis, Basis::Alone);
    // x = ln 2 * (0, 1, 2, 3), mean 1.5; sum of squares 5 ln^2 2; sum x r = ln 2 * (-0.04 + 0.04) = 0; sum r = 0.
    let sd = (0.0024_f64 / 2.0).sqrt();
    assert!((found.scatter - sd).abs() < 1e-12 && found.freedom == 2.0);
    let ahead = found.curve(Plan::Quarters).unwrap().ahead[7];
    assert_eq!(ahead.number, 16);
    assert!((ahead.typical.ln() - (8.0 - 16.0_f64.ln() / 2.0)).abs() < 1e-12);
    let error = sd * (0.25 + 2.5 * 2.5 / 5.0_f64).sqrt();
    // Student's t, 90 %, two degrees of freedom: 1.885618 (printed tables).
    assert!((ahead.typical_band.1.ln() - ahead.typical.ln() - 1.885_618 * error).abs() < 1e-6);
}

#[test]
fn bad_input_panics_nowhere_and_gives_only_finite_ranges() {
    let row =
        |trainee: u32, number: u32, plan: Plan, seconds: f64| Row { trainee, number, plan, within: number, seconds };
    let many = |seconds: &dyn Fn(u32, u32) -> f64| -> Vec<Row> {
        (0..4)
            .flat_map(|trainee| (1..=5).map(move |number| (trainee, number)))
            .map(|(trainee, number)| row(trainee, number, Plan::Quarters, seconds(trainee, number)))
            .collect()
    };
    let cases: Vec<(&str, Vec<Row>)> = vec![
        ("none", Vec::new()),
        ("one service", vec![row(0, 1, Plan::Quarters, 3000.0)]),
        (
            "one service each",
            (0..4).map(|trainee| row(trainee, 1, Plan::Quarters, 3000.0 + f64::from(trainee))).collect(),
        ),
        ("all equal", many(&|_, _| 3000.0)),
        ("equal but for one", many(&|trainee, number| if trainee + number == 5 { 3001.0 } else { 3000.0 })),
        ("each trainee steady", many(&|trainee, _| 3000.0 + 400.0 * f64::from(trainee))),
        ("zero", many(&|_, number| if number == 2 { 0.0 } else { 3000.0 - f64::from(number * number) * 9.0 })),
        (
            "nine hours",
            many(&|trainee, number| {
                if trainee == 1 && number == 3 { 32_400.0 } else { 3000.0 / f64::from(number + trainee) }
            }),
        ),
        ("not a number", many(&|_, number| if number == 4 { f64::NAN } else { 2900.0 + f64::from(number) })),
        ("huge", many(&|trainee, number| if trainee == number { f64::MAX } else { 1e-300 })),
        ("two plans skipped", {
            let mut rows = many(&|trainee, number| 3000.0 - f64::from(number * 100) + f64::from(trainee * 31 % 7));
            rows.iter_mut().filter(|row| row.number > 3).for_each(|row| row.plan = Plan::Whole);
            rows
        }),
        ("every trainee another plan", {
            let mut rows = many(&|trainee, number| {
                3000.0 - f64::from(number * 100) + f64::from((trainee * 31 + number * 17) % 70)
            });
            rows.iter_mut().for_each(|row| row.plan = Plan::ALL[row.trainee as usize]);
            rows
        }),
    ];
    for (name, rows) in cases {
        for trainee in [None, Some(0)] {
            for target in [Some(2500.0), Some(f64::INFINITY)] {
                let mut ask = group(0, 0, 1);
                ask.past = rows
                    .iter()
                    .filter(|row| Some(row.trainee) == trainee)
                    .map(|row| Past { number: row.number, plan: row.plan, within: row.within })
                    .collect();
                (ask.rows, ask.trainee, ask.targets) = (rows.clone(), trainee, [target; 4]);
                (ask.done, ask.done_at, ask.plans) = (5, [5, 0, 0, 0], Plan::ALL.to_vec());
                let found = answer(&ask);
                assert!(finite(&found), "{name}: {found:?}");
                assert_eq!(found.forecasts.len(), 4, "{name}");
                let said: Vec<String> =
                    found.forecasts.iter().map(sentence).chain(notes(&found)).chain(workings(&found)).collect();
                for said in said {
                    assert!(!said.contains("NaN") && !said.contains("inf "), "{name}: {said}");
                }
            }
        }
    }
    let equal = answer(&Ask { rows: many(&|_, _| 3000.0), ..group(4, 5, 1) });
    assert_eq!(equal.basis, Basis::Nothing(TooLittle::Alike));
}

#[test]
fn steps_lead_to_the_same_answer() {
    let ask = group(5, 9, 4);
    let mut answering = Answering::new(&ask);
    let mut steps = 1;
    let found = loop {
        if let Some(found) = answering.step() {
            break found;
        }
        steps += 1;
    };
    assert!(steps > 16, "{steps}");
    assert_eq!(found, answer(&ask));
}

#[test]
fn a_line_that_may_be_level_is_not_drawn_ahead() {
    let mut ask = group(1, 9, 21);
    ask.plans = vec![Plan::Halves];
    let found = answer(&ask);
    assert_eq!(found.basis, Basis::Alone);
    let halves = found.curve(Plan::Halves).unwrap();
    assert!(!halves.past.is_empty() && halves.ahead.is_empty());
    assert_eq!(halves.no_ahead, Some(NoForecast::NoTrend));
    assert_eq!(found.forecasts[0].outcome, Err(NoForecast::NoTrend));
}
