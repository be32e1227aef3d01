//! Claims about broken books: what is said, in which file and in which line.

use proptest::prelude::*;

use super::*;
use crate::course_book::{TrialRule, example};
use crate::section::Plan;

/// The example book with one file changed.
fn edited(name: &str, from: &str, to: &str) -> Vec<(String, String)> {
    let mut files: Vec<(String, String)> =
        example::files().into_iter().map(|(name, text)| (name.to_owned(), text.to_owned())).collect();
    let (_, text) = files.iter_mut().find(|(file, _)| file == name).expect("the file is in the example");
    assert!(text.contains(from), "{name} does not hold {from:?}");
    *text = text.replacen(from, to, 1);
    files
}

fn read_owned(files: &[(String, String)]) -> Result<CourseBook, Vec<Problem>> {
    let files: Vec<(&str, &str)> = files.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    read(&files)
}

fn listed(problems: &[Problem]) -> String {
    problems.iter().map(|problem| format!("{problem}\n")).collect()
}

/// An edit, the text of the line that a problem must point at, and words it must say.
struct Edit {
    /// No other problem may be named.
    alone: bool,
    file: &'static str,
    from: &'static str,
    to: &'static str,
    line: &'static str,
    words: &'static [&'static str],
}

fn check(edit: &Edit) {
    let files = edited(edit.file, edit.from, edit.to);
    let problems = read_owned(&files).expect_err(edit.to);
    let text = &files.iter().find(|(name, _)| name == edit.file).expect("edited file").1;
    let meant = |problem: &&Problem| {
        let line = text.lines().nth(problem.line - 1).unwrap_or_default();
        problem.file == edit.file
            && line.contains(edit.line)
            && edit.words.iter().all(|word| problem.what.contains(word))
    };
    let found = problems.iter().filter(meant).count();
    assert_eq!(
        found,
        1,
        "{:?} should be said at the line {:?}, but the list is\n{}",
        edit.words,
        edit.line,
        listed(&problems)
    );
    assert!(!edit.alone || problems.len() == 1, "only one should be listed:\n{}", listed(&problems));
}

macro_rules! broken_books {
    ($alone:literal; $($claim:ident: $file:literal, $from:literal => $to:literal, at $line:literal, says $($words:literal)+;)*) => {$(
        #[test]
        fn $claim() {
            check(&Edit { alone: $alone, file: $file, from: $from, to: $to, line: $line, words: &[$($words),+] });
        }
    )*};
}

