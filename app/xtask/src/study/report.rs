//! The report: tables and plots of all parts, written from the results that are kept.

use std::fmt::Write as _;

use anyhow::{Context, Result};

use super::cell::AHEAD;
use super::intervals::{
    AS_THE_APP, CHANCES, COVERAGE_GATES, LEVELS, SIZES, can_be_within, coverage_column, forecast_gate, world,
};
use super::plot::{Frame, Picture, Series};
use super::table::{Row, Table};
use super::truth::World;
use super::{Files, SEED, calibration, decisions, intervals, rules};
use crate::workspace::Workspace;

/// Where the report stands.
const REPORT: &str = "app/proficiency/STUDY.md";
const COVERAGE_PLOT: &str = "coverage.svg";
const FORECAST_PLOT: &str = "forecasts.svg";

const HEAD: &str = "\
# What intervals, forecasts and decisions are worth

Written by `cargo xtask study`; do not edit. The rows behind it stand in `study/*.tsv`.
Simulated academies (`app/xtask/src/study/truth.rs`): sizes are guesses, there are no data on lash lifts.
Trainees are 6 to 29 services far and go from quarters over halves to the whole lash line; every service asked about is on the whole lash line.
Standard errors count groups, not trainees.
A gate holds when some value within two standard errors of the estimate lies inside it; one that does not is marked **!**.
";

/// Writes the report and its plots.
///
/// # Errors
/// When results cannot be read or a file cannot be written.
pub fn write(workspace: &Workspace, files: &Files) -> Result<()> {
    let table = intervals::results(files)?;
    let mut text = String::from(HEAD);
    writeln!(
        text,
        "Seed {SEED} throughout; the same seed gives the same digits on any machine of the same arithmetic.\n"
    )?;
    in_short(&mut text, &table, &rules::results(files)?)?;
    if !table.is_empty() {
        coverage(&mut text, &table)?;
        forecasts(&mut text, &table)?;
        ways(&mut text, &table)?;
        std::fs::write(files.of(COVERAGE_PLOT), coverage_plot(&table))?;
        std::fs::write(files.of(FORECAST_PLOT), forecast_plot(&table))?;
    }
    rule_tables(&mut text, &rules::results(files)?)?;
    decision_table(&mut text, &decisions::results(files)?)?;
    calibration_table(&mut text, &calibration::results(files)?)?;
    if !table.is_empty() {
        durations(&mut text, &table)?;
    }
    std::fs::write(workspace.root.join(REPORT), text).with_context(|| format!("cannot write {REPORT}"))
}

fn as_the_app(table: &Table) -> impl Iterator<Item = Row<'_>> {
    table.rows().filter(|row| row.text("way") == AS_THE_APP)
}

/// A share with its standard error, marked when it cannot lie from `low` to `high`.
fn shown(row: &Row<'_>, column: &str, low: f64, high: f64) -> String {
    let (value, error) = (row.number(column), row.number(&format!("{column} se")));
    if value.is_nan() {
        return "none".to_owned();
    }
    let mark = if can_be_within(row, column, low, high) { "" } else { " **!**" };
    format!("{value:.3} ({error:.3}){mark}")
}

fn in_short(text: &mut String, table: &Table, rules: &Table) -> Result<()> {
    text.push_str("## In short\n\n");
    let rows: Vec<Row<'_>> = as_the_app(table).collect();
    let broken: Vec<String> = rows
        .iter()
        .flat_map(|row| {
            let place = format!("{}, groups of {}", row.text("world"), row.text("group"));
            intervals::broken(row).into_iter().map(move |gate| format!("{gate} ({place})"))
        })
        .collect();
    let cells = rows.len();
    let gates = cells * (LEVELS.len() * AHEAD.len() + 1);
    writeln!(text, "- Of {gates} gates in {cells} cells {} hold as the app fits.", gates - broken.len())?;
    for gate in &broken {
        writeln!(text, "- **Not held**: {gate}.")?;
    }
    text.push_str("- Not asked for, and run beside the rest: groups of 3, and the world whose relearning is over after 6 services while the fit lets it go on to 12. There a large group makes the fit sure of what is not so.\n");
    for (trainees, ..) in SIZES {
        let row = rows
            .iter()
            .find(|row| world(row) == Some(World::Plateau) && row.text("group").parse::<usize>() == Ok(trainees));
        let Some(row) = row else { continue };
        let (share, error, of) = (row.number("reached 80"), row.number("reached 80 se"), row.text("reached 80 of"));
        writeln!(
            text,
            "- With a plateau, groups of {trainees}: the service named at 80 % was enough for {share:.3} (standard error {error:.3}) of {of} forecasts."
        )?;
    }
    for row in rules.rows().filter(|row| row.text("recommended") == "yes") {
        let is_chart = row.text("rule").starts_with("learning CUSUM");
        let note = if is_chart { "" } else { ", not the learning CUSUM" };
        writeln!(text, "- Rule for sign-off at p_u / p_a {}: {}{note}.", row.text("setting"), row.text("rule"))?;
    }
    text.push('\n');
    Ok(())
}

