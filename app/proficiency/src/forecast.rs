//! What a group's learning curve says of services to come: chances, bands, services still needed.
//!
//! A forecast mixes the fits of a [`Curve`] by their weights. Two forms: *typical* asks for the time that
//! half of a trainee's services would stay within (the curve itself), *single* for one next service, which
//! scatters around it. All work is on ln(seconds), and exact: nothing is drawn at random.
//!
//! A gap since the last service widens: v + tau^2 ln(1 + weeks), the form of the project's own proposal
//! (no published source).

use crate::distribution::{t_below, t_quantile};
use crate::group_curve::{Curve, Dropped, Scatter, Service, Term};
use crate::normal;

/// Services ahead after which a target counts as not reached on the present trend.
pub const FARTHEST: u32 = 200;
/// From so many degrees of freedom on Student's t is worked out by Wallace's formula, good to five digits.
const MANY: f64 = 30.0;
/// From so many on it is the normal.
const ENDLESS: f64 = 1e6;
/// Places at which the scatter of the typical time is sampled when a single service has Student-t scatter.
const PLACES: u32 = 16;
/// Width, on ln(seconds), to which a quantile is found.
const FINE: f64 = 1e-7;

/// A service to come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Which of the trainee's services, counted from 1.
    pub number: u32,
    /// Level of the plan.
    pub level: u8,
    /// Which of the trainee's services at this level, counted from 1.
    pub within: u32,
    /// Whether on the other medium.
    pub other_medium: bool,
}

/// Time since the trainee's last service and what it does to what is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Weeks since the last service, 0 or more.
    pub weeks: f64,
    /// How much a gap widens: sd on ln(seconds) gained in the first e - 1 weeks; 0 or more.
    pub tau: f64,
    /// Weeks after which no forecast is given until a refresher; never when `None`.
    pub refresher_weeks: Option<f64>,
}

impl Gap {
    /// No gap, no limit.
    pub const NONE: Self = Self { weeks: 0.0, tau: 0.0, refresher_weeks: None };

    fn variance(&self) -> f64 {
        self.tau * self.tau * self.weeks.ln_1p()
    }
}

/// Why there is no forecast.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ForecastError {
    /// The trainee has no usable service in the curve.
    #[error("this trainee has no service in the curve")]
    UnknownTrainee,
    /// Nobody has worked at the level.
    #[error("no service of the group was at this level")]
    LevelUnseen,
    /// Nobody has worked on both sides of the step to the level.
    #[error("no trainee has worked both at this level and below, so the step to it is not known")]
    StepUnknown,
    /// All services are of one number, or nothing else tells practice apart.
    #[error("the services do not tell what practice does")]
    PracticeUnknown,
    /// The target is not a time.
    #[error("a target must be a time above 0, and is {0} s")]
    Target(f64),
    /// Weeks or tau are not finite, or below 0.
    #[error("a gap and its widening must be 0 or more")]
    Gap,
    /// The gap is past the refresher's.
    #[error("{weeks} weeks since the last service: a refresher comes first after {limit}")]
    RefresherFirst {
        /// Weeks since the last service.
        weeks: f64,
        /// Weeks after which a refresher comes first.
        limit: f64,
    },
}

/// One fit's expectation.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Part {
    weight: f64,
    /// Of ln(seconds).
    mean: f64,
    /// Standard deviation of the typical ln(seconds).
    typical: f64,
    /// Standard deviation of one service around it.
    scatter: f64,
}

/// What the curve expects of one service to come.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    parts: Vec<Part>,
    freedom: f64,
    student: Option<f64>,
    places: Vec<f64>,
}

/// Services still needed until a target is met with three chances; `None` when not within [`FARTHEST`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Needed {
    /// As likely as not (50 %).
    pub even: Option<u32>,
    /// 4 chances in 5.
    pub four_in_five: Option<u32>,
    /// 19 chances in 20.
    pub nineteen_in_twenty: Option<u32>,
}

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Question {
    /// Whose; a new trainee of such a group when `None`.
    pub trainee: Option<usize>,
    /// Services the trainee has done.
    pub done: u32,
    /// Level that the services to come are worked at.
    pub level: u8,
    /// Services the trainee has done at this level.
    pub done_at_level: u32,
    /// Time to stay within, in seconds.
    pub target: f64,
    /// Time since the last service.
    pub gap: Gap,
}

