//! The troubles, one after the other: what befalls the house, what is to be told of it, and what mends it.

/// What goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Trouble {
    /// The board of a bench has no power.
    BoardOff,
    /// The side ranger of a bud repeats one figure.
    RangerRepeats,
    /// The side ranger of a bud was turned, and meets a wall.
    RangerTurned,
    /// A line with two benches is pulled out.
    LineUnplugged,
    /// A bench's heater fails.
    HeaterOff,
    /// The sun stands on a bench.
    Sun,
    /// The machine's clock is set forward.
    ClockSet,
    /// Another program holds the record's file, so that nothing can be written.
    RecordHeld,
    /// The database to which readings are forwarded takes none.
    DatabaseRefuses,
}

/// One trouble, from its beginning to its end.
#[derive(Debug)]
pub(super) struct Act {
    /// What goes wrong.
    pub(super) trouble: Trouble,
    /// The same, in words.
    pub(super) befalls: &'static str,
    /// What mends it, in words.
    pub(super) mended: &'static str,
    /// The event that tells it.
    pub(super) warning: &'static str,
    /// How grave that is.
    pub(super) severity: &'static str,
    /// The event that takes it back.
    pub(super) over: &'static str,
    /// The benches that the warning is to name: these, and no others.
    pub(super) names: &'static [&'static str],
}

/// All of them. A bud stands on west-1.
pub(super) const ACTS: [Act; 9] = [
    Act {
        trouble: Trouble::BoardOff,
        befalls: "The board of east-3 loses its power. The other bench on its line speaks on.",
        mended: "The plug is pushed in again.",
        warning: "sensor-silent",
        severity: "warning",
        over: "sensor-back",
        names: &["east-3"],
    },
    Act {
        trouble: Trouble::LineUnplugged,
        befalls: "The line of east-3 and east-4 is unplugged at the machine.",
        mended: "The line is plugged in again.",
        warning: "intake-down",
        severity: "warning",
        over: "intake-down-over",
        names: &["east-3", "east-4"],
    },
    Act {
        trouble: Trouble::RangerRepeats,
        befalls: "A drop hangs on the side ranger of west-1, where a bud stands: it repeats one figure.",
        mended: "The ranger's face is wiped.",
        warning: "sensor-stuck",
        severity: "alarm",
        over: "sensor-back",
        names: &["west-1"],
    },
    Act {
        trouble: Trouble::RangerTurned,
        befalls: "Somebody turns the side ranger of west-1: it meets a wall behind the bud. This takes hours to show.",
        mended: "The ranger is aimed at the spathe edge again.",
        warning: "edge-not-seen",
        severity: "warning",
        over: "edge-not-seen-over",
        names: &["west-1"],
    },
    Act {
        trouble: Trouble::HeaterOff,
        befalls: "The heater at east-4 fails: 12 °C.",
        mended: "The heater is on again.",
        warning: "climate",
        severity: "alarm",
        over: "climate-over",
        names: &["east-4"],
    },
    Act {
        trouble: Trouble::Sun,
        befalls: "The afternoon sun stands on west-1: 35 °C in very damp air, extreme heat for people.",
        mended: "The shade is drawn, the vents are open.",
        warning: "heat",
        severity: "alarm",
        over: "heat-over",
        names: &["west-1"],
    },
    Act {
        trouble: Trouble::RecordHeld,
        befalls: "Nothing can be written to the record: another program holds the file, a full disk would do the same.",
        mended: "The other program lets go of the file.",
        warning: "store-failing",
        severity: "warning",
        over: "store-failing-over",
        names: &[],
    },
    Act {
        trouble: Trouble::DatabaseRefuses,
        befalls: "The database to which readings are forwarded refuses them.",
        mended: "The database takes them again.",
        warning: "readings-behind",
        severity: "warning",
        over: "readings-behind-over",
        names: &[],
    },
    Act {
        trouble: Trouble::ClockSet,
        befalls: "Somebody sets the machine's clock an hour forward.",
        mended: "Nobody touches it for an hour: so long it is doubted.",
        warning: "clock-untrusted",
        severity: "warning",
        over: "clock-untrusted-over",
        names: &[],
    },
];
