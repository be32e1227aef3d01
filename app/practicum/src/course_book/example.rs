//! The example course book of this repository, embedded when the crate is compiled.

macro_rules! content {
    ($($name:literal),* $(,)?) => {
        vec![$(($name, include_str!(concat!("../../../../course-content/", $name)))),*]
    };
}

/// Returns the files of the example course book: pairs of name and text, the README first.
pub fn files() -> Vec<(&'static str, &'static str)> {
    content![
        "README.md",
        "book.toml",
        "stages.toml",
        "plans.toml",
        "dwell-examples.toml",
        "shields.toml",
        "rubric.toml",
        "drills.toml",
        "faults.toml",
        "competencies.toml",
        "independence.toml",
        "rules.toml",
        "screening.toml",
        "safety.toml",
        "regions.toml",
        "handouts/aftercare.md",
        "handouts/dwell-window.md",
        "handouts/first-response.md",
        "handouts/ladder.md",
    ]
}
