//! What each morning in bud said, with what came, and what plain rules would have said.

use bloom_model::event::{Details, Event, EventKind};
use bloom_model::forecast::{HeightAtOpening, OpeningDates};
use bloom_model::profile::Profile;
use bloom_model::reading::Observed;
use bloom_model::sign::{PlainSign, Sign};
use bloom_model::time::Time;
use chrono::NaiveDate;

use crate::season::Season;

/// What one morning said, and what came.
#[derive(Debug, Clone, PartialEq)]
pub struct Morning {
    /// Which plant.
    pub plant: u64,
    /// Whole days from this morning's date to the date of opening; `None` if it never opens.
    pub days_left: Option<i64>,
    /// The window, as days from this date, where there was one.
    pub window: Option<Ahead>,
    /// The chance given to this day, given that it opens.
    pub tonight: f64,
    /// The chance given that it never opens.
    pub never: f64,
    /// It has stopped growing for good, unopened.
    pub stopped: bool,
    /// How tall it was said to stand when it opens, against how tall it stood.
    pub height: Option<Stands>,
    /// What the plain rules said, as days from this date.
    pub rules: [Option<i64>; RULES.len()],
}

/// A height at the opening, as it was said and as it came.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stands {
    /// As it was said.
    pub said: HeightAtOpening,
    /// As it came, m.
    pub stood_m: f64,
}

impl Stands {
    /// Whether it stood within what was said.
    pub fn held(&self) -> bool {
        (self.said.low..=self.said.high).contains(&self.stood_m)
    }

    /// How far the middle was off, m.
    pub fn off_m(&self) -> f64 {
        (self.said.likely - self.stood_m).abs()
    }

    /// How wide what was said is, m.
    pub fn width_m(&self) -> f64 {
        self.said.high - self.said.low
    }

    /// What people are told of many: how often it held, how far off and how wide it was.
    pub fn summary<'a>(all: impl Iterator<Item = &'a Self> + Clone) -> String {
        format!(
            "held {:.0} %, {:.2} m off, {:.2} m wide",
            100.0 * mean(all.clone().map(|one| f64::from(u8::from(one.held())))),
            mean(all.clone().map(Self::off_m)),
            mean(all.map(Self::width_m))
        )
    }
}

impl Morning {
    /// The chance that it opens on this day, whatever becomes of the bud.
    pub fn whatever(&self) -> f64 {
        self.tonight * (1.0 - self.never)
    }
}

/// A window as days ahead.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ahead {
    /// Its first day.
    pub earliest: i64,
    /// The middle.
    pub likely: i64,
    /// Its last day.
    pub latest: i64,
}

impl Ahead {
    /// The window of a bulletin, counted from the date of its morning.
    pub fn of(opens: &OpeningDates, today: NaiveDate) -> Self {
        let days = |date: NaiveDate| (date - today).num_days();
        Self { earliest: days(opens.earliest), likely: days(opens.likely), latest: days(opens.latest) }
    }

    /// Whether a day lies in it.
    pub const fn holds(&self, day: i64) -> bool {
        self.earliest <= day && day <= self.latest
    }

    /// Width plus ten times the miss, days (interval score at 80 %; Gneiting & Raftery 2007, Journal of the American Statistical
    /// Association 102:359-378, equation 43).
    pub fn score(&self, day: i64) -> f64 {
        let miss = (self.earliest - day).max(day - self.latest).max(0);
        (self.latest - self.earliest + 10 * miss) as f64
    }
}

/// The plain rules beside which the forecast is put: growers' sayings, and the middle of the published days from emergence.
pub const RULES: [&str; 3] = ["13 d from spadix", "7 d from slowing", "49 d from emergence"];

/// Gathers the mornings of a season while it runs.
#[derive(Debug)]
pub struct Diary<'a> {
    season: &'a Season,
    emergence_d: f64,
    spadix: Option<Time>,
    slowed: Option<Time>,
    /// The mornings so far.
    pub mornings: Vec<Morning>,
}

impl<'a> Diary<'a> {
    /// An empty one.
    pub fn new(season: &'a Season, profile: &Profile) -> Self {
        let spadix = season.bookings().iter().find_map(|booked| {
            (booked.observed == Observed::Sign(Sign::Plain(PlainSign::SpadixVisible))).then_some(booked.time)
        });
        let emergence_d = profile.emergence_to_opening_likely_d;
        Self { season, emergence_d, spadix, slowed: None, mornings: Vec::new() }
    }

    /// Takes note of an event.
    pub fn note(&mut self, event: &Event) {
        let truth = self.season.truth();
        match &event.details {
            Details::Slowing(_) => self.slowed = Some(event.time),
            Details::Morning(morning) if event.kind == EventKind::Morning => {
                if truth.crack.is_some_and(|crack| event.time >= crack) {
                    return;
                }
                let zone = self.season.zone();
                let today = event.time.local_date(zone);
                let days_left = truth.crack.map(|crack| (crack.local_date(zone) - today).num_days());
                let rule = |since: Option<Time>, days: f64| {
                    since
                        .filter(|since| *since <= event.time)
                        .map(|since| (days - event.time.days_since(since)).round().max(0.0) as i64)
                };
                self.mornings.push(Morning {
                    plant: truth.seed,
                    days_left,
                    window: morning.outlook.map(|outlook| Ahead::of(&outlook.opens, today)),
                    tonight: morning.outlook.map_or(0.0, |outlook| outlook.probability_tonight),
                    never: morning.outlook.map_or(0.0, |outlook| outlook.probability_never),
                    stopped: truth.growth_ended.is_some_and(|ended| ended <= event.time),
                    height: truth
                        .crack
                        .and(morning.outlook)
                        .and_then(|outlook| outlook.height_at_opening_m)
                        .map(|said| Stands { said, stood_m: truth.final_height_m }),
                    rules: [
                        rule(self.spadix, 13.0),
                        rule(self.slowed, 7.0),
                        rule(Some(truth.emerged), self.emergence_d),
                    ],
                });
            }
            _ => {}
        }
    }
}

/// The mean; not a number of nothing.
pub(super) fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0_u32), |(sum, count), value| (sum + value, count + 1));
    if count == 0 { f64::NAN } else { sum / f64::from(count) }
}
