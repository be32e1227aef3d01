//! Statistics: the public functions that the other properties do not reach, given any numbers whatever.

use proficiency::chart::Constants;
use proficiency::competence::comparison::{compare, recommend, smallest_fixed};
use proficiency::competence::monitor::{MonitoringCusum, reference};
use proficiency::competence::normal_chart::NormalCusum;
use proficiency::competence::rubric::{ScoreCusum, Scores};
use proficiency::competence::rules::{Rule, Widening};
use proficiency::competence::sequential::Sequential;
use proficiency::competence::surgical::SurgicalCusum;
use proficiency::competence::trial::{at_most, bound_withdrawn, combined};
use proficiency::competence::{Rates, steady};
use proficiency::group_curve::SHAPES;
use proficiency::kappa::Table;
use proficiency::leniency::{Mark, leniency};
use proficiency::middle::median;
use proficiency::mixed::{Criterion, Fit, Mixed, Rows, Structure};
use proficiency::nonlinear::starts_about;
use proficiency::normal::{above, exceeded_with};
use proficiency::proportion::chance_of_clean_run;
use proficiency::special::{beta_tails, gamma_tails};
use proficiency::timeline::overrun::Spread;
use proptest::prelude::*;

/// Any number: ordinary, equal, huge, tiny, infinite, none.
fn any_number() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -100.0..100.0,
        3 => 0.0..1.0,
        2 => (0_i32..9).prop_map(f64::from),
        1 => any::<f64>(),
        1 => prop::sample::select(vec![
            f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, f64::MIN_POSITIVE, 5e-324, -0.0, 1e300, 1e-300, 1.0,
        ]),
    ]
}

/// A number of which most are fit for a table of times.
fn mostly_sound() -> impl Strategy<Value = f64> {
    prop_oneof![20 => 1.0..9.0, 4 => Just(3.0), 1 => prop::sample::select(vec![0.0, 1e9, -1e150, 1e-200, f64::NAN])]
}

fn chance(value: f64) -> bool {
    (-1e-12..=1.0 + 1e-12).contains(&value)
}

