//! Whether assessors agree: services marked twice, kappa with its interval, the intraclass correlation, leniency.
//!
//! A second assessor marks a share of the services without seeing the first marks. Which services is worked out from
//! their identifiers, the same on every device, and is not known before a service has one. Of several assessors the
//! first two count. Below the course book's number of services marked twice nothing is worked out.
//! Formulas and sources: `proficiency::{kappa, intraclass, leniency}`.

use std::collections::{BTreeMap, BTreeSet};

use proficiency::intraclass::intraclass;
use proficiency::kappa::{Table, Weights};
use proficiency::leniency::{Mark as Score, leniency};

use super::Books;
use crate::course_book::{Criterion, Mark};
use crate::ids::{CriterionId, PersonId, ServiceId};
use crate::order::InOrder;
use crate::outcome::{Marked, Outcome, Verdict, applicable, verdict};
use crate::service::Service;

/// Level of the intervals.
const LEVEL: f64 = 0.95;

/// Whether a service is among the share that a second assessor marks.
pub fn chosen_for_double(service: &ServiceId, share: f64) -> bool {
    // FNV-1a (Fowler, Noll and Vo), 64 bits, then the finish of SplitMix64, so that near identifiers fall far apart.
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    for byte in service.as_str().bytes() {
        hash = (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
    }
    hash = (hash ^ (hash >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    hash = (hash ^ (hash >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    hash ^= hash >> 31;
    let place = (hash >> 11) as f64 / (1_u64 << 53) as f64;
    place < share
}

/// A service that two assessors marked, each without the other.
#[derive(Debug, Clone, Copy)]
pub struct Twice<'a> {
    /// The service.
    pub service: &'a Service,
    /// The view that was given first.
    pub first: &'a Outcome,
    /// The second assessor's.
    pub second: &'a Outcome,
}

/// Returns the services that two assessors marked, in the order begun: of each assessor the first view, of several
/// assessors the first two.
pub fn marked_twice<'a>(services: &[&'a Service], outcomes: &[&'a Outcome]) -> Vec<Twice<'a>> {
    let mut views: BTreeMap<&ServiceId, Vec<&'a Outcome>> = BTreeMap::new();
    for outcome in outcomes {
        views.entry(&outcome.service).or_default().push(outcome);
    }
    let mut found: Vec<Twice<'a>> = Vec::new();
    for service in services.iter().filter(|service| service.is_service() && !service.is_imported()) {
        let mut own: Vec<&'a Outcome> = views.get(&service.id).cloned().unwrap_or_default();
        own.retain(|outcome| outcome.marker != service.trainee);
        own.order_by(|a, b| (a.at, &a.marker).cmp(&(b.at, &b.marker)));
        let Some(first) = own.first() else { continue };
        let Some(second) = own.iter().find(|outcome| outcome.marker != first.marker) else { continue };
        found.push(Twice { service, first, second });
    }
    found.order_by(|a, b| (a.service.began, &a.service.id).cmp(&(b.service.began, &b.service.id)));
    found
}

/// A coefficient with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Limits of the 95 % interval, where it can be worked out.
    pub interval: Option<(f64, f64)>,
}

/// Agreement about one thing.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreed {
    /// What: a criterion, or acceptable or not.
    pub label: String,
    /// Services marked twice in it.
    pub pairs: u32,
    /// Share with the same mark, 0 to 1.
    pub same: f64,
    /// Cohen's kappa; `None` where it has no value.
    pub kappa: Option<Estimate>,
    /// Kappa with quadratic weights; `None` where it has no value or for two categories.
    pub weighted: Option<Estimate>,
}

/// Two views that are far apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// The service.
    pub service: ServiceId,
    /// Who marked first.
    pub first: PersonId,
    /// Who marked second.
    pub second: PersonId,
    /// Where they differ, in words.
    pub words: Vec<String>,
}

/// How lenient an assessor is beside the others.
#[derive(Debug, Clone, PartialEq)]
pub struct Lenient {
    /// Who.
    pub assessor: PersonId,
    /// By how much the mean mark of a service (0 to 3) lies above the others', trainees allowed for.
    pub above: f64,
    /// Services marked.
    pub services: u32,
}

/// What can be said of the agreement.
#[derive(Debug, Clone, PartialEq)]
pub enum Agreement {
    /// Too few services are marked twice.
    TooFew {
        /// Marked twice.
        have: u32,
        /// Needed.
        need: u32,
    },
    /// Worked out.
    Found {
        /// Services marked twice.
        pairs: u32,
        /// Acceptable or not, then each criterion.
        agreed: Vec<Agreed>,
        /// Intraclass correlation of the mean mark, one-way, one assessor: ICC(1,1) of Shrout and Fleiss (1979).
        intraclass: Option<Estimate>,
        /// Each assessor's leniency; empty where it cannot be worked out.
        lenient: Vec<Lenient>,
    },
}

/// Works out how far assessors agree. `outcomes` are all assessors' views, `needed` the course book's number.
pub fn agreement(
    twice: &[Twice],
    services: &[&Service],
    outcomes: &[&Outcome],
    books: &Books,
    needed: u32,
) -> Agreement {
    let have = count(twice.len());
    if have < needed {
        return Agreement::TooFew { have, need: needed };
    }
    let acceptable: Vec<(usize, usize)> =
        twice.iter().map(|pair| (passes(pair, pair.first, books), passes(pair, pair.second, books))).collect();
    let mut agreed = vec![agreed_in("Acceptable or not".to_owned(), &acceptable, 2)];
    for criterion in &books.present.criteria {
        let pairs: Vec<(usize, usize)> = twice
            .iter()
            .filter_map(|pair| Some((level(pair.first, &criterion.id)?, level(pair.second, &criterion.id)?)))
            .collect();
        if !pairs.is_empty() {
            agreed.push(agreed_in(criterion.label.clone(), &pairs, Mark::ALL.len()));
        }
    }
    let scores: Vec<Vec<f64>> =
        twice.iter().filter_map(|pair| Some(vec![mean(pair.first)?, mean(pair.second)?])).collect();
    let form = intraclass(&scores, LEVEL).ok().map(|found| found.one_way_one);
    let intraclass = form.and_then(|form| Some(Estimate { value: form.value?, interval: form.interval }));
    Agreement::Found { pairs: have, agreed, intraclass, lenient: lenience(services, outcomes) }
}

fn agreed_in(label: String, pairs: &[(usize, usize)], categories: usize) -> Agreed {
    let same = pairs.iter().filter(|(first, second)| first == second).count();
    let table = Table::of_pairs(pairs, categories).ok();
    let estimate = |weights: &Weights| {
        let kappa = table.as_ref()?.kappa(weights).ok()?;
        Some(Estimate { value: kappa.kappa, interval: kappa.interval(LEVEL) })
    };
    Agreed {
        label,
        pairs: count(pairs.len()),
        same: same as f64 / pairs.len().max(1) as f64,
        kappa: estimate(&Weights::Same),
        weighted: if categories > 2 { estimate(&Weights::Quadratic) } else { None },
    }
}

fn lenience(services: &[&Service], outcomes: &[&Outcome]) -> Vec<Lenient> {
    let whose: BTreeMap<&ServiceId, &PersonId> =
        services.iter().map(|service| (&service.id, &service.trainee)).collect();
    let marks: Vec<(&PersonId, &PersonId, f64)> = outcomes
        .iter()
        .filter_map(|outcome| {
            let trainee = whose.get(&outcome.service)?;
            (outcome.marker != **trainee).then_some((*trainee, &outcome.marker, mean(outcome)?))
        })
        .collect();
    let trainees: Vec<&PersonId> = marks.iter().map(|mark| mark.0).collect::<BTreeSet<_>>().into_iter().collect();
    let assessors: Vec<&PersonId> = marks.iter().map(|mark| mark.1).collect::<BTreeSet<_>>().into_iter().collect();
    let place = |all: &[&PersonId], id: &PersonId| all.iter().position(|known| **known == *id);
    let scores: Vec<Score> = marks
        .iter()
        .filter_map(|(trainee, assessor, score)| {
            Some(Score { trainee: place(&trainees, trainee)?, assessor: place(&assessors, assessor)?, score: *score })
        })
        .collect();
    let Ok(found) = leniency(&scores) else { return Vec::new() };
    let one = |(place, assessor): (usize, &&PersonId)| Lenient {
        assessor: (*assessor).clone(),
        above: found.of(place),
        services: count(marks.iter().filter(|mark| mark.1 == *assessor).count()),
    };
    assessors.iter().enumerate().map(one).collect()
}

/// Returns the pairs that are far apart: two levels or more in a criterion, or one acceptable and the other not.
pub fn differences(twice: &[Twice], books: &Books) -> Vec<Difference> {
    let far = |pair: &Twice| {
        let mut words = Vec::new();
        if passes(pair, pair.first, books) != passes(pair, pair.second, books) {
            words.push("one says acceptable, the other not".to_owned());
        }
        for criterion in &books.of(pair.service).criteria {
            let (Some(first), Some(second)) = (level(pair.first, &criterion.id), level(pair.second, &criterion.id))
            else {
                continue;
            };
            if first.abs_diff(second) >= 2 {
                let say = |level: usize| Mark::ALL.get(level).map_or("", |mark| mark.word());
                words.push(format!("{}: {} and {}", criterion.label, say(first), say(second)));
            }
        }
        let (first, second) = (pair.first.marker.clone(), pair.second.marker.clone());
        (!words.is_empty()).then(|| Difference { service: pair.service.id.clone(), first, second, words })
    };
    twice.iter().filter_map(far).collect()
}

fn passes(pair: &Twice, outcome: &Outcome, books: &Books) -> usize {
    let book = books.of(pair.service);
    let criteria: Vec<&Criterion> = applicable(book, pair.service);
    let breaches = pair.service.times.breaches(book.rules.late_seconds);
    usize::from(verdict(&criteria, &outcome.marks, &breaches) == Verdict::Acceptable)
}

fn level(outcome: &Outcome, criterion: &CriterionId) -> Option<usize> {
    match outcome.marks.get(criterion) {
        Some(Marked::Level(mark)) => Some(usize::from(mark.number())),
        _ => None,
    }
}

fn mean(outcome: &Outcome) -> Option<f64> {
    let levels: Vec<f64> = outcome
        .marks
        .values()
        .filter_map(|marked| match marked {
            Marked::Level(mark) => Some(f64::from(mark.number())),
            Marked::NotApplicable => None,
        })
        .collect();
    (!levels.is_empty()).then(|| levels.iter().sum::<f64>() / levels.len() as f64)
}

fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::example::{self, *};
    use crate::section::Plan;

    fn worked(number: u32, first: Mark, second: Mark) -> (Service, [Outcome; 2]) {
        let mut one = service(number, u64::from(number), Plan::Quarters, 1800);
        if number.is_multiple_of(2) {
            one.trainee = "other".into();
        }
        let mut other = outcome(&one, "two", second, &[]);
        other.at += chrono::TimeDelta::hours(1);
        let first = outcome(&one, "one", first, &[]);
        (one, [other, first])
    }

    fn twice_of(work: &[(Service, [Outcome; 2])]) -> (Vec<&Service>, Vec<&Outcome>) {
        (work.iter().map(|one| &one.0).collect(), work.iter().flat_map(|one| one.1.iter()).collect())
    }

    #[test]
    fn about_the_asked_share_of_services_is_chosen() {
        let chosen = |share| {
            let all = (0..20_000).map(|n| ServiceId::new(format!("{n:032x}")));
            all.filter(|id| chosen_for_double(id, share)).count()
        };
        assert_eq!((chosen(0.0), chosen(1.0)), (0, 20_000));
        // Binomial, n = 20,000, p = 0.18: standard deviation 54, so 3,600 give or take five of them.
        assert!((3_330..=3_870).contains(&chosen(0.18)), "{}", chosen(0.18));
        assert_eq!(chosen_for_double(&"s".into(), 0.5), chosen_for_double(&"s".into(), 0.5));
    }

    #[test]
    fn the_first_view_of_each_of_two_assessors_makes_a_pair_and_never_the_trainees_own() {
        let (one, [second, first]) = worked(1, Mark::Meets, Mark::Strong);
        let own = outcome(&one, "trainee", Mark::Strong, &[]);
        let mut again = first.clone();
        again.at += chrono::TimeDelta::hours(9);
        let pairs = marked_twice(&[&one], &[&own, &again, &second, &first]);
        assert_eq!(pairs.len(), 1);
        assert_eq!((pairs[0].first, pairs[0].second), (&first, &second));
        assert!(marked_twice(&[&one], &[&first, &again, &own]).is_empty());
    }

    #[test]
    fn below_the_needed_number_nothing_is_worked_out() {
        let book = example::book();
        let books = Books { present: &book, adopted: &[] };
        let work = [worked(1, Mark::Meets, Mark::Meets), worked(2, Mark::Nearly, Mark::Meets)];
        let (services, outcomes) = twice_of(&work);
        let twice = marked_twice(&services, &outcomes);
        let found = agreement(&twice, &services, &outcomes, &books, 30);
        assert_eq!(found, Agreement::TooFew { have: 2, need: 30 });
    }

    /// Table of 45 and 15 beside 25 and 15 services: kappa 0.1304. Textbook example, as in the check file
    /// `06_cohen_kappa.json`, where general-purpose libraries worked it out.
    #[test]
    fn kappa_is_that_of_the_textbooks_table() {
        let book = example::book();
        let books = Books { present: &book, adopted: &[] };
        let cells = [
            (45, Mark::Meets, Mark::Meets),
            (15, Mark::Meets, Mark::Nearly),
            (25, Mark::Nearly, Mark::Meets),
            (15, Mark::Nearly, Mark::Nearly),
        ];
        let mut work = Vec::new();
        for (times, first, second) in cells {
            for _ in 0..times {
                work.push(worked(u32::try_from(work.len()).unwrap() + 1, first, second));
            }
        }
        let (services, outcomes) = twice_of(&work);
        let twice = marked_twice(&services, &outcomes);
        let Agreement::Found { pairs, agreed, intraclass, lenient } =
            agreement(&twice, &services, &outcomes, &books, 30)
        else {
            panic!("100 are enough")
        };
        assert_eq!(pairs, 100);
        let acceptable = &agreed[0];
        assert!((acceptable.same - 0.60).abs() < 1e-12);
        let kappa = acceptable.kappa.unwrap();
        assert!((kappa.value - 0.130_434_782_608_695_7).abs() < 1e-12, "{kappa:?}");
        assert!(kappa.interval.is_some() && intraclass.is_some());
        assert_eq!(lenient.len(), 2);
        // All marks of a criterion lie in two neighbouring levels: linear, quadratic and no weights say the same there.
        let weighted = agreed[1].weighted.unwrap();
        assert!((weighted.value - kappa.value).abs() < 1e-12);
    }

    #[test]
    fn two_levels_apart_or_another_verdict_is_a_difference() {
        let book = example::book();
        let books = Books { present: &book, adopted: &[] };
        let work = [
            worked(1, Mark::Meets, Mark::Strong),
            worked(2, Mark::Nearly, Mark::Meets),
            worked(3, Mark::Nearly, Mark::Strong),
        ];
        let (services, outcomes) = twice_of(&work);
        let found = differences(&marked_twice(&services, &outcomes), &books);
        assert_eq!(found.iter().map(|one| one.service.as_str()).collect::<Vec<_>>(), ["s002", "s003"]);
        assert_eq!(found[0].words, ["one says acceptable, the other not"]);
        assert!(found[1].words.len() > 1);
    }
}
