//! Reads how work is judged: rubric, faults, independence, rules of progression and competencies.

use super::walk::{File, Ids, Row};
use super::working::{PLANS, nearest};
use crate::course_book::{
    AssessorRules, CaseStudyRules, Competency, Criterion, DoubleRules, EvidenceNeeded, Fault, ForecastRules,
    GroupRules, IndependenceLevel, RetentionRules, Rules, ScoreRules, TrialRule, TrialRules, TwoEyeRules,
};
use crate::ids::{CompetencyId, CriterionId, FaultId};
use crate::order::InOrder;
use crate::section::Plan;

/// The rows of the rubric.
pub(super) struct Criteria {
    pub(super) list: Vec<Criterion>,
    /// The file could not be read: references to criteria cannot be judged.
    broken: bool,
}

impl Criteria {
    /// Reads a list of criterion ids, each with its line, and says which are not in the rubric.
    pub(super) fn references(&self, row: &Row<'_, '_>, key: &'static str, least: usize) -> Vec<(usize, String)> {
        let ids = row.texts_at(key, least);
        for (line, id) in &ids {
            if !id.is_empty() && !self.broken && !self.list.iter().any(|known| known.id.as_str() == id) {
                let advice = nearest(id, self.list.iter().map(|known| known.id.as_str()));
                row.say_in_line(
                    *line,
                    format!("no criterion “{}” stands in rubric.toml: {advice}", super::walk::cut(id)),
                );
            }
        }
        ids
    }
}

/// Reads `rubric.toml`.
pub(super) fn criteria(file: &File<'_>) -> Criteria {
    let top = file.top();
    top.source_if_any("rubric: criteria and levels");
    let rows = top.rows("criterion", 1);
    top.done();
    let mut seen = Ids::default();
    let mut list: Vec<Criterion> = Vec::new();
    for row in &rows {
        let id = row.id(&mut seen);
        let criterion = Criterion {
            id: CriterionId::new(id),
            label: row.text("label"),
            descriptors: ["not_yet", "nearly", "meets", "strong"].map(|key| row.text(key)),
            safety_critical: row.yes("safety_critical"),
            core: row.yes("core"),
            in_drills: row.yes("in_drills"),
            without_tint: row.yes("without_tint"),
            watches_clocks: row.yes("watches_clocks"),
        };
        if criterion.watches_clocks && list.iter().any(|other| other.watches_clocks) {
            row.say(
                "watches_clocks",
                "a second criterion watches the clocks: keep exactly one with watches_clocks = true",
            );
        }
        row.done();
        list.push(criterion);
    }
    let need = |what: &str, found: bool| {
        if let Some(last) = rows.last().filter(|_| !found) {
            last.say("", format!("no criterion in this file has {what} = true: set it for at least one"));
        }
    };
    need("safety_critical", list.iter().any(|criterion| criterion.safety_critical));
    need("core", list.iter().any(|criterion| criterion.core));
    need("watches_clocks", list.iter().any(|criterion| criterion.watches_clocks));
    Criteria { list, broken: file.is_broken() }
}

/// Reads `faults.toml`.
pub(super) fn faults(file: &File<'_>) -> Vec<Fault> {
    let top = file.top();
    let rows = top.rows("fault", 1);
    top.source("faults, causes and coaching lines");
    top.done();
    let mut seen = Ids::default();
    let fault = |row: &Row<'_, '_>| {
        let id = row.id(&mut seen);
        let fault = Fault {
            id: FaultId::new(id),
            label: row.text("label"),
            causes: row.texts("causes", 1),
            coaching: row.text("coaching"),
            safety: row.yes("safety"),
        };
        if fault.coaching.contains('\n') {
            row.say("coaching", "“coaching” is one line: put it on one line");
        }
        row.done();
        fault
    };
    rows.iter().map(fault).collect()
}

