//! The same work natively, for a profiler: `cargo run --profile study -p log-benches --example native read 20000`.
#![allow(clippy::print_stdout, reason = "an example prints what it measured")]

use std::time::Instant;

use log_benches::{Logs, Signed};

fn main() {
    let mut arguments = std::env::args().skip(1);
    let what = arguments.next().unwrap_or_default();
    let entries = arguments.next().and_then(|text| text.parse().ok()).unwrap_or(20_000);
    let mut logs = Logs::new(entries, false);
    let signed = (what == "check").then(|| Signed::new(entries / 10));
    for _ in 0..5 {
        let began = Instant::now();
        let found = match what.as_str() {
            "merge" => {
                logs.read(0);
                logs.read(1);
                let began = Instant::now();
                let found = logs.merge();
                println!("merged in {:.1} ms", began.elapsed().as_secs_f64() * 1e3);
                found
            }
            "open" => logs.open(),
            "check" => signed.as_ref().map_or(0, Signed::check),
            _ => logs.read(0),
        };
        println!("{what} {entries}: {found} in {:.1} ms", began.elapsed().as_secs_f64() * 1e3);
    }
}
