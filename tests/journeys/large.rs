//! A large file comes in, and a large log opens, while the page stays at hand.

use std::time::{Duration, Instant};

use anyhow::{Result, anyhow, ensure};
use logbook::fact::Academy;
use logbook::hand_over::{Choice, Giving};
use logbook::subject::Subject;
use logbook::{Draft, Logbook};
use practicum::moment::parse_moment;
use practicum::person::{Person, Role};

use crate::hand_over::looked_into;
use crate::support::browser::Browser;

/// Notes how long each task of the page took that took over 50 ms.
pub const WATCH: &str = "window.longTasks = [];
    new PerformanceObserver((list) => list.getEntries().forEach((task) => window.longTasks.push(Math.round(task.duration))))
      .observe({ type: 'longtask', buffered: true });";

/// `ENTRIES=100000 LONGEST=1800` is the full run; the numbers it prints stand in `tests/benches/README.md`.
///
/// # Errors
/// When not everything comes in or opens again.
pub async fn comes_in(browser: &mut Browser) -> Result<()> {
    let entries = crate::times("ENTRIES", 2_000);
    let file = std::env::temp_dir().join(format!("upsweep-large-{}.upsweep", std::process::id()));
    std::fs::write(&file, written(entries)?)?;
    browser.goto("#/hand-over").await?;
    browser.ask(WATCH, Vec::new()).await?;
    // What the start of the app took is not the import's.
    tokio::time::sleep(Duration::from_millis(500)).await;
    tasks(browser).await?;
    let began = Instant::now();
    looked_into(browser, &file).await?;
    shown(browser, "The file opens whole").await?;
    let (read, tasks_read) = (began.elapsed(), tasks(browser).await?);
    let began = Instant::now();
    browser.click_text("Take it in").await?;
    shown(browser, "entries are new on this device").await?;
    let (taken, tasks_taken) = (began.elapsed(), tasks(browser).await?);
    std::fs::remove_file(&file)?;
    let began = Instant::now();
    browser.reload().await?;
    browser.ask(WATCH, Vec::new()).await?;
    let opened = began.elapsed();
    tokio::time::sleep(Duration::from_secs(1)).await;
    let tasks_opened = tasks(browser).await?;
    browser.goto("#/hand-over").await?;
    let kept = crate::kills::lines(browser).await?;
    ensure!(kept == entries, "{kept} of {entries} entries are on the disk");
    println!(
        "    {entries} entries: looked into in {read:?} (tasks over 50 ms: {tasks_read}), taken in in {taken:?} \
         ({tasks_taken}), opened again in {opened:?} ({tasks_opened})"
    );
    Ok(())
}

/// Waits for a text longer than a journey usually does.
pub async fn shown(browser: &Browser, text: &str) -> Result<()> {
    let mut last = Ok(());
    for _ in 0..15 {
        last = browser.wait_text(text).await;
        if last.is_ok() {
            return Ok(());
        }
    }
    last
}

/// How many tasks of the page were long, and how long the longest; forgets them.
pub async fn tasks(browser: &Browser) -> Result<String> {
    let script = "const all = window.longTasks; window.longTasks = [];
        return `${all.length}, longest ${Math.max(0, ...all)} ms`;";
    Ok(browser.ask(script, Vec::new()).await?.as_str().unwrap_or_default().to_owned())
}

/// A hand-over file of an academy with so many entries, most of them notes.
fn written(entries: u64) -> Result<Vec<u8>> {
    let mut names = 0_u64;
    let mut fresh = || {
        names += 1;
        format!("{names:032x}")
    };
    let start = parse_moment("2026-03-02T09:00:00+00:00").map_err(|why| anyhow!(why))?;
    let person = |id: &str, role| Person {
        id: id.into(),
        name: format!("{id} by name"),
        role,
        group: String::new(),
        since: None,
        left: None,
        show_times_early: false,
    };
    let academy = Academy {
        name: "Large".to_owned(),
        region: "gb".into(),
        emergency_number: "999".to_owned(),
        minimum_age: 18,
        time_zone: "Europe/London".to_owned(),
        owner: "owner".into(),
        tint_legal_ground: None,
        demo: false,
    };
    let mut drafts = vec![Draft::academy_founded(academy)];
    drafts.push(Draft::person_enrolled(&"owner".into(), person("owner", Role::Owner)));
    drafts.push(Draft::person_enrolled(&"owner".into(), person("t", Role::Trainee)));
    let note = |number| Draft::follow_up(&"owner".into(), Subject::Person("t".into()), format!("note {number}"), None);
    drafts.extend((3..entries).map(note));
    let mut logbook = Logbook::new("writer".into());
    for (place, together) in drafts.chunks(500).enumerate() {
        let at = start + chrono::Duration::minutes(place as i64);
        let prepared = logbook.prepare(together, at, &mut fresh).map_err(|why| anyhow!("{why}"))?;
        logbook.commit(prepared);
    }
    let mut giving = Giving::of(&logbook, &Choice::everything(), &start).map_err(|why| anyhow!("{why}"))?;
    while giving.step(1_000).map_err(|why| anyhow!("{why}"))? {}
    giving.finish().map_err(|why| anyhow!("{why}"))
}
