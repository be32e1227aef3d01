//! Products of the academy, with the dwell figures typed in from their labels.

use crate::course_book::LashCondition;
use crate::ids::ProductId;
use crate::moment::{Day, Seconds};

/// What a product is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ProductKind {
    /// Lift lotion (step 1).
    Lift,
    /// Setting lotion (step 2).
    Setting,
    /// Tint with its developer.
    Tint,
    /// Adhesive for shield and lashes: no dwell.
    Adhesive,
}

impl ProductKind {
    /// All kinds, in the order of use.
    pub const ALL: [ProductKind; 4] =
        [ProductKind::Adhesive, ProductKind::Lift, ProductKind::Setting, ProductKind::Tint];

    /// Returns the trade's word.
    pub fn word(self) -> &'static str {
        match self {
            ProductKind::Lift => "lift lotion",
            ProductKind::Setting => "setting lotion",
            ProductKind::Tint => "tint",
            ProductKind::Adhesive => "adhesive",
        }
    }
}

/// Planned, least and longest dwell in seconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct DwellWindow {
    /// Planned dwell, from last contact.
    pub planned: Option<Seconds>,
    /// Least dwell, judged from last contact.
    pub minimum: Option<Seconds>,
    /// Longest dwell, judged from first contact.
    pub maximum: Option<Seconds>,
}

/// A product as the academy uses it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Product {
    /// Its identifier.
    pub id: ProductId,
    /// Name as the academy calls it.
    pub name: String,
    /// What it is for.
    pub kind: ProductKind,
    /// Dwell windows for weak, average and strong lashes, in the order of [`LashCondition::ALL`].
    pub windows: [DwellWindow; 3],
    /// The label's longest dwell; live lotion stays locked until it stands here.
    pub label_maximum: Option<Seconds>,
    /// Hours between sensitivity test and use that the label asks for.
    pub label_test_hours: Option<u32>,
    /// The owner has recorded that the labels of this setting lotion and of the tint permit mixing.
    pub may_carry_tint: bool,
}

impl Product {
    /// Returns the window for a lash condition.
    pub fn window(&self, condition: LashCondition) -> DwellWindow {
        match condition {
            LashCondition::Weak => self.windows[0],
            LashCondition::Average => self.windows[1],
            LashCondition::Strong => self.windows[2],
        }
    }
}

/// An opened lot of a product.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Lot {
    /// The product.
    pub product: ProductId,
    /// Lot number as printed.
    pub number: String,
    /// Day it was opened.
    pub opened_on: Option<Day>,
}
