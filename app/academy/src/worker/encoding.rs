//! Questions and answers as plain numbers between the page and its worker.
//!
//! Both are one build of one program, so that the form may change with any build: nothing of it is ever stored. A
//! list begins with its form and length; anything else is not read.

use practicum::evidence::learning::{
    Answer, Ask, Basis, Dropped, Effect, Figures, Forecast, Merged, Needed, NoForecast, Past, PlanCurve, PlanForecast,
    Point, Pool, Residual, Row, ShapeFamily, ShapeShare, Term, TooLittle,
};
use practicum::section::Plan;

/// First numbers of a question and of an answer.
const ASK: f64 = 7101.0;
const ANSWER: f64 = 7201.0;

/// Writes a question.
pub(crate) fn write_ask(ask: &Ask) -> Vec<f64> {
    write(ASK, ask)
}

/// Reads a question; `None` for anything else.
pub(crate) fn read_ask(numbers: &[f64]) -> Option<Ask> {
    read(ASK, numbers)
}

/// Writes an answer.
pub(crate) fn write_answer(answer: &Answer) -> Vec<f64> {
    write(ANSWER, answer)
}

/// Reads an answer; `None` for anything else.
pub(crate) fn read_answer(numbers: &[f64]) -> Option<Answer> {
    read(ANSWER, numbers)
}

fn write(form: f64, value: &impl Numbers) -> Vec<f64> {
    let mut numbers = vec![form, 0.0];
    value.put(&mut numbers);
    let length = numbers.len() as f64;
    if let Some(cell) = numbers.get_mut(1) {
        *cell = length;
    }
    numbers
}

fn read<T: Numbers>(form: f64, numbers: &[f64]) -> Option<T> {
    let mut rest = numbers;
    let whole = take(&mut rest)? == form && take(&mut rest)? == numbers.len() as f64;
    let value = if whole { T::get(&mut rest)? } else { return None };
    rest.is_empty().then_some(value)
}

fn take(rest: &mut &[f64]) -> Option<f64> {
    let (first, after) = rest.split_first()?;
    *rest = after;
    Some(*first)
}

/// What can be written as numbers and read again.
trait Numbers: Sized {
    fn put(&self, out: &mut Vec<f64>);
    fn get(rest: &mut &[f64]) -> Option<Self>;
}

impl Numbers for f64 {
    fn put(&self, out: &mut Vec<f64>) {
        out.push(*self);
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        take(rest)
    }
}

impl Numbers for u32 {
    fn put(&self, out: &mut Vec<f64>) {
        out.push(f64::from(*self));
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        let number = take(rest)?;
        let whole = number.fract() == 0.0 && (0.0..=f64::from(u32::MAX)).contains(&number);
        // In range and whole: nothing is cut off.
        whole.then_some(number as u32)
    }
}

impl Numbers for bool {
    fn put(&self, out: &mut Vec<f64>) {
        u32::from(*self).put(out);
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        match u32::get(rest)? {
            0 => Some(false),
            1 => Some(true),
            _ => None,
        }
    }
}

impl<T: Numbers> Numbers for Option<T> {
    fn put(&self, out: &mut Vec<f64>) {
        self.is_some().put(out);
        if let Some(value) = self {
            value.put(out);
        }
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        if bool::get(rest)? { T::get(rest).map(Some) } else { Some(None) }
    }
}

impl<T: Numbers, E: Numbers> Numbers for Result<T, E> {
    fn put(&self, out: &mut Vec<f64>) {
        self.is_ok().put(out);
        match self {
            Ok(value) => value.put(out),
            Err(why) => why.put(out),
        }
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        if bool::get(rest)? { T::get(rest).map(Ok) } else { E::get(rest).map(Err) }
    }
}

impl<T: Numbers> Numbers for Vec<T> {
    fn put(&self, out: &mut Vec<f64>) {
        u32::try_from(self.len()).unwrap_or(u32::MAX).put(out);
        self.iter().for_each(|item| item.put(out));
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        let length = u32::get(rest)?;
        // Grows with what is there, whatever length is claimed.
        let mut items = Vec::new();
        for _ in 0..length {
            items.push(T::get(rest)?);
        }
        Some(items)
    }
}

impl<T: Numbers + Copy + Default, const N: usize> Numbers for [T; N] {
    fn put(&self, out: &mut Vec<f64>) {
        self.iter().for_each(|item| item.put(out));
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        let mut items = [T::default(); N];
        for item in &mut items {
            *item = T::get(rest)?;
        }
        Some(items)
    }
}

