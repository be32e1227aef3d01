//! Sections per eye, and the plan of a service.

/// Number of sections worked on one eye, 1 to 8.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Sections(u8);

impl Sections {
    /// The whole lash line in one.
    pub const WHOLE: Sections = Sections(1);
    /// Two halves.
    pub const HALVES: Sections = Sections(2);
    /// Three thirds.
    pub const THIRDS: Sections = Sections(3);
    /// Four quarters.
    pub const QUARTERS: Sections = Sections(4);

    /// Makes a number of sections; `None` outside 1 to 8.
    pub fn new(number: u8) -> Option<Self> {
        (1..=8).contains(&number).then_some(Self(number))
    }

    /// Returns the number, 1 to 8.
    pub fn number(self) -> u8 {
        self.0
    }

    /// Returns the level of the plan that this number belongs to: four and above is one level.
    pub fn plan(self) -> Plan {
        match self.0 {
            1 => Plan::Whole,
            2 => Plan::Halves,
            3 => Plan::Thirds,
            _ => Plan::Quarters,
        }
    }
}

/// Level of the section plan. Ordered from the beginner's to the widest: `Quarters < Whole`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Plan {
    /// Four sections or more on an eye.
    Quarters,
    /// Three sections on an eye.
    Thirds,
    /// Two sections on an eye.
    Halves,
    /// The whole lash line in one.
    Whole,
}

impl Plan {
    /// All plans, the beginner's first.
    pub const ALL: [Plan; 4] = [Plan::Quarters, Plan::Thirds, Plan::Halves, Plan::Whole];

    /// Returns the plan's usual number of sections.
    pub fn sections(self) -> Sections {
        match self {
            Plan::Quarters => Sections::QUARTERS,
            Plan::Thirds => Sections::THIRDS,
            Plan::Halves => Sections::HALVES,
            Plan::Whole => Sections::WHOLE,
        }
    }

    /// Returns the plain word.
    pub fn word(self) -> &'static str {
        match self {
            Plan::Quarters => "quarters",
            Plan::Thirds => "thirds",
            Plan::Halves => "halves",
            Plan::Whole => "whole lash line",
        }
    }
}

/// Sections as worked: the plan they make, and whether they were mixed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WorkedPlan {
    /// The larger number of sections worked on either eye.
    pub sections: Sections,
    /// Changed within an eye, or unequal between the eyes: left out of the plan's time standard.
    pub mixed: bool,
}
