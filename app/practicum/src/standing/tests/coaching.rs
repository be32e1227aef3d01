//! Claims about coaching: which faults come up, and which services count.

use super::*;

/// Services at halves marked by an assessor, one a day: `x` crossed lashes, `n` too near the lid (touches safety),
/// anything else without a fault.
fn case(letters: &str) -> Case {
    let mut case = Case::marked(&vec![Mark::Meets; letters.len()], Plan::Halves);
    for (view, letter) in case.outcomes.iter_mut().zip(letters.chars()) {
        let seen = match letter {
            'x' => "crossed",
            'n' => "too near",
            _ => continue,
        };
        *view = with_fault(view.clone(), seen);
    }
    // The example has 2 of 3 and 3 of 6; the bundled course book 3 of 5.
    case.book.rules.fault_long = (3, 5);
    case
}

/// Faults that are coached, each with how often it was seen and of how many.
fn coached(case: &Case) -> Vec<(String, u32, u32)> {
    case.now().coaching.into_iter().map(|one| (one.fault.to_string(), one.times, one.of_last)).collect()
}

fn crossed(times: u32, of_last: u32) -> Vec<(String, u32, u32)> {
    vec![("crossed".to_owned(), times, of_last)]
}

#[test]
fn a_fault_is_coached_when_repeated_and_a_safety_fault_at_once() {
    let mut case = Case::marked(&[Mark::Meets; 4], Plan::Quarters);
    case.outcomes[1] = with_fault(case.outcomes[1].clone(), "crossed");
    assert!(case.now().coaching.is_empty());
    case.outcomes[3] = with_fault(case.outcomes[3].clone(), "crossed");
    let found = case.now().coaching;
    assert_eq!((found[0].times, found[0].of_last), (2, 3));
    assert_eq!(found[0].services, [ServiceId::from("s002"), ServiceId::from("s004")]);
    assert_eq!((found[0].cause.as_str(), found[0].line.as_str()), ("cause of crossed", "try crossed"));
    case.outcomes[2] = with_fault(case.outcomes[2].clone(), "too near");
    let found = case.now().coaching;
    assert_eq!((found[0].fault.as_str(), found[0].times, found[0].safety), ("too near", 1, true));
}

#[test]
fn exactly_two_of_the_last_three_are_coached_and_one_is_not() {
    assert_eq!(coached(&case("x")), []);
    assert_eq!(coached(&case("xx")), crossed(2, 2));
    assert_eq!(coached(&case("..x")), []);
    assert_eq!(coached(&case(".xx")), crossed(2, 3));
    assert_eq!(coached(&case("x.x")), crossed(2, 3));
    assert_eq!(coached(&case("xx.")), crossed(2, 3));
    assert_eq!(coached(&case("xx..")), [], "the first is a fourth service back");
}

#[test]
fn exactly_three_of_the_last_five_are_coached_though_the_last_three_hold_one() {
    assert_eq!(coached(&case("xx..x")), crossed(3, 5));
    assert_eq!(coached(&case("x.x..")), []);
    assert_eq!(coached(&case("xxx..")), crossed(3, 5));
    assert_eq!(coached(&case("xxx...")), [], "two of the last five");
}

#[test]
fn a_safety_fault_is_coached_at_once_and_before_the_others() {
    assert_eq!(coached(&case("n")), [("too near".to_owned(), 1, 1)]);
    assert_eq!(coached(&case("xxn")), [("too near".to_owned(), 1, 3), ("crossed".to_owned(), 2, 3)]);
    assert_eq!(coached(&case("n...")), [], "three services without it");
}

#[test]
fn each_line_gives_one_cause_to_try_with_the_services_it_was_seen_in() {
    let found = case("x.x").now().coaching.remove(0);
    assert_eq!((found.cause.as_str(), found.line.as_str()), ("cause of crossed", "try crossed"));
    assert_eq!(found.services, ["s001".into(), "s003".into()]);
}

#[test]
fn drills_imports_own_marks_and_unmarked_services_are_passed_over() {
    let seen = |change: &dyn Fn(&mut Case)| {
        let mut case = case("xx");
        change(&mut case);
        coached(&case)
    };
    assert_eq!(seen(&|case| case.services[1] = drill(case.services[1].clone())), []);
    assert_eq!(seen(&|case| case.services[1] = imported(case.services[1].clone())), []);
    assert_eq!(seen(&|case| case.outcomes[1].marker = "trainee".into()), []);
    assert_eq!(seen(&|case| drop(case.outcomes.remove(1))), []);
    let unobserved = |case: &mut Case| {
        case.services[1] = late(case.services[1].clone());
        case.outcomes[1].observed = false;
    };
    assert_eq!(seen(&unobserved), [], "a late entry that nobody observed");
    // Between two that count, a drill and an unmarked service do not push the first out of the last three.
    let mut between = case("x...x");
    between.services[1] = drill(between.services[1].clone());
    between.outcomes.remove(2);
    assert_eq!(coached(&between), crossed(2, 3));
}

#[test]
fn a_fault_seen_twice_in_one_service_counts_once() {
    let mut case = case("x.");
    case.outcomes[0] = with_fault(case.outcomes[0].clone(), "crossed");
    assert_eq!(coached(&case), []);
}
