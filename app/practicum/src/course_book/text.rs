//! Reads a course book from its TOML files, or says everything that is wrong with them.
//!
//! The files are walked as tables whose values know their place, not through derived twins: a
//! derived reader stops at the first thing wrong, and an educator deserves the whole list at once.

mod bundle;
mod figures;
mod judging;
mod people;
mod walk;
mod working;

#[cfg(test)]
mod tests;

pub use bundle::{join, split};

use std::collections::BTreeMap;

use super::CourseBook;
use crate::ids::CourseBookId;
use crate::order::{InOrder, map_of};
use walk::File;

/// One thing wrong with a course book's text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// File name.
    pub file: String,
    /// Line, counted from 1.
    pub line: usize,
    /// What is wrong and what to do.
    pub what: String,
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}, line {}: {}", self.file, self.line, self.what)
    }
}

/// The TOML files of a course book, in the order in which they are read and listed.
pub const TOML_FILES: [&str; 14] = [
    "book.toml",
    "stages.toml",
    "rubric.toml",
    "drills.toml",
    "plans.toml",
    "dwell-examples.toml",
    "shields.toml",
    "faults.toml",
    "independence.toml",
    "rules.toml",
    "competencies.toml",
    "screening.toml",
    "safety.toml",
    "regions.toml",
];

/// Largest file taken, in bytes.
const LARGEST_FILE: usize = 256 * 1024;
/// Most files taken.
const MOST_FILES: usize = 60;
/// Longest list of problems given.
const MOST_PROBLEMS: usize = 200;

/// Reads a course book from its files: pairs of file name and text, TOML and Markdown.
///
/// A folder before a file's name is ignored, so that `handouts/aftercare.md` and `aftercare.md` are
/// the same. Every Markdown file but `README.md` is a handout.
///
/// # Errors
/// Returns the list of all problems, each with file, line and what to do. A file that is not valid
/// TOML gives the lines that cannot be read; what its own content or references to it would add is left unsaid until
/// it can be read.
pub fn read(files: &[(&str, &str)]) -> Result<CourseBook, Vec<Problem>> {
    let mut problems = Vec::new();
    let sorted = Sorted::of(files, &mut problems);
    let tables = map_of(TOML_FILES.iter().map(|name| (*name, File::open(name, sorted.toml.get(name).copied()))));
    let blank = File::open("", Some(""));
    let file = |name: &str| tables.get(name).unwrap_or(&blank);

    let stages = working::stages(file("stages.toml"));
    let criteria = judging::criteria(file("rubric.toml"));
    let drills = working::drills(file("drills.toml"), &stages, &criteria);
    let plans = working::plans(file("plans.toml"), &stages);
    let rules = judging::rules(file("rules.toml"));
    let shields = working::shields(file("shields.toml"));
    let independence = judging::independence(file("independence.toml"));
    let competencies = judging::competencies(file("competencies.toml"), &criteria, &rules, shields.list.len());
    let front = people::front(file("book.toml"));
    let screening = people::screening(file("screening.toml"));
    let safety = people::safety(file("safety.toml"));
    let faults = judging::faults(file("faults.toml"));
    let regions = people::regions(file("regions.toml"));
    let dwell_examples = working::dwell_examples(file("dwell-examples.toml"));

    let sources = TOML_FILES.iter().flat_map(|name| file(name).take_sources()).collect();
    for name in TOML_FILES {
        problems.extend(file(name).take_problems());
    }
    if !problems.is_empty() {
        return Err(shortened(problems));
    }
    Ok(CourseBook {
        id: CourseBookId::new(format!("{}, edition {}", front.title, front.edition)),
        title: front.title,
        edition: front.edition,
        stages: stages.list,
        plans,
        dwell_examples,
        shields: shields.list,
        reach_advice: shields.reach_advice,
        criteria: criteria.list,
        drills,
        faults,
        competencies,
        independence,
        rules: rules.rules,
        screening: screening.questions,
        test_rule: screening.test_rule,
        rinse_minutes: safety.rinse_minutes,
        first_response: safety.first_response,
        swelling_steps: safety.swelling_steps,
        first_response_sources: safety.sources,
        aftercare: safety.aftercare,
        cautions: safety.cautions,
        regions,
        pause_reasons: front.pause_reasons,
        consent_version: front.consent_version,
        consent_texts: front.consent_texts,
        photo_consent_texts: front.photo_consent_texts,
        handouts: sorted.handouts,
        sources,
    })
}

