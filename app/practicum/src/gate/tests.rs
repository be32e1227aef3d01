//! Claims about the gate.

use proptest::prelude::*;

use super::*;
use crate::evidence::example::{book, moment};
use crate::eye::Eye;
use crate::ids::TestId;
use crate::moment::Day;
use crate::practice_model::{Guardian, ScreeningAnswer, TestReading, TestResult};
use crate::product::{DwellWindow, ProductKind};

/// Everything the gate looks at, owned, so that one thing can be changed at a time.
#[derive(Debug, Clone)]
struct Case {
    book: CourseBook,
    now: Moment,
    minimum_age: u32,
    tint_allowed: bool,
    person: Option<PracticeModel>,
    consents: Vec<Consent>,
    consent_checked: bool,
    screening: Option<Screening>,
    tests: Vec<SensitivityTest>,
    tests_checked: bool,
    products: Vec<(Product, Lot)>,
    conditions: PerEye<Option<LashCondition>>,
    tint: Tint,
    overrides: Vec<Override>,
    /// Lots that were called back, by their product.
    recalled: Vec<&'static str>,
    drill: bool,
    demo: bool,
}

fn product(id: &str, kind: ProductKind) -> (Product, Lot) {
    let window = DwellWindow { planned: Some(360), minimum: Some(300), maximum: Some(420) };
    let product = Product {
        id: id.into(),
        name: format!("our {id}"),
        kind,
        windows: [window; 3],
        label_maximum: Some(480),
        label_test_hours: Some(24),
        may_carry_tint: false,
    };
    (product, Lot { product: id.into(), number: "7".into(), opened_on: None })
}

fn test_of(product: &str, put_on: &str, read_at: &str) -> SensitivityTest {
    let reading = TestReading { at: moment(read_at), by: "instructor".into(), result: TestResult::NothingSeen };
    SensitivityTest {
        id: TestId::new(format!("test of {product}")),
        practice_model: "pm".into(),
        product: product.into(),
        lot: "7".into(),
        site: "behind the ear".into(),
        put_on: moment(put_on),
        put_on_by: "trainee".into(),
        read: Some(reading),
    }
}

fn consent(kind: ConsentKind) -> Consent {
    Consent {
        practice_model: "pm".into(),
        kind,
        version: "2".into(),
        given: moment("2026-03-01T09:00:00+01:00"),
        withdrawn: None,
    }
}

impl Case {
    /// A service with everything in order: the gate stands open.
    fn in_order() -> Self {
        let (put_on, read_at) = ("2026-03-07T10:00:00+01:00", "2026-03-09T11:00:00+01:00");
        let answer = |id: &str| ScreeningAnswer { question: id.into(), yes: false, written_advice: None };
        Self {
            book: book(),
            now: moment("2026-03-10T10:00:00+01:00"),
            minimum_age: 16,
            tint_allowed: true,
            person: Some(PracticeModel {
                id: "pm".into(),
                code: "PM-001".into(),
                born: Day::from_ymd_opt(1990, 1, 1),
                guardian: None,
            }),
            consents: vec![consent(ConsentKind::Service), consent(ConsentKind::Record)],
            consent_checked: true,
            screening: Some(Screening {
                practice_model: "pm".into(),
                at: moment("2026-03-10T09:30:00+01:00"),
                answers: ["infection", "glaucoma", "lenses"].map(answer).to_vec(),
                guardian_present: false,
            }),
            tests: ["lift", "setting", "tint"].map(|id| test_of(id, put_on, read_at)).to_vec(),
            tests_checked: true,
            products: vec![
                product("lift", ProductKind::Lift),
                product("setting", ProductKind::Setting),
                product("tint", ProductKind::Tint),
                product("adhesive", ProductKind::Adhesive),
            ],
            conditions: PerEye { left: Some(LashCondition::Average), right: Some(LashCondition::Weak) },
            tint: Tint::Own,
            overrides: Vec::new(),
            recalled: Vec::new(),
            drill: false,
            demo: false,
        }
    }

    fn changed(change: impl FnOnce(&mut Self)) -> Self {
        let mut case = Self::in_order();
        change(&mut case);
        case
    }

    fn gate(&self) -> Gate {
        let consents: Vec<&Consent> = self.consents.iter().collect();
        let tests: Vec<&SensitivityTest> = self.tests.iter().collect();
        let products: Vec<InUse> = self
            .products
            .iter()
            .map(|(product, lot)| InUse { product, lot, recalled: self.recalled.contains(&product.id.as_str()) })
            .collect();
        let instructor = PersonId::from("instructor");
        gate(&GateInput {
            now: &self.now,
            book: &self.book,
            academy: AcademyFacts { minimum_age: self.minimum_age, tint_allowed: self.tint_allowed, region: None },
            trainee: &"trainee".into(),
            instructors: &[&instructor],
            practice_model: self.person.as_ref(),
            consents: &consents,
            consent_checked: self.consent_checked,
            screening: self.screening.as_ref(),
            tests: &tests,
            tests_checked: self.tests_checked,
            products: &products,
            conditions: self.conditions,
            tint: self.tint,
            overrides: &self.overrides,
            drill: self.drill,
            demo: self.demo,
        })
    }

