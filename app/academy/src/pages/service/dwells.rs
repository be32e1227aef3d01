//! Every dwell with both its clocks and how it is judged, and what must be said beside the times.

use leptos::prelude::*;
use practicum::couch::times::{Dwell, DwellJudgement, Times};
use practicum::moment::{Seconds, format_seconds};

use crate::components::{DataTable, text_rows};

/// Every dwell with both its clocks.
#[component]
pub(super) fn Dwells(
    /// The dwells.
    dwells: Vec<Dwell>,
    /// The course book's late seconds; `None` where no course book is here, and nothing is judged then.
    late: Option<Seconds>,
) -> impl IntoView {
    let head = ["Product", "From first contact", "From last contact", "Planned", "Window", "Label maximum", "Judged"];
    let head = head.map(str::to_owned).to_vec();
    let rows: Vec<Vec<String>> = dwells.iter().map(|dwell| row(dwell, late)).collect();
    (!rows.is_empty()).then(|| {
        view! {
            <DataTable caption="Dwell: first contact is judged against the maximum, last contact against the minimum"
                head=head rows=text_rows(rows)/>
        }
    })
}

/// Says one dwell, cell by cell.
pub(super) fn row(dwell: &Dwell, late: Option<Seconds>) -> Vec<String> {
    let ended = dwell.off.is_some();
    let clock = |seconds: Option<Seconds>| match seconds {
        Some(seconds) if ended => format_seconds(seconds),
        Some(_) => "not tapped off".to_owned(),
        None => "not tapped".to_owned(),
    };
    let figure =
        |of: fn(&practicum::couch::DwellPlan) -> String| dwell.plan.as_ref().map_or_else(|| "–".to_owned(), of);
    vec![
        format!("{}, {} eye", dwell.product.word(), dwell.eye.word()),
        clock(Some(dwell.from_first(0))),
        clock(dwell.from_last(0)),
        figure(|plan| format_seconds(plan.planned)),
        figure(|plan| format!("{} to {}", format_seconds(plan.minimum), format_seconds(plan.maximum))),
        figure(|plan| format_seconds(plan.label_maximum)),
        judged(dwell, late),
    ]
}

/// Says how a dwell is judged, with a shape.
fn judged(dwell: &Dwell, late: Option<Seconds>) -> String {
    if dwell.off.is_none() {
        return if dwell.interrupted { "■ interrupted by a reaction" } else { "○ not judged: no end was tapped" }
            .to_owned();
    }
    let Some(late) = late else { return "○ not judged: no course book is here".to_owned() };
    let judgement = dwell.judge(0, late);
    let word = judgement.word();
    let past = |limit: fn(&practicum::couch::DwellPlan) -> Seconds| {
        let limit = dwell.plan.as_ref().map(limit).unwrap_or_default();
        format_seconds(dwell.from_first(0).saturating_sub(limit))
    };
    match judgement {
        DwellJudgement::Within => format!("✓ {word}"),
        DwellJudgement::Short => format!("▲ {word}: below the minimum, never progress"),
        DwellJudgement::Late => format!("▲ {word}: {} past the maximum", past(|plan| plan.maximum)),
        DwellJudgement::Overrun => format!("■ {word}: {} past the maximum", past(|plan| plan.maximum)),
        DwellJudgement::PastLabel => format!("■ {word} by {}: safety breach", past(|plan| plan.label_maximum)),
        DwellJudgement::Interrupted => format!("■ {word} by a reaction"),
        DwellJudgement::NotJudged => format!("○ {word}: written down, no window recorded"),
    }
}

/// What must be said beside the times.
#[component]
pub(super) fn Remarks(
    /// The times.
    times: Times,
) -> impl IntoView {
    let lines = remarks(&times);
    (!lines.is_empty()).then(|| {
        view! {
            <h3>"Beside the times"</h3>
            <ul class="plain-list">{lines.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
        }
    })
}

fn remarks(times: &Times) -> Vec<String> {
    let pauses = times.pause_reasons.iter().map(|(why, seconds)| format!("Pause: {why}, {}", format_seconds(*seconds)));
    let doubts = times.doubts.iter().map(|doubt| format!("▲ Times in doubt, left out of time standards: {doubt}"));
    let lost = times.alarms_lost.iter().map(|why| format!("▲ An alarm may not have sounded: {why}"));
    let edited = times.edited.then(|| "▲ A time was set right by hand.".to_owned());
    pauses.chain(doubts).chain(lost).chain(edited).collect()
}

#[cfg(test)]
mod tests {
    use practicum::couch::DwellPlan;
    use practicum::couch::times::Dwell;
    use practicum::eye::Eye;
    use practicum::product::ProductKind;

    use super::row;

    fn dwell(last: Option<u32>, off: Option<u32>) -> Dwell {
        Dwell {
            stage: "lift".into(),
            product: ProductKind::Lift,
            eye: Eye::Left,
            first_contact: 100,
            last_contact: last,
            off,
            interrupted: false,
            plan: Some(DwellPlan { planned: 480, minimum: 420, maximum: 540, label_maximum: 600 }),
        }
    }

    fn judged(dwell: &Dwell) -> String {
        row(dwell, Some(30)).pop().unwrap()
    }

    #[test]
    fn both_clocks_and_the_window_are_said() {
        let cells = row(&dwell(Some(130), Some(610)), Some(30));
        assert_eq!(cells[..6], ["lift lotion, left eye", "8:30", "8:00", "8:00", "7:00 to 9:00", "10:00"]);
        assert_eq!(cells[6], "✓ within");
    }

    #[test]
    fn each_judgement_says_by_how_much() {
        assert!(judged(&dwell(Some(130), Some(500))).starts_with("▲ short"));
        assert_eq!(judged(&dwell(Some(130), Some(660))), "▲ late: 0:20 past the maximum");
        assert_eq!(judged(&dwell(Some(130), Some(690))), "■ overrun: 0:50 past the maximum");
        assert_eq!(judged(&dwell(Some(130), Some(705))), "■ past the label maximum by 0:05: safety breach");
    }

    #[test]
    fn a_dwell_without_an_end_is_not_judged() {
        let cells = row(&dwell(None, None), Some(30));
        assert_eq!((cells[1].as_str(), cells[2].as_str()), ("not tapped off", "not tapped"));
        assert!(cells[6].starts_with("○ not judged"));
    }

    #[test]
    fn without_a_course_book_nothing_is_judged() {
        assert_eq!(row(&dwell(Some(130), Some(690)), None).pop().unwrap(), "○ not judged: no course book is here");
    }
}
