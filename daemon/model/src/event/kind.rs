//! The table of events: one row a kind, and the evidence that each carries. Whatever depends on the kind of an event is read from its
//! row, or is a `match` on a column that the compiler holds to be complete.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::sign::as_written;
use super::{
    AnswerDetails, BudSeenDetails, ClimateDetails, Doubt, EdgeDetails, FullOpenDetails, FullOpenTimes,
    GivenUp, HasClosed, HeatDetails, MorningDetails, NotOpening, OpeningDetails, Revision, SensorDetails,
    Severity, SignDetails, SiteTrouble, SlowingDetails, SlowingOverDetails, Window,
};
use crate::sign::Sign;
use crate::time::Time;
use EventClass::{Drill, Echo, Life, Over, Remark, Trouble};
use EventPlace::{Bench, BenchOrSite, House, Machine};
use Severity::{Alarm, Notice, Warning};

/// What an event speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EventPlace {
    /// One bench.
    Bench,
    /// The house about all benches, and who is in it.
    House,
    /// What the service runs on and speaks with.
    Machine,
    /// A bench, or the site itself.
    BenchOrSite,
}

/// A step in the life of a bloom.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LifeStep {
    /// Growth of a bud is established, or a bud that was given up is taken up again.
    BudSeen,
    /// Its growth has fallen well below its peak.
    Slows,
    /// Its growth has come back.
    GrowsOn,
    /// The spathe pulls away from the spadix.
    Opens,
    /// That was none.
    StandsDown,
    /// Fully open.
    OpensFully,
    /// The hours for pollination run out.
    EndsReceptive,
    /// It sheds its pollen.
    ShedsPollen,
    /// The spathe has closed.
    Closes,
    /// Given up unopened.
    IsGivenUp,
    /// The fruit is ripe.
    Ripens,
    /// Nothing more is to come.
    Ends,
}

impl LifeStep {
    /// Whether it follows from an opening, and falls with it.
    pub const fn follows_an_opening(self) -> bool {
        matches!(self, Self::OpensFully | Self::EndsReceptive | Self::ShedsPollen | Self::Closes)
    }
}

/// How an event bears on what people have to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EventClass {
    /// A step in the life of a bloom.
    Life(LifeStep),
    /// Says of a bench or of the site what stands elsewhere too, day by day or as people recorded it.
    Echo,
    /// Says of a bloom that something is odd.
    Remark,
    /// Ordered by the configuration, so that people prove that they are reached.
    Drill,
    /// Something is not as it should be.
    Trouble,
    /// It is again.
    Over,
}

/// What holds of a kind of event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct EventRow {
    /// What it asks of a person, unless what happened is graver.
    pub severity: Severity,
    /// What it speaks of.
    pub place: EventPlace,
    /// How it bears on what people have to do.
    pub class: EventClass,
    /// The kinds whose alarms it may end.
    pub ends: &'static [EventKind],
    /// Where its alarm stands in a list, the gravest first, by how soon it is too late to act.
    pub rank: u8,
    /// Comes day by day in normal running, so that nothing is written at once for it alone.
    pub is_usual: bool,
}

/// The rank of alarms that have none of their own. A test alarm comes behind it.
pub(super) const UNRANKED: u8 = 100;

impl EventRow {
    const fn of(severity: Severity, place: EventPlace, class: EventClass) -> Self {
        let rank = if matches!(class, Drill) { UNRANKED + 1 } else { UNRANKED };
        Self { severity, place, class, ends: &[], rank, is_usual: false }
    }

    const fn ends(self, ends: &'static [EventKind]) -> Self {
        Self { ends, ..self }
    }

    const fn rank(self, rank: u8) -> Self {
        Self { rank, ..self }
    }

    const fn usual(self) -> Self {
        Self { is_usual: true, ..self }
    }
}

