//! The run under way: every tap is a row of its own on the disk.

use std::sync::Arc;

use leptos::prelude::*;
use logbook::answers::Answers;
use logbook::fact::{Fact, Incident, OnEye};
use logbook::tap_wire::{opening_text, read_opening, read_tap, tap_text};
use practicum::couch::fold::Run;
use practicum::couch::times::Dwell;
use practicum::couch::{Act, Opening, Tap};
use practicum::course_book::CourseBook;
use practicum::ids::{PersonId, PracticeModelId};
use practicum::moment::Seconds;
use practicum::outcome::Outcome;
use practicum::practice_model::ConsentKind;
use practicum::product::Lot;
use practicum::service::{Origin, Service};

use super::writing::Said;
use super::{Session, reading};
use crate::browser::store::{Also, Taps};

/// What was done about a reaction, as said at the end.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Response {
    /// Seconds of rinsing, if known.
    pub(crate) rinsed: Option<Seconds>,
    /// Swelling of the face or trouble breathing was seen.
    pub(crate) swelling_or_breathing: bool,
}

/// A run as read from the disk.
pub(crate) type RunUnderWay = (Arc<CourseBook>, Opening, Vec<Tap>);

impl Session {
    /// Opens a run: its opening and its first tap are on the disk, in one transaction, before the clock shows.
    pub(crate) async fn open_run(&self, opening: Opening) -> Result<(), String> {
        let first = Tap { sequence: 0, reading: reading(), act: Act::Begin };
        let values = [opening_text(&opening)?, tap_text(&first)?];
        let taps = Taps { run: opening.id.as_str(), first: 0, values: &values };
        self.database()?.add_taps(&taps).await.map_err(|error| error.to_string())?;
        self.read_runs().await
    }

    /// Saves what one tap recorded, with the entries that belong to it, in one transaction.
    pub(crate) async fn save_taps(
        &self,
        run: &str,
        trainee: &PersonId,
        taps: &[Tap],
        mut facts: Vec<Fact>,
    ) -> Result<(), String> {
        let Some(first) = taps.first() else { return Ok(()) };
        self.confirms_as_themself(taps)?;
        facts.extend(self.answers_to_taps(&run.into(), trainee, taps));
        let values = taps.iter().map(tap_text).collect::<Result<Vec<_>, _>>()?;
        // Row 0 of a run is its opening.
        let taps = Taps { run, first: first.sequence.saturating_add(1), values: &values };
        if facts.is_empty() {
            self.database()?.add_taps(&taps).await.map_err(|error| error.to_string())
        } else {
            self.write_with_taps(facts, taps).await
        }
    }

    /// Refuses what is said in the name of an instructor who is not unlocked on this device: a confirmed override,
    /// a time in doubt.
    fn confirms_as_themself(&self, taps: &[Tap]) -> Result<(), String> {
        let here = self.who_now().filter(|_| self.unlocked_now()).map(|person| person.id);
        let foreign = |by: &PersonId| Some(by) != here.as_ref();
        let assessor = |by: &PersonId| self.records_now().person(by).is_some_and(|person| person.role.may_assess());
        for tap in taps {
            match &tap.act {
                Act::Overridden(made) if made.confirmed && foreign(&made.by) => {
                    return Err("Only the named instructor, unlocked at the top, confirms an override here.".to_owned());
                }
                Act::TimeConfirmed { by, .. } if assessor(by) && foreign(by) => {
                    return Err("Only the named instructor, unlocked at the top, states a time here.".to_owned());
                }
                _ => {}
            }
        }
        Ok(())
    }

    /// Reads the run under way, if there is one.
    pub(crate) async fn load_run(&self) -> Result<Option<RunUnderWay>, String> {
        let database = self.database()?;
        let runs = database.runs().await.map_err(|error| error.to_string())?;
        let Some(run) = runs.first() else { return Ok(None) };
        let rows = database.load_run(run).await.map_err(|error| error.to_string())?;
        let mut rows = rows.into_iter();
        let Some((_, first)) = rows.next() else { return Ok(None) };
        let opening = read_opening(&first)?;
        let taps = rows.map(|(_, text)| read_tap(&text)).collect::<Result<Vec<_>, _>>()?;
        let books = self.books.get_untracked();
        let book = books.iter().find(|book| book.id == opening.course_book).or(books.last()).cloned();
        let book = book.ok_or("The course book of the service under way is not on this device.")?;
        Ok(Some((book, opening, taps)))
    }

