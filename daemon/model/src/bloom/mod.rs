//! One flowering of one bench, from bud to spent: its stage and what has been told of it.

pub mod hours;
pub mod life;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::event::{Doubt, EventKind, FullOpenTimes, Revision, ToldBy, Window};
use crate::forecast::{Grown, Outlook};
use crate::opening::Evidence;
use crate::opening::belief::Belief;
use crate::profile::Profile;
use crate::stage::{Stage, Turn};
use crate::time::Time;

/// An opening under way.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Opening {
    /// The id of the alarm.
    pub alarm: String,
    /// The evidence it stood on; later evidence replaces it.
    pub evidence: Evidence,
    /// When the alarm was raised.
    pub raised: Time,
    /// The rim's (or tip's) level before, m.
    pub base_m: f64,
    /// The highest level since, m.
    pub highest_m: f64,
    /// Where the edge stood closed before, m, and how many echoes of it a quarter hour brought; `None` where that is not known.
    pub closed: Option<(f64, f64)>,
    /// What spoke against it so far; each is said once.
    pub doubts: BTreeSet<Doubt>,
    /// Since when the watch for an opening goes on behind this alarm.
    pub watched_from: Option<Time>,
    /// The fastest rate since, m/h.
    pub fastest_m_h: f64,
    /// When it will be fully open, as told last.
    pub full_open: FullOpenTimes,
    /// How the expected hour differs from that, and since when: it is told once it has lasted.
    pub revision: Option<(Revision, Time)>,
    /// What the side ranger's samples tell of its course, while it opens.
    pub belief: Option<Belief>,
    /// Since when it has been fully open, as told.
    pub full_since: Option<Time>,
    /// What told of it.
    pub told_by: ToldBy,
    /// A person pollinated.
    pub pollinated: bool,
    /// A person collected the pollen.
    pub collected: bool,
    /// The `receptive-ending` alarm, once told.
    pub receptive_ending: Option<String>,
    /// The `pollen-shed` alarm, once told.
    pub pollen_shed: Option<String>,
}

impl Opening {
    /// The ids of its alarms.
    pub fn alarms(self) -> impl Iterator<Item = String> {
        std::iter::once(self.alarm).chain(self.receptive_ending).chain(self.pollen_shed)
    }

    /// When pollination is worth trying, counted from the first crack.
    pub fn receptive(&self, profile: &Profile) -> Window {
        hours::receptive(self.evidence.began, profile)
    }

    /// When to collect pollen, counted from the first crack.
    pub fn collect(&self, profile: &Profile) -> Window {
        hours::collect(self.evidence.began, profile)
    }
}

/// One flowering.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bloom {
    /// Its id, such as `east-3-2027a`.
    pub id: Arc<str>,
    /// Its stage.
    pub stage: Stage,
    /// When the bud was seen.
    pub seen: Time,
    /// Its height then, m, where known.
    pub seen_height_m: Option<f64>,
    /// Growth day by day by the overhead ranger, oldest first.
    pub growth: Vec<Grown>,
    /// Degree-days and days covered on the bench's counter at that time.
    pub heat_before: (f64, f64),
    /// Fastest growth over a day so far, m/h, where a ranger or the tape told it.
    pub peak_m_h: Option<f64>,
    /// The same by the overhead ranger alone.
    pub peak_by_ranger_m_h: Option<f64>,
    /// The same where growth over two days bears it out, m/h: slowing is told against this one, for one odd day is no peak.
    pub lasting_peak_m_h: Option<f64>,
    /// Since when growth has been below the slowing share of the peak.
    pub slow_since: Option<Time>,
    /// Since when growth has been next to nothing.
    pub stopped_since: Option<Time>,
    /// Chances of opening passed over since growth ran out, as the forecast counts them.
    pub waited: f64,
    /// The forecast that was told last, and when: whoever shows one shows this.
    #[serde(with = "crate::forecast::remembered")]
    pub outlook: Option<(Time, Outlook)>,
    /// The opening, once there is one.
    pub opening: Option<Opening>,
    /// When it closed or was given up.
    pub closed: Option<Time>,
    /// How many events of each kind have been told.
    pub told: BTreeMap<EventKind, u32>,
}

impl Bloom {
    /// A bloom whose bud was just seen.
    pub fn new(id: Arc<str>, (seen, seen_height_m): (Time, Option<f64>), heat_before: (f64, f64)) -> Self {
        Self {
            id,
            stage: Stage::Bud,
            seen,
            seen_height_m,
            growth: Vec::new(),
            heat_before,
            peak_m_h: None,
            peak_by_ranger_m_h: None,
            lasting_peak_m_h: None,
            slow_since: None,
            stopped_since: None,
            waited: 0.0,
            outlook: None,
            opening: None,
            closed: None,
            told: BTreeMap::new(),
        }
    }

    /// Takes a turn of its life; `false`, and nothing changes, where its stage does not allow that one.
    pub fn turn(&mut self, turn: Turn) -> bool {
        let next = self.stage.after(turn);
        self.stage = next.unwrap_or(self.stage);
        next.is_some()
    }

    /// The id of the next event of a kind: BLOOM/EVENT/ordinal.
    pub fn next_id(&mut self, kind: EventKind) -> String {
        let count = self.told.entry(kind).or_default();
        *count += 1;
        format!("{}/{}/{count}", self.id, kind.name())
    }
}
