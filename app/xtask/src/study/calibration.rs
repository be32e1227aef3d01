//! Simulation-based calibration of fits that average over the variances (groups below 12).
//!
//! Talts, Betancourt, Simpson, Vehtari and Gelman (2018), arXiv:1804.06788: where truths are drawn from the prior,
//! the place of each truth in its posterior is even from 0 to 1. Here the place is worked out and not counted
//! among draws: given the variances, posteriors are Student-t (effects) and scaled inverse chi-squared (sigma),
//! and the average mixes them.
//!
//! It is a reduced run: one shape, the power law, is true and fitted, scatter is normal. The prior is the fit's
//! own: flat over effects and ln(sigma), for which any true value serves as well as a drawn one, and flat over
//! the variances' factor, held to a box so that truths can be drawn; parts of the average outside of the box
//! are left out.

use anyhow::{Context, Result};
use proficiency::distribution::{chi_squared_below, t_below};
use proficiency::mixed::{Fit, Mixed, Rows, Structure};

use super::draw::Draw;
use super::plot::{Frame, Picture};
use super::table::Table;
use super::{Files, SEED};

/// Name of the results' file.
pub const FILE: &str = "calibration.tsv";
/// Name of the plot.
pub const PLOT: &str = "calibration.svg";
/// Simulated groups of each size.
pub const GROUPS: u32 = 5000;
/// Sizes of group.
pub const SIZES: [usize; 2] = [5, 8];
/// Bins of the places.
const BINS: usize = 20;
/// A chi-squared test of even places may be this rare, and no rarer.
pub const RAREST: f64 = 0.001;
/// What is asked of each group.
pub const QUANTITIES: [&str; 4] =
    ["slope of practice", "sigma", "a trainee's own slope", "a trainee's typical time, +5"];
/// Ways to fit.
pub const WAYS: [&str; 2] = ["averaged", "most likely variances alone"];

/// Box of the factor of the variances over sigma: sd of the intercept, cell beside, sd of the slope.
const BOX: [(f64, f64); 3] = [(0.5, 4.0), (-1.0, 1.0), (0.1, 1.5)];
/// Services of each trainee.
const SERVICES: u32 = 16;
const EFFECTS: [f64; 4] = [8.6, -0.2, 0.12, -0.05];
const SIGMA: f64 = 0.1;

const HEAD: [&str; 10] =
    ["group", "way", "quantity", "seed", "groups", "chi-squared", "p", "inside 80", "inside 95", "bins"];

/// Places of the truths in their posteriors: per way and quantity, one of each group.
pub type Places = [[Vec<f64>; 4]; 2];

/// Simulates groups of a size.
///
/// # Errors
/// When a group cannot be fitted.
pub fn places(trainees: usize, groups: u32, seed: u64) -> Result<Places> {
    let mut all = Places::default();
    for number in 0..groups {
        let mut draw = Draw::new(seed ^ 0x5BC0, u64::from(number) * 1000 + trainees as u64);
        let [first, beside, later] = BOX.map(|(low, high)| low + (high - low) * draw.even());
        let truth = Simulated::draw(trainees, [first, beside, later], &mut draw);
        let mixed = truth.mixed()?;
        let averaged = mixed.averaged()?;
        let inside = |part: &&(f64, Fit)| {
            part.1.theta().iter().zip(BOX).all(|(value, (low, high))| low <= *value && *value <= high)
        };
        let mut parts: Vec<(f64, Fit)> = averaged.parts.iter().filter(inside).cloned().collect();
        if parts.is_empty() {
            parts = averaged.parts;
        }
        for (places, parts) in all.iter_mut().zip([parts, vec![(1.0, averaged.mode)]]) {
            let found = truth.places(&parts).context("a posterior without a value")?;
            places.iter_mut().zip(found).for_each(|(list, place)| list.push(place));
        }
    }
    Ok(all)
}

