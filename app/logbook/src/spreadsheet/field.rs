//! What a column means.

use practicum::course_book::{CourseBook, Work};
use practicum::eye::Eye;
use practicum::ids::StageId;
use practicum::product::ProductKind;

use crate::spreadsheet::duration::Span;
use crate::spreadsheet::fold::fold;
use crate::spreadsheet::table::Table;

/// The bare trade word in people's own headers for the person practised on.
const PRACTISED_ON: &str = concat!("mod", "el");

/// What a column means. `None` for the eye: both eyes together, or the same on both.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Field {
    /// Name of the trainee.
    Trainee,
    /// Day of the service.
    Date,
    /// Time of day at which it began.
    TimeOfDay,
    /// Code of the practice model.
    PracticeModel,
    /// Sections worked.
    Sections(Option<Eye>),
    /// Service time.
    ServiceTime,
    /// Hands-on time of the whole service.
    HandsOnTime,
    /// Hands-on time of a stage.
    StageTime(StageId, Option<Eye>),
    /// Dwell of a product.
    Dwell(ProductKind, Option<Eye>),
    /// Lash condition; kept in the note.
    Condition,
    /// Shield size.
    Shield(Option<Eye>),
    /// Tint.
    Tint,
    /// How it ended.
    Ending,
    /// What was written about the outcome; kept in the note, never a mark.
    OutcomeRemark,
    /// Note.
    Note,
    /// Anything else; kept in the note behind the column's name. The one field that may stand twice.
    KeptInNote,
}

impl Field {
    /// Returns every field that a column may be matched with, for a course book.
    pub fn all(book: &CourseBook) -> Vec<Field> {
        let mut fields = vec![
            Field::Trainee,
            Field::Date,
            Field::TimeOfDay,
            Field::PracticeModel,
            Field::Sections(None),
            Field::Sections(Some(Eye::Left)),
            Field::Sections(Some(Eye::Right)),
            Field::ServiceTime,
            Field::HandsOnTime,
        ];
        let eyes = [None, Some(Eye::Left), Some(Eye::Right)];
        for stage in &book.stages {
            let parts = if stage.per_eye { eyes.as_slice() } else { &[None] };
            fields.extend(parts.iter().map(|eye| Field::StageTime(stage.id.clone(), *eye)));
        }
        for kind in [ProductKind::Lift, ProductKind::Setting, ProductKind::Tint] {
            if dwell_stage(book, kind).is_some() {
                fields.extend(eyes.iter().map(|eye| Field::Dwell(kind, *eye)));
            }
        }
        fields.push(Field::Condition);
        fields.extend(eyes.iter().map(|eye| Field::Shield(*eye)));
        fields.extend([Field::Tint, Field::Ending, Field::OutcomeRemark, Field::Note, Field::KeptInNote]);
        fields
    }

    /// Returns the field's name on screen.
    pub fn label(&self, book: &CourseBook) -> String {
        let side = |eye: &Option<Eye>| eye.map_or(String::new(), |eye| format!(", {} eye", eye.word()));
        match self {
            Field::Trainee => "Trainee".to_owned(),
            Field::Date => "Date".to_owned(),
            Field::TimeOfDay => "Time of day".to_owned(),
            Field::PracticeModel => "Practice model".to_owned(),
            Field::Sections(eye) => format!("Sections{}", side(eye)),
            Field::ServiceTime => "Service time".to_owned(),
            Field::HandsOnTime => "Hands-on time".to_owned(),
            Field::StageTime(id, eye) => {
                let label = book.stage(id).map_or(id.as_str(), |stage| stage.label.as_str());
                format!("Hands-on time: {label}{}", side(eye))
            }
            Field::Dwell(kind, eye) => format!("Dwell: {}{}", kind.word(), side(eye)),
            Field::Condition => "Lash condition".to_owned(),
            Field::Shield(eye) => format!("Shield size{}", side(eye)),
            Field::Tint => "Tint".to_owned(),
            Field::Ending => "How it ended".to_owned(),
            Field::OutcomeRemark => "Remark on the outcome".to_owned(),
            Field::Note => "Note".to_owned(),
            Field::KeptInNote => "Keep in the note".to_owned(),
        }
    }