broken_books! {
    true;
    an_unclosed_quote_is_found:
        "shields.toml", "label = \"XS\"" => "label = \"XS", at "label = \"XS", says "cannot be read" "quote";
    a_misspelt_name_is_guessed:
        "rules.toml", "after_low = 2" => "after_low = 2\nafter_brech = true", at "after_brech", says "after_brech" "did you mean “after_breach”";
    a_foreign_name_is_refused:
        "shields.toml", "label = \"XS\"" => "label = \"XS\"\ncolour = \"blue\"", at "colour", says "colour" "delete it";
    a_missing_name_is_asked_for:
        "faults.toml", "coaching = \"Let the tips" => "# coaching = \"Let the tips", at "[[fault]]", says "hooked" "“coaching” is missing" "coaching = ";
    a_text_for_a_number_is_refused:
        "rules.toml", "after_low = 2" => "after_low = \"2\"", at "after_low", says "whole number" "after_low = 1";
    a_number_for_a_text_is_refused:
        "book.toml", "edition = \"2\"" => "edition = 1", at "edition = 1", says "text in quotes";
    a_word_for_yes_or_no_is_refused:
        "stages.toml", "per_eye = false" => "per_eye = \"no\"", at "per_eye = \"no\"", says "true or false" "consultation";
    an_empty_text_is_refused:
        "screening.toml", "advice = \"Do not treat today.\"" => "advice = \"  \"", at "advice = \"  \"", says "empty";
    a_hidden_character_is_refused:
        "book.toml", "title = \"Lash" => "title = \"\\u0007Lash", at "title", says "hidden control character";
    a_percentage_above_100_is_refused:
        "rules.toml", "pause_percent = 10" => "pause_percent = 110", at "pause_percent", says "from 0 to 100";
    a_negative_number_is_refused:
        "rules.toml", "pause_percent = 10" => "pause_percent = -1", at "pause_percent", says "is -1" "from 0 to 100";
    a_share_that_is_not_a_number_is_refused:
        "rules.toml", "unassessed_share = 0.20" => "unassessed_share = nan", at "unassessed_share", says "from 0 to 1";
    failure_rates_the_wrong_way_round_are_refused:
        "rules.toml", "acceptable = 0.05" => "acceptable = 0.45", at "acceptable = 0.45", says "below the unacceptable";
    a_chance_of_nought_is_refused:
        "rules.toml", "alpha = 0.10" => "alpha = 0.0", at "alpha", says "above 0";
    a_run_longer_than_the_trial_is_refused:
        "rules.toml", "horizon = 20" => "horizon = 7", at "shortest_run", says "above “horizon”";
    widening_on_no_service_is_refused:
        "rules.toml", "[widening]\nlast = 3" => "[widening]\nlast = 0", at "last = 0", says "from 1 to";
    gaps_out_of_order_are_refused:
        "rules.toml", "supervised_days = 91" => "supervised_days = 50", at "supervised_days", says "more days than “refresher_days”";
    a_coaching_pair_the_wrong_way_round_is_refused:
        "rules.toml", "short = [2, 3]" => "short = [3, 2]", at "short", says "pair";
    an_override_that_may_never_be_is_refused:
        "rules.toml", "[\"test-interval-academy\"]" => "[\"no-consent\"]", at "overridable", says "no-consent" "cannot be overridden";
    a_target_on_the_wrong_measure_is_refused:
        "plans.toml", "counts = \"both eyes\", on = \"hands-on\"" => "counts = \"both eyes\", on = \"service time\"", at "consultation", says "hands-on";
    a_word_that_is_no_choice_is_refused:
        "plans.toml", "counts = \"each eye\"" => "counts = \"an eye\"", at "an eye", says "each eye" "both eyes";
    a_duration_of_75_seconds_is_refused:
        "plans.toml", "time = \"15:00\"" => "time = \"14:75\"", at "14:75", says "minutes and seconds";
    targets_above_the_service_target_are_refused:
        "plans.toml", "time = \"90:00\"" => "time = \"40:00\"", at "40:00", says "add up to 73:00";
    a_hands_on_stage_without_target_is_refused:
        "plans.toml", "  { stage = \"cleanse\", time = \"5:00\", counts = \"both eyes\", on = \"hands-on\" },\n" => "", at "targets = [", says "Cleanse and dry" "stage = \"cleanse\"";
    nine_sections_are_refused:
        "plans.toml", "[4, 5, 6, 7, 8]" => "[4, 5, 6, 7, 9]", at "allowed", says "9" "from 1 to 8";
    sections_of_another_plan_are_refused:
        "plans.toml", "allowed = [2]" => "allowed = [2, 3]", at "allowed = [2, 3]", says "another plan" "thirds";
    a_plan_named_twice_is_refused:
        "plans.toml", "label = \"Quarters\"" => "label = \"Quarters\"\nlable = \"x\"", at "lable", says "did you mean “label”";
    an_id_used_twice_is_refused:
        "shields.toml", "id = \"s\"" => "id = \"xs\"", at "id = \"xs\"", says "already used in line";
    an_id_with_a_blank_is_refused:
        "shields.toml", "id = \"s\"" => "id = \"s size\"", at "s size", says "small letters";
    a_dwell_outside_its_window_is_refused:
        "dwell-examples.toml", "planned = \"6:00\"" => "planned = \"9:00\"", at "planned = \"9:00\"", says "between minimum and maximum";
    a_figure_without_source_is_refused:
        "dwell-examples.toml", "source = \"common practice, no source\"\n" => "", at "[[example]]", says "“source” is missing";
    a_second_criterion_on_clocks_is_refused:
        "rubric.toml", "without_tint = false\nwatches_clocks = false" => "without_tint = false\nwatches_clocks = true", at "watches_clocks = true", says "exactly one";
    a_drill_with_an_unknown_criterion_is_refused:
        "drills.toml", "\"direction\", \"finish\"" => "\"directions\", \"finish\"", at "directions", says "no criterion" "did you mean “direction”";
    a_drill_with_a_criterion_for_services_is_refused:
        "drills.toml", "\"direction\", \"finish\"" => "\"curl\", \"finish\"", at "curl", says "does not apply to drills";
    a_drill_stage_with_an_id_of_the_service_is_refused:
        "drills.toml", "id = \"drill-check\"" => "id = \"check\"", at "id = \"check\"", says "stages.toml" "drill-check";
    a_level_left_out_is_asked_for:
        "independence.toml", "[[level]]\nlevel = 3\nlabel = \"Instructor in the room\"\n" => "", at "[[level]]", says "level 3 is missing";
    a_count_below_the_shortest_run_is_refused:
        "competencies.toml", "whole = 8" => "whole = 7", at "whole = 7", says "7 services" "shortest run" "8";
    a_count_above_the_live_services_is_refused:
        "competencies.toml", "acceptable = 12" => "acceptable = 16", at "acceptable", says "raise “live”";
    drills_where_simulation_is_refused_are_refused:
        "competencies.toml", "heads = 3" => "heads = 3\nreal_environment = true", at "heads = 3", says "refuses drills" "take one of the two out";
    more_observed_days_than_observed_services_are_refused:
        "competencies.toml", "observed = 3" => "observed = 3\nobserved_days = 4", at "observed_days = 4", says "raise “observed”";
    a_real_environment_that_is_no_yes_or_no_is_refused:
        "competencies.toml", "observed = 3" => "observed = 3\nreal_environment = 1", at "real_environment = 1", says "true or false";
    a_short_rinse_is_refused:
        "safety.toml", "rinse_minutes = 15" => "rinse_minutes = 5", at "rinse_minutes", says "from 15 to 60";
    an_academy_interval_below_the_insurers_is_refused:
        "screening.toml", "academy_hours = 48" => "academy_hours = 12", at "academy_hours", says "insurer";
    an_emergency_number_in_words_is_refused:
        "regions.toml", "emergency_number = \"999\"" => "emergency_number = \"nine\"", at "nine", says "digits only";
}