/// The answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// Until the typical service is within the target.
    pub typical: Needed,
    /// Until one single service is.
    pub single: Needed,
    /// Chance that the typical time is within the target at the very next service, 0 to 1.
    pub typical_next: f64,
    /// Chance that the very next service is, 0 to 1.
    pub single_next: f64,
    /// Whether the shape of the curve is known; without, the forecast leans on all shapes alike.
    pub shape_known: bool,
    /// The level that the one asked about is counted with, when it has no step of its own.
    pub counted_with: Option<u8>,
}

/// Prepared outlooks of one trainee, or of a new one.
#[derive(Debug, Clone)]
pub struct Outlooks<'a> {
    curve: &'a Curve,
    parts: Vec<(f64, crate::group_curve::Shape, crate::mixed::Predictor<'a>)>,
    places: Vec<f64>,
}

/// Prepares outlooks of a trainee; of a new trainee of such a group when `None`, and for an unknown one.
pub fn outlooks(curve: &Curve, trainee: Option<usize>) -> Outlooks<'_> {
    let parts = curve.heavy().flat_map(|shape| {
        shape.parts.iter().map(|(weight, fit)| (shape.weight * weight, shape.shape, fit.predictor(trainee)))
    });
    let mut parts: Vec<_> = parts.collect();
    let total: f64 = parts.iter().map(|part| part.0).sum();
    parts.iter_mut().for_each(|part| part.0 /= total);
    let places = match curve.scatter() {
        Scatter::Normal => Vec::new(),
        Scatter::Student(_) => {
            let share = |place: u32| (f64::from(place) + 0.5) / f64::from(PLACES);
            (0..PLACES).map(|place| t_quantile(share(place), curve.freedom).unwrap_or(f64::NAN)).collect()
        }
    };
    Outlooks { curve, parts, places }
}

impl Outlooks<'_> {
    /// The outlook on one service.
    pub fn at(&self, place: Place, gap: Gap) -> Outlook {
        let Place { number, level, within, other_medium } = place;
        let service = Service { trainee: 0, number, level, within, seconds: 1.0, other_medium };
        let widening = gap.variance();
        let mut columns: Option<(crate::group_curve::Shape, Vec<f64>, [f64; 2])> = None;
        let mut parts = Vec::with_capacity(self.parts.len());
        for (weight, shape, predictor) in &self.parts {
            if columns.as_ref().is_none_or(|known| known.0 != *shape) {
                let (fixed, random) = self.curve.columns_of(*shape, &service);
                columns = Some((*shape, fixed, random));
            }
            let Some((_, fixed, random)) = &columns else { continue };
            let found = predictor.at(fixed, random);
            parts.push(Part {
                weight: *weight,
                mean: found.mean,
                typical: (found.variance + widening).sqrt(),
                scatter: found.residual.sqrt(),
            });
        }
        let student = match self.curve.scatter() {
            Scatter::Normal => None,
            Scatter::Student(nu) => Some(if nu > 0.0 && nu.is_finite() { nu } else { 4.0 }),
        };
        Outlook { parts, freedom: self.curve.freedom, student, places: self.places.clone() }
    }
}

impl Outlook {
    /// Expected ln(seconds).
    pub fn mean_log(&self) -> f64 {
        self.parts.iter().map(|part| part.weight * part.mean).sum()
    }

    /// Standard deviation of the typical ln(seconds), within and between fits.
    pub fn sd_log(&self) -> f64 {
        let mean = self.mean_log();
        let part = |part: &Part| part.weight * (part.typical.powi(2) + (part.mean - mean).powi(2));
        self.parts.iter().map(part).sum::<f64>().sqrt()
    }

    /// Chance that the typical time is within `seconds`, 0 to 1; 0 for a time not above 0.
    pub fn chance_typical(&self, seconds: f64) -> f64 {
        if seconds > 0.0 { self.typical_below(seconds.ln()) } else { 0.0 }
    }

    /// Chance that one single service is within `seconds`, 0 to 1; 0 for a time not above 0.
    pub fn chance_single(&self, seconds: f64) -> f64 {
        if seconds > 0.0 { self.single_below(seconds.ln()) } else { 0.0 }
    }

    /// Seconds that the typical time is within with chance `p`; `None` unless 0 < p < 1.
    pub fn typical(&self, p: f64) -> Option<f64> {
        self.quantile(p, |place| self.typical_below(place))
    }