    fn person(&mut self) -> &mut PracticeModel {
        self.person.as_mut().unwrap()
    }

    fn screening(&mut self) -> &mut Screening {
        self.screening.as_mut().unwrap()
    }

    /// Makes the practice model 17 with everything a minor needs.
    fn minor(&mut self) {
        self.person().born = Day::from_ymd_opt(2008, 3, 11);
        self.person().guardian = Some(Guardian { name: "G".into(), consented: true });
        self.screening().guardian_present = true;
    }

    fn put_on(&mut self, text: &str) {
        self.tests[0].put_on = moment(text);
    }

    fn reading(&mut self) -> &mut TestReading {
        self.tests[0].read.as_mut().unwrap()
    }

    /// Overrides every reason of the gate as it stands.
    fn override_all(&mut self, confirmed: bool) {
        let keys: Vec<String> =
            self.gate().blocks.iter().flat_map(|b| [b.reason.key(), b.reason.code().into()]).collect();
        self.overrides.extend(keys.into_iter().map(|reason_code| Override {
            reason_code,
            by: "instructor".into(),
            why: "seen by me".into(),
            confirmed,
        }));
    }
}

type Change = fn(&mut Case);

/// What shuts the gate, and with which code. Every code of [`CODES`] stands here.
const SHUT: &[(&str, Change)] = &[
    ("no-practice-model", |c| c.person = None),
    ("no-consent", |c| c.consents.retain(|one| one.kind == ConsentKind::Record)),
    ("no-consent", |c| c.consents[0].withdrawn = Some(moment("2026-03-10T09:59:59+01:00"))),
    ("no-consent", |c| c.consents[0].practice_model = "other".into()),
    ("no-consent", |c| c.consents[0].given = moment("2026-03-10T10:00:01+01:00")),
    ("consent-not-checked", |c| c.consent_checked = false),
    ("no-screening", |c| c.screening = None),
    ("no-screening", |c| c.screening().practice_model = "other".into()),
    ("screening-unanswered", |c| drop(c.screening().answers.remove(2))),
    ("do-not-treat", |c| c.screening().answers[0].yes = true),
    ("refer-without-advice", |c| c.screening().answers[1].yes = true),
    ("refer-without-advice", |c| {
        c.screening().answers[1].yes = true;
        c.screening().answers[1].written_advice = Some("  ".into());
    }),
    ("age-unknown", |c| c.person().born = None),
    ("age-unknown", |c| c.person().born = Day::from_ymd_opt(2026, 3, 11)),
    ("under-age", |c| {
        c.minor();
        c.person().born = Day::from_ymd_opt(2010, 3, 11);
    }),
    ("no-guardian-consent", |c| {
        c.minor();
        c.person().guardian = None;
    }),
    ("no-guardian-consent", |c| {
        c.minor();
        c.person().guardian = Some(Guardian { name: "G".into(), consented: false });
    }),
    ("guardian-absent", |c| {
        c.minor();
        c.screening().guardian_present = false;
    }),
    ("no-analysis", |c| *c.conditions.get_mut(Eye::Right) = None),
    ("no-product", |c| drop(c.products.remove(1))),
    ("no-product", |c| drop(c.products.remove(2))),
    ("no-lot", |c| {
        c.products[0].1.number = " ".into();
        c.tests[0].lot = " ".into();
    }),
    ("lot-recalled", |c| c.recalled.push("lift")),
    ("lot-recalled", |c| c.recalled.push("adhesive")),
    ("tests-not-checked", |c| c.tests_checked = false),
    ("test-missing", |c| drop(c.tests.remove(2))),
    ("test-missing", |c| c.tests[0].practice_model = "other".into()),
    ("test-other-lot", |c| c.tests[0].lot = "8".into()),
    ("test-unread", |c| c.tests[0].read = None),
    ("test-unread", |c| c.reading().at = moment("2026-03-10T10:00:01+01:00")),
    ("test-reader-missing", |c| c.reading().by = "".into()),
    ("test-positive", |c| c.reading().result = TestResult::Positive),
    ("test-positive", |c| {
        let mut positive = c.tests[0].clone();
        positive.lot = "3".into();
        positive.put_on = moment("2020-01-01T10:00:00+01:00");
        positive.read = positive.read.map(|reading| TestReading { result: TestResult::Positive, ..reading });
        c.tests.push(positive);
    }),
    ("test-expired", |c| c.put_on("2025-09-11T09:59:59+01:00")),
    ("test-read-too-early", |c| c.reading().at = moment("2026-03-08T09:59:59+01:00")),
    ("test-interval-label-or-insurer", |c| {
        c.put_on("2026-03-09T10:00:01+01:00");
        c.reading().at = c.now;
    }),
    ("test-interval-label-or-insurer", |c| c.products[0].0.label_test_hours = Some(73)),
    ("test-interval-label-or-insurer", |c| c.book.test_rule.insurer_hours = 73),
    ("test-interval-label-or-insurer", |c| c.put_on("2026-03-11T10:00:00+01:00")),
    ("test-interval-label-unknown", |c| {
        c.products[0].0.label_test_hours = None;
        c.put_on("2026-03-08T10:00:01+01:00");
        c.reading().at = c.now;
    }),
    ("test-interval-academy", |c| {
        c.put_on("2026-03-08T10:00:01+01:00");
        c.reading().at = c.now;
    }),
    ("test-interval-academy", |c| c.reading().at = moment("2026-03-09T09:59:59+01:00")),
    ("no-label-maximum", |c| c.products[0].0.label_maximum = None),
    ("no-label-maximum", |c| c.products[2].0.label_maximum = Some(0)),
    ("no-planned-dwell", |c| c.products[1].0.windows[0].planned = None),
    ("planned-beyond-label", |c| c.products[0].0.label_maximum = Some(359)),
    ("window-incomplete", |c| c.products[0].0.windows[1].minimum = None),
    ("window-incomplete", |c| c.products[2].0.windows[1].maximum = None),
    ("window-contradicts", |c| c.products[0].0.windows[1].minimum = Some(361)),
    ("window-contradicts", |c| c.products[0].0.windows[1].maximum = Some(359)),
    ("tint-off", |c| c.tint_allowed = false),
    ("mixing-not-permitted", |c| c.tint = Tint::Mixed),
];

