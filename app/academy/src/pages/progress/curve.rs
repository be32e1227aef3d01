//! Hands-on times and where they are going: the curve, the forecast, and whether the trainee is getting quicker.

use leptos::prelude::*;
use practicum::couch::Stop;
use practicum::course_book::Work;
use practicum::evidence::LeftOut;
use practicum::evidence::learning::{
    Answer, Basis, Forecast, Needed, PlanForecast, Response, in_plan, notes, say_no_forecast, sentence, workings,
};
use practicum::ids::StageId;
use practicum::moment::{Seconds, format_seconds};
use practicum::section::Plan;
use practicum::service::{Ending, Service};
use practicum::standing::may_show_targets;

use super::charts::{Drawn, head, links, steps};
use super::lately::recent;
use super::residuals::residual_part;
use crate::charts::{BandPoint, ChanceMark, Chart, CurveDrawing, CurvePart, CurvePoint, TargetStep, curve};
use crate::pages::couch::{Chips, capital};
use crate::session::{Learned, session};

/// The curve of the whole service or of one stage, chosen by the reader.
#[component]
pub(super) fn CurveSection(
    /// What it is drawn from.
    drawn: Drawn,
) -> impl IntoView {
    let session = session();
    let drawn = StoredValue::new(counted(drawn));
    let timed = |work: &Work| matches!(work, Work::HandsOn | Work::Dwell(_));
    let stages = drawn.with_value(|drawn| {
        let stages = drawn.book.stages.iter().filter(|stage| timed(&stage.work));
        stages.map(|stage| (stage.id.clone(), stage.label.clone())).collect::<Vec<_>>()
    });
    // A stage without a name stands for the whole service.
    let whole = StageId::new("");
    let options: Vec<_> = std::iter::once((whole.clone(), "Whole service".to_owned())).chain(stages).collect();
    let (of, ahead) = (RwSignal::new(Some(whole)), RwSignal::new(drawn.with_value(|drawn| Some(drawn.standing.plan))));
    let ask = move |response: &Response| drawn.with_value(|drawn| session.learned(&drawn.trainee, response));
    let plans = untrack(|| ask(&Response::Whole)).map(|learned| learned.asked.ask.plans.clone()).unwrap_or_default();
    let plans: Vec<_> = plans.into_iter().map(|plan| (plan, capital(plan.word()))).collect();
    let labels = options.clone();
    let shown = move || {
        let id = of.get()?;
        let label = labels.iter().find(|(other, _)| *other == id).map(|(_, label)| label.clone())?;
        let response = if id.as_str().is_empty() { Response::Whole } else { Response::Stage(id) };
        let learned = ask(&response)?;
        let part = move || {
            let answer = learned.answer.get();
            drawn.with_value(|drawn| {
                View { drawn, learned: &learned, response: &response, label: &label }.show(answer, ahead.get())
            })
        };
        Some(part.into_any())
    };
    view! {
        <h3>"Times, and where they are going"</h3>
        <div class="stage-choice">
            <Chips legend="Time of" name="curve-of" options=options chosen=of/>
            <Chips legend="Plan of the services to come" name="curve-ahead" options=plans chosen=ahead/>
        </div>
        {shown}
    }
}

/// Keeps the services that the curve numbers: all but those stopped before lotion.
fn counted(mut drawn: Drawn) -> Drawn {
    drawn.services.retain(|(_, service)| !matches!(service.ending, Ending::Stopped(Stop::BeforeLotion(_))));
    for ((number, _), next) in drawn.services.iter_mut().zip(1..) {
        *number = next;
    }
    drawn
}

/// One answer and what it is about.
struct View<'a> {
    drawn: &'a Drawn,
    learned: &'a Learned,
    response: &'a Response,
    label: &'a str,
}