/// Reads `independence.toml`.
pub(super) fn independence(file: &File<'_>) -> Vec<IndependenceLevel> {
    let top = file.top();
    let rows = top.rows("level", 0);
    top.source("independence levels");
    let mut levels: Vec<IndependenceLevel> = Vec::new();
    for row in &rows {
        let level = u8::try_from(row.whole("level", 0..=6)).unwrap_or_default();
        if levels.iter().any(|other| other.level == level) && row.has("level") {
            row.say("level", format!("level {level} stands in the file twice: keep one"));
        }
        levels.push(IndependenceLevel { level, label: row.text("label") });
        row.done();
    }
    for level in 0..=6 {
        if !levels.iter().any(|known| known.level == level) {
            top.say(
                "level",
                format!("level {level} is missing: the levels run from 0 to 6, add a [[level]] with level = {level}"),
            );
        }
    }
    top.done();
    levels.order_by_key(|level| level.level);
    levels
}

/// The rules, and whether what they say about the trial can be relied on.
pub(super) struct ReadRules {
    pub(super) rules: Rules,
    /// Shortest run and target plan, when both could be read.
    trial_run: Option<(Plan, u32)>,
}

/// Reads `rules.toml`.
pub(super) fn rules(file: &File<'_>) -> ReadRules {
    let top = file.top();
    top.source("rules of progression");
    let [widening, narrowing, quality, sign_off, dwell] =
        ["widening", "narrowing", "quality", "sign_off", "dwell"].map(|part| top.part(part));
    let [coaching, time, trial, gaps, gate] = ["coaching", "time", "trial", "gaps", "gate"].map(|part| top.part(part));
    let two_eyes = top.part_if_any("two_eyes");
    let forecast = top.part_if_any("forecast");
    let [follow_up, case_study, retention, group, double] =
        ["follow_up", "case_study", "retention", "group", "double_marking"].map(|part| top.part_if_any(part));
    top.done();
    let target_plan = sign_off.one_of("target_plan", &PLANS);
    let trial_rules = trial_rules(&trial);
    let days = gap_days(&gaps);
    let rules = Rules {
        widen_last: widening.whole("last", 1..=50),
        widen_steady_percent: widening.number("steady_percent", 0.0..=100.0),
        narrow_after_breach: narrowing.yes("after_breach"),
        narrow_after_low: narrowing.whole("after_low", 1..=50),
        quality_last: quality.whole("last", 1..=50),
        breach_free_last: sign_off.whole("breach_free_last", 1..=100),
        target_plan: target_plan.unwrap_or(Plan::Whole),
        late_seconds: dwell.whole("late_seconds", 0..=120),
        early_warning_seconds: dwell.whole("early_warning_seconds", 5..=300),
        fault_short: times_of_last(&coaching, "short"),
        fault_long: times_of_last(&coaching, "long"),
        pause_percent: time.whole("pause_percent", 0..=100),
        refresher_days: days[0],
        supervised_days: days[1],
        reobserve_days: days[2],
        lapse_days: days[3],
        overridable: overridable(&gate),
        trial: trial_rules,
        two_eyes: two_eyes.map(|part| two_eye_rules(&part)),
        forecast: forecast.map(|part| forecast_rules(&part)),
        follow_up_days: follow_up.map(|part| follow_up_days(&part)).unwrap_or_default(),
        case_study: case_study.map(|part| case_study_rules(&part)),
        retention: retention.map(|part| retention_rules(&part)),
        group: group.map(|part| group_rules(&part)),
        double: double.map(|part| double_rules(&part)),
    };
    for part in [widening, narrowing, quality, sign_off, dwell, coaching, time, gate] {
        part.done();
    }
    let readable = !file.is_broken() && trial.has("shortest_run") && rules.trial.shortest_run > 0;
    let trial_run = target_plan.filter(|_| readable).map(|plan| (plan, rules.trial.shortest_run));
    ReadRules { rules, trial_run }
}

