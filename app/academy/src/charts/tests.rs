//! Claims about the drawings.

use practicum::couch::times::DwellJudgement;
use practicum::eye::Eye;
use practicum::product::ProductKind;
use practicum::section::Plan;

use super::figure::with_words;
use super::*;

fn point(number: u32, plan: Plan) -> TimePoint {
    TimePoint {
        number,
        plan: Some(plan),
        mixed: number.is_multiple_of(5),
        service: None,
        hands_on: Some(2_400),
        waiting: Some(900),
        checks: Some(120),
        pauses: Some(60),
    }
}

fn plan_of(number: u32) -> Plan {
    *Plan::ALL.get((number % 4) as usize).unwrap_or(&Plan::Whole)
}

fn step(from: u32, to: u32, seconds: u32, plan: Plan) -> TargetStep {
    TargetStep { from, to, seconds, plan }
}

/// Counts elements, and fails on anything that is not well formed in the small: quotes, brackets, styles, odd numbers.
fn elements(svg: &str) -> usize {
    assert!(svg.starts_with("<svg ") && svg.ends_with("</svg>"), "{svg}");
    assert_eq!(svg.matches("<svg").count(), 1);
    assert!(
        !svg.contains("style=") && !svg.contains("<script") && !svg.contains("NaN") && !svg.contains("inf"),
        "{svg}"
    );
    assert_eq!(svg.matches('<').count(), svg.matches('>').count());
    assert_eq!(svg.matches('"').count() % 2, 0);
    svg.matches('<').count() - svg.matches("</").count()
}

#[test]
fn five_hundred_services_draw_with_few_elements() {
    let points: Vec<_> = (1..=500).map(|number| point(number, plan_of(number))).collect();
    let target: Vec<_> = (1..=500).map(|number| step(number, number, 3_600, plan_of(number))).collect();
    assert!(elements(&service_time(&points, &target)) < 100);
    let dwell: Vec<_> = (1..=500).flat_map(dwells_of).collect();
    assert_eq!(dwell.len(), 1_000);
    assert!(elements(&dwells(&dwell)) < 100);
    let criteria: Vec<_> = (1..=12).map(|number| format!("Criterion {number}")).collect();
    let columns: Vec<_> = (1..=500)
        .map(|number| Column { number, marks: vec![Some((number % 4) as u8); 12], breach: number.is_multiple_of(9) })
        .collect();
    let strip = rubric_strip(&criteria, &columns);
    assert!(elements(&strip) < 100);
    assert!(strip.contains("the last 40 of 500 services") && strip.contains(">461<") && !strip.contains(">460<"));
}

fn dwells_of(number: u32) -> [DwellPoint; 2] {
    Eye::BOTH.map(|eye| DwellPoint {
        number,
        product: if number.is_multiple_of(2) { ProductKind::Lift } else { ProductKind::Setting },
        eye,
        seconds: 480 + number,
        judgement: if number.is_multiple_of(7) { DwellJudgement::PastLabel } else { DwellJudgement::Within },
    })
}

#[test]
fn nothing_draws_a_sentence_and_no_point() {
    for (svg, sentence) in [
        (service_time(&[], &[]), "No time is recorded yet."),
        (dwells(&[]), "No dwell is recorded yet."),
        (rubric_strip(&[], &[]), "No service is marked yet."),
        (services_per_plan(&[]), "No service is recorded yet."),
    ] {
        elements(&svg);
        assert!(svg.contains(sentence), "{svg}");
    }
}

#[test]
fn one_service_and_a_service_of_no_time_stand_inside_the_axes() {
    let mut zero = point(1, Plan::Quarters);
    (zero.hands_on, zero.waiting, zero.checks, zero.pauses) = (Some(0), Some(0), Some(0), Some(0));
    for points in [vec![point(1, Plan::Quarters)], vec![zero], vec![point(u32::MAX, Plan::Whole)]] {
        let svg = service_time(&points, &[step(1, 1, 3_600, Plan::Quarters)]);
        elements(&svg);
        assert!(svg.contains(">quarters<") || svg.contains(">whole lash line<"));
        assert!(!svg.contains("No time"));
    }
}