impl View<'_> {
    fn show(&self, answer: Option<Result<std::sync::Arc<Answer>, String>>, ahead: Option<Plan>) -> AnyView {
        let ahead = ahead.unwrap_or(self.drawn.standing.plan);
        let (answer, state) = match answer {
            None => (
                None,
                Some(
                    view! { <p role="status">"○ The curve is being worked out; the services are shown."</p> }
                        .into_any(),
                ),
            ),
            Some(Err(why)) => {
                (None, Some(view! { <p class="notice notice-caution">{format!("▲ {why}")}</p> }.into_any()))
            }
            Some(Ok(answer)) => (Some(answer), None),
        };
        let answer = answer.as_deref();
        let after = answer.map(|answer| {
            view! {
                <ul class="plain-list small">{lines(notes(answer))}</ul>
                <details>
                    <summary>"How this was worked out"</summary>
                    <ul>{lines(workings(answer))}</ul>
                </details>
            }
        });
        let residuals = answer.map(|answer| residual_part(self.drawn, &self.learned.asked, answer));
        view! {
            {state}
            {answer.map(|answer| self.forecasts(answer, ahead))}
            {self.chart(answer, ahead)}
            {after}
            {recent(&self.learned.asked)}
            {residuals}
        }
        .into_any()
    }

    /// Says when the target is reached, plan by plan; before quality is met there, that quality comes first.
    fn forecasts(&self, answer: &Answer, ahead: Plan) -> AnyView {
        if matches!(answer.basis, Basis::Nothing(_)) {
            return ().into_any();
        }
        let shown = |forecast: &&PlanForecast| may_show_targets(&self.drawn.standing, forecast.plan);
        let say = |forecast: &PlanForecast| format!("{}: {}.", capital(forecast.plan.word()), sentence(forecast));
        let mut said: Vec<String> = answer.forecasts.iter().filter(shown).map(say).collect();
        let hidden = answer.forecasts.iter().filter(|forecast| !shown(forecast)).map(|forecast| in_plan(forecast.plan));
        let hidden: Vec<&str> = hidden.collect();
        if let Some((last, others)) = hidden.split_last() {
            let at = if others.is_empty() { (*last).to_owned() } else { format!("{} and {last}", others.join(", ")) };
            said.push(format!("● Quality first: how far it is to the target {at} is said once quality is met there."));
        }
        let none = answer.curve(ahead).and_then(|curve| curve.no_ahead.as_ref());
        if let Some(why) = none.filter(|_| !may_show_targets(&self.drawn.standing, ahead)) {
            said.push(format!("No services to come are drawn: {}.", say_no_forecast(why, ahead)));
        }
        view! { <ul class="plain-list forecast">{lines(said)}</ul> }.into_any()
    }

    fn chart(&self, answer: Option<&Answer>, ahead: Plan) -> AnyView {
        let (asked, drawn) = (&self.learned.asked, self.drawn);
        let services = self.services();
        let points: Vec<CurvePoint> = services.iter().map(|(point, _)| *point).collect();
        let parts: Vec<CurvePart> = answer.map(|answer| parts(answer, ahead)).unwrap_or_default();
        let target = |plan: Plan| asked.ask.target(plan).map(|seconds| seconds.round() as Seconds);
        // Where no service has such a time there is nothing to hold against a target.
        let mut target_steps = if points.is_empty() { Vec::new() } else { steps(drawn, target) };
        let shown = may_show_targets(&drawn.standing, ahead);
        let to_come =
            parts.iter().find(|part| part.to_come).and_then(|part| part.points.first().zip(part.points.last()));
        if let (Some((first, last)), Some(seconds), true) = (to_come, target(ahead), shown) {
            match target_steps.last_mut() {
                Some(step) if step.plan == ahead && step.to.checked_add(1) == Some(first.number) => {
                    step.to = last.number
                }
                _ => target_steps.push(TargetStep { from: first.number, to: last.number, seconds, plan: ahead }),
            }
        }
        let forecast = answer.and_then(|answer| answer.forecast(ahead)).filter(|_| shown);
        let marks =
            forecast.and_then(|forecast| forecast.outcome.as_ref().ok()).map(|found| marks(found, asked.ask.done));
        let svg = curve(&CurveDrawing {
            services: &points,
            parts: &parts,
            target: &target_steps,
            marks: &marks.unwrap_or_default(),
            y_words: &format!("{}, hands-on minutes", self.label),
        });
        let description = if parts.is_empty() {
            "Each sign is one live service. No curve is drawn."
        } else {
            "Each sign is one live service. The line is the typical time by the curve; the tinted range holds it with 4 chances \
             in 5, and a single service lies between the dotted lines with 4 chances in 5. Dashed: services to come."
        };
        let mut rows: Vec<Vec<String>> = services.iter().map(|(point, why)| row(point, why, &parts)).collect();
        let untimed = drawn.services.len().saturating_sub(services.len());
        let untimed = (untimed > 0).then(|| {
            let words = match untimed {
                1 => "1 live service has no such time on record and stands in other charts only.".to_owned(),
                _ => format!("{untimed} live services have no such time on record and stand in other charts only."),
            };
            view! { <p class="small">{format!("○ {words}")}</p> }
        });
        let mut links = links(drawn, points.iter().map(|point| point.number));
        for part in parts.iter().filter(|part| part.to_come) {
            rows.extend(part.points.iter().map(|point| ahead_row(part.plan, point)));
        }
        links.resize(rows.len(), String::new());
        let heads = head(&["No.", "Day", "Plan", "Hands-on", "Typical", "Its range", "One service", "Counts"]);
        view! {
            <Chart title=format!("Hands-on time by service: {}", self.label) description=description svg=svg
                head=heads rows=rows links=links/>
            {untimed}
        }
        .into_any()
    }

    /// The services with a time, their days, and whether each counts.
    fn services(&self) -> Vec<(CurvePoint, [String; 2])> {
        let asked = &self.learned.asked;
        let own = |number: u32| {
            let mine = |row: &&practicum::evidence::learning::Row| Some(row.trainee) == asked.ask.trainee;
            asked
                .ask
                .rows
                .iter()
                .filter(mine)
                .find(|row| row.number == number)
                .map(|row| row.seconds.round() as Seconds)
        };
        let raw = |service: &Service| match self.response {
            Response::Whole => service.times.hands_on,
            Response::Stage(stage) => service.times.stage_hands_on(stage),
        };
        let of = |(number, service): &(u32, Service)| {
            let counted = own(*number);
            let seconds = counted.or_else(|| raw(service))?;
            let why = asked.left_out.iter().find(|(id, _)| *id == service.id);
            let why = why.map(|(_, why)| why.iter().map(|why| LeftOut::say(*why)).collect::<Vec<_>>().join(", "));
            let point = CurvePoint { number: *number, seconds, plan: service.plan(), counted: counted.is_some() };
            let why = why.map_or_else(|| "yes".to_owned(), |why| format!("no: {why}"));
            Some((point, [service.day().to_string(), why]))
        };
        self.drawn.services.iter().filter_map(of).collect()
    }
}

