//! The one way to write: entries are on the disk before any screen changes.

use std::sync::Arc;

use leptos::prelude::*;
use logbook::{Draft, Fact, Logbook, Prepared};
use practicum::competency::{Decision, EvidenceState, SignOff};
use practicum::course_book::CourseBook;
use practicum::ids::PersonId;
use practicum::moment::Moment;
use practicum::person::Person;

use super::Session;
use super::keys::Ring;
use super::turns::PageTurns;
use crate::browser;
use crate::browser::store::{Also, StoreError, Taps};

/// How often a write is tried again after another tab wrote first.
pub(super) const TRIES: usize = 3;

/// A fact with its author and moment.
#[derive(Clone)]
pub(crate) struct Said {
    /// Who says it.
    pub(crate) author: PersonId,
    /// When.
    pub(crate) at: Moment,
    /// What.
    pub(crate) fact: Fact,
}

impl Session {
    /// Writes facts in the name of who is using the device, all or none.
    ///
    /// # Errors
    /// Returns a sentence when nobody is named, an instructor or the owner is locked, or nothing could be
    /// saved; nothing has changed then.
    pub(crate) async fn write(&self, facts: Vec<Fact>) -> Result<(), String> {
        let author = self.author()?;
        for fact in &facts {
            if let Fact::SignedOff(sign_off) = fact {
                let rows = untrack(|| self.competencies(&sign_off.trainee));
                let row = rows.iter().find(|row| row.competency.id == sign_off.competency);
                sign_off_stands(row.map(|row| &row.evidence), sign_off)?;
            }
        }
        let facts = self.standing_on_evidence(facts)?;
        self.write_said(said_now(&author, facts), &Also::default()).await
    }

    fn author(&self) -> Result<PersonId, String> {
        let who = self.who.get_untracked();
        let records = self.records_now();
        let person = who.as_ref().and_then(|who| records.person(who));
        author_of(person, self.unlocked_now())
    }

    /// Writes facts of who is using the device together with rows of the run under way: one transaction.
    ///
    /// # Errors
    /// As [`Session::write`].
    pub(super) async fn write_with_taps(&self, facts: Vec<Fact>, taps: Taps<'_>) -> Result<(), String> {
        let author = self.author()?;
        self.write_said(said_now(&author, facts), &Also { taps: Some(taps), ..Also::default() }).await
    }

    /// Writes dated facts with what belongs to them, in one transaction.
    ///
    /// # Errors
    /// Returns a sentence when nothing could be saved.
    pub(super) async fn write_said(&self, said: Vec<Said>, also: &Also<'_>) -> Result<(), String> {
        if said.is_empty() && *also == Also::default() {
            return Ok(());
        }
        let database = self.database()?;
        self.ready_keys().await?;
        for _ in 0..TRIES {
            let ring = self.ring();
            let said = self.with_requests(&said);
            let written = self.written(&said, &ring).await?;
            match database.append(written.expected(), written.head(), written.lines(), also).await {
                Ok(()) => {
                    self.take_up(written).await?;
                    self.drop_erased().await;
                    browser::tabs::announce(super::opening::CHANGED);
                    self.touch();
                    self.ask_to_keep();
                    return Ok(());
                }
                // Another tab wrote first: take in what it wrote, then write after it.
                Err(StoreError::HeadMoved) => self.reload().await?,
                Err(error) => return Err(error.to_string()),
            }
        }
        Err(StoreError::HeadMoved.to_string())
    }

    /// Founds an academy: as [`Session::write_said`], by the keys that were just made for it.
    pub(super) async fn write_founding(&self, said: Vec<Said>, also: &Also<'_>, ring: &Ring) -> Result<(), String> {
        let database = self.database()?;
        let logbook = Arc::unwrap_or_clone(self.logbook.get_value());
        let (logbook, expected, lines) = with_entries(logbook, &said, ring).await?;
        database.append(&expected, &logbook.head(), &lines, also).await.map_err(|error| error.to_string())?;
        self.show(Arc::new(logbook));
        browser::tabs::announce(super::opening::CHANGED);
        Ok(())
    }

