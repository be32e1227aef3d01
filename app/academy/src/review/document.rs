//! The parts of a review, one after another.

use logbook::review::{IncidentLine, Review, ServiceLine, SignOffLine};
use practicum::after_the_couch::Photo;
use practicum::competency::{EvidenceLine, Held};
use practicum::course_book::{CourseBook, Mark, Medium};
use practicum::coursework::hours::{Minutes, say_minutes};
use practicum::coursework::{Learning, TheoryResult};
use practicum::evidence::{Books, TrialState, assessed, breaches};
use practicum::moment::{Day, Moment, Seconds, format_seconds};
use practicum::outcome::{Marked, Outcome};
use practicum::person::Person;
use practicum::section::Plan;
use practicum::service::Service;
use practicum::standing::Standing;

use super::drawings::{dwell_points, eye_points, eye_target, target_steps, time_points};
use super::html::Html;
use crate::charts::{
    Column, Decision, DecisionPoint, Drawing, decision, dwells, hands_on_by_eye, rubric_strip, service_time,
};
use crate::components::code_drawing;

/// A competency as it stands.
#[derive(Debug, Clone)]
pub struct Competence {
    /// Its name.
    pub label: String,
    /// Every requirement, met or not.
    pub lines: Vec<EvidenceLine>,
    /// How it stands.
    pub held: Held,
}

/// Everything that a review is made of.
#[derive(Debug, Clone)]
pub struct Material<'a> {
    /// What the record says.
    pub review: &'a Review,
    /// Whose.
    pub person: &'a Person,
    /// Name of the academy.
    pub academy: &'a str,
    /// Invented records.
    pub demo: bool,
    /// Course books.
    pub books: Books<'a>,
    /// Where the trainee is.
    pub standing: &'a Standing,
    /// The last trial.
    pub trial: Option<&'a TrialState>,
    /// Every competency.
    pub competencies: &'a [Competence],
    /// Live services in the order begun, numbered from 1 as in the review.
    pub services: &'a [(u32, Service)],
    /// Assessors' outcomes of these.
    pub outcomes: &'a [&'a Outcome],
    /// Photos that are to be shown, each with the number of its service; none unless they were chosen.
    pub photos: &'a [(u32, Photo)],
    /// What the forecast says, a line each; empty where there is none.
    pub forecast: &'a [String],
    /// The signed code, where the record was prepared with one.
    pub code: Option<&'a str>,
    /// Why there is no code, in a sentence; not asked where there is one.
    pub no_code: &'a str,
    /// Cautions of the course book and the region.
    pub cautions: &'a [String],
}

/// The style of the document, on screen and on paper.
pub const STYLE: &str = include_str!("../../../../assets/review.css");

/// Size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 210 by 297 mm.
    #[default]
    A4,
    /// 8.5 by 11 inches.
    Letter,
}

impl Paper {
    fn word(self) -> &'static str {
        match self {
            Paper::A4 => "A4",
            Paper::Letter => "letter",
        }
    }
}

/// Returns the rules that put the trainee, the date and “page x of y” on every page of paper.
///
/// `name` is the name of the kind of page, so that several reviews in one document each have their own.
pub fn page_rules(person: &Person, as_of: &Moment, paper: Paper, name: &'static str, number: usize) -> String {
    let words = css_words(&format!("Training record: {}, as of {}", person.name, as_of.format("%Y-%m-%d")));
    let size = paper.word();
    // The first one is the plain kind of page: a name of its own would put an empty page before it.
    let (kind, of) = match number {
        0 => (String::new(), String::new()),
        _ => (format!("{name}{number} "), format!(" .review-{number} {{ page: {name}{number}; }}")),
    };
    format!(
        "@page {kind}{{ size: {size}; margin: 18mm 14mm 16mm; \
         @top-left {{ content: {words}; font: 9pt sans-serif; }} \
         @bottom-left {{ content: \"A training record is not a licence.\"; font: 9pt sans-serif; }} \
         @bottom-right {{ content: \"Page \" counter(page) \" of \" counter(pages); font: 9pt sans-serif; }} }}{of}"
    )
}

