//! Why an event came.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Why an opening alarm was wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotOpening {
    /// Its edge has been heard where it is closed.
    HeardClosed,
    /// The plant grows on as a bud does.
    GrowsOn,
    /// It came no further than a gap that closes.
    NoFurther,
    /// A person says so.
    PersonLooked,
    /// A person took back that it had opened.
    TakenBack,
}

/// What tells that a bloom is fully open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FullyOpen {
    /// Its edge has come to rest.
    AtRest,
    /// Nothing does: so many hours after the crack it is taken to be.
    ByTheClock,
    /// A person recorded it.
    Recorded,
    /// A person took back that it had closed.
    NotClosed,
}

/// What tells that a bloom has closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HasClosed {
    /// Its edge is half way back.
    HalfWayBack,
    /// Nothing does: so many hours after the crack it is taken to have.
    ByTheClock,
    /// A person recorded it.
    Recorded,
    /// A person recorded that the spadix has collapsed.
    Collapsed,
    /// A person recorded fruit.
    FruitSet,
}

/// Why a bud is given up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum GivenUp {
    /// It has not grown for so many days.
    NoGrowth(f64),
    /// A person recorded that it has collapsed.
    Collapsed,
    /// A person recorded that it is a leaf.
    Leaf,
}

/// Why a slowing is taken back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GrowsAgain {
    /// Its growth has come back.
    Recovered,
    /// It was shown by a taped height that a person took back.
    TapeTakenBack,
}

/// What spoke against an opening, or hid it, while its alarm stood.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Doubt {
    /// The edge is hardly heard any more.
    EdgeLost,
    /// It goes back.
    TurnedBack,
    /// It is heard where it was closed, not yet for as long or as often as would end the alarm.
    Back,
    /// In all the hours of an opening it came no further than a gap that may close.
    NoFurther,
    /// The bud grows on.
    GrowsOn,
}

impl Doubt {
    /// Whether it is about what the side ranger hears of the edge while it should be opening.
    pub const fn is_of_the_echo(self) -> bool {
        matches!(self, Self::EdgeLost | Self::TurnedBack | Self::Back)
    }

    /// Whether the alarm was most likely wrong, so that the real opening may be still to come.
    pub const fn lets_watch_on(self) -> bool {
        matches!(self, Self::Back | Self::NoFurther | Self::GrowsOn)
    }
}

/// What told of an opening.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum ToldBy {
    /// The side ranger.
    Rim,
    /// The overhead ranger.
    Tip,
    /// The heat of the spadix.
    Spadix,
    /// A person.
    Sign,
}

impl ToldBy {
    /// The quantity's name, or `sign`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rim => "rim-range",
            Self::Tip => "tip-range",
            Self::Spadix => "spadix-temperature",
            Self::Sign => "sign",
        }
    }
}

impl fmt::Display for ToldBy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// What hangs unwatched, so that a person must look in the sensors' place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unwatched {
    /// A bud.
    Bud,
    /// A bloom that is open.
    Bloom,
}

/// How the expected hour of full opening has changed since it was told last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Revision {
    /// It comes sooner.
    Sooner,
    /// It comes later.
    Later,
    /// It is known much better.
    Surer,
}