// Edits that make more than one thing wrong.
broken_books! {
    false;
    a_dwell_for_both_eyes_is_refused:
        "stages.toml", "product = \"lift\"\nper_eye = true" => "product = \"lift\"\nper_eye = false", at "per_eye = false", says "stage “lift”" "each eye";
    a_missing_descriptor_is_asked_for:
        "rubric.toml", "nearly = \"A difference" => "near = \"A difference", at "[[criterion]]", says "“nearly” is missing";
    a_part_that_is_missing_is_named:
        "rules.toml", "[dwell]\n" => "[dwelling]\n", at "[dwelling]", says "“dwelling” is not known here";
    a_product_without_first_response_is_refused:
        "safety.toml", "product = \"adhesive\"" => "product = \"tint\"", at "product = \"tint\"", says "keep one list";
    a_target_of_an_unknown_stage_is_refused:
        "plans.toml", "stage = \"finish\"" => "stage = \"finnish\"", at "finnish", says "no stage has this id" "did you mean “finish”";
    lotion_before_any_check_is_refused:
        "stages.toml", "work = \"check\"" => "work = \"hands-on\"", at "work = \"dwell\"", says "no instructor check";
}

#[test]
fn the_example_course_book_has_no_problems() {
    if let Err(problems) = read(&example::files()) {
        panic!("{}", listed(&problems));
    }
}

