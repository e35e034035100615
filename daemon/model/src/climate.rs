//! The climate of the bench against its limits: what is told, and what is held back.
//!
//! One cause is one message. Of the air temperature governs: while it is outside, moisture follows it and is not told beside it. A bench
//! that is too hot and one that is too dry have one noon, and one remedy. Other quantities are told each by itself. A warning is told
//! once a day for each cause; what comes back on the same day is held, and told in the morning if it still stands. An alarm is never held.

use std::time::Duration;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::condition::{Condition, Delays};
use crate::quantity::by::ByVariable;
use crate::quantity::case::{Cause, ClimateCase};
use crate::quantity::{Derived, Variable};
use crate::spec::{Band, Limits};
use crate::time::Time;

/// Outside a limit for this long before it is said: a door, a hose, a passing cloud are over sooner. Inside again for as long before it is
/// over. Judgement.
const DELAYS: Delays = Delays { begin: Duration::from_mins(10), end: Duration::from_mins(10) };
/// How far inside a limit the value must be to count as inside again, as a share of the band: it keeps a value at the limit quiet.
/// Judgement.
const DEADBAND: f64 = 0.02;

/// A quantity beyond a limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Beyond {
    /// Of what.
    pub of: Variable,
    /// Below the lower limit; otherwise above the upper one.
    pub below: bool,
    /// The value now.
    pub value: f64,
    /// The limit that was crossed.
    pub limit: f64,
    /// Since when it has been (or had been) outside.
    pub since: Time,
}

impl Beyond {
    /// What is wrong; `None` only of what has no limits.
    pub fn case(&self) -> Option<ClimateCase> {
        let limits = self.of.limits()?;
        if self.below { limits.below } else { Some(limits.above) }
    }

    fn is_by(&self, cause: Cause) -> bool {
        self.case().is_some_and(|case| case.cause() == cause)
    }

    fn is_of_one_cause_with(&self, other: &Self) -> bool {
        self.case().map(ClimateCase::cause) == other.case().map(ClimateCase::cause)
    }

    /// Whether this goes before another when one message tells of both.
    fn governs(&self, other: &Self) -> bool {
        self.of == self.of.governed_by() && other.of != self.of
    }

    fn is_heat(&self) -> bool {
        self.case() == Some(ClimateCase::TooHot)
    }
}

/// What is to be told.
#[derive(Debug, Clone, PartialEq)]
pub enum ClimateNews {
    /// The air is outside its limits.
    Outside {
        /// The quantity that governs.
        beyond: Beyond,
        /// Beyond the `alarm_…` limits.
        alarm: bool,
        /// The id of an alarm whose place this one takes.
        ends: Option<String>,
    },
    /// What was told is over.
    Over {
        /// What had been told, with its value now.
        beyond: Beyond,
        /// What is still outside, short of an alarm.
        still: Option<Beyond>,
        /// The id of the alarm that ends.
        ends: Option<String>,
    },
}

/// One pair of limits.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
struct LimitWatch {
    outside: Condition<Time>,
    below: bool,
    limit: f64,
}

/// The alarm that stands.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct StandingAlarm {
    /// The id of the event that told it; empty for the moment in which it is told.
    id: String,
    beyond: Beyond,
}

/// The watches of a bench, each quantity with a warning and an alarm, and what was told of them.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct ClimateWatch {
    watches: ByVariable<VariableWatch>,
    /// What was told of a quantity that governs others or none, and of those that it governs.
    told: ByVariable<Told>,
    /// When what changed is looked at: all that changed within a minute is one message.
    due: Option<Time>,
}

/// A quantity against its limits.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
struct VariableWatch {
    /// Its newest value.
    value: Option<f64>,
    warning: LimitWatch,
    alarm: LimitWatch,
}

/// What was told of quantities that are told together.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
struct Told {
    /// The local date on which each cause was last told.
    told_on: [Option<NaiveDate>; Cause::ALL.len()],
    /// Whether heat itself was told on that date, and not only dryness.
    told_hot: bool,
    /// The warnings that stand, by their causes.
    standing: [Option<Beyond>; Cause::ALL.len()],
    alarm: Option<StandingAlarm>,
}

