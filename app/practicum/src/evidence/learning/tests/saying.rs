//! Sentences.
