//! Claims about trials: a trainee's services one after the other, and what is said of them.

use super::*;
use crate::couch::Stop;
use crate::course_book::CourseBook;
use crate::evidence::example::*;
use crate::evidence::opening;
use crate::section::Plan;
use crate::trial::{Millionths, ScoreTerms};

/// The thresholds of the example course book: eight acceptable in a row pass.
fn terms() -> Terms {
    Terms {
        plan: Plan::Whole,
        unacceptable: Millionths::of(0.4),
        acceptable: Millionths::of(0.05),
        horizon: 20,
        alpha: Millionths::of(0.1),
        unassessed_share: Millionths::of(0.2),
        breach_free_last: 8,
        score: None,
        false_accept: Millionths(0),
        false_reject: Millionths(0),
    }
}

fn trial(number: u64, day: u64, terms: Terms) -> Trial {
    Trial {
        id: EntryId::new(format!("t{number}")),
        trainee: "trainee".into(),
        by: "instructor".into(),
        at: on_day(day),
        terms,
        course_book: "Example 1".into(),
    }
}

/// Services at the whole lash line, one a day from day 1, each with what an assessor saw: `+` acceptable, `-` not,
/// `!` a safety breach, `.` not marked, `*` acceptable but not observed.
struct Run {
    services: Vec<Service>,
    outcomes: Vec<Outcome>,
}

impl Run {
    fn new(marks: &str) -> Self {
        let mut run = Run { services: Vec::new(), outcomes: Vec::new() };
        for (letter, number) in marks.chars().zip(1_u32..) {
            let service = service(number, u64::from(number), Plan::Whole, 1500);
            let mut view = match letter {
                '-' => outcome(&service, "one", Mark::Meets, &[("curl", Mark::Nearly)]),
                '!' => outcome(&service, "one", Mark::Meets, &[("hygiene", Mark::NotYet)]),
                _ => outcome(&service, "one", Mark::Meets, &[]),
            };
            view.observed = letter != '*';
            run.services.push(service);
            if letter != '.' {
                run.outcomes.push(view);
            }
        }
        run
    }

    fn states(&self, trials: &[Trial], book: &CourseBook) -> Result<Vec<TrialState>, String> {
        let (services, outcomes): (Vec<_>, Vec<_>) = (self.services.iter().collect(), self.outcomes.iter().collect());
        let trials: Vec<&Trial> = trials.iter().collect();
        trial_states(&TrialInput {
            trainee: &"trainee".into(),
            books: Books { present: book, adopted: &[] },
            services: &services,
            outcomes: &outcomes,
            trials: &trials,
        })
    }

    fn state(&self, terms: Terms) -> TrialState {
        self.states(&[trial(1, 0, terms)], &book()).unwrap().pop().unwrap()
    }
}

fn state(marks: &str) -> TrialState {
    Run::new(marks).state(terms())
}

#[test]
fn eight_acceptable_in_a_row_demonstrate_and_seven_do_not() {
    let seven = state("+++++++");
    assert_eq!((seven.verdict, seven.quality.needed, seven.left), (TrialVerdict::Open, Some(1), 13));
    assert!(seven.sentence.starts_with("Not demonstrated yet: 7 of 7 marked services"), "{}", seven.sentence);
    assert_eq!(seven.settles, "The shortest way from here: 1 more acceptable in a row.");
    let eight = state("++++++++");
    assert_eq!(eight.verdict, TrialVerdict::Demonstrated);
    assert_eq!(eight.sentence, "Demonstrated on 9 March 2026: 8 of 8 marked services at whole lash line acceptable.");
    assert_eq!((eight.quality.passed, eight.quality.passed_after), (Some("s008".into()), Some(8)));
    assert_eq!(eight.settles, "");
}

#[test]
fn a_pass_stands_whatever_follows_and_the_second_chart_watches() {
    let after = state("++++++++---");
    assert_eq!(after.verdict, TrialVerdict::Demonstrated);
    let watch = after.watch.unwrap();
    assert_eq!(watch.values.len(), 3);
    assert!(watch.signalled.is_some() && watch.quiet_for >= 300.0 && watch.found_after < 20.0, "{watch:?}");
    assert_eq!(state("+++").watch, None);
}

