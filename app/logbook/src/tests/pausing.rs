//! Long work that pauses comes to the same as work in one go, wherever and however often it pauses.

use std::future::Future;
use std::pin::{Pin, pin};
use std::task::{Context, Poll, Waker};

use proptest::collection::vec;
use proptest::prelude::*;

use super::{academy, at, written};
use crate::draft::Draft;
use crate::fact::Fact;
use crate::hand_over::giving::write;
use crate::hand_over::{Choice, Reading, read};
use crate::logbook::{Logbook, Opening};
use crate::turns::Turns;
use crate::wire::any;
use crate::{Records, verify};

/// Pauses every so many calls.
struct Pausing {
    every: u32,
    calls: u32,
    pauses: u32,
}

impl Pausing {
    fn every(every: u32) -> Self {
        Self { every, calls: 0, pauses: 0 }
    }
}

impl Turns for Pausing {
    fn due(&mut self) -> bool {
        self.calls += 1;
        self.calls.is_multiple_of(self.every)
    }

    fn pause(&mut self) -> Pin<Box<dyn Future<Output = ()> + '_>> {
        self.pauses += 1;
        let mut paused = false;
        Box::pin(std::future::poll_fn(move |_| match std::mem::replace(&mut paused, true) {
            true => Poll::Ready(()),
            false => Poll::Pending,
        }))
    }
}

/// Runs work to its end; gives how often it had paused too.
fn run<T>(work: impl Future<Output = T>) -> (T, u32) {
    let (mut work, mut context, mut paused) = (pin!(work), Context::from_waker(Waker::noop()), 0);
    loop {
        match work.as_mut().poll(&mut context) {
            Poll::Ready(done) => return (done, paused),
            Poll::Pending => paused += 1,
        }
    }
}

fn log(facts: Vec<(Fact, practicum::moment::Moment)>) -> Logbook {
    let founding = (Draft::academy_founded(academy("Invented", false)), at("2020-01-01T09:00:00+00:00"));
    let facts = facts.into_iter().filter(|(fact, _)| !matches!(fact, Fact::AcademyFounded(_)));
    let drafts: Vec<_> =
        std::iter::once(founding).chain(facts.map(|(fact, at)| (Draft::new(&"a".into(), fact), at))).collect();
    let lines: Vec<String> = written(&drafts, 3).iter().map(|entry| entry.line().to_owned()).collect();
    Logbook::open("d0".into(), &lines, "")
}

proptest! {
    #[test]
    fn a_file_that_is_taken_in_with_pauses_gives_what_it_gives_at_once(
        facts in vec((any::fact(), any::moment()), 0..12), own in 0_usize..12, every in 1_u32..9
    ) {
        let (theirs, ours) = (log(facts.clone()), log(facts.into_iter().take(own).collect()));
        let now = at("2026-04-01T12:00:00+01:00");
        let bytes = write(&theirs, &Choice::everything(), &now).unwrap();
        let at_once = read(&bytes, None).unwrap();
        let taken_at_once = at_once.take_in(&ours, false, &now).unwrap();
        let turns = &mut Pausing::every(every);
        let ((taken, lacks), paused) = run(async {
            let mut reading = Reading::new();
            let start = b"upsweep-hand-over 1\n".len();
            reading.feed_in_turns(&bytes[start..], None, turns).await.unwrap();
            let file = reading.finish_in_turns(turns).await.unwrap();
            let taken = file.take_in_turns(&ours, false, &now, turns).await.unwrap();
            (taken, file.lacks_in_turns(ours.log(), turns).await)
        });
        prop_assert_eq!(paused, turns.pauses);
        prop_assert!(paused > 0, "it never paused");
        prop_assert_eq!(lacks, at_once.lacks_of(ours.log()));
        prop_assert_eq!(&taken.lines, &taken_at_once.lines);
        prop_assert_eq!(&taken.head, &taken_at_once.head);
        prop_assert_eq!(&taken.preview, &taken_at_once.preview);
        prop_assert_eq!(&taken.carried_further, &taken_at_once.carried_further);
        prop_assert_eq!(taken.logbook.records(), taken_at_once.logbook.records());
        prop_assert_eq!(taken.logbook.records(), &Records::of(taken.logbook.log()));
        prop_assert_eq!(taken.logbook.log().header_set_hash(), taken_at_once.logbook.log().header_set_hash());
        prop_assert_eq!(taken.logbook.lines(), taken_at_once.logbook.lines());
    }

    #[test]
    fn a_log_that_is_opened_with_pauses_is_the_same(
        facts in vec((any::fact(), any::moment()), 0..12), every in 1_u32..9, known in 0_usize..12
    ) {
        let whole = log(facts);
        let lines = whole.lines();
        let turns = &mut Pausing::every(every);
        let mut opening = Opening::default();
        lines.iter().for_each(|line| opening.take(line));
        let (opened, _) = run(opening.finish_in_turns("d0".into(), "", None, turns));
        prop_assert_eq!(opened.records(), whole.records());
        prop_assert_eq!(opened.lines(), lines.clone());
        let before = Logbook::open_own("d0".into(), &lines[..known.min(lines.len())], "");
        let (again, _) = run(before.opened_again_in_turns(&lines, "", turns));
        prop_assert_eq!(again.records(), whole.records());
        prop_assert_eq!(again.problems(), whole.problems());
        prop_assert_eq!(again.lines(), lines);
    }

    #[test]
    fn a_file_that_is_verified_with_pauses_says_the_same(
        facts in vec((any::fact(), any::moment()), 0..12), every in 1_u32..9
    ) {
        let now = at("2026-04-01T12:00:00+01:00");
        let bytes = write(&log(facts), &Choice::everything(), &now).unwrap();
        let turns = &mut Pausing::every(every);
        let (report, paused) = run(async {
            let opened = verify::open_in_turns(&bytes, None, turns).await.unwrap();
            verify::report_in_turns(&opened, None, turns).await
        });
        let at_once = verify::report(&verify::open(&bytes, None).unwrap(), None);
        prop_assert!(paused > 0, "it never paused");
        prop_assert_eq!(format!("{report:?}"), format!("{at_once:?}"));
    }
}