/// Writes words as a string of a style sheet, every sign but letters and figures by its number.
fn css_words(words: &str) -> String {
    let sign = |letter: char| match letter {
        letter if letter.is_ascii_alphanumeric() || matches!(letter, ' ' | ',' | ':' | '-') => letter.to_string(),
        letter if letter.is_control() => " ".to_owned(),
        letter => format!("\\{:06x}", u32::from(letter)),
    };
    format!("\"{}\"", words.chars().map(sign).collect::<String>())
}

/// Writes a whole file of its own: opens anywhere without the app and without a network, and runs nothing.
pub fn standalone(title: &str, rules: &str, articles: &[Html]) -> String {
    let mut html = Html::default();
    html.open("html", &[("lang", "en")]).open("head", &[]);
    html.open("meta", &[("charset", "utf-8")]);
    let policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:";
    html.open("meta", &[("http-equiv", "Content-Security-Policy"), ("content", policy)]);
    html.open("meta", &[("name", "viewport"), ("content", "width=device-width, initial-scale=1")]);
    html.leaf("title", title).style(&format!("{STYLE}{rules}")).close("head");
    html.open("body", &[("class", "review-file")]);
    for article in articles {
        html.add(article);
    }
    html.close("body").close("html");
    format!("<!DOCTYPE html>{}", html.into_text())
}

/// Writes one review. `number` tells it from others in the same document.
pub fn article(of: &Material, number: usize) -> Html {
    let class = format!("review review-{number}");
    let mut html = Html::default();
    html.open("article", &[("class", &class)]);
    head(&mut html, of);
    html.leaf("h2", "In plain words");
    html.list(of.review.summary.iter().map(String::as_str));
    charts(&mut html, of);
    services(&mut html, of);
    photos(&mut html, of);
    evidence(&mut html, of);
    sign_offs(&mut html, &of.review.sign_offs);
    incidents(&mut html, &of.review.incidents);
    time(&mut html, of);
    theory(&mut html, &of.review.theory);
    code(&mut html, of);
    html.close("article");
    html
}

fn head(html: &mut Html, of: &Material) {
    let day = of.review.as_of.format("%Y-%m-%d").to_string();
    html.open("header", &[]);
    html.leaf("h1", &format!("Training record of {}", of.person.name));
    if of.demo {
        html.open("p", &[("class", "strong")]);
        html.words("▲ Demo: everybody and everything here is invented. This proves nothing about anybody.").close("p");
    }
    let mut about = vec![format!("Academy: {}", of.academy)];
    if !of.person.group.is_empty() {
        about.push(format!("group: {}", of.person.group));
    }
    if let Some(since) = of.person.since {
        about.push(format!("enrolled on {since}"));
    }
    if let Some(left) = of.person.left {
        about.push(format!("left on {left}"));
    }
    html.leaf("p", &format!("{}.", about.join("; ")));
    html.leaf("p", &format!("As of {day}; a later correction or withdrawal shows only in a newer record."));
    let books: Vec<String> = of.review.course_books.iter().map(|id| format!("“{id}”")).collect();
    html.leaf("p", &format!("Course book: {}.", books.join(", ")));
    html.leaf("p", &format!("Practised and assessed here: {}.", of.review.scope.word()));
    html.open("p", &[("class", "strong")]);
    html.words(
        "This is a training record and not a licence. Whether somebody may work on the public is for the law, the \
                licensing board and the insurer of the place to say.",
    );
    html.close("p");
    html.list(of.cautions.iter().map(String::as_str));
    html.close("header");
}

