//! What was answered so far at the end of a run, kept on the disk until the record is saved.

use std::collections::{BTreeMap, BTreeSet};

use practicum::ids::CriterionId;
use practicum::outcome::{FaultSeen, Marked};
use serde::{Deserialize, Serialize};

use crate::json;
use crate::tap_wire::typed;
use crate::wire::{AnswersV1, Twin};

const VERSION: u32 = 1;

/// Answers at the end of a run, as given so far.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Answers {
    /// Marks by criterion.
    pub marks: BTreeMap<CriterionId, Marked>,
    /// Faults seen.
    pub faults: Vec<FaultSeen>,
    /// Comfort, as typed.
    pub comfort: String,
    /// Aftercare was given, if said.
    pub aftercare: Option<bool>,
    /// Note, as typed.
    pub note: String,
    /// Swelling of the face or trouble breathing, if said.
    pub swelling: Option<bool>,
    /// How long the eyes were rinsed, as typed.
    pub rinsed: String,
}

#[derive(Serialize, Deserialize)]
struct Written {
    version: u32,
    answers: AnswersV1,
}

impl Answers {
    /// Writes the answers as text.
    ///
    /// # Errors
    /// Returns why they cannot be written, which no answers give cause for.
    pub fn text(&self) -> Result<String, String> {
        json::canonical(&Written { version: VERSION, answers: Twin::of(self) })
    }

    /// Reads answers.
    ///
    /// # Errors
    /// Returns what is wrong with the text.
    pub fn read(text: &str) -> Result<Self, String> {
        typed::<Written>(text)?.answers.back()
    }

    /// Joins the answers of two tabs that both began from `base`: what `mine` changed holds, else what stands in
    /// `theirs`.
    pub fn joined(base: &Self, mine: &Self, theirs: &Self) -> Self {
        let criteria: BTreeSet<&CriterionId> = mine.marks.keys().chain(theirs.marks.keys()).collect();
        let mark = |id: &CriterionId| newer(&base.marks.get(id), &mine.marks.get(id), &theirs.marks.get(id)).copied();
        let seen: BTreeSet<&FaultSeen> = mine.faults.iter().chain(&theirs.faults).collect();
        let has = |answers: &Self, fault: &FaultSeen| answers.faults.contains(fault);
        let stays = |fault: &&FaultSeen| newer(&has(base, fault), &has(mine, fault), &has(theirs, fault));
        Self {
            marks: criteria.into_iter().filter_map(|id| Some((id.clone(), mark(id)?))).collect(),
            faults: seen.into_iter().filter(stays).cloned().collect(),
            comfort: newer(&base.comfort, &mine.comfort, &theirs.comfort),
            aftercare: newer(&base.aftercare, &mine.aftercare, &theirs.aftercare),
            note: newer(&base.note, &mine.note, &theirs.note),
            swelling: newer(&base.swelling, &mine.swelling, &theirs.swelling),
            rinsed: newer(&base.rinsed, &mine.rinsed, &theirs.rinsed),
        }
    }
}

/// Returns mine where it differs from what both began with, else theirs.
fn newer<T: Clone + PartialEq>(base: &T, mine: &T, theirs: &T) -> T {
    if mine == base { theirs.clone() } else { mine.clone() }
}

#[cfg(test)]
mod tests {
    use practicum::course_book::Mark;
    use practicum::eye::Eye;
    use practicum::outcome::{FaultSeen, Marked};

    use super::Answers;

    fn fault(name: &str, eye: Eye) -> FaultSeen {
        FaultSeen { fault: name.into(), eye, section: None }
    }

    fn some() -> Answers {
        Answers {
            marks: [("curl".into(), Marked::Level(Mark::Meets)), ("tint".into(), Marked::NotApplicable)].into(),
            faults: vec![fault("crossed", Eye::Left), fault("hooked", Eye::Right)],
            comfort: "said “it's <b>fine</b>”\n😀".to_owned(),
            aftercare: Some(false),
            note: "نص".repeat(2_000),
            swelling: Some(true),
            rinsed: "15:0".to_owned(),
        }
    }

    #[test]
    fn answers_come_back_from_their_text() {
        for answers in [some(), Answers::default()] {
            assert_eq!(Answers::read(&answers.text().unwrap()), Ok(answers));
        }
    }

    #[test]
    fn answers_of_a_later_form_are_not_guessed_at() {
        let later = some().text().unwrap().replace("\"version\":1", "\"version\":2");
        assert!(Answers::read(&later).is_err_and(|why| why.contains("later version")));
        assert!(Answers::read("{").is_err());
    }

    #[test]
    fn two_tabs_lose_none_of_their_answers() {
        let base = some();
        let mut mine = base.clone();
        mine.marks.insert("symmetry".into(), Marked::Level(Mark::Strong));
        mine.faults.retain(|seen| seen.eye == Eye::Right);
        mine.comfort = "mine".to_owned();
        let mut theirs = base.clone();
        theirs.marks.insert("curl".into(), Marked::Level(Mark::Nearly));
        theirs.faults.push(fault("flat", Eye::Left));
        theirs.note = "theirs".to_owned();
        let joined = Answers::joined(&base, &mine, &theirs);
        assert_eq!(joined.marks.len(), 3);
        assert_eq!(joined.marks.get(&"curl".into()), Some(&Marked::Level(Mark::Nearly)));
        assert_eq!(joined.faults, [fault("flat", Eye::Left), fault("hooked", Eye::Right)]);
        assert_eq!((joined.comfort.as_str(), joined.note.as_str()), ("mine", "theirs"));
        assert_eq!(Answers::joined(&base, &base, &theirs).marks, theirs.marks);
    }
}