fn coverage(text: &mut String, table: &Table) -> Result<()> {
    text.push_str("## Intervals of one service\n\nShare of services inside (standard error). Gates: .76 to .88 and .92 to .98.\n\n");
    writeln!(text, "![Coverage of intervals by size of group and world](study/{COVERAGE_PLOT})\n")?;
    text.push_str("| world | group | groups drawn | trainees | 80 %, +1 | 80 %, +5 | 80 %, +10 | 95 %, +1 | 95 %, +5 | 95 %, +10 |\n");
    text.push_str("|---|---|---|---|---|---|---|---|---|---|\n");
    for row in as_the_app(table) {
        let [world, group, groups, trainees] = ["world", "group", "groups", "trainees"].map(|name| row.text(name));
        write!(text, "| {world} | {group} | {groups} | {trainees} |")?;
        for (level, (low, high)) in LEVELS.into_iter().zip(COVERAGE_GATES) {
            for ahead in AHEAD {
                write!(text, " {} |", shown(&row, &coverage_column(level, ahead), low, high))?;
            }
        }
        text.push('\n');
    }
    text.push('\n');
    Ok(())
}

fn forecasts(text: &mut String, table: &Table) -> Result<()> {
    text.push_str("## Services still needed\n\nShare of trainees whose typical service was within 2700 s by the service named (standard error), of forecasts that name the second service or a later one. Gate at 80 %: .75, with a plateau .70.\n\n");
    writeln!(text, "![Share reached against the chance stated](study/{FORECAST_PLOT})\n")?;
    text.push_str("| world | group | at 50 % | at 80 % | at 95 % | named at 80 % | \"not reached\" and right | error at +10 | half width of 95 % |\n");
    text.push_str("|---|---|---|---|---|---|---|---|---|\n");
    for row in as_the_app(table) {
        let gate = world(&row).map_or(0.0, forecast_gate);
        writeln!(
            text,
            "| {} | {} | {} | {} | {} | {} | {} | {:.3} | {:.3} |",
            row.text("world"),
            row.text("group"),
            shown(&row, "reached 50", 0.0, 1.0),
            shown(&row, "reached 80", gate, 1.0),
            shown(&row, "reached 95", 0.0, 1.0),
            row.text("reached 80 of"),
            shown(&row, "never", 0.0, 1.0),
            row.number("error"),
            row.number("half width"),
        )?;
    }
    text.push('\n');
    Ok(())
}

fn ways(text: &mut String, table: &Table) -> Result<()> {
    let others: Vec<Row<'_>> = table.rows().filter(|row| row.text("way") != AS_THE_APP).collect();
    if others.is_empty() {
        return Ok(());
    }
    text.push_str("## Ways to fit\n\n");
    text.push_str("Relearning inside a plan is over after 12 services in the app: chosen here. Where times come to rest, a fit whose relearning never ends names a service too early far more often; an end after 6 does little better, names fewer services, and pays with a larger error where relearning goes on.\n\n");
    text.push_str("| world | group | way | trainees | 80 %, +10 | 95 %, +10 | at 50 % | at 80 % | error at +10 | half width of 95 % |\n");
    text.push_str("|---|---|---|---|---|---|---|---|---|---|\n");
    let mut places: Vec<(&str, &str)> = Vec::new();
    for row in &others {
        let place = (row.text("world"), row.text("group"));
        if !places.contains(&place) {
            places.push(place);
        }
    }
    for place in places {
        for row in table.rows().filter(|row| (row.text("world"), row.text("group")) == place) {
            writeln!(
                text,
                "| {} | {} | {} | {} | {} | {} | {} | {} | {:.3} | {:.3} |",
                place.0,
                place.1,
                row.text("way"),
                row.text("trainees"),
                shown(&row, "cover 80 +10", 0.76, 0.88),
                shown(&row, "cover 95 +10", 0.92, 0.98),
                shown(&row, "reached 50", 0.0, 1.0),
                shown(&row, "reached 80", world(&row).map_or(0.0, forecast_gate), 1.0),
                row.number("error"),
                row.number("half width"),
            )?;
        }
    }
    text.push('\n');
    Ok(())
}