fn charts(html: &mut Html, of: &Material) {
    let book = of.books.present;
    html.leaf("h2", "Progress");
    if of.services.is_empty() {
        html.leaf("p", "○ No live service yet.");
        return;
    }
    let target = target_steps(of.services, of.standing, |plan| eye_target(book, plan));
    html.drawing(
        "Hands-on time of each eye.",
        "Every sign is one eye of one live service, in the stages worked eye by eye; it points to the eye’s side. The letter \
         below says the section plan: q quarters, t thirds, h halves, w whole lash line. Dashed: the target, since quality was \
         met at that plan.",
        &hands_on_by_eye(&eye_points(of.services), &target),
    );
    let target =
        target_steps(of.services, of.standing, |plan| book.plan(plan).map(|plan| plan.service_target.both_eyes()));
    html.drawing(
        "Service time with its parts.",
        "Hands-on, waiting, checks and pauses add up. The shape says the plan.",
        &Drawing::of(service_time(&time_points(of.services), &target)),
    );
    html.drawing(
        "Dwell of each product and eye.",
        "The label sets it, not skill: a short dwell is never progress.",
        &Drawing::of(dwells(&dwell_points(of.services, book.rules.late_seconds))),
    );
    let criteria: Vec<String> = book.criteria.iter().map(|criterion| criterion.label.clone()).collect();
    html.drawing(
        "Assessors’ marks by criterion.",
        "1 Not yet, 2 Nearly, 3 Meets, 4 Strong. A flag marks a service with a safety breach.",
        &Drawing::of(rubric_strip(&criteria, &columns(of))),
    );
    match of.trial {
        Some(trial) => {
            html.leaf("h3", &format!("Trial {} at {}", trial.number, trial.terms.plan.word()));
            html.leaf("p", &trial.sentence);
            if !trial.settles.is_empty() {
                html.leaf("p", &trial.settles);
            }
            html.leaf("p", &trial.say_risk());
            html.drawing(
                "The decision about quality.",
                "Each marked service moves the line; at the dashed line the trial passes.",
                &Drawing::of(trial_drawing(trial)),
            );
        }
        None => {
            html.leaf("p", "○ No trial was opened, so no decision about quality was worked out.");
        }
    }
    stage_times(html, of);
    if !of.forecast.is_empty() {
        html.leaf("h3", "Forecast, as long as the course is not finished");
        html.list(of.forecast.iter().map(String::as_str));
    }
}

fn columns(of: &Material) -> Vec<Column> {
    let services: Vec<&Service> = of.services.iter().map(|(_, service)| service).collect();
    let marked = assessed(&services, of.outcomes, &of.books);
    let broken = breaches(&services, &marked, &of.books);
    let level = |one: &practicum::evidence::Assessed, id| match one.marks.get(id) {
        Some(Marked::Level(mark)) => Some(Mark::number(*mark)),
        _ => None,
    };
    let column = |(number, service): &(u32, Service)| {
        let one = marked.iter().find(|one| one.service.id == service.id)?;
        let marks = of.books.present.criteria.iter().map(|criterion| level(one, &criterion.id)).collect();
        let breach = broken.iter().any(|breach| breach.service.id == service.id);
        Some(Column { number: *number, marks, breach })
    };
    of.services.iter().filter_map(column).collect()
}

fn trial_drawing(trial: &TrialState) -> String {
    let mut values = trial.quality.values.iter().copied();
    let point = |one: &practicum::evidence::TrialService| DecisionPoint {
        value: one.acceptable.and_then(|_| values.next()),
        acceptable: one.acceptable,
        breach: one.breach,
    };
    let points: Vec<DecisionPoint> = trial.services.iter().map(point).collect();
    let passed = trial.quality.passed.as_ref();
    decision(&Decision {
        points: &points,
        line: trial.quality.limit,
        line_words: "passes here",
        reached: passed.and_then(|id| trial.services.iter().position(|one| one.service == *id)),
        reached_words: "passed, and it stands",
        room: 0,
        y_words: "evidence so far",
    })
}

