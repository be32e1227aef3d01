//! Tests of mixed fits from inside: slopes, degenerate rows.

use super::criterion::{Scratch, evaluate, slope};
use super::{Criterion, Crossed, Mixed, MixedError, Rows, Structure};

struct Case {
    response: Vec<f64>,
    fixed: Vec<Vec<f64>>,
    group: Vec<usize>,
    random: Vec<Vec<f64>>,
    crossed: Vec<Crossed>,
}

impl Case {
    /// Rows with a wavy scatter.
    fn new(groups: usize, each: usize, random: usize) -> Self {
        let rows = groups * each;
        let wave = |row: usize, speed: f64| (speed * (row as f64 + 1.0)).sin();
        let column = |speed: f64| (0..rows).map(|row| wave(row, speed)).collect::<Vec<f64>>();
        let ones = vec![1.0; rows];
        let group: Vec<usize> = (0..rows).map(|row| row / each).collect();
        let response = (0..rows)
            .map(|row| {
                let own = wave(group[row], 2.3);
                3.0 + own + (0.5 + own * 0.3) * wave(row, 0.7) + 0.4 * wave(row, 5.1)
            })
            .collect();
        let all = [ones.clone(), column(0.7), column(1.9), column(3.3)];
        Self {
            response,
            fixed: vec![ones, column(0.7), column(4.2)],
            group,
            random: all.into_iter().take(random).collect(),
            crossed: Vec::new(),
        }
    }

    fn rows(&self) -> Rows<'_> {
        Rows {
            response: &self.response,
            fixed: &self.fixed,
            group: &self.group,
            random: &self.random,
            structure: Structure::Full,
            crossed: &self.crossed,
        }
    }
}

fn slope_is_that_of_differences(case: &Case, theta: &[f64]) {
    let mixed = Mixed::new(&case.rows()).unwrap();
    let mut scratch = Scratch::default();
    for criterion in [Criterion::Reml, Criterion::Ml] {
        let mut found = Vec::new();
        slope(&mixed.frame, &mixed.products, criterion, theta, &mut scratch, &mut found).unwrap();
        assert_eq!(found.len(), theta.len());
        for (at, exact) in found.iter().enumerate() {
            let mut side = |offset: f64| {
                let mut moved = theta.to_vec();
                moved[at] += offset;
                evaluate(&mixed.frame, &mixed.products, &moved, &mut scratch)
                    .unwrap()
                    .criterion(&mixed.frame, criterion)
            };
            let difference = (side(1e-5) - side(-1e-5)) / 2e-5;
            assert!(
                (exact - difference).abs() < 1e-5 * (1.0 + exact.abs()),
                "{criterion:?} {at}: {exact} {difference}"
            );
        }
    }
}

#[test]
fn the_slope_is_that_of_differences() {
    slope_is_that_of_differences(&Case::new(7, 9, 1), &[0.8]);
    slope_is_that_of_differences(&Case::new(7, 9, 2), &[1.2, -0.3, 0.5]);
    slope_is_that_of_differences(&Case::new(7, 9, 3), &[1.2, -0.3, 0.2, 0.5, 0.1, 0.9]);
    let mut crossed = Case::new(7, 9, 2);
    let level = (0..63).map(|row| row % 4).collect();
    let other = (0..63).map(|row| row % 5).collect();
    let column = crossed.fixed[2].clone();
    crossed.crossed = vec![Crossed { level, column: None }, Crossed { level: other, column: Some(column) }];
    slope_is_that_of_differences(&crossed, &[1.2, -0.3, 0.5, 0.7, 0.4]);
}

