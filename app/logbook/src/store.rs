//! What the log asks of a store, and a store in memory that fails on demand.

use std::fmt;

/// The log as a store holds it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Stored {
    /// Entry lines in the order written.
    pub lines: Vec<String>,
    /// Hash that this device's chain ends with; empty before the first entry.
    pub head: String,
}

/// Why a store did not do what it was asked. Nothing was written then, unless the connection was lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StoreFault {
    /// There is no room.
    Full,
    /// The store's connection was lost: all was written or nothing, and only reading again tells which.
    Lost,
    /// Somebody else wrote first: read again, then repeat.
    HeadMoved,
}

impl fmt::Display for StoreFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            StoreFault::Full => "This device is full, so nothing was saved: free some space and try again.",
            StoreFault::Lost => "The connection to this device's storage was lost: reload to see what was saved.",
            StoreFault::HeadMoved => "Another tab saved something first, so nothing was saved here: reload.",
        })
    }
}

impl std::error::Error for StoreFault {}

/// A place that keeps entry lines: all of a write, or nothing of it.
pub trait Store {
    /// Reads everything.
    ///
    /// # Errors
    /// Returns why it could not be read.
    fn load(&mut self) -> Result<Stored, StoreFault>;

    /// Appends lines and moves the head, when it still is `expected_head`.
    ///
    /// # Errors
    /// Returns why nothing was written.
    fn append(&mut self, expected_head: &str, new_head: &str, lines: &[String]) -> Result<(), StoreFault>;
}

/// What goes wrong at a store, each counted in [`Faults`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Trouble {
    /// There is no room: refused before anything is written.
    Quota,
    /// The transaction is taken back after all of it was asked for.
    Aborted,
    /// The connection breaks before the write.
    LostBefore,
    /// The write is whole, and nobody hears of it.
    LostAfter,
    /// The device stops in the middle of a write: a part of the lines is on the disk without their head, and the
    /// store takes that part back when it is opened again, as a database does with its journal.
    Torn,
    /// The word that all is written comes late: somebody reads before it.
    Delayed,
    /// A reading breaks.
    ReadLost,
    /// Another tab writes first.
    Overtaken,
}

impl Trouble {
    /// Every kind of trouble.
    pub const ALL: [Self; 8] = [
        Self::Quota,
        Self::Aborted,
        Self::LostBefore,
        Self::LostAfter,
        Self::Torn,
        Self::Delayed,
        Self::ReadLost,
        Self::Overtaken,
    ];
}

/// How often each trouble happened, in the order of [`Trouble::ALL`].
pub type Faults = [u64; Trouble::ALL.len()];

/// A store in memory for tests, with trouble drawn from a seed.
#[derive(Debug, Clone, Default)]
pub struct MemoryStore {
    stored: Stored,
    /// Lines of a write that the device stopped in, on the disk and not part of the store.
    torn: Vec<String>,
    seed: u64,
    faults_in_1000: u64,
    faults: Faults,
    /// What was read between a write and the word that it is done.
    read_early: Option<Stored>,
}

impl MemoryStore {
    /// Makes an empty store in which so many of 1000 writes fail, drawn from the seed.
    pub fn new(seed: u64, faults_in_1000: u64) -> Self {
        Self { seed, faults_in_1000, ..Self::default() }
    }

    /// Returns how many faults there were of each kind.
    pub fn faults(&self) -> &Faults {
        &self.faults
    }

    /// Returns what is stored, without a fault.
    pub fn stored(&self) -> &Stored {
        &self.stored
    }

    /// Returns what somebody read between the last write and the word that it was done, once.
    pub fn read_early(&mut self) -> Option<Stored> {
        self.read_early.take()
    }

    /// Whether a part of a write lies on the disk that was never completed.
    pub fn is_torn(&self) -> bool {
        !self.torn.is_empty()
    }

    /// Writes as another tab would.
    pub fn written_elsewhere(&mut self, line: &str, head: &str) {
        self.stored.lines.push(line.to_owned());
        self.stored.head = head.to_owned();
    }

    /// Counts a trouble that a test brought about itself.
    pub fn note(&mut self, trouble: Trouble) {
        if let Some(place) = Trouble::ALL.iter().position(|known| *known == trouble)
            && let Some(count) = self.faults.get_mut(place)
        {
            *count += 1;
        }
    }

    fn trouble(&mut self, among: &[Trouble]) -> Option<Trouble> {
        if self.draw() % 1000 >= self.faults_in_1000 {
            return None;
        }
        // As many as fit a `usize` on every machine.
        let place = usize::try_from(self.draw() % among.len().max(1) as u64).unwrap_or_default();
        let trouble = among.get(place).copied()?;
        self.note(trouble);
        Some(trouble)
    }

    fn draw(&mut self) -> u64 {
        // An xorshift generator: enough to pick faults.
        self.seed = self.seed.max(1);
        self.seed ^= self.seed << 13;
        self.seed ^= self.seed >> 7;
        self.seed ^= self.seed << 17;
        self.seed
    }
}

/// What can go wrong with a write.
const OF_WRITES: [Trouble; 6] =
    [Trouble::Quota, Trouble::Aborted, Trouble::LostBefore, Trouble::LostAfter, Trouble::Torn, Trouble::Delayed];

impl Store for MemoryStore {
    fn load(&mut self) -> Result<Stored, StoreFault> {
        // Opened again, the store takes back what was never completed.
        self.torn.clear();
        // Readings fail more seldom than writes.
        match self.draw().is_multiple_of(4) && self.trouble(&[Trouble::ReadLost]).is_some() {
            true => Err(StoreFault::Lost),
            false => Ok(self.stored.clone()),
        }
    }

    fn append(&mut self, expected_head: &str, new_head: &str, lines: &[String]) -> Result<(), StoreFault> {
        self.torn.clear();
        let trouble = self.trouble(&OF_WRITES);
        match trouble {
            Some(Trouble::Quota) => return Err(StoreFault::Full),
            Some(Trouble::Aborted | Trouble::LostBefore) => return Err(StoreFault::Lost),
            _ => {}
        }
        if self.stored.head != expected_head {
            return Err(StoreFault::HeadMoved);
        }
        if trouble == Some(Trouble::Torn) {
            let written = usize::try_from(self.draw() % (lines.len() as u64 + 1)).unwrap_or_default();
            self.torn = lines.iter().take(written).cloned().collect();
            return Err(StoreFault::Lost);
        }
        self.stored.lines.extend_from_slice(lines);
        self.stored.head = new_head.to_owned();
        match trouble {
            // Written, and nobody hears of it.
            Some(Trouble::LostAfter) => Err(StoreFault::Lost),
            Some(Trouble::Delayed) => {
                self.read_early = Some(self.stored.clone());
                Ok(())
            }
            _ => Ok(()),
        }
    }
}