/// First and last times of each stage, hands-on, both eyes together.
fn stage_times(html: &mut Html, of: &Material) {
    let sum = |service: &Service, stage: &practicum::ids::StageId| {
        let own = service.times.stages.iter().filter(|time| time.stage == *stage);
        let seconds = own.map(|time| time.hands_on).fold(0, Seconds::saturating_add);
        (seconds > 0).then_some(seconds)
    };
    let book: &CourseBook = of.books.present;
    let plan = of.standing.plan;
    let shown = practicum::standing::may_show_targets(of.standing, plan);
    let row = |stage: &practicum::course_book::Stage| {
        let times: Vec<(u32, Seconds)> =
            of.services.iter().filter_map(|(number, service)| Some((*number, sum(service, &stage.id)?))).collect();
        let (first, last) = (times.first()?, times.last()?);
        let least = times.iter().min_by_key(|(_, seconds)| *seconds)?;
        let say = |(number, seconds): &(u32, Seconds)| format!("{} (no. {number})", format_seconds(*seconds));
        let target = book.plan(plan).and_then(|plan| plan.stage_targets.iter().find(|(id, _)| *id == stage.id));
        let target = target.filter(|_| shown).map(|(_, target)| format_seconds(target.both_eyes()));
        let target = target.unwrap_or_else(|| "–".to_owned());
        Some(vec![stage.label.clone(), say(first), say(last), say(least), target])
    };
    let rows: Vec<Vec<String>> = book.stages.iter().filter_map(row).collect();
    if !rows.is_empty() {
        let caption =
            format!("Hands-on time by stage, both eyes; targets at {} once quality is met there", plan.word());
        html.table(&caption, &["Stage", "First", "Last", "Least", "Target"], &rows);
    }
}

fn seconds(value: Option<Seconds>) -> String {
    value.map_or_else(|| "–".to_owned(), format_seconds)
}

/// Photos side by side, those of a service together.
fn photos(html: &mut Html, of: &Material) {
    if of.photos.is_empty() {
        return;
    }
    html.leaf("h2", "Photos");
    html.leaf("p", "Shown with the consent of each practice model to photos, which can be withdrawn at any time.");
    html.open("div", &[("class", "photos")]);
    for (number, photo) in of.photos {
        let words = format!("Service {number}, {} eye, {}", photo.eye.word(), photo.stage.word());
        html.photo(photo, &words);
    }
    html.close("div");
}

fn services(html: &mut Html, of: &Material) {
    html.leaf("h2", "Every service and drill");
    let row = |line: &ServiceLine| {
        let number = line.number.map_or_else(|| line.medium.word().to_owned(), |number| number.to_string());
        let marks = match line.assessors.is_empty() {
            true => line.result.clone(),
            false => format!("{}; by {}; {}", line.result, line.assessors.join(", "), line.replies.join("; ")),
        };
        vec![
            number,
            line.day.to_string(),
            line.practice_model.clone(),
            line.plan.map_or("–", Plan::word).to_owned(),
            line.particulars.clone(),
            seconds(line.hands_on),
            seconds(line.service_time),
            marks,
            format!("{}, {}", line.recorded, line.ending),
        ]
    };
    let rows: Vec<Vec<String>> = of.review.services.iter().map(row).collect();
    if rows.is_empty() {
        html.leaf("p", "○ None.");
        return;
    }
    let live = of.review.services.iter().filter(|line| line.medium == Medium::Live).count();
    let head =
        ["No.", "Day", "Practice model", "Plan", "Lashes", "Hands-on", "Service time", "Assessed", "Recorded, ended"];
    html.table(&format!("{live} live services and {} drills", rows.len() - live), &head, &rows);
}

fn held(held: &Held) -> String {
    match held {
        Held::Undecided => "○ not decided".to_owned(),
        Held::NotYet => "○ not yet".to_owned(),
        Held::Signed => "✓ signed off".to_owned(),
        Held::Withdrawn => "■ withdrawn".to_owned(),
        Held::Lapsed(since) => format!("▲ lapsed since {since}"),
        Held::Suspended(_) => "▲ suspended after a safety breach, until observed again".to_owned(),
    }
}

fn evidence(html: &mut Html, of: &Material) {
    html.leaf("h2", "Evidence for each competency");
    for competency in of.competencies {
        let caption = format!("{}: {}", competency.label, held(&competency.held));
        let row = |line: &EvidenceLine| {
            let state = if line.met { "✓ there" } else { "○ missing" };
            vec![line.words.clone(), line.have.to_string(), line.need.to_string(), state.to_owned()]
        };
        let rows: Vec<Vec<String>> = competency.lines.iter().map(row).collect();
        html.table(&caption, &["Needed", "Have", "Need", "State"], &rows);
    }
}

