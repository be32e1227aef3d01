//! A large group: its page and its reviews, while the page stays at hand.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use anyhow::{Context, Result, anyhow, ensure};
use logbook::fact::Academy;
use logbook::hand_over::{Choice, Giving};
use logbook::{Draft, Logbook};
use practicum::couch::Tint;
use practicum::couch::times::Times;
use practicum::course_book::Medium;
use practicum::course_book::{Mark, example, text};
use practicum::eye::PerEye;
use practicum::moment::parse_moment;
use practicum::outcome::{Marked, Outcome};
use practicum::person::{Person, Role};
use practicum::section::{Plan, WorkedPlan};
use practicum::service::{Ending, Origin, Service, WrittenTimes};

use crate::hand_over::looked_into;
use crate::large::{WATCH, shown, tasks};
use crate::support::browser::Browser;

/// Counts the frames of a scroll through the whole page, and the longest time between two.
const SCROLL: &str = "const done = arguments[arguments.length - 1];
    const end = document.documentElement.scrollHeight, steps = 120;
    let at = 0, last = performance.now(), longest = 0, frames = 0;
    const step = (now) => {
      longest = Math.max(longest, now - last); last = now; frames += 1;
      at += 1; window.scrollTo(0, end * at / steps);
      if (at < steps) requestAnimationFrame(step); else done(`${frames} frames, longest ${Math.round(longest)} ms`);
    };
    requestAnimationFrame(step);";

/// `TRAINEES=300 SERVICES=30 LONGEST=1800` is the full run; the numbers it prints stand in `tests/benches/README.md`.
///
/// # Errors
/// When not everybody is shown, or a review is missing.
pub async fn at_a_glance(browser: &mut Browser) -> Result<()> {
    let (trainees, services) = (crate::times("TRAINEES", 24), crate::times("SERVICES", 6));
    let file = std::env::temp_dir().join(format!("upsweep-group-{}.upsweep", std::process::id()));
    std::fs::write(&file, written(trainees, services)?)?;
    browser.goto("#/hand-over").await?;
    looked_into(browser, &file).await?;
    shown(browser, "The file opens whole").await?;
    browser.click_text("Take it in").await?;
    shown(browser, "entries are new on this device").await?;
    std::fs::remove_file(&file)?;
    browser.click_css("#who-button").await?;
    browser.click_text("Invented Owner").await?;
    browser.fill("New PIN", "2468").await?;
    browser.fill("New PIN again", "2468").await?;
    browser.click_text("Set PIN").await?;
    browser.wait_for("document.querySelector('.who-pin')", "the PIN to be asked").await?;
    browser.fill("PIN", "2468").await?;
    browser.click_text("Unlock").await?;
    browser
        .wait_for("document.querySelector('#who-button').innerText.includes('unlocked')", "the lock to open")
        .await?;
    browser.ask(WATCH, Vec::new()).await?;
    tokio::time::sleep(Duration::from_millis(500)).await;
    tasks(browser).await?;
    let began = Instant::now();
    browser.goto("#/group").await?;
    shown(browser, &format!("{trainees} of {trainees} trainees shown")).await?;
    let all = format!("document.querySelectorAll('.group-card').length === {trainees}");
    for _ in 0..15 {
        if browser.wait_for(&all, "every card").await.is_ok() {
            break;
        }
    }
    let (glance, glance_tasks) = (began.elapsed(), tasks(browser).await?);
    let scrolled = browser.ask_later(SCROLL, Vec::new()).await?;
    let scrolled = scrolled.as_str().context("the page scrolled")?.to_owned();
    tasks(browser).await?;
    let began = Instant::now();
    browser.goto("#/marking").await?;
    shown(browser, "lines wait, in each kind the longest first").await?;
    let (waits, waits_tasks) = (began.elapsed(), tasks(browser).await?);
    browser.goto("#/reviews").await?;
    tokio::time::sleep(Duration::from_millis(500)).await;
    tasks(browser).await?;
    let began = Instant::now();
    browser.click_text(&format!("Put all {trainees} together")).await?;
    for _ in 0..20 {
        if shown(browser, &format!("{trainees} reviews stand below")).await.is_ok() {
            break;
        }
    }
    let (reviews, review_tasks) = (began.elapsed(), tasks(browser).await?);
    let there = browser.ask("return document.querySelectorAll('.review-place article').length", Vec::new()).await?;
    ensure!(there.as_u64() == Some(trainees), "{there} reviews are there");
    println!(
        "    {trainees} trainees x {services} services: group in {glance:?} (tasks over 50 ms: {glance_tasks}), scrolled \
         {scrolled}; what waits in {waits:?} ({waits_tasks}); reviews in {reviews:?} ({review_tasks})"
    );
    Ok(())
}