fn trial_rules(trial: &Row<'_, '_>) -> TrialRules {
    let rules = TrialRules {
        unacceptable: trial.number("unacceptable", 0.0..=1.0),
        acceptable: trial.number("acceptable", 0.0..=1.0),
        horizon: trial.whole("horizon", 1..=200),
        alpha: trial.number("alpha", 0.0..=1.0),
        shortest_run: trial.whole("shortest_run", 1..=200),
        unassessed_share: trial.number("unassessed_share", 0.0..=1.0),
        score: trial.part_if_any("score").map(|score| score_rules(&score)),
        assessors: trial.part_if_any("assessors").map(|part| assessor_rules(&part)).unwrap_or_default(),
        rule: trial_rule(trial),
    };
    let inside = |share: f64| share > 0.0 && share < 1.0;
    for (key, share) in [("unacceptable", rules.unacceptable), ("acceptable", rules.acceptable), ("alpha", rules.alpha)]
    {
        if trial.has(key) && !inside(share) {
            trial.say(key, format!("“{key}” is a chance above 0 and below 1: write for example {key} = 0.10"));
        }
    }
    if inside(rules.acceptable) && inside(rules.unacceptable) && rules.acceptable >= rules.unacceptable {
        trial
            .say("acceptable", "the acceptable failure rate must be below the unacceptable one: change one of the two");
    }
    if trial.has("horizon") && trial.has("shortest_run") && rules.shortest_run > rules.horizon {
        trial
            .say("shortest_run", "“shortest_run” is above “horizon”, so nobody could ever pass: change one of the two");
    }
    trial.done();
    rules
}

/// Reads the rule of the trial; the learning chart where none is written.
fn trial_rule(trial: &Row<'_, '_>) -> TrialRule {
    if !trial.has("rule") {
        return TrialRule::Learning;
    }
    let text = trial.text("rule");
    TrialRule::read(&text).unwrap_or_else(|| {
        trial.say(
            "rule",
            format!(
                "“{}” is no rule: write one as the table of rules on the course book’s page does, for example \
                 rule = \"learning chart\", or leave the line out",
                super::walk::cut(&text)
            ),
        );
        TrialRule::Learning
    })
}

fn score_rules(score: &Row<'_, '_>) -> ScoreRules {
    let rules = ScoreRules {
        unacceptable: score.number("unacceptable", 0.0..=3.0),
        acceptable: score.number("acceptable", 0.0..=3.0),
        spread: score.number("spread", 0.25..=1.5),
    };
    let read = score.has("unacceptable") && score.has("acceptable");
    if read && rules.acceptable < rules.unacceptable + 0.1 {
        score.say(
            "acceptable",
            "the acceptable mean mark must be at least 0.1 above the unacceptable one: change one of the two",
        );
    }
    score.done();
    rules
}

fn two_eye_rules(part: &Row<'_, '_>) -> TwoEyeRules {
    let rules = TwoEyeRules {
        last: part.whole("last", 1..=50),
        planned_share: part.number("planned_share", 0.5..=0.99),
        most_overrun: part.number("most_overrun", 0.0..=0.05),
    };
    part.done();
    rules
}

fn forecast_rules(part: &Row<'_, '_>) -> ForecastRules {
    let rules = ForecastRules {
        tau: part.number("tau", 0.0..=1.0),
        ahead: part.whole("ahead", 1..=60),
        standard_chance: part.number("standard_chance", 0.5..=0.99),
        standard_last: part.whole("standard_last", 1..=20),
        standard_leeway_percent: part.number("standard_leeway_percent", 0.0..=50.0),
    };
    part.done();
    rules
}

fn follow_up_days(part: &Row<'_, '_>) -> Vec<u32> {
    let days = part.wholes("days", 1, 1..=365, "[7, 28, 42]");
    if days.windows(2).any(|pair| matches!(pair, [earlier, later] if later <= earlier)) {
        part.say("days", "“days” run from the first look to the last: put them in order, each once");
    }
    part.done();
    days
}

fn case_study_rules(part: &Row<'_, '_>) -> CaseStudyRules {
    let rules = CaseStudyRules {
        window_days: part.whole("window_days", 1..=730),
        resubmissions: part.whole("resubmissions", 0..=20),
    };
    part.done();
    rules
}

