//! Sensors that fall silent, freeze, or come back.

use chrono::TimeDelta;
use serde::{Deserialize, Serialize};

use crate::quantity::Quantity;
use crate::quantity::by::ByVariable;
use crate::ranging::Held;
use crate::time::Time;

/// A value repeated for this long, through the noise of a real house, comes from a sensor that no longer measures, h.
/// Judgement.
const STUCK_AFTER_H: f64 = 12.0;
/// How often it must have been repeated. Judgement.
const STUCK_READINGS: u32 = 60;
/// Back for this long, without a silence in between, before it is said: a loose contact is no recovery. Judgement.
const BACK_AFTER: TimeDelta = TimeDelta::minutes(5);
/// A sensor that speaks seldom is silent after so many of its own spacings, if that is more than the limit for all.
const SILENT_SPACINGS: f64 = 2.2;
/// No sensor is waited for as one that speaks more seldom than this, s.
const SPACING_AT_MOST_S: f64 = 3600.0;
/// A spacing counts as no more than this many of those before: a span without readings is no spacing.
const MOST_LONGER: f64 = 2.0;

/// In air that has been as damp as mist a ranger is silent only after this long: mist and the drops that it leaves on the face take its
/// echoes for up to an hour, in a house that is misted several times a day (common practice).
const MIST_BLINDS: TimeDelta = TimeDelta::minutes(75);
/// Air is as damp as mist from this relative humidity, %: 95 (mist by the International Cloud Atlas of the WMO, from memory), less the
/// 3 % by which a hygrometer may read low (common practice).
const MIST_FROM_PCT: f64 = 92.0;
/// Or from so much above what it was over the last hour, %: nozzles that run for a minute wet a ranger's face and not the whole house
/// (judgement).
const MIST_RISES_PCT: f64 = 3.0;
/// What humidity was is taken with this time constant, h.
const HUMIDITY_OVER_H: f64 = 1.0;

/// The newest reading of each quantity and what is wrong with any.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct SensorWatch {
    newest: ByVariable<Option<Held>>,
    /// Usual time between the readings of each, s; zero before the second.
    spacing_s: ByVariable<f64>,
    /// When the bench was first heard of: a ranger that is hung but has never reported counts from here.
    began: Option<Time>,
    /// What humidity was over the last hour, %; zero before the first reading.
    usual_humidity_pct: f64,
    /// When the air was last as damp as mist.
    misty: Option<Time>,
    groups: Vec<SensorFault>,
    next_look: Option<Time>,
}

/// Quantities that went the same way at the same time: one cause, one event.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SensorFault {
    /// Which.
    pub quantities: Vec<Quantity>,
    /// They repeat one value; otherwise they are silent.
    pub stuck: bool,
    /// The newest reading of the first, or the start of its frozen run.
    pub since: Time,
    /// Its value.
    pub value: Option<f64>,
    /// The id of the event that told it.
    pub told: String,
    /// It was told as an alarm.
    pub alarm: bool,
    /// Those that are well again, each with since when and when that was last seen.
    back: Vec<(Quantity, Time, Time)>,
}

/// The part of a fault that is over.
#[derive(Debug, Clone, PartialEq)]
pub struct Recovery {
    /// The fault, with the quantities that are back.
    pub fault: SensorFault,
    /// What told the fault ends with it: an alarm is for the rangers.
    pub ends: bool,
}

impl SensorFault {
    /// Takes out what has been well for long enough to say so, as seen at a reading. What came back a little later goes with it.
    fn recover(
        &mut self,
        is_well: impl Fn(Quantity) -> bool,
        now: Time,
        silent_after: TimeDelta,
        side_needed: bool,
    ) -> Option<Recovery> {
        self.back.retain(|(quantity, _, seen)| is_well(*quantity) && now - *seen < silent_after);
        for quantity in self.quantities.iter().copied().filter(|quantity| is_well(*quantity)) {
            match self.back.iter_mut().find(|(back, ..)| *back == quantity) {
                Some((_, _, seen)) => *seen = now,
                None => self.back.push((quantity, now, now)),
            }
        }
        if !self.back.iter().any(|(_, since, _)| now - *since >= BACK_AFTER) {
            return None;
        }
        let back = std::mem::take(&mut self.back);
        let (over, back): (Vec<_>, Vec<_>) =
            back.into_iter().partition(|(_, since, _)| now - *since >= BACK_AFTER / 2);
        let is_over = |quantity: &Quantity| over.iter().any(|(over, ..)| over == quantity);
        let (quantities, still_out) = self.quantities.drain(..).partition(is_over);
        self.quantities = still_out;
        self.back = back;
        let fault = Self { quantities, back: Vec::new(), ..self.clone() };
        // the bud is watched again: what is still out is told anew where that is lost, too
        let back = |quantity| fault.quantities.contains(&quantity);
        let side_out = side_needed && self.quantities.contains(&Quantity::RimRange);
        let watched = back(Quantity::RimRange) || (back(Quantity::TipRange) && !side_out);
        let ranger_out = self.quantities.iter().any(|quantity| quantity.is_range());
        self.alarm &= !watched;
        Some(Recovery { ends: watched || !ranger_out, fault })
    }
}

