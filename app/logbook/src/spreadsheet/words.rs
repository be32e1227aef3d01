//! Sections, shields, tint, lash condition and ending as people write them.

use practicum::couch::{Stop, Tint};
use practicum::course_book::{CourseBook, LashCondition};
use practicum::eye::PerEye;
use practicum::ids::ShieldId;
use practicum::section::Sections;
use practicum::service::Ending;

use crate::spreadsheet::fold::{fold, is_blank, single_spaced};

/// Reads sections of both eyes: `4`, `quarters`, `1/4`, `4/3` (left/right), `L4 R3`.
///
/// # Errors
/// Returns a sentence when the cell names no number of sections.
pub fn sections_of_both(cell: &str) -> Result<PerEye<Option<Sections>>, String> {
    if is_blank(cell) {
        return Ok(PerEye::default());
    }
    let text = fold(cell);
    // A quarter is a plan, not one section left and four right.
    let fraction = match text.as_str() {
        "1/4" => Some(Sections::QUARTERS),
        "1/3" => Some(Sections::THIRDS),
        "1/2" => Some(Sections::HALVES),
        _ => None,
    };
    if let Some(sections) = fraction {
        return Ok(PerEye { left: Some(sections), right: Some(sections) });
    }
    pair(&text, |part| sections(part).ok_or_else(not_sections))
}

/// Reads the sections of one eye.
///
/// # Errors
/// Returns a sentence when the cell names no number of sections.
pub fn sections_of_one(cell: &str) -> Result<Option<Sections>, String> {
    if is_blank(cell) { Ok(None) } else { sections(&fold(cell)).map(Some).ok_or_else(not_sections) }
}

fn not_sections() -> String {
    "not a section plan: write 1 to 8, or quarters, thirds, halves, whole".to_owned()
}

fn sections(text: &str) -> Option<Sections> {
    let word = text.split(' ').next().unwrap_or("");
    if word.contains('/') && !matches!(word, "1/4" | "1/3" | "1/2") {
        return None;
    }
    if let Ok(number) = word.parse::<u8>() {
        let rest = single_spaced(text.get(word.len()..).unwrap_or(""));
        let known = matches!(rest.as_str(), "" | "section" | "sections" | "per eye" | "sections per eye" | "each");
        return known.then(|| Sections::new(number)).flatten();
    }
    let starts = |words: &[&str]| words.iter().any(|start| word.starts_with(start));
    if starts(&["quarter", "four"]) || word == "1/4" {
        Some(Sections::QUARTERS)
    } else if starts(&["third", "three"]) || word == "1/3" {
        Some(Sections::THIRDS)
    } else if starts(&["half", "halves", "two"]) || word == "1/2" {
        Some(Sections::HALVES)
    } else if starts(&["whole", "full", "one"]) {
        Some(Sections::WHOLE)
    } else {
        None
    }
}

/// Reads one value for both eyes, or `left/right`, or `L .. R ..`.
fn pair<T: Clone>(text: &str, read: impl Fn(&str) -> Result<T, String>) -> Result<PerEye<Option<T>>, String> {
    let both = |value: T| PerEye { left: Some(value.clone()), right: Some(value) };
    let whole = read(text);
    if whole.is_ok() {
        return whole.map(both);
    }
    let lettered = text.strip_prefix('l').and_then(|rest| rest.split_once('r'));
    let (left, right) = match (text.split_once(['/', '|']), lettered) {
        (Some(parts), _) => parts,
        (None, Some(parts)) => parts,
        (None, None) => return whole.map(both),
    };
    let clean = |part: &str| {
        let part = part.trim_matches(|letter: char| letter.is_whitespace() || matches!(letter, ':' | '=' | ',' | ';'));
        let part = part.strip_prefix("l ").or_else(|| part.strip_prefix("r ")).unwrap_or(part);
        part.trim().to_owned()
    };
    Ok(PerEye { left: Some(read(&clean(left))?), right: Some(read(&clean(right))?) })
}

/// Reads shield sizes of both eyes: one size, or `M/L` (left/right).
///
/// # Errors
/// Returns a sentence that names the course book's sizes when the cell names none of them.
pub fn shields_of_both(cell: &str, book: &CourseBook) -> Result<PerEye<Option<ShieldId>>, String> {
    if is_blank(cell) { Ok(PerEye::default()) } else { pair(&fold(cell), |part| shield(part, book)) }
}

/// Reads the shield size of one eye.
///
/// # Errors
/// Returns a sentence that names the course book's sizes when the cell names none of them.
pub fn shield_of_one(cell: &str, book: &CourseBook) -> Result<Option<ShieldId>, String> {
    if is_blank(cell) { Ok(None) } else { shield(&fold(cell), book).map(Some) }
}

fn shield(text: &str, book: &CourseBook) -> Result<ShieldId, String> {
    let long = match text {
        "extra small" | "x-small" => "xs",
        "small" => "s",
        "medium" => "m",
        "large" => "l",
        "extra large" | "x-large" => "xl",
        other => other,
    };
    let fits = |wanted: &str| {
        book.shields.iter().find(|shield| fold(shield.id.as_str()) == wanted || fold(&shield.label) == wanted)
    };
    fits(text).or_else(|| fits(long)).map(|shield| shield.id.clone()).ok_or_else(|| {
        let labels: Vec<&str> = book.shields.iter().map(|shield| shield.label.as_str()).collect();
        format!("not a shield size of the course book: {}", labels.join(", "))
    })
}

