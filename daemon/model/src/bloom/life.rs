//! The life of a bloom as it was told and booked. [`Life::apply`] is the one place where that is folded: the book and the reviews read it.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::event::{EventKind, LifeStep, Window};
use crate::forecast::Outlook;
use crate::sign::PlainSign;
use crate::stage::{Stage, Turn};
use crate::time::Time;

/// An event of a bloom's life, read back from what was published.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct LifeEvent {
    /// When.
    pub time: Time,
    /// The bench.
    pub bench: Arc<str>,
    /// The plant on it at that time.
    pub plant: Option<Arc<str>>,
    /// The bloom.
    pub bloom: Arc<str>,
    /// What happened.
    #[serde(rename = "event")]
    pub kind: EventKind,
    /// Of an opening: the first crack.
    pub began: Option<Time>,
    /// When to pollinate.
    pub receptive: Option<Window>,
    /// When to collect pollen.
    pub collect: Option<Window>,
    /// The forecast, while in bud.
    #[serde(flatten)]
    pub outlook: Option<Outlook>,
    /// Height, m.
    pub height_m: Option<f64>,
    /// The growth peak, cm a day.
    pub peak_cm_day: Option<f64>,
    /// Degree-days since the bud was seen.
    pub degree_days: Option<f64>,
}

/// A sign as a person booked it; what was withdrawn is no longer among them.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BookedSign {
    /// The bench.
    #[serde(skip)]
    pub bench: Arc<str>,
    /// When it was seen.
    pub time: Time,
    /// What.
    pub sign: &'static str,
    /// The same, typed.
    #[serde(skip)]
    pub what: PlainSign,
    /// Who.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// Anything else.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// When the stages of a bloom came. What did not come, or was not seen, is left out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Stages {
    /// The bud came through the soil.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub emerged: Option<Time>,
    /// Growth of a bud was established.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bud_seen: Option<Time>,
    /// The spadix tip showed between the bracts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spadix_visible: Option<Time>,
    /// Growth fell well below its peak.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slowing: Option<Time>,
    /// The last bract fell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_bract: Option<Time>,
    /// First crack.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub opened: Option<Time>,
    /// Fully open.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub full_open: Option<Time>,
    /// Pollen shed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pollen_shed: Option<Time>,
    /// Closed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub closed: Option<Time>,
    /// Given up unopened.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub aborted: Option<Time>,
    /// The fruit was ripe.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fruit_ripe: Option<Time>,
    /// It was over, and the bench waited for its next bud.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spent: Option<Time>,
}

/// Later than whatever is booked.
const ALL: Time = Time::from_unix_ms(i64::MAX);

/// What happens to a bloom, as the record has it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Happening<'a> {
    /// An event that was told of it.
    Told(&'a LifeEvent),
    /// A sign that a person booked in it.
    Booked(&'a BookedSign),
}

impl Happening<'_> {
    /// When.
    pub const fn time(&self) -> Time {
        match self {
            Self::Told(event) => event.time,
            Self::Booked(sign) => sign.time,
        }
    }
}

/// What a bloom has gone through. What was taken back has left nothing behind.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Life {
    /// As the sensors, or the service by the clock, told them.
    pub sensed: Stages,
    /// As people booked them.
    pub booked: Stages,
    /// Openings that were called off.
    pub stood_down: u32,
    /// When to pollinate, as last told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub receptive: Option<Window>,
    /// When to collect pollen, as last told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub collect: Option<Window>,
    /// Where it is in its life: the stage that its bench is in, as far as all of it was told.
    #[serde(skip)]
    pub stage: Stage,
    /// When the alarm of the opening that stands was raised.
    #[serde(skip)]
    pub alarm: Option<Time>,
}

impl Default for Life {
    fn default() -> Self {
        Self {
            sensed: Stages::default(),
            booked: Stages::default(),
            stood_down: 0,
            receptive: None,
            collect: None,
            stage: Stage::Bud,
            alarm: None,
        }
    }
}

impl Life {
    /// Takes what happened next, in the order of time.
    pub fn apply(&mut self, happening: Happening<'_>) {
        match happening {
            Happening::Told(event) => self.tell(event),
            Happening::Booked(sign) => self.book(sign.what, sign.time),
        }
    }

    fn tell(&mut self, event: &LifeEvent) {
        if let Some(step) = event.kind.step() {
            self.step(step, event);
        }
        self.receptive = event.receptive.or(self.receptive);
        self.collect = event.collect.or(self.collect);
    }

    fn step(&mut self, step: LifeStep, event: &LifeEvent) {
        let first = |stage: &mut Option<Time>| *stage = stage.or(Some(event.time));
        match step {
            LifeStep::BudSeen => {
                first(&mut self.sensed.bud_seen);
                self.take_up();
                self.turn(Turn::IsTakenUp { slowing: self.sensed.slowing.is_some() });
            }
            LifeStep::Slows => {
                first(&mut self.sensed.slowing);
                self.turn(Turn::GrowthSlows);
            }
            LifeStep::GrowsOn => {
                self.sensed.slowing = None;
                self.turn(Turn::GrowthRecovers);
            }
            LifeStep::Opens => {
                let began = event.began.unwrap_or(event.time);
                // one told behind another says that that was none
                if self.sensed.opened.is_some() {
                    self.forget_the_opening(began);
                    self.stood_down += 1;
                }
                self.sensed.opened = Some(began);
                self.alarm = Some(event.time);
                self.take_up();
                self.turn(Turn::Opens);
            }
            LifeStep::StandsDown => {
                self.forget_the_opening(ALL);
                self.stood_down += 1;
            }
            LifeStep::OpensFully => {
                first(&mut self.sensed.full_open);
                (self.sensed.closed, self.booked.closed) = (None, None);
                self.turn(Turn::OpensFully);
            }
            LifeStep::ShedsPollen => {
                first(&mut self.sensed.pollen_shed);
                self.turn(Turn::ShedsPollen);
            }
            LifeStep::Closes => {
                first(&mut self.sensed.closed);
                self.turn(Turn::Closes);
            }
            LifeStep::IsGivenUp => {
                first(&mut self.sensed.aborted);
                self.turn(Turn::IsGivenUp);
            }
            LifeStep::Ripens => {
                first(&mut self.sensed.fruit_ripe);
                self.stage = Stage::Spent;
            }
            LifeStep::Ends => {
                first(&mut self.sensed.spent);
                self.stage = Stage::Spent;
            }
            LifeStep::EndsReceptive => {}
        }
    }

