//! Statistics: any numbers whatever give finite answers or a reason, never a panic and never an endless search.

use proficiency::chart::{Constants, limits, signals};
use proficiency::distribution::*;
use proficiency::intraclass::intraclass;
use proficiency::kappa::{Table, Weights, fleiss};
use proficiency::learning_curve::*;
use proficiency::linear::{self, Intercept};
use proficiency::nonlinear::{self, Curve};
use proficiency::number::Number;
use proficiency::own_curve;
use proficiency::plateau::{self, Bounds, Shape};
use proficiency::proportion::*;
use proficiency::rank::*;
use proficiency::robust::{self, Loss};
use proficiency::special::ln_gamma;
use proficiency::trend::*;
use proptest::prelude::*;

/// Numbers as they come and as they should not: ordinary, equal, huge, tiny, infinite, none.
fn wild() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => -1e4..1e4,
        2 => (1_i32..20).prop_map(f64::from),
        1 => Just(0.0),
        1 => any::<f64>(),
        1 => prop::sample::select(vec![
            f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, f64::MIN, f64::MIN_POSITIVE, 5e-324, -0.0, 1e300, 1e-300,
        ]),
    ]
}

/// Numbers of which most are ordinary, so that what lies past the first check is reached.
fn tame() -> impl Strategy<Value = f64> {
    prop_oneof![
        6 => 1.0..9000.0,
        2 => (1_i32..9).prop_map(f64::from),
        1 => Just(1800.0),
        1 => prop::sample::select(vec![0.0, -5.0, 1e9, 1e-9, 1e150, 1e308]),
    ]
}

fn list(of: impl Strategy<Value = f64>) -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec(of, 0..14)
}

fn either_list() -> impl Strategy<Value = Vec<f64>> {
    prop_oneof![list(wild()), list(tame())]
}

/// Lists of equal length: rows of a table.
fn rows() -> impl Strategy<Value = Vec<Vec<f64>>> {
    (0_usize..5, 0_usize..7, any::<bool>()).prop_flat_map(|(width, height, tamed)| {
        let cell = if tamed { tame().boxed() } else { wild().boxed() };
        prop::collection::vec(prop::collection::vec(cell, width), height)
    })
}

fn finite(values: &[f64]) -> bool {
    values.iter().all(|value| value.is_finite())
}

/// Limits in their order, but for rounding at levels near 0.
fn is_pair(pair: Option<(f64, f64)>) -> bool {
    pair.is_none_or(|(low, high)| low.is_finite() && high.is_finite() && low <= high + 1e-12 * (1.0 + high.abs()))
}

/// A curve with poles, roots and powers of negative numbers.
struct Awkward;