impl SensorWatch {
    /// The newest reading of a quantity.
    pub fn newest(&self, quantity: Quantity) -> Option<&Held> {
        self.newest[quantity].as_ref()
    }

    /// Takes a sensor's reading; `false` if it is no newer than the newest of its quantity.
    pub fn take(&mut self, quantity: Quantity, time: Time, value: f64, silent_after: TimeDelta) -> bool {
        let place = &mut self.newest[quantity];
        if place.is_some_and(|held| held.time >= time) {
            return false;
        }
        let step_h = place.as_ref().map(|held| time.hours_since(held.time));
        if let Some(held) = place {
            let step_s = (time - held.time).as_seconds_f64();
            let usual_s = &mut self.spacing_s[quantity];
            *usual_s = if *usual_s > 0.0 {
                *usual_s + (step_s.min(MOST_LONGER * *usual_s) - *usual_s) / 8.0
            } else {
                step_s
            };
        }
        Held::take_into(place, value, time);
        if quantity == Quantity::Humidity {
            self.note_humidity(time, value, step_h);
        }
        self.began.get_or_insert(time);
        self.next_look.get_or_insert(time + silent_after);
        true
    }

    fn note_humidity(&mut self, time: Time, humidity_pct: f64, step_h: Option<f64>) {
        let kept = step_h.map_or(0.0, |step_h| (-step_h / HUMIDITY_OVER_H).exp());
        let risen_pct = if kept > 0.0 { humidity_pct - self.usual_humidity_pct } else { 0.0 };
        if humidity_pct >= MIST_FROM_PCT || risen_pct >= MIST_RISES_PCT {
            self.misty = Some(time);
        }
        self.usual_humidity_pct = kept * self.usual_humidity_pct + (1.0 - kept) * humidity_pct;
    }

    /// Takes note that the bench is watched from this instant on.
    pub fn begin(&mut self, time: Time, silent_after: TimeDelta) {
        self.began.get_or_insert(time);
        self.next_look.get_or_insert(time + silent_after);
    }

    /// After how long a quantity counts as silent: the limit for all, or longer for one that speaks seldom.
    fn silent_after(&self, quantity: Quantity, after: TimeDelta) -> TimeDelta {
        let spacing_s = self.spacing_s[quantity];
        // after its first reading nobody knows: it may be one that speaks just as seldom as the limit
        let spacing_s = if spacing_s > 0.0 || self.newest(quantity).is_none() {
            spacing_s
        } else {
            after.as_seconds_f64()
        };
        let own_s = SILENT_SPACINGS * spacing_s.min(SPACING_AT_MOST_S);
        after.max(TimeDelta::milliseconds((own_s * 1e3) as i64))
    }

    /// When to look next.
    pub const fn next_look(&self) -> Option<Time> {
        self.next_look
    }

    /// Whether a quantity is silent or stuck.
    pub fn is_out(&self, quantity: Quantity) -> bool {
        self.groups.iter().any(|group| group.quantities.contains(&quantity))
    }

    /// The time since which a quantity has been silent at `now`, if it is due and not yet told.
    fn silent_since(&self, quantity: Quantity, expected: bool, now: Time, after: TimeDelta) -> Option<Time> {
        let since = match self.newest(quantity) {
            Some(held) if self.may_be_misted(quantity, held.time, now, after) => return None,
            Some(held) => held.time,
            None if expected => self.began?,
            None => return None,
        };
        (now - since >= self.silent_after(quantity, after) && !self.is_out(quantity)).then_some(since)
    }

    /// Whether a ranger hears nothing perhaps only for mist: the hygrometer of its bench has spoken just now, and told of air as damp as mist
    /// since the last echo, or shortly before it.
    fn may_be_misted(&self, quantity: Quantity, newest: Time, now: Time, after: TimeDelta) -> bool {
        quantity.is_range()
            && now - newest < MIST_BLINDS.max(after)
            && self.newest(Quantity::Humidity).is_some_and(|held| now - held.time < after / 3)
            && self.misty.is_some_and(|misty| misty >= newest - after)
    }

