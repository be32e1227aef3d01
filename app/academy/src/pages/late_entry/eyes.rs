//! What is written down of each eye: sections, shield, lashes.

use leptos::prelude::*;
use practicum::couch::{Analysis, Direction, LastLift, ShieldChoice};
use practicum::course_book::{CourseBook, LashCondition};
use practicum::eye::{Eye, PerEye};
use practicum::section::{Sections, WorkedPlan};
use practicum::service::Service;

use crate::pages::form::{Field, SelectInput, TextInput, whole_number};

/// Fields of one eye.
#[derive(Clone, Copy)]
struct EyeForm {
    sections: Field,
    shield: Field,
    condition: Field,
    length: Field,
    direction: Field,
}

/// Fields of both eyes.
#[derive(Clone, Copy)]
pub(crate) struct Eyes(PerEye<EyeForm>);

const DIRECTIONS: [(Direction, &str, &str); 4] = [
    (Direction::Up, "up", "upward"),
    (Direction::Straight, "straight", "straight out"),
    (Direction::Down, "down", "downward"),
    (Direction::Mixed, "mixed", "mixed"),
];

impl Eyes {
    /// Makes empty fields.
    pub(crate) fn empty() -> Self {
        Self(PerEye::from_fn(|_| EyeForm {
            sections: Field::empty(),
            shield: Field::empty(),
            condition: Field::empty(),
            length: Field::empty(),
            direction: Field::empty(),
        }))
    }

    /// Makes fields filled with what a service says.
    pub(crate) fn of(service: &Service) -> Self {
        let analysis = |eye: Eye| service.analysis.get(eye).as_ref();
        let direction = |known: &Analysis| {
            DIRECTIONS.iter().find(|(direction, _, _)| *direction == known.direction).map_or("", |(_, key, _)| *key)
        };
        Self(PerEye::from_fn(|eye| EyeForm {
            sections: Field::of(service.sections.get(eye).map(|s| s.number().to_string()).unwrap_or_default()),
            shield: Field::of(service.shields.get(eye).as_ref().map(|c| c.chosen.to_string()).unwrap_or_default()),
            condition: Field::of(analysis(eye).map_or("", |known| known.condition.word())),
            length: Field::of(analysis(eye).map(|known| known.length_mm.to_string()).unwrap_or_default()),
            direction: Field::of(analysis(eye).map_or("", direction)),
        }))
    }

    /// Reads the fields into a service; says beside each what is wrong. Returns whether all could be read.
    ///
    /// What a field leaves empty stays unsaid; shields tried and the last lift are kept as they were.
    pub(crate) fn read_into(&self, book: &CourseBook, service: &mut Service) -> bool {
        let mut sound = true;
        for eye in Eye::BOTH {
            let form = self.0.get(eye);
            let known = service.analysis.get(eye).clone();
            match form.sections.read(sections) {
                Some(read) => *service.sections.get_mut(eye) = read,
                None => sound = false,
            }
            match form.analysis(known) {
                Some(read) => *service.analysis.get_mut(eye) = read,
                None => sound = false,
            }
            let chosen = form.shield.typed();
            let tried = service.shields.get(eye).as_ref().map(|choice| choice.tried.clone()).unwrap_or_default();
            let shield =
                book.shields.iter().find(|shield| shield.id.as_str() == chosen).map(|shield| shield.id.clone());
            // A shield that the book no longer names stays where nobody chose another.
            let kept = service
                .shields
                .get(eye)
                .as_ref()
                .map(|choice| choice.chosen.clone())
                .filter(|id| id.as_str() == chosen);
            *service.shields.get_mut(eye) = shield.or(kept).map(|chosen| ShieldChoice { tried, chosen });
        }
        sound
    }
}

impl EyeForm {
    fn analysis(&self, known: Option<Analysis>) -> Option<Option<Analysis>> {
        let parts = [self.condition, self.length, self.direction];
        if parts.iter().all(|field| field.typed().is_empty()) {
            parts.iter().for_each(|field| field.problem.set(None));
            return Some(None);
        }
        let condition = self.condition.read(|typed| {
            let found = LashCondition::ALL.into_iter().find(|condition| condition.word() == typed);
            found.ok_or_else(|| "Choose the condition, or leave length and direction out as well.".to_owned())
        });
        let length = self.length.read(|typed| {
            let number = whole_number(typed, 1, 25).ok().and_then(|number| u8::try_from(number).ok());
            number.ok_or_else(|| "Type the length in whole millimetres from 1 to 25.".to_owned())
        });
        let direction = self.direction.read(|typed| {
            let found = DIRECTIONS.iter().find(|(_, key, _)| *key == typed).map(|(direction, _, _)| *direction);
            found.ok_or_else(|| "Choose the direction of growth.".to_owned())
        });
        let last_lift = known.map_or(LastLift::Unknown, |known| known.last_lift);
        Some(Some(Analysis { length_mm: length?, condition: condition?, direction: direction?, last_lift }))
    }
}

/// Returns the plan that sections make; unequal eyes are mixed.
pub(crate) fn worked(sections: &PerEye<Option<Sections>>) -> Option<WorkedPlan> {
    let larger = sections.left.max(sections.right)?;
    let mixed = matches!((sections.left, sections.right), (Some(left), Some(right)) if left != right);
    Some(WorkedPlan { sections: larger, mixed })
}

fn sections(typed: &str) -> Result<Option<Sections>, String> {
    if typed.is_empty() {
        return Ok(None);
    }
    let read = typed.parse().ok().and_then(Sections::new);
    read.map(Some).ok_or_else(|| "Choose from 1 to 8 sections.".to_owned())
}

/// The fields of both eyes.
#[component]
pub(crate) fn EyeFields(
    /// The fields.
    eyes: Eyes,
    /// Shield sizes: identifier and name.
    shields: Vec<(String, String)>,
) -> impl IntoView {
    let sections: Vec<(String, String)> = (1..=8).map(|n: u8| (n.to_string(), n.to_string())).collect();
    let conditions: Vec<(String, String)> =
        LashCondition::ALL.map(|one| (one.word().to_owned(), one.word().to_owned())).to_vec();
    let directions: Vec<(String, String)> =
        DIRECTIONS.map(|(_, key, words)| (key.to_owned(), words.to_owned())).to_vec();
    let side = |eye: Eye| {
        let (form, word) = (*eyes.0.get(eye), eye.word());
        view! {
            <fieldset class="form-part">
                <legend>{format!("{} eye", if eye == Eye::Left { "Left" } else { "Right" })}</legend>
                <SelectInput label=format!("Sections, {word} eye") id=format!("sections-{word}") field=form.sections options=sections.clone()/>
                <SelectInput label=format!("Shield, {word} eye") id=format!("shield-{word}") field=form.shield options=shields.clone()/>
                <SelectInput label=format!("Lash condition, {word} eye") id=format!("condition-{word}") field=form.condition options=conditions.clone()/>
                <TextInput label=format!("Lash length, {word} eye, mm") id=format!("length-{word}") field=form.length keyboard="numeric"/>
                <SelectInput label=format!("Direction of growth, {word} eye") id=format!("direction-{word}") field=form.direction options=directions.clone()/>
            </fieldset>
        }
    };
    view! { {Eye::BOTH.into_iter().map(side).collect_view()} }
}