    /// Puts before what is said the requests of keys that sign here for the first time.
    pub(super) fn with_requests(&self, said: &[Said]) -> Vec<Said> {
        let Some(at) = said.first().map(|first| first.at) else { return Vec::new() };
        // Whoever founds an academy, or makes its key, admits these keys in the same go.
        let admits = said
            .iter()
            .any(|said| matches!(said.fact, Fact::AcademyFounded(_) | Fact::AcademyKeyMade { .. } | Fact::KeyAsked(_)));
        let requests = if admits { Vec::new() } else { self.requests() };
        let requests = requests.into_iter().map(|(author, fact)| Said { author, at, fact });
        requests.chain(said.iter().cloned()).collect()
    }

    /// Draws up and signs entries; nothing is saved yet.
    async fn written(&self, said: &[Said], ring: &Ring) -> Result<Written, String> {
        let logbook = self.logbook.get_value();
        let at = said.first().map(|first| first.at);
        if said.iter().any(|said| Some(said.at) != at) {
            // Later moments stand on what earlier ones said.
            let logbook = Arc::unwrap_or_clone(logbook);
            let (logbook, expected, lines) = with_entries(logbook, said, ring).await?;
            return Ok(Written::Whole { expected, head: logbook.head(), logbook: Box::new(logbook), lines });
        }
        let at = at.unwrap_or_else(|| super::reading().at);
        Ok(Written::More(prepared(&logbook, said, at, ring).await?))
    }

    /// Shows what was saved. Entries are added to the logbook in place: with a large log, a copy takes longer than
    /// all the rest.
    async fn take_up(&self, written: Written) -> Result<(), String> {
        match written {
            Written::Whole { logbook, .. } => self.show(Arc::new(*logbook)),
            // Nothing but taps or small facts.
            Written::More(prepared) if prepared.lines.is_empty() => {}
            Written::More(prepared) => {
                let head = self.logbook.with_value(|logbook| logbook.head());
                if head != prepared.expected_head {
                    // Something else was shown while this was saved: the disk holds both.
                    return self.reload().await;
                }
                // The screen lets go of the records first, or they would be copied after all.
                self.records.update_untracked(|shown| *shown = Arc::default());
                self.logbook.update_value(|logbook| {
                    Arc::make_mut(logbook).commit(prepared);
                });
                self.show_again();
            }
        }
        Ok(())
    }

    /// Shows a logbook: everything on the screen is worked out from it.
    pub(super) fn show(&self, logbook: Arc<Logbook>) {
        let mut before = logbook;
        self.logbook.update_value(|shown| std::mem::swap(shown, &mut before));
        self.show_again();
        // A large log takes a while to be let go of.
        leptos::task::spawn_local(async move {
            if let Ok(before) = Arc::try_unwrap(before) {
                before.let_go(&mut PageTurns::later().await).await;
            }
        });
    }

    fn show_again(&self) {
        self.shown.update_value(|shown| *shown += 1);
        let records = self.logbook.with_value(|logbook| logbook.shared_records());
        let books = super::opening::books(&records);
        let same = |known: &Vec<Arc<CourseBook>>| {
            known.len() == books.len() && known.iter().zip(&books).all(|(known, book)| Arc::ptr_eq(known, book))
        };
        if !self.books.with_untracked(same) {
            self.books.set(books);
        }
        self.records.set(records);
        self.check_signatures();
    }
}

/// Entries to be saved.
enum Written {
    /// More entries for the logbook that is shown.
    More(Prepared),
    /// A logbook with entries of more than one moment.
    Whole {
        /// Head of this device's chain before.
        expected: String,
        /// Head afterwards.
        head: String,
        /// The logbook afterwards.
        logbook: Box<Logbook>,
        /// Lines to save.
        lines: Vec<String>,
    },
}

impl Written {
    fn expected(&self) -> &str {
        match self {
            Written::More(prepared) => &prepared.expected_head,
            Written::Whole { expected, .. } => expected,
        }
    }

    fn head(&self) -> &str {
        match self {
            Written::More(prepared) => &prepared.new_head,
            Written::Whole { head, .. } => head,
        }
    }

    fn lines(&self) -> &[String] {
        match self {
            Written::More(prepared) => &prepared.lines,
            Written::Whole { lines, .. } => lines,
        }
    }
}

/// Draws up entries of one moment and signs them.
async fn prepared(logbook: &Logbook, said: &[Said], at: Moment, ring: &Ring) -> Result<Prepared, String> {
    let drafts: Vec<Draft> = said.iter().map(|one| Draft::new(&one.author, one.fact.clone())).collect();
    let drawn = logbook.draw_up(&drafts, at, &mut browser::random::hex_id, &Session::signers(ring));
    ring.sign(drawn.map_err(|error| error.to_string())?).await
}