impl<A: Numbers, B: Numbers> Numbers for (A, B) {
    fn put(&self, out: &mut Vec<f64>) {
        self.0.put(out);
        self.1.put(out);
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        Some((A::get(rest)?, B::get(rest)?))
    }
}

/// Fields one after the other.
macro_rules! fields {
    ($($name:ident { $($field:ident),* $(,)? })*) => {$(
        impl Numbers for $name {
            fn put(&self, out: &mut Vec<f64>) {
                let $name { $($field),* } = self;
                $($field.put(out);)*
            }

            fn get(rest: &mut &[f64]) -> Option<Self> {
                $(let $field = Numbers::get(rest)?;)*
                Some($name { $($field),* })
            }
        }
    )*};
}

/// Cases without fields, by their place in the list.
macro_rules! cases {
    ($($name:ty [ $($case:expr),* $(,)? ])*) => {$(
        impl Numbers for $name {
            fn put(&self, out: &mut Vec<f64>) {
                let place = [$($case),*].iter().position(|case| case == self);
                place.and_then(|place| u32::try_from(place).ok()).unwrap_or(u32::MAX).put(out);
            }

            fn get(rest: &mut &[f64]) -> Option<Self> {
                [$($case),*].get(usize::try_from(u32::get(rest)?).ok()?).copied()
            }
        }
    )*};
}

cases! {
    Plan [Plan::Quarters, Plan::Thirds, Plan::Halves, Plan::Whole]
    Pool [Pool::Group, Pool::Academy]
    ShapeFamily [ShapeFamily::Power, ShapeFamily::PowerPlateau, ShapeFamily::Exponential]
}

fields! {
    Row { trainee, number, plan, within, seconds }
    Past { number, plan, within }
    Figures { tau, ahead }
    Ask { rows, pool, trainee, past, done, done_at, weeks, present, plans, targets, refresher_weeks, figures }
    Point { number, typical, typical_band, single_band }
    PlanCurve { plan, past, ahead, no_ahead }
    Needed { even, four_in_five, nineteen_in_twenty }
    Forecast { typical, single, typical_next, single_next, counted_with, meets }
    PlanForecast { plan, target, outcome }
    Residual { row, number, plan, residual, flagged }
    Merged { plan, into, trainees }
    Dropped { term, known }
    Effect { term, value, error }
    ShapeShare { family, parameter, share }
    Answer {
        basis, pool, newcomer, trainees, services, own, shape_known, shapes, scatter, freedom, merged, dropped,
        effects, curves, forecasts, residuals, weeks, present,
    }
}

impl Numbers for TooLittle {
    fn put(&self, out: &mut Vec<f64>) {
        match self {
            TooLittle::NoTimes => 0_u32.put(out),
            TooLittle::FewOwn { have, need } => (1_u32, (*have, *need)).put(out),
            TooLittle::Alike => 2_u32.put(out),
            TooLittle::NotFitted => 3_u32.put(out),
        }
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        Some(match u32::get(rest)? {
            0 => TooLittle::NoTimes,
            1 => TooLittle::FewOwn { have: u32::get(rest)?, need: u32::get(rest)? },
            2 => TooLittle::Alike,
            3 => TooLittle::NotFitted,
            _ => return None,
        })
    }
}

impl Numbers for Basis {
    fn put(&self, out: &mut Vec<f64>) {
        match self {
            Basis::Pool => 0_u32.put(out),
            Basis::Alone => 1_u32.put(out),
            Basis::Nothing(why) => {
                2_u32.put(out);
                why.put(out);
            }
        }
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        Some(match u32::get(rest)? {
            0 => Basis::Pool,
            1 => Basis::Alone,
            2 => Basis::Nothing(TooLittle::get(rest)?),
            _ => return None,
        })
    }
}

impl Numbers for Term {
    fn put(&self, out: &mut Vec<f64>) {
        match self {
            Term::First => 0_u32.put(out),
            Term::Practice => 1_u32.put(out),
            Term::Step(plan) => {
                2_u32.put(out);
                plan.put(out);
            }
            Term::Relearning => 3_u32.put(out),
        }
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        Some(match u32::get(rest)? {
            0 => Term::First,
            1 => Term::Practice,
            2 => Term::Step(Plan::get(rest)?),
            3 => Term::Relearning,
            _ => return None,
        })
    }
}