#[test]
fn the_stack_and_the_point_stand_at_their_minutes() {
    // 50 minutes hands-on and 10 waiting of 60: the point is at the top of a stack five sixths of which is hands-on.
    let mut one = point(2, Plan::Halves);
    (one.hands_on, one.waiting, one.checks, one.pauses, one.mixed) = (Some(3_000), Some(600), Some(0), Some(0), false);
    let svg = service_time(&[one], &[]);
    let bar = |colour: &str| {
        let path = svg
            .split("<path ")
            .find(|path| path.starts_with("d=\"M") && path.contains(&format!("fill=\"{colour}\" stroke=\"none\"")));
        let path = path.unwrap_or_default();
        let top: f64 = path.split(' ').nth(1).and_then(|t| t.split('H').next()).and_then(|t| t.parse().ok()).unwrap();
        let bottom: f64 =
            path.split('V').nth(1).and_then(|t| t.split('H').next()).and_then(|t| t.parse().ok()).unwrap();
        (top, bottom)
    };
    let (hands_on, waiting) = (bar("#56B4E9"), bar("#DDD6C9"));
    assert!((hands_on.0 - waiting.1).abs() < 0.11, "waiting stands on hands-on");
    assert!(((hands_on.1 - hands_on.0) / (waiting.1 - waiting.0) - 5.0).abs() < 0.05);
    assert!(!svg.contains("fill=\"#F0E442\" stroke=\"none\""), "no check, no bar");
}

#[test]
fn missing_parts_draw_no_stack_and_a_missing_total_no_point() {
    let mut imported = point(1, Plan::Quarters);
    (imported.service, imported.hands_on) = (Some(5_400), None);
    let svg = service_time(std::slice::from_ref(&imported), &[]);
    assert!(!svg.contains("fill=\"#56B4E9\" stroke=\"none\""));
    assert!(svg.contains(">quarters<"));
    imported.service = None;
    assert!(service_time(&[imported], &[]).contains("No time is recorded yet."));
}

#[test]
fn the_target_is_one_stepped_dashed_line() {
    let points: Vec<_> = (1..=10).map(|number| point(number, Plan::Quarters)).collect();
    let svg = service_time(&points, &[step(6, 10, 3_000, Plan::Thirds), step(3, 5, 3_600, Plan::Quarters)]);
    let line = svg.split("<path ").find(|path| path.contains("stroke-dasharray")).unwrap_or_default();
    assert_eq!(svg.matches("stroke-dasharray").count(), 1);
    assert_eq!((line.matches('M').count(), line.matches('L').count(), line.matches('H').count()), (1, 1, 2));
    assert!(svg.contains(">target quarters<") && svg.contains(">target thirds<"));
    assert!(!service_time(&points, &[]).contains("stroke-dasharray"));
}

#[test]
fn the_target_breaks_off_where_the_next_service_has_none() {
    let points: Vec<_> = (1..=10).map(|number| point(number, Plan::Quarters)).collect();
    let svg = service_time(&points, &[step(2, 4, 3_600, Plan::Quarters), step(8, 10, 3_600, Plan::Quarters)]);
    let line = svg.split("<path ").find(|path| path.contains("stroke-dasharray")).unwrap_or_default();
    assert_eq!((line.matches('M').count(), line.matches('L').count(), line.matches('H').count()), (2, 0, 2));
}

#[test]
fn axes_say_minutes_and_services() {
    let svg = service_time(&[point(1, Plan::Quarters)], &[]);
    assert!(svg.contains("service time, minutes") && svg.contains("service number"));
}

#[test]
fn words_from_outside_stay_words() {
    let nasty = "<script>alert(\"1\")</script>&'\u{0}";
    let stage = curve(&CurveDrawing { y_words: nasty, ..drawing(&way(1), &[]) });
    let strip = rubric_strip(&[nasty.to_owned()], &[Column { number: 1, marks: vec![Some(9)], breach: true }]);
    let titled = with_words(&strip, nasty, nasty, 1);
    for svg in [&stage, &strip, &titled] {
        elements(svg);
        assert!(svg.contains("&lt;script&gt;"), "{svg}");
    }
    assert!(titled.contains("role=\"img\"") && titled.contains("<title id=\"chart-title-1\">&lt;script"));
}

#[test]
fn a_strip_flags_breaches_and_writes_levels_as_on_the_form() {
    let criteria = ["Timing".to_owned(), "Symmetry".to_owned()];
    let marks = |breach| Column { number: 7, marks: vec![Some(0), Some(3)], breach };
    let (with, without) = (rubric_strip(&criteria, &[marks(true)]), rubric_strip(&criteria, &[marks(false)]));
    assert!(with.contains(">1</text>") && with.contains(">4</text>"));
    assert_eq!(with.matches("#D55E00").count(), without.matches("#D55E00").count() + 1);
}

#[test]
fn bars_say_their_numbers() {
    let svg = services_per_plan(&[(Some(Plan::Quarters), 12, 9), (None, 0, 0)]);
    elements(&svg);
    assert!(
        svg.contains("12, of these counted 9")
            && svg.contains("plan not recorded")
            && svg.contains("0, of these counted 0")
    );
}

