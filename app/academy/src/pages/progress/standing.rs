//! Standing in plain words: where a trainee is, what is advised and why, what is missing, what is decided.

use leptos::prelude::*;
use logbook::fact::Fact;
use practicum::competency::Held;
use practicum::evidence::widening_chances;
use practicum::ids::{EntryId, PersonId, ServiceId};
use practicum::section::Plan;
use practicum::standing::Due;
use practicum::standing::{Advice, Need, PlanCount, PlanDecision, Reasoned, Standing};

use super::{CoachingLine, Counted, ServiceLinks};
use crate::pages::form::{ChoiceInput, Field, OnceUnlocked, Saving, SavingLine, TextInput, name};
use crate::pages::replies::Replies;
use crate::pages::trial::LatestTrial;
use crate::session::session;

/// Standing and the instructor's decision.
#[component]
pub(super) fn StandingSection(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let person = id.clone();
    let of_trial = id.clone();
    let standing = Memo::new(move |_| session.standing(&person));
    let advised = Signal::derive(move || standing.with(|standing| standing.as_ref().map(|standing| standing.advice)));
    view! {
        <section class="standing">
            <h2>"Standing"</h2>
            {move || standing.get().map(|standing| view! { <Words standing=standing/> })}
            <h3>"Trial at the plan of the sign-off"</h3>
            <LatestTrial person=of_trial.clone()/>
            <OnceUnlocked fallback=|| ()>
                <Decide id=id.clone() advised=advised/>
            </OnceUnlocked>
        </section>
    }
}

/// The standing in words.
#[component]
fn Words(
    /// The standing.
    standing: Standing,
) -> impl IntoView {
    let mark = match standing.advice {
        Advice::Widen(_) | Advice::Timed => "▲",
        Advice::Narrow(_) | Advice::ObserveAgain => "▼",
        Advice::Stay => "●",
        Advice::NotAssessed => "○",
    };
    let reasons = standing.reasons.clone();
    let missing = standing.missing.clone();
    let gap = standing.gap.clone();
    let last: Vec<ServiceId> = gap.last.iter().map(|(id, _)| id.clone()).collect();
    let due = (gap.due != Due::Nothing).then(|| {
        view! {
            <p class="notice notice-caution">
                {format!("▲ {} ({} days since the last live service)", gap.due.say(), gap.days)}" "<ServiceLinks ids=last/>
            </p>
        }
    });
    let widening = session().book().and_then(|book| Some(widening_chances(&book.rules)?.say(&book.rules)));
    let source = session().book().and_then(|book| {
        let (_, source) = book.sources.iter().find(|(part, _)| part == "rules of progression")?.clone();
        Some(source)
    });
    let advised = matches!(standing.advice, Advice::Widen(_) | Advice::Timed);
    let risk =
        widening.clone().filter(|_| advised).map(|words| view! { <p>{format!("How often it is wrong: {words}")}</p> });
    let decided = standing.decision.as_ref().map(|d| format!("decided on {}: {}", d.at.date_naive(), d.why));
    view! {
        <p class="lead">{format!("Present plan: {}", standing.plan.word())}<span class="small">{decided.map(|words| format!(" ({words})"))}</span></p>
        {standing.decision.as_ref().map(|decision| view! { <Replies entry=decision.id.clone()/> })}
        <p class="advice"><strong>{format!("{mark} Advice: {}", standing.advice.say())}</strong>" (the instructor decides)"</p>
        {risk}
        <ReasonList lines=reasons/>
        {due}
        <h3>"What the next plan needs"</h3>
        <ul class="plain-list">{standing.needs.iter().cloned().map(|need| view! { <NeedLine need=need/> }).collect_view()}</ul>
        {(!missing.is_empty()).then(|| view! { <h3>"Missing"</h3><ReasonList lines=missing/> })}
        <h3>"Safety, apart from all else"</h3>
        <ReasonList lines=vec![standing.safety.clone()]/>
        <Counts counts=standing.counts.clone()/>
        {(!standing.coaching.is_empty()).then(|| view! {
            <h3>"To work on"</h3>
            <ul class="plain-list">{standing.coaching.clone().into_iter().map(|coaching| view! { <li><CoachingLine coaching=coaching/></li> }).collect_view()}</ul>
        })}
        <details>
            <summary>"How this was worked out"</summary>
            <ReasonList lines=standing.notes.clone()/>
            {widening.map(|words| view! {
                <p>
                    "The rule for widening, marks alone, followed through every run of services (exact, binomial; each service taken as independent of the others). "
                    {words}" A steady time asked for besides makes the advice rarer. Source of the thresholds: "
                    {source}"; they stand in the "<a href="#/course-book">"course book"</a>"."
                </p>
            })}
        </details>
    }
}

/// Sentences with their services.
#[component]
fn ReasonList(
    /// The sentences.
    lines: Vec<Reasoned>,
) -> impl IntoView {
    let line =
        |reason: Reasoned| view! { <li>{reason.words.clone()}" "<ServiceLinks ids=reason.services.clone()/></li> };
    view! { <ul class="plain-list">{lines.into_iter().map(line).collect_view()}</ul> }
}