/// Reads a course book that is to be adopted: as [`read`], and it must also give every source, and figures that
/// agree with each other.
///
/// A book that was adopted once stays readable, so that [`read`] does not ask for it.
///
/// # Errors
/// As [`read`]; then the sources that are missing, and the figures that do not agree: a shortest run that is not
/// that of the trial, and stage targets that cannot add up to the service target on any timeline, with the
/// shortest service they allow.
pub fn check(files: &[(&str, &str)]) -> Result<CourseBook, Vec<Problem>> {
    let book = read(files)?;
    let sorted = Sorted::of(files, &mut Vec::new());
    let file = |name: &'static str| File::open(name, sorted.toml.get(name).copied());
    let mut problems = Vec::new();
    for name in ["stages.toml", "rubric.toml"] {
        problems.extend(figures::source(&file(name)));
    }
    problems.extend(figures::targets(&book, &file("plans.toml")));
    problems.extend(figures::trial(&book, &file("rules.toml")));
    if problems.is_empty() { Ok(book) } else { Err(problems) }
}

/// The given files, put where they belong.
struct Sorted<'t> {
    toml: BTreeMap<&'static str, &'t str>,
    handouts: Vec<(String, String)>,
}

impl<'t> Sorted<'t> {
    fn of(files: &[(&str, &'t str)], problems: &mut Vec<Problem>) -> Self {
        let mut sorted = Sorted { toml: BTreeMap::new(), handouts: Vec::new() };
        for (path, text) in files.iter().take(MOST_FILES) {
            let name = path.rsplit(['/', '\\']).next().unwrap_or(path).trim();
            let mut say = |what: String| problems.push(Problem { file: (*path).to_owned(), line: 1, what });
            let text = text.trim_start_matches('\u{feff}');
            if text.len() > LARGEST_FILE {
                say(format!(
                    "this file has {} kB and at most {} kB are taken: shorten it or split a handout in two",
                    text.len() / 1024,
                    LARGEST_FILE / 1024
                ));
                // An emptied file would add a list of missing things that are not missing.
                if let Some(known) = TOML_FILES.iter().find(|known| **known == name) {
                    sorted.toml.entry(known).or_insert(walk::UNREADABLE);
                }
            } else if let Some(known) = TOML_FILES.iter().find(|known| **known == name) {
                if sorted.toml.insert(known, text).is_some() {
                    say(format!("there are two files named {name}: keep one"));
                }
            } else if name == "README.md" {
                // For educators, not for the app.
            } else if name.ends_with(".md") {
                if text.trim().is_empty() {
                    say("this handout is empty: write it or leave the file out".to_owned());
                } else if sorted.handouts.iter().any(|(other, _)| other == name) {
                    say(format!("there are two handouts named {name}: rename one"));
                } else {
                    sorted.handouts.push((name.to_owned(), text.to_owned()));
                }
            } else {
                say(format!(
                    "a course book has no file of this name: leave it out, or rename it to one of {}; a handout ends in .md",
                    TOML_FILES.join(", ")
                ));
            }
        }
        if files.len() > MOST_FILES {
            let what = format!("{} files were given and at most {MOST_FILES} are taken: leave some out", files.len());
            problems.push(Problem { file: "course book".to_owned(), line: 1, what });
        }
        sorted.handouts.order_by(Ord::cmp);
        sorted
    }
}

/// Cuts an endless list and says how many more there are.
fn shortened(mut problems: Vec<Problem>) -> Vec<Problem> {
    let more = problems.len().saturating_sub(MOST_PROBLEMS);
    if more > 0 {
        problems.truncate(MOST_PROBLEMS);
        let what = format!("{more} more problems are not listed: put these right first, then read the files in again");
        problems.push(Problem { file: "course book".to_owned(), line: 1, what });
    }
    problems
}