fn judged(value: f64, acceptable: bool) -> DecisionPoint {
    DecisionPoint { value: Some(value), acceptable: Some(acceptable), breach: false }
}

fn decided(points: &[DecisionPoint], line: f64, reached: Option<usize>) -> String {
    decision(&Decision {
        points,
        line,
        line_words: "passes here",
        reached,
        reached_words: "passed, and it stands",
        room: 5,
        y_words: "evidence so far",
    })
}

#[test]
fn a_decision_chart_stays_small_and_says_where_it_passes() {
    let points: Vec<_> = (1..=500_u32).map(|n| judged(f64::from(n % 7) / 2.0, !n.is_multiple_of(7))).collect();
    let svg = decided(&points, 2.5, Some(4));
    assert!(elements(&svg) < 60, "{}", elements(&svg));
    assert!(svg.contains(">passes here<") && svg.contains(">passed, and it stands<"));
    assert!(!decided(&points, 9.0, None).contains("it stands"), "no pass, no word of it");
}

#[test]
fn a_decision_chart_survives_every_number() {
    let odd = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -3.0, 0.0, 3.2e4, 1e300, -1e300];
    for value in odd {
        for line in odd {
            let points = [judged(value, true), DecisionPoint { value: None, acceptable: None, breach: true }];
            elements(&decided(&points, line, Some(0)));
            elements(&decided(&points[..1], line, Some(7)));
        }
    }
    let empty = decided(&[], 3.0, None);
    elements(&empty);
    assert!(empty.contains("No service of the trial is recorded yet."));
}

#[test]
fn a_chart_that_goes_below_zero_is_drawn_below_zero() {
    let up = |value: f64| {
        let svg = decided(&[judged(-4.0, false), judged(value, true)], 3.0, None);
        let line = svg.split("<path ").find(|path| path.contains("stroke-width=\"1.2\"")).unwrap_or_default();
        let last = line.split('L').nth(1).and_then(|end| end.split(' ').nth(1)?.split('"').next()?.parse::<f64>().ok());
        last.unwrap()
    };
    assert!(up(-2.0) > up(0.0) + 10.0, "lower values stand lower");
}

#[test]
fn what_is_not_counted_and_a_breach_have_shapes_of_their_own() {
    let unmarked = DecisionPoint { value: None, acceptable: None, breach: true };
    let svg = decided(&[judged(0.4, true), judged(0.0, false), unmarked], 3.0, None);
    for words in ["acceptable", "not acceptable", "not counted here", "safety breach"] {
        assert!(svg.contains(&format!(">{words}<")), "{words}");
    }
    let clean = decided(&[judged(0.4, true)], 3.0, None);
    assert!(!clean.contains("safety breach") && !clean.contains("not acceptable"));
}

#[test]
fn rows_of_results_show_the_last_thirty_and_count_all() {
    let row = |plan, count: u32| ResultRow {
        plan,
        results: (1..=count).map(|number| (number, !number.is_multiple_of(5), number == 50)).collect(),
    };
    let svg = results(&[row(Some(Plan::Quarters), 50), row(None, 1), row(Some(Plan::Whole), 0)]);
    elements(&svg);
    assert!(svg.contains(">40 of 50<") && svg.contains(">21<") && svg.contains(">50<") && !svg.contains(">20<"));
    assert!(svg.contains(">1 of 1<") && svg.contains(">0 of 0<"));
    let empty = results(&[]);
    elements(&empty);
    assert!(empty.contains("No service is marked yet."));
}

fn band(number: u32, typical: f64) -> BandPoint {
    let around = |share: f64| (typical * (1.0 - share), typical * (1.0 + share));
    BandPoint { number, typical, range: around(0.05), single: around(0.2) }
}

fn way(count: u32) -> Vec<CurvePoint> {
    let point = |number: u32| CurvePoint {
        number,
        seconds: 2_400,
        plan: Some(plan_of(number / 3)),
        counted: !number.is_multiple_of(4),
    };
    (1..=count).map(point).collect()
}

fn drawing<'a>(services: &'a [CurvePoint], parts: &'a [CurvePart]) -> CurveDrawing<'a> {
    CurveDrawing { services, parts, target: &[], marks: &[], y_words: "hands-on time, minutes" }
}