fn rule_tables(text: &mut String, table: &Table) -> Result<()> {
    if table.is_empty() {
        return Ok(());
    }
    text.push_str("## Rules for sign-off\n\n");
    text.push_str("Exact, nothing is drawn. p_u and p_a are the unacceptable and the acceptable failure rate; a pass at p_u throughout is a false pass. The learner's failure rate falls from .60 to .05 (p = .05 + .55 exp(-t/8)); premature is a pass while it is still at p_u or above. Recommended is, of the rules that keep alpha and pass 8 in 10 at p_a, the one that passes the learner most often, and of those within 1 in 100 of it the one that takes the learner the fewest services. The last column is the smallest fixed number of services (and failures) that keeps alpha and passes at p_a as often as the rule does.\n\n");
    writeln!(text, "![Chance of a pass by each service](study/{})\n", rules::PLOT)?;
    let mut setting = "";
    for row in table.rows() {
        if row.text("setting") != setting {
            setting = row.text("setting");
            let winner = table.rows().find(|row| row.text("setting") == setting && row.text("recommended") == "yes");
            let winner = winner.map_or("none", |row| row.text("rule"));
            writeln!(text, "\n### p_u / p_a {setting}\n\nRecommended: **{winner}**.\n")?;
            text.push_str("| rule | keeps alpha | fewest | false pass | services at p_u | pass at p_a | services at p_a | learner passes | premature | services of learner | fixed number of equal power |\n");
            text.push_str("|---|---|---|---|---|---|---|---|---|---|---|\n");
        }
        let cells = [
            "rule",
            "kept",
            "fewest",
            "false pass",
            "services at p_u",
            "pass",
            "services at p_a",
            "learner",
            "premature",
            "services of learner",
        ];
        let fixed = match row.text("fixed of equal power") {
            "" => "none within 1000".to_owned(),
            services => format!("{services} ({})", row.text("its failures")),
        };
        writeln!(text, "| {} | {fixed} |", cells.map(|cell| row.text(cell)).join(" | "))?;
    }
    text.push('\n');
    Ok(())
}

fn decision_table(text: &mut String, table: &Table) -> Result<()> {
    if table.is_empty() {
        return Ok(());
    }
    let apart = |row: &Row<'_>| row.number("pass errors").abs().max(row.number("services errors").abs());
    let most = table.rows().map(|row| apart(&row)).fold(0.0, f64::max);
    text.push_str("## Decisions of simulated trainees\n\n");
    writeln!(
        text,
        "{} trainees for each line, judged one by one, against the exact recursion: differences in standard errors, at most {} allowed; the largest is {most:.1} of {} lines.\n",
        decisions::TRAINEES,
        decisions::MOST_ERRORS,
        table.rows().count()
    )?;
    text.push_str(
        "| p_u / p_a | rule | path | exact pass | simulated | errors apart | exact services | errors apart |\n",
    );
    text.push_str("|---|---|---|---|---|---|---|---|\n");
    for row in table.rows() {
        let mark = if apart(&row) < decisions::MOST_ERRORS { "" } else { " **!**" };
        let services = row.text("exact services");
        writeln!(
            text,
            "| {} | {} | {} | {} | {} | {}{mark} | {} | {} |",
            row.text("setting"),
            row.text("rule"),
            row.text("path"),
            row.text("exact pass"),
            row.text("simulated pass"),
            row.text("pass errors"),
            if services == "NaN" { "not asked" } else { services },
            if services == "NaN" { "" } else { row.text("services errors") },
        )?;
    }
    text.push('\n');
    Ok(())
}

fn calibration_table(text: &mut String, table: &Table) -> Result<()> {
    if table.is_empty() {
        return Ok(());
    }
    text.push_str("## Calibration by simulation of the average over variances\n\n");
    writeln!(
        text,
        "A reduced run after Talts and others (2018): {} groups a line, one shape (the power law is true and fitted), normal scatter, truths of the variances drawn evenly from a box; places of the truths in their posteriors are worked out, not counted among draws. Even places have a chi-squared of 20 bins with p above {}. What it does not cover: eight shapes, Student-t weights, the freedom of fewer than 16 services each.\n",
        calibration::GROUPS,
        calibration::RAREST
    )?;
    writeln!(text, "![Places of truths in their posteriors](study/{})\n", calibration::PLOT)?;
    text.push_str(
        "| group | way | quantity | chi-squared | p | inside 80 % | inside 95 % |\n|---|---|---|---|---|---|---|\n",
    );
    for row in table.rows() {
        let mark = if row.number("p") > calibration::RAREST { "" } else { " **!**" };
        let cells = ["group", "way", "quantity", "chi-squared", "p"].map(|cell| row.text(cell)).join(" | ");
        writeln!(text, "| {cells}{mark} | {} | {} |", row.text("inside 80"), row.text("inside 95"))?;
    }
    text.push('\n');
    Ok(())
}

