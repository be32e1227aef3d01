//! A group's curve and its forecasts, for groups made at random, sound and broken.

use proficiency::forecast::{ForecastError, Gap, Place, Question, forecast, outlooks};
use proficiency::group_curve::{Curve, Options, Scatter, Service, Shape, Variances, fit};
use proptest::prelude::*;

/// A group of trainees who go from quarters over halves to the whole lash line.
fn group() -> impl Strategy<Value = Vec<Service>> {
    let trainee = (4_u32..14, 1_u32..4, 1_u32..5, -0.4..0.4_f64, prop::collection::vec(-0.25..0.25_f64, 14));
    prop::collection::vec(trainee, 3..7).prop_map(|trainees| {
        let mut services = Vec::new();
        for (trainee, (count, first, second, own, scatter)) in trainees.iter().enumerate() {
            let mut within = [0_u32; 4];
            for (number, scatter) in (1..=*count).zip(scatter) {
                let level: u8 = if number > first + second {
                    3
                } else if number > *first {
                    2
                } else {
                    0
                };
                within[usize::from(level)] += 1;
                let jump = 0.1 * f64::from(level) / 2.0;
                let log = 8.5 + own - 0.2 * f64::from(number).ln() + jump + scatter;
                let within = within[usize::from(level)];
                services.push(Service { trainee, number, level, within, seconds: log.exp(), other_medium: false });
            }
        }
        services
    })
}

/// Fewer shapes than the app's, so that a hundred groups take seconds.
fn options() -> Options {
    Options { shapes: vec![Shape::Power, Shape::Exponential(0.1)], ..Options::default() }
}

fn question(trainee: Option<usize>, target: f64, gap: Gap) -> Question {
    Question { trainee, done: 12, level: 3, done_at_level: 4, target, gap }
}

fn curve(services: &[Service]) -> Curve {
    fit(services, &options()).expect("a group of three or more has a curve")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn an_interval_never_shrinks_as_the_gap_grows(services in group(), tau in 0.0..0.2_f64) {
        let curve = curve(&services);
        for trainee in [None, Some(0)] {
            let outlooks = outlooks(&curve, trainee);
            let mut before = (0.0, 0.0);
            for weeks in [0.0, 0.5, 1.0, 3.0, 10.0, 40.0, 400.0] {
                let place = Place { number: 13, level: 2, within: 3, other_medium: false };
                let outlook = outlooks.at(place, Gap { weeks, tau, refresher_weeks: None });
                let width = |(low, high): (f64, f64)| (high / low).ln();
                let now = (width(outlook.typical_band(0.8).unwrap()), width(outlook.single_band(0.8).unwrap()));
                prop_assert!(now.0 >= before.0 - 1e-6 && now.1 >= before.1 - 1e-6, "{weeks}: {before:?} {now:?}");
                before = now;
            }
        }
    }

    #[test]
    fn a_surer_forecast_never_comes_sooner(services in group(), target in 1500.0..6000.0_f64) {
        let curve = curve(&services);
        for trainee in [None, Some(1)] {
            let Ok(found) = forecast(&curve, &question(trainee, target, Gap::NONE)) else { continue };
            for needed in [found.typical, found.single] {
                let count = |needed: Option<u32>| needed.unwrap_or(u32::MAX);
                prop_assert!(count(needed.even) <= count(needed.four_in_five), "{found:?}");
                prop_assert!(count(needed.four_in_five) <= count(needed.nineteen_in_twenty), "{found:?}");
            }
            prop_assert!((0.0..=1.0).contains(&found.typical_next) && (0.0..=1.0).contains(&found.single_next));
        }
    }

    #[test]
    fn an_easier_target_is_never_reached_later(services in group(), target in 1500.0..5000.0_f64) {
        let curve = curve(&services);
        let needed = |target: f64| forecast(&curve, &question(Some(0), target, Gap::NONE)).map(|found| found.typical.even);
        if let (Ok(hard), Ok(easy)) = (needed(target), needed(target * 1.2)) {
            prop_assert!(easy.unwrap_or(u32::MAX) <= hard.unwrap_or(u32::MAX), "{easy:?} {hard:?}");
        }
    }

    #[test]
    fn the_order_of_the_rows_changes_nothing(services in group(), turn in 1_usize..30) {
        let mut turned = services.clone();
        turned.reverse();
        let by = turn % turned.len();
        turned.rotate_left(by);
        let (one, other) = (curve(&services), curve(&turned));
        for (a, b) in one.shapes.iter().zip(&other.shapes) {
            prop_assert!((a.fit.objective() - b.fit.objective()).abs() < 1e-5, "{} {}", a.fit.objective(), b.fit.objective());
            for (a, b) in a.fit.beta().iter().zip(b.fit.beta()) {
                prop_assert!((a - b).abs() < 1e-3, "{a} {b}");
            }
        }
        prop_assert_eq!((&one.merged, &one.dropped, one.flagged.len()), (&other.merged, &other.dropped, other.flagged.len()));
    }

    #[test]
    fn nothing_panics_and_every_answer_is_a_number(
        mut services in prop::collection::vec(wild(), 0..40),
        sound in group(),
        with_sound in any::<bool>(),
        plain in any::<bool>(),
        floor in prop::option::of(0_u32..5),
    ) {
        if with_sound {
            services.extend(sound);
        }
        let mut options = options();
        options.relearning_floor = floor;
        if plain {
            options.scatter = Scatter::Normal;
            options.variances = Variances::Plain;
        }
        let Ok(curve) = fit(&services, &options) else { return Ok(()) };
        prop_assert_eq!(curve.weights.len(), services.len());
        prop_assert_eq!(curve.residuals.len(), services.len());
        for trainee in [None, Some(0), Some(77)] {
            for level in [0, 3, 200] {
                let question = Question { level, ..question(trainee, 3000.0, Gap::NONE) };
                match forecast(&curve, &question) {
                    Ok(found) => prop_assert!((0.0..=1.0).contains(&found.typical_next), "{found:?}"),
                    Err(ForecastError::UnknownTrainee) => prop_assert!(!curve.knows_trainee(trainee.unwrap())),
                    Err(_) => {}
                }
            }
        }
        let bad = [f64::NAN, f64::INFINITY, -1.0];
        for weeks in bad {
            let gap = Gap { weeks, tau: 0.1, refresher_weeks: None };
            prop_assert!(forecast(&curve, &question(None, 3000.0, gap)).is_err());
            prop_assert!(forecast(&curve, &question(None, weeks, Gap::NONE)).is_err());
        }
    }
}

