//! How long a group's curve takes: one evaluation, one fit, all shapes, Student-t weights, a forecast.
//!
//! `cargo bench -p proficiency --bench group_curve`; with `-- --write FILE` it also writes the rows of 300 trainees,
//! and with `-- --fit` times nothing but the fits of these. `tests/reference/scripts/mixed_peers.py` runs it natively
//! and in WebAssembly, and lme4 and statsmodels on the same rows, and prints one table.
#![allow(clippy::print_stdout, clippy::expect_used, reason = "a bench prints and stops on rows that cannot be fitted")]

use std::fmt::Write as _;
use std::hint::black_box;
use std::time::Instant;

use proficiency::forecast::{Gap, Question, forecast};
use proficiency::group_curve::{Options, Scatter, Service, Shape, Variances, fit};
use proficiency::mixed::{Criterion, Mixed, Rows, Structure};

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let large = group(300, 30);
    if let Some(at) = arguments.iter().position(|argument| argument == "--write") {
        let name = arguments.get(at + 1).expect("a file name after --write");
        std::fs::write(name, table(&large)).expect("the file can be written");
        println!("wrote {name}");
    }
    let fit_alone = arguments.iter().any(|argument| argument == "--fit");
    for (trainees, each) in [(5, 20), (12, 20), (40, 30), (300, 30)] {
        if fit_alone && trainees != 300 {
            continue;
        }
        let services = group(trainees, each);
        println!("{trainees} trainees x {each} services");
        let (response, fixed, labels, random) = columns(&services);
        let rows = Rows {
            response: &response,
            fixed: &fixed,
            group: &labels,
            random: &random,
            structure: Structure::Full,
            crossed: &[],
        };
        time("products of the rows", || Mixed::new(&rows).expect("rows fit"));
        let mixed = Mixed::new(&rows).expect("rows fit");
        time("one evaluation of the criterion", || mixed.objective(Criterion::Reml, &[2.0, -0.2, 0.6]));
        time("one REML fit", || mixed.fit(Criterion::Reml).expect("a fit"));
        println!("  criterion {:.6}", mixed.fit(Criterion::Reml).expect("a fit").objective());
        time("one ML fit", || mixed.fit(Criterion::Ml).expect("a fit"));
        if fit_alone {
            return;
        }
        time("one penalised fit", || mixed.fit_penalised().expect("a fit"));
        time("one fit with Student-t weights", || mixed.fit_student(Criterion::Reml, 4.0).expect("a fit"));
        let plain = Options { scatter: Scatter::Normal, variances: Variances::Plain, ..Options::default() };
        let one = Options { shapes: vec![Shape::Power], ..plain.clone() };
        time("curve, one shape, REML and ML", || fit(&services, &one).expect("a curve"));
        time("curve, eight shapes, REML and ML", || fit(&services, &plain).expect("a curve"));
        time("curve as the app fits it", || fit(&services, &Options::default()).expect("a curve"));
        let curve = fit(&services, &Options::default()).expect("a curve");
        let question =
            Question { trainee: Some(1), done: 20, level: 3, done_at_level: 8, target: 2400.0, gap: Gap::NONE };
        time("one forecast", || forecast(&curve, &question).expect("a forecast"));
    }
}

/// Repeats for half a second, at most 1000 times, and prints the fastest and the middle time.
fn time<T>(name: &str, mut run: impl FnMut() -> T) {
    let began = Instant::now();
    let mut took = Vec::new();
    while took.len() < 3 || (began.elapsed().as_secs_f64() < 0.5 && took.len() < 1000) {
        let once = Instant::now();
        black_box(run());
        took.push(once.elapsed().as_secs_f64() * 1e3);
    }
    took.sort_by(f64::total_cmp);
    let middle = took.get(took.len() / 2).copied().unwrap_or_default();
    println!("  {name:<34} fastest {:>10.4} ms, middle {middle:>10.4} ms", took.first().copied().unwrap_or_default());
}

/// A group on quarters, halves and then the whole lash line, its scatter from a fixed sequence.
fn group(trainees: usize, each: u32) -> Vec<Service> {
    let mut draw = Draw(1);
    let mut services = Vec::new();
    for trainee in 0..trainees {
        let (own, slope) = (0.25 * draw.normal(), 0.07 * draw.normal());
        let changes = [each / 4 + draw.below(3), each / 2 + draw.below(4)];
        let mut within = [0_u32; 4];
        for number in 1..=each {
            let level: u8 = if number > changes[1] {
                3
            } else if number > changes[0] {
                2
            } else {
                0
            };
            let count = within.get_mut(usize::from(level)).expect("four levels");
            *count += 1;
            let n = f64::from(number).ln();
            let step = [0.0, 0.0, 0.12, 0.22].get(usize::from(level)).copied().unwrap_or_default();
            let relearning = if level > 0 { -0.05 * f64::from(*count).ln() } else { 0.0 };
            let log = 5400.0_f64.ln() + own + (slope - 0.2) * n + step + relearning + 0.1 * draw.normal();
            services.push(Service { trainee, number, level, within: *count, seconds: log.exp(), other_medium: false });
        }
    }
    services
}

/// Response, fixed columns, groups and random columns.
type Columns = (Vec<f64>, Vec<Vec<f64>>, Vec<usize>, Vec<Vec<f64>>);

fn columns(services: &[Service]) -> Columns {
    let of = |value: &dyn Fn(&Service) -> f64| services.iter().map(value).collect::<Vec<f64>>();
    let from = |level: u8| move |service: &Service| if service.level >= level { 1.0 } else { 0.0 };
    let n = of(&|service| f64::from(service.number).ln());
    let relearning = of(&|service| from(1)(service) * f64::from(service.within).ln());
    let ones = of(&|_| 1.0);
    let fixed = vec![ones.clone(), n.clone(), of(&from(2)), of(&from(3)), relearning];
    let groups = services.iter().map(|service| service.trainee).collect();
    (of(&|service| service.seconds.ln()), fixed, groups, vec![ones, n])
}

fn table(services: &[Service]) -> String {
    let (response, fixed, groups, _) = columns(services);
    let mut text = String::from("y,trainee,n,h,w,m\n");
    for (row, (y, group)) in response.iter().zip(&groups).enumerate() {
        let cells: Vec<String> = fixed.iter().skip(1).map(|column| format!("{:e}", column[row])).collect();
        writeln!(text, "{y:e},{group},{}", cells.join(",")).expect("text can grow");
    }
    text
}

/// A fixed sequence of numbers that look drawn at random (Steele, Lea and Flood 2014, SplitMix).
struct Draw(u64);

impl Draw {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn below(&mut self, end: u32) -> u32 {
        u32::try_from(self.next() % u64::from(end)).unwrap_or_default()
    }

    /// Sum of twelve even draws less six: as good as normal here.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| (self.next() >> 11) as f64 / 2.0_f64.powi(53)).sum::<f64>() - 6.0
    }
}
