//! Reading a sensitivity test: result, reader, when, and whether it was read too early.

use chrono::Duration;
use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::ids::PersonId;
use practicum::moment::Moment;
use practicum::practice_model::{SensitivityTest, TestReading, TestResult};

use super::put_on::people;
use super::tests_part::result_in_words;
use crate::pages::form::{
    ChoiceInput, Field, Saving, SavingLine, SelectInput, TextInput, local_text, moment_of_local, not_in_the_future,
};
use crate::session::{Session, reading, session};

/// How long a test waits: from whom the figures come, and until when it counts.
#[derive(Debug, Clone)]
pub(super) struct Waits {
    put_on: Moment,
    label: Option<u32>,
    insurer: u32,
    academy: u32,
    expires_days: u32,
}

impl Waits {
    /// Takes the figures from the course book in force and the product's label.
    pub(super) fn of(session: Session, test: &SensitivityTest) -> Self {
        let rule = session.book().map(|book| book.test_rule);
        Self {
            put_on: test.put_on,
            label: session.product(&test.product).and_then(|product| product.label_test_hours),
            insurer: rule.map_or(0, |rule| rule.insurer_hours),
            academy: rule.map_or(0, |rule| rule.academy_hours),
            expires_days: rule.map_or(0, |rule| rule.expires_days),
        }
    }

    /// The longest of the hours asked for.
    fn hours(&self) -> u32 {
        self.label.unwrap_or(0).max(self.insurer).max(self.academy)
    }

    /// Says when to read it and until when it counts.
    pub(super) fn in_words(&self) -> String {
        let at = |moment: Moment| moment.format("%Y-%m-%d %H:%M");
        let from = self.put_on + Duration::hours(i64::from(self.hours()));
        let until = self.put_on + Duration::days(i64::from(self.expires_days));
        let label = match self.label {
            Some(hours) => format!("label {hours}"),
            None => "label not entered".to_owned(),
        };
        let (insurer, academy) = (self.insurer, self.academy);
        format!(
            "Hours asked for: {label}, insurer {insurer}, academy {academy}. Read it from {} on; it counts until {}.",
            at(from),
            at(until)
        )
    }

    /// Says what speaks against a reading at a moment, if anything does.
    pub(super) fn against(&self, at: &Moment) -> Option<String> {
        let waited = at.signed_duration_since(self.put_on);
        let hours = i64::from(self.hours());
        if waited < Duration::hours(hours) {
            let (whole, minutes) = (waited.num_hours(), waited.num_minutes().rem_euclid(60));
            return Some(format!(
                "Read after {whole} h {minutes:02} min: earlier than the {hours} hours asked for. A late reaction would be missed, and the gate says so."
            ));
        }
        (waited > Duration::days(i64::from(self.expires_days)))
            .then(|| format!("Read more than {} days after it was put on: it counts no longer.", self.expires_days))
    }
}

/// Reads a test.
#[component]
pub(super) fn ReadForm(
    /// The test.
    test: SensitivityTest,
    /// How long it waits.
    waits: Waits,
) -> impl IntoView {
    let session = session();
    let result = Field::empty();
    let at = Field::of(local_text(&reading().at));
    let by = Field::of(untrack(move || session.who()).map(|who| who.id.to_string()).unwrap_or_default());
    let saving = Saving::new();
    let key = test.id.to_string();
    let id = |what: &str| format!("test-{what}-{key}");
    let (result_id, at_id, by_id) = (id("result"), id("read-at"), id("read-by"));
    let warned = move || at.text.with(|typed| moment_of_local(typed)).ok().and_then(|at| waits.against(&at));
    let submit = move |event: leptos::ev::SubmitEvent| {
        event.prevent_default();
        let Some(reading) = read(&test, result, at, by) else { return };
        let done = "The reading is recorded.".to_owned();
        saving.write(session, vec![Fact::TestRead { test: test.id.clone(), reading }], done, || {});
    };
    let results = [("nothing", "Nothing seen"), ("positive", "A reaction was seen")];
    let results = results.map(|(value, words)| (value.to_owned(), words.to_owned())).to_vec();
    let meaning = move || match result.text.with(|text| result_of(text)) {
        Some(result) => format!("This will be kept as: {}.", result_in_words(result)),
        None => String::new(),
    };
    view! {
        <form novalidate on:submit=submit>
            <ChoiceInput legend="Result" id=result_id field=result options=results/>
            <p class="small" aria-live="polite">{meaning}</p>
            <TextInput label="Read at" id=at_id field=at kind="datetime-local"/>
            <SelectInput label="Read by" id=by_id field=by options=Signal::derive(move || people(session))/>
            <div role="status">
                {move || warned().map(|sentence| view! { <p class="notice notice-caution">"▲ "{sentence}</p> })}
            </div>
            <button type="submit" disabled=move || saving.busy()>"Record: read"</button>
            <SavingLine saving=saving/>
        </form>
    }
}

fn result_of(value: &str) -> Option<TestResult> {
    match value {
        "nothing" => Some(TestResult::NothingSeen),
        "positive" => Some(TestResult::Positive),
        _ => None,
    }
}

fn read(test: &SensitivityTest, result: Field, at: Field, by: Field) -> Option<TestReading> {
    let now = reading().at;
    let result = result.read(|typed| result_of(typed).ok_or_else(|| "Choose what was seen.".to_owned()));
    let at = at.read(|typed| {
        let at = not_in_the_future(moment_of_local(typed)?, &now)?;
        if at < test.put_on { Err("This is before the test was put on.".to_owned()) } else { Ok(at) }
    });
    let by = by
        .read(|typed| if typed.is_empty() { Err("Choose who read it.".to_owned()) } else { Ok(PersonId::from(typed)) });
    Some(TestReading { at: at?, by: by?, result: result? })
}

#[cfg(test)]
mod tests {
    use practicum::moment::parse_moment;

    use super::Waits;

    #[test]
    fn a_reading_before_the_longest_interval_is_too_early() {
        let put_on = parse_moment("2026-03-27T10:00:00+00:00").unwrap();
        let waits = Waits { put_on, label: Some(24), insurer: 24, academy: 48, expires_days: 180 };
        let against = |at: &str| waits.against(&parse_moment(at).unwrap());
        // The clocks go on one hour in between: 48 hours are 48 hours.
        assert!(against("2026-03-29T10:59:00+01:00").is_some_and(|sentence| sentence.contains("47 h 59 min")));
        assert_eq!(against("2026-03-29T11:00:00+01:00"), None);
        assert!(against("2026-09-24T12:00:00+01:00").is_some_and(|sentence| sentence.contains("180 days")));
        assert!(waits.in_words().contains("2026-03-29 10:00"));
    }

    #[test]
    fn the_label_counts_when_it_asks_for_more() {
        let put_on = parse_moment("2026-03-01T10:00:00+00:00").unwrap();
        let waits = Waits { put_on, label: Some(72), insurer: 24, academy: 48, expires_days: 180 };
        assert!(waits.against(&parse_moment("2026-03-03T10:00:00+00:00").unwrap()).is_some());
        assert_eq!(waits.against(&parse_moment("2026-03-04T10:00:00+00:00").unwrap()), None);
    }
}