/// A service of any kind, most of them broken.
fn wild() -> impl Strategy<Value = Service> {
    let seconds = prop_oneof![
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(0.0),
        Just(-5.0),
        Just(1e300),
        Just(1e-300),
        Just(3600.0),
        1.0..40_000.0_f64,
    ];
    let number = prop_oneof![Just(0_u32), Just(1), 1..30_u32, Just(u32::MAX)];
    let level = prop_oneof![0_u8..4, any::<u8>()];
    (0_usize..5, number, level, 0_u32..5, seconds, any::<bool>()).prop_map(
        |(trainee, number, level, within, seconds, other_medium)| Service {
            trainee,
            number,
            level,
            within,
            seconds,
            other_medium,
        },
    )
}

#[test]
fn past_the_refresher_gap_there_is_no_forecast() {
    let services: Vec<Service> = (0..4)
        .flat_map(|trainee| {
            (1..=8_u32).map(move |number| Service {
                trainee,
                number,
                level: 0,
                within: number,
                seconds: 4000.0 + 300.0 * trainee as f64 - 150.0 * f64::from(number)
                    + f64::from(number * number % 7) * 60.0,
                other_medium: false,
            })
        })
        .collect();
    let curve = curve(&services);
    let gap = |weeks| Gap { weeks, tau: 0.05, refresher_weeks: Some(6.0) };
    let ask = |weeks| forecast(&curve, &Question { level: 0, ..question(Some(2), 3000.0, gap(weeks)) });
    assert!(ask(6.0).is_ok());
    assert_eq!(ask(6.5), Err(ForecastError::RefresherFirst { weeks: 6.5, limit: 6.0 }));
    let unseen = forecast(&curve, &question(Some(2), 3000.0, gap(0.0)));
    assert_eq!(unseen, Err(ForecastError::LevelUnseen));
}