#[test]
fn problems_of_all_files_stand_in_one_list() {
    let mut files = edited("rules.toml", "pause_percent = 10", "pause_percent = 110");
    for (name, from, to) in [
        ("rules.toml", "after_low = 2", "after_low = \"two\""),
        ("rules.toml", "horizon = 20", "horizon = 0"),
        ("faults.toml", "safety = false", "safety = no"),
        ("shields.toml", "id = \"s\"", "id = \"xs\""),
        ("book.toml", "title = ", "titel = "),
    ] {
        let (_, text) = files.iter_mut().find(|(file, _)| file == name).expect("in the example");
        *text = text.replacen(from, to, 1);
    }
    files.retain(|(name, _)| name != "regions.toml");
    let problems = read_owned(&files).expect_err("seven things are wrong");
    let list = listed(&problems);
    for expected in [
        "rules.toml, line 41: time: “pause_percent” is 110",
        "“after_low” holds a text in quotes",
        "“horizon” is 0",
        "faults.toml, line ",
        "the id “xs” is already used",
        "“titel” is not known here: did you mean “title”?",
        "“title” is missing",
        "regions.toml, line 1: the file regions.toml is missing",
    ] {
        assert!(list.contains(expected), "{expected:?} is not in\n{list}");
    }
    assert_eq!(problems.iter().filter(|problem| problem.file == "faults.toml").count(), 1, "{list}");
}

#[test]
fn an_unreadable_file_does_not_set_off_problems_in_others() {
    for name in TOML_FILES {
        let mut files = edited("book.toml", "", "");
        let (_, text) = files.iter_mut().find(|(file, _)| file == name).expect("in the example");
        text.insert_str(0, "= broken\n");
        let problems = read_owned(&files).expect_err("broken");
        assert_eq!(problems.len(), 1, "{}", listed(&problems));
        assert_eq!((problems[0].file.as_str(), problems[0].line), (name, 1));
    }
}

#[test]
fn two_unreadable_lines_of_a_file_are_both_named() {
    let mut files = edited("shields.toml", "label = \"XS\"", "label = \"XS");
    let (_, text) = files.iter_mut().find(|(file, _)| file == "shields.toml").expect("in the example");
    *text = text.replacen("id = \"l\"", "id \"l\"", 1);
    let expected: Vec<usize> = text
        .lines()
        .enumerate()
        .filter(|(_, line)| ["label = \"XS", "id \"l\""].contains(line))
        .map(|(at, _)| at + 1)
        .collect();
    let lines: Vec<usize> = read_owned(&files).expect_err("two slips").iter().map(|problem| problem.line).collect();
    assert_eq!(lines, expected);
}

#[test]
fn each_missing_file_is_the_only_problem() {
    for name in TOML_FILES {
        let files: Vec<_> = example::files().into_iter().filter(|(file, _)| *file != name).collect();
        let problems = read(&files).expect_err("missing");
        assert_eq!(problems.len(), 1, "{}", listed(&problems));
        assert!(problems[0].what.contains("is missing"), "{}", problems[0]);
    }
}

#[test]
fn nothing_at_all_lists_every_file() {
    assert_eq!(read(&[]).expect_err("empty").len(), TOML_FILES.len());
}

#[test]
fn folders_line_ends_and_a_byte_order_mark_do_not_matter() {
    let plain = read(&example::files()).expect("sound");
    let files: Vec<(String, String)> = example::files()
        .into_iter()
        .map(|(name, text)| (format!("my book/{name}"), format!("\u{feff}{}", text.replace('\n', "\r\n"))))
        .collect();
    let read_again = read_owned(&files).expect("sound");
    assert_eq!((plain.plans, plain.criteria, plain.rules), (read_again.plans, read_again.criteria, read_again.rules));
}