/// Returns in whose name is written: the person using the device, an instructor or the owner only while unlocked.
/// What that person may write is the logbook's to say.
fn author_of(person: Option<&Person>, unlocked: bool) -> Result<PersonId, String> {
    let Some(person) = person else {
        return Err("Say at the top who is using this device, then do it again. Nothing was lost.".to_owned());
    };
    if person.role.may_assess() && !unlocked {
        return Err(format!(
            "{} is locked: unlock at the top, then do it again. It locks by itself after five minutes. Nothing was lost.",
            person.name
        ));
    }
    Ok(person.id.clone())
}

/// Says why a sign-off may not be given on this evidence; "not yet" and a withdrawal need none.
fn sign_off_stands(evidence: Option<&EvidenceState>, sign_off: &SignOff) -> Result<(), String> {
    let Some(evidence) = evidence else {
        return Err("The course book in force has no such competency.".to_owned());
    };
    match sign_off.decision {
        Decision::Signed if !evidence.lines.iter().all(|line| line.met) => {
            Err("Evidence is missing: see what is listed as missing. A sign-off needs all of it.".to_owned())
        }
        Decision::Signed => evidence.check_level(sign_off.level),
        Decision::NotYet | Decision::Withdrawn => Ok(()),
    }
}

/// Says facts now in the name of a person.
pub(super) fn said_now(author: &PersonId, facts: Vec<Fact>) -> Vec<Said> {
    let at = super::reading().at;
    facts.into_iter().map(|fact| Said { author: author.clone(), at, fact }).collect()
}

/// Returns a logbook as it would be with these facts, the head before, and the lines to save.
pub(super) async fn with_entries(
    mut logbook: Logbook,
    said: &[Said],
    ring: &Ring,
) -> Result<(Logbook, String, Vec<String>), String> {
    let expected = logbook.head();
    let mut lines = Vec::with_capacity(said.len());
    for together in said.chunk_by(|one, next| one.at == next.at) {
        let Some(at) = together.first().map(|one| one.at) else { continue };
        let prepared = prepared(&logbook, together, at, ring).await?;
        lines.extend(prepared.lines.iter().cloned());
        logbook.commit(prepared);
    }
    Ok((logbook, expected, lines))
}

#[cfg(test)]
mod tests {
    use practicum::competency::{Decision, EvidenceLine, EvidenceState, SignOff};
    use practicum::moment::parse_moment;
    use practicum::person::{Person, Role};

    use super::{author_of, sign_off_stands};

    #[test]
    fn an_instructor_or_the_owner_writes_only_while_unlocked() {
        let person = |role| Person {
            id: "p".into(),
            name: "Pat".to_owned(),
            role,
            group: String::new(),
            since: None,
            left: None,
            show_times_early: false,
        };
        for role in [Role::Instructor, Role::Owner] {
            assert!(author_of(Some(&person(role)), false).is_err_and(|why| why.starts_with("Pat is locked")));
            assert!(author_of(Some(&person(role)), true).is_ok());
        }
        assert!(author_of(Some(&person(Role::Trainee)), false).is_ok());
        assert!(author_of(None, true).is_err());
    }

    #[test]
    fn a_sign_off_needs_all_its_evidence_and_its_level() {
        let line = |met| EvidenceLine { words: "acceptable".to_owned(), have: 1, need: 2, met, services: Vec::new() };
        let evidence =
            |met| EvidenceState { lines: vec![line(true), line(met)], met, not_worked_out: None, level_at_least: 4 };
        let sign_off = |decision, level| SignOff {
            id: "".into(),
            competency: "c".into(),
            trainee: "t".into(),
            by: "i".into(),
            at: parse_moment("2026-03-02T10:00:00+00:00").unwrap(),
            decision,
            level,
            comment: String::new(),
            services: Vec::new(),
            stands_on: None,
        };
        assert!(sign_off_stands(Some(&evidence(false)), &sign_off(Decision::Signed, 5)).is_err());
        assert!(sign_off_stands(Some(&evidence(true)), &sign_off(Decision::Signed, 3)).is_err());
        assert!(sign_off_stands(Some(&evidence(true)), &sign_off(Decision::Signed, 4)).is_ok());
        assert!(sign_off_stands(Some(&evidence(false)), &sign_off(Decision::NotYet, 1)).is_ok());
        assert!(sign_off_stands(None, &sign_off(Decision::Signed, 5)).is_err());
    }
}