    /// Seconds that one single service is within with chance `p`; `None` unless 0 < p < 1.
    pub fn single(&self, p: f64) -> Option<f64> {
        self.quantile(p, |place| self.single_below(place))
    }

    /// Seconds between which the typical time lies with chance `level`, as much below as above.
    pub fn typical_band(&self, level: f64) -> Option<(f64, f64)> {
        let tail = (1.0 - level) / 2.0;
        Some((self.typical(tail)?, self.typical(1.0 - tail)?))
    }

    /// Seconds between which one single service lies with chance `level`, as much below as above.
    pub fn single_band(&self, level: f64) -> Option<(f64, f64)> {
        let tail = (1.0 - level) / 2.0;
        Some((self.single(tail)?, self.single(1.0 - tail)?))
    }

    fn typical_below(&self, place: f64) -> f64 {
        let one = |part: &Part| part.weight * below((place - part.mean) / part.typical, self.freedom);
        self.parts.iter().map(one).sum::<f64>().clamp(0.0, 1.0)
    }

    fn single_below(&self, place: f64) -> f64 {
        let one = |part: &Part| {
            let Some(nu) = self.student else {
                return part.weight * below((place - part.mean) / part.typical.hypot(part.scatter), self.freedom);
            };
            // The typical time is where it is with equal chances of its places; a service scatters around.
            let at = |shift: &f64| below((place - part.mean - part.typical * shift) / part.scatter, nu);
            part.weight * self.places.iter().map(at).sum::<f64>() / f64::from(PLACES)
        };
        self.parts.iter().map(one).sum::<f64>().clamp(0.0, 1.0)
    }

    fn quantile(&self, p: f64, below: impl Fn(f64) -> f64) -> Option<f64> {
        if !(p > 0.0 && p < 1.0) {
            return None;
        }
        let widest = self.parts.iter().map(|part| part.typical.hypot(part.scatter)).fold(0.0, f64::max);
        let middle = self.mean_log();
        let mut reach = 4.0 * widest;
        if !(reach > 0.0 && reach.is_finite() && middle.is_finite()) {
            return None;
        }
        let (mut low, mut high) = (middle - reach, middle + reach);
        while below(low) > p || below(high) < p {
            reach *= 2.0;
            (low, high) = (middle - reach, middle + reach);
            if reach > 700.0 {
                return None;
            }
        }
        // Regula falsi that halves the value at an end that stays (Dowell and Jarratt 1971, BIT 11:168-174).
        let (mut at_low, mut at_high) = (below(low) - p, below(high) - p);
        let mut rose = None;
        for _ in 0..100 {
            if high - low <= FINE {
                break;
            }
            let cut = low - at_low * (high - low) / (at_high - at_low);
            let cut = if low < cut && cut < high { cut } else { (low + high) / 2.0 };
            let found = below(cut) - p;
            if found.abs() < 1e-12 {
                return Some(cut.exp());
            }
            let rises = found < 0.0;
            let again = rose == Some(rises);
            if rises {
                (low, at_low) = (cut, found);
                at_high *= if again { 0.5 } else { 1.0 };
            } else {
                (high, at_high) = (cut, found);
                at_low *= if again { 0.5 } else { 1.0 };
            }
            rose = Some(rises);
        }
        Some(((low + high) / 2.0).exp())
    }
}

/// Chance that a Student-t value is below `t`.
fn below(t: f64, freedom: f64) -> f64 {
    if t.is_nan() {
        return f64::NAN;
    }
    if freedom == 4.0 {
        // Closed form for four degrees of freedom.
        let s = t / (4.0 + t * t).sqrt();
        return if s.is_nan() { f64::from(u8::from(t > 0.0)) } else { 0.5 + s * (1.5 - s * s / 2.0) / 2.0 };
    }
    if freedom >= MANY {
        // Wallace (1959), Annals of Mathematical Statistics 30:1124-1130, formula 4.
        let z = if freedom >= ENDLESS {
            t
        } else {
            let size = (freedom * (t * t / freedom).ln_1p()).sqrt() * (8.0 * freedom + 1.0) / (8.0 * freedom + 3.0);
            size.copysign(t)
        };
        return normal::above(-z);
    }
    t_below(t, freedom).unwrap_or(f64::NAN)
}

