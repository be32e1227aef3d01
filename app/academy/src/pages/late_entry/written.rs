//! Times written down afterwards, as fields: service, hands-on, stages, dwells.

use leptos::prelude::*;
use practicum::course_book::{CourseBook, Part, Work};
use practicum::eye::Eye;
use practicum::ids::StageId;
use practicum::moment::{Seconds, format_seconds};
use practicum::product::ProductKind;
use practicum::service::WrittenTimes;

use crate::pages::form::{Field, TextInput};

/// Longest time taken, in seconds: proposal, no source.
const LONGEST: Seconds = 9 * 3600;

/// A time of a stage.
#[derive(Clone)]
struct StageField {
    stage: StageId,
    eye: Option<Eye>,
    label: String,
    field: Field,
}

/// A dwell.
#[derive(Clone)]
struct DwellField {
    kind: ProductKind,
    eye: Eye,
    label: String,
    field: Field,
}

/// All written times while they are being typed.
#[derive(Clone)]
pub(crate) struct Written {
    service: Field,
    hands_on: Field,
    stages: Vec<StageField>,
    dwells: Vec<DwellField>,
}

impl Written {
    /// Makes the fields for a course book, filled with what is known.
    pub(crate) fn of(book: &CourseBook, known: &WrittenTimes) -> Self {
        let text = |seconds: Option<Seconds>| Field::of(seconds.map(format_seconds).unwrap_or_default());
        let mut stages = Vec::new();
        let in_book = book.stages.iter().filter(|stage| stage.part == Part::Service && stage.work == Work::HandsOn);
        let in_book = in_book.flat_map(|stage| {
            let eyes = if stage.per_eye { vec![Some(Eye::Left), Some(Eye::Right)] } else { vec![None] };
            eyes.into_iter().map(|eye| (stage.id.clone(), eye))
        });
        let also = known.stages.iter().map(|(stage, eye, _)| (stage.clone(), *eye));
        for (stage, eye) in in_book.chain(also) {
            if stages.iter().any(|known: &StageField| known.stage == stage && known.eye == eye) {
                continue;
            }
            let seconds =
                known.stages.iter().find(|(s, e, _)| *s == stage && *e == eye).map(|(_, _, seconds)| *seconds);
            let name = book.stage(&stage).map_or_else(|| stage.to_string(), |stage| stage.label.clone());
            let side = eye.map_or("both eyes".to_owned(), |eye| format!("{} eye", eye.word()));
            stages.push(StageField { stage, eye, label: format!("{name}, {side}"), field: text(seconds) });
        }
        let kinds: Vec<ProductKind> = book
            .stages
            .iter()
            .filter_map(|stage| match stage.work {
                Work::Dwell(kind) => Some(kind),
                _ => None,
            })
            .collect();
        let dwells = kinds.into_iter().flat_map(|kind| Eye::BOTH.map(|eye| (kind, eye))).map(|(kind, eye)| {
            let seconds = known.dwells.iter().find(|(k, e, _)| *k == kind && *e == eye).map(|(_, _, seconds)| *seconds);
            DwellField {
                kind,
                eye,
                label: format!("Dwell of {}, {} eye", kind.word(), eye.word()),
                field: text(seconds),
            }
        });
        Self { service: text(known.service), hands_on: text(known.hands_on), stages, dwells: dwells.collect() }
    }

    /// Says beside a dwell what is wrong with it.
    pub(super) fn refuse_dwell(&self, kind: ProductKind, eye: Eye, sentence: &str) {
        if let Some(one) = self.dwells.iter().find(|one| one.kind == kind && one.eye == eye) {
            one.field.refuse(sentence);
        }
    }

    /// Reads all fields; says beside each what is wrong with it.
    pub(crate) fn read(&self) -> Option<WrittenTimes> {
        let service = self.service.read(duration);
        let hands_on = self.hands_on.read(duration);
        let mut times = WrittenTimes::default();
        let mut sound = true;
        for one in &self.stages {
            match one.field.read(duration) {
                Some(seconds) => times.stages.extend(seconds.map(|seconds| (one.stage.clone(), one.eye, seconds))),
                None => sound = false,
            }
        }
        for one in &self.dwells {
            match one.field.read(duration) {
                Some(seconds) => times.dwells.extend(seconds.map(|seconds| (one.kind, one.eye, seconds))),
                None => sound = false,
            }
        }
        (times.service, times.hands_on) = (service?, hands_on?);
        if let Some(sentence) = contradiction(&times) {
            self.hands_on.refuse(sentence);
            return None;
        }
        sound.then_some(times)
    }
}

