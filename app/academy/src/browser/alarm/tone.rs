//! The tones: pulses of one pitch, their number and pitch different for each side.

use std::f32::consts::TAU;

/// Which eye an alarm is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// The left eye: two long low pulses.
    Left,
    /// The right eye: three short high pulses.
    Right,
    /// Neither eye alone, such as the rinse clock: one long pulse in between.
    Both,
}

/// Pulses of one pitch in a round.
struct Pulses {
    hertz: f32,
    count: u32,
    on_seconds: f32,
    off_seconds: f32,
}

/// Seconds of one round, the rest of it silent.
const ROUND_SECONDS: f32 = 2.0;
/// Seconds in which a pulse swells and fades, so that it does not click.
const EDGE_SECONDS: f32 = 0.005;

impl Side {
    fn pulses(self) -> Pulses {
        match self {
            Self::Left => Pulses { hertz: 880.0, count: 2, on_seconds: 0.35, off_seconds: 0.2 },
            Self::Right => Pulses { hertz: 2200.0, count: 3, on_seconds: 0.14, off_seconds: 0.1 },
            Self::Both => Pulses { hertz: 1400.0, count: 1, on_seconds: 0.9, off_seconds: 0.0 },
        }
    }

    /// Returns where the tone sits between left (-1) and right (+1); some of it always reaches both ears.
    pub(super) fn pan(self) -> f32 {
        match self {
            Self::Left => -0.8,
            Self::Right => 0.8,
            Self::Both => 0.0,
        }
    }

    /// Returns the shake of one round: milliseconds on, off, on, ...
    pub(super) fn shake(self) -> &'static [u32] {
        match self {
            Self::Left => &[350, 200, 350],
            Self::Right => &[140, 100, 140, 100, 140],
            Self::Both => &[900],
        }
    }
}

/// Draws one round of a side's tone at `rate` samples a second, each sample between -1 and 1.
///
/// A third overtone is added: it carries through a room where a pure tone is lost.
pub(super) fn samples(side: Side, rate: f32) -> Vec<f32> {
    let Pulses { hertz, count, on_seconds, off_seconds } = side.pulses();
    let length = (ROUND_SECONDS * rate) as usize;
    (0..length)
        .map(|n| {
            let at = n as f32 / rate;
            let pulse = (at / (on_seconds + off_seconds)).floor();
            let into = at - pulse * (on_seconds + off_seconds);
            if pulse >= count as f32 || into >= on_seconds {
                return 0.0;
            }
            let edge = (into.min(on_seconds - into) / EDGE_SECONDS).clamp(0.0, 1.0);
            let phase = TAU * hertz * into;
            edge * (0.75 * phase.sin() + 0.25 * (3.0 * phase).sin())
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{Side, samples};

    const RATE: f32 = 48_000.0;

    /// Counts the stretches of sound that are parted by at least 50 ms of silence.
    fn pulses(samples: &[f32]) -> Vec<&[f32]> {
        let loud: Vec<usize> = (0..samples.len()).filter(|n| samples[*n].abs() > 0.01).collect();
        loud.chunk_by(|a, b| b - a < (0.05 * RATE) as usize)
            .map(|stretch| &samples[stretch[0]..=stretch[stretch.len() - 1]])
            .collect()
    }

    /// Measures the pitch by the strongest answer among whole tens of hertz.
    fn hertz(pulse: &[f32]) -> f32 {
        let strength = |hertz: f32| {
            let (mut re, mut im) = (0.0_f32, 0.0_f32);
            for (n, sample) in pulse.iter().enumerate() {
                let phase = std::f32::consts::TAU * hertz * n as f32 / RATE;
                re += sample * phase.cos();
                im += sample * phase.sin();
            }
            re.hypot(im)
        };
        (10..400).map(|tens| tens as f32 * 10.0).max_by(|a, b| strength(*a).total_cmp(&strength(*b))).unwrap()
    }

    #[test]
    fn left_and_right_differ_in_pitch_and_in_number_of_pulses() {
        let (left, right) = (samples(Side::Left, RATE), samples(Side::Right, RATE));
        assert_eq!(pulses(&left).len(), 2);
        assert_eq!(pulses(&right).len(), 3);
        assert!(hertz(pulses(&right)[0]) > 2.0 * hertz(pulses(&left)[0]));
    }

    #[test]
    fn every_tone_lies_where_ears_are_keenest_and_is_loud() {
        for side in [Side::Left, Side::Right, Side::Both] {
            let round = samples(side, RATE);
            let pitch = hertz(pulses(&round)[0]);
            assert!((800.0..=2500.0).contains(&pitch), "{side:?} sounds at {pitch} Hz");
            let loudest = round.iter().fold(0.0_f32, |loudest, sample| loudest.max(sample.abs()));
            assert!((0.7..=1.0).contains(&loudest), "{side:?} reaches {loudest}");
        }
    }

    #[test]
    fn a_round_ends_in_silence_so_that_it_can_repeat() {
        for side in [Side::Left, Side::Right, Side::Both] {
            let round = samples(side, 44_100.0);
            assert_eq!(round.len(), 88_200);
            assert!(round[round.len() - 4410..].iter().all(|sample| *sample == 0.0));
        }
    }
}
