//! The sentences.

use super::super::*;
use super::group;

fn forecast(even: Option<u32>, four: Option<u32>, nineteen: Option<u32>) -> PlanForecast {
    let needed = Needed { even, four_in_five: four, nineteen_in_twenty: nineteen };
    let found = Forecast {
        typical: needed,
        single: needed,
        typical_next: 0.4,
        single_next: 0.3,
        counted_with: None,
        meets: None,
    };
    PlanForecast { plan: Plan::Halves, target: 2700.0, outcome: Ok(found) }
}

#[test]
fn a_forecast_is_said_with_three_chances() {
    assert_eq!(
        sentence(&forecast(Some(3), Some(7), Some(9))),
        "as likely as not after 3 more services in halves, 4 chances in 5 after 7, 19 in 20 after 9 (chance that this \
         trainee's typical service is within 45 min)"
    );
    assert!(
        sentence(&forecast(Some(1), Some(2), Some(4)))
            .starts_with("as likely as not after 1 more service in halves, 4")
    );
}

#[test]
fn what_is_not_reached_is_said_for_each_chance_and_never_one_alone() {
    let said = sentence(&forecast(Some(12), None, None));
    assert!(
        said.contains("after 12 more services in halves; 4 chances in 5 and 19 in 20 not reached on the present trend")
    );
    let said = sentence(&forecast(Some(12), Some(60), None));
    assert!(said.contains("4 chances in 5 after 60; 19 in 20 not reached on the present trend"));
    let said = sentence(&forecast(None, None, None));
    assert!(said.starts_with("not reached on the present trend, with 200 more services in halves not even as likely"));
    let said = sentence(&forecast(Some(1), Some(1), Some(1)));
    assert!(said.starts_with("already within: at the next service in halves with 19 chances in 20"));
}

#[test]
fn every_reason_is_said_in_words_that_need_no_statistics() {
    let reasons = [
        NoForecast::NoFigures,
        NoForecast::NoTarget,
        NoForecast::RefresherFirst { weeks: 9.3, limit: 8.0 },
        NoForecast::PlanUnseen,
        NoForecast::StepUnknown,
        NoForecast::PracticeUnknown,
        NoForecast::NoTrend,
        NoForecast::TooLittle(TooLittle::NoTimes),
        NoForecast::TooLittle(TooLittle::FewOwn { have: 1, need: 3 }),
        NoForecast::TooLittle(TooLittle::Alike),
        NoForecast::TooLittle(TooLittle::NotFitted),
    ];
    let said: Vec<String> = reasons.iter().map(|why| say_no_forecast(why, Plan::Whole)).collect();
    for (at, one) in said.iter().enumerate() {
        assert!(said.iter().skip(at + 1).all(|other| other != one), "{one}");
        for word in ["likelihood", "variance", "deviation", "slope", "interval", "NaN"] {
            assert!(!one.contains(word), "{one}");
        }
    }
    assert!(said[2].contains("a refresher comes first: 9 weeks since the last service, and after 8 weeks"));
    assert!(said[8].contains("1 of this trainee's services on the whole lash line has a time"));
}

#[test]
fn times_are_said_as_people_say_them() {
    assert_eq!([2700.0, 1110.0, 45.0, 0.0].map(say_time), ["45 min", "18 min 30 s", "45 s", "0 s"]);
    assert_eq!(say_time(59.7), "1 min");
}

#[test]
fn notes_say_how_much_the_curve_stands_on() {
    let few = notes(&answer(&group(4, 8, 3)));
    assert!(few[0].contains("From 32 services by 4 trainees"), "{few:?}");
    assert!(few.iter().any(|note| note.contains("not known yet")), "{few:?}");
    let mut away = group(12, 16, 3);
    away.weeks = 3.0;
    let said = notes(&answer(&away));
    assert!(said.iter().any(|note| note.starts_with("3 weeks without a service: the ranges ahead")), "{said:?}");
    assert!(!said.iter().any(|note| note.contains("not known yet")), "{said:?}");
    let mut alone = group(2, 9, 3);
    alone.plans = vec![Plan::Quarters];
    assert!(notes(&answer(&alone))[0].contains("this trainee's services alone"));
    let nothing = notes(&answer(&group(2, 1, 3)));
    assert!(nothing[0].starts_with("No curve: too little to go by: 1 of this trainee's services"), "{nothing:?}");
}

#[test]
fn workings_state_method_numbers_and_source() {
    for (ask, words) in [(group(12, 16, 3), "Bates"), (group(2, 12, 3), "Fieller"), (group(0, 0, 3), "0 services")] {
        let said = workings(&answer(&ask)).join(" ");
        assert!(said.contains(words), "{said}");
        assert!(!said.contains("NaN"), "{said}");
    }
}