/// Says how written times contradict each other, if they do.
fn contradiction(times: &WrittenTimes) -> Option<String> {
    let on = |eye| {
        times.dwells.iter().filter(move |(_, e, _)| *e == eye).map(|(_, _, s)| *s).fold(0, Seconds::saturating_add)
    };
    let longest = Eye::BOTH.into_iter().map(on).max().unwrap_or(0);
    if times.service.is_some_and(|service| longest > service) {
        return Some(format!(
            "The dwells of one eye add up to {}, more than the service time: check them.",
            format_seconds(longest)
        ));
    }
    let stages = times.stages.iter().map(|(_, _, seconds)| *seconds).fold(0, Seconds::saturating_add);
    match (times.service, times.hands_on) {
        (Some(service), Some(hands_on)) if hands_on > service => {
            Some("This is longer than the service time: check both.".to_owned())
        }
        (Some(service), None) if stages > service => {
            Some(format!("The stages add up to {}, more than the service time: check them.", format_seconds(stages)))
        }
        (_, Some(hands_on)) if stages > hands_on => {
            Some(format!("The stages add up to {}, more than this: check them.", format_seconds(stages)))
        }
        _ => None,
    }
}

/// Reads `m:ss` or `h:mm:ss`; empty reads as not known.
///
/// # Errors
/// Returns what is wrong with what was typed.
pub(crate) fn duration(typed: &str) -> Result<Option<Seconds>, String> {
    let typed = typed.trim();
    if typed.is_empty() {
        return Ok(None);
    }
    let wrong = || format!("Type minutes and seconds such as 47:30, or hours such as 1:05:00, not “{typed}”.");
    let part = |text: &str| {
        let digits = (1..=3).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
        if digits { text.parse::<Seconds>().map_err(|_| wrong()) } else { Err(wrong()) }
    };
    let parts = typed.split(':').map(part).collect::<Result<Vec<_>, _>>()?;
    let seconds = match parts.as_slice() {
        [minutes, seconds] if *seconds < 60 => minutes * 60 + seconds,
        [hours, minutes, seconds] if *minutes < 60 && *seconds < 60 => hours * 3600 + minutes * 60 + seconds,
        _ => return Err(wrong()),
    };
    if seconds == 0 || seconds > LONGEST {
        return Err(format!("More than nothing and at most nine hours, not “{typed}”; leave it empty when not known."));
    }
    Ok(Some(seconds))
}

/// The fields.
#[component]
pub(crate) fn WrittenFields(
    /// The times.
    written: Written,
) -> impl IntoView {
    let stage = |(place, one): (usize, StageField)| {
        view! { <TextInput label=one.label id=format!("stage-{place}") field=one.field/> }
    };
    let dwell = |(place, one): (usize, DwellField)| {
        view! { <TextInput label=one.label id=format!("dwell-{place}") field=one.field/> }
    };
    view! {
        <fieldset class="form-part">
            <legend>"Written times, as far as they are known"</legend>
            <p class="field-hint">"As m:ss or h:mm:ss. Leave empty what nobody wrote down."</p>
            <TextInput label="Service time, pauses included" id="service-time" field=written.service/>
            <TextInput label="Hands-on time of the whole service" id="hands-on" field=written.hands_on/>
            <details open=true>
                <summary>"Hands-on time of each stage"</summary>
                {written.stages.into_iter().enumerate().map(stage).collect_view()}
            </details>
            <details open=true>
                <summary>"Dwells, first contact to off"</summary>
                {written.dwells.into_iter().enumerate().map(dwell).collect_view()}
            </details>
        </fieldset>
    }
}

#[cfg(test)]
mod tests {
    use practicum::eye::Eye;
    use practicum::product::ProductKind;
    use practicum::service::WrittenTimes;

    use super::{contradiction, duration};

    #[test]
    fn durations_are_read_in_two_forms_and_nothing_else() {
        assert_eq!(duration("47:30"), Ok(Some(2850)));
        assert_eq!(duration(" 1:05:00 "), Ok(Some(3900)));
        assert_eq!(duration("  "), Ok(None));
        for bad in [
            "47",
            "47:60",
            "1:60:00",
            "-1:00",
            "+1:00",
            "0:00",
            "9:00:01",
            "999:00",
            "1:2:3:4",
            "٤:٠٠",
            "9999999999:00",
            "1:",
            ":30",
        ] {
            assert!(duration(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn dwells_longer_than_the_service_are_refused() {
        let dwells = |left, right| {
            vec![
                (ProductKind::Lift, Eye::Left, left),
                (ProductKind::Setting, Eye::Left, 600),
                (ProductKind::Lift, Eye::Right, right),
            ]
        };
        let times = |service, dwells| WrittenTimes { service, hands_on: None, stages: Vec::new(), dwells };
        assert!(contradiction(&times(Some(1800), dwells(1201, 0))).is_some());
        assert!(contradiction(&times(Some(1800), dwells(0, 1801))).is_some());
        assert_eq!(contradiction(&times(Some(1800), dwells(1200, 1800))), None);
        assert_eq!(contradiction(&times(None, dwells(1201, 0))), None);
    }

    #[test]
    fn parts_longer_than_the_whole_are_refused() {
        let stages = vec![("lash-up".into(), None, 1200)];
        let times = |service, hands_on| WrittenTimes { service, hands_on, stages: stages.clone(), dwells: Vec::new() };
        assert!(contradiction(&times(Some(1800), Some(1801))).is_some());
        assert!(contradiction(&times(None, Some(1199))).is_some());
        assert!(contradiction(&times(Some(1199), None)).is_some());
        assert_eq!(contradiction(&times(Some(1800), Some(1200))), None);
        assert_eq!(contradiction(&times(None, None)), None);
    }
}