/// A simulated group and what is true of it.
struct Simulated {
    response: Vec<f64>,
    fixed: Vec<Vec<f64>>,
    group: Vec<usize>,
    random: Vec<Vec<f64>>,
    own_slope: f64,
    own_start: f64,
}

impl Simulated {
    fn draw(trainees: usize, [first, beside, later]: [f64; 3], draw: &mut Draw) -> Self {
        let mut all = Self {
            response: Vec::new(),
            fixed: vec![Vec::new(); 4],
            group: Vec::new(),
            random: vec![Vec::new(); 2],
            own_slope: 0.0,
            own_start: 0.0,
        };
        for trainee in 0..trainees {
            let (a, b) = (draw.normal(), draw.normal());
            let (start, slope) = (SIGMA * first * a, SIGMA * (beside * a + later * b));
            if trainee == 0 {
                (all.own_start, all.own_slope) = (start, slope);
            }
            let change = draw.whole(4, 10);
            for number in 1..=SERVICES {
                let row = columns(number, number.saturating_sub(change));
                let log = (0..4).map(|at| EFFECTS[at] * row[at]).sum::<f64>() + start + slope * row[1];
                all.response.push(log + SIGMA * draw.normal());
                all.fixed.iter_mut().zip(row).for_each(|(column, cell)| column.push(cell));
                all.random.iter_mut().zip(row).for_each(|(column, cell)| column.push(cell));
                all.group.push(trainee);
            }
        }
        all
    }

    fn mixed(&self) -> Result<Mixed> {
        Ok(Mixed::new(&Rows {
            response: &self.response,
            fixed: &self.fixed,
            group: &self.group,
            random: &self.random,
            structure: Structure::Full,
            crossed: &[],
        })?)
    }

    /// Place of each truth in its posterior, in the order of [`QUANTITIES`].
    fn places(&self, parts: &[(f64, Fit)]) -> Option<[f64; 4]> {
        let mut places = [0.0; 4];
        let total: f64 = parts.iter().map(|part| part.0).sum();
        let next = columns(SERVICES + 5, 10);
        let typical = (0..4).map(|at| EFFECTS[at] * next[at]).sum::<f64>() + self.own_start + self.own_slope * next[1];
        for (weight, fit) in parts {
            let freedom = (fit.rows() - fit.rank()) as f64;
            let t = |truth: f64, mean: f64, variance: f64| t_below((truth - mean) / variance.sqrt(), freedom);
            let predictor = fit.predictor(Some(0));
            let (slope, later) = (predictor.at(&[0.0; 4], &[0.0, 1.0]), predictor.at(&next, &[1.0, next[1]]));
            let ratio = freedom * (fit.sigma() / SIGMA).powi(2);
            let found = [
                t(EFFECTS[1], *fit.beta().get(1)?, *fit.beta_covariance().get(1)?.get(1)?)?,
                1.0 - chi_squared_below(ratio, freedom)?,
                t(self.own_slope, slope.mean, slope.variance)?,
                t(typical, later.mean, later.variance)?,
            ];
            places.iter_mut().zip(found).for_each(|(sum, place)| *sum += weight / total * place);
        }
        Some(places)
    }
}

/// Intercept, practice, step, relearning of a service, `within` counted from 1 after the change of plan.
fn columns(number: u32, within: u32) -> [f64; 4] {
    let after = within > 0;
    [1.0, f64::from(number).ln(), f64::from(u8::from(after)), if after { f64::from(within).ln() } else { 0.0 }]
}

/// How many places lie in each bin, and chi-squared of even places with its chance.
pub fn evenness(places: &[f64]) -> ([u32; BINS], f64, f64) {
    let mut bins = [0_u32; BINS];
    for place in places {
        let at = (place * BINS as f64).floor().clamp(0.0, BINS as f64 - 1.0) as usize;
        if let Some(bin) = bins.get_mut(at) {
            *bin += 1;
        }
    }
    let each = places.len() as f64 / BINS as f64;
    let chi: f64 = bins.iter().map(|bin| (f64::from(*bin) - each).powi(2) / each).sum();
    let rarer = 1.0 - chi_squared_below(chi, BINS as f64 - 1.0).unwrap_or(f64::NAN);
    (bins, chi, rarer)
}

