//! The opening: the alarm, what is made of the edge after it, and the end of one that was none.

use std::collections::BTreeSet;

use super::Bench;
use super::raise::rounded;
use crate::bloom::Opening;
use crate::bloom::hours::open_hours;
use crate::event::{
    Details, Doubt, Event, EventKind, FullyOpen, HasClosed, NotOpening, OpeningDetails, OpeningMoment, ToldBy,
};
use crate::growth::line;
use crate::opening::belief::Belief;
use crate::opening::{
    Circumstances, Evidence, full_open_times, levelled_off, may_close, rim_line, rises_throughout,
};
use crate::sign::PlainSign;
use crate::stage::{Stage, Turn};
use crate::time::Time;
use crate::track::Finding;

/// A tip spike must hold this long, h; the rate is taken over the same span.
const TIP_SPIKE_H: f64 = 40.0 / 60.0;
/// Signs of ripeness count for this many days. Judgement.
const RIPE_FOR_D: f64 = 5.0;
/// Within this share of its advance the rim is back where it began. Judgement.
const BASE_SHARE: f64 = 0.3;
/// The rim has closed when it is back to this share of its advance. Judgement.
const CLOSED_SHARE: f64 = 0.5;
/// No spathe has closed so soon after its crack, as a share of the time that such blooms stay open: of a titan arum's 48 h the
/// 14 h after which the earliest of the record began to close (Fairchild 2003).
const CLOSES_AFTER_SHARE: f64 = 14.0 / 48.0;

/// Over so long an edge that is half way back must be heard as before, h: one that tilts away goes back and is lost. Judgement.
const HALF_BACK_OVER_H: f64 = 1.0;

impl Bench {
    pub(super) fn look_at_rim(&mut self, now: Time, finding: Finding, events: &mut Vec<Event>) {
        match finding {
            Finding::Returned { before, after } => self.state.opening_watch.returned(before, after),
            Finding::WentBack if self.is_open() && self.back_at_base() => {
                self.doubt(now, Doubt::Back, events)
            }
            Finding::Moved | Finding::Stepped | Finding::WentBack => {}
        }
        match self.stage() {
            Some(Stage::Opening) => {
                self.follow_course();
                self.follow_opening(now, events);
                self.tell_full_open_revised(now, events);
            }
            Some(Stage::FullOpen | Stage::PollenShed) => self.follow_open(now, events),
            stage if !stage.is_none_or(Stage::may_open) || self.is_resting(now) => {}
            _ => {
                let (around, trusted) = (self.circumstances(now), self.state.edge.trusts_what_it_finds(now));
                let rings = self.state.rim.rings();
                let profile = &self.spec.profile;
                if let Some(evidence) = self.state.opening_watch.look(rings, now, &around, profile, trusted) {
                    if !trusted {
                        // what moves so is the edge, whatever was met before
                        self.state.edge.forget_jump();
                    }
                    self.tell_opening(now, ToldBy::Rim, evidence, events);
                }
            }
        }
        self.look_for_another(now, events);
    }

    fn is_open(&self) -> bool {
        self.stage().is_some_and(Stage::is_open)
    }

    pub(super) fn found_open(&self) -> bool {
        self.opening().is_some_and(|opening| opening.evidence.found_open)
    }

    /// Whether the rim stands again where it stood before the opening that was found.
    fn back_at_base(&self) -> bool {
        self.opening().zip(self.state.rim.newest()).is_some_and(|(opening, newest)| {
            newest.position_m < opening.base_m + BASE_SHARE * (opening.highest_m - opening.base_m)
        })
    }

    /// Seen from above, an opening is a rate that neither a bud nor the air makes.
    pub(super) fn look_at_tip(&mut self, now: Time, events: &mut Vec<Event>) {
        let rate = self.state.tip.rate_m_h().unwrap_or_default();
        let spike_m_h = self.spec.profile.tip_spike_cm_hour / 100.0;
        // a side ranger that sees the rim knows better: what looks like a spike from above is then a person under the roof
        let rim_seen = self.state.rim.newest().is_some_and(|newest| now.hours_since(newest.time) <= 1.0);
        if rate < 0.7 * spike_m_h
            || self.is_resting(now)
            || rim_seen
            || !self.stage().is_none_or(Stage::may_open)
        {
            self.state.tip_spike_since = None;
            return;
        }
        let rings = self.state.tip.rings();
        let points: Vec<(f64, f64)> = rings
            .minutes_from(now.plus_hours(-TIP_SPIKE_H))
            .map(|sample| (sample.time.hours_since(now), sample.position_m))
            .collect();
        let Some(line) = line::fit(&points, 0.001) else { return };
        if line.rate_m_h - 2.0 * line.rate_sd_m_h < spike_m_h || !rises_throughout(rings, now) {
            self.state.tip_spike_since = None;
            return;
        }
        let since = *self.state.tip_spike_since.get_or_insert(now);
        if now.hours_since(since) < 0.5 * TIP_SPIKE_H {
            return;
        }
        self.state.tip_spike_since = None;
        let baseline_m_h = self.daily_growth(now).map_or(0.0, |rate| rate.m_h);
        let began = since.plus_hours(-0.5 * TIP_SPIKE_H);
        let evidence = Evidence {
            advance_m: line.rate_m_h * now.hours_since(began),
            rate_m_h: line.rate_m_h,
            baseline_m_h,
            curve_m_h2: None,
            began,
            found_open: false,
        };
        self.tell_opening(now, ToldBy::Tip, evidence, events);
    }

