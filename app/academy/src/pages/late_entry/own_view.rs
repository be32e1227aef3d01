//! The trainee's own view of a service written down afterwards; may be left out.

use std::collections::BTreeMap;

use leptos::prelude::*;
use practicum::course_book::{CourseBook, Criterion, Mark};
use practicum::moment::Moment;
use practicum::outcome::{FaultSeen, Outcome, applicable};
use practicum::service::Service;

use crate::pages::rubric::{FaultForm, Marks, RubricForm, unmarked};

/// The own view while it is being given.
#[derive(Clone, Copy)]
pub(super) struct OwnView {
    marks: Marks,
    faults: RwSignal<Vec<FaultSeen>>,
}

impl OwnView {
    /// Makes an empty one.
    pub(super) fn empty() -> Self {
        Self { marks: RwSignal::new(BTreeMap::new()), faults: RwSignal::new(Vec::new()) }
    }

    /// Returns the outcome, or nothing when it was left out.
    ///
    /// # Errors
    /// Returns a sentence when some criteria are marked and some are not.
    pub(super) fn read(self, book: &CourseBook, service: &Service, at: Moment) -> Result<Option<Outcome>, String> {
        let (mut marks, faults) = (self.marks.get_untracked(), self.faults.get_untracked());
        if marks.is_empty() && faults.is_empty() {
            return Ok(None);
        }
        let criteria: Vec<Criterion> = applicable(book, service).into_iter().cloned().collect();
        marks.retain(|id, _| criteria.iter().any(|criterion| criterion.id == *id));
        if let Some(sentence) = unmarked(&criteria, &marks) {
            return Err(format!("Own view: {sentence}"));
        }
        Ok(Some(Outcome {
            service: service.id.clone(),
            marker: service.trainee.clone(),
            at,
            marks,
            faults,
            comment: String::new(),
            independence_next: None,
            observed: false,
        }))
    }
}

/// The form.
#[component]
pub(super) fn OwnViewFields(
    /// The own view.
    own: OwnView,
    /// Criteria of a service.
    criteria: Vec<Criterion>,
    /// Faults: identifier and name.
    faults: Vec<(practicum::ids::FaultId, String)>,
) -> impl IntoView {
    view! {
        <details>
            <summary>"Your own view of the outcome (may be left out)"</summary>
            <RubricForm criteria=criteria cap=Mark::Strong marks=own.marks/>
            <FaultForm faults=faults seen=own.faults/>
        </details>
    }
}