#[test]
fn a_correction_takes_a_pass_back() {
    let mut run = Run::new("++++++++");
    assert_eq!(run.state(terms()).verdict, TrialVerdict::Demonstrated);
    run.outcomes[3] = outcome(&run.services[3], "one", Mark::Meets, &[("curl", Mark::Nearly)]);
    let corrected = run.state(terms());
    assert_eq!(corrected.verdict, TrialVerdict::Open);
    assert!(corrected.quality.needed.unwrap() > 0);
}

#[test]
fn what_cannot_pass_any_more_is_not_demonstrated_and_nothing_worse() {
    let over = state("-+-+-+-+-+-+-+-+-+-+");
    assert_eq!(over.verdict, TrialVerdict::NotDemonstrated);
    assert!(over.sentence.starts_with("Not demonstrated in this trial"), "{}", over.sentence);
    assert!(!format!("{over:?}").to_lowercase().contains("incompetent"));
    // Thirteen marked, none acceptable: seven are left and eight would be needed.
    assert_eq!(state("-------------").verdict, TrialVerdict::NotDemonstrated);
    assert_eq!(state("------------").verdict, TrialVerdict::Open);
}

#[test]
fn services_after_the_horizon_do_not_pass() {
    let late = state("-+-+-+-+-+-+-+-+-+-+++++++++");
    assert_eq!((late.verdict, late.left), (TrialVerdict::NotDemonstrated, 0));
    assert_eq!(late.quality.values.len(), 20);
}

#[test]
fn the_chances_are_those_of_the_example_course_book() {
    let found = state("+");
    assert!((found.quality.limit - 3.435).abs() < 5e-4);
    assert!((found.quality.false_pass - 0.099).abs() < 5e-4);
    assert!((found.quality.power - 0.98).abs() < 5e-3);
    assert_eq!(found.quality.shortest, Some(8));
    assert!(found.workings[0].contains("3.435") && found.workings[0].contains("9.9 %"), "{}", found.workings[0]);
}

#[test]
fn more_than_one_in_five_unmarked_withdraw_the_bound() {
    let four = state("++++++++..");
    assert!(!four.bound_withdrawn, "2 of 10");
    let many = state("++++++++...");
    assert!(many.bound_withdrawn, "3 of 11");
    assert!(many.sentence.contains("3 of its 11 services are not marked"), "{}", many.sentence);
}

#[test]
fn other_plans_drills_imports_and_earlier_services_do_not_belong() {
    let mut run = Run::new("++++++++");
    run.services[0] = imported(run.services[0].clone());
    run.services[1] = drill(run.services[1].clone());
    run.services[2] = service(3, 3, Plan::Halves, 1500);
    run.services[3].ending = Ending::Stopped(Stop::BeforeLotion("eye infection".into()));
    run.services[4].began = on_day(0) - chrono::Days::new(1);
    let found = run.state(terms());
    assert_eq!(found.services.len(), 3);
}

#[test]
fn a_service_stopped_for_a_fault_counts_and_is_not_acceptable() {
    let mut run = Run::new("++++++++");
    run.services[7].ending = Ending::Stopped(Stop::Fault("crossed".into()));
    let found = run.state(Terms { score: Some(score()), ..terms() });
    assert_eq!(found.services[7].acceptable, Some(false));
    assert_eq!(found.services[7].score, Some(0.0));
}

#[test]
fn a_late_entry_that_nobody_observed_is_passed_over_and_counted_as_unmarked() {
    let mut run = Run::new("*+");
    run.services[0] = late(run.services[0].clone());
    let found = run.state(terms());
    assert_eq!((found.services[0].acceptable, found.unassessed), (None, 1));
    run.outcomes[0].observed = true;
    assert_eq!(run.state(terms()).unassessed, 0);
}