fn sign_offs(html: &mut Html, lines: &[SignOffLine]) {
    html.leaf("h2", "Decisions about competencies");
    if lines.is_empty() {
        html.leaf("p", "○ Nobody has decided about a competency.");
        return;
    }
    let row = |line: &SignOffLine| {
        vec![
            line.label.clone(),
            line.decision.word().to_owned(),
            line.level.to_string(),
            line.by.clone(),
            line.at.format("%Y-%m-%d").to_string(),
            line.fingerprint.clone().unwrap_or_else(|| "not signed by a key".to_owned()),
            line.reply.clone(),
            line.comment.clone(),
        ]
    };
    let rows: Vec<Vec<String>> = lines.iter().map(row).collect();
    let head = ["Competency", "Decision", "Level", "Assessor", "Date", "Key", "Trainee", "Comment"];
    html.table("Every decision, withdrawn ones included", &head, &rows);
}

fn incidents(html: &mut Html, lines: &[IncidentLine]) {
    html.leaf("h2", "Incidents and what followed");
    if lines.is_empty() {
        html.leaf("p", "○ None was reported.");
        return;
    }
    let row = |line: &IncidentLine| {
        let mut followed: Vec<String> = line.followed.iter().map(|(on, words)| format!("{on}: {words}")).collect();
        followed.push(if line.closed { "✓ closed" } else { "○ still to follow" }.to_owned());
        vec![line.at.format("%Y-%m-%d %H:%M").to_string(), line.what.clone(), followed.join("; ")]
    };
    let rows: Vec<Vec<String>> = lines.iter().map(row).collect();
    html.table("Incidents", &["Reported", "What was noted", "What followed"], &rows);
}

fn time(html: &mut Html, of: &Material) {
    html.leaf("h2", "Hours by type");
    let row = |learning: &Learning| {
        let minutes = of.review.hours.get(learning).copied().unwrap_or_default();
        let Minutes { supervised, alone } = minutes;
        vec![learning.word().to_owned(), say_minutes(supervised), say_minutes(alone), say_minutes(minutes.all())]
    };
    let rows: Vec<Vec<String>> = Learning::ALL.iter().map(row).collect();
    let caption =
        "Supervised: noted with a supervisor, or observed from end to end; logged runs count with their service time";
    html.table(caption, &["Type", "Supervised", "Alone", "Together"], &rows);
}

fn theory(html: &mut Html, papers: &[TheoryResult]) {
    if papers.is_empty() {
        return;
    }
    let row = |paper: &TheoryResult| {
        let state = if paper.passed() { "✓ passed" } else { "○ not passed" };
        let on: Day = paper.on;
        vec![
            paper.paper.clone(),
            on.to_string(),
            format!("{} of {}", paper.points, paper.out_of),
            format!("{state} ({} needed)", paper.needed),
        ]
    };
    html.leaf("h2", "Theory papers");
    let rows: Vec<Vec<String>> = papers.iter().map(row).collect();
    html.table("Papers", &["Paper", "Date", "Points", "Result"], &rows);
}

fn code(html: &mut Html, of: &Material) {
    html.open("section", &[("class", "code")]);
    html.leaf("h2", "To check this record");
    match of.code.and_then(|code| Some((code, code_drawing(code)?))) {
        Some((code, drawing)) => {
            html.drawing(
                "Signed code.",
                "It holds the key’s fingerprint, the trainee’s code (no name), the sign-offs, the date and the hash of the \
                 record file. Read it on the Verify page, alone or with the record file. It says what was signed as of that \
                 date; a later withdrawal shows only with a newer file.",
                &drawing,
            );
            html.open("p", &[("class", "code-text")]).words(code).close("p");
        }
        None => {
            html.leaf("p", of.no_code);
        }
    }
    html.close("section");
}