/// The limits beyond which it is a warning, or those beyond which it is an alarm.
type Which = fn(&VariableWatch) -> &LimitWatch;

impl ClimateWatch {
    /// Takes the newest air.
    pub fn take_air(&mut self, temperature_c: f64, humidity_pct: Option<f64>, now: Time, limits: &Limits) {
        self.take(Variable::TEMPERATURE, temperature_c, now, limits);
        let Some(humidity_pct) = humidity_pct else { return };
        self.take(Variable::HUMIDITY, humidity_pct, now, limits);
        for derived in Derived::ALL {
            if let Some(value) = derived.of_air(temperature_c, humidity_pct) {
                self.take(derived.into(), value, now, limits);
            }
        }
    }

    /// Takes the newest value of a quantity that is not of the air.
    pub fn take(&mut self, of: Variable, value: f64, now: Time, limits: &Limits) {
        if of.limits().is_none() {
            return;
        }
        let (watch, bands) = (&mut self.watches[of], limits[of]);
        watch.value = Some(value);
        let warning_changed = watch.warning.take(value, bands.warning, now);
        if watch.alarm.take(value, bands.alarm, now) || warning_changed {
            let soon = now.next_minute();
            self.due = Some(self.due.map_or(soon, |due| due.min(soon)));
        }
    }

    /// When what changed is to be looked at.
    pub const fn due(&self) -> Option<Time> {
        self.due
    }

    /// Looks at what has changed; gives what is to be told. What is held is looked at again at the next `morning`.
    pub fn look(&mut self, today: NaiveDate, morning: Time, limits: &Limits) -> Vec<ClimateNews> {
        self.due = None;
        let mut news = Vec::new();
        for (governor, _) in Variable::limited().filter(|(variable, _)| variable.governed_by() == *variable) {
            let mut told = std::mem::take(&mut self.told[governor]);
            let together = Together { governor, watches: &self.watches, limits, today };
            if together.look(&mut told, &mut news) {
                self.due = Some(morning);
            }
            self.told[governor] = told;
        }
        // what is over comes last
        news.sort_by_key(|news| matches!(news, ClimateNews::Over { .. }));
        news
    }

    /// Keeps the id of an alarm that was told of a quantity.
    pub fn told_alarm(&mut self, of: Variable, id: &str) {
        if let Some(alarm) = &mut self.told[of.governed_by()].alarm {
            id.clone_into(&mut alarm.id);
        }
    }
}

/// Quantities that are told together, at a local date.
struct Together<'a> {
    /// The one that governs.
    governor: Variable,
    watches: &'a ByVariable<VariableWatch>,
    limits: &'a Limits,
    today: NaiveDate,
}

