//! What speaks against an opening while its alarm stands, or hides it: it is said once, and the alarm goes on.
//!
//! A limb that tilts out of the beam, insects on the ranger's face, people: an echo is lost *because* it opens as often as because it
//! does not. So nothing but a person, or an edge heard where it is closed for two hours and as often as before, ends an alarm.

use super::Bench;
use crate::bloom::Opening;
use crate::event::{Details, Doubt, Event, EventKind, ToldBy};
use crate::opening::{Evidence, may_close};
use crate::quantity::Quantity;
use crate::sign::PlainSign;
use crate::stage::{Stage, Turn};
use crate::time::Time;

/// Within this of where it stood closed the edge is closed, m (judgement: twice what the air does to a compensated range).
const CLOSED_WITHIN_M: f64 = 0.01;
/// An edge heard there for so long was not open, h (judgement).
const CLOSED_FOR_H: f64 = 2.0;
/// Quarter hours of them that must hold a reading.
const CLOSED_QUARTERS: usize = 7;
/// It must have been back for so long before it is worth a word, h.
const BACK_FOR_H: f64 = 1.0;
/// It must have been back in so many quarter hours before it is worth a word.
const BACK_QUARTERS: usize = 3;
/// It must be heard with this share of the echoes that it had closed: what is heard in place of a limb that tilts away gives fewer.
const HEARD_SHARE: f64 = 0.85;
/// With less than this share over an hour the ranger no longer shows it.
const LOST_SHARE: f64 = 1.0 / 3.0;
/// An edge that sets out anew so long after the crack is another opening, h (judgement: one that the far side leads is hours late).
const ANOTHER_AFTER_H: f64 = 12.0;
/// How it was heard before is taken from so long before the crack, h.
const HEARD_BEFORE_H: f64 = 24.0;
/// Where it stood closed is taken from so long before the crack, h.
const CLOSED_BEFORE_H: f64 = 12.0;
/// Quarter hours that tell where it stood.
const LEAST_QUARTERS: usize = 4;
/// A sign that it is open counts if it was booked no longer than this before the crack, h: cracks are estimated.
const SEEN_OPEN_BEFORE_H: f64 = 12.0;

impl Bench {
    pub(super) fn opening(&self) -> Option<&Opening> {
        self.state.bloom.as_ref()?.opening.as_ref()
    }

    /// Whether a person booked that an opening that began then was one.
    pub(super) fn seen_open(&self, began: Time) -> bool {
        self.state.signs.iter().any(|(time, sign)| {
            *time >= began.plus_hours(-SEEN_OPEN_BEFORE_H)
                && matches!(sign, PlainSign::Opened | PlainSign::FullOpen | PlainSign::Pollinated)
        })
    }

    /// Where the edge stood closed before it began to open then, m, and how many echoes a quarter hour brought; `None` where too
    /// little was heard.
    pub(super) fn closed_before(&self, began: Time) -> Option<(f64, f64)> {
        let rings = self.state.rim.rings();
        let mut levels: Vec<f64> = rings
            .quarters_between(began.plus_hours(-CLOSED_BEFORE_H), began)
            .map(|quarter| quarter.position_m)
            .collect();
        if levels.len() < LEAST_QUARTERS {
            return None;
        }
        levels.sort_unstable_by(f64::total_cmp);
        let level = levels.get(levels.len() / 2).copied()?;
        let echoes = self.state.rim.heard().usual_between(began.plus_hours(-HEARD_BEFORE_H), began)?;
        Some((level, echoes))
    }

    /// The share of its former echoes with which the edge was heard over so many hours; `None` where that is not known.
    pub(super) fn heard_share(&self, now: Time, hours: f64) -> Option<f64> {
        let (_, before) = self.opening()?.closed?;
        let (echoes, quarters) = self.state.rim.heard().between(now.plus_hours(-hours), now);
        (quarters > 0).then(|| f64::from(echoes) / (before * f64::from(quarters)))
    }

    /// Whether the edge is heard as often as before the opening.
    pub(super) fn heard_as_before(&self, now: Time, hours: f64) -> bool {
        self.heard_share(now, hours).is_some_and(|share| share >= HEARD_SHARE)
    }

    /// Whether the edge has been where it is closed over the last hours, since the alarm.
    fn at_closed_for(&self, now: Time, hours: f64, least_quarters: usize) -> bool {
        let Some(opening) = self.opening() else { return false };
        let Some((closed_m, _)) = opening.closed else { return false };
        let from = now.plus_hours(-hours).max(opening.raised);
        let quarters = self.state.rim.rings().quarters_between(from, now);
        quarters.clone().count() >= least_quarters
            && quarters.clone().all(|quarter| (quarter.position_m - closed_m).abs() <= CLOSED_WITHIN_M)
    }