#[test]
fn own_marks_and_own_trials_never_count() {
    let mut run = Run::new("+");
    run.outcomes[0].marker = "trainee".into();
    assert_eq!(run.state(terms()).unassessed, 1);
    let own = Trial { by: "trainee".into(), ..trial(1, 0, terms()) };
    assert_eq!(run.states(&[own], &book()), Ok(Vec::new()));
    let of_another = Trial { trainee: "another".into(), ..trial(1, 0, terms()) };
    assert_eq!(run.states(&[of_another], &book()), Ok(Vec::new()));
}

#[test]
fn safety_is_asked_for_beside_quality() {
    // A breach at the first, then enough acceptable ones to pass, but not eight in a row without a breach.
    let mut terms = terms();
    terms.breach_free_last = 12;
    let open = Run::new("!+++++++++").state(terms);
    assert!(open.quality.passed.is_some());
    assert_eq!((open.verdict, open.safety.clean), (TrialVerdict::SafetyOpen, 9));
    assert_eq!(open.settles, "3 more services without a safety breach.");
    assert_eq!(Run::new("!++++++++++++").state(terms).verdict, TrialVerdict::Demonstrated);
}

#[test]
fn a_later_breach_suspends_until_a_service_is_observed_again() {
    let suspended = state("++++++++!");
    assert_eq!(suspended.verdict, TrialVerdict::Suspended);
    assert!(suspended.sentence.contains("suspended after a safety breach"), "{}", suspended.sentence);
    assert_eq!(suspended.safety.breaches, ["s009".into()]);
    assert_eq!(state("++++++++!*").verdict, TrialVerdict::Suspended, "marked, not observed");
    assert_eq!(state("++++++++!-").verdict, TrialVerdict::Suspended, "observed, not acceptable");
    assert_eq!(state("++++++++!+").verdict, TrialVerdict::Demonstrated);
}

#[test]
fn a_breach_that_a_clock_recorded_needs_no_mark() {
    let mut run = Run::new("++++++++.");
    run.services[8] = past_label(run.services[8].clone());
    assert_eq!(run.state(terms()).verdict, TrialVerdict::Suspended);
    run.services[8] = past_label(service(9, 9, Plan::Quarters, 1500));
    assert_eq!(run.state(terms()).verdict, TrialVerdict::Suspended, "at any plan");
}

#[test]
fn breaches_are_reported_with_their_exact_upper_limit() {
    let found = state("++++++++");
    let expected = 1.0 - 0.05_f64.powf(1.0 / 8.0);
    assert!((found.safety.upper_limit.unwrap() - expected).abs() < 1e-9);
    assert_eq!(state("").safety.upper_limit, None);
}

#[test]
fn a_second_trial_is_numbered_and_says_the_combined_chance() {
    let run = Run::new("-+-+++++++++");
    let states = run.states(&[trial(2, 5, terms()), trial(1, 0, terms())], &book()).unwrap();
    assert_eq!(states.iter().map(|state| state.number).collect::<Vec<_>>(), [1, 2]);
    assert_eq!(states[0].services.len(), 4);
    assert_eq!(states[0].verdict, TrialVerdict::NotDemonstrated, "closed by the next");
    let second = &states[1];
    assert_eq!((second.services.len(), second.verdict), (8, TrialVerdict::Demonstrated));
    let one = second.quality.false_pass;
    assert!((second.combined_false_pass - (1.0 - (1.0 - one) * (1.0 - one))).abs() < 1e-12);
    assert!(second.workings.iter().any(|line| line.starts_with("This is trial 2.")));
}

fn score() -> ScoreTerms {
    ScoreTerms { unacceptable: Millionths::of(1.5), acceptable: Millionths::of(2.2), spread: Millionths::of(0.5) }
}