#[test]
fn a_curve_over_five_hundred_services_has_few_elements() {
    let services = way(500);
    let part = |plan: Plan| CurvePart {
        plan,
        points: services.iter().filter(|p| p.plan == Some(plan)).map(|p| band(p.number, 2_400.0)).collect(),
        to_come: false,
    };
    let mut parts: Vec<_> = Plan::ALL.into_iter().map(part).collect();
    parts.push(CurvePart {
        plan: Plan::Whole,
        points: (501..=560).map(|number| band(number, 2_000.0)).collect(),
        to_come: true,
    });
    let target: Vec<_> = (1..=560).map(|number| step(number, number, 2_000, plan_of(number / 3))).collect();
    let marks = [503, 520, 900].map(|number| ChanceMark { number, words: format!("chance {number}") });
    let svg = curve(&CurveDrawing {
        services: &services,
        parts: &parts,
        target: &target,
        marks: &marks,
        ..drawing(&[], &[])
    });
    assert!(elements(&svg) < 120, "{}", elements(&svg));
    assert!(svg.contains(">chance 503<") && svg.contains(">chance 900: no. 900 →<"));
    assert!(svg.contains(">whole lash line, to come<"));
}

#[test]
fn a_curve_survives_every_number() {
    let odd = [0.0, f64::NAN, f64::INFINITY, -5.0, 1e-300, 32_400.0, 1e300];
    for seconds in [0, 1, 32_400, u32::MAX] {
        for number in [1, 2, u32::MAX] {
            let services = [CurvePoint { number, seconds, plan: None, counted: false }];
            for typical in odd {
                let points = vec![band(number, typical), BandPoint { single: (0.0, f64::NAN), ..band(3, 60.0) }];
                let parts = [CurvePart { plan: Plan::Thirds, points, to_come: number == 2 }];
                let marks = [ChanceMark { number: u32::MAX, words: "19 in 20".to_owned() }];
                elements(&curve(&CurveDrawing { marks: &marks, ..drawing(&services, &parts) }));
            }
        }
    }
    let nothing = curve(&drawing(&[], &[]));
    elements(&nothing);
    assert!(nothing.contains("No time is recorded yet."));
}

#[test]
fn what_is_to_come_is_dashed_and_what_has_been_is_hatched() {
    let part = |to_come| CurvePart { plan: Plan::Halves, points: (1..=5).map(|n| band(n, 1_800.0)).collect(), to_come };
    let of = |to_come| {
        let parts = [part(to_come)];
        curve(&drawing(&way(5), &parts))
    };
    let (past, ahead) = (of(false), of(true));
    assert_eq!(past.matches("stroke-dasharray").count(), 1, "only the dotted lines of a single service");
    assert_eq!(ahead.matches("stroke-dasharray").count(), 3);
    assert!(!past.contains("to come") && ahead.contains(">halves, to come<"));
    // A hatch stroke stands at each service.
    let hatch = past.split("<path ").find(|path| path.contains("stroke-width=\"0.6\"")).unwrap_or_default();
    assert_eq!(hatch.matches('V').count(), 5);
}

#[test]
fn a_range_of_hours_does_not_flatten_the_times() {
    let wide = BandPoint { single: (1.0, 36_000.0), range: (1.0, 30_000.0), ..band(1, 2_400.0) };
    let parts = [CurvePart { plan: Plan::Quarters, points: vec![wide], to_come: false }];
    let services = [CurvePoint { number: 1, seconds: 2_400, plan: Some(Plan::Quarters), counted: true }];
    let svg = curve(&drawing(&services, &parts));
    elements(&svg);
    assert!(!svg.contains("\n100\n") && svg.contains("\n40\n"), "the axis ends near the times");
}

fn residual(number: u32, distance: f64, plan: Plan) -> ResidualPoint {
    ResidualPoint { number, distance, plan, unusual: distance.abs() > 2.0 }
}

#[test]
fn residuals_draw_runs_apart_ring_what_is_unusual_and_stay_small() {
    let plan = |number: u32| if number <= 250 { Plan::Quarters } else { Plan::Halves };
    let points: Vec<_> = (1..=500).map(|n| residual(n, f64::from(n % 7) - 3.0, plan(n))).collect();
    let svg = residuals(&points, Some(3.0));
    assert!(elements(&svg) < 100, "{}", elements(&svg));
    assert!(svg.contains(">unusually slow above<") && svg.contains(">ringed: worth a look<"));
    let joined = svg.split("<path ").find(|path| path.contains("stroke-width=\"0.9\"")).unwrap_or_default();
    assert_eq!(joined.matches('M').count(), 2, "two plans, two lines");
    let few = residuals(&points[..3], None);
    assert!(!few.contains("unusually"), "without limits no word of them");
}

#[test]
fn residuals_survive_every_number() {
    for distance in [f64::NAN, f64::INFINITY, -1e300, 1e300, 0.0] {
        for limit in [None, Some(f64::NAN), Some(0.0), Some(-1.0), Some(1e300)] {
            for number in [1, u32::MAX] {
                elements(&residuals(&[residual(number, distance, Plan::Whole)], limit));
            }
        }
    }
    assert!(residuals(&[], None).contains("No service can be held against a curve yet."));
}
