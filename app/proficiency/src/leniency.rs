//! How leniently each assessor marks, apart from how good the trainees are whom they saw.
//!
//! score = mean + trainee + assessor + scatter, trainees and assessors crossed random effects, fitted by
//! restricted maximum likelihood (Bates, Maechler, Bolker and Walker 2015, Journal of Statistical Software
//! 67(1); its Penicillin data are the check). An assessor's effect is pulled toward zero as far as the
//! marks leave it in doubt.

use crate::mixed::{Criterion, Crossed, Effect, Mixed, MixedError, Rows, Structure};

/// A score that an assessor gave a trainee.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    /// Whose work, any number.
    pub trainee: usize,
    /// Who marked, any number.
    pub assessor: usize,
    /// The score, in any unit.
    pub score: f64,
}

/// How assessors mark.
#[derive(Debug, Clone, PartialEq)]
pub struct Leniency {
    /// Mean score.
    pub mean: f64,
    /// Standard error of the mean.
    pub mean_error: f64,
    /// Spread of trainees, as a standard deviation.
    pub trainee_sd: f64,
    /// Spread of assessors, as a standard deviation.
    pub assessor_sd: f64,
    /// Spread of marks around trainee and assessor, as a standard deviation.
    pub residual_sd: f64,
    /// Per assessor, by label: how much higher than the mean they mark, with its standard error.
    pub assessors: Vec<Effect>,
}

impl Leniency {
    /// How much higher than the mean an assessor marks; 0 for one who is not in the marks.
    pub fn of(&self, assessor: usize) -> f64 {
        self.assessors.iter().find(|effect| effect.label == assessor).map_or(0.0, |effect| effect.value)
    }

    /// Assessors who mark higher or lower by more than `share` of the residual spread (.5 is usual).
    pub fn beyond(&self, share: f64) -> Vec<usize> {
        let limit = share * self.residual_sd;
        let far = self.assessors.iter().filter(|effect| effect.value.abs() > limit);
        far.map(|effect| effect.label).collect()
    }
}

/// Separates assessors from trainees; scores that are not finite are left out.
///
/// # Errors
/// [`MixedError`] with fewer than two trainees or assessors, fewer than two scores, or equal scores only.
pub fn leniency(marks: &[Mark]) -> Result<Leniency, MixedError> {
    let used: Vec<&Mark> = marks.iter().filter(|mark| mark.score.is_finite()).collect();
    let score: Vec<f64> = used.iter().map(|mark| mark.score).collect();
    let trainee: Vec<usize> = used.iter().map(|mark| mark.trainee).collect();
    let ones = vec![vec![1.0; used.len()]];
    let assessors = Crossed { level: used.iter().map(|mark| mark.assessor).collect(), column: None };
    let rows = Rows {
        response: &score,
        fixed: &ones,
        group: &trainee,
        random: &ones,
        structure: Structure::Full,
        crossed: &[assessors],
    };
    let fit = Mixed::new(&rows)?.fit(Criterion::Reml)?;
    let first = |values: Vec<f64>| values.first().copied().unwrap_or(f64::NAN);
    let cell = |square: Vec<Vec<f64>>| square.first().and_then(|row| row.first()).copied().unwrap_or(f64::NAN);
    Ok(Leniency {
        mean: first(fit.beta()),
        mean_error: cell(fit.beta_covariance()).sqrt(),
        trainee_sd: cell(fit.group_covariance()).sqrt(),
        assessor_sd: first(fit.crossed_sd()),
        residual_sd: fit.sigma(),
        assessors: fit.crossed_effects(0),
    })
}

#[cfg(test)]
mod tests {
    use super::{Mark, leniency};
    use crate::mixed::MixedError;

    /// Assessor 2 marks half a point higher; each assessor saw other trainees, good and less good.
    fn marks() -> Vec<Mark> {
        let mut marks = Vec::new();
        for trainee in 0..12_usize {
            for assessor in [trainee % 3, (trainee + 1) % 3] {
                let good = 1.5 + 0.1 * trainee as f64;
                let wave = ((trainee * 5 + assessor * 3) as f64).sin() * 0.1;
                let lenient = if assessor == 2 { 0.5 } else { 0.0 };
                marks.push(Mark { trainee, assessor, score: good + lenient + wave });
            }
        }
        marks
    }

    #[test]
    fn a_lenient_assessor_is_told_from_good_trainees() {
        let found = leniency(&marks()).unwrap();
        let gap = found.of(2) - (found.of(0) + found.of(1)) / 2.0;
        assert!((gap - 0.5).abs() < 0.1, "{found:?}");
        assert_eq!(found.beyond(2.0), [2]);
        assert_eq!(found.of(9), 0.0);
        assert!(found.assessors.iter().all(|effect| effect.error > 0.0 && effect.error < found.assessor_sd));
    }

    #[test]
    fn too_little_says_why() {
        assert_eq!(leniency(&[]).err(), Some(MixedError::NoRows));
        let one: Vec<Mark> = marks().into_iter().filter(|mark| mark.assessor == 1).collect();
        assert_eq!(leniency(&one).err(), Some(MixedError::OneGroup));
        let equal: Vec<Mark> = marks().into_iter().map(|mark| Mark { score: 2.0, ..mark }).collect();
        assert_eq!(leniency(&equal).err(), Some(MixedError::NoScatter));
        let mut broken = marks();
        broken.push(Mark { trainee: 1, assessor: 1, score: f64::NAN });
        assert_eq!(leniency(&broken), leniency(&marks()));
    }
}
