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