/// Checks that a curve can answer for a level and a trainee.
///
/// # Errors
/// [`ForecastError`] when it cannot.
pub fn answerable(curve: &Curve, question: &Question) -> Result<(), ForecastError> {
    let Gap { weeks, tau, refresher_weeks } = question.gap;
    if !(weeks >= 0.0 && weeks.is_finite() && tau >= 0.0 && tau.is_finite()) {
        return Err(ForecastError::Gap);
    }
    if let Some(limit) = refresher_weeks
        && weeks > limit
    {
        return Err(ForecastError::RefresherFirst { weeks, limit });
    }
    if !(question.target > 0.0 && question.target.is_finite()) {
        return Err(ForecastError::Target(question.target));
    }
    if question.trainee.is_some_and(|trainee| !curve.knows_trainee(trainee)) {
        return Err(ForecastError::UnknownTrainee);
    }
    if !curve.knows_level(question.level) {
        return Err(ForecastError::LevelUnseen);
    }
    if curve.step_unknown(question.level) && (question.trainee.is_none() || question.done_at_level == 0) {
        return Err(ForecastError::StepUnknown);
    }
    let practice = |dropped: &Dropped| dropped.term == Term::Practice;
    if curve.dropped.iter().any(practice) {
        return Err(ForecastError::PracticeUnknown);
    }
    Ok(())
}

/// Says how many services are still needed until a target is met at a level.
///
/// For d = 1, 2, ... up to [`FARTHEST`]: the first d at which the chance reaches 50, 80 and 95 %, all
/// services to come worked at the level asked about. The three never go down from one to the next.
///
/// # Errors
/// [`ForecastError`] when the curve cannot tell.
pub fn forecast(curve: &Curve, question: &Question) -> Result<Forecast, ForecastError> {
    answerable(curve, question)?;
    let outlooks = outlooks(curve, question.trainee);
    let mut typical = [None; 3];
    let mut single = [None; 3];
    let mut next = None;
    for ahead in 1..=FARTHEST {
        let outlook = outlooks.at(ahead_by(question, ahead), question.gap);
        let open = |found: &[Option<u32>; 3]| next.is_none() || found.iter().any(Option::is_none);
        // What is known already is not worked out again: single services take by far the longest.
        let typical_now = open(&typical).then(|| outlook.chance_typical(question.target));
        let single_now = open(&single).then(|| outlook.chance_single(question.target));
        next.get_or_insert((typical_now.unwrap_or(f64::NAN), single_now.unwrap_or(f64::NAN)));
        for (found, chance) in [(&mut typical, typical_now), (&mut single, single_now)] {
            for (needed, level) in found.iter_mut().zip([0.5, 0.8, 0.95]) {
                if needed.is_none() && chance.is_some_and(|chance| chance >= level) {
                    *needed = Some(ahead);
                }
            }
        }
        if typical.iter().chain(&single).all(Option::is_some) {
            break;
        }
    }
    let needed =
        |[even, four_in_five, nineteen_in_twenty]: [Option<u32>; 3]| Needed { even, four_in_five, nineteen_in_twenty };
    let (typical_next, single_next) = next.unwrap_or((f64::NAN, f64::NAN));
    let with = curve.counted_with(question.level);
    Ok(Forecast {
        typical: needed(typical),
        single: needed(single),
        typical_next,
        single_next,
        shape_known: curve.shape_known,
        counted_with: (with != question.level).then_some(with),
    })
}

/// The service that is `ahead` services after the last, all of them at the level asked about.
pub fn ahead_by(question: &Question, ahead: u32) -> Place {
    Place {
        number: question.done.saturating_add(ahead),
        level: question.level,
        within: question.done_at_level.saturating_add(ahead),
        other_medium: false,
    }
}

#[cfg(test)]
mod tests {
    use super::below;
    use statrs::distribution::{ContinuousCDF, StudentsT};

    #[test]
    fn short_ways_to_the_t_distribution_agree_with_the_long_one() {
        for freedom in [4.0, 30.0, 45.0, 200.0] {
            let law = StudentsT::new(0.0, 1.0, freedom).unwrap();
            for step in -60..=60 {
                let t = f64::from(step) / 10.0;
                let difference = below(t, freedom) - law.cdf(t);
                let allowed = if freedom == 4.0 { 1e-12 } else { 5e-5 };
                assert!(difference.abs() < allowed, "{freedom} {t} {difference}");
            }
        }
    }
}
