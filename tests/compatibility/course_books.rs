//! Course books as released versions gave them out, and as academies adopted them.

use practicum::course_book::text::{check, read, split};

const BOOK: &str = include_str!("data/course-book-v1.txt");

#[test]
fn the_first_example_book_is_still_read_and_a_new_adoption_asks_for_its_sources() {
    let files = split(BOOK).expect("a course book");
    let files: Vec<(&str, &str)> = files.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    let book = read(&files).expect("a book that was adopted once stays readable");
    assert_eq!(book.id.as_str(), "Lash lift course, example book, edition 1");
    let problems = check(&files).expect_err("it gives no source for its stages and its rubric");
    let places: Vec<(&str, bool)> =
        problems.iter().map(|problem| (problem.file.as_str(), problem.what.contains("“source” is missing"))).collect();
    assert_eq!(places, [("stages.toml", true), ("rubric.toml", true)]);
}
