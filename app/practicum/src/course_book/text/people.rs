//! Reads what is said to people: title and consent, screening, safety and regions.

use super::walk::{File, Ids};
use super::working::PRODUCTS;
use crate::course_book::{FirstResponse, Region, ScreeningGroup, ScreeningQuestion, TestRule};
use crate::ids::{QuestionId, RegionId};

/// Title page, pauses and consent.
pub(super) struct Front {
    pub(super) title: String,
    pub(super) edition: String,
    pub(super) pause_reasons: Vec<String>,
    pub(super) consent_version: String,
    pub(super) consent_texts: [String; 2],
    pub(super) photo_consent_texts: [Option<String>; 2],
}

/// Reads `book.toml`.
pub(super) fn front(file: &File<'_>) -> Front {
    let top = file.top();
    let consent = top.part("consent");
    let front = Front {
        title: top.text("title"),
        edition: top.text("edition"),
        pause_reasons: top.texts("pause_reasons", 1),
        consent_version: consent.text("version"),
        consent_texts: ["service", "record"].map(|key| consent.text(key)),
        photo_consent_texts: ["photos", "publicity"].map(|key| consent.has(key).then(|| consent.text(key))),
    };
    for (key, text) in [("title", &front.title), ("edition", &front.edition)] {
        if text.contains('\n') || text.chars().count() > 80 {
            top.say(key, format!("“{key}” is one line of at most 80 characters: shorten it"));
        }
    }
    if let [None, Some(_)] = front.photo_consent_texts {
        consent.say("publicity", "“publicity” is about photos: write the consent “photos” too, or leave both out");
    }
    consent.done();
    top.done();
    front
}

/// Screening questions and the rule for sensitivity tests.
pub(super) struct Screening {
    pub(super) questions: Vec<ScreeningQuestion>,
    pub(super) test_rule: TestRule,
}

/// Reads `screening.toml`.
pub(super) fn screening(file: &File<'_>) -> Screening {
    let top = file.top();
    top.source("screening questions");
    let test = top.part("sensitivity_test");
    test.source("sensitivity test");
    let test_rule = TestRule {
        academy_hours: test.whole("academy_hours", 0..=336),
        insurer_hours: test.whole("insurer_hours", 0..=336),
        expires_days: test.whole("expires_days", 1..=1095),
    };
    if test_rule.academy_hours < test_rule.insurer_hours {
        test.say(
            "academy_hours",
            "the academy's own interval must not be shorter than the insurer's: raise “academy_hours”",
        );
    }
    if test.has("expires_days") && test_rule.expires_days.saturating_mul(24) <= test_rule.academy_hours {
        test.say("expires_days", "a test would expire before it may be used: raise “expires_days”");
    }
    test.done();
    let groups = [
        ("do not treat today", ScreeningGroup::DoNotTreat),
        ("refer", ScreeningGroup::Refer),
        ("adapt", ScreeningGroup::Adapt),
    ];
    let rows = top.rows("question", 1);
    top.done();
    let mut seen = Ids::default();
    let mut questions = Vec::new();
    for row in &rows {
        let id = row.id(&mut seen);
        questions.push(ScreeningQuestion {
            id: QuestionId::new(id),
            group: row.one_of("group", &groups).unwrap_or(ScreeningGroup::DoNotTreat),
            question: row.text("question"),
            advice: row.text("advice"),
        });
        row.done();
    }
    for (word, group) in groups {
        if let Some(last) = rows.last().filter(|_| !questions.iter().any(|question| question.group == group)) {
            last.say("", format!("no question of the group \"{word}\" stands in this file: add at least one"));
        }
    }
    Screening { questions, test_rule }
}

/// First response, aftercare and standing cautions.
pub(super) struct Safety {
    pub(super) rinse_minutes: u32,
    pub(super) first_response: Vec<FirstResponse>,
    pub(super) swelling_steps: Vec<String>,
    pub(super) sources: Vec<String>,
    pub(super) aftercare: Vec<String>,
    pub(super) cautions: Vec<String>,
}

/// Reads `safety.toml`.
pub(super) fn safety(file: &File<'_>) -> Safety {
    let top = file.top();
    let first = top.part("first_response");
    // Public health sources say at least 15 minutes: a shorter rinse is refused, not only doubted.
    let rinse_minutes = first.whole("rinse_minutes", 15..=60);
    let swelling_steps = first.texts("swelling_steps", 1);
    let sources = first.texts("sources", 1);
    let rows = first.rows("on_eye", 0);
    let mut first_response: Vec<FirstResponse> = Vec::new();
    for row in &rows {
        let product = row.one_of("product", &PRODUCTS);
        let steps = row.texts("steps", 2);
        if let Some(product) = product {
            if first_response.iter().any(|other| other.product == product) {
                row.say("product", "steps for this product stand above: keep one list");
            }
            first_response.push(FirstResponse { product, steps });
        }
        row.done();
    }
    for (word, product) in PRODUCTS {
        if !first_response.iter().any(|known| known.product == product) {
            first.say(
                "on_eye",
                format!(
                    "no first-response steps for \"{word}\": add a [[first_response.on_eye]] with product = \"{word}\""
                ),
            );
        }
    }
    first.done();
    let after = top.part("aftercare");
    after.source("aftercare");
    let aftercare = after.texts("lines", 1);
    after.done();
    let cautions = top.texts("cautions", 1);
    top.done();
    Safety { rinse_minutes, first_response, swelling_steps, sources, aftercare, cautions }
}

/// Reads `regions.toml`.
pub(super) fn regions(file: &File<'_>) -> Vec<Region> {
    let top = file.top();
    let rows = top.rows("region", 1);
    top.done();
    let mut seen = Ids::default();
    let mut regions = Vec::new();
    for row in &rows {
        let id = row.id(&mut seen);
        let label = row.text("label");
        row.source(&format!("region “{label}”"));
        let number = row.text_or_empty("emergency_number");
        if !number.chars().all(|c| c.is_ascii_digit() || c == ' ' || c == '+') || number.len() > 20 {
            row.say("emergency_number", "an emergency number has digits only: correct it, or leave it empty with \"\"");
        }
        regions.push(Region {
            id: RegionId::new(id),
            label,
            tint_off: row.yes("tint_off"),
            tint_note: row.text("tint_note"),
            cautions: row.texts("cautions", 1),
            emergency_number: number,
            licence_note: row.has("licence_note").then(|| row.text("licence_note")),
        });
        row.done();
    }
    regions
}