    /// A ripe bud whose spadix makes heat opens, whatever a ranger shows.
    pub(super) fn look_at_spadix(&mut self, now: Time, spadix_c: f64, events: &mut Vec<Event>) {
        let Some(began) = self.state.spadix.take(now, spadix_c) else { return };
        if self.is_open() {
            // an alarm stands already: who looks and says that it is none has the last word on this warmth, too
            self.state.spadix.told();
            return;
        }
        let in_bud = self.stage().is_some_and(Stage::may_open) && !self.is_resting(now);
        let around = self.circumstances(now);
        if !in_bud || !(around.ripe_by_sign || around.may_be_ripe(&self.spec.profile)) {
            return;
        }
        self.state.spadix.told();
        let baseline_m_h = self.daily_growth(now).map_or(0.0, |rate| rate.m_h);
        let evidence = Evidence {
            advance_m: 0.0,
            rate_m_h: 0.0,
            baseline_m_h,
            curve_m_h2: None,
            began,
            found_open: false,
        };
        self.tell_opening(now, ToldBy::Spadix, evidence, events);
    }

    pub(super) fn circumstances(&self, now: Time) -> Circumstances {
        let temperature_c = self.temperature_for_ranges_c(now);
        Circumstances {
            local_hour: now.local_hour(self.site.timezone),
            growth_share: self.growth_share(now),
            // an overhead ranger would have seen a bud: where it has not, there is none old enough
            bud_age_d: match &self.state.bloom {
                Some(bloom) => Some(now.days_since(bloom.seen)),
                None => self.state.tip.newest().map(|_| 0.0),
            },
            ripe_by_sign: self.state.signs.iter().any(|(time, sign)| {
                matches!(sign, PlainSign::LastBractDropped | PlainSign::EdgeLoose | PlainSign::Scent)
                    && now.days_since(*time) <= RIPE_FOR_D
            }),
            air_known: temperature_c.is_some(),
            temperature_c,
            spadix_above_air_k: self.spadix_above_air_k(now),
        }
    }

    pub(super) fn spadix_above_air_k(&self, now: Time) -> Option<f64> {
        let spadix = self.state.spadix_c.filter(|held| now.hours_since(held.time) <= 1.0)?;
        let air = self.state.air.temperature_c.filter(|held| now.hours_since(held.time) <= 1.0)?;
        Some(spadix.value - air.value)
    }

    pub(super) fn tell_opening(
        &mut self,
        now: Time,
        told_by: ToldBy,
        evidence: Evidence,
        events: &mut Vec<Event>,
    ) {
        if self.state.bloom.is_none() {
            self.start_bloom(now);
        }
        self.turn(Turn::Opens);
        let profile = self.spec.profile.clone();
        let belief = if told_by == ToldBy::Rim { self.belief_at(now, evidence.began) } else { None };
        let believed = belief.as_ref().and_then(Belief::full_open);
        let full_open = believed.unwrap_or_else(|| full_open_times(&evidence, now, &profile));
        let hours = open_hours(evidence.began, now, &profile, self.site.timezone);
        let level_m = self.state.rim.newest().map_or(0.0, |sample| sample.position_m);
        let closed = if told_by == ToldBy::Tip { None } else { self.closed_before(evidence.began) };
        let measured = matches!(told_by, ToldBy::Rim | ToldBy::Tip);
        let moment = OpeningMoment {
            now,
            advance_m: evidence.advance_m,
            rate_m_h: evidence.rate_m_h,
            seen: measured,
            full_open: Some(full_open),
            hours,
            pollinated: false,
            collected: false,
            takes_the_place: false,
        };
        let details = Details::Opening(OpeningDetails {
            told_by,
            advance_cm: measured.then(|| rounded(evidence.advance_m * 100.0, 1)),
            rate_cm_hour: measured.then(|| rounded(evidence.rate_m_h * 100.0, 2)),
            baseline_cm_hour: measured.then(|| rounded(evidence.baseline_m_h * 100.0, 3)),
            spadix_above_air_k: self.spadix_above_air_k(now).map(|kelvin| rounded(kelvin, 1)),
            began: evidence.began,
            found_open: evidence.found_open,
            full_open,
            full_since: None,
            receptive: hours.receptive,
            moment,
        });
        let event = self.event(now, EventKind::OpeningTonight, details);
        if let Some(bloom) = &mut self.state.bloom {
            bloom.closed = None;
            bloom.opening = Some(Opening {
                alarm: event.id.clone(),
                evidence,
                raised: now,
                base_m: level_m - evidence.advance_m,
                highest_m: level_m,
                closed,
                doubts: BTreeSet::new(),
                watched_from: None,
                fastest_m_h: evidence.rate_m_h,
                full_open,
                revision: None,
                belief,
                full_since: None,
                told_by,
                pollinated: false,
                collected: false,
                receptive_ending: None,
                pollen_shed: None,
            });
            self.state.next_morning = None;
        }
        events.push(event);
    }

