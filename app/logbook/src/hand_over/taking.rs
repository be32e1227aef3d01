//! Taking a file in: what it would add, and the lines to write, all of them or none.

use std::sync::Arc;

use practicum::ids::DeviceId;
use practicum::moment::Moment;
use practicum::order::set_of;

use super::preview::{Added, Preview};
use super::{HandOver, HandOverError};
use crate::entry::{Checked, Entry};
use crate::fact::ChainPlace;
use crate::kind::Kind;
use crate::log::Inserted;
use crate::logbook::Logbook;
use crate::turns::{AtOnce, Turns, at_once};

/// What taking a file in would make of a device's logbook. Nothing is written yet.
#[derive(Debug, Clone)]
pub struct TakeIn {
    /// The logbook as it is afterwards.
    pub logbook: Logbook,
    /// Lines to append, in one write.
    pub lines: Vec<String>,
    /// Head of this device's chain to note with them.
    pub head: String,
    /// What there is to see before it is done.
    pub preview: Preview,
    /// Chains of other devices that the file carries further, with their new ends: what a receipt may say was seen.
    pub carried_further: Vec<(DeviceId, ChainPlace)>,
}

impl HandOver {
    /// Works out what taking it in would make of a device's logbook; changes nothing.
    ///
    /// `demo_place` says that the device's database is the demo's; `now` is the device's clock.
    ///
    /// # Errors
    /// Returns why the file may not come in here.
    pub fn take_in(&self, logbook: &Logbook, demo_place: bool, now: &Moment) -> Result<TakeIn, HandOverError> {
        at_once(self.take_in_turns(logbook, demo_place, now, &mut AtOnce))
    }

    /// As [`HandOver::take_in`], pausing in between.
    ///
    /// # Errors
    /// As [`HandOver::take_in`].
    pub async fn take_in_turns(
        &self,
        logbook: &Logbook,
        demo_place: bool,
        now: &Moment,
        turns: &mut dyn Turns,
    ) -> Result<TakeIn, HandOverError> {
        self.may_come_in(logbook, demo_place)?;
        let mut log = logbook.log().copied(turns).await;
        let mut lines = Vec::new();
        let mut added = Added::default();
        for entry in self.log.entries() {
            match log.insert_sound(Arc::clone(entry)) {
                Inserted::Added(entry) => {
                    lines.push(entry.line().to_owned());
                    added.new.push(entry);
                }
                Inserted::Completed(entry) => {
                    lines.push(entry.line().to_owned());
                    added.completed.push(entry);
                }
                Inserted::Known | Inserted::Damaged => {}
            }
            turns.turn().await;
        }
        for entry in self.log.damaged() {
            if log.insert(Checked::BodyChanged(entry.clone())) == Inserted::Damaged {
                lines.push(entry.line().to_owned());
                added.damaged += 1;
            }
        }
        for line in self.log.unreadable() {
            if !log.unreadable().contains(line) {
                log.insert_line(line);
                lines.push(line.clone());
                added.unreadable += 1;
            }
        }
        let before = logbook;
        let logbook = before.with_log_in_turns(log, turns).await;
        if logbook.log().foundings().len() > 1 {
            return Err(HandOverError::broken("it mixes the records of two academies"));
        }
        if logbook.records().academy().is_some() && logbook.records().is_demo() != demo_place {
            return Err(HandOverError::Demo { file_is_demo: logbook.records().is_demo() });
        }
        if logbook.holds_erased() {
            // What an erasure in the file takes away is not written even for a moment.
            for line in &mut lines {
                logbook.log().strip_erased(line);
                turns.turn().await;
            }
        }
        let carried_further = carried_further(before, &logbook, &added.new, turns).await;
        turns.rest().await;
        let preview = Preview::of(self, before, &logbook, &added, now, turns).await;
        Ok(TakeIn { head: logbook.head(), logbook, lines, preview, carried_further })
    }

    fn may_come_in(&self, logbook: &Logbook, demo_place: bool) -> Result<(), HandOverError> {
        if self.demo != demo_place {
            return Err(HandOverError::Demo { file_is_demo: self.demo });
        }
        let ours = logbook.log().foundings();
        match ours.first() {
            Some(ours) if !self.academy.is_empty() && *ours != self.academy => Err(HandOverError::OtherAcademy),
            Some(_) => Ok(()),
            None if self.log.foundings().is_empty() && self.part => Err(HandOverError::OnlyAPart),
            // Without its founding nothing tells demo records from real ones.
            None if self.log.foundings().is_empty() => {
                Err(HandOverError::broken("it does not hold the entry that founded its academy"))
            }
            None => Ok(()),
        }
    }
}

/// Returns the chains of other devices that reach further than before, where they hold in a row.
///
/// A chain that only receipts have made longer is not among them: a receipt for a receipt would call for another one,
/// and two devices that hand over to each other would never come to hold the same.
async fn carried_further(
    before: &Logbook,
    after: &Logbook,
    new: &[Arc<Entry>],
    turns: &mut dyn Turns,
) -> Vec<(DeviceId, ChainPlace)> {
    let says_more = new.iter().filter(|entry| !matches!(entry.header().kind, Kind::LogSeen));
    let devices = set_of(says_more.map(|entry| &entry.header().device));
    turns.rest().await;
    let mut further = Vec::new();
    for device in devices {
        if device == after.device() {
            continue;
        }
        let Some(now) = end(after, device, turns).await else { continue };
        let then = end(before, device, turns).await.map_or(0, |place| place.sequence);
        if now.sequence > then {
            further.push((device.clone(), now));
        }
    }
    further
}

/// Returns up to where a device's chain holds in a row.
async fn end(logbook: &Logbook, device: &DeviceId, turns: &mut dyn Turns) -> Option<ChainPlace> {
    let entries = logbook.log().in_a_row_in_turns(device, turns).await;
    entries.last().map(|last| ChainPlace { sequence: last.header().sequence, head: last.hash().to_owned() })
}
