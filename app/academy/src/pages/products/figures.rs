//! The dwell figures of one lash condition as fields, with the course book's example beside them.

use leptos::prelude::*;
use practicum::course_book::LashCondition;
use practicum::moment::{Seconds, format_seconds};
use practicum::product::{DwellWindow, ProductKind};

use super::dwell;
use crate::pages::form::{Field, TextInput};
use crate::session::session;

/// Planned, minimum, maximum as typed.
#[derive(Clone, Copy)]
pub(super) struct WindowFields {
    planned: Field,
    minimum: Field,
    maximum: Field,
}

impl WindowFields {
    /// Makes the fields: empty for a new product.
    pub(super) fn of(window: DwellWindow) -> Self {
        let field = |seconds| Field::of(dwell::write(seconds));
        Self { planned: field(window.planned), minimum: field(window.minimum), maximum: field(window.maximum) }
    }

    /// Reads the window and holds it against the label's maximum; says what is wrong beside each field.
    pub(super) fn read(&self, label_maximum: Option<Seconds>, condition: LashCondition) -> Option<DwellWindow> {
        let fields = [self.planned, self.minimum, self.maximum];
        let [planned, minimum, maximum] = fields.map(|field| field.read(dwell::read));
        let window = DwellWindow { planned: planned?, minimum: minimum?, maximum: maximum? };
        let wrong = dwell::judge(&window, label_maximum, condition);
        let fits = wrong.iter().all(Option::is_none);
        for (field, sentence) in fields.into_iter().zip(wrong) {
            field.problem.set(sentence);
        }
        fits.then_some(window)
    }
}

/// The fields of one lash condition.
#[component]
pub(super) fn WindowInputs(
    /// Lash condition.
    condition: LashCondition,
    /// The fields.
    fields: WindowFields,
    /// Kind of product, whose examples stand beside the fields.
    kind: Signal<Option<ProductKind>>,
) -> impl IntoView {
    let id = |what: &str| format!("dwell-{what}-{}", condition.word());
    view! {
        <fieldset class="dwell-window">
            <legend>{format!("Dwell on {} lashes", condition.word())}</legend>
            <Examples condition=condition kind=kind/>
            <TextInput label="Planned, from last contact" id=id("planned") field=fields.planned hint="m:ss or minutes"/>
            <TextInput label="Minimum, from last contact" id=id("minimum") field=fields.minimum/>
            <TextInput label="Maximum, from first contact" id=id("maximum") field=fields.maximum/>
        </fieldset>
    }
}

/// The course book's examples for a lash condition, with their source.
#[component]
fn Examples(
    /// Lash condition.
    condition: LashCondition,
    /// Kind of product.
    kind: Signal<Option<ProductKind>>,
) -> impl IntoView {
    let session = session();
    let lines = move || {
        let (Some(kind), Some(book)) = (kind.get(), session.book()) else { return Vec::new() };
        let fits =
            |example: &&practicum::course_book::DwellExample| example.product == kind && example.condition == condition;
        let line = |example: &practicum::course_book::DwellExample| {
            let tint = if example.with_tint { " with tint mixed in" } else { "" };
            let [planned, minimum, maximum] = [example.planned, example.minimum, example.maximum].map(format_seconds);
            format!("Example{tint}: planned {planned}, minimum {minimum}, maximum {maximum} ({}).", example.source)
        };
        book.dwell_examples.iter().filter(fits).map(line).collect::<Vec<_>>()
    };
    view! {
        <ul class="examples small">
            {move || lines().into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}
        </ul>
    }
}