/// Runs all sizes and draws the smallest.
///
/// # Errors
/// When a group cannot be fitted or results cannot be kept.
pub fn run(files: &Files) -> Result<()> {
    let mut table = Table::new(&HEAD, 3);
    let mut picture = Picture::new(
        "Places of truths in their posteriors, groups of 5 (even is right; dotted: 99.8 % of bins of even places)",
        4,
        2,
    );
    for trainees in SIZES {
        let all = places(trainees, GROUPS, SEED)?;
        for (row, (way, quantities)) in WAYS.iter().zip(&all).enumerate() {
            for (column, (quantity, places)) in QUANTITIES.iter().zip(quantities).enumerate() {
                let (bins, chi, rarer) = evenness(places);
                let inside = |tail: f64| {
                    let count = places.iter().filter(|place| **place > tail && **place < 1.0 - tail).count();
                    format!("{:.3}", count as f64 / places.len() as f64)
                };
                table.put(vec![
                    trainees.to_string(),
                    (*way).to_owned(),
                    (*quantity).to_owned(),
                    SEED.to_string(),
                    GROUPS.to_string(),
                    format!("{chi:.1}"),
                    format!("{rarer:.4}"),
                    inside(0.1),
                    inside(0.025),
                    bins.map(|bin| bin.to_string()).join(" "),
                ])?;
                if trainees == SIZES[0] {
                    draw(&mut picture, (column, row), &format!("{quantity}, {way}"), &bins);
                }
            }
        }
    }
    std::fs::create_dir_all(files.of(""))?;
    std::fs::write(files.of(PLOT), picture.finish(&[]))?;
    table.save(&files.of(FILE))
}

fn draw(picture: &mut Picture, (column, row): (usize, usize), title: &str, bins: &[u32; BINS]) {
    let share = 1.0 / BINS as f64;
    let reach = 3.09 * (share * (1.0 - share) / f64::from(GROUPS)).sqrt();
    let ticks = vec![0.0, 0.5, 1.0];
    let frame = Frame { title: title.to_owned(), across: (0.0, 1.0), up: (0.0, 0.1), ticks_across: ticks };
    let mut panel = picture.panel(column, row, &frame);
    for (at, bin) in bins.iter().enumerate() {
        let from = at as f64 * share;
        panel.bar((from, from + share), f64::from(*bin) / f64::from(GROUPS));
    }
    panel.level(share - reach, "");
    panel.level(share + reach, "");
}

/// The results so far.
///
/// # Errors
/// When their file cannot be read.
pub fn results(files: &Files) -> Result<Table> {
    Table::new(&HEAD, 3).load(&files.of(FILE))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_of_truths_are_even() {
        let [averaged, _] = places(5, 200, SEED).unwrap();
        for (quantity, places) in QUANTITIES.iter().zip(&averaged) {
            let (bins, chi, rarer) = evenness(places);
            assert!(rarer > RAREST, "{quantity}: {bins:?}, chi-squared {chi}, p {rarer}");
        }
    }

    #[test]
    fn places_too_near_the_middle_or_the_ends_are_found() {
        let even: Vec<f64> = (0..400).map(|at| (f64::from(at) + 0.5) / 400.0).collect();
        assert!(evenness(&even).2 > 0.99);
        let narrow: Vec<f64> = even.iter().map(|place| 0.5 + 0.7 * (place - 0.5)).collect();
        assert!(evenness(&narrow).2 < RAREST);
        let wide: Vec<f64> = even.iter().map(|place| if *place < 0.15 { 0.0 } else { *place }).collect();
        assert!(evenness(&wide).2 < RAREST);
    }
}
