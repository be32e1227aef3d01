//! How an answer was worked out: method, numbers and source, for whoever wants to know.

use proficiency::group_curve::Options;

use super::{Answer, Basis, Effect, ShapeFamily, ShapeShare, Term, in_plan};

/// Returns how an answer was worked out, a line each.
pub fn workings(answer: &Answer) -> Vec<String> {
    match answer.basis {
        Basis::Nothing(_) => vec![format!(
            "{} services of {} trainees have a time that counts; {} of them are this trainee's.",
            answer.services, answer.trainees, answer.own
        )],
        Basis::Alone => alone(answer),
        Basis::Pool => pool(answer),
    }
}

fn pool(answer: &Answer) -> Vec<String> {
    let mut lines = vec![
        "Linear mixed fit of the logarithm of hands-on time: practice, a step for each change of plan, relearning \
         within a plan, an intercept and a slope of each trainee's own, fitted by profiled restricted likelihood \
         (Bates, Maechler, Bolker and Walker 2015, Journal of Statistical Software 67(1))."
            .to_owned(),
        format!(
            "Times far off count for less, by Student-t weights of 4 degrees of freedom (Lange, Little and Taylor \
             1989, Journal of the American Statistical Association 84:881-896). Scatter of single services: {:.3} on \
             the logarithm, about {:.0} %.",
            answer.scatter,
            answer.scatter.exp_m1() * 100.0
        ),
        "Small groups: the variances are kept off zero by a penalty (Chung and others 2013, Psychometrika \
         78:685-709), and below 12 trainees averaged over a grid."
            .to_owned(),
    ];
    let shapes: Vec<String> = answer.shapes.iter().filter(|shape| shape.share >= 0.005).map(say_shape).collect();
    let why = if answer.shape_known {
        "weighed by their likelihood (Burnham and Anderson 2002, section 2.9)"
    } else {
        "weighed alike, as fewer than three trainees have 12 services"
    };
    lines.push(format!("Shapes of the curve, {why}: {}.", shapes.join(", ")));
    lines.extend(answer.effects.iter().map(say_effect));
    let freedom = if answer.freedom.is_finite() { format!("{:.0}", answer.freedom) } else { "endless".into() };
    lines.push(format!(
        "Bands and chances: joint variance of the group's and the trainee's effects (Henderson 1975, Biometrics \
         31:423-447), Student's t with {freedom} degrees of freedom, mixed over the shapes."
    ));
    lines.push(gap(answer));
    lines
}

fn alone(answer: &Answer) -> Vec<String> {
    vec![
        format!(
            "A straight line through the logarithms of number and time, for each plan by itself, by least squares \
             (Draper and Smith 1998, Applied Regression Analysis, chapter 3). Scatter {:.3} on the logarithm with {:.0} \
             degrees of freedom, where most times are.",
            answer.scatter, answer.freedom
        ),
        "A forecast is given only where the slope is told from none with 4 chances in 5 (Fieller 1954, Journal of \
         the Royal Statistical Society B 16:175-185)."
            .to_owned(),
        gap(answer),
    ]
}

fn gap(answer: &Answer) -> String {
    format!(
        "{:.1} weeks since the last service widen what is ahead: variance + tau squared times ln(1 + weeks), tau from \
         the course book (proposal, no source).",
        answer.weeks
    )
}

fn say_shape(shape: &ShapeShare) -> String {
    let name = match shape.family {
        ShapeFamily::Power => "power law".to_owned(),
        ShapeFamily::PowerPlateau => format!("power law with plateau, p = {}", shape.parameter),
        ShapeFamily::Exponential => format!("exponential with plateau, k = {}", shape.parameter),
    };
    format!("{:.0} % {name}", shape.share * 100.0)
}

fn say_effect(effect: &Effect) -> String {
    // Rounded here, so that nothing reads as "-0 %".
    let change = |log: f64| (log.exp_m1() * 100.0).round() + 0.0;
    let over = Options::default().relearning_floor.map(|floor| format!(", over after {floor}")).unwrap_or_default();
    let (low, high) = (effect.value - 1.96 * effect.error, effect.value + 1.96 * effect.error);
    match effect.term {
        Term::Step(plan) => format!(
            "Changing to work {}: {:+.0} % on the first service ({:+.0} % to {:+.0} % with 19 chances in 20).",
            in_plan(plan),
            change(effect.value),
            change(low),
            change(high)
        ),
        Term::Relearning => format!(
            "Each doubling of services at a wider plan: {:+.0} % ({:+.0} % to {:+.0} %){over}.",
            change(effect.value * 2.0_f64.ln()),
            change(low * 2.0_f64.ln()),
            change(high * 2.0_f64.ln())
        ),
        Term::First | Term::Practice => format!("{:.3}, standard error {:.3}.", effect.value, effect.error),
    }
}