/// One need.
#[component]
fn NeedLine(
    /// The need.
    need: Need,
) -> impl IntoView {
    let mark = if need.met { "✓ there: " } else { "○ missing: " };
    view! { <li>{mark}{need.says.words.clone()}" "<ServiceLinks ids=need.says.services.clone()/></li> }
}

fn counted(ids: Vec<ServiceId>) -> impl IntoView {
    view! { <td><Counted number=u64::try_from(ids.len()).unwrap_or(u64::MAX) ids=ids/></td> }
}

/// Services at each plan.
#[component]
fn Counts(
    /// The counts.
    counts: Vec<PlanCount>,
) -> impl IntoView {
    let row = |count: PlanCount| {
        let plan = count.plan.map_or("no plan recorded", Plan::word);
        let quality = count.quality_met.map_or_else(|| "not yet".to_owned(), |day| format!("since {day}"));
        view! {
            <tr>
                <th scope="row">{plan}</th>
                {[count.services, count.assessed, count.acceptable, count.imported].map(counted)}
                <td class="day">{quality}</td>
            </tr>
        }
    };
    view! {
        <div class="table-wrap" role="region" tabindex="0" aria-label="Services by plan, as the advice counts them"><table>
            <caption>"Services by plan, as the advice counts them"</caption>
            <thead><tr>
                <th scope="col">"Plan"</th><th scope="col">"Worked"</th><th scope="col">"Assessed"</th>
                <th scope="col">"Acceptable"</th><th scope="col">"Imported, not observed"</th><th scope="col">"Quality met"</th>
            </tr></thead>
            <tbody>{counts.into_iter().map(row).collect_view()}</tbody>
        </table></div>
    }
}

/// The instructor's decision about the plan.
#[component]
fn Decide(
    /// The trainee.
    id: PersonId,
    /// What the rules advise.
    advised: Signal<Option<Advice>>,
) -> impl IntoView {
    let session = session();
    let (plan, why) = (Field::empty(), Field::empty());
    let saving = Saving::new();
    let save = move |_| {
        let chosen = plan.read(|typed| {
            Plan::ALL.into_iter().find(|plan| plan.word() == typed).ok_or_else(|| "Choose the plan.".to_owned())
        });
        let reason = why.read(|typed| name("why, in a few words", typed));
        let (Some(chosen), Some(reason)) = (chosen, reason) else { return };
        let Some(by) = untrack(|| session.who()) else { return };
        let decision = PlanDecision {
            id: EntryId::new(String::new()),
            trainee: id.clone(),
            plan: chosen,
            at: crate::session::reading().at,
            by: by.id,
            why: reason,
        };
        saving.write(session, vec![Fact::PlanDecided(decision)], "The decision is recorded.".to_owned(), move || {
            plan.clear();
            why.clear();
        });
    };
    let plans = Plan::ALL.map(|plan| (plan.word().to_owned(), super::super::couch::capital(plan.word()))).to_vec();
    let said = move || advised.get().map(|advice| format!("The rules advise: {}.", advice.say()));
    view! {
        <details class="decide">
            <summary>"Record a decision about the plan"</summary>
            <p>{said}</p>
            <ChoiceInput legend="Plan from now on" id="decide-plan" field=plan options=plans/>
            <TextInput label="Why" id="decide-why" field=why/>
            <SavingLine saving=saving/>
            <button type="button" class="button-primary" disabled=move || saving.busy() on:click=save>"Record the decision"</button>
        </details>
    }
}

/// Competencies: evidence, and how each stands.
#[component]
pub(super) fn Competencies(
    /// The trainee.
    id: PersonId,
) -> impl IntoView {
    let session = session();
    let rows = move || {
        let trainee = id.clone();
        session
            .competencies(&trainee)
            .into_iter()
            .map(|row| {
                let state = match row.held {
                    Held::Undecided => "○ nobody decided yet".to_owned(),
                    Held::NotYet => "○ looked at: not yet".to_owned(),
                    Held::Signed => "✓ signed off".to_owned(),
                    Held::Withdrawn => "■ withdrawn".to_owned(),
                    Held::Lapsed(day) => format!("▲ lapsed since {day}"),
                    Held::Suspended(_) => "■ suspended after a safety breach".to_owned(),
                };
                let met = row.evidence.lines.iter().filter(|line| line.met).count();
                let evidence = format!("{met} of {} met", row.evidence.lines.len());
                let link = format!("#/sign-off/{}/{}", trainee, row.competency.id);
                view! { <tr><th scope="row"><a href=link>{row.competency.label.clone()}</a></th><td>{state}</td><td>{evidence}</td></tr> }
            })
            .collect_view()
    };
    view! {
        <h2>"Competencies"</h2>
        <div class="table-wrap" role="region" tabindex="0" aria-label="Evidence and sign-off by competency"><table>
            <caption>"Evidence and sign-off by competency. A sign-off is not a licence."</caption>
            <thead><tr><th scope="col">"Competency"</th><th scope="col">"Stands"</th><th scope="col">"Evidence"</th></tr></thead>
            <tbody>{rows}</tbody>
        </table></div>
    }
}
