use super::*;
use crate::course_book::example;

#[test]
fn the_example_course_book_has_no_problems() {
    if let Err(problems) = read(&example::files()) {
        let list: Vec<String> = problems.iter().map(Problem::to_string).collect();
        panic!("{}", list.join("\n"));
    }
}