#[test]
fn with_thresholds_on_the_mean_mark_both_charts_must_pass() {
    let both = Terms { score: Some(score()), ..terms() };
    let mut run = Run::new("++++++++");
    for (service, view) in run.services.iter().zip(&mut run.outcomes) {
        *view = outcome(service, "one", Mark::Meets, &[("timing", Mark::Nearly)]);
    }
    let low = run.state(both);
    assert!(low.quality.passed.is_some());
    let chart = low.score.as_ref().unwrap();
    // Meets in curl and symmetry, Nearly in timing: 5/3. Hygiene is safety-critical and not core.
    assert!((low.services[0].score.unwrap() - 5.0 / 3.0).abs() < 1e-12);
    assert_eq!((chart.passed.clone(), low.verdict), (None, TrialVerdict::Open));
    assert!(low.settles.contains("with the best marks"), "{}", low.settles);
    for (service, view) in run.services.iter().zip(&mut run.outcomes) {
        *view = outcome(service, "one", Mark::Strong, &[]);
    }
    let high = run.state(both);
    assert_eq!(high.verdict, TrialVerdict::Demonstrated);
    assert!(high.score.unwrap().passed_after.unwrap() <= 8);
}

#[test]
fn assumed_assessor_errors_move_the_limit_and_are_said() {
    let errors = Terms { false_accept: Millionths::of(0.1), false_reject: Millionths::of(0.05), ..terms() };
    let found = Run::new("++++++++").state(errors);
    assert!(found.workings.iter().any(|line| line.contains("assumed by the academy, not measured")));
    assert!(found.quality.power < state("+").quality.power);
}

#[test]
fn terms_that_decide_nothing_are_a_sentence_not_a_panic() {
    for broken in [
        Terms { horizon: 0, ..terms() },
        Terms { horizon: 3, ..terms() },
        Terms { alpha: Millionths(0), ..terms() },
        Terms { acceptable: Millionths::of(0.6), ..terms() },
        Terms { false_accept: Millionths::of(0.9), false_reject: Millionths::of(0.9), ..terms() },
        Terms { false_accept: Millionths(u32::MAX), ..terms() },
        Terms { score: Some(ScoreTerms { spread: Millionths(0), ..score() }), ..terms() },
    ] {
        let error = Run::new("+").states(&[trial(1, 0, broken)], &book()).unwrap_err();
        assert!(!error.is_empty(), "{broken:?}");
    }
}

#[test]
fn nothing_done_yet_is_open_with_the_whole_way_ahead() {
    let found = state("");
    assert_eq!((found.verdict, found.left, found.quality.needed), (TrialVerdict::Open, 20, Some(8)));
    assert!(!found.bound_withdrawn);
    assert!(Run::new("+++").states(&[], &book()).unwrap().is_empty());
}

/// The book of the example with other rules, as the example course content has them.
fn book_with(rule: TrialRule) -> CourseBook {
    let mut book = book();
    book.rules.trial = TrialRules { rule, ..terms().figures() };
    book
}

#[test]
fn opening_a_trial_says_what_is_fixed_and_what_it_risks() {
    let before = opening(&book_with(TrialRule::Learning).rules, &[]).unwrap();
    for part in
        ["whole lash line", "at most 20", "40 in 100", "5 in 100", "passes with chance 10 in 100", "learning chart"]
    {
        assert!(before.fixed.contains(part), "{part} in {}", before.fixed);
    }
    assert!(before.warnings.is_empty() && !before.puts_aside && (before.combined - before.false_pass).abs() < 1e-12);
    let three = opening(&book_with(TrialRule::InAll { passes: 3 }).rules, &[]).unwrap();
    assert!(three.fixed.contains("3 acceptable services in all"), "{}", three.fixed);
    assert!(three.false_pass > 0.99 && three.fixed.contains("more than 99 in 100"), "{}", three.fixed);
}

