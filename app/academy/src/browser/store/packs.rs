//! Packs: the log's entry lines, many to one value, and the hash their chain ends with.

use wasm_bindgen::JsValue;
use web_sys::IdbKeyRange;

use super::couch::Taps;
use super::transaction::{Mode, Transaction};
use super::{CHANGES, COUCH, Database, HEAD, META, PACKS, SEALED, StoreError};

/// Above this many packs, the small ones are joined.
const SMALL_PACKS: u32 = 64;
/// A joined pack holds at most this many lines; a pack that came larger is left as it is.
const LINES_IN_PACK: usize = 1000;
/// A pack is closed at this many bytes: one takes the page some milliseconds to write or to read.
const BYTES_IN_PACK: usize = 512 * 1024;
/// Packs that are read at a time.
const PACKS_AT_A_TIME: u32 = 4;
/// So many packs in one write are a large file: they are full, and never joined.
const LARGE_WRITE: usize = 8;

/// The log as it stands in the database.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Loaded {
    /// Packs in the order they were written: entry lines parted by line feeds.
    pub packs: Vec<String>,
    /// Hash the chain ends with; empty before the first entry.
    pub head: String,
}

/// What is written in one transaction with entries.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Also<'a> {
    /// Rows of the run under way.
    pub taps: Option<Taps<'a>>,
    /// A run that ends: all its rows are removed.
    pub ends: Option<&'a str>,
    /// Small facts by key.
    pub meta: &'a [(&'a str, &'a str)],
}

impl Database {
    /// Reads all packs and the head that belongs to them, as they stood at one moment.
    ///
    /// # Errors
    /// Returns why they could not be read.
    pub async fn load(&self) -> Result<Loaded, StoreError> {
        let (loaded, changes) = self
            .run(&[PACKS, META], Mode::Read, async |transaction, _| {
                let head = transaction.text(META, &HEAD.into()).await?.unwrap_or_default();
                let changes = changes(transaction).await?;
                let packs =
                    transaction.rows(PACKS, None, PACKS_AT_A_TIME).await?.into_iter().map(|(_, lines)| lines).collect();
                Ok((Loaded { packs, head }, changes))
            })
            .await?;
        self.seen.set(changes);
        Ok(loaded)
    }

    /// Whether another tab has changed the log since this one last read it: one small value is read.
    ///
    /// # Errors
    /// Returns why it could not be read.
    pub async fn changed_elsewhere(&self) -> Result<bool, StoreError> {
        let stored = self.run(&[META], Mode::Read, async |transaction, _| changes(transaction).await).await?;
        Ok(stored != self.seen.get())
    }

    /// Appends entry lines and moves the head from `expected_head` (empty before the first entry) to
    /// `new_head`, with what belongs to them, in one transaction. Small packs are joined now and then.
    ///
    /// # Errors
    /// Returns [`StoreError::HeadMoved`] when another tab wrote first, [`StoreError::Full`] when there is
    /// no room, or another reason; nothing is written then.
    pub async fn append(
        &self,
        expected_head: &str,
        new_head: &str,
        lines: &[String],
        also: &Also<'_>,
    ) -> Result<(), StoreError> {
        let (small, counted) = self
            .run(&[PACKS, META, COUCH], Mode::Write, async |transaction, replay| {
                let stored = transaction.text(META, &HEAD.into()).await?.unwrap_or_default();
                // The first run may have been complete after all: its head, or without entries its taps, tell.
                if replay && stored == new_head {
                    let done = match &also.taps {
                        _ if new_head != expected_head => true,
                        Some(taps) => taps.are_there(transaction).await?,
                        None => false,
                    };
                    if done {
                        return Ok((0, changes(transaction).await?));
                    }
                }
                if stored != expected_head {
                    return Err(StoreError::HeadMoved);
                }
                let last = push_packs(transaction, lines).await?;
                if let Some(last) = last {
                    transaction.put(META, &SEALED.into(), &last.to_string()).await?;
                }
                transaction.put(META, &HEAD.into(), new_head).await?;
                let counted = count_change(transaction).await?;
                super::meta::write(transaction, also.meta).await?;
                if let Some(taps) = &also.taps {
                    taps.write(transaction).await?;
                }
                if let Some(run) = also.ends {
                    transaction.remove(COUCH, &super::couch::range(run)?.into()).await?;
                }
                Ok((transaction.count(PACKS, unsealed(transaction).await?.as_ref()).await?, counted))
            })
            .await?;
        self.note_own(counted);
        if small > SMALL_PACKS {
            // The entries are safe already: joining them may wait for the next time.
            let _ = self.join_small_packs().await;
        }
        Ok(())
    }