fn durations(text: &mut String, table: &Table) -> Result<()> {
    let minutes: f64 = table.rows().map(|row| row.number("minutes")).filter(|minutes| minutes.is_finite()).sum();
    let trainees: f64 = table.rows().map(|row| row.number("trainees")).filter(|count| count.is_finite()).sum();
    writeln!(
        text,
        "## How it was run\n\n`cargo xtask study` at low priority on two cores busy with other work: {minutes:.0} minutes for {} cells of intervals and forecasts with {trainees:.0} trainees scored; the other parts take seconds. Minutes of each cell stand in `study/{}`.",
        table.rows().count(),
        intervals::FILE
    )?;
    Ok(())
}

/// Places of the sizes of group across a panel.
fn places() -> impl Iterator<Item = (usize, f64)> {
    SIZES.iter().enumerate().map(|(at, size)| (size.0, at as f64 + 1.0))
}

fn row_of<'a>(table: &'a Table, of: World, trainees: usize) -> Option<Row<'a>> {
    as_the_app(table).find(|row| world(row) == Some(of) && row.text("group").parse::<usize>() == Ok(trainees))
}

fn coverage_plot(table: &Table) -> String {
    let mut picture = Picture::new(
        "Services inside their interval, by size of group (bars: two standard errors; shaded: the gate)",
        AHEAD.len(),
        LEVELS.len(),
    );
    for (line, (level, gate)) in LEVELS.into_iter().zip(COVERAGE_GATES).enumerate() {
        for (column, ahead) in AHEAD.into_iter().enumerate() {
            let up = if level == 80 { (0.68, 0.92) } else { (0.88, 1.0) };
            let title = format!("{level} % interval, {ahead} ahead");
            let frame = Frame { title, across: (0.5, SIZES.len() as f64 + 0.5), up, ticks_across: Vec::new() };
            let mut panel = picture.panel(column, line, &frame);
            panel.band(gate.0, gate.1);
            panel.level(f64::from(level) / 100.0, "");
            for (trainees, place) in places() {
                panel.name_across(place, &trainees.to_string());
                for (at, of) in World::ALL.into_iter().enumerate() {
                    let Some(row) = row_of(table, of, trainees) else { continue };
                    let name = coverage_column(level, ahead);
                    let series = Series { place: at, name: of.name().to_owned() };
                    let x = place + 0.15 * (at as f64 - 1.5);
                    panel.dot(&series, (x, row.number(&name)), row.number(&format!("{name} se")));
                }
            }
        }
    }
    picture.finish(&World::ALL.map(|world| world.name().to_owned()))
}

fn forecast_plot(table: &Table) -> String {
    let mut picture =
        Picture::new("Target reached by the service named, by the chance stated (bars: 2 se; line: as stated)", 2, 2);
    for (at, of) in World::ALL.into_iter().enumerate() {
        let frame = Frame {
            title: of.name().to_owned(),
            across: (40.0, 100.0),
            up: (0.2, 1.0),
            ticks_across: vec![50.0, 80.0, 95.0],
        };
        let mut panel = picture.panel(at % 2, at / 2, &frame);
        let stated = Series { place: 7, name: "as stated".to_owned() };
        panel.line(&stated, &[(40.0, 0.4), (100.0, 1.0)]);
        for (place, (trainees, _)) in places().enumerate() {
            let Some(row) = row_of(table, of, trainees) else { continue };
            let series = Series { place, name: format!("groups of {trainees}") };
            let shift = 1.2 * (place as f64 - (SIZES.len() as f64 - 1.0) / 2.0);
            for chance in CHANCES {
                let name = format!("reached {chance}");
                let error = row.number(&format!("{name} se"));
                panel.dot(&series, (f64::from(chance) + shift, row.number(&name)), error);
            }
        }
    }
    picture.finish(&SIZES.map(|size| format!("groups of {}", size.0)))
}