impl Together<'_> {
    /// Gives whether something is held until the morning.
    fn look(&self, told: &mut Told, news: &mut Vec<ClimateNews>) -> bool {
        let mut held = false;
        let ended = self.look_at_alarms(told, news);
        let mut over: Option<Beyond> = None;
        for cause in Cause::ALL {
            let place = cause as usize;
            match (self.outside(|watch| &watch.warning, cause), told.standing[place]) {
                (None, Some(before)) => {
                    told.standing[place] = None;
                    over = over.or(Some(self.now_of(before)));
                }
                (Some(beyond), None) => {
                    // an alarm has said it, graver
                    let said = told.alarm.as_ref().is_some_and(|alarm| alarm.beyond.is_by(cause));
                    if said {
                        told.standing[place] = Some(beyond);
                    } else if self.is_held(told, &beyond, cause) {
                        held = true;
                    } else {
                        told.standing[place] = Some(beyond);
                        self.note_told(told, &beyond, cause);
                        news.push(ClimateNews::Outside { beyond, alarm: false, ends: None });
                    }
                }
                (Some(beyond), Some(_)) if self.is_unsaid_heat(told, &beyond) => {
                    told.standing[place] = Some(beyond);
                    self.note_told(told, &beyond, cause);
                    news.push(ClimateNews::Outside { beyond, alarm: false, ends: None });
                }
                _ => {}
            }
        }
        match (ended, over) {
            (Some(alarm), _) => {
                let warning = |cause| self.outside(|watch| &watch.warning, cause);
                let still = alarm.beyond.case().and_then(|case| warning(case.cause()));
                let beyond = self.now_of(alarm.beyond);
                news.push(ClimateNews::Over { beyond, still, ends: Some(alarm.id) });
            }
            (None, Some(beyond)) => news.push(ClimateNews::Over { beyond, still: None, ends: None }),
            (None, None) => {}
        }
        held
    }

    /// Raises the alarm if there is one to be raised; gives the one that ended.
    fn look_at_alarms(&self, told: &mut Told, news: &mut Vec<ClimateNews>) -> Option<StandingAlarm> {
        let outside = Cause::ALL.into_iter().filter_map(|cause| {
            let beyond = self.outside(|watch| &watch.alarm, cause)?;
            Some((cause, beyond))
        });
        let gravest = outside.reduce(|first, other| if other.1.governs(&first.1) { other } else { first });
        let Some((cause, beyond)) = gravest else { return told.alarm.take() };
        let is_said = told.alarm.as_ref().is_some_and(|alarm| {
            alarm.beyond.is_of_one_cause_with(&beyond) && !beyond.governs(&alarm.beyond)
        });
        if !is_said {
            let ends = told.alarm.replace(StandingAlarm { id: String::new(), beyond }).map(|alarm| alarm.id);
            self.note_told(told, &beyond, cause);
            news.push(ClimateNews::Outside { beyond, alarm: true, ends });
        }
        None
    }

    /// Whether a warning waits: it was told today, or the quantity that governs it tells it.
    fn is_held(&self, told: &Told, beyond: &Beyond, cause: Cause) -> bool {
        let governor = &self.watches[self.governor];
        let follows = beyond.of != self.governor
            && (governor.warning.outside.stands() || governor.alarm.outside.stands());
        let told_today = told.told_on[cause as usize] == Some(self.today);
        follows || (told_today && !self.is_unsaid_heat(told, beyond))
    }

    /// The heat of a noon that was told as dry waits only where an alarm stands behind it.
    fn is_unsaid_heat(&self, told: &Told, beyond: &Beyond) -> bool {
        beyond.is_heat() && !told.told_hot && self.limits[beyond.of].alarm.is_none()
    }

    fn note_told(&self, told: &mut Told, beyond: &Beyond, cause: Cause) {
        if cause == Cause::High {
            let told_today = told.told_on[cause as usize] == Some(self.today);
            told.told_hot = beyond.is_heat() || (told_today && told.told_hot);
        }
        told.told_on[cause as usize] = Some(self.today);
    }

    /// The quantity that governs, of those that are outside by that cause.
    fn outside(&self, which: Which, cause: Cause) -> Option<Beyond> {
        let together = Variable::limited().filter(|(of, _)| of.governed_by() == self.governor);
        let mut beyond = together.filter_map(|(of, _)| {
            let watch = &self.watches[of];
            let LimitWatch { outside, below, limit } = *which(watch);
            Some(Beyond { of, below, value: watch.value?, limit, since: outside.since()? })
        });
        beyond.find(|beyond| beyond.is_by(cause))
    }

    /// The same with the value as it is now.
    fn now_of(&self, beyond: Beyond) -> Beyond {
        Beyond { value: self.watches[beyond.of].value.unwrap_or(beyond.value), ..beyond }
    }
}

impl LimitWatch {
    /// Takes a value; says whether it has now been outside, or inside again, for long enough.
    fn take(&mut self, value: f64, band: Option<Band>, now: Time) -> bool {
        // a limit that is configured no more is kept
        let Some(band) = band else { return std::mem::take(self).outside.stands() };
        let is_out = self.outside.stands();
        let at_the_other_side = if self.below { value > band.to } else { value < band.from };
        if is_out && at_the_other_side {
            *self = Self { outside: Condition::coming(now), ..Self::default() };
            return true;
        }
        let margin = if is_out { DEADBAND * (band.to - band.from) } else { 0.0 };
        let inside = Band { from: band.from + margin, to: band.to - margin }.holds(value);
        if !is_out && !inside {
            self.below = value < band.from;
            self.limit = if self.below { band.from } else { band.to };
        }
        self.outside.look(!inside, now, DELAYS).is_some()
    }
}
