//! Journeys: what a person does, done in a real headless Chromium against the release site.
//!
//! A journey is an `async fn(&mut Browser) -> anyhow::Result<()>` in a module of its own and a line in
//! [`JOURNEYS`]. Each gets a new browser profile and a server of its own, so none sees another's data.
//! An argument runs only the journeys whose name holds it.

mod accessibility;
mod certificates;
mod couch;
mod full_disk;
mod hand_over;
mod keys;
mod kills;
mod large;
mod large_group;
mod last_term;
mod learning;
mod locks;
mod main_job;
mod marking;
mod nothing_kept;
mod planner;
mod progress;
mod review;
mod start;
#[allow(dead_code, reason = "what journeys may ask for, whether or not one asks today")]
mod support;
mod tabs;
mod three_devices;
mod verify;
mod while_on;

#[path = "../../app/academy/src/route.rs"]
#[allow(dead_code, unused_imports, reason = "the app's own table of places; only a part of it is asked here")]
mod route;

use std::pin::Pin;
use std::process::ExitCode;
use std::time::{Duration, Instant};

use anyhow::{Result, bail};
use support::browser::Browser;

type Journey = for<'a> fn(&'a mut Browser) -> Pin<Box<dyn Future<Output = Result<()>> + 'a>>;

/// Longest that one journey may take; `LONGEST=3600` gives a full run an hour.
fn longest() -> Duration {
    Duration::from_secs(std::env::var("LONGEST").ok().and_then(|text| text.parse().ok()).unwrap_or(600))
}

/// How often a journey tries what it tries many times: a number from the environment, else the short form of CI.
fn times(name: &str, short: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(short)
}

/// Every journey by its claim.
const JOURNEYS: &[(&str, Journey)] = &[
    ("the_page_starts_without_a_complaint", |browser| Box::pin(start::starts(browser))),
    ("the_app_works_offline_after_one_visit", |browser| Box::pin(start::works_offline(browser))),
    ("the_app_comes_back_after_kill_dash_nine", |browser| Box::pin(start::comes_back(browser))),
    ("main_job_goes_from_the_start_page_to_the_service_page", |browser| Box::pin(main_job::through(browser))),
    ("a_reaction_on_another_page_is_recorded_offline", |browser| Box::pin(while_on::reaction_elsewhere(browser))),
    ("wrong_clocks_never_shorten_a_dwell", |browser| Box::pin(while_on::wrong_clocks(browser))),
    ("a_frozen_page_counts_on_by_the_clock", |browser| Box::pin(while_on::frozen(browser))),
    ("two_tabs_lose_nothing_and_see_each_other", |browser| Box::pin(tabs::two_write(browser))),
    ("a_newer_version_takes_over_in_the_open", |browser| Box::pin(tabs::newer_version(browser))),
    ("where_nothing_is_kept_every_page_says_so", |browser| Box::pin(nothing_kept::says_so(browser))),
    ("a_large_file_comes_in_and_opens_again", |browser| Box::pin(large::comes_in(browser))),
    ("a_large_group_is_seen_at_a_glance_and_reviewed_in_one_go", |browser| Box::pin(large_group::at_a_glance(browser))),
    ("kills_while_entries_and_files_come_in_lose_nothing", |browser| Box::pin(kills::entries_and_files(browser))),
    ("kills_during_a_service_lose_nothing", |browser| Box::pin(kills::lose_nothing(browser))),
    ("the_lock_holds_and_a_forgotten_pin_has_a_way_back", |browser| Box::pin(locks::holds(browser))),
    ("keys_are_admitted_by_the_owner_and_nobody_signs_as_another", |browser| Box::pin(keys::admitted(browser))),
    ("last_term_comes_in_goes_and_comes_in_again", |browser| Box::pin(last_term::comes_in(browser))),
    ("a_rule_is_picked_with_open_eyes_and_a_trial_opened_by_it", |browser| Box::pin(planner::plans_and_opens(browser))),
    ("curves_are_worked_out_beside_the_page_and_offline", |browser| Box::pin(learning::curves(browser))),
    ("hand_over_goes_both_ways_and_refuses_what_it_should", |browser| Box::pin(hand_over::both_ways(browser))),
    ("three_devices_carry_a_course_to_its_printed_review", |browser| Box::pin(three_devices::a_course(browser))),
    ("hand_over_by_codes_and_from_the_systems_share_sheet", |browser| Box::pin(hand_over::by_codes(browser))),
    ("a_file_is_verified_by_anybody", |browser| Box::pin(verify::by_anybody(browser))),
    ("what_the_owner_erases_is_gone_from_the_disk", |browser| Box::pin(verify::erases(browser))),
    ("a_certificate_is_issued_handed_out_and_withdrawn", |browser| {
        Box::pin(certificates::issued_and_withdrawn(browser))
    }),
    ("an_instructors_day_leaves_what_it_should", |browser| Box::pin(marking::an_instructors_day(browser))),
    ("a_review_is_signed_printed_and_checked_by_anybody", |browser| Box::pin(review::signed_and_checked(browser))),
    ("a_full_disk_loses_nothing_and_can_be_exported", |browser| Box::pin(full_disk::keeps_what_is_there(browser))),
    ("a_broken_app_hands_out_its_records", |browser| Box::pin(full_disk::broken_app_hands_out(browser))),
    ("progress_is_drawn_and_leads_to_services", |browser| Box::pin(progress::leads_to_services(browser))),
    ("every_place_is_accessible_on_an_empty_device", |browser| Box::pin(accessibility::empty_device(browser))),
    ("every_place_is_accessible_with_records", |browser| Box::pin(accessibility::with_records(browser))),
];

#[tokio::main]
async fn main() -> ExitCode {
    let only: Vec<String> = std::env::args().skip(1).filter(|argument| !argument.starts_with('-')).collect();
    let chosen =
        JOURNEYS.iter().filter(|(name, _)| only.is_empty() || only.iter().any(|part| name.contains(part.as_str())));
    let (mut passed, mut failed) = (0, 0);
    for (name, journey) in chosen {
        let began = Instant::now();
        let outcome = run(name, *journey).await;
        let seconds = began.elapsed().as_secs_f32();
        match outcome {
            Ok(()) => {
                passed += 1;
                println!("test {name} ... ok ({seconds:.1} s)");
            }
            Err(why) => {
                failed += 1;
                println!("test {name} ... FAILED ({seconds:.1} s)\n    {why:#}");
            }
        }
    }
    let word = if failed == 0 { "ok" } else { "FAILED" };
    println!("\ntest result: {word}. {passed} passed; {failed} failed; 0 ignored; 0 measured; 0 filtered out");
    if failed == 0 && passed > 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// Runs one journey in a browser of its own; a failure leaves a picture behind.
async fn run(name: &str, journey: Journey) -> Result<()> {
    let mut browser = Browser::launch().await?;
    let outcome = match tokio::time::timeout(longest(), journey(&mut browser)).await {
        Ok(outcome) => outcome,
        Err(_) => Err(anyhow::anyhow!("took longer than {} s", longest().as_secs())),
    };
    if outcome.is_err() {
        // The picture helps; that it cannot be taken says nothing new.
        drop(browser.screenshot(&format!("failed-{name}")).await);
    }
    let complaints = browser.complaints().await.unwrap_or_default();
    browser.close().await;
    outcome?;
    if !complaints.is_empty() {
        bail!("the browser complained:\n    {}", complaints.join("\n    "));
    }
    Ok(())
}
