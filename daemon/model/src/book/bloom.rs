//! A bloom as the record has it: the stages as the sensors told them, and as people booked them.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::event::{EventKind, Window};
use crate::forecast::{Outlook, ToldOutlook};
use crate::sign::PlainSign;
use crate::time::Time;

/// Days by which a sign of a bud may come before the sensors see that bud. Judgement: beyond the longest time from bud to opening told of.
const BUD_BEFORE_D: f64 = 90.0;

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

/// A bloom.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct BloomRecord {
    /// Its id, such as `east-3-2027a`.
    pub id: Arc<str>,
    /// The bench.
    pub bench: Arc<str>,
    /// The plant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plant: Option<Arc<str>>,
    /// As the sensors, or the service by the clock, told them.
    pub sensed: Stages,
    /// As people booked them.
    pub booked: Stages,
    /// Everything that people booked in it, oldest first.
    pub signs: Vec<BookedSign>,
    /// Openings that were called off.
    pub stood_down: u32,
    /// When to pollinate, as last told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub receptive: Option<Window>,
    /// When to collect pollen, as last told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub collect: Option<Window>,
    /// The forecast as last told while in bud.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub outlook: Option<ToldOutlook>,
    /// The growth peak, where it was told, cm a day.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub peak_cm_day: Option<f64>,
    /// The greatest height that was told, m.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_m: Option<f64>,
    /// Degree-days from the bud to the last morning in bud.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub degree_days: Option<f64>,
}