/// Reads the tint: `yes` means a tint stage of its own, `mixed` a tint in the setting lotion.
///
/// # Errors
/// Returns a sentence when the cell says neither.
pub fn tint(cell: &str) -> Result<Tint, String> {
    let text = fold(cell);
    match text.as_str() {
        _ if is_blank(cell) => Ok(Tint::None),
        "no" | "n" | "none" | "without" | "no tint" | "without tint" | "0" | "false" => Ok(Tint::None),
        "yes" | "y" | "x" | "own" | "with" | "with tint" | "tint" | "1" | "true" | "✓" | "✔" => Ok(Tint::Own),
        "own stage" | "a stage of its own" | "after setting" => Ok(Tint::Own),
        "mixed" | "mixed in" | "in setting lotion" | "mixed into the setting lotion" => Ok(Tint::Mixed),
        _ => Err("cannot tell whether there was tint: write yes, no or mixed".to_owned()),
    }
}

/// Reads the lash condition of both eyes: `weak`, `average`, `strong`, or `weak/average` (left/right).
///
/// # Errors
/// Returns a sentence when the cell names none.
pub fn condition(cell: &str) -> Result<PerEye<Option<LashCondition>>, String> {
    if is_blank(cell) {
        return Ok(PerEye::default());
    }
    pair(&fold(cell), |part| match part {
        "weak" | "fine" | "fragile" | "sparse" | "thin" => Ok(LashCondition::Weak),
        "average" | "avg" | "normal" | "medium" | "healthy" => Ok(LashCondition::Average),
        "strong" | "coarse" | "resistant" | "thick" => Ok(LashCondition::Strong),
        _ => Err("not a lash condition: write weak, average or strong".to_owned()),
    })
}

/// Reads how the service ended; an empty cell means that it was finished.
///
/// # Errors
/// Returns a sentence when the cell says neither finished nor stopped.
pub fn ending(cell: &str) -> Result<Ending, String> {
    let text = fold(cell);
    let finished = ["finished", "finish", "done", "complete", "completed", "ok", "yes", "y", "full"];
    if is_blank(cell) || finished.contains(&text.as_str()) {
        return Ok(Ending::Finished);
    }
    let stopped =
        ["stop", "aband", "abort", "cancel", "interrupt", "not finished", "unfinished", "incomplete", "reaction"];
    if !stopped.iter().any(|start| text.starts_with(start)) {
        return Err("cannot tell whether the service was finished: write finished or stopped".to_owned());
    }
    let why = single_spaced(cell.split_once(':').map_or(cell, |(_, why)| why));
    Ok(Ending::Stopped(if text.contains("reaction") {
        Stop::Reaction
    } else if text.contains("before lotion") {
        Stop::BeforeLotion(why)
    } else if text.contains("for a fault") {
        Stop::Fault(why)
    } else {
        Stop::Other(why)
    }))
}

/// Writes an ending so that [`ending`] reads it back.
pub fn write_ending(ending: &Ending) -> String {
    match ending {
        Ending::Finished => "finished".to_owned(),
        Ending::Stopped(Stop::Reaction) => "stopped, reaction".to_owned(),
        Ending::Stopped(Stop::BeforeLotion(why)) => format!("stopped before lotion: {why}"),
        Ending::Stopped(Stop::Fault(why)) => format!("stopped for a fault: {why}"),
        Ending::Stopped(Stop::Other(why)) => format!("stopped: {why}"),
    }
}

/// Writes a tint so that [`tint`] reads it back.
pub fn write_tint(tint: Tint) -> &'static str {
    match tint {
        Tint::None => "no",
        Tint::Own => "yes",
        Tint::Mixed => "mixed",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(cell: &str) -> (Option<u8>, Option<u8>) {
        let read = sections_of_both(cell).unwrap();
        (read.left.map(Sections::number), read.right.map(Sections::number))
    }

    #[test]
    fn sections_in_words_numbers_fractions_and_pairs() {
        for (cell, left, right) in [
            ("4", 4, 4),
            ("Quarters", 4, 4),
            ("1/4", 4, 4),
            ("4/3", 4, 3),
            ("L4 R3", 4, 3),
            ("l: 2, r: 2", 2, 2),
            ("whole lash line", 1, 1),
            ("1/1", 1, 1),
            ("halves/thirds", 2, 3),
            ("8 sections", 8, 8),
            ("half", 2, 2),
        ] {
            assert_eq!(numbers(cell), (Some(left), Some(right)), "{cell}");
        }
        assert_eq!(numbers(" "), (None, None));
        for cell in ["9", "0", "many", "4/9", "4 eyes"] {
            assert!(sections_of_both(cell).is_err(), "{cell}");
        }
    }

    #[test]
    fn shields_of_the_course_book_and_no_other() {
        let book = crate::spreadsheet::example_book();
        let read = shields_of_both("M / l", &book).unwrap();
        assert_eq!((read.left, read.right), (Some("m".into()), Some("l".into())));
        assert_eq!(shield_of_one("Extra large", &book), Ok(Some("xl".into())));
        assert!(shield_of_one("7", &book).unwrap_err().contains("XS, S, M"));
    }

    #[test]
    fn endings_are_read_back_as_written() {
        for end in [
            Ending::Finished,
            Ending::Stopped(Stop::Reaction),
            Ending::Stopped(Stop::BeforeLotion("test missing".into())),
            Ending::Stopped(Stop::Fault("shield slid".into())),
            Ending::Stopped(Stop::Other("fire drill".into())),
        ] {
            assert_eq!(ending(&write_ending(&end)), Ok(end));
        }
        assert!(ending("blue").is_err());
    }

    #[test]
    fn tint_is_read_back_as_written() {
        for choice in [Tint::None, Tint::Own, Tint::Mixed] {
            assert_eq!(tint(write_tint(choice)), Ok(choice));
        }
        assert!(tint("maybe").is_err());
    }
}