    /// Puts a whole log, which holds all that was here, in place of what stood here under `expected_head`.
    ///
    /// # Errors
    /// Returns [`StoreError::HeadMoved`] when another tab wrote meanwhile, or why it could not be written;
    /// nothing is changed then.
    pub async fn replace_all(&self, expected_head: &str, head: &str, lines: &[String]) -> Result<(), StoreError> {
        self.run(&[PACKS, META], Mode::Write, async |transaction, replay| {
            let stored = transaction.text(META, &HEAD.into()).await?.unwrap_or_default();
            if replay && stored == head && head != expected_head {
                return Ok(());
            }
            if stored != expected_head {
                return Err(StoreError::HeadMoved);
            }
            transaction.clear(PACKS).await?;
            match push_packs(transaction, lines).await? {
                Some(last) => transaction.put(META, &SEALED.into(), &last.to_string()).await?,
                None => transaction.remove(META, &SEALED.into()).await?,
            }
            count_change(transaction).await?;
            transaction.put(META, &HEAD.into(), head).await
        })
        .await
    }

    /// Notes a change of this tab's own as read, unless another tab's stands before it, which is still to be read.
    fn note_own(&self, counted: u64) {
        if counted == self.seen.get().saturating_add(1) {
            self.seen.set(counted);
        }
    }

    async fn join_small_packs(&self) -> Result<(), StoreError> {
        self.run(&[PACKS, META], Mode::Write, async |transaction, _| {
            let part = unsealed(transaction).await?;
            let rows = transaction.rows(PACKS, part.as_ref(), PACKS_AT_A_TIME).await?;
            let keys: Vec<f64> = rows.iter().filter_map(|(key, _)| key.as_f64()).collect();
            let packs: Vec<String> = rows.into_iter().map(|(_, pack)| pack).collect();
            if keys.len() != packs.len() {
                return Err(StoreError::Other("a pack has a key that is no number".to_owned()));
            }
            let joined = join(&packs);
            for (key, pack) in keys.iter().zip(&joined) {
                transaction.put(PACKS, &JsValue::from_f64(*key), pack).await?;
            }
            for key in keys.iter().skip(joined.len()) {
                transaction.remove(PACKS, &JsValue::from_f64(*key)).await?;
            }
            // The last pack stays open for more.
            match joined.len().checked_sub(2).and_then(|last_full| keys.get(last_full)) {
                Some(key) => transaction.put(META, &SEALED.into(), &key.to_string()).await,
                None => Ok(()),
            }
        })
        .await
    }
}

/// Writes lines as packs, one after the other. Returns the number of the last one where they are so many that they
/// are to be left alone from now on.
async fn push_packs(transaction: &Transaction, lines: &[String]) -> Result<Option<f64>, StoreError> {
    let (mut last, mut count) = (None, 0_usize);
    for pack in packs(lines) {
        // A line that is no line takes back all that was written of this transaction.
        check_lines(pack)?;
        last = transaction.push(PACKS, &pack.join("\n")).await?;
        count += 1;
    }
    Ok(last.filter(|_| count >= LARGE_WRITE))
}

/// Parts lines into packs, in order.
fn packs(lines: &[String]) -> impl Iterator<Item = &[String]> {
    let mut rest = lines;
    std::iter::from_fn(move || {
        let mut bytes = 0_usize;
        let fits = |line: &&String| {
            bytes = bytes.saturating_add(line.len());
            bytes <= BYTES_IN_PACK
        };
        // A line that is larger than a pack has one to itself.
        let held = rest.iter().take(LINES_IN_PACK).take_while(fits).count().max(1).min(rest.len());
        let (pack, after) = rest.split_at_checked(held)?;
        rest = after;
        (!pack.is_empty()).then_some(pack)
    })
}

/// Returns how often the log was changed.
async fn changes(transaction: &Transaction) -> Result<u64, StoreError> {
    let text = transaction.text(META, &CHANGES.into()).await?;
    Ok(text.and_then(|text| text.parse().ok()).unwrap_or_default())
}