    fn book(&mut self, what: PlainSign, time: Time) {
        let first = |stage: &mut Option<Time>| *stage = stage.or(Some(time));
        match what {
            PlainSign::Emerged => first(&mut self.booked.emerged),
            PlainSign::SpadixVisible => first(&mut self.booked.spadix_visible),
            PlainSign::LastBractDropped => first(&mut self.booked.last_bract),
            PlainSign::Opened => {
                first(&mut self.booked.opened);
                self.turn(Turn::Opens);
            }
            PlainSign::FullOpen => {
                first(&mut self.booked.full_open);
                self.booked.closed = None;
                self.turn(Turn::Opens);
                self.turn(Turn::OpensFully);
            }
            PlainSign::PollenCollected => first(&mut self.booked.pollen_shed),
            PlainSign::Closed => {
                first(&mut self.booked.closed);
                self.turn(Turn::Closes);
            }
            PlainSign::Collapsed | PlainSign::Leaf if self.stage.in_bud() || self.stage == Stage::Aborted => {
                first(&mut self.booked.aborted);
                self.turn(Turn::IsGivenUp);
            }
            PlainSign::Collapsed => self.turn(Turn::Closes),
            PlainSign::FruitSet => {
                self.turn(Turn::Closes);
                self.turn(Turn::SetsFruit);
            }
            PlainSign::FruitRipe => {
                first(&mut self.booked.fruit_ripe);
                self.stage = Stage::Spent;
            }
            // whoever says that it is closed says that it was not opened before
            PlainSign::NotOpening => self.forget_the_opening(ALL),
            _ => {}
        }
    }

    fn turn(&mut self, turn: Turn) {
        self.stage = self.stage.after(turn).unwrap_or(self.stage);
    }

    /// It was given up, and is watched again.
    fn take_up(&mut self) {
        (self.sensed.aborted, self.booked.aborted) = (None, None);
    }

    /// The opening was none: nothing that followed from it holds, nor what people booked of it before that instant.
    fn forget_the_opening(&mut self, before: Time) {
        for (stages, before) in [(&mut self.sensed, ALL), (&mut self.booked, before)] {
            let Stages { opened, full_open, pollen_shed, closed, .. } = stages;
            for stage in [opened, full_open, pollen_shed, closed] {
                *stage = stage.filter(|time| *time >= before);
            }
        }
        (self.receptive, self.collect, self.alarm) = (None, None, None);
        self.turn(Turn::StandsDown { slowing: self.sensed.slowing.is_some() });
    }

    /// The stages that hold: as booked, else as sensed. A person who was there knows better than a ranger.
    pub fn stages(&self) -> Stages {
        let (booked, sensed) = (self.booked, self.sensed);
        Stages {
            emerged: booked.emerged.or(sensed.emerged),
            bud_seen: booked.bud_seen.or(sensed.bud_seen),
            spadix_visible: booked.spadix_visible.or(sensed.spadix_visible),
            slowing: booked.slowing.or(sensed.slowing),
            last_bract: booked.last_bract.or(sensed.last_bract),
            opened: booked.opened.or(sensed.opened),
            full_open: booked.full_open.or(sensed.full_open),
            pollen_shed: booked.pollen_shed.or(sensed.pollen_shed),
            closed: booked.closed.or(sensed.closed),
            aborted: booked.aborted.or(sensed.aborted),
            fruit_ripe: booked.fruit_ripe.or(sensed.fruit_ripe),
            spent: booked.spent.or(sensed.spent),
        }
    }

    /// When it was over, and by what: closed, given up, its fruit ripe, or nothing more to come; the first of these.
    pub fn over(&self) -> Option<(Time, EventKind)> {
        let stages = self.stages();
        let ends = [
            (stages.closed, EventKind::Closed),
            (stages.aborted, EventKind::Aborted),
            (stages.fruit_ripe, EventKind::FruitRipe),
            (stages.spent, EventKind::Spent),
        ];
        ends.into_iter().filter_map(|(time, how)| Some((time?, how))).min_by_key(|(time, _)| *time)
    }

    /// Whether it is still in bud: not opened and not over.
    pub fn in_bud(&self) -> bool {
        self.stages().opened.is_none() && self.over().is_none()
    }

    /// Whether it was open at that time.
    pub fn is_open(&self, at: Time) -> bool {
        let over = self.over().map(|(over, _)| over);
        self.stages().opened.is_some_and(|opened| opened <= at) && over.is_none_or(|over| over > at)
    }

    /// Whether an event of that kind and time still holds: what followed from an opening that was none does not. That it was told,
    /// and that it was taken back, holds.
    pub fn holds(&self, kind: EventKind, time: Time) -> bool {
        let follows = kind.step().is_some_and(LifeStep::follows_an_opening);
        !follows || self.alarm.is_some_and(|alarm| alarm <= time)
    }
}
