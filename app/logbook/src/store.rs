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

/// A store in memory for tests, with faults drawn from a seed: a full disk, a connection lost before a write or
/// just after it, another tab that wrote first, a reading that fails.
#[derive(Debug, Clone, Default)]
pub struct MemoryStore {
    stored: Stored,
    seed: u64,
    faults_in_1000: u64,
    faults: u64,
}

impl MemoryStore {
    /// Makes an empty store in which so many of 1000 writes fail, drawn from the seed.
    pub fn new(seed: u64, faults_in_1000: u64) -> Self {
        Self { seed, faults_in_1000, ..Self::default() }
    }

    /// Returns how many faults there were.
    pub fn faults(&self) -> u64 {
        self.faults
    }

    /// Returns what is stored, without a fault.
    pub fn stored(&self) -> &Stored {
        &self.stored
    }

    /// Writes as another tab would.
    pub fn written_elsewhere(&mut self, line: &str, head: &str) {
        self.stored.lines.push(line.to_owned());
        self.stored.head = head.to_owned();
    }

    fn fault(&mut self) -> bool {
        let fault = self.draw() % 1000 < self.faults_in_1000;
        self.faults += u64::from(fault);
        fault
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
        if self.fault() && self.draw().is_multiple_of(4) {
            return Err(StoreFault::Lost);
        }
        Ok(self.stored.clone())
    }

    fn append(&mut self, expected_head: &str, new_head: &str, lines: &[String]) -> Result<(), StoreFault> {
        let fault = self.fault().then(|| self.draw() % 3);
        match fault {
            Some(0) => return Err(StoreFault::Full),
            Some(1) => return Err(StoreFault::Lost),
            _ => {}
        }
        if self.stored.head != expected_head {
            return Err(StoreFault::HeadMoved);
        }
        self.stored.lines.extend_from_slice(lines);
        self.stored.head = new_head.to_owned();
        // Written, and nobody hears of it.
        if fault.is_some() { Err(StoreFault::Lost) } else { Ok(()) }
    }
}
