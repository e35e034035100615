//! `edge-not-seen`: the side ranger speaks and does not see a living bud.

#[cfg(test)]
mod play;
#[cfg(test)]
mod tests;

use super::Bench;
use super::raise::rounded;
use crate::event::{Details, EdgeDetails, Event, EventKind, Severity};
use crate::forecast::Forecast;
use crate::quantity::Quantity;
use crate::seeing::{Cause, ToldUnseen};
use crate::stage::Stage;
use crate::time::Time;

/// It is an alarm when the bud has slowed, and from the day on which the chance of tonight is more than this. Given that it opens at all: what makes an
/// opening less likely must not make the watch on it less strict.
const ALARM_FROM_CHANCE: f64 = 0.05;
/// An edge that does not move, or a target that jumped no further than a knocked mount, counts from the day on which the chance of tonight
/// is more than this: a young bud does not swell, and a knock weeks ahead is no matter.
const NEAR_FROM_CHANCE: f64 = 0.01;
/// An overhead ranger that has said nothing for this long tells nothing of growth, h: growth is that of a day.
const UNSEEN_FROM_ABOVE_H: f64 = 24.0;
/// It is over when nothing has been wrong for this long, h.
const OVER_AFTER_H: f64 = 1.0;

impl Bench {
    pub(super) fn look_whether_the_edge_is_seen(&mut self, now: Time, events: &mut Vec<Event>) {
        if !self.stage().is_some_and(Stage::in_bud) && !self.may_be_found_open_wrongly() {
            // an opening alarm may be about what stands before a ranger that sees no edge: what was told of it stands
            let open = self.stage().is_some_and(Stage::is_open);
            if self.state.edge.told.is_some() && !open {
                self.tell_edge_is_seen(now, false, events);
            } else if open && self.state.edge.cause(&self.state.rim, now).is_none() {
                self.look_whether_the_edge_is_seen_again(now, events);
            }
            return;
        }
        // what is silent or hangs is told as that
        if self.spec.rim.is_none() || self.state.sensors.is_out(Quantity::RimRange) {
            return;
        }
        let found = self.state.edge.cause(&self.state.rim, now);
        let forecast = found.and_then(|_| self.forecast(now));
        // what was told stands as long as it holds, whatever the chance of the next night
        let stands = |cause: Cause| {
            self.state.edge.told.as_ref().is_some_and(|told| told.cause.name() == cause.name())
        };
        match found.filter(|(cause, _)| stands(*cause) || self.counts(*cause, now, forecast.as_ref())) {
            Some((cause, since)) => self.tell_edge_is_not_seen(now, cause, since, forecast.as_ref(), events),
            None => self.look_whether_the_edge_is_seen_again(now, events),
        }
    }

    /// What was found open after a span in which nothing was seen may be somebody before a ranger that sees no edge.
    fn may_be_found_open_wrongly(&self) -> bool {
        let open = self.stage().is_some_and(Stage::is_open);
        open && self.found_open()
            && self.opening().is_some_and(|opening| !self.seen_open(opening.evidence.began))
    }

    /// A cause counts near the opening. Far from it an edge that stands still, or that jumped a little, tells nothing. Where the whole bud has
    /// stopped growing, an edge that stands still tells nothing at any time.
    fn counts(&self, cause: Cause, now: Time, forecast: Option<&Forecast>) -> bool {
        let near = forecast.is_none_or(|forecast| forecast.chance_today > NEAR_FROM_CHANCE);
        // after a gap growth is not known for a while: that is no growth. Where nothing looks from above it never is
        let unseen_from_above = || {
            let newest = self.state.sensors.newest(Quantity::TipRange);
            newest.is_none_or(|held| now.hours_since(held.time) >= UNSEEN_FROM_ABOVE_H)
        };
        let grows = self.daily_growth(now).map_or_else(unseen_from_above, |growth| {
            growth.m_h * 2400.0 > self.spec.profile.bud_growth_cm_day / 2.0
        });
        match cause {
            Cause::Still(_) => near && grows,
            _ => near || !cause.may_be_a_knock(),
        }
    }

    fn tell_edge_is_not_seen(
        &mut self,
        now: Time,
        cause: Cause,
        since: Time,
        forecast: Option<&Forecast>,
        events: &mut Vec<Event>,
    ) {
        let chance = forecast.map(|forecast| forecast.chance_today);
        let slowed = self.stage() == Some(Stage::Slowing);
        let alarm = slowed || chance.is_none_or(|chance| chance > ALARM_FROM_CHANCE);
        let before = self.state.edge.told.take();
        if let Some(told) = before.filter(|told| told.alarm || !alarm) {
            self.state.edge.told = Some(ToldUnseen { well_since: None, ..told });
            return;
        }
        let severity = if alarm { Severity::Alarm } else { Severity::Warning };
        let unwatched = alarm.then(|| self.unwatched());
        let details = EdgeDetails { unwatched, ..self.edge_details(cause, since, chance) };
        let mut event = self.event(now, EventKind::EdgeNotSeen, Details::Edge(details));
        event.severity = severity;
        self.state.edge.told =
            Some(ToldUnseen { id: event.id.clone(), alarm, cause, since, well_since: None });
        events.push(event);
    }

    fn edge_details(&self, cause: Cause, since: Time, chance_today: Option<f64>) -> EdgeDetails {
        let (mut impossible_pct, mut moved_cm, mut interval_min) = (None, None, None);
        match cause {
            Cause::Impossible(share) => impossible_pct = Some(rounded(100.0 * share, 0)),
            Cause::Jumped(by_m) | Cause::Still(by_m) => moved_cm = Some(rounded(100.0 * by_m, 2)),
            Cause::FarApart(seconds) => interval_min = Some(rounded(seconds / 60.0, 0)),
            Cause::Restless => {}
        }
        EdgeDetails {
            why: cause.name(),
            since,
            value: self.state.sensors.newest(Quantity::RimRange).map(|held| held.value),
            impossible_pct,
            moved_cm,
            interval_min,
            noise_mm: rounded(1000.0 * self.state.rim.noise_m(), 1),
            chance_today: chance_today.map(|chance| rounded(chance, 3)),
            cause,
            unwatched: None,
            waited_for: true,
        }
    }

    fn look_whether_the_edge_is_seen_again(&mut self, now: Time, events: &mut Vec<Event>) {
        let seen = self.state.edge.has_seen_for(OVER_AFTER_H, &self.state.rim, now);
        let Some(told) = &mut self.state.edge.told else { return };
        if !seen {
            told.well_since = None;
            return;
        }
        let since = *told.well_since.get_or_insert(now);
        if now.hours_since(since) >= OVER_AFTER_H {
            self.tell_edge_is_seen(now, true, events);
        }
    }

    fn tell_edge_is_seen(&mut self, now: Time, waited_for: bool, events: &mut Vec<Event>) {
        let Some(told) = self.state.edge.told.take() else { return };
        let details = EdgeDetails { waited_for, ..self.edge_details(told.cause, told.since, None) };
        let mut event = self.event(now, EventKind::EdgeNotSeenOver, Details::Edge(details));
        event.ends.push(told.id);
        events.push(event);
    }
}