fn retention_rules(part: &Row<'_, '_>) -> RetentionRules {
    let years = |key| part.whole(key, 1..=100);
    let rules = RetentionRules {
        practice_model_years: years("practice_model_years"),
        minor_years: years("minor_years"),
        of_age: part.whole("of_age", 14..=25),
        trainee_years: years("trainee_years"),
    };
    part.done();
    rules
}

fn group_rules(part: &Row<'_, '_>) -> GroupRules {
    let rules = GroupRules {
        stall_services: part.whole("stall_services", 1..=200),
        stall_days: part.whole("stall_days", 1..=365),
        weak_share: part.number("weak_share", 0.1..=1.0),
        compare_from: part.whole("compare_from", 5..=100),
    };
    part.done();
    rules
}

fn double_rules(part: &Row<'_, '_>) -> DoubleRules {
    let rules = DoubleRules { share: part.number("share", 0.01..=1.0), needed: part.whole("needed", 10..=1_000) };
    part.done();
    rules
}

fn assessor_rules(part: &Row<'_, '_>) -> AssessorRules {
    let rules = AssessorRules {
        false_accept: part.number("false_accept", 0.0..=0.5),
        false_reject: part.number("false_reject", 0.0..=0.5),
    };
    part.done();
    rules
}

fn gap_days(gaps: &Row<'_, '_>) -> [u32; 4] {
    let keys = ["refresher_days", "supervised_days", "reobserve_days", "lapse_days"];
    let days = keys.map(|key| gaps.whole(key, 1..=3650));
    for (pair, names) in days.windows(2).zip(keys.windows(2)) {
        if let ([earlier, later], [early_name, late_name]) = (pair, names)
            && later <= earlier
            && keys.iter().all(|key| gaps.has(key))
        {
            gaps.say(late_name, format!("“{late_name}” must be more days than “{early_name}”: change one of the two"));
        }
    }
    gaps.done();
    days
}

fn times_of_last(coaching: &Row<'_, '_>, key: &'static str) -> (u32, u32) {
    let numbers = coaching.wholes(key, 2, 1..=50, "[2, 3]");
    match numbers.as_slice() {
        [times, last] if times <= last => (*times, *last),
        [] | [_] => (1, 1),
        _ => {
            coaching.say(key, format!("“{key}” is a pair [times, of the last], the first not above the second: write for example {key} = [2, 3]"));
            (1, 1)
        }
    }
}

/// Reads the gate reasons that a named instructor may override; the gate says which may stand here at all.
fn overridable(gate: &Row<'_, '_>) -> Vec<String> {
    let codes = gate.texts_at("overridable", 0);
    let known = crate::gate::OVERRIDABLE_CODES;
    for (line, code) in &codes {
        if !known.contains(&code.as_str()) {
            let advice = format!("“{}” cannot be overridden: use only {}", super::walk::cut(code), known.join(", "));
            gate.say_in_line(*line, advice);
        }
    }
    codes.into_iter().map(|(_, code)| code).collect()
}

/// Reads `competencies.toml`.
pub(super) fn competencies(
    file: &File<'_>,
    criteria: &Criteria,
    rules: &ReadRules,
    n_shields: usize,
) -> Vec<Competency> {
    let top = file.top();
    let rows = top.rows("competency", 1);
    top.source("evidence of the competencies");
    top.done();
    let mut seen = Ids::default();
    let mut list: Vec<Competency> = Vec::new();
    for row in &rows {
        let id = row.id(&mut seen);
        let label = row.text("label");
        let whole_service = row.yes("whole_service");
        let needed = row.part("evidence").called("evidence of", &id);
        let evidence = evidence(&needed, criteria, n_shields);
        if whole_service {
            if list.iter().any(|other| other.whole_service) {
                row.say(
                    "whole_service",
                    "a second competency is the whole service: keep exactly one with whole_service = true",
                );
            }
            check_trial_run(&needed, &evidence, rules);
        }
        row.done();
        list.push(Competency { id: CompetencyId::new(id), label, evidence, whole_service });
    }
    if let Some(last) = rows.last().filter(|_| !list.iter().any(|competency| competency.whole_service)) {
        last.say("", "no competency in this file is the whole service: set whole_service = true for exactly one");
    }
    list
}

