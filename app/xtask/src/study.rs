//! `cargo xtask study`: what intervals, forecasts and decisions are worth, on simulated academies.
//!
//! Everything is drawn from a seed, so that a run can be repeated to the last digit. Results are kept as rows
//! beside the report, so that a part can be run again by itself. Reading order: [`draw`] and [`truth`] (what is
//! simulated), [`cell`] (how it is scored), the parts [`intervals`], [`rules`], [`decisions`] and
//! [`calibration`], and [`table`], [`plot`] and [`report`] (how results are kept and shown).

pub mod calibration;
pub mod cell;
pub mod decisions;
pub mod draw;
pub mod intervals;
pub mod plot;
pub mod report;
pub mod rules;
pub mod table;
pub mod truth;

use std::path::PathBuf;

use anyhow::{Result, bail};

use crate::workspace::{Workspace, run as run_command};

/// Seed of every draw.
pub const SEED: u64 = 20_260_101;
/// Folder of the rows and the plots.
const FOLDER: &str = "app/proficiency/study";
/// Names of the parts, in the order they are run.
const PARTS: [&str; 5] = ["rules", "decisions", "calibration", "intervals", "ways"];

/// Where results are kept.
#[derive(Debug, Clone)]
pub struct Files {
    folder: PathBuf,
}

impl Files {
    /// The files of a workspace.
    pub fn new(workspace: &Workspace) -> Self {
        Self { folder: workspace.root.join(FOLDER) }
    }

    /// One of them.
    pub fn of(&self, name: &str) -> PathBuf {
        self.folder.join(name)
    }
}

/// Runs parts of the study, all without any named, and writes the report anew; a number among the names holds
/// the parts with groups to that size, and `report` runs nothing.
///
/// # Errors
/// When a name is not one of the parts, or results cannot be kept.
pub fn run(workspace: &Workspace, named: &[String]) -> Result<()> {
    let mut parts = Vec::new();
    let mut only = None;
    for name in named {
        match name.parse() {
            Ok(size) => only = Some(size),
            Err(_) if name == "report" || PARTS.contains(&name.as_str()) => parts.push(name.as_str()),
            Err(_) => bail!("the study has no part `{name}`; its parts: {}, report", PARTS.join(", ")),
        }
    }
    if let Some(size) = only
        && intervals::SIZES.iter().all(|known| known.0 != size)
    {
        bail!("the study has groups of {:?}, and none of {size}", intervals::SIZES.map(|known| known.0));
    }
    if parts.is_empty() {
        parts = PARTS.to_vec();
    }
    // Unoptimised it would take a day.
    if cfg!(debug_assertions) && parts != ["report"] {
        let mut cargo = workspace.cargo(["run", "--profile", "study", "--package", "xtask", "--", "study"]);
        return run_command(cargo.args(named));
    }
    let files = Files::new(workspace);
    for part in parts {
        match part {
            "rules" => rules::run(&files)?,
            "decisions" => decisions::run(&files)?,
            "calibration" => calibration::run(&files)?,
            "intervals" => intervals::run_all(&files, only)?,
            "ways" => intervals::run_ways(&files, only)?,
            _ => {}
        }
        report::write(workspace, &files)?;
    }
    Ok(())
}