    fn follow_opening(&mut self, now: Time, events: &mut Vec<Event>) {
        let rings = self.state.rim.rings();
        let Some(line) = rim_line(rings, now) else { return };
        let Some(opening) = self.state.bloom.as_mut().and_then(|bloom| bloom.opening.as_mut()) else {
            return;
        };
        opening.highest_m = opening.highest_m.max(line.level_m);
        opening.fastest_m_h = opening.fastest_m_h.max(line.rate_m_h);
        let advance_m = opening.highest_m - opening.base_m;
        let highest_m = opening.highest_m;
        let (fastest_m_h, began) = (opening.fastest_m_h, opening.evidence.began);
        let least_m = opening.base_m + CLOSED_SHARE * advance_m;
        let profile = &self.spec.profile;
        let turned_back = self.state.opening_watch.turned_back(rings, now, highest_m, advance_m, profile)
            && !self.seen_open(began);
        if self.closed_again(now) {
            self.stand_down(now, NotOpening::HeardClosed, events);
        } else if !may_close(advance_m, profile)
            && levelled_off(self.state.rim.rings(), now, fastest_m_h, least_m)
        {
            self.tell_full_open(now, FullyOpen::AtRest, events);
        } else if turned_back {
            self.doubt(now, Doubt::TurnedBack, events);
        }
    }

    /// Whether a spathe that cracked when this one is said to have can have begun to close.
    pub(super) fn may_have_closed(&self, now: Time) -> bool {
        let earliest_h = CLOSES_AFTER_SHARE * self.spec.profile.open_for_h;
        self.opening().is_some_and(|opening| now.hours_since(opening.evidence.began) >= earliest_h)
    }

    fn follow_open(&mut self, now: Time, events: &mut Vec<Event>) {
        let Some(line) = rim_line(self.state.rim.rings(), now) else { return };
        let Some(opening) = self.state.bloom.as_mut().and_then(|bloom| bloom.opening.as_mut()) else {
            return;
        };
        opening.highest_m = opening.highest_m.max(line.level_m);
        let advance_m = opening.highest_m - opening.base_m;
        let far_out = advance_m * 100.0 >= self.spec.profile.gap_that_closes_cm;
        let half_back = line.level_m < opening.base_m + CLOSED_SHARE * advance_m;
        if self.closed_again(now) {
            self.stand_down(now, NotOpening::HeardClosed, events);
        } else if far_out
            && half_back
            && self.may_have_closed(now)
            && self.heard_as_before(now, HALF_BACK_OVER_H)
        {
            self.tell_closed(now, HasClosed::HalfWayBack, events);
        }
    }

    /// The alarm was wrong: it ends, and the detector is armed again at once.
    pub(super) fn stand_down(&mut self, now: Time, why: NotOpening, events: &mut Vec<Event>) {
        let Some(opening) = self.state.bloom.as_mut().and_then(|bloom| bloom.opening.take()) else { return };
        if let Some(newest) = self.state.rim.newest() {
            let out_m = newest.position_m - opening.base_m;
            self.state.edge.deny(opening.evidence.began, out_m, &self.state.rim);
        }
        let mut event = self.event(now, EventKind::StoodDown, Details::StoodDown { why });
        event.ends.extend(opening.alarms());
        events.push(event);
        if let Some(bloom) = &mut self.state.bloom {
            bloom.turn(Turn::StandsDown { slowing: bloom.slow_since.is_some() });
        }
        self.watch_the_bud_again(now);
    }

    /// The bud that had opened, or was given up, is a bud again.
    pub(super) fn watch_the_bud_again(&mut self, now: Time) {
        if let Some(bloom) = &mut self.state.bloom {
            bloom.closed = None;
            bloom.stopped_since = None;
        }
        self.state.resting_until = None;
        self.state.sensors.tell_anew(now);
        self.state.next_morning = Some(now.next_local_hour(self.site.morning_hour, self.site.timezone));
    }
}