#[test]
fn another_trial_after_a_demonstrated_one_is_warned_of_with_the_combined_chance() {
    let book = book_with(TrialRule::Learning);
    let passed = Run::new("++++++++").states(&[trial(1, 0, terms())], &book).unwrap();
    assert_eq!(passed[0].verdict, TrialVerdict::Demonstrated);
    let again = opening(&book.rules, &passed).unwrap();
    assert!(again.puts_aside && again.warnings[0].contains("puts that verdict aside"), "{:?}", again.warnings);
    let alone = again.false_pass;
    assert!((again.combined - (1.0 - (1.0 - alone).powi(2))).abs() < 1e-12);
    assert!(again.warnings[1].contains("trial 2") && again.warnings[1].contains("19 in 100"), "{:?}", again.warnings);
    let under_way = Run::new("++").states(&[trial(1, 0, terms())], &book).unwrap();
    let next = opening(&book.rules, &under_way).unwrap();
    assert!(!next.puts_aside && next.warnings[0].contains("under way"), "{:?}", next.warnings);
}

#[test]
fn a_trial_is_decided_by_the_rule_of_the_course_book_it_was_opened_under() {
    let decided = |marks: &str, rule| {
        let found = Run::new(marks).states(&[trial(1, 0, terms())], &book_with(rule)).unwrap().pop().unwrap();
        (found.quality.passed_after, found.quality.needed, found.verdict)
    };
    let open = TrialVerdict::Open;
    assert_eq!(decided("+-++", TrialRule::InAll { passes: 3 }), (Some(4), Some(0), TrialVerdict::SafetyOpen));
    assert_eq!(decided("+-++", TrialRule::InARow { passes: 3 }), (None, Some(1), open));
    assert_eq!(decided("+-+++", TrialRule::InARow { passes: 3 }).0, Some(5));
    let few = TrialRule::Curtailed { services: 9, failures: 1 };
    assert_eq!(decided("+-+++", few), (None, Some(4), open));
    assert_eq!(decided("+-+++-", few), (None, None, TrialVerdict::NotDemonstrated));
    assert_eq!(decided("++++++++", few).0, Some(8));
    assert_eq!(decided("++++++++", TrialRule::Fixed { services: 9, failures: 1 }), (None, Some(1), open));
    assert_eq!(decided("-+++++", TrialRule::OfLast { window: 6, failures: 1 }).0, Some(6));
    let (_, needed, verdict) = decided("", TrialRule::Sequential);
    assert_eq!((needed.is_some(), verdict), (true, open));
    // The same run under the learning chart: another rule, another day.
    assert_eq!(decided("+-++", TrialRule::Learning).0, None);
}

#[test]
fn a_later_course_book_does_not_change_the_rule_of_a_trial() {
    let (old, mut new) = (book_with(TrialRule::InARow { passes: 3 }), book_with(TrialRule::Learning));
    new.id = "Example 2".into();
    let run = Run::new("+++");
    let (services, outcomes): (Vec<_>, Vec<_>) = (run.services.iter().collect(), run.outcomes.iter().collect());
    let opened = trial(1, 0, terms());
    let input = TrialInput {
        trainee: &"trainee".into(),
        books: Books { present: &new, adopted: &[&old, &new] },
        services: &services,
        outcomes: &outcomes,
        trials: &[&opened],
    };
    let state = trial_state(&input).unwrap().unwrap();
    assert_eq!((state.rule, state.quality.passed_after), (TrialRule::InARow { passes: 3 }, Some(3)));
    let why = trial_state(&TrialInput { books: Books { present: &new, adopted: &[] }, ..input }).unwrap_err();
    assert!(why.contains("Example 1"), "{why}");
}

#[test]
fn a_trial_says_its_risk_in_plain_words_and_the_combined_one_from_the_second_on() {
    let states = Run::new("++++").states(&[trial(1, 0, terms()), trial(2, 2, terms())], &book()).unwrap();
    let (first, second) = (states[0].say_risk(), states[1].say_risk());
    assert!(first.contains("40 in 100") && first.contains("the academy allows 10 in 100"), "{first}");
    assert!(
        !first.contains("At least one") && second.contains("At least one of the 2 trials: with chance 19 in 100"),
        "{second}"
    );
    let unmarked = state("+...").say_risk();
    assert!(unmarked.contains("is not known here"), "{unmarked}");
    let scored = Run::new("++").state(Terms { score: Some(score()), ..terms() }).say_risk();
    assert!(scored.contains("Both are needed"), "{scored}");
}
