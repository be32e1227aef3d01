//! What a rule does over a run of services: when it passes, when it gives up, how many services it takes.

/// The chances of a rule over a run of services, service by service.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Course {
    /// Chance of passing at exactly each service.
    pass: Vec<f64>,
    /// Chance of ending without a pass at exactly each service.
    stop: Vec<f64>,
}

/// Failures that end a rule after so many services.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bounds {
    /// Most failures with which it passes; `None` when it cannot pass here.
    pub pass_at_most: Option<u32>,
    /// Fewest failures with which it ends without a pass; `None` when it cannot here.
    pub reject_at_least: Option<u32>,
}

impl Course {
    pub(super) fn new(services: usize) -> Self {
        Self { pass: vec![0.0; services], stop: vec![0.0; services] }
    }

    pub(super) fn pass_at(&mut self, at: usize, chance: f64) {
        if let Some(pass) = self.pass.get_mut(at) {
            *pass += chance;
        }
    }

    pub(super) fn stop_at(&mut self, at: usize, chance: f64) {
        if let Some(stop) = self.stop.get_mut(at) {
            *stop += chance;
        }
    }

    /// Follows a rule that looks at the number of failures alone over a run of failure rates: `bounds` says after
    /// each service, counted from 1, with how many it ends.
    pub(super) fn by_failures(path: &[f64], bounds: impl Fn(u32) -> Bounds) -> Self {
        let mut course = Self::new(path.len());
        // Chance of each number of failures, still going.
        let mut going = vec![1.0_f64];
        for ((at, failing), services) in path.iter().enumerate().zip(1_u32..) {
            let mut next = vec![0.0; going.len() + 1];
            for (failures, chance) in going.iter().enumerate() {
                for (more, share) in [(0, 1.0 - failing), (1, *failing)] {
                    if let Some(cell) = next.get_mut(failures + more) {
                        *cell += chance * share;
                    }
                }
            }
            let Bounds { pass_at_most, reject_at_least } = bounds(services);
            for (chance, failures) in next.iter_mut().zip(0_u32..) {
                if pass_at_most.is_some_and(|most| failures <= most) {
                    course.pass_at(at, std::mem::take(chance));
                } else if reject_at_least.is_some_and(|least| failures >= least) {
                    course.stop_at(at, std::mem::take(chance));
                }
            }
            going = next;
        }
        course
    }

    /// Returns the chance of having passed by a number of services, 0 to 1.
    pub fn pass_by(&self, services: usize) -> f64 {
        self.pass.iter().take(services).sum::<f64>().min(1.0)
    }

    /// Returns the chance of having ended without a pass by a number of services, 0 to 1.
    pub fn stop_by(&self, services: usize) -> f64 {
        self.stop.iter().take(services).sum::<f64>().min(1.0)
    }

    /// Returns the chance of passing within the run, 0 to 1.
    pub fn passes(&self) -> f64 {
        self.pass_by(self.pass.len())
    }

    /// Returns the mean number of services until the rule passes, ends or the run is over.
    pub fn services(&self) -> f64 {
        let mut going = 1.0_f64;
        let mut mean = 0.0;
        for (pass, stop) in self.pass.iter().zip(&self.stop) {
            mean += going.max(0.0);
            going -= pass + stop;
        }
        mean
    }

    /// Returns the mean number of services of those who pass; `None` when nobody does.
    pub fn services_when_passed(&self) -> Option<f64> {
        let all: f64 = self.pass.iter().sum();
        let sum: f64 = self.pass.iter().zip(1_u32..).map(|(pass, service)| pass * f64::from(service)).sum();
        (all > 0.0).then(|| sum / all)
    }

    /// Returns the chance of passing at a service whose own failure rate is still at least `rate`.
    pub fn premature(&self, path: &[f64], rate: f64) -> f64 {
        self.pass.iter().zip(path).filter(|(_, failing)| **failing >= rate).map(|(pass, _)| pass).sum()
    }

    /// Returns the fewest services, counted from 1, at which a pass has any chance.
    pub fn earliest_pass(&self) -> Option<u32> {
        let at = self.pass.iter().position(|pass| *pass > 0.0)?;
        u32::try_from(at + 1).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::Course;

    #[test]
    fn means_and_sums_are_those_of_the_chances() {
        let mut course = Course::new(3);
        course.pass_at(0, 0.5);
        course.stop_at(1, 0.2);
        course.pass_at(2, 0.1);
        course.pass_at(9, 0.7);
        assert!((course.passes() - 0.6).abs() < 1e-15);
        assert!((course.stop_by(2) - 0.2).abs() < 1e-15);
        // .5 end after 1, .2 after 2, the other .3 after 3.
        assert!((course.services() - (0.5 + 0.4 + 0.9)).abs() < 1e-12);
        assert!((course.services_when_passed().unwrap() - (0.5 + 0.3) / 0.6).abs() < 1e-12);
        assert!((course.premature(&[0.5, 0.2, 0.1], 0.5) - 0.5).abs() < 1e-15);
        assert_eq!(course.earliest_pass(), Some(1));
        assert_eq!(Course::new(2).services_when_passed(), None);
        assert_eq!(Course::new(2).earliest_pass(), None);
    }
}