/// Whether all that a fit says is finite.
fn sound(fit: &Fit) -> bool {
    let cells = fit.beta_covariance().into_iter().chain(fit.group_covariance()).flatten();
    let groups = fit.groups().iter().filter_map(|label| fit.group_effects(*label)).flatten();
    cells.chain(groups).chain(fit.beta()).chain(fit.theta()).chain([fit.sigma(), fit.objective()]).all(f64::is_finite)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn decisions_are_chances_or_refused(
        a in any_number(), b in any_number(), c in any_number(), d in any_number(), size in any::<u32>(), few in 1_u32..20,
        failures in prop::collection::vec(any::<bool>(), 0..30),
    ) {
        if let Ok(chart) = reference(a, b) {
            prop_assert!(chart.m >= 2 && chart.gamma > 0.0, "{chart:?}");
        }
        for chart in MonitoringCusum::quiet_for(a, b, c.min(2000.0)).into_iter().chain([MonitoringCusum { m: few, limit: size % 300 }]) {
            prop_assert!(chart.first_signal(&failures).is_none_or(|at| at <= failures.len()));
            prop_assert!(chart.services_to_signal(d).map_or(true, |mean| !mean.is_nan() && mean >= 0.0), "{chart:?} {d}");
        }
        if let Ok(chart) = SurgicalCusum::new(a, b, c, d) {
            let _ = chart.first_crossing(&failures);
            prop_assert!(chart.path(&failures).iter().all(|value| value.is_finite()));
        }
        if let Ok(rates) = Rates::new(a, b) {
            for test in Sequential::wald(rates, c, d).into_iter().chain(Sequential::calibrated(rates, few, c, d)) {
                prop_assert!(test.pass_bound() < test.reject_bound() && test.pass_score() < 0.0 && test.fail_score() > 0.0);
                let course = test.course(&steady(0.3, few).unwrap()).unwrap();
                prop_assert!(chance(course.passes()) && chance(course.stop_by(20)) && course.pass_by(3) <= course.passes() + 1e-12);
                prop_assert!(course.services_when_passed().is_none_or(|mean| mean <= f64::from(few) + 1e-9));
                prop_assert!(course.earliest_pass().is_none_or(|at| at <= few));
                prop_assert!(chance(course.premature(&[0.3; 20], d)));
            }
            if let Ok((services, failures)) = smallest_fixed(rates, c.clamp(0.05, 0.5), d.clamp(0.1, 0.9)) {
                prop_assert!(failures < services);
            }
        }
        let rules = [Rule::InARow { passes: few }, Rule::OfLast { window: few.min(9), failures: size % 4 }];
        let rows = compare(Rates::new(0.4, 0.05).unwrap(), &[0.3; 12], &rules).unwrap();
        prop_assert!(recommend(&rows, a, b).is_none_or(|place| place < rows.len()));
        let one_look = Widening { last: few, failures: size % 5 }.one_look(a);
        prop_assert!(one_look.is_ok_and(chance) || !(0.0..=1.0).contains(&a));
        prop_assert!(at_most(size % 50, few, a).is_none_or(chance) && combined(&[a, b]).is_ok_and(chance) || combined(&[a, b]).is_err());
        prop_assert!(chance_of_clean_run(a, size).is_none_or(chance));
        let _ = bound_withdrawn(size, few, a);
    }

    #[test]
    fn charts_on_scores_end_or_are_refused(a in any_number(), b in any_number(), c in any_number(), d in any_number(), states in any::<u32>()) {
        if let Ok(chart) = NormalCusum::new(a, b) {
            for length in [chart.run_length(c, d), chart.run_length_two_sided(c, d), chart.run_length_by_chain(c, states % 60)] {
                prop_assert!(length.is_err() || length.is_ok_and(|length| length >= 1.0 - 1e-9), "{chart:?} {c} {d}: {length:?}");
            }
        }
        if let Ok(limit) = NormalCusum::limit_for(a.clamp(0.05, 3.0), b.clamp(2.0, 500.0)) {
            prop_assert!(limit > 0.0 && limit.is_finite());
        }
        if let Ok(scores) = Scores::new(a, b, c) {
            prop_assert!(scores.apart() > 0.0);
            if let Ok(chart) = ScoreCusum::new(scores, d) {
                prop_assert!(chart.score(b).is_finite() && chart.score(f64::NAN) == 0.0);
                prop_assert!(chart.shortest_run(a).is_none_or(|run| run >= 1));
            }
        }
    }

    #[test]
    fn small_helpers_answer_or_say_nothing(
        a in any_number(), b in any_number(), x in any_number(), y in any_number(), list in prop::collection::vec(any_number(), 0..9),
        pairs in prop::collection::vec((0_usize..5, 0_usize..5), 0..9), categories in 0_usize..6, more in 0_u16..30,
    ) {
        for tails in [gamma_tails(a, x), beta_tails(a, b, x, y)].into_iter().flatten() {
            prop_assert!(chance(tails.lower) && chance(tails.upper), "{a} {b} {x} {y}: {tails:?}");
        }
        prop_assert!(x.is_nan() || chance(above(x)));
        prop_assert!(exceeded_with(a).is_none_or(|z| !z.is_nan()));
        prop_assert!(median(&list).is_none_or(f64::is_finite));
        prop_assert!(Constants::Exact.mean_range() > 1.0 && Constants::Printed.range_limit() > 3.0);
        prop_assert_eq!(starts_about(&list, more, a).iter().filter(|start| start.len() != list.len()).count(), 0);
        if let Ok(table) = Table::of_pairs(&pairs, categories) {
            prop_assert!(table.companions().is_ok_and(|found| chance(found.share_agreed)) || table.companions().is_err());
        }
        for shape in SHAPES {
            prop_assert!(!(1.0..1e6).contains(&x) || shape.practice(x).is_finite());
        }
        let _ = Spread { median: a, log_sd: b }.planned(x);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn mixed_fits_are_finite_or_refused(
        rows in prop::collection::vec((mostly_sound(), mostly_sound(), 0_usize..4), 0..24), theta in prop::collection::vec(any_number(), 0..5),
        weights in prop::collection::vec(any_number(), 0..24), nu in any_number(), at in prop::collection::vec(any_number(), 0..4),
    ) {
        let response: Vec<f64> = rows.iter().map(|row| row.0).collect();
        let column: Vec<f64> = rows.iter().map(|row| row.1).collect();
        let group: Vec<usize> = rows.iter().map(|row| row.2).collect();
        let both = [vec![1.0; rows.len()], column];
        for structure in [Structure::Full, Structure::Diagonal] {
            let rows = Rows { response: &response, fixed: &both, group: &group, random: &both, structure, crossed: &[] };
            let Ok(mixed) = Mixed::new(&rows) else { continue };
            let _ = (mixed.objective(Criterion::Reml, &theta), mixed.objective(Criterion::Ml, &theta), mixed.weighted(&weights));
            let robust = mixed.fit_student(Criterion::Reml, nu).map(|robust| robust.fit);
            let averaged = mixed.averaged().map(|averaged| averaged.mode);
            for fit in [mixed.fit(Criterion::Reml), mixed.fit(Criterion::Ml), mixed.fit_penalised(), robust, averaged] {
                let Ok(fit) = fit else { continue };
                prop_assert!(sound(&fit), "{:?}", fit.theta());
                prop_assert!(fit.coefficients().into_iter().flatten().all(|found| chance(found.p_two_sided) || found.p_two_sided.is_nan()));
                prop_assert!(mixed.residuals(&fit).iter().all(|residual| residual.is_finite()));
                let there = fit.predict(group.first().copied(), &[1.0, 5.0], &[1.0, 5.0]);
                prop_assert!(there.mean.is_finite() && there.variance >= 0.0 && there.single() >= there.variance);
                let _ = (fit.predict(None, &at, &at), fit.group_effects(99), fit.group_effects_covariance(0), fit.crossed_effects(3), fit.crossed_sd());
            }
        }
    }

    #[test]
    fn lenient_assessors_are_found_or_refused(marks in prop::collection::vec((0_usize..4, 0_usize..3, mostly_sound()), 0..30), share in any_number()) {
        let marks: Vec<Mark> = marks.into_iter().map(|(trainee, assessor, score)| Mark { trainee, assessor, score }).collect();
        if let Ok(found) = leniency(&marks) {
            prop_assert!([found.mean, found.trainee_sd, found.assessor_sd, found.residual_sd].iter().all(|value| value.is_finite()));
            prop_assert!(share.is_nan() || share <= 0.0 || found.beyond(share).iter().all(|assessor| found.of(*assessor) != 0.0));
        }
    }
}