/// Items of a list, a sentence each.
pub(super) fn lines(all: Vec<String>) -> AnyView {
    all.into_iter().map(|line| view! { <li>{line}</li> }).collect_view().into_any()
}

/// The curve of each plan so far, and the services to come at one plan.
fn parts(answer: &Answer, ahead: Plan) -> Vec<CurvePart> {
    let points = |points: &[practicum::evidence::learning::Point]| -> Vec<BandPoint> {
        let of = |point: &practicum::evidence::learning::Point| BandPoint {
            number: point.number,
            typical: point.typical,
            range: point.typical_band,
            single: point.single_band,
        };
        points.iter().map(of).collect()
    };
    let past =
        answer.curves.iter().map(|curve| CurvePart { plan: curve.plan, points: points(&curve.past), to_come: false });
    let ahead =
        answer.curve(ahead).map(|curve| CurvePart { plan: curve.plan, points: points(&curve.ahead), to_come: true });
    past.chain(ahead).filter(|part| !part.points.is_empty()).collect()
}

/// Marks for the three chances; those that fall on one service share a mark.
fn marks(found: &Forecast, done: u32) -> Vec<ChanceMark> {
    let Needed { even, four_in_five, nineteen_in_twenty } = found.typical;
    let mut marks: Vec<ChanceMark> = Vec::new();
    for (ahead, words) in
        [(even, "as likely as not"), (four_in_five, "4 chances in 5"), (nineteen_in_twenty, "19 in 20")]
    {
        let Some(number) = ahead.map(|ahead| done.saturating_add(ahead)) else { continue };
        match marks.last_mut().filter(|mark| mark.number == number) {
            Some(mark) => words.clone_into(&mut mark.words),
            None => marks.push(ChanceMark { number, words: words.to_owned() }),
        }
    }
    marks
}

fn say(seconds: f64) -> String {
    format_seconds(seconds.round().clamp(0.0, 1e9) as Seconds)
}

fn ranges(point: &BandPoint) -> [String; 3] {
    let range = |(low, high): (f64, f64)| format!("{} to {}", say(low), say(high));
    [say(point.typical), range(point.range), range(point.single)]
}

fn row(point: &CurvePoint, [day, why]: &[String; 2], parts: &[CurvePart]) -> Vec<String> {
    let past = parts.iter().filter(|part| !part.to_come).flat_map(|part| &part.points);
    let fitted = past.into_iter().find(|fitted| fitted.number == point.number);
    let fitted = fitted.map_or_else(|| ["–", "–", "–"].map(str::to_owned), ranges);
    let plan = point.plan.map_or("–", Plan::word).to_owned();
    let mut row = vec![point.number.to_string(), day.clone(), plan, format_seconds(point.seconds)];
    row.extend(fitted);
    row.push(why.clone());
    row
}

fn ahead_row(plan: Plan, point: &BandPoint) -> Vec<String> {
    let mut row = vec![point.number.to_string(), "to come".to_owned(), plan.word().to_owned(), "–".to_owned()];
    row.extend(ranges(point));
    row.push("–".to_owned());
    row
}
