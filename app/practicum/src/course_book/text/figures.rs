//! What is asked of a course book that is to be adopted: sources, and figures that agree with each other.

use super::Problem;
use super::walk::File;
use super::working::PLANS;
use crate::course_book::CourseBook;
use crate::evidence;
use crate::moment::format_seconds;

/// Says of a file that the source of its figures is missing.
pub(super) fn source(file: &File<'_>) -> Vec<Problem> {
    file.top().source("");
    file.take_problems()
}

/// Says of `plans.toml` which service targets its stage targets cannot meet on any timeline.
pub(super) fn targets(book: &CourseBook, file: &File<'_>) -> Vec<Problem> {
    let composed = evidence::composed(book);
    for row in file.top().rows("plan", 0) {
        let plan = row.one_of("plan", &PLANS);
        let Some(found) = composed.iter().find(|found| Some(found.plan) == plan) else { continue };
        let target = format_seconds(found.target);
        let wrong = match &found.ways {
            Ok(ways) if ways.shortest <= found.target => continue,
            Ok(ways) => {
                let (shortest, apart) = (format_seconds(ways.shortest), format_seconds(ways.apart));
                format!(
                    "with its stage targets and the shortest dwells of dwell-examples.toml the shortest service takes \
                     {shortest}, both eyes overlapping ({apart} one eye after the other), more than the service target of \
                     {target}: raise it to {shortest} or more, or lower stage targets"
                )
            }
            Err(why) => format!(
                "its stage targets cannot be worked at all with the shortest dwells of dwell-examples.toml ({why}): lower \
                 the target of that stage"
            ),
        };
        row.called("plan", found.plan.word()).say("service_target", wrong);
    }
    file.take_problems()
}

/// Says of `rules.toml` whether the shortest run is that of the trial's other figures.
pub(super) fn trial(book: &CourseBook, file: &File<'_>) -> Vec<Problem> {
    let trial = file.top().part("trial");
    let stated = book.rules.trial.shortest_run;
    let rules = &book.rules.trial;
    match evidence::shortest_run(rules) {
        Ok(run) if run == stated => {}
        Ok(run) => trial.say(
            "shortest_run",
            format!("the shortest run that can pass is {run} for these figures, not {stated}: write {run}"),
        ),
        Err(why) => {
            trial.say("horizon", format!("with these figures no trial can be decided ({why}): change one of them"));
        }
    }
    if let Ok(chance) = evidence::false_pass(rules)
        && chance > rules.alpha
    {
        trial.say(
            "rule",
            format!(
                "by the rule “{}” a trainee who is not good enough passes {:.1} times in 100, and “alpha” allows {:.1}: \
                 choose another rule, or write the chance that you accept in “alpha”",
                rules.rule,
                (chance * 1000.0).ceil() / 10.0,
                rules.alpha * 100.0
            ),
        );
    }
    file.take_problems()
}