/// An invented academy without a key.
pub fn academy() -> Academy {
    Academy {
        name: "Large".to_owned(),
        region: "uk".into(),
        emergency_number: "999".to_owned(),
        minimum_age: 18,
        time_zone: "Europe/London".to_owned(),
        owner: "owner".into(),
        tint_legal_ground: None,
        demo: false,
    }
}

pub fn person(id: &str, name: &str, role: Role) -> Person {
    let group = if role == Role::Trainee { "Spring".to_owned() } else { String::new() };
    Person { id: id.into(), name: name.to_owned(), role, group, since: None, left: None, show_times_early: false }
}

/// A hand-over file of an academy with so many trainees and services, each marked.
fn written(trainees: u64, services: u64) -> Result<Vec<u8>> {
    let mut names = 0_u64;
    let mut fresh = || {
        names += 1;
        format!("{names:032x}")
    };
    let start = parse_moment("2026-03-02T09:00:00+00:00").map_err(|why| anyhow!(why))?;
    let files = example::files();
    let book = text::read(&files).map_err(|_| anyhow!("the example does not read"))?;
    let owner = "owner".into();
    let mut drafts = vec![
        Draft::academy_founded(academy()),
        Draft::person_enrolled(&owner, person("owner", "Invented Owner", Role::Owner)),
        Draft::book_adopted(&owner, book.id.clone(), text::join(&files)),
        Draft::person_enrolled(&owner, person("i", "Invented Instructor", Role::Instructor)),
    ];
    for trainee in 0..trainees {
        let id = format!("t{trainee}");
        let name = format!("Trainee {trainee:03} (invented)");
        drafts.push(Draft::person_enrolled(&owner, person(&id, &name, Role::Trainee)));
        for number in 0..services {
            let began = start + chrono::Duration::days(number as i64) + chrono::Duration::minutes(trainee as i64);
            let hands_on = 5_400 - (number as u32) * 60 + (trainee as u32 % 17) * 20;
            let plan = if number < 10 { Plan::Quarters } else { Plan::Halves };
            let service = Service {
                id: format!("{id}-{number}").as_str().into(),
                trainee: id.as_str().into(),
                medium: Medium::Live,
                drill: None,
                practice_model: None,
                began,
                course_book: book.id.clone(),
                room: String::new(),
                sections: PerEye::from_fn(|_| Some(plan.sections())),
                worked: Some(WorkedPlan { sections: plan.sections(), mixed: false }),
                analysis: PerEye::default(),
                shields: PerEye::default(),
                tint: Tint::None,
                products: Vec::new(),
                will_be_assessed: Some(true),
                overrides: Vec::new(),
                incident: None,
                ending: Ending::Finished,
                aftercare_given: Some(true),
                comfort: String::new(),
                note: String::new(),
                times: Times { service: Some(hands_on + 900), hands_on: Some(hands_on), ..Times::default() },
                origin: Origin::Late(WrittenTimes::default()),
            };
            let level = if (number + trainee) % 4 == 0 { Mark::Nearly } else { Mark::Meets };
            let marks: BTreeMap<_, _> =
                book.criteria.iter().map(|criterion| (criterion.id.clone(), Marked::Level(level))).collect();
            let outcome = Outcome {
                service: service.id.clone(),
                marker: "i".into(),
                at: began + chrono::Duration::hours(3),
                marks,
                faults: Vec::new(),
                comment: String::new(),
                independence_next: Some(2),
                observed: true,
            };
            drafts.push(Draft::service_logged(&"i".into(), service));
            drafts.push(Draft::outcome_marked(outcome));
        }
    }
    let mut logbook = Logbook::new("writer".into());
    for (place, together) in drafts.chunks(500).enumerate() {
        let at = start + chrono::Duration::days(60) + chrono::Duration::minutes(place as i64);
        let prepared = logbook.prepare(together, at, &mut fresh).map_err(|why| anyhow!("{why}"))?;
        logbook.commit(prepared);
    }
    let mut giving = Giving::of(&logbook, &Choice::everything(), &start).map_err(|why| anyhow!("{why}"))?;
    while giving.step(1_000).map_err(|why| anyhow!("{why}"))? {}
    giving.finish().map_err(|why| anyhow!("{why}"))
}