fn evidence(row: &Row<'_, '_>, criteria: &Criteria, n_shields: usize) -> EvidenceNeeded {
    let count = |key: &'static str| row.whole_or_zero(key, 500);
    let plans = row.part_if_any("at_plan");
    let mut at_plan = Vec::new();
    if let Some(plans) = &plans {
        for (word, plan) in PLANS {
            let services = plans.whole_or_zero(word, 500);
            if services > 0 {
                at_plan.push((plan, services));
            }
        }
        plans.done();
    }
    let evidence = EvidenceNeeded {
        live: count("live"),
        acceptable: count("acceptable"),
        at_plan,
        practice_models: count("practice_models"),
        each_condition: count("each_condition"),
        shield_sizes: count("shield_sizes"),
        with_tint: count("with_tint"),
        without_tint: count("without_tint"),
        observed: count("observed"),
        observed_days: count("observed_days"),
        real_environment: row.has("real_environment") && row.yes("real_environment"),
        assessors: count("assessors"),
        strips: count("strips"),
        heads: count("heads"),
        criteria: criteria.references(row, "criteria", 0).into_iter().map(|(_, id)| CriterionId::new(id)).collect(),
        level_at_least: u8::try_from(row.whole("level_at_least", 0..=6)).unwrap_or_default(),
    };
    let at_plans: u32 = evidence.at_plan.iter().map(|(_, services)| services).sum();
    let within = [
        ("acceptable", evidence.acceptable),
        ("at_plan", at_plans),
        ("practice_models", evidence.practice_models),
        ("each_condition", evidence.each_condition.saturating_mul(3)),
        ("shield_sizes", evidence.shield_sizes),
        ("with_tint", evidence.with_tint.saturating_add(evidence.without_tint)),
        ("observed", evidence.observed),
        ("assessors", evidence.assessors),
    ];
    for (key, services) in within {
        if services > evidence.live {
            row.say(
                key,
                format!("“{key}” needs {services} live services but “live” is only {}: raise “live”", evidence.live),
            );
        }
    }
    if evidence.observed_days > evidence.observed {
        let (days, observed) = (evidence.observed_days, evidence.observed);
        row.say(
            "observed_days",
            format!(
                "“observed_days” needs {days} observed services but “observed” is only {observed}: raise “observed”"
            ),
        );
    }
    for (key, drills) in [("strips", evidence.strips), ("heads", evidence.heads)] {
        if evidence.real_environment && drills > 0 {
            row.say(
                key,
                format!("“real_environment” refuses drills but “{key}” asks for {drills}: take one of the two out"),
            );
        }
    }
    if n_shields > 0 && usize::try_from(evidence.shield_sizes).unwrap_or(usize::MAX) > n_shields {
        row.say(
            "shield_sizes",
            format!("only {n_shields} shield sizes stand in shields.toml: lower “shield_sizes” or add sizes"),
        );
    }
    if evidence.live == 0 && evidence.strips == 0 && evidence.heads == 0 {
        row.say("live", "this competency asks for no evidence at all: set “live”, “strips” or “heads”");
    }
    row.done();
    evidence
}

/// The counts must let a trainee reach the shortest run that can pass the trial.
fn check_trial_run(row: &Row<'_, '_>, evidence: &EvidenceNeeded, rules: &ReadRules) {
    let Some((plan, shortest_run)) = rules.trial_run else { return };
    let services = evidence.at_plan.iter().find(|(at, _)| *at == plan).map_or(0, |(_, services)| *services);
    if services < shortest_run {
        row.say(
            "at_plan",
            format!(
                "{services} services at the plan “{}” are asked for, but the shortest run that can pass the trial is {shortest_run} \
                 (rules.toml): set the number in at_plan to {shortest_run} or more",
                plan.word()
            ),
        );
    }
}
