//! The practice model's two eyes.

/// Left or right, the practice model's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Eye {
    /// The practice model's left eye.
    Left,
    /// The practice model's right eye.
    Right,
}

impl Eye {
    /// Both eyes, left first.
    pub const BOTH: [Eye; 2] = [Eye::Left, Eye::Right];

    /// Returns the other eye.
    pub fn other(self) -> Eye {
        match self {
            Eye::Left => Eye::Right,
            Eye::Right => Eye::Left,
        }
    }

    /// Returns the plain word, lower case.
    pub fn word(self) -> &'static str {
        match self {
            Eye::Left => "left",
            Eye::Right => "right",
        }
    }
}

/// One value for each eye.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct PerEye<T> {
    /// Value of the left eye.
    pub left: T,
    /// Value of the right eye.
    pub right: T,
}

impl<T> PerEye<T> {
    /// Makes the pair by asking for each eye.
    pub fn from_fn(mut value: impl FnMut(Eye) -> T) -> Self {
        Self { left: value(Eye::Left), right: value(Eye::Right) }
    }

    /// Returns the value of one eye.
    pub fn get(&self, eye: Eye) -> &T {
        match eye {
            Eye::Left => &self.left,
            Eye::Right => &self.right,
        }
    }

    /// Returns the value of one eye, to be changed.
    pub fn get_mut(&mut self, eye: Eye) -> &mut T {
        match eye {
            Eye::Left => &mut self.left,
            Eye::Right => &mut self.right,
        }
    }

    /// Makes a pair of other values from these.
    pub fn map<U>(&self, mut change: impl FnMut(Eye, &T) -> U) -> PerEye<U> {
        PerEye { left: change(Eye::Left, &self.left), right: change(Eye::Right, &self.right) }
    }
}
