//! How plans, products and marks look: each has a shape and a colour of its own.

use practicum::course_book::Mark;
use practicum::eye::Eye;
use practicum::product::ProductKind;
use practicum::section::Plan;

use super::paper::{Look, Shape, colour};

/// Look of a section plan; hollow when sections were mixed, a plus where nobody recorded the plan.
pub(super) fn of_plan(plan: Option<Plan>, mixed: bool) -> Look {
    let (shape, colour) = match plan {
        Some(Plan::Quarters) => (Shape::Square, colour::BLUE),
        Some(Plan::Thirds) => (Shape::Diamond, colour::VERMILION),
        Some(Plan::Halves) => (Shape::Circle, colour::GREEN),
        Some(Plan::Whole) => (Shape::Up, colour::PURPLE),
        None => (Shape::Plus, super::paper::INK),
    };
    Look { shape, colour, filled: !mixed }
}

/// Words of a section plan.
pub(super) fn plan_words(plan: Option<Plan>) -> &'static str {
    plan.map_or("plan not recorded", Plan::word)
}

/// Look of a dwell: the shape points to the side of the eye.
pub(super) fn of_dwell(product: ProductKind, eye: Eye) -> Look {
    let shape = match eye {
        Eye::Left => Shape::Left,
        Eye::Right => Shape::Right,
    };
    let colour = match product {
        ProductKind::Lift => colour::BLUE,
        ProductKind::Setting => colour::ORANGE,
        ProductKind::Tint => colour::PURPLE,
        ProductKind::Adhesive => colour::GREEN,
    };
    Look { shape, colour, filled: true }
}

/// Look of a mark: light shades, so that its figure can be read on it.
pub(super) fn of_mark(mark: Mark) -> Look {
    let (shape, colour) = match mark {
        Mark::NotYet => (Shape::Diamond, "#F2B48C"),
        Mark::Nearly => (Shape::Up, "#F6EBA0"),
        Mark::Meets => (Shape::Circle, "#C9E6F7"),
        Mark::Strong => (Shape::Square, "#6FC0EC"),
    };
    Look { shape, colour, filled: true }
}
