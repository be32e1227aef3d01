//! The clocks on the couch screen at the present reading, worked out from the taps.

use practicum::couch::clock::Doubt;
use practicum::couch::fold::{Phase, Run};
use practicum::couch::times::{Dwell, DwellJudgement};
use practicum::eye::PerEye;
use practicum::moment::{Reading, Seconds, format_seconds};

/// All clocks at one reading.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct Live {
    /// Seconds since the run began.
    pub(crate) seconds: Seconds,
    /// Service time so far.
    pub(crate) service: Option<Seconds>,
    /// Hands-on time so far.
    pub(crate) hands_on: Option<Seconds>,
    /// Waiting so far.
    pub(crate) waiting: Option<Seconds>,
    /// Hands-on seconds of the stage being worked on now.
    pub(crate) stage: Option<Seconds>,
    /// Seconds of the present pause.
    pub(crate) paused: Option<Seconds>,
    /// Dwell of each eye while a product is on.
    pub(crate) dwell: PerEye<Option<LiveDwell>>,
    /// The clocks disagree about the time since the last tap.
    pub(crate) doubtful: bool,
}

/// A dwell that runs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct LiveDwell {
    /// Word for the product.
    pub(crate) product: &'static str,
    /// Seconds from first contact.
    pub(crate) from_first: Seconds,
    /// Seconds from last contact.
    pub(crate) from_last: Option<Seconds>,
    /// Seconds until the alarm; negative once it is past due.
    pub(crate) until_alarm: i64,
    /// Seconds from first contact to the alarm.
    pub(crate) whole: Seconds,
    /// Window and label maximum in words.
    pub(crate) window: String,
    /// How it would be judged if it ended now.
    pub(crate) judgement: DwellJudgement,
    /// The early warning is due and the alarm is not.
    pub(crate) early: bool,
    /// The alarm is due.
    pub(crate) due: bool,
    /// The alarm was acknowledged.
    pub(crate) heard: bool,
    /// A stretch of unknown length lies within: the countdown cannot be trusted, and the alarm is due.
    pub(crate) unknown: bool,
}

impl Live {
    /// Works out the clocks of a run at a reading.
    pub(crate) fn at(run: &Run<'_>, now: &Reading, early_warning: Seconds, late: Seconds) -> Self {
        let (_, doubt) = run.seconds_now(now);
        let run = run.at(now);
        let times = run.times();
        let paused = match run.phase() {
            Phase::Paused(_) => times.pause_reasons.last().map(|(_, seconds)| *seconds),
            _ => None,
        };
        Live {
            seconds: run.seconds(),
            service: times.service,
            hands_on: times.hands_on,
            waiting: times.waiting,
            stage: run.hand().map(|hand| run.worked(&hand.stage, hand.eye)),
            paused,
            dwell: PerEye::from_fn(|eye| {
                let dwell = run.product_on(eye)?;
                let unknown = run.time_unknown(eye) || doubt == Some(Doubt::BackWhileClosed);
                Some(live_dwell(dwell, run.seconds(), early_warning, late, run.alarm_heard(eye), unknown))
            }),
            doubtful: doubt.is_some(),
        }
    }
}

fn live_dwell(
    dwell: &Dwell,
    now: Seconds,
    early_warning: Seconds,
    late: Seconds,
    heard: bool,
    unknown: bool,
) -> LiveDwell {
    let alarm = dwell.alarm_at().unwrap_or(dwell.first_contact);
    let until_alarm = i64::from(alarm) - i64::from(now);
    let window = dwell.plan.map_or_else(String::new, |plan| {
        format!(
            "{} to {}, label maximum {}",
            format_seconds(plan.minimum),
            format_seconds(plan.maximum),
            format_seconds(plan.label_maximum)
        )
    });
    LiveDwell {
        product: dwell.product.word(),
        from_first: dwell.from_first(now),
        from_last: dwell.from_last(now),
        until_alarm,
        whole: alarm.saturating_sub(dwell.first_contact),
        window,
        judgement: dwell.judge(now, late),
        early: !unknown && 0 < until_alarm && until_alarm <= i64::from(early_warning),
        due: unknown || until_alarm <= 0,
        heard,
        unknown,
    }
}

impl LiveDwell {
    /// Returns the state as a word for style sheets: on, early or due.
    pub(crate) fn state(&self) -> &'static str {
        if self.due {
            "due"
        } else if self.early {
            "early"
        } else {
            "on"
        }
    }

    /// Returns the large text: time left, or how long past due.
    pub(crate) fn countdown(&self) -> String {
        if self.unknown {
            return "time not known".to_owned();
        }
        let seconds = Seconds::try_from(self.until_alarm.unsigned_abs()).unwrap_or(Seconds::MAX);
        if self.due && seconds > 0 {
            format!("past due by {}", format_seconds(seconds))
        } else {
            format_seconds(seconds)
        }
    }
}
