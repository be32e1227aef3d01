//! The rule that decides a trial on acceptable or not, as an academy picks it.

use std::fmt;

/// A rule that decides a trial.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TrialRule {
    /// The learning chart, with its limit worked out from the trial's figures.
    #[default]
    Learning,
    /// The sequential test, with its bounds worked out from the trial's figures.
    Sequential,
    /// A fixed number of services, decided at the end.
    Fixed {
        /// Number of services.
        services: u32,
        /// Most of them that may be not acceptable.
        failures: u32,
    },
    /// The same, decided as soon as it is certain.
    Curtailed {
        /// Number of services.
        services: u32,
        /// Most of them that may be not acceptable.
        failures: u32,
    },
    /// So many acceptable services in all.
    InAll {
        /// Acceptable services.
        passes: u32,
    },
    /// So many acceptable services in a row.
    InARow {
        /// Acceptable services.
        passes: u32,
    },
    /// At most so many not acceptable of the last so many.
    OfLast {
        /// Services looked at.
        window: u32,
        /// Most of them that may be not acceptable.
        failures: u32,
    },
}

/// Most services that a rule may name.
const MOST: u32 = 200;
/// Longest run of last services that a rule may look at.
const LONGEST_WINDOW: u32 = 20;

impl TrialRule {
    /// Reads a rule as a course book writes it; `None` for what is none.
    pub fn read(text: &str) -> Option<Self> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let number = |word: &str| word.parse::<u32>().ok().filter(|number| (1..=MOST).contains(number));
        let few = |word: &str| word.parse::<u32>().ok().filter(|number| *number < MOST);
        let rule = match words.as_slice() {
            ["learning", "chart"] => TrialRule::Learning,
            ["sequential", "test"] => TrialRule::Sequential,
            [passes, "in", "all"] => TrialRule::InAll { passes: number(passes)? },
            [passes, "in", "a", "row"] => TrialRule::InARow { passes: number(passes)? },
            ["at", "most", failures, "of", "the", "last", window] => {
                let window = number(window).filter(|window| *window <= LONGEST_WINDOW)?;
                TrialRule::OfLast { window, failures: few(failures).filter(|failures| *failures < window)? }
            }
            ["at", "most", failures, "of", services, end @ ..] => {
                let services = number(services)?;
                let failures = few(failures).filter(|failures| *failures < services)?;
                match end {
                    ["at", "the", "end"] => TrialRule::Fixed { services, failures },
                    ["once", "certain"] => TrialRule::Curtailed { services, failures },
                    _ => return None,
                }
            }
            _ => return None,
        };
        Some(rule)
    }
}

impl fmt::Display for TrialRule {
    /// Writes the rule as a course book does.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TrialRule::Learning => write!(f, "learning chart"),
            TrialRule::Sequential => write!(f, "sequential test"),
            TrialRule::Fixed { services, failures } => write!(f, "at most {failures} of {services} at the end"),
            TrialRule::Curtailed { services, failures } => write!(f, "at most {failures} of {services} once certain"),
            TrialRule::InAll { passes } => write!(f, "{passes} in all"),
            TrialRule::InARow { passes } => write!(f, "{passes} in a row"),
            TrialRule::OfLast { window, failures } => write!(f, "at most {failures} of the last {window}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::TrialRule;

    #[test]
    fn a_rule_is_read_as_it_is_written() {
        for rule in [
            TrialRule::Learning,
            TrialRule::Sequential,
            TrialRule::Fixed { services: 12, failures: 0 },
            TrialRule::Curtailed { services: 12, failures: 2 },
            TrialRule::InAll { passes: 3 },
            TrialRule::InARow { passes: 8 },
            TrialRule::OfLast { window: 10, failures: 1 },
        ] {
            assert_eq!(TrialRule::read(&rule.to_string()), Some(rule));
        }
        assert_eq!(TrialRule::read("  8  in a   row "), Some(TrialRule::InARow { passes: 8 }));
    }

    #[test]
    fn what_is_no_rule_is_not_read() {
        for text in [
            "",
            "8",
            "0 in a row",
            "-3 in all",
            "201 in all",
            "99999999999999999999 in a row",
            "at most 5 of 5 at the end",
            "at most 1 of 8",
            "at most 1 of the last 21",
            "at most 9 of the last 8",
            "learning",
        ] {
            assert_eq!(TrialRule::read(text), None, "{text}");
        }
    }
}