#[test]
fn strange_files_get_a_sentence() {
    let deep = format!("{}1{}", "[".repeat(50_000), "]".repeat(50_000));
    let dotted = format!("[{}a]\n", "a.".repeat(20_000));
    let tables = format!("pause_reasons = {}{}", "{ a = ".repeat(30_000), "1");
    let huge = "#".repeat(LARGEST_FILE + 1);
    let many = "[[shield]]\n".repeat(20_000);
    for (name, text, words) in [
        ("book.toml", format!("title = {deep}"), "cannot be read"),
        ("book.toml", dotted, "cannot be read"),
        ("book.toml", tables, "cannot be read"),
        ("book.toml", huge, "kB"),
        ("book.toml", "\0\0\0PNG".to_owned(), "cannot be read"),
        ("shields.toml", many, "at most 300"),
        ("stages.toml", "stage = 3".to_owned(), "several parts"),
        ("stages.toml", "stage = [1, [2]]".to_owned(), "several parts"),
        ("rules.toml", "trial = 99999999999999999999999".to_owned(), "part of its own"),
    ] {
        let files: Vec<(&str, &str)> = example::files()
            .into_iter()
            .map(|(file, old)| (file, if file == name { text.as_str() } else { old }))
            .collect();
        let list = listed(&read(&files).expect_err("strange"));
        assert!(list.contains(words), "{words:?} is not in\n{}", list.chars().take(2_000).collect::<String>());
    }
}

#[test]
fn files_that_do_not_belong_are_named() {
    let mut files = example::files();
    files.extend([
        ("photo.png", "x"),
        ("handouts/empty.md", " \n"),
        ("other/ladder.md", "# Again"),
        ("old/rules.toml", "x = 1"),
    ]);
    let list = listed(&read(&files).expect_err("four files too many"));
    for expected in [
        "photo.png, line 1: a course book has no file",
        "handouts/empty.md, line 1: this handout is empty",
        "other/ladder.md, line 1: there are two handouts",
        "old/rules.toml, line 1: there are two files",
    ] {
        assert!(list.contains(expected), "{expected:?} is not in\n{list}");
    }
}

#[test]
fn an_endless_list_is_cut_and_counted() {
    let many = "[[shield]]\nid = \"x\"\n".repeat(290);
    let files: Vec<(&str, &str)> = example::files()
        .into_iter()
        .map(|(file, old)| (file, if file == "shields.toml" { many.as_str() } else { old }))
        .collect();
    let problems = read(&files).expect_err("hundreds");
    assert_eq!(problems.len(), MOST_PROBLEMS + 1);
    assert!(problems[MOST_PROBLEMS].what.contains("more problems are not listed"));
}

#[test]
fn a_joined_book_splits_into_the_same_book() {
    let joined = join(&example::files());
    let files = split(&joined).expect("it was joined");
    assert_eq!(join(&files), joined);
    assert_eq!(read_owned(&files), read(&example::files()));
}

#[test]
fn an_edit_in_the_joined_text_is_found_within_its_file() {
    let joined = join(&example::files()).replacen("pause_percent = 10", "pause_percent = 110", 1);
    let problems = read_owned(&split(&joined).expect("still split")).expect_err("110 percent");
    let alone = edited("rules.toml", "pause_percent = 10", "pause_percent = 110");
    assert_eq!(problems, read_owned(&alone).expect_err("110 percent"));
}

#[test]
fn a_text_that_is_no_book_is_refused_with_its_line() {
    for (text, line, words) in [
        ("", 1, "empty"),
        ("\n\nhello\n# file: book.toml\n", 3, "not a course book"),
        ("# file: a.toml\n# file:\n", 2, "followed by the file's name"),
        ("# file: a.toml\nx = 1\n# file: a.toml\n", 3, "second time"),
    ] {
        let problems = split(text).expect_err(text);
        assert_eq!(problems.len(), 1, "{}", listed(&problems));
        assert_eq!(problems[0].line, line, "{}", problems[0]);
        assert!(problems[0].what.contains(words), "{}", problems[0]);
    }
}

