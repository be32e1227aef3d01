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

/// Why a store did not do what it was asked. Nothing was written then.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StoreFault {
    /// There is no room.
    Full,
    /// The store's connection was lost.
    Lost,
    /// Somebody else wrote first: read again, then repeat.
    HeadMoved,
}

impl fmt::Display for StoreFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            StoreFault::Full => "This device is full, so nothing was saved: free some space and try again.",
            StoreFault::Lost => "The connection to this device's storage was lost, so nothing was saved: try again.",
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

/// A store in memory for tests, with faults drawn from a seed.
#[derive(Debug, Clone, Default)]
pub struct MemoryStore {
    stored: Stored,
    seed: u64,
    faults_in_1000: u64,
}

impl MemoryStore {
    /// Makes an empty store in which so many of 1000 writes fail, drawn from the seed.
    pub fn new(seed: u64, faults_in_1000: u64) -> Self {
        Self { stored: Stored::default(), seed, faults_in_1000 }
    }

    /// Writes as another tab would.
    pub fn written_elsewhere(&mut self, line: &str, head: &str) {
        self.stored.lines.push(line.to_owned());
        self.stored.head = head.to_owned();
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

impl Store for MemoryStore {
    fn load(&mut self) -> Result<Stored, StoreFault> {
        Ok(self.stored.clone())
    }

    fn append(&mut self, expected_head: &str, new_head: &str, lines: &[String]) -> Result<(), StoreFault> {
        if self.draw() % 1000 < self.faults_in_1000 {
            return Err(if self.draw().is_multiple_of(2) { StoreFault::Full } else { StoreFault::Lost });
        }
        if self.stored.head != expected_head {
            return Err(StoreFault::HeadMoved);
        }
        self.stored.lines.extend_from_slice(lines);
        self.stored.head = new_head.to_owned();
        Ok(())
    }
}
