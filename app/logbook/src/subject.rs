//! What an entry is about, as a short text that is no secret.

use std::fmt;

use practicum::ids::{BatchId, CourseBookId, DeviceId, PersonId, PracticeModelId, ProductId, ServiceId};

/// What an entry is about.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Subject {
    /// The academy itself.
    Academy,
    /// A person of the academy.
    Person(PersonId),
    /// A practice model.
    PracticeModel(PracticeModelId),
    /// A service or drill.
    Service(ServiceId),
    /// A product.
    Product(ProductId),
    /// A course book.
    CourseBook(CourseBookId),
    /// A batch of imported rows.
    Batch(BatchId),
    /// A device.
    Device(DeviceId),
    /// Something of a later version, kept as it came.
    Other(String),
}

impl Subject {
    /// Reads the text that stands in a header.
    pub fn of(text: &str) -> Self {
        let other = || Subject::Other(text.to_owned());
        if text == "academy" {
            return Subject::Academy;
        }
        let Some((what, id)) = text.split_once(':') else { return other() };
        match what {
            "person" => Subject::Person(id.into()),
            "practice-model" => Subject::PracticeModel(id.into()),
            "service" => Subject::Service(id.into()),
            "product" => Subject::Product(id.into()),
            "course-book" => Subject::CourseBook(id.into()),
            "batch" => Subject::Batch(id.into()),
            "device" => Subject::Device(id.into()),
            _ => other(),
        }
    }
}

impl fmt::Display for Subject {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Subject::Academy => f.write_str("academy"),
            Subject::Person(id) => write!(f, "person:{id}"),
            Subject::PracticeModel(id) => write!(f, "practice-model:{id}"),
            Subject::Service(id) => write!(f, "service:{id}"),
            Subject::Product(id) => write!(f, "product:{id}"),
            Subject::CourseBook(id) => write!(f, "course-book:{id}"),
            Subject::Batch(id) => write!(f, "batch:{id}"),
            Subject::Device(id) => write!(f, "device:{id}"),
            Subject::Other(text) => f.write_str(text),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Subject;

    #[test]
    fn a_subject_comes_back_from_its_text() {
        for text in [
            "academy",
            "person:p:1",
            "practice-model:m",
            "service:s",
            "product:x",
            "course-book:A, edition 1",
            "batch:b",
            "device:d",
            "trial:7",
            "odd",
        ] {
            assert_eq!(Subject::of(text).to_string(), text);
        }
        assert_eq!(Subject::of("person:p:1"), Subject::Person("p:1".into()));
    }
}