impl Numbers for NoForecast {
    fn put(&self, out: &mut Vec<f64>) {
        match self {
            NoForecast::NoFigures => 0_u32.put(out),
            NoForecast::NoTarget => 1_u32.put(out),
            NoForecast::RefresherFirst { weeks, limit } => (2_u32, (*weeks, *limit)).put(out),
            NoForecast::PlanUnseen => 3_u32.put(out),
            NoForecast::StepUnknown => 4_u32.put(out),
            NoForecast::PracticeUnknown => 5_u32.put(out),
            NoForecast::NoTrend => 6_u32.put(out),
            NoForecast::TooLittle(why) => {
                7_u32.put(out);
                why.put(out);
            }
        }
    }

    fn get(rest: &mut &[f64]) -> Option<Self> {
        Some(match u32::get(rest)? {
            0 => NoForecast::NoFigures,
            1 => NoForecast::NoTarget,
            2 => NoForecast::RefresherFirst { weeks: f64::get(rest)?, limit: f64::get(rest)? },
            3 => NoForecast::PlanUnseen,
            4 => NoForecast::StepUnknown,
            5 => NoForecast::PracticeUnknown,
            6 => NoForecast::NoTrend,
            7 => NoForecast::TooLittle(TooLittle::get(rest)?),
            _ => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use practicum::evidence::learning::answer;

    fn asked(trainees: u32) -> Ask {
        let row = |trainee: u32, number: u32| Row {
            trainee,
            number,
            plan: if number > 5 { Plan::Halves } else { Plan::Quarters },
            within: if number > 5 { number - 5 } else { number },
            seconds: f64::from(5400 - 150 * number + 300 * trainee + 97 * ((number * 7 + trainee * 5) % 11)),
        };
        Ask {
            rows: (0..trainees).flat_map(|trainee| (1..=9).map(move |number| row(trainee, number))).collect(),
            pool: Pool::Academy,
            trainee: Some(0),
            past: (1..=9)
                .map(|number| row(0, number))
                .map(|row| Past { number: row.number, plan: row.plan, within: row.within })
                .collect(),
            done: 9,
            done_at: [5, 0, 4, 0],
            weeks: 1.0 / 3.0,
            present: Plan::Halves,
            plans: vec![Plan::Halves, Plan::Whole],
            targets: [Some(4800.0), None, Some(4000.5), Some(1110.0)],
            refresher_weeks: 8.0,
            figures: Some(Figures { tau: 0.05, ahead: 4 }),
        }
    }

    #[test]
    fn a_question_and_its_answer_come_back_as_they_went() {
        for trainees in [0, 1, 2, 4] {
            let ask = asked(trainees);
            assert_eq!(read_ask(&write_ask(&ask)).as_ref(), Some(&ask));
            let answer = answer(&ask);
            assert_eq!(read_answer(&write_answer(&answer)).as_ref(), Some(&answer));
            let worked_out = crate::worker::work_out(&write_ask(&ask));
            assert_eq!(read_answer(&worked_out).as_ref(), Some(&answer));
        }
    }

    #[test]
    fn every_reason_comes_back() {
        let too_little =
            [TooLittle::NoTimes, TooLittle::FewOwn { have: 2, need: 3 }, TooLittle::Alike, TooLittle::NotFitted];
        let mut reasons = vec![
            NoForecast::NoFigures,
            NoForecast::NoTarget,
            NoForecast::RefresherFirst { weeks: 9.25, limit: 8.0 },
            NoForecast::PlanUnseen,
            NoForecast::StepUnknown,
            NoForecast::PracticeUnknown,
            NoForecast::NoTrend,
        ];
        reasons.extend(too_little.map(NoForecast::TooLittle));
        assert_eq!(read(1.0, &write(1.0, &reasons)), Some(reasons));
        let terms = vec![Term::First, Term::Practice, Term::Step(Plan::Thirds), Term::Relearning];
        assert_eq!(read(1.0, &write(1.0, &terms)), Some(terms));
        let bases: Vec<Basis> = too_little.map(Basis::Nothing).into_iter().chain([Basis::Pool, Basis::Alone]).collect();
        assert_eq!(read(1.0, &write(1.0, &bases)), Some(bases));
    }

    #[test]
    fn anything_else_is_not_read() {
        let good = write_ask(&asked(2));
        assert_eq!(read_answer(&good), None);
        for length in 0..good.len() {
            assert_eq!(read_ask(&good[..length]), None, "{length}");
        }
        assert_eq!(read_ask(&[good.clone(), vec![0.0]].concat()), None);
        for place in 2..good.len() {
            for wrong in [f64::NAN, -1.0, 0.5, 1e300] {
                let mut bad = good.clone();
                bad[place] = wrong;
                // Either refused, or another question: never a panic.
                let _ = read_ask(&bad);
            }
        }
        assert!(crate::worker::work_out(&[]).is_empty());
    }
}