    /// Looks for quantities that have newly fallen silent and says when to look next.
    pub fn look_for_silence(
        &mut self,
        now: Time,
        after: TimeDelta,
        expected: impl Fn(Quantity) -> bool,
    ) -> Option<SensorFault> {
        let watched = || Quantity::ALL.into_iter().filter(|quantity| quantity.is_missed());
        let silent: Vec<(Quantity, Time)> = watched()
            .filter_map(|q| self.silent_since(q, expected(q), now, after).map(|since| (q, since)))
            .collect();
        let next = watched()
            .filter(|quantity| !silent.iter().any(|(q, _)| q == quantity) && !self.is_out(*quantity))
            .filter_map(|quantity| {
                let due = self.newest(quantity)?.time + self.silent_after(quantity, after);
                // a ranger in the mist, whose board may fall silent at any time
                Some(if due > now { due } else { now + after / 3 })
            })
            .min();
        // with every quantity out there is nothing to wait for but a reading; look again once one may have come back
        self.next_look = Some(next.unwrap_or(now + after).max(now + TimeDelta::seconds(1)));
        let (first, since) = *silent.iter().min_by_key(|(_, since)| *since)?;
        Some(SensorFault {
            quantities: silent.iter().map(|(quantity, _)| *quantity).collect(),
            stuck: false,
            since,
            value: self.newest(first).map(|held| held.value),
            told: String::new(),
            alarm: false,
            back: Vec::new(),
        })
    }

    /// Looks for a quantity that has newly frozen.
    pub fn look_for_stuck(&self, watched: impl Fn(Quantity) -> bool) -> Option<SensorFault> {
        let frozen = |quantity: &Quantity| {
            self.newest(*quantity).is_some_and(|held| {
                held.run >= STUCK_READINGS && held.time.hours_since(held.since) >= STUCK_AFTER_H
            })
        };
        Quantity::ALL
            .into_iter()
            .filter(|quantity| watched(*quantity) && frozen(quantity))
            .find_map(|quantity| self.frozen(quantity))
    }

    /// The fault of a quantity that repeats its newest value; `None` if a fault of it stands already.
    pub fn frozen(&self, quantity: Quantity) -> Option<SensorFault> {
        let held = self.newest(quantity).filter(|_| !self.is_out(quantity))?;
        Some(SensorFault {
            quantities: vec![quantity],
            stuck: true,
            since: held.since,
            value: Some(held.value),
            told: String::new(),
            alarm: false,
            back: Vec::new(),
        })
    }

    /// Keeps a fault that was told.
    pub fn told(&mut self, fault: SensorFault) {
        self.groups.push(fault);
    }

    /// A bud is to be watched: silences of rangers told as warnings, at an empty pot or beside fruit, are told again. Where one stands as an
    /// alarm, from an earlier bloom, it stands on until what it tells of is back, and says it all.
    pub fn tell_anew(&mut self, now: Time) {
        if !self.groups.iter().any(|group| group.alarm && !group.stuck) {
            let of_a_ranger =
                |group: &SensorFault| group.quantities.iter().any(|quantity| quantity.is_range());
            self.groups.retain(|group| group.stuck || !of_a_ranger(group));
        }
        if self.began.is_some() {
            self.next_look = Some(now);
        }
    }

    /// What is over: quantities of a fault that have reported and changed again for a while. An alarm ends with the first ranger
    /// that is back, and where the side ranger alone sees what matters, with that one.
    pub fn over(&mut self, now: Time, after: TimeDelta, side_needed: bool) -> Vec<Recovery> {
        let mut groups = std::mem::take(&mut self.groups);
        let mut over = Vec::new();
        for group in &mut groups {
            let (stuck, since) = (group.stuck, group.since);
            let is_well = |quantity: Quantity| {
                self.newest(quantity).is_some_and(|held| {
                    now - held.time < self.silent_after(quantity, after) && (!stuck || held.since > since)
                })
            };
            let patience = group
                .quantities
                .iter()
                .map(|quantity| self.silent_after(*quantity, after))
                .max()
                .unwrap_or(after);
            over.extend(group.recover(is_well, now, patience, side_needed));
        }
        groups.retain(|group| !group.quantities.is_empty());
        self.groups = groups;
        over
    }

    /// The faults that stand.
    pub fn standing(&self) -> &[SensorFault] {
        &self.groups
    }

    /// The newest instant at which any sensor reported.
    pub fn newest_of_all(&self) -> Option<Time> {
        self.newest.iter().filter_map(|(_, held)| *held).map(|held| held.time).max()
    }

    /// Whether any fault stands.
    pub fn any_out(&self) -> bool {
        !self.groups.is_empty()
    }
}
