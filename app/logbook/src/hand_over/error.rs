//! Why a file was not taken, in a sentence that says what happened and what to do.

use std::fmt;

use super::{LARGEST_FILE, LARGEST_INSIDE, MOST_ENTRIES};
use crate::backup::BackupError;
use crate::size::in_words;

/// Why a file was not taken, or not written. Nothing was changed then.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HandOverError {
    /// Larger than [`LARGEST_FILE`], with its size in bytes.
    TooLarge(usize),
    /// More comes out of it than is taken.
    TooMuchInside,
    /// Far more comes out of it than a log could have been packed into.
    PackedTooTightly,
    /// More than [`MOST_ENTRIES`].
    TooManyEntries,
    /// Not a file of this kind.
    WrongKind,
    /// The file ends too early.
    CutShort,
    /// Written by a later version of the app.
    Newer(u64),
    /// Sealed, and no passphrase was given.
    Sealed,
    /// The passphrase does not open it, or it was changed.
    WrongPassphrase,
    /// A part does not hold together; what.
    Broken(String),
    /// Demo records and real ones do not mix.
    Demo {
        /// The file is the demo's.
        file_is_demo: bool,
    },
    /// The file belongs to another academy.
    OtherAcademy,
    /// The file leaves out what its receiver had, and this device has nothing yet.
    OnlyAPart,
    /// The device has nothing to hand over.
    Nothing,
    /// A backup of the first form, and why that was not taken.
    Backup(BackupError),
}

impl HandOverError {
    pub(super) fn broken(what: impl Into<String>) -> Self {
        HandOverError::Broken(what.into())
    }
}

impl From<BackupError> for HandOverError {
    fn from(error: BackupError) -> Self {
        match error {
            BackupError::TooLarge(bytes) => HandOverError::TooLarge(bytes),
            BackupError::WrongKind => HandOverError::WrongKind,
            BackupError::Demo { file_is_demo } => HandOverError::Demo { file_is_demo },
            BackupError::OtherAcademy => HandOverError::OtherAcademy,
            other => HandOverError::Backup(other),
        }
    }
}

impl fmt::Display for HandOverError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            HandOverError::TooLarge(bytes) => {
                let (size, most) = (in_words(*bytes as u64), in_words(LARGEST_FILE as u64));
                write!(f, "This file has {size}; at most {most} are taken. Is it the right file?")
            }
            HandOverError::TooMuchInside => write!(
                f,
                "More comes out of this file than the {} that are taken: unpacking was stopped. Hand over a part of \
                 the log at a time.",
                in_words(LARGEST_INSIDE as u64)
            ),
            HandOverError::PackedTooTightly => f.write_str(
                "Far more comes out of this file than a log can be packed into: it was made to do harm or is damaged, \
                 and unpacking was stopped. Ask for a new file, and say where this one came from.",
            ),
            HandOverError::TooManyEntries => {
                write!(f, "This file holds more than {MOST_ENTRIES} entries, the most that are taken at once.")
            }
            HandOverError::WrongKind => f.write_str(
                "This is not a file of Upsweep: choose the file that “Give” on the hand-over page made, or a backup.",
            ),
            HandOverError::CutShort => {
                f.write_str("This file ends too early: copy it again from where it was saved, whole.")
            }
            HandOverError::Newer(form) => write!(
                f,
                "This file was written by a later version of Upsweep (form {form}): reload the app to get the latest \
                 version, then try again."
            ),
            HandOverError::Sealed => {
                f.write_str("This file is sealed by a passphrase: type the one that was chosen when it was made.")
            }
            HandOverError::WrongPassphrase => f.write_str(
                "This passphrase does not open the file. Look at capitals and spaces and type it again; if it is right, \
                 the file was changed on its way and a new one is needed.",
            ),
            HandOverError::Broken(what) => {
                write!(f, "This file does not hold together: {what}. Use another copy of it.")
            }
            HandOverError::Demo { file_is_demo: true } => f.write_str(
                "This file holds the demo’s invented records, which never mix with real ones. Ask for a file from \
                 outside the demo.",
            ),
            HandOverError::Demo { file_is_demo: false } => {
                f.write_str("This file holds real records, which never mix with the demo: leave the demo first.")
            }
            HandOverError::OtherAcademy => f.write_str(
                "This file belongs to another academy than the one on this device. Look whether it is the right file.",
            ),
            HandOverError::OnlyAPart => f.write_str(
                "This file holds only what another device lacked, and this device has nothing yet: ask for a file of \
                 everything first.",
            ),
            HandOverError::Nothing => f.write_str("There is nothing to hand over on this device yet."),
            HandOverError::Backup(error) => return error.fmt(f),
        }?;
        f.write_str(" Nothing was changed.")
    }
}

impl std::error::Error for HandOverError {}