    /// Returns what kind of duration the column holds, if it holds durations.
    pub fn span(&self) -> Option<Span> {
        match self {
            Field::ServiceTime | Field::HandsOnTime => Some(Span::Whole),
            Field::StageTime(..) => Some(Span::Stage),
            Field::Dwell(..) => Some(Span::Dwell),
            _ => None,
        }
    }
}

/// Returns the course book's stage in which a product dwells.
pub fn dwell_stage(book: &CourseBook, kind: ProductKind) -> Option<&StageId> {
    book.stages.iter().find(|stage| stage.work == Work::Dwell(kind)).map(|stage| &stage.id)
}

/// Which column holds what: one place for each column of the table, in order.
pub type Mapping = Vec<Option<Field>>;

/// Proposes what each column means by the words of its header; a person corrects it.
///
/// A field is proposed once; a later column with the same meaning, and one whose header says nothing
/// known, is kept in the note, so that nothing is lost unless a person leaves it out. Row numbers and
/// columns without a header are left out.
pub fn guess_columns(table: &Table, book: &CourseBook) -> Mapping {
    let mut taken: Vec<Field> = Vec::new();
    let guess = |header: &String| {
        let field = guess(header, book)?;
        if field != Field::KeptInNote && taken.contains(&field) {
            return Some(Field::KeptInNote);
        }
        taken.push(field.clone());
        Some(field)
    };
    table.header.iter().map(guess).collect()
}

/// Says what keeps a mapping from being used: one sentence each.
pub fn mapping_problems(mapping: &[Option<Field>], book: &CourseBook) -> Vec<String> {
    let mut problems = Vec::new();
    for needed in [Field::Trainee, Field::Date] {
        if !mapping.contains(&Some(needed.clone())) {
            problems.push(format!("No column is matched with “{}”: choose the one that holds it", needed.label(book)));
        }
    }
    let mut seen: Vec<&Field> = Vec::new();
    for field in mapping.iter().flatten().filter(|field| **field != Field::KeptInNote) {
        if seen.contains(&field) {
            problems.push(format!("Two columns are matched with “{}”: leave one of them out", field.label(book)));
        }
        seen.push(field);
    }
    problems
}

/// Whether a cell is a word that headers use, whatever the course book.
pub(crate) fn is_known_word(cell: &str) -> bool {
    let words = Words::of(cell);
    !words.all.is_empty() && words.all.len() <= 8 && (words.plain_field().is_some() || words.dwell().is_some())
}

fn guess(header: &str, book: &CourseBook) -> Option<Field> {
    let words = Words::of(header);
    if words.says_nothing() {
        return None;
    }
    let stage = || words.stage(book).map(|stage| Field::StageTime(stage, words.eye));
    words.dwell().or_else(stage).or_else(|| words.plain_field()).or(Some(Field::KeptInNote))
}

/// The words of a header without units and sides.
struct Words {
    all: Vec<String>,
    rest: String,
    eye: Option<Eye>,
    has_unit: bool,
}

impl Words {
    fn of(header: &str) -> Self {
        let folded = fold(header);
        let words = folded.split(|letter: char| !letter.is_alphanumeric() && letter != '#');
        let all: Vec<String> = words.filter(|word| !word.is_empty()).map(str::to_owned).collect();
        let units = ["min", "mins", "minutes", "mm", "ss", "h", "hh", "hrs", "hours", "s", "sec", "secs", "seconds"];
        let (mut eye, mut has_unit, mut rest) = (None, false, Vec::new());
        for word in &all {
            match word.as_str() {
                "left" | "l" => eye = Some(Eye::Left),
                "right" | "r" => eye = Some(Eye::Right),
                "eye" => {}
                unit if units.contains(&unit) => has_unit = true,
                other => rest.push(other),
            }
        }
        // "L/R" names both sides.
        let sides = |long: &str, short: &str| all.iter().any(|word| word == long || word == short);
        if sides("left", "l") && sides("right", "r") {
            eye = None;
        }
        let rest = rest.join(" ");
        Self { all, rest, eye, has_unit }
    }

    fn says_nothing(&self) -> bool {
        let export_only = ["waiting", "pauses", "instructor checks", "how recorded", "course book"];
        let numbers = ["", "#", "no", "nr", "number", "row", "line", "id", "service no", "service number", "service #"];
        let number_only = numbers.contains(&self.rest.as_str()) && !self.has_unit;
        number_only || export_only.contains(&self.rest.as_str()) || self.rest.starts_with("column ")
    }