#[test]
fn plans_are_sorted_from_the_beginners_whatever_their_order() {
    let book = read(&example::files()).expect("sound");
    assert_eq!(book.plans.iter().map(|plan| plan.plan).collect::<Vec<_>>(), Plan::ALL);
}

/// Pieces that break TOML in many ways.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        Just("\"".to_owned()),
        Just("[[".to_owned()),
        Just("]".to_owned()),
        Just(" = -9e999\n".to_owned()),
        Just("\"\"\"".to_owned()),
        Just("a.b.c = {".to_owned()),
        Just("\u{0}".to_owned()),
        Just("1979-05-27T07:32:00Z".to_owned()),
        "\\PC{0,12}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn no_edit_of_any_file_brings_it_down(
        file in 0usize..19,
        at in 0.0f64..1.0,
        gone in 0usize..60,
        piece in piece(),
    ) {
        let mut files = edited("book.toml", "", "");
        let (name, text) = &mut files[file];
        let chars: Vec<char> = text.chars().collect();
        let at = (at * chars.len() as f64) as usize;
        let rest = (at + gone).min(chars.len());
        let name = name.clone();
        *text = chars[..at].iter().collect::<String>() + &piece + &chars[rest..].iter().collect::<String>();
        let n_lines = text.matches('\n').count() + 1;
        if let Err(problems) = read_owned(&files) {
            prop_assert!(!problems.is_empty());
            for problem in problems.iter().filter(|problem| problem.file == name) {
                prop_assert!((1..=n_lines).contains(&problem.line), "{}", problem);
            }
        }
    }

    #[test]
    fn what_was_joined_comes_back(contents in proptest::collection::vec("(\\PC{0,20}\n){0,5}", 0..5)) {
        let files: Vec<(String, String)> =
            contents.into_iter().enumerate().map(|(at, text)| (format!("{at}.toml"), text)).collect();
        let joined = join(&files);
        if files.is_empty() {
            prop_assert!(split(&joined).is_err());
        } else {
            let again = split(&joined).expect("joined");
            prop_assert_eq!(join(&again), joined);
            if files.iter().all(|(_, text)| !text.contains("# file:") && !text.contains('\u{feff}')) {
                prop_assert_eq!(again, files);
            }
        }
    }
}

fn checked(file: &str, from: &str, to: &str) -> Vec<Problem> {
    let files = edited(file, from, to);
    let files: Vec<(&str, &str)> = files.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    assert!(read(&files).is_ok(), "a book that was adopted once stays readable");
    super::check(&files).unwrap_err()
}

#[test]
fn the_example_book_agrees_with_itself() {
    assert!(super::check(&example::files()).is_ok());
}

#[test]
fn a_shortest_run_that_is_not_that_of_the_trial_may_not_be_adopted() {
    let problems = checked("rules.toml", "shortest_run = 8", "shortest_run = 7");
    assert_eq!(problems.len(), 1);
    assert!(problems[0].what.contains("is 8 for these figures, not 7"), "{}", problems[0]);
    let files = edited("rules.toml", "shortest_run = 8", "shortest_run = 7");
    let text = &files.iter().find(|(name, _)| name == "rules.toml").unwrap().1;
    assert!(text.lines().nth(problems[0].line - 1).unwrap().starts_with("shortest_run"));
    let problems = checked("rules.toml", "alpha = 0.10", "alpha = 0.000001");
    assert!(problems[0].what.contains("it takes at least 28"), "{}", problems[0]);
}

#[test]
fn stage_targets_that_cannot_meet_the_service_target_may_not_be_adopted() {
    let problems = checked("plans.toml", "time = \"30:00\"", "time = \"24:00\"");
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert!(problems[0].what.contains("plan “whole lash line”"), "{}", problems[0]);
    assert!(problems[0].what.contains("more than the service target of 24:00"), "{}", problems[0]);
}