macro_rules! event_kinds {
    ($($(#[$doc:meta])* $kind:ident = $name:literal: $row:expr;)+) => {
        /// What happened. deploy/PROGRAMS.md and deploy/HANDBOOK.md list the names.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
        pub enum EventKind { $($(#[$doc])* #[serde(rename = $name)] $kind,)+ }

        impl EventKind {
            /// Every one of them.
            pub const ALL: &'static [Self] = &[$(Self::$kind,)+];

            /// The name in messages and documents, such as `opening-tonight`.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$kind => $name,)+ }
            }

            /// What holds of it.
            pub const fn row(self) -> EventRow {
                use EventKind::*;
                match self { $(Self::$kind => $row,)+ }
            }
        }
    };
}

event_kinds! {
    /// Growth of a bud is established.
    BudSeen = "bud-seen": EventRow::of(Notice, Bench, Life(LifeStep::BudSeen));
    /// The daily bulletin while in bud.
    Morning = "morning": EventRow::of(Notice, Bench, Echo).usual();
    /// Growth has fallen well below its peak.
    Slowing = "slowing": EventRow::of(Notice, Bench, Life(LifeStep::Slows));
    /// The rate spike of opening is established.
    OpeningTonight = "opening-tonight": EventRow::of(Alarm, Bench, Life(LifeStep::Opens)).ends(OF_AN_OPENING).rank(1);
    /// An opening alarm was wrong and ends.
    StoodDown = "stood-down": EventRow::of(Notice, Bench, Life(LifeStep::StandsDown)).ends(OF_AN_OPENING);
    /// The advance has levelled off.
    FullOpen = "full-open": EventRow::of(Notice, Bench, Life(LifeStep::OpensFully));
    /// Full opening is expected at another hour than was told last, or its hour has become much surer.
    FullOpenRevised = "full-open-revised": EventRow::of(Notice, Bench, Echo);
    /// The receptive window runs out and no pollination is recorded.
    ReceptiveEnding = "receptive-ending": EventRow::of(Alarm, Bench, Life(LifeStep::EndsReceptive)).rank(3);
    /// Time to collect pollen.
    PollenShed = "pollen-shed": EventRow::of(Alarm, Bench, Life(LifeStep::ShedsPollen)).rank(5);
    /// The spathe has closed.
    Closed = "closed": EventRow::of(Notice, Bench, Life(LifeStep::Closes)).ends(&[OpeningTonight, ReceptiveEnding]);
    /// The bud stopped and will not open.
    Aborted = "aborted": EventRow::of(Notice, Bench, Life(LifeStep::IsGivenUp));
    /// The fruit is ripe.
    FruitRipe = "fruit-ripe": EventRow::of(Notice, Bench, Life(LifeStep::Ripens));
    /// Climate outside the bench's limits.
    Climate = "climate": EventRow::of(Warning, Bench, Trouble).ends(&[Climate]).rank(4).usual();
    /// Climate back inside them.
    ClimateOver = "climate-over": EventRow::of(Warning, Bench, Over).ends(&[Climate]).usual();
    /// A sign was recorded or withdrawn.
    SignBooked = "sign-booked": EventRow::of(Notice, Bench, Echo).ends(&[ReceptiveEnding, PollenShed]);
    /// A quantity stopped coming.
    SensorSilent = "sensor-silent": EventRow::of(Warning, Bench, Trouble).rank(6);
    /// A quantity stopped changing.
    SensorStuck = "sensor-stuck": EventRow::of(Warning, Bench, Trouble).rank(7);
    /// It comes or changes again.
    SensorBack = "sensor-back": EventRow::of(Warning, Bench, Over).ends(&[SensorSilent, SensorStuck]);
    /// The side ranger speaks but does not see a living bud.
    EdgeNotSeen = "edge-not-seen": EventRow::of(Warning, Bench, Trouble).rank(8);
    /// It sees one again.
    EdgeNotSeenOver = "edge-not-seen-over": EventRow::of(Warning, Bench, Over).ends(&[EdgeNotSeen]);
    /// Heat stress for people in the house (of the site).
    Heat = "heat": EventRow::of(Warning, House, Trouble).rank(2).usual();
    /// The extreme heat that was told as an alarm is over (of the site).
    HeatOver = "heat-over": EventRow::of(Warning, House, Over).ends(&[Heat]).usual();
    /// A test alarm, which a person must acknowledge.
    Test = "test": EventRow::of(Alarm, BenchOrSite, Drill);
    /// An intake gave nothing for long (of the site).
    IntakeDown = "intake-down": EventRow::of(Warning, Machine, Trouble);
    /// The intake works again.
    IntakeDownOver = "intake-down-over": EventRow::of(Warning, Machine, Over).ends(&[IntakeDown]);
    /// The machine's clock is wrong, or was (of the site).
    ClockUntrusted = "clock-untrusted": EventRow::of(Warning, Machine, Trouble);
    /// It is to be trusted again.
    ClockUntrustedOver = "clock-untrusted-over": EventRow::of(Warning, Machine, Over).ends(&[ClockUntrusted]);
    /// The record could not be written for long (of the site).
    StoreFailing = "store-failing": EventRow::of(Warning, Machine, Trouble);
    /// It is written again.
    StoreFailingOver = "store-failing-over": EventRow::of(Warning, Machine, Over).ends(&[StoreFailing]);
    /// The file of the record was removed or replaced (of the site).
    StoreReplaced = "store-replaced": EventRow::of(Warning, Machine, Trouble);
    /// It is in its place again.
    StoreReplacedOver = "store-replaced-over": EventRow::of(Warning, Machine, Over).ends(&[StoreReplaced]);
    /// The copy of the readings could not be sent for long (of the site).
    ReadingsBehind = "readings-behind": EventRow::of(Warning, Machine, Trouble);
    /// It is up to date again.
    ReadingsBehindOver = "readings-behind-over": EventRow::of(Warning, Machine, Over).ends(&[ReadingsBehind]);
    /// Growth has come back after it slowed.
    SlowingOver = "slowing-over": EventRow::of(Notice, Bench, Life(LifeStep::GrowsOn));
    /// The bloom is over.
    Spent = "spent": EventRow::of(Notice, Bench, Life(LifeStep::Ends));
    /// Worth a look: what the sensors show of an opening is odd; its alarm stands.
    Look = "look": EventRow::of(Notice, Bench, Remark);
    /// The answer to an acknowledgement, or to the word that somebody comes.
    Acknowledged = "acknowledged": EventRow::of(Notice, BenchOrSite, Echo);
}

/// The alarms that an opening raises.
const OF_AN_OPENING: &[EventKind] =
    &[EventKind::OpeningTonight, EventKind::ReceptiveEnding, EventKind::PollenShed];

impl EventKind {
    /// The kind of that name; `None` where a later version wrote it.
    pub fn of(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| kind.name() == name)
    }

    /// The name as words: `opening tonight`.
    pub fn words(self) -> String {
        self.name().replace('-', " ")
    }

    /// The step in the life of a bloom that it tells of.
    pub const fn step(self) -> Option<LifeStep> {
        match self.row().class {
            Life(step) => Some(step),
            _ => None,
        }
    }

    /// Where the alarm of a kind of that name stands in a list, the gravest first.
    pub fn rank_of(name: &str) -> u8 {
        Self::of(name).map_or(UNRANKED, |kind| kind.row().rank)
    }
}

/// Evidence by kind of event, as its payload shows it. A figure that is not known is left out, never written as zero. What only the
/// sentence says, or the payload says in words, is not written.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Details {
    /// `test`.
    Test {},
    /// `bud-seen`.
    BudSeen(BudSeenDetails),
    /// `morning`.
    Morning(MorningDetails),
    /// `slowing`.
    Slowing(SlowingDetails),
    /// `slowing-over`.
    SlowingOver(SlowingOverDetails),
    /// `opening-tonight`.
    Opening(OpeningDetails),
    /// `stood-down`.
    StoodDown {
        /// Why.
        #[serde(skip)]
        why: NotOpening,
    },
    /// `look`.
    Look {
        /// What is odd.
        #[serde(skip)]
        doubt: Doubt,
    },
    /// `full-open-revised`.
    FullOpenRevised {
        /// When it will be fully open, as it is known now.
        full_open: FullOpenTimes,
        /// What has changed.
        #[serde(skip)]
        revision: Revision,
    },
    /// `full-open`.
    FullOpen(FullOpenDetails),
    /// `receptive-ending`.
    ReceptiveEnding {
        /// When pollination is worth trying.
        receptive: Window,
    },
    /// `pollen-shed`.
    Collect {
        /// When to collect.
        collect: Window,
        /// When it is most likely shed.
        #[serde(skip)]
        likely: Time,
    },
    /// `closed`.
    Closed {
        /// What tells.
        #[serde(skip)]
        by: HasClosed,
        /// So long after the crack, h, where one is known.
        #[serde(skip)]
        after_h: Option<f64>,
    },
    /// `aborted`.
    GivenUp {
        /// Why.
        #[serde(skip)]
        why: GivenUp,
    },
    /// `fruit-ripe`.
    FruitRipe {},
    /// `spent`.
    Spent {},
    /// `sign-booked`.
    Sign(SignDetails),
    /// `sign-booked` of a sign that was sent, without a time of its own, while the service did not listen: it counts for nothing until a
    /// person says when it was.
    UndatedSign {
        /// The sign as it was sent.
        #[serde(serialize_with = "as_written")]
        #[schemars(with = "String")]
        sign: Sign,
        /// It was sent after this; absent where nothing is known of it.
        #[serde(skip_serializing_if = "Option::is_none")]
        sent_from: Option<Time>,
        /// And before this.
        sent_until: Time,
    },
    /// `acknowledged`.
    Answer(AnswerDetails),
    /// `climate`, `climate-over`.
    Climate(ClimateDetails),
    /// `heat`, `heat-over`.
    Heat(HeatDetails),
    /// `sensor-silent`, `sensor-stuck`, `sensor-back`.
    Sensor(SensorDetails),
    /// `edge-not-seen`, `edge-not-seen-over`.
    Edge(EdgeDetails),
    /// What befell the site itself: `intake-down`, `clock-untrusted`, `readings-behind`, and each when it is over.
    Trouble {
        /// What is affected: a port, a pipe, the clock, a section of the configuration.
        what: String,
        /// Since when.
        since: Time,
        /// What befell it.
        #[serde(skip)]
        trouble: SiteTrouble,
    },
}
