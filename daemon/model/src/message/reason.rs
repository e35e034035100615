//! Why an event came: the evidence in words, as the event's details keep it, beside which the sentences are worded.

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

impl NotOpening {
    /// The evidence in the event's details.
    pub const fn evidence(self) -> &'static str {
        match self {
            Self::HeardClosed => "its edge has been heard closed for two hours",
            Self::GrowsOn => "the bud grows on as before",
            Self::NoFurther => "in all these hours the edge came no further",
            Self::PersonLooked => "a person looked and it is closed",
            Self::TakenBack => "the booked opening was withdrawn",
        }
    }

    /// The end of `not opening, …`.
    pub(super) const fn said(self) -> &'static str {
        match self {
            Self::HeardClosed => "its edge was heard closed for two hours",
            Self::TakenBack => "the recorded opening was taken back",
            other => other.evidence(),
        }
    }
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

impl HasClosed {
    /// The evidence in the event's details.
    pub const fn evidence(self) -> &'static str {
        match self {
            Self::HalfWayBack => "its edge is half way back",
            Self::ByTheClock => "by the hours such blooms stay open",
            Self::Recorded => "as booked",
            Self::Collapsed => "collapsed, as booked",
            Self::FruitSet => "fruit is set, as booked",
        }
    }
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

impl GivenUp {
    /// The evidence in the event's details.
    pub fn evidence(self) -> String {
        match self {
            Self::NoGrowth(days) => format!("no growth for {days:.0} days"),
            Self::Collapsed => "collapsed, as booked".to_owned(),
            Self::Leaf => "a leaf, as booked".to_owned(),
        }
    }
}

/// Why a slowing is taken back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GrowsAgain {
    /// Its growth has come back.
    Recovered,
    /// It was shown by a taped height that a person took back.
    TapeTakenBack,
}

impl GrowsAgain {
    /// The evidence in the event's details.
    pub const fn evidence(self) -> &'static str {
        match self {
            Self::Recovered => "growth has come back",
            Self::TapeTakenBack => "the taped height that showed it was taken back",
        }
    }
}