#[test]
fn a_crossed_factor_gives_what_a_leading_one_does() {
    // Two crossed factors with one effect each: either may lead.
    let mut one = Case::new(6, 8, 1);
    let level: Vec<usize> = (0..48).map(|row| row % 4).collect();
    one.crossed = vec![Crossed { level: level.clone(), column: None }];
    let mut other = Case::new(6, 8, 1);
    other.crossed = vec![Crossed { level: other.group.clone(), column: None }];
    other.group = level;
    for criterion in [Criterion::Reml, Criterion::Ml] {
        let a = Mixed::new(&one.rows()).unwrap().fit(criterion).unwrap();
        let b = Mixed::new(&other.rows()).unwrap().fit(criterion).unwrap();
        assert!((a.objective() - b.objective()).abs() < 1e-9);
        assert!(b.crossed_effects(usize::MAX).is_empty());
        for effect in b.crossed_effects(0) {
            let same = a.group_effects(effect.label).unwrap();
            assert!((effect.value - same[0]).abs() < 1e-6, "{effect:?} {same:?}");
        }
    }
}

#[test]
fn rows_that_cannot_be_fitted_say_why() {
    let whole = Case::new(5, 6, 2);
    let with = |change: &dyn Fn(&mut Case)| {
        let mut case = Case::new(5, 6, 2);
        change(&mut case);
        Mixed::new(&case.rows()).map(|mixed| mixed.fit(Criterion::Reml).map(|fit| fit.objective()))
    };
    assert!(with(&|_| {}).is_ok());
    assert_eq!(with(&|case| case.response.clear()).err(), Some(MixedError::NoRows));
    assert_eq!(with(&|case| case.group.truncate(3)).err(), Some(MixedError::Ragged { expected: 30, found: 3 }));
    assert_eq!(with(&|case| case.response[4] = f64::NAN).err(), Some(MixedError::NotFinite { row: 4 }));
    assert_eq!(with(&|case| case.fixed[1][7] = f64::INFINITY).err(), Some(MixedError::NotFinite { row: 7 }));
    assert_eq!(with(&|case| case.random.clear()).err(), Some(MixedError::RandomColumns(0)));
    assert_eq!(with(&|case| case.random[1].fill(0.0)).err(), Some(MixedError::EmptyRandomColumn(1)));
    assert_eq!(with(&|case| case.group.fill(3)).err(), Some(MixedError::OneGroup));
    assert_eq!(with(&|case| case.response.fill(2.0)).err(), Some(MixedError::NoScatter));
    assert_eq!(with(&|case| case.response.fill(1e300)).err(), Some(MixedError::TooLarge));
    assert_eq!(with(&|case| case.fixed[1].fill(1e200)).err(), Some(MixedError::TooLarge));
    let few =
        Rows { response: &whole.response[..3], group: &[0, 1, 2], fixed: &[], random: &[vec![1.0; 3]], ..whole.rows() };
    assert!(Mixed::new(&few).is_ok());
    let fixed: Vec<Vec<f64>> = whole.fixed.iter().map(|column| column[..3].to_vec()).collect();
    let none_left = Rows { fixed: &fixed, ..few };
    assert_eq!(Mixed::new(&none_left).err(), Some(MixedError::TooFewRows { rows: 3, columns: 3 }));
    let mixed = Mixed::new(&whole.rows()).unwrap();
    let wrong = mixed.objective(Criterion::Ml, &[1.0]);
    assert_eq!(wrong, Err(MixedError::Parameters { expected: 3, found: 1 }));
}

#[test]
fn a_column_that_says_nothing_new_is_left_out_and_named() {
    let mut case = Case::new(5, 6, 2);
    let copy = case.fixed[1].iter().map(|cell| 2.0 * cell - 1.0).collect();
    case.fixed.insert(2, copy);
    let fit = Mixed::new(&case.rows()).unwrap().fit(Criterion::Reml).unwrap();
    assert_eq!(fit.dropped(), [2]);
    let same = Mixed::new(&Case::new(5, 6, 2).rows()).unwrap().fit(Criterion::Reml).unwrap();
    assert!((fit.objective() - same.objective()).abs() < 1e-9);
    assert_eq!(fit.beta()[2], 0.0);
    assert_eq!(fit.beta_covariance()[2], vec![0.0; 4]);
    assert!(fit.coefficients()[2].is_none());
}
