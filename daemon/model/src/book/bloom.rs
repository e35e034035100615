//! A bloom as the record has it: the stages as the sensors told them, and as people booked them.

use std::sync::Arc;

use schemars::JsonSchema;
use serde::Serialize;

use crate::bloom::life::{BookedSign, Happening, Life, LifeEvent, Stages};
use crate::forecast::ToldOutlook;
use crate::sign::PlainSign;
use crate::time::Time;

/// Days by which a sign of a bud may come before the sensors see that bud. Judgement: beyond the longest time from bud to opening told of.
const BUD_BEFORE_D: f64 = 90.0;

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
    /// What it went through.
    #[serde(flatten)]
    pub life: Life,
    /// Everything that people booked in it, oldest first.
    pub signs: Vec<BookedSign>,
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
            life: Life::default(),
            signs: Vec::new(),
            outlook: None,
            peak_cm_day: None,
            height_m: None,
            degree_days: None,
        }
    }

    /// The stages that hold: as booked, else as sensed.
    pub fn stages(&self) -> Stages {
        self.life.stages()
    }

    /// Each stage with its name, as booked and as sensed.
    pub const fn staged(&self) -> [(&'static str, Option<Time>, Option<Time>); 12] {
        let (booked, sensed) = (&self.life.booked, &self.life.sensed);
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
        [self.stages().emerged, self.life.sensed.bud_seen, self.stages().opened].into_iter().flatten().min()
    }

    /// Whether a person booked that sign in it.
    pub fn has(&self, sign: PlainSign) -> bool {
        self.signs.iter().any(|booked| booked.what == sign)
    }

    /// Takes the figures that an event told.
    fn take(&mut self, event: &LifeEvent) {
        if event.plant.is_some() {
            self.plant.clone_from(&event.plant);
        }
        let told = event.outlook.map(|outlook| ToldOutlook { forecast_at: event.time, outlook });
        self.outlook = told.or(self.outlook);
        self.peak_cm_day = event.peak_cm_day.or(self.peak_cm_day);
        self.degree_days = event.degree_days.or(self.degree_days);
        if self.height_m.is_none_or(|height| event.height_m.is_some_and(|told| told > height)) {
            self.height_m = event.height_m.or(self.height_m);
        }
    }

    /// Folds its life from all that happened to it. What was booked of an instant goes before what was told at it: that was told for it.
    fn live(&mut self, events: &[&LifeEvent], signs: Vec<BookedSign>) {
        let booked = signs.iter().map(Happening::Booked);
        let mut all: Vec<Happening<'_>> = booked.chain(events.iter().copied().map(Happening::Told)).collect();
        all.sort_by_key(Happening::time);
        self.life = Life::default();
        all.into_iter().for_each(|happening| self.life.apply(happening));
        self.signs = signs;
    }
}