#[test]
fn with_everything_in_order_the_gate_is_open() {
    let found = Case::in_order().gate();
    assert!(found.open && found.blocks.is_empty() && found.notes.is_empty(), "{found:?}");
}

#[test]
fn each_thing_out_of_order_shuts_the_gate_for_its_own_reason_alone() {
    for (number, (code, change)) in SHUT.iter().enumerate() {
        let found = Case::changed(change).gate();
        let mut codes: Vec<&str> = found.blocks.iter().map(|block| block.reason.code()).collect();
        codes.dedup(); // one rule of the course book may speak of several products
        assert!(!found.open, "{number} {code}");
        assert_eq!(codes, [*code], "row {number}");
        let reason = &found.blocks[0].reason;
        assert!(reason.say().ends_with(['.', '?']) && reason.what_to_do().len() > 10, "{reason:?}");
        assert!(!reason.say().contains("safe"), "{reason:?}");
    }
}

#[test]
fn every_code_has_a_row_and_every_row_a_code() {
    for code in CODES {
        assert!(SHUT.iter().any(|(row, _)| *row == code), "{code} has no row");
    }
    assert!(SHUT.iter().all(|(row, _)| CODES.contains(row)));
}

#[test]
fn limits_themselves_are_allowed() {
    let allowed: &[Change] = &[
        |c| c.minor(),
        |c| {
            c.minor();
            c.person().born = Day::from_ymd_opt(2010, 3, 10);
        },
        |c| c.put_on("2025-09-11T10:00:00+01:00"),
        |c| {
            c.put_on("2026-03-08T10:00:00+01:00");
            c.reading().at = c.now;
        },
        |c| c.products[0].0.label_maximum = Some(360),
        |c| {
            c.screening().answers[1].yes = true;
            c.screening().answers[1].written_advice = Some("letter of 1 March".into());
        },
        |c| {
            c.tint = Tint::Mixed;
            c.products[1].0.may_carry_tint = true;
            c.products[2].0.windows = Default::default();
        },
        |c| {
            c.tint = Tint::None;
            c.tint_allowed = false;
            c.tests.truncate(2);
            drop(c.products.remove(2));
        },
    ];
    for (number, change) in allowed.iter().enumerate() {
        let found = Case::changed(change).gate();
        assert!(found.open, "row {number}: {:?}", found.blocks);
    }
}

#[test]
fn an_older_good_test_counts_beside_a_newer_unread_one() {
    let case = Case::changed(|c| {
        let mut newer = c.tests[0].clone();
        (newer.id, newer.put_on, newer.read) = ("newer".into(), moment("2026-03-09T10:00:00+01:00"), None);
        c.tests.push(newer);
    });
    assert!(case.gate().open);
}