#[test]
fn figures_for_two_eyes_may_be_left_out_and_let_no_more_pass_than_one_overrun_in_twenty() {
    assert_eq!(read(&example::files()).unwrap().rules.two_eyes.map(|rules| rules.last), Some(6));
    let part = "[two_eyes]\n# The last this many services at a plan give the pace.\nlast = 6\n";
    let files = edited("rules.toml", part, "[two_eyes]\n");
    assert!(listed(&read_owned(&files).unwrap_err()).contains("last"));
    let files = edited("rules.toml", "most_overrun = 0.05", "most_overrun = 0.06");
    assert!(listed(&read_owned(&files).unwrap_err()).contains("most_overrun"));
}

#[test]
fn figures_of_forecasts_may_be_left_out_as_a_whole_and_not_in_part() {
    assert_eq!(read(&example::files()).unwrap().rules.forecast.map(|rules| rules.standard_last), Some(3));
    for (from, to, named) in [
        ("tau = 0.05\n", "", "tau"),
        ("tau = 0.05", "tau = 1.5", "tau"),
        ("ahead = 15", "ahead = 0", "ahead"),
        ("standard_chance = 0.80", "standard_chance = 1.0", "standard_chance"),
        ("standard_last = 3", "standard_last = 2.5", "standard_last"),
        ("standard_leeway_percent = 10.0", "standard_leeway_percent = -1", "standard_leeway_percent"),
        ("ahead = 15", "ahead = 15\nbehind = 3", "behind"),
    ] {
        let problems = read_owned(&edited("rules.toml", from, to)).unwrap_err();
        assert!(listed(&problems).contains(named), "{named}: {}", listed(&problems));
    }
    let mut files = edited("rules.toml", "[forecast]", "[forecast]");
    let (_, text) = files.iter_mut().find(|(name, _)| name == "rules.toml").unwrap();
    let (before, rest) = text.split_once("[forecast]").unwrap();
    let (_, after) = rest.split_once("[gaps]").unwrap();
    *text = format!("{before}[gaps]{after}");
    assert_eq!(read_owned(&files).unwrap().rules.forecast, None);
}

#[test]
fn thresholds_on_the_mean_mark_and_assessors_may_be_left_out() {
    let rules = &read(&example::files()).unwrap().rules.trial;
    assert_eq!(rules.score.map(|score| score.acceptable), Some(2.2));
    let without = edited("rules.toml", "[trial.score]\nunacceptable = 1.5\nacceptable = 2.2\n", "[trial.unknown]\n");
    assert!(read_owned(&without).is_err());
    let files = edited("rules.toml", "[trial.assessors]\nfalse_accept = 0.0\nfalse_reject = 0.0\n", "");
    assert_eq!(read_owned(&files).unwrap().rules.trial.assessors, Default::default());
    let close = edited("rules.toml", "acceptable = 2.2", "acceptable = 1.5");
    assert!(listed(&read_owned(&close).unwrap_err()).contains("0.1 above"));
}

#[test]
fn the_rule_of_the_trial_is_the_learning_chart_unless_one_is_written() {
    assert_eq!(read(&example::files()).unwrap().rules.trial.rule, TrialRule::Learning);
    let files = edited("rules.toml", "shortest_run = 8", "shortest_run = 8\nrule = \"at most 1 of 10 once certain\"");
    let rule = read_owned(&files).unwrap().rules.trial.rule;
    assert_eq!(rule, TrialRule::Curtailed { services: 10, failures: 1 });
    let problems =
        read_owned(&edited("rules.toml", "shortest_run = 8", "shortest_run = 8\nrule = \"by eye\"")).unwrap_err();
    assert!(problems[0].what.contains("“by eye” is no rule"), "{problems:?}");
}

#[test]
fn a_rule_that_passes_more_often_than_alpha_allows_may_not_be_adopted_unawares() {
    let three = "shortest_run = 3\nrule = \"3 in all\"";
    let problems = checked("rules.toml", "shortest_run = 8", three);
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert!(
        problems[0].what.contains("“3 in all”") && problems[0].what.contains("“alpha” allows 10.0"),
        "{problems:?}"
    );
}