impl Curve for Awkward {
    fn parameters(&self) -> usize {
        3
    }
    fn at<N: Number>(&self, x: &[f64], b: &[N]) -> N {
        let (&[x, ..], &[b1, b2, b3]) = (x, b) else { return N::constant(f64::NAN) };
        b1 * (N::constant(x) + b2).power(b3) + (b1 / (b2 - N::constant(x))).atan() + b3.ln()
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn lines_are_finite_or_refused(columns in rows(), response in either_list(), weights in either_list(), at in either_list()) {
        let height = columns.first().map_or(response.len(), Vec::len);
        for y in [response.clone(), response.iter().copied().cycle().take(height).collect()] {
            for intercept in [Intercept::Free, Intercept::Zero] {
                for fit in [linear::fit(&columns, &y, intercept), linear::fit_weighted(&columns, &y, intercept, &weights)] {
                    match fit {
                        Ok(fit) => {
                            prop_assert!(finite(&fit.coefficients) && finite(&fit.standard_errors) && finite(&fit.residuals));
                            prop_assert!(fit.residual_sd >= 0.0 && fit.standard_errors.iter().all(|error| *error >= 0.0));
                            prop_assert!(fit.r_squared.is_none_or(|share| share <= 1.0));
                            if let Some(there) = fit.predict(&at) {
                                prop_assert!(there.se_single >= there.se_mean && is_pair(there.interval_of_single(0.9)));
                            }
                        }
                        Err(why) => prop_assert!(!why.to_string().is_empty()),
                    }
                }
                for loss in [
                    Loss::Huber { bend: 1.345 }, Loss::Bisquare { reject: 4.685 }, Loss::Trimmed { reject: 2.0 },
                    Loss::ThreePart { bend: 2.0, fall: 4.0, reject: 8.0 },
                ] {
                    if let Ok(fit) = robust::fit(&columns, &y, intercept, loss) {
                        prop_assert!(finite(&fit.coefficients) && fit.scale.is_finite() && fit.scale >= 0.0);
                        prop_assert!(fit.weights.iter().all(|weight| (0.0..=1.0).contains(weight)), "{:?}", fit);
                        prop_assert!(fit.standard_errors.is_none_or(|errors| finite(&errors)));
                    }
                }
            }
        }
    }

    #[test]
    fn polynomials_are_finite_or_refused(points in prop::collection::vec((wild(), wild()), 0..14), degree in 0_usize..14) {
        let (x, y): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
        if let Ok(fit) = linear::fit_polynomial(&x, &y, degree, Intercept::Free) {
            prop_assert!(finite(&fit.coefficients) && finite(&fit.standard_errors));
        }
    }

    #[test]
    fn curves_end_finite_or_refused(
        points in prop::collection::vec((wild(), wild()), 0..12),
        tamer in prop::collection::vec((tame(), tame()), 0..12),
        start in prop::collection::vec(prop_oneof![wild(), 0.01_f64..3.0], 0..5),
    ) {
        for points in [points, tamer] {
            let (x, y): (Vec<Vec<f64>>, Vec<f64>) = points.into_iter().map(|(x, y)| (vec![x], y)).unzip();
            match nonlinear::fit(&Awkward, &x, &y, &start) {
                Ok(fit) => {
                    prop_assert!(finite(&fit.parameters) && finite(&fit.standard_errors));
                    prop_assert!(fit.sum_of_squares >= 0.0 && fit.sum_of_squares.is_finite());
                }
                Err(why) => prop_assert!(!why.to_string().is_empty()),
            }
        }
    }

    #[test]
    fn learning_curves_are_finite_or_refused(
        services in prop::collection::vec((prop_oneof![tame(), wild()], prop_oneof![tame(), wild()]), 0..30),
        tamer in prop::collection::vec(tame(), 0..30),
        at in wild(),
        target in wild(),
        level in prop_oneof![0.0..1.0, wild()],
    ) {
        let numbered = tamer.into_iter().zip(1..).map(|(time, n)| (f64::from(n), time)).collect();
        for services in [services, numbered] {
            if let Ok(curve) = own_curve::fit(&services) {
                prop_assert!(is_pair(curve.median_interval(at, level)) && is_pair(curve.single_interval(at, level)));
                prop_assert!(is_pair(curve.meets_interval(target, level)));
                prop_assert!(curve.reaches(target).is_none_or(f64::is_finite));
                prop_assert!(curve.chance_within(at, target).is_none_or(|chance| (0.0..=1.0).contains(&chance)));
            }
            for shape in [Shape::Power, Shape::Exponential] {
                for bounds in [Bounds::AtLeastZero, Bounds::Free] {
                    if let Ok(fit) = plateau::fit(&services, shape, bounds) {
                        prop_assert!(finite(&[fit.floor, fit.gain, fit.rate, fit.sum_of_squares]));
                        prop_assert!(bounds == Bounds::Free || (fit.floor >= 0.0 && fit.gain >= 0.0), "{:?}", fit);
                        prop_assert!(fit.predict(at).is_none_or(|there| there.mean.is_finite()));
                    }
                }
            }
        }
    }

    #[test]
    fn laws_of_learning_are_finite_or_nothing(a in wild(), b in wild(), c in wild(), n in wild(), units in 0_u32..400) {
        let power = PowerLaw { first: a, exponent: b };
        let fall = ExponentialLaw { floor: a, gain: b, rate: c };
        for found in [
            exponent_of_rate(a), rate_of_exponent(a), unit_factor(b, n), total_factor(b, units),
            unit_factor_under_average(b, n), power.at(n), power.relative_learning_rate(n), power.reaches(c), fall.at(n),
            fall.reaches(n),
        ] {
            prop_assert!(found.is_none_or(f64::is_finite));
        }
    }

    #[test]
    fn chances_lie_between_0_and_1_and_quantiles_rise(
        x in wild(), a in prop_oneof![0.01..300.0, wild()], b in prop_oneof![0.01..300.0, wild()],
        p in prop_oneof![0.0..1.0, wild()], q in prop_oneof![0.0..1.0, wild()],
    ) {
        let chance = |found: Option<f64>| found.is_none_or(|chance| (0.0..=1.0).contains(&chance));
        prop_assert!(chance(t_below(x, a)) && chance(t_above(x, a)) && chance(beta_below(x, a, b)));
        prop_assert!(chance(gamma_below(x, a)) && chance(chi_squared_below(x, a)) && chance(f_above(x, a, b)));
        prop_assert!(ln_gamma(x).is_none_or(|value| !value.is_nan()));
        let (p, q) = if p <= q { (p, q) } else { (q, p) };
        let rises = |of: &dyn Fn(f64) -> Option<f64>| of(p).zip(of(q)).is_none_or(|(low, high)| low <= high);
        prop_assert!(rises(&|p| t_quantile(p, a)) && rises(&|p| gamma_quantile(p, a)));
        prop_assert!(rises(&|p| beta_quantile(p, a, b)) && rises(&|p| f_quantile(p, a, b)));
        prop_assert!(rises(&|p| chi_squared_quantile(p, a)));
    }

    #[test]
    fn intervals_of_a_rate_hold_it(hits in any::<u32>(), tries in any::<u32>(), few in 0_u32..60, level in prop_oneof![0.0..1.0, wild()]) {
        for (hits, tries) in [(hits, tries), (few.min(tries), few), (few / 2, few), (hits.min(1_000_000), 1_000_000)] {
            for of in [wilson, wilson_corrected, clopper_pearson] {
                if let Some((low, high)) = of(hits, tries, level) {
                    let share = f64::from(hits) / f64::from(tries);
                    prop_assert!(0.0 <= low && low <= share + 1e-9 && share - 1e-9 <= high && high <= 1.0, "{low} {share} {high}");
                }
            }
            prop_assert!(is_pair(jeffreys(hits, tries, level)) && agresti_coull(hits, tries, level).is_none_or(|pair| pair.0.is_finite()));
            let limits = [exact_lower_limit(hits, tries, level), exact_upper_limit(hits, tries, level)];
            prop_assert!(limits.into_iter().flatten().all(|limit| (0.0..=1.0).contains(&limit)));
        }
    }

    #[test]
    fn agreement_is_at_most_full_or_refused(
        counts in rows(),
        size in 1_usize..5,
        cells in prop::collection::vec(0_u32..9, 16),
        given in rows(),
        level in prop_oneof![0.0..1.0, wild()],
    ) {
        let small = cells.chunks(size).take(size).map(|row| row.iter().copied().map(f64::from).collect()).collect();
        for counts in [counts.clone(), small] {
            if let Ok(table) = Table::new(&counts) {
                for weights in [Weights::Same, Weights::Linear, Weights::Quadratic, Weights::Given(given.clone())] {
                    if let Ok(found) = table.kappa(&weights) {
                        let bounded = !matches!(weights, Weights::Given(_));
                        prop_assert!(!bounded || (found.kappa <= 1.0 + 1e-12 && found.standard_error >= 0.0), "{found:?}");
                        prop_assert!(found.p_two_sided.is_none_or(|p| (0.0..=1.0).contains(&p) || !bounded));
                        prop_assert!(!bounded || is_pair(found.interval(level)));
                    }
                }
                if let Ok(found) = table.companions() {
                    prop_assert!(found.ac1 <= 1.0 + 1e-12 && found.ac1_standard_error >= 0.0);
                }
            }
            if let Ok(found) = fleiss(&counts) {
                prop_assert!(found.kappa <= 1.0 + 1e-12 && found.ac1 <= 1.0 + 1e-12);
            }
            if let Ok(found) = intraclass(&counts, level) {
                prop_assert!(found.fixed_one.value.is_none_or(|value| value <= 1.0 + 1e-12));
                prop_assert!(is_pair(found.fixed_one.interval));
            }
        }
    }

    #[test]
    fn charts_and_trends_say_something_or_nothing(values in either_list(), times in either_list(), level in prop_oneof![0.0..1.0, wild()]) {
        for constants in [Constants::Exact, Constants::Printed] {
            if let Ok(limits) = limits(&values, constants) {
                prop_assert!(limits.lower <= limits.mean && limits.mean <= limits.upper);
                let _ = signals(&values, limits.mean, limits.sigma);
            }
        }
        let wildly = signals(&values, level, level);
        prop_assert!(wildly.beyond_three.iter().all(|place| *place < values.len()));
        let points: Vec<(f64, f64)> = times.into_iter().zip(values.iter().copied()).collect();
        let within = |found: Option<f64>| found.is_none_or(|value| (-1.0..=1.0).contains(&value));
        prop_assert!(within(kendall_tau_b(&points)) && within(spearman_rho(&points)) && within(kendall_exact_p(&points)));
        prop_assert!(is_pair(slope_interval(&points, level)));
        prop_assert!(mann_kendall(&values).is_none_or(|test| (0.0..=1.0).contains(&test.p_two_sided)));
        let _ = theil_sen(&points);
    }
}