#[test]
fn the_clock_going_forward_does_not_shorten_an_interval() {
    // 29 March 2026, 02:00 local time does not exist in central Europe: these are 47 h and 48 h.
    let at = |put_on: &str| {
        Case::changed(|c| {
            c.now = moment("2026-03-30T10:00:00+02:00");
            c.put_on(put_on);
            c.reading().at = c.now;
        })
    };
    assert!(!at("2026-03-28T10:00:00+01:00").gate().open);
    assert!(at("2026-03-28T09:00:00+01:00").gate().open);
}

#[test]
fn notes_do_not_shut_the_gate() {
    let found = Case::changed(|c| {
        c.consents.truncate(1);
        c.consents[0].version = "1".into();
        c.screening().answers[2].yes = true;
    })
    .gate();
    assert!(found.open);
    assert_eq!(found.notes.len(), 3, "{:?}", found.notes);
}

#[test]
fn a_drill_needs_nothing_and_the_demo_needs_no_label() {
    assert!(Case::changed(|c| (c.drill, c.person, c.products) = (true, None, Vec::new())).gate().open);
    let case = Case::changed(|c| {
        c.demo = true;
        c.products.iter_mut().for_each(|(product, _)| product.label_maximum = None);
    });
    assert!(case.gate().open);
    let case = Case::changed(|c| (c.demo, c.consents) = (true, Vec::new()));
    assert!(!case.gate().open);
}

fn short_of_academy() -> Case {
    Case::changed(|c| {
        c.put_on("2026-03-08T10:00:01+01:00");
        c.reading().at = c.now;
    })
}

#[test]
fn an_instructor_lets_the_academys_own_interval_pass() {
    for confirmed in [true, false] {
        let mut case = short_of_academy();
        case.override_all(confirmed);
        let found = case.gate();
        assert!(found.open && found.blocks[0].overridable, "{found:?}");
        assert_eq!((found.blocks[0].confirmed, found.claimed()), (confirmed, !confirmed));
    }
}

#[test]
fn an_override_needs_an_instructor_a_reason_and_the_course_book() {
    let spoilt: &[Change] = &[
        |c| c.overrides.iter_mut().for_each(|made| made.by = "trainee".into()),
        |c| c.overrides.iter_mut().for_each(|made| made.by = "stranger".into()),
        |c| c.overrides.iter_mut().for_each(|made| made.why = " ".into()),
        |c| c.book.rules.overridable.clear(),
    ];
    for (number, spoil) in spoilt.iter().enumerate() {
        let mut case = short_of_academy();
        case.override_all(true);
        spoil(&mut case);
        assert!(!case.gate().open, "row {number}");
    }
}

#[test]
fn a_lot_that_was_called_back_is_never_let_pass() {
    for product in ["lift", "adhesive"] {
        let mut case = Case::changed(|case| case.recalled = vec![product]);
        let gate = case.gate();
        let block = gate.blocks.iter().find(|block| block.reason.code() == "lot-recalled").expect("a reason");
        assert!(!gate.open && !block.overridable, "{product}");
        case.book.rules.overridable = vec!["lot-recalled".to_owned()];
        let key = block.reason.key();
        case.overrides =
            vec![Override { reason_code: key, by: "instructor".into(), why: "in a hurry".to_owned(), confirmed: true }];
        assert!(!case.gate().open, "{product} with an override");
    }
    assert!(Case::in_order().gate().open);
}

#[test]
fn a_changed_product_or_lot_locks_again() {
    let mut case = short_of_academy();
    case.override_all(true);
    case.products[0].1.number = "8".into();
    case.tests[0].lot = "8".into();
    assert!(!case.gate().open);
}

#[test]
fn an_expired_test_opens_only_where_the_course_book_says_so() {
    let mut case = Case::changed(|c| c.put_on("2025-09-11T09:59:59+01:00"));
    case.override_all(true);
    assert!(!case.gate().open);
    case.book.rules.overridable.push("test-expired".into());
    assert!(case.gate().open);
}

proptest! {
    #[test]
    fn no_override_opens_a_reason_that_is_never_overridden(
        rows in prop::collection::vec(0..SHUT.len(), 1..5),
        confirmed in any::<bool>(),
    ) {
        let mut case = Case::in_order();
        case.book.rules.overridable = CODES.map(str::to_owned).to_vec();
        for row in rows {
            // A row may find that an earlier one took away what it changes.
            let mut next = case.clone();
            if std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| (SHUT[row].1)(&mut next))).is_ok() {
                case = next;
            }
        }
        let before = case.gate();
        case.override_all(confirmed);
        let after = case.gate();
        let never = before.blocks.iter().any(|block| !OVERRIDABLE_CODES.contains(&block.reason.code()));
        prop_assert_eq!(after.open, !never);
        for block in after.blocks.iter().filter(|block| block.reason.never_overridable()) {
            prop_assert!(block.shuts() && !block.overridable);
        }
    }
}
