//! What is dear to work out and the same whenever it is asked for: read course books and folded taps.

use std::collections::HashMap;
use std::sync::Arc;

use practicum::couch::fold::Run;
use practicum::couch::times::Times;
use practicum::course_book::CourseBook;
use practicum::course_book::text::{Problem, read, split};
use practicum::ids::CourseBookId;
use practicum::service::{Origin, Service};

/// Results kept while the records are worked out anew. Two caches are always equal: they add nothing.
#[derive(Clone, Default)]
pub(super) struct Cache {
    books: HashMap<String, Result<Arc<CourseBook>, Vec<Problem>>>,
    times: HashMap<(String, CourseBookId), Times>,
}

impl std::fmt::Debug for Cache {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Cache")
    }
}

impl PartialEq for Cache {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Cache {
    /// Reads a course book's text, or remembers it by the hash of its entry.
    pub(super) fn book(&mut self, hash: &str, text: &str) -> Result<Arc<CourseBook>, Vec<Problem>> {
        let found = self.books.entry(hash.to_owned()).or_insert_with(|| {
            let files = split(text)?;
            let files: Vec<(&str, &str)> = files.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
            read(&files).map(Arc::new)
        });
        found.clone()
    }

    /// Works out the times of a live service from its taps, or remembers them by the hash of its entry.
    pub(super) fn times(&mut self, hash: &str, service: &Service, book: &CourseBook) -> Option<Times> {
        let Origin::Live { opening, taps } = &service.origin else { return None };
        let key = (hash.to_owned(), book.id.clone());
        let times = self.times.entry(key).or_insert_with(|| Run::fold(book, opening, taps).times());
        Some(times.clone())
    }
}
