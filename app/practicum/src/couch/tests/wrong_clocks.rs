//! Claims about devices whose clock is set, or that sleep or die, while a product is on.

use super::*;
use crate::couch::clock::Doubt;

/// Lets the wall clock jump from now on, as a tap of the next reading.
fn jump(couch: &mut Couch, seconds: i64, page: u32, act: Act) {
    couch.tap(act);
    let last = couch.taps.last_mut().unwrap();
    last.reading.at += chrono::Duration::seconds(seconds);
    last.reading.page = page;
}

fn with_lotion() -> Couch {
    let mut couch = lotion_couch();
    couch.tap(Act::LotionStarts("lift".into(), Eye::Left)).wait(20).tap(Act::AllOn("lift".into(), Eye::Left)).wait(60);
    couch
}

fn said(couch: &Couch, seconds: Seconds, by: &str) -> Act {
    let at_tap = couch.taps.last().unwrap().sequence;
    Act::TimeConfirmed { at_tap, seconds, by: by.into(), what: "the clock was set".into() }
}

#[test]
fn a_dead_phone_with_its_clock_gone_back_calls_at_once() {
    let (book, mut couch) = (book(), with_lotion());
    let opening = opening(&book);
    // Acknowledged in the very second in which the phone dies: what came before says nothing about after.
    couch.wait(300).tap(Act::AlarmHeard(Eye::Left));
    jump(&mut couch, -86_400, 2, Act::ClockSeen);
    let run = Run::fold(&book, &opening, &couch.taps);
    assert_eq!(run.doubtful()[0].doubt, Doubt::BackWhileClosed);
    assert!(run.time_unknown(Eye::Left) && !run.alarm_heard(Eye::Left));
    assert!(!run.time_unknown(Eye::Right), "nothing is on the right eye");
    let said = said(&couch, 400, "t1");
    jump(&mut couch, -86_400, 2, said);
    let run = Run::fold(&book, &opening, &couch.taps);
    assert_eq!((run.ignored().len(), run.time_unknown(Eye::Left)), (0, false));
    let dwell = run.product_on(Eye::Left).unwrap();
    assert_eq!(
        dwell.from_first(run.seconds()),
        20 + 60 + 300 + 400,
        "the stated time takes the place of the unknown one"
    );
}

#[test]
fn a_trainee_never_makes_a_doubtful_time_shorter_and_an_instructor_may() {
    let (book, mut couch) = (book(), with_lotion());
    let opening = opening(&book);
    jump(&mut couch, 3_600, 1, Act::ClockSeen);
    for (seconds, by, taken) in [(60, "t1", false), (3_660, "t1", true), (60, "i1", true)] {
        let mut told = Couch { taps: couch.taps.clone(), ms: couch.ms };
        let said = said(&told, seconds, by);
        jump(&mut told, 3_600, 1, said);
        let run = Run::fold(&book, &opening, &told.taps);
        assert_eq!(run.ignored().is_empty(), taken, "{by} says {seconds} s");
        let from_first = run.product_on(Eye::Left).unwrap().from_first(run.seconds());
        assert_eq!(from_first, if taken && seconds == 60 { 80 } else { 3_680 });
    }
}

#[test]
fn a_stretch_stays_out_of_time_standards_until_somebody_speaks_and_is_shown_for_good() {
    let (book, mut couch) = (book(), with_lotion());
    let opening = opening(&book);
    jump(&mut couch, 3_600, 1, Act::ClockSeen);
    let open = Run::fold(&book, &opening, &couch.taps).times();
    assert_eq!((open.doubts.len(), open.edited), (1, false));
    let confirmed = said(&couch, 3_660, "t1");
    let set_right = said(&couch, 60, "i1");
    for (said, edited) in [(confirmed, false), (set_right, true)] {
        let mut told = Couch { taps: couch.taps.clone(), ms: couch.ms };
        jump(&mut told, 3_600, 1, said);
        let run = Run::fold(&book, &opening, &told.taps);
        assert_eq!((run.times().doubts.len(), run.times().edited), (0, edited));
        assert_eq!(run.doubtful().len(), 1, "shown for good");
    }
}

#[test]
fn only_a_doubtful_stretch_can_be_spoken_about_and_never_without_a_word() {
    let (book, mut couch) = (book(), with_lotion());
    let opening = opening(&book);
    let sure = said(&couch, 5, "i1");
    couch.tap(sure);
    jump(&mut couch, 3_600, 1, Act::ClockSeen);
    let at_tap = couch.taps.last().unwrap().sequence;
    jump(&mut couch, 3_600, 1, Act::TimeConfirmed { at_tap, seconds: 60, by: "i1".into(), what: " ".into() });
    assert_eq!(Run::fold(&book, &opening, &couch.taps).ignored().len(), 2);
}