    /// Whether that may still be a gap, or something before the edge, that went away: a spathe that has opened closes after many
    /// hours, and not all the way.
    fn may_be_none(&self, now: Time) -> bool {
        let Some(opening) = self.opening() else { return false };
        let advance_m = opening.highest_m - opening.base_m;
        !self.state.spadix.is_warm()
            && !self.seen_open(opening.evidence.began)
            && (!self.may_have_closed(now) || may_close(advance_m, &self.spec.profile))
    }

    /// Whether the edge has been heard closed for two hours with its former share of echoes.
    pub(super) fn closed_again(&self, now: Time) -> bool {
        self.may_be_none(now)
            && self.at_closed_for(now, CLOSED_FOR_H, CLOSED_QUARTERS)
            && self.heard_as_before(now, CLOSED_FOR_H)
    }

    /// Looks, on the hour, whether the ranger still shows the edge of an opening, and where.
    pub(super) fn look_whether_it_is_shown(&mut self, now: Time, events: &mut Vec<Event>) {
        if self.may_be_none(now) && self.at_closed_for(now, BACK_FOR_H, BACK_QUARTERS) {
            self.doubt(now, Doubt::Back, events);
        }
        let Some(opening) = self.opening().filter(|_| self.stage() == Some(Stage::Opening)) else { return };
        // a ranger that says nothing at all is told as silent
        let speaks = self
            .state
            .sensors
            .newest(Quantity::RimRange)
            .is_some_and(|newest| now - newest.time < self.site.silent_after);
        let told_for_long = now.hours_since(opening.raised) >= 1.0;
        if speaks && told_for_long && self.heard_share(now, 1.0).is_some_and(|share| share < LOST_SHARE) {
            self.doubt(now, Doubt::EdgeLost, events);
        }
    }

    /// Says once what speaks against the opening, or hides it; the alarm stands. Where a person saw it open nothing is said.
    pub(super) fn doubt(&mut self, now: Time, doubt: Doubt, events: &mut Vec<Event>) {
        let Some(opening) = self.state.bloom.as_mut().and_then(|bloom| bloom.opening.as_mut()) else {
            return;
        };
        let began = opening.evidence.began;
        // how the ranger lost it is one story, and the first word of it is enough
        let known = opening.doubts.iter().any(|told| told.is_of_the_echo());
        let news = opening.doubts.insert(doubt);
        if doubt.lets_watch_on() {
            opening.watched_from.get_or_insert(now);
        }
        if !news || (known && doubt.is_of_the_echo()) || self.seen_open(began) {
            return;
        }
        let event = self.event(now, EventKind::Look, Details::Look { doubt });
        events.push(event);
    }

    /// Behind an alarm that was most likely wrong the watch goes on: an edge that sets out anew is the opening.
    pub(super) fn look_for_another(&mut self, now: Time, events: &mut Vec<Event>) {
        let Some(opening) = self.opening() else { return };
        let Some(from) = opening.watched_from else { return };
        let opening_began = opening.evidence.began;
        let may_open = self.stage().is_some_and(|stage| stage.is_open() || stage == Stage::Closed);
        if !may_open || self.is_resting(now) || self.seen_open(opening_began) {
            return;
        }
        let around = self.circumstances(now);
        let rings = self.state.rim.rings();
        let evidence = self.state.opening_watch.look(rings, now, &around, &self.spec.profile, false);
        // a near edge that follows the far side after hours belongs to the same opening
        let from = from.max(opening_began.plus_hours(ANOTHER_AFTER_H));
        if let Some(evidence) = evidence.filter(|evidence| evidence.began >= from && !evidence.found_open) {
            self.tell_another_opening(now, evidence, events);
        }
    }

    /// The opening that was told was none, and this one is: its alarm takes the place of the other.
    fn tell_another_opening(&mut self, now: Time, evidence: Evidence, events: &mut Vec<Event>) {
        let Some(bloom) = &mut self.state.bloom else { return };
        let earlier = bloom.opening.take();
        bloom.turn(Turn::StandsDown { slowing: bloom.slow_since.is_some() });
        let before = events.len();
        self.tell_opening(now, ToldBy::Rim, evidence, events);
        if let (Some(earlier), Some(event)) = (earlier, events.get_mut(before)) {
            if let Details::Opening(details) = &mut event.details {
                details.moment.takes_the_place = true;
            }
            event.ends.extend(earlier.alarms());
        }
    }
}

#[cfg(test)]
mod tests;