    fn has(&self, words: &[&str]) -> bool {
        self.rest.split(' ').any(|word| words.contains(&word))
    }

    fn is(&self, texts: &[&str]) -> bool {
        texts.contains(&self.rest.as_str())
    }

    /// A dwell: the word itself, or a lotion with a side.
    fn dwell(&self) -> Option<Field> {
        let kind = if self.has(&["setting", "set", "2", "fix", "neutraliser", "neutralizer"]) {
            ProductKind::Setting
        } else if self.has(&["tint", "3"]) {
            ProductKind::Tint
        } else {
            ProductKind::Lift
        };
        let lotion = self.has(&["lotion", "lift", "setting", "step"]) && self.eye.is_some() && !self.is_work();
        (self.has(&["dwell", "processing"]) || lotion).then_some(Field::Dwell(kind, self.eye))
    }

    fn is_work(&self) -> bool {
        self.rest.contains("hands on") || self.has(&["handson", "work", "working"])
    }

    /// A stage of the course book: its label or identifier, or a word that stands for it.
    fn stage(&self, book: &CourseBook) -> Option<StageId> {
        let timed = ["hands on time", "hands on", "handson", "working time", "time"];
        let bare = timed.iter().find_map(|end| self.rest.strip_suffix(end)).unwrap_or(&self.rest).trim();
        let is_timed = bare.len() < self.rest.len();
        if bare.is_empty() {
            return None;
        }
        let same = |text: &str| Words::of(text).rest == bare;
        // A bare "shield" or "tint" is a choice, not a time.
        let choice = matches!(bare, "shield" | "tint");
        let named = book.stages.iter().find(|stage| same(&stage.label) || same(stage.id.as_str()));
        if let Some(stage) = named {
            return (is_timed || self.has_unit || !choice).then(|| stage.id.clone());
        }
        let stands_for: [(&str, &[&str]); 7] = [
            ("consultation", &["consult", "consultation", "consulting"]),
            ("cleanse", &["cleansing", "clean", "cleaning", "prep"]),
            (
                "lower-protection",
                &["lower lashes", "lower lash protection", "under eye", "under eye pads", "pads", "protection"],
            ),
            ("shield", &["shield placement", "shield fixing", "shields on"]),
            (
                "lash-up",
                &[
                    "lash up",
                    "lashup",
                    "lashing up",
                    "wrapping",
                    "wrap",
                    "lash placement",
                    "placement",
                    "sectioning up",
                ],
            ),
            ("release", &["rinse", "rinsing", "remove", "removal", "take off"]),
            ("finish", &["finish", "finishing", "brush out"]),
        ];
        let (id, _) = stands_for.iter().find(|(_, texts)| texts.contains(&bare))?;
        let finish_alone = *id == "finish" && !is_timed && !self.has_unit;
        book.stages.iter().find(|stage| stage.id.as_str() == *id && !finish_alone).map(|stage| stage.id.clone())
    }

    fn plain_field(&self) -> Option<Field> {
        if self.has(&["sections", "sectioning", "plan", "section"]) {
            Some(Field::Sections(self.eye))
        } else if self.is(&["time of day", "began", "began at", "start", "start time", "started", "started at"]) {
            Some(Field::TimeOfDay)
        } else if self.has(&["date", "day", "datum"]) && !self.has(&["birth", "test", "opened"]) {
            Some(Field::Date)
        } else if self.is(&[PRACTISED_ON]) || self.has(&["practice", "client", "guest", "pm", "code"]) {
            Some(Field::PracticeModel)
        } else if self.has(&["trainee", "student", "learner", "apprentice"]) || self.is(&["name", "who"]) {
            Some(Field::Trainee)
        } else if self.is_work() {
            Some(Field::HandsOnTime)
        } else if self.has(&["condition"]) || self.is(&["lashes", "lash type"]) {
            Some(Field::Condition)
        } else if self.has(&["shield", "shields", "rod"]) {
            Some(Field::Shield(self.eye))
        } else if self.has(&["tint", "tinted"]) {
            Some(Field::Tint)
        } else if self.has(&["outcome", "result", "grade", "assessment"]) {
            Some(Field::OutcomeRemark)
        } else if self.has(&["ending", "ended", "completed", "finished", "status"]) {
            Some(Field::Ending)
        } else if self.has(&["note", "notes", "comment", "comments", "remark", "remarks"]) {
            Some(Field::Note)
        } else if self.is_service_time() {
            Some(Field::ServiceTime)
        } else {
            None
        }
    }