    /// Reads what was answered so far at the end of a run.
    pub(crate) async fn load_answers(&self, run: &str) -> Result<Answers, String> {
        let text = self.database()?.answers(run).await.map_err(|error| error.to_string())?;
        text.map_or_else(|| Ok(Answers::default()), |text| Answers::read(&text))
    }

    /// Keeps what was answered so far at the end of a run, and returns what is kept now: where another tab answered
    /// since `base`, its answers stay but where these changed them.
    pub(crate) async fn keep_answers(&self, run: &str, base: &Answers, mine: &Answers) -> Result<Answers, String> {
        let change = |stored: Option<&str>| {
            let theirs = stored.map_or_else(|| Ok(Answers::default()), Answers::read)?;
            Answers::joined(base, mine, &theirs).text()
        };
        let kept = self.database()?.keep_answers(run, change).await.map_err(|error| error.to_string())?;
        Answers::read(&kept)
    }

    /// Notes which runs are under way.
    pub(super) async fn read_runs(&self) -> Result<(), String> {
        let runs = self.database()?.runs().await.map_err(|error| error.to_string())?;
        self.runs.set(runs);
        Ok(())
    }

    /// Ends a run: the record, the trainee's own view and its incidents are written and the taps removed in
    /// one transaction.
    pub(crate) async fn finish_run(
        &self,
        service: Service,
        outcome: Option<Outcome>,
        response: &Response,
    ) -> Result<(), String> {
        let at = reading().at;
        let author = service.trainee.clone();
        let run = service.id.to_string();
        let incidents = self.incidents_of(&service, response);
        let logged = if service.is_service() { Fact::ServiceLogged(service) } else { Fact::DrillLogged(service) };
        let reported = incidents.into_iter().map(Fact::IncidentReported);
        let facts = std::iter::once(logged).chain(reported).chain(outcome.map(Fact::OutcomeMarked));
        let said = facts.map(|fact| Said { author: author.clone(), at, fact }).collect();
        self.write_said(said, &Also { ends: Some(&run), ..Also::default() }).await?;
        self.read_runs().await
    }

    /// Lists every reaction of a run as an incident, each with what was on the eyes at that second.
    fn incidents_of(&self, service: &Service, response: &Response) -> Vec<Incident> {
        let (Origin::Live { opening, taps }, Some(book)) = (&service.origin, self.book_of(service)) else {
            return Vec::new();
        };
        let one = |(place, tap): (usize, &Tap)| {
            let Act::Reaction(id) = &tap.act else { return None };
            let run = Run::fold(&book, opening, taps.get(..=place).unwrap_or_default());
            // A second tap on the same reaction was refused and is no incident of its own.
            if run.incident() != Some(id) {
                return None;
            }
            let instructor = taps.iter().skip(place).find_map(|later| match &later.act {
                Act::GoOn { by, .. } => Some(by.clone()),
                _ => None,
            });
            let at = run.reacted_at();
            let on = run.dwells().iter().filter(|dwell| dwell.interrupted && dwell.off == at);
            Some(Incident {
                id: id.clone(),
                service: Some(service.id.clone()),
                practice_model: service.practice_model.clone(),
                trainee: Some(service.trainee.clone()),
                at: tap.reading.at,
                on_the_eye: on.map(|dwell| self.on_eye(run.prepared().products.get(&dwell.product), dwell)).collect(),
                steps: Vec::new(),
                rinsed: response.rinsed,
                swelling_or_breathing: response.swelling_or_breathing,
                instructor,
                note: service.note.clone(),
            })
        };
        taps.iter().enumerate().filter_map(one).collect()
    }

    fn on_eye(&self, lot: Option<&Lot>, dwell: &Dwell) -> OnEye {
        OnEye {
            eye: dwell.eye,
            kind: dwell.product,
            product: lot.map(|lot| lot.product.clone()),
            name: lot.map(|lot| self.product_name(&lot.product)).unwrap_or_default(),
            lot: lot.map(|lot| lot.number.clone()).unwrap_or_default(),
            seconds_on: dwell.off.map(|off| off.saturating_sub(dwell.first_contact)),
        }
    }

    /// Records a consent given now; what goes wrong is said at the top.
    pub(crate) fn give_consent(&self, practice_model: PracticeModelId, kind: ConsentKind) {
        let version = self.book().map(|book| book.consent_version.clone()).unwrap_or_default();
        let given = reading().at;
        self.write_soon(Fact::ConsentGiven { practice_model, kind, version, given });
    }

    fn write_soon(&self, fact: Fact) {
        let session = *self;
        leptos::task::spawn_local(async move {
            if let Err(sentence) = session.write(vec![fact]).await {
                session.alert.set(Some(sentence));
            }
        });
    }
}
