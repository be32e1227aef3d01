//! Claims about the choice of a rule.

use super::*;
use crate::course_book::TrialRules;
use crate::evidence::example::book;

fn thresholds() -> TrialRules {
    TrialRules {
        unacceptable: 0.4,
        acceptable: 0.05,
        horizon: 20,
        alpha: 0.1,
        shortest_run: 8,
        unassessed_share: 0.2,
        score: None,
        assessors: AssessorRules::default(),
        rule: TrialRule::default(),
    }
}

#[test]
fn the_shortest_run_follows_from_the_other_figures() {
    assert_eq!(shortest_run(&thresholds()), Ok(8));
    assert_eq!(shortest_run(&TrialRules { acceptable: 0.1, alpha: 0.05, ..thresholds() }), Ok(10));
    assert!(shortest_run(&TrialRules { horizon: 4, ..thresholds() }).unwrap_err().contains("at least 5"));
}

#[test]
fn three_observed_amount_to_a_pass_for_nearly_everybody() {
    let choice = choose(&thresholds()).unwrap();
    let three = choice.rules.iter().find(|rule| rule.words.starts_with("3 acceptable services in all")).unwrap();
    assert!(three.false_pass > 0.999 && !three.keeps_alpha && !three.recommended, "{three:?}");
}

#[test]
fn one_rule_is_recommended_and_it_keeps_the_chance() {
    let choice = choose(&thresholds()).unwrap();
    let recommended: Vec<&RuleFigures> = choice.rules.iter().filter(|rule| rule.recommended).collect();
    assert_eq!(recommended.len(), 1);
    assert!(recommended[0].keeps_alpha && recommended[0].pass >= 0.8);
    assert!(choice.advice.contains(&recommended[0].words), "{}", choice.advice);
    assert!(choice.rules[0].words.starts_with("the learning chart"));
    assert_eq!(choice.rules[0].at_least, Some(8));
}

#[test]
fn thresholds_too_close_for_the_services_are_said() {
    let hard = TrialRules { unacceptable: 0.3, acceptable: 0.1, horizon: 14, alpha: 0.05, ..thresholds() };
    let choice = choose(&hard).unwrap();
    assert!(choice.advice.contains("comes nearest"), "{}", choice.advice);
    assert!(choose(&TrialRules { horizon: 3, ..thresholds() }).is_err());
}

#[test]
fn the_rule_in_force_is_among_them_and_every_rule_can_be_written() {
    let own = TrialRule::InARow { passes: 7 };
    let choice = choose(&TrialRules { rule: own, ..thresholds() }).unwrap();
    let in_force: Vec<&RuleFigures> = choice.rules.iter().filter(|rule| rule.in_force).collect();
    assert_eq!(in_force.iter().map(|rule| rule.rule).collect::<Vec<_>>(), [own]);
    for rule in &choice.rules {
        assert_eq!(TrialRule::read(&rule.rule.to_string()), Some(rule.rule), "{}", rule.words);
        let alone = TrialRules { rule: rule.rule, ..thresholds() };
        assert!((false_pass(&alone).unwrap() - rule.false_pass).abs() < 1e-12, "{}", rule.words);
        assert_eq!(shortest_run(&alone).ok(), rule.at_least, "{}", rule.words);
    }
    assert!(choose(&thresholds()).unwrap().rules[0].in_force, "the learning chart where none is written");
    let long = TrialRules { rule: TrialRule::InARow { passes: 21 }, ..thresholds() };
    assert!(shortest_run(&long).unwrap_err().contains("cannot pass within 20"));
}

#[test]
fn widening_looked_at_again_and_again_advises_more_often() {
    let chances = widening_chances(&book().rules).unwrap();
    assert!((chances.unacceptable - 0.343).abs() < 1e-12);
    assert!(chances.within_unacceptable > 0.9 && chances.within_acceptable > chances.acceptable, "{chances:?}");
    assert_eq!(chances.services, 30);
}

#[test]
fn chances_near_an_end_are_not_said_to_be_certain() {
    assert_eq!(percent(0.0), "0 in 100");
    assert_eq!(percent(0.001), "fewer than 1 in 100");
    assert_eq!(percent(0.4), "40 in 100");
    assert_eq!(percent(0.999), "more than 99 in 100");
    assert_eq!(percent(1.0), "100 in 100");
}