/// Counts one more change to the log and returns the new number.
async fn count_change(transaction: &Transaction) -> Result<u64, StoreError> {
    let counted = changes(transaction).await?.wrapping_add(1);
    transaction.put(META, &CHANGES.into(), &counted.to_string()).await?;
    Ok(counted)
}

/// Returns the keys of the packs that may still be joined; nothing stands for all of them.
async fn unsealed(transaction: &Transaction) -> Result<Option<IdbKeyRange>, StoreError> {
    let sealed = transaction.text(META, &SEALED.into()).await?.and_then(|key| key.parse::<f64>().ok());
    sealed
        .map(|key| IdbKeyRange::lower_bound_with_open(&JsValue::from_f64(key), true))
        .transpose()
        .map_err(|thrown| StoreError::of(&thrown))
}

/// Joins neighbouring packs, in order, while the result holds no more lines than a pack may.
fn join(packs: &[String]) -> Vec<String> {
    let mut joined: Vec<(usize, String)> = Vec::new();
    for pack in packs {
        let lines = pack.lines().count();
        match joined.last_mut() {
            Some((held, text)) if *held + lines <= LINES_IN_PACK && text.len() + pack.len() <= BYTES_IN_PACK => {
                *held += lines;
                text.push('\n');
                text.push_str(pack);
            }
            _ => joined.push((lines, pack.clone())),
        }
    }
    joined.into_iter().map(|(_, text)| text).collect()
}

fn check_lines(lines: &[String]) -> Result<(), StoreError> {
    match lines.iter().any(|line| line.is_empty() || line.bytes().any(|byte| matches!(byte, b'\n' | b'\r'))) {
        true => Err(StoreError::Other("an entry line is empty or holds a line break".to_owned())),
        false => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::{BYTES_IN_PACK, LINES_IN_PACK, check_lines, join, packs};

    fn lines_of(packs: &[String]) -> Vec<&str> {
        packs.iter().flat_map(|pack| pack.lines()).collect()
    }

    #[test]
    fn joining_keeps_every_line_in_order() {
        let packs: Vec<String> = (0..65).map(|n| format!("a{n}\nb{n}")).collect();
        let joined = join(&packs);
        assert_eq!(joined.len(), 1);
        assert_eq!(lines_of(&joined), lines_of(&packs));
    }

    #[test]
    fn joined_packs_hold_no_more_lines_than_allowed() {
        let packs: Vec<String> = (0..65).map(|n| vec![format!("line {n}"); 37].join("\n")).collect();
        let joined = join(&packs);
        assert_eq!(lines_of(&joined), lines_of(&packs));
        assert_eq!(joined.len(), 3);
        assert!(joined.iter().all(|pack| pack.lines().count() <= LINES_IN_PACK));
    }

    #[test]
    fn a_pack_that_came_large_stays_whole() {
        let large = vec!["x"; 3000].join("\n");
        let joined = join(&["a".to_owned(), large.clone(), "b".to_owned()]);
        assert_eq!(joined, ["a".to_owned(), large, "b".to_owned()]);
    }

    #[test]
    fn packs_hold_every_line_in_order_and_stay_small() {
        assert_eq!(packs(&[]).count(), 0);
        for (count, length) in [(1, 10), (2_500, 10), (2_500, 900), (40, 100_000), (3, BYTES_IN_PACK + 1)] {
            let lines: Vec<String> = (0..count).map(|n| format!("{n} {}", "x".repeat(length))).collect();
            let made: Vec<&[String]> = packs(&lines).collect();
            assert_eq!(made.concat(), lines, "{count} lines of {length}");
            let small = |pack: &&[String]| {
                let bytes: usize = pack.iter().map(String::len).sum();
                pack.len() <= LINES_IN_PACK && (bytes <= BYTES_IN_PACK || pack.len() == 1)
            };
            assert!(made.iter().all(small), "{count} lines of {length}");
        }
    }

    #[test]
    fn a_line_with_a_line_break_is_refused() {
        assert!(check_lines(&["{}".to_owned()]).is_ok());
        assert!(check_lines(&["{\n}".to_owned()]).is_err());
        assert!(check_lines(&[String::new()]).is_err());
    }
}
