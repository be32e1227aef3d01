//! What is true in a simulated academy: trainees, their curves, their services.
//!
//! Sizes are guesses without a source (there are no data on lash lifts): first service 5400 s at the
//! median, scatter 10 %, trainees' own starts 25 % and slopes .07, jumps of the plan 12 % and 10 %.

use proficiency::group_curve::Service;

use super::draw::Draw;

/// Level of the whole lash line.
pub const WHOLE: u8 = 3;

/// How the simulated world differs from the curve that is fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum World {
    /// Not at all: a power law.
    AsFitted,
    /// Each trainee has own jumps (sd 5 %), and 4 services in 100 take 1.35 to 2 times as long.
    Rough,
    /// As rough, and the curve is an exponential that comes to rest.
    Plateau,
    /// As rough, and relearning at a level is over after six services.
    Floor,
}

impl World {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::AsFitted, Self::Rough, Self::Plateau, Self::Floor];

    /// A few words for a table.
    pub fn name(self) -> &'static str {
        match self {
            Self::AsFitted => "as fitted",
            Self::Rough => "own steps, outliers",
            Self::Plateau => "the same, with a plateau",
            Self::Floor => "the same, relearning over after 6",
        }
    }
}

/// A simulated trainee.
#[derive(Debug, Clone)]
pub struct Trainee {
    world: World,
    start: f64,
    slope: f64,
    steps: [f64; 2],
    /// Services done.
    pub done: u32,
    /// Of them, on the whole lash line.
    pub done_whole: u32,
}

impl Trainee {
    fn draw(world: World, draw: &mut Draw) -> Self {
        let rough = if world == World::AsFitted { 0.0 } else { 0.05 };
        Self {
            world,
            start: 5400.0_f64.ln() + 0.25 * draw.normal(),
            slope: 0.07 * draw.normal(),
            steps: [0.12 + rough * draw.normal(), 0.10 + rough * draw.normal()],
            done: 0,
            done_whole: 0,
        }
    }

    /// ln(seconds) that half of the trainee's services stay within.
    pub fn typical(&self, number: u32, level: u8, within: u32) -> f64 {
        let n = f64::from(number);
        let practice = match self.world {
            // Down by .55 on the whole, more or less by trainee: half of it within six services.
            World::Plateau => (-0.55 + 2.5 * self.slope) * (1.0 - (-0.12 * (n - 1.0)).exp()),
            _ => (-0.20 + self.slope) * n.ln(),
        };
        let [half, whole] = self.steps;
        let step = if level >= 2 { half } else { 0.0 } + if level >= WHOLE { whole } else { 0.0 };
        let counted = if self.world == World::Floor { within.min(6) } else { within };
        let relearning = if level > 0 { -0.05 * f64::from(counted).ln() } else { 0.0 };
        self.start + practice + step + relearning
    }

    /// Seconds of one service.
    pub fn service(&self, number: u32, level: u8, within: u32, draw: &mut Draw) -> f64 {
        let far = self.world != World::AsFitted && draw.even() < 0.04;
        let factor = if far { 1.35 + 0.65 * draw.even() } else { 1.0 };
        self.typical(number, level, within).exp() * factor * (0.1 * draw.normal()).exp()
    }

    /// Services on the whole lash line until the typical one is within `target` seconds, at most `most`.
    pub fn needs(&self, target: f64, most: u32) -> Option<u32> {
        let reached = |ahead: &u32| self.typical(self.done + ahead, WHOLE, self.done_whole + ahead) <= target.ln();
        (1..=most).find(reached)
    }
}

/// Draws a group in the middle of its course, each trainee 6 to 29 services far.
pub fn group(world: World, trainees: usize, draw: &mut Draw) -> (Vec<Trainee>, Vec<Service>) {
    let mut people = Vec::with_capacity(trainees);
    let mut services = Vec::new();
    for trainee in 0..trainees {
        let mut person = Trainee::draw(world, draw);
        let first = draw.whole(3, 8);
        let second = first + draw.whole(3, 8);
        let mut within = [0_u32; 4];
        let done = draw.whole(6, 29);
        for number in 1..=done {
            let level: u8 = if number > second {
                WHOLE
            } else if number > first {
                2
            } else {
                0
            };
            let Some(count) = within.get_mut(usize::from(level)) else { continue };
            *count += 1;
            let within = *count;
            let seconds = person.service(number, level, within, draw);
            services.push(Service { trainee, number, level, within, seconds, other_medium: false });
        }
        (person.done, person.done_whole) = (done, within[3]);
        people.push(person);
    }
    (people, services)
}