    fn is_service_time(&self) -> bool {
        let names =
            ["service time", "total", "total time", "time", "duration", "service duration", "overall time", "service"];
        self.is(&names) || (self.rest.is_empty() && self.has_unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spreadsheet::table::decode;

    fn book() -> CourseBook {
        crate::spreadsheet::example_book()
    }

    fn one(header: &str) -> Option<Field> {
        guess(header, &book())
    }

    #[test]
    fn several_spellings_of_a_header_mean_the_same() {
        let lash_up = Field::StageTime("lash-up".into(), None);
        let (left, right) = (Some(Eye::Left), Some(Eye::Right));
        for (header, field) in [
            ("Trainee", Field::Trainee),
            ("STUDENT NAME", Field::Trainee),
            ("name", Field::Trainee),
            ("Date", Field::Date),
            ("Date of service", Field::Date),
            ("Day", Field::Date),
            ("Practice model", Field::PracticeModel),
            ("Client code", Field::PracticeModel),
            ("PM", Field::PracticeModel),
            ("Plan", Field::Sections(None)),
            ("Sections (L)", Field::Sections(left)),
            ("right sections", Field::Sections(right)),
            ("Sections L/R", Field::Sections(None)),
            ("Service time", Field::ServiceTime),
            ("Total (min)", Field::ServiceTime),
            ("Minutes", Field::ServiceTime),
            ("Hands-on", Field::HandsOnTime),
            ("Hands-on time (mm:ss)", Field::HandsOnTime),
            ("Lash-up", lash_up.clone()),
            ("Lash up time", lash_up.clone()),
            ("Wrapping (min)", lash_up.clone()),
            ("Lash-up hands-on", lash_up),
            ("Cleanse and dry hands-on", Field::StageTime("cleanse".into(), None)),
            ("Fix the shield, left eye", Field::StageTime("shield".into(), left)),
            ("Shield time", Field::StageTime("shield".into(), None)),
            ("Lift dwell left", Field::Dwell(ProductKind::Lift, left)),
            ("Lift lotion R", Field::Dwell(ProductKind::Lift, right)),
            ("Setting dwell (L)", Field::Dwell(ProductKind::Setting, left)),
            ("Dwell R", Field::Dwell(ProductKind::Lift, right)),
            ("Lash condition", Field::Condition),
            ("Shield", Field::Shield(None)),
            ("Shield left", Field::Shield(left)),
            ("Tint?", Field::Tint),
            ("Notes", Field::Note),
            ("Comments", Field::Note),
            ("Ending", Field::Ending),
            ("Outcome", Field::OutcomeRemark),
            ("Room", Field::KeptInNote),
            ("Time of day", Field::TimeOfDay),
        ] {
            assert_eq!(one(header), Some(field), "{header}");
        }
        for header in ["", "#", "No.", "Waiting", "How recorded", "Column 3"] {
            assert_eq!(one(header), None, "{header}");
        }
    }

    #[test]
    fn a_field_is_proposed_once() {
        let table = decode(b"Name,Date,Note,Comments\nA,2026-03-01,x,y\n").unwrap();
        let guess = guess_columns(&table, &book());
        assert_eq!(guess, [Some(Field::Trainee), Some(Field::Date), Some(Field::Note), Some(Field::KeptInNote)]);
    }

    #[test]
    fn a_mapping_without_a_date_or_with_two_says_so() {
        let book = book();
        let problems = mapping_problems(&[Some(Field::Trainee), Some(Field::Note), Some(Field::Note)], &book);
        assert_eq!(problems.len(), 2);
        assert!(problems.iter().any(|problem| problem.contains("“Date”")), "{problems:?}");
        assert!(mapping_problems(&[Some(Field::Trainee), Some(Field::Date)], &book).is_empty());
    }

    #[test]
    fn every_label_leads_back_to_its_field() {
        let book = book();
        for field in Field::all(&book).into_iter().filter(|field| *field != Field::KeptInNote) {
            let label = field.label(&book);
            let read = guess(&label, &book);
            let stage = matches!(field, Field::StageTime(..));
            assert!(read == Some(field.clone()) || stage || field == Field::Ending, "{label}: {read:?}");
        }
    }
}