/// The blooms of a house, oldest first, from the events of their lives in the order in which they were raised, and from
/// what people booked.
pub fn blooms(events: &[LifeEvent], mut signs: Vec<BookedSign>) -> Vec<BloomRecord> {
    let mut blooms: Vec<BloomRecord> = Vec::new();
    let mut told: Vec<Vec<&LifeEvent>> = Vec::new();
    for event in events {
        let place = blooms.iter().position(|bloom| bloom.id == event.bloom).unwrap_or_else(|| {
            blooms.push(BloomRecord::begun(event));
            told.push(Vec::new());
            blooms.len() - 1
        });
        blooms[place].take(event);
        told[place].push(event);
    }
    // to which bloom a sign belongs shows in what was told
    for (bloom, events) in blooms.iter_mut().zip(&told) {
        bloom.live(events, Vec::new());
    }
    signs.sort_by_key(|sign| sign.time);
    let mut booked: Vec<Vec<BookedSign>> = vec![Vec::new(); blooms.len()];
    for sign in signs {
        if let Some(place) = bloom_of(&blooms, &sign) {
            booked[place].push(sign);
        }
    }
    for ((bloom, events), signs) in blooms.iter_mut().zip(&told).zip(booked) {
        bloom.live(events, signs);
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
        let sensed = |bloom: &BloomRecord| bloom.life.sensed.bud_seen.or(bloom.life.sensed.opened);
        blooms
            .iter()
            .enumerate()
            .filter(|(_, bloom)| bloom.bench == sign.bench)
            .filter_map(move |(place, bloom)| Some((place, bloom, sensed(bloom)?)))
    };
    let over = |bloom: &BloomRecord| bloom.life.over().is_some_and(|(over, _)| over < sign.time);
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
    use crate::event::{EventKind, Window};

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
        assert_eq!(
            (bloom.life.sensed.opened, bloom.life.booked.opened),
            (Some(time(39.9)), Some(time(39.8)))
        );
        assert_eq!(bloom.stages().opened, Some(time(39.8)));
        assert_eq!((bloom.life.stood_down, bloom.began()), (1, Some(time(-6.0))));
        assert!(bloom.life.is_open(time(41.0)) && !bloom.life.is_open(time(42.5)) && !bloom.life.in_bud());
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
        assert_eq!((down.life.receptive, down.life.collect, down.life.stood_down), (None, None, 1));
        assert_eq!(down.life.sensed, Stages { bud_seen: Some(time(0.0)), ..Stages::default() });
        assert!(down.life.in_bud());
        // the real one, told after the stand-down or in the other's place, has its own windows only
        let real = told(EventKind::OpeningTonight, 42.0, window(42.1, 42.7), None);
        for bloom in [
            of(std::slice::from_ref(&real)),
            of(&[event("east-3-2027a", EventKind::StoodDown, 41.6), real.clone()]),
        ] {
            assert_eq!(
                (bloom.life.receptive, bloom.life.collect, bloom.life.stood_down),
                (window(42.1, 42.7), None, 1)
            );
            assert_eq!(
                (bloom.life.sensed.full_open, bloom.life.sensed.pollen_shed, bloom.life.sensed.closed),
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
        assert!(!bloom.life.in_bud());
    }

    #[test]
    fn one_whose_fruit_is_ripe_is_over_though_nobody_said_that_it_closed() {
        let events = [
            event("east-3-2027a", EventKind::BudSeen, 0.0),
            event("east-3-2027a", EventKind::OpeningTonight, 40.0),
            event("east-3-2027a", EventKind::FruitRipe, 45.0),
        ];
        let bloom = blooms(&events, Vec::new()).remove(0);
        assert!(bloom.life.is_open(time(44.0)) && !bloom.life.is_open(time(46.0)));
        assert_eq!(bloom.life.over(), Some((time(45.0), EventKind::FruitRipe)));
        let in_bud = blooms(&[events[0].clone(), events[2].clone()], Vec::new()).remove(0);
        assert!(!in_bud.life.in_bud());
    }

    #[test]
    fn one_that_a_person_gave_up_and_that_is_watched_again_is_not_given_up() {
        let events = [
            event("east-3-2027a", EventKind::BudSeen, 0.0),
            event("east-3-2027a", EventKind::Aborted, 20.0),
            event("east-3-2027a", EventKind::BudSeen, 22.0),
        ];
        let said = || vec![sign(PlainSign::Collapsed, 20.0), sign(PlainSign::SpadixVisible, 22.0)];
        let given_up = blooms(&events[..2], said()).remove(0);
        assert_eq!(given_up.stages().aborted, Some(time(20.0)));
        let watched = blooms(&events, said()).remove(0);
        assert_eq!(watched.stages().aborted, None);
        assert!(watched.life.in_bud());
        // nor one that opens all the same
        let opens = [&events[..2], &[event("east-3-2027a", EventKind::OpeningTonight, 30.0)]].concat();
        let open = blooms(&opens, vec![sign(PlainSign::Collapsed, 20.0)]).remove(0);
        assert!(open.stages().aborted.is_none() && open.life.is_open(time(31.0)));
    }

    #[test]
    fn what_people_booked_of_an_opening_that_was_none_goes_with_it() {
        let events = [
            event("east-3-2027a", EventKind::BudSeen, 0.0),
            event("east-3-2027a", EventKind::OpeningTonight, 39.0),
            event("east-3-2027a", EventKind::StoodDown, 41.0),
        ];
        let said = vec![sign(PlainSign::PollenCollected, 40.0), sign(PlainSign::Closed, 40.5)];
        let bloom = blooms(&events, said).remove(0);
        assert_eq!((bloom.stages().pollen_shed, bloom.stages().closed), (None, None));
        assert!(bloom.life.in_bud());
        // what is booked of the real one stays, though it is told behind the other
        let mut real = event("east-3-2027a", EventKind::OpeningTonight, 46.0);
        real.began = Some(time(45.8));
        let said = vec![sign(PlainSign::PollenCollected, 40.0), sign(PlainSign::Opened, 45.9)];
        let bloom = blooms(&[&events[..2], &[real]].concat(), said).remove(0);
        assert_eq!((bloom.stages().opened, bloom.stages().pollen_shed), (Some(time(45.9)), None));
    }

    #[test]
    fn what_was_booked_closed_and_is_seen_open_again_is_open() {
        let events = [
            event("east-3-2027a", EventKind::OpeningTonight, 40.0),
            event("east-3-2027a", EventKind::Closed, 40.5),
            event("east-3-2027a", EventKind::FullOpen, 40.7),
        ];
        let said = vec![sign(PlainSign::Closed, 40.5), sign(PlainSign::FullOpen, 40.7)];
        assert!(blooms(&events, said).remove(0).life.is_open(time(41.0)));
    }

    #[test]
    fn what_followed_from_an_opening_that_was_none_does_not_hold() {
        let told = [
            event("east-3-2027a", EventKind::OpeningTonight, 0.0),
            event("east-3-2027a", EventKind::FullOpen, 0.3),
            event("east-3-2027a", EventKind::ReceptiveEnding, 0.6),
            event("east-3-2027a", EventKind::PollenShed, 0.9),
            event("east-3-2027a", EventKind::Closed, 2.5),
            event("east-3-2027a", EventKind::StoodDown, 2.6),
            event("east-3-2027a", EventKind::OpeningTonight, 3.0),
            event("east-3-2027a", EventKind::PollenShed, 3.9),
        ];
        let holding = |events: &[LifeEvent]| {
            let life = blooms(events, Vec::new()).remove(0).life;
            let held = events.iter().filter(|event| life.holds(event.kind, event.time));
            held.map(|event| event.kind.name()).collect::<Vec<_>>()
        };
        assert_eq!(holding(&told[..5]).len(), 5, "as long as it stands");
        assert_eq!(holding(&told[..6]), ["opening-tonight", "stood-down"]);
        assert_eq!(holding(&told), ["opening-tonight", "stood-down", "opening-tonight", "pollen-shed"]);
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