impl BloomRecord {
    fn begun(event: &LifeEvent) -> Self {
        Self {
            id: Arc::clone(&event.bloom),
            bench: Arc::clone(&event.bench),
            plant: event.plant.clone(),
            sensed: Stages::default(),
            booked: Stages::default(),
            signs: Vec::new(),
            stood_down: 0,
            receptive: None,
            collect: None,
            outlook: None,
            peak_cm_day: None,
            height_m: None,
            degree_days: None,
        }
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

    /// Each stage with its name, as booked and as sensed.
    pub const fn staged(&self) -> [(&'static str, Option<Time>, Option<Time>); 12] {
        let (booked, sensed) = (&self.booked, &self.sensed);
        [
            ("emerged", booked.emerged, sensed.emerged),
            ("bud seen", booked.bud_seen, sensed.bud_seen),
            ("spadix tip", booked.spadix_visible, sensed.spadix_visible),
            ("slowing", booked.slowing, sensed.slowing),
            ("last bract", booked.last_bract, sensed.last_bract),
            ("opened", booked.opened, sensed.opened),
            ("full open", booked.full_open, sensed.full_open),
            ("pollen", booked.pollen_shed, sensed.pollen_shed),
            ("closed", booked.closed, sensed.closed),
            ("given up", booked.aborted, sensed.aborted),
            ("fruit ripe", booked.fruit_ripe, sensed.fruit_ripe),
            ("over", booked.spent, sensed.spent),
        ]
    }

    /// When it began, as far as the record goes.
    pub fn began(&self) -> Option<Time> {
        [self.stages().emerged, self.sensed.bud_seen, self.sensed.opened].into_iter().flatten().min()
    }

    /// Whether it is still in bud at that time: not opened, not given up, not closed.
    pub fn in_bud(&self) -> bool {
        let stages = self.stages();
        [stages.opened, stages.aborted, stages.closed, stages.spent].into_iter().all(|stage| stage.is_none())
    }

    /// Whether it was open at that time, as far as the record goes.
    pub fn is_open(&self, at: Time) -> bool {
        let stages = self.stages();
        stages.opened.is_some_and(|opened| opened <= at) && stages.closed.is_none_or(|closed| closed > at)
    }

    /// Whether a person booked that sign in it.
    pub fn has(&self, sign: PlainSign) -> bool {
        self.signs.iter().any(|booked| booked.what == sign)
    }

    /// The opening was none: nothing that followed from it holds.
    fn forget_the_opening(&mut self) {
        let Stages { opened, full_open, pollen_shed, closed, .. } = &mut self.sensed;
        [opened, full_open, pollen_shed, closed].into_iter().for_each(|stage| *stage = None);
        (self.receptive, self.collect) = (None, None);
        self.stood_down += 1;
    }

    fn take(&mut self, event: &LifeEvent) {
        let first = |stage: &mut Option<Time>| *stage = stage.or(Some(event.time));
        match event.kind {
            EventKind::BudSeen => {
                first(&mut self.sensed.bud_seen);
                self.sensed.aborted = None;
            }
            EventKind::Slowing => first(&mut self.sensed.slowing),
            EventKind::SlowingOver => self.sensed.slowing = None,
            EventKind::OpeningTonight => {
                // one told behind another says that that was none
                if self.sensed.opened.is_some() {
                    self.forget_the_opening();
                }
                self.sensed.opened = event.began.or(Some(event.time));
                self.sensed.aborted = None;
            }
            EventKind::StoodDown => self.forget_the_opening(),
            EventKind::FullOpen => {
                first(&mut self.sensed.full_open);
                self.sensed.closed = None;
            }
            EventKind::PollenShed => first(&mut self.sensed.pollen_shed),
            EventKind::Closed => first(&mut self.sensed.closed),
            EventKind::Aborted => first(&mut self.sensed.aborted),
            EventKind::FruitRipe => first(&mut self.sensed.fruit_ripe),
            EventKind::Spent => first(&mut self.sensed.spent),
            _ => {}
        }
        if event.plant.is_some() {
            self.plant.clone_from(&event.plant);
        }
        self.receptive = event.receptive.or(self.receptive);
        self.collect = event.collect.or(self.collect);
        let told = event.outlook.map(|outlook| ToldOutlook { forecast_at: event.time, outlook });
        self.outlook = told.or(self.outlook);
        self.peak_cm_day = event.peak_cm_day.or(self.peak_cm_day);
        self.degree_days = event.degree_days.or(self.degree_days);
        if self.height_m.is_none_or(|height| event.height_m.is_some_and(|told| told > height)) {
            self.height_m = event.height_m.or(self.height_m);
        }
    }

    fn book(&mut self, sign: BookedSign) {
        let stage = match sign.what {
            PlainSign::Emerged => Some(&mut self.booked.emerged),
            PlainSign::SpadixVisible => Some(&mut self.booked.spadix_visible),
            PlainSign::LastBractDropped => Some(&mut self.booked.last_bract),
            PlainSign::Opened => Some(&mut self.booked.opened),
            PlainSign::FullOpen => Some(&mut self.booked.full_open),
            PlainSign::PollenCollected => Some(&mut self.booked.pollen_shed),
            PlainSign::Closed => Some(&mut self.booked.closed),
            PlainSign::Collapsed | PlainSign::Leaf => match self.sensed.aborted {
                Some(_) => Some(&mut self.booked.aborted),
                None => None,
            },
            PlainSign::FruitRipe => Some(&mut self.booked.fruit_ripe),
            PlainSign::NotOpening => {
                // whoever says that it is closed says that it was not opened before
                (self.booked.opened, self.booked.full_open) = (None, None);
                None
            }
            _ => None,
        };
        if let Some(stage) = stage {
            *stage = (*stage).or(Some(sign.time));
        }
        self.signs.push(sign);
    }
}

/// The blooms of a house, oldest first, from the events of their lives in the order in which they were raised, and from
/// what people booked.
pub fn blooms(events: &[LifeEvent], mut signs: Vec<BookedSign>) -> Vec<BloomRecord> {
    let mut blooms: Vec<BloomRecord> = Vec::new();
    for event in events {
        let place = blooms.iter().position(|bloom| bloom.id == event.bloom).unwrap_or_else(|| {
            blooms.push(BloomRecord::begun(event));
            blooms.len() - 1
        });
        blooms[place].take(event);
    }
    signs.sort_by_key(|sign| sign.time);
    for sign in signs {
        if let Some(place) = bloom_of(&blooms, &sign) {
            blooms[place].book(sign);
        }
    }
    blooms.sort_by_key(|bloom| (bloom.began(), Arc::clone(&bloom.id)));
    blooms
}

/// To which bloom of its bench a sign belongs: a sign of a bud to the bud that was open then, or else to the next one; any
/// other to the newest that had begun.
fn bloom_of(blooms: &[BloomRecord], sign: &BookedSign) -> Option<usize> {
    let of_a_bud = matches!(
        sign.what,
        PlainSign::Emerged
            | PlainSign::SpadixVisible
            | PlainSign::EdgeColoured
            | PlainSign::BractDropped
            | PlainSign::LastBractDropped
            | PlainSign::EdgeLoose
    );
    let here = || {
        let sensed = |bloom: &BloomRecord| bloom.sensed.bud_seen.or(bloom.sensed.opened);
        blooms
            .iter()
            .enumerate()
            .filter(|(_, bloom)| bloom.bench == sign.bench)
            .filter_map(move |(place, bloom)| Some((place, bloom, sensed(bloom)?)))
    };
    let over = |bloom: &BloomRecord| {
        let ends = [bloom.sensed.closed, bloom.sensed.aborted];
        ends.into_iter().flatten().any(|end| end < sign.time)
    };
    let under_way = here()
        .filter(|(_, bloom, seen)| *seen <= sign.time && !(of_a_bud && over(bloom)))
        .max_by_key(|(_, _, seen)| *seen);
    let next = || {
        here()
            .filter(|(_, _, seen)| *seen > sign.time && seen.days_since(sign.time) <= BUD_BEFORE_D)
            .min_by_key(|(_, _, seen)| *seen)
    };
    under_way.or_else(next).map(|(place, ..)| place)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn time(day: f64) -> Time {
        Time::from_unix_ms(1_800_000_000_000).plus_hours(24.0 * day)
    }

    fn event(bloom: &str, kind: EventKind, day: f64) -> LifeEvent {
        let bench = bloom.rsplit_once('-').unwrap().0;
        LifeEvent {
            time: time(day),
            bench: bench.into(),
            plant: Some("AT-0412".into()),
            bloom: bloom.into(),
            kind,
            began: None,
            receptive: None,
            collect: None,
            outlook: None,
            height_m: None,
            peak_cm_day: None,
            degree_days: None,
        }
    }

    fn sign(what: PlainSign, day: f64) -> BookedSign {
        BookedSign { bench: "east-3".into(), time: time(day), sign: what.name(), what, by: None, note: None }
    }

    #[test]
    fn stages_are_as_sensed_and_as_booked_and_the_booked_one_holds() {
        let mut opening = event("east-3-2027a", EventKind::OpeningTonight, 40.0);
        opening.began = Some(time(39.9));
        let events = [
            event("east-3-2027a", EventKind::BudSeen, 0.0),
            event("east-3-2027a", EventKind::OpeningTonight, 39.0),
            event("east-3-2027a", EventKind::StoodDown, 39.2),
            opening,
            event("east-3-2027a", EventKind::Closed, 42.0),
        ];
        let signs = vec![sign(PlainSign::Opened, 39.8), sign(PlainSign::Emerged, -6.0)];
        let blooms = blooms(&events, signs);
        assert_eq!(blooms.len(), 1);
        let bloom = &blooms[0];
        assert_eq!((bloom.sensed.opened, bloom.booked.opened), (Some(time(39.9)), Some(time(39.8))));
        assert_eq!(bloom.stages().opened, Some(time(39.8)));
        assert_eq!((bloom.stood_down, bloom.began()), (1, Some(time(-6.0))));
        assert!(bloom.is_open(time(41.0)) && !bloom.is_open(time(42.5)) && !bloom.in_bud());
    }

    #[test]
    fn of_an_opening_that_was_none_no_window_stays() {
        let window = |from: f64, until: f64| Some(Window { from: time(from), until: time(until) });
        let told = |kind, day, receptive, collect| LifeEvent {
            receptive,
            collect,
            ..event("east-3-2027a", kind, day)
        };
        let wrong = [
            event("east-3-2027a", EventKind::BudSeen, 0.0),
            told(EventKind::OpeningTonight, 39.0, window(39.1, 39.7), None),
            told(EventKind::FullOpen, 39.4, window(39.1, 39.7), None),
            told(EventKind::ReceptiveEnding, 39.6, window(39.1, 39.7), None),
            told(EventKind::PollenShed, 39.9, None, window(39.9, 41.5)),
            event("east-3-2027a", EventKind::Closed, 41.5),
        ];
        let of = |more: &[LifeEvent]| blooms(&[&wrong, more].concat(), Vec::new()).remove(0);
        let down = of(&[event("east-3-2027a", EventKind::StoodDown, 41.6)]);
        assert_eq!((down.receptive, down.collect, down.stood_down), (None, None, 1));
        assert_eq!(down.sensed, Stages { bud_seen: Some(time(0.0)), ..Stages::default() });
        assert!(down.in_bud());
        // the real one, told after the stand-down or in the other's place, has its own windows only
        let real = told(EventKind::OpeningTonight, 42.0, window(42.1, 42.7), None);
        for bloom in [
            of(std::slice::from_ref(&real)),
            of(&[event("east-3-2027a", EventKind::StoodDown, 41.6), real.clone()]),
        ] {
            assert_eq!((bloom.receptive, bloom.collect, bloom.stood_down), (window(42.1, 42.7), None, 1));
            assert_eq!(
                (bloom.sensed.full_open, bloom.sensed.pollen_shed, bloom.sensed.closed),
                (None, None, None)
            );
        }
        // a person's word, too, is taken back by the same person's
        let said = vec![sign(PlainSign::Opened, 39.0), sign(PlainSign::NotOpening, 39.2)];
        assert_eq!(blooms(&wrong[..1], said).remove(0).stages().opened, None);
    }

    #[test]
    fn a_bloom_that_is_over_says_so() {
        let events =
            [event("east-3-2027a", EventKind::BudSeen, 0.0), event("east-3-2027a", EventKind::Spent, 50.0)];
        let bloom = blooms(&events, Vec::new()).remove(0);
        assert_eq!(bloom.staged().last(), Some(&("over", None, Some(time(50.0)))));
        assert!(!bloom.in_bud());
    }

    #[test]
    fn a_sign_of_a_bud_after_a_bloom_belongs_to_the_next_one() {
        let events = [
            event("east-3-2027a", EventKind::BudSeen, 0.0),
            event("east-3-2027a", EventKind::Closed, 42.0),
            event("east-3-2029a", EventKind::BudSeen, 700.0),
            event("east-4-2027a", EventKind::BudSeen, 1.0),
        ];
        let signs = vec![
            sign(PlainSign::FruitSet, 80.0),
            sign(PlainSign::Emerged, 690.0),
            sign(PlainSign::BractDropped, 720.0),
            sign(PlainSign::SpadixVisible, 300.0),
        ];
        let blooms = blooms(&events, signs);
        let of = |id: &str| {
            let bloom = blooms.iter().find(|bloom| &*bloom.id == id).unwrap();
            bloom.signs.iter().map(|sign| sign.sign).collect::<Vec<_>>()
        };
        assert_eq!(of("east-3-2027a"), ["fruit-set"]);
        assert_eq!(of("east-3-2029a"), ["emerged", "bract-dropped"], "day 300 is of no bud that is known");
        assert_eq!(of("east-4-2027a"), [""; 0]);
    }
}
