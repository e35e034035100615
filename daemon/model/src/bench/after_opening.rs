//! What follows an opening: full opening, the windows for pollination and pollen, closing, and the end of the bloom. By the edge
//! where it tells, else by the clock.

use super::Bench;
use crate::bloom::hours::open_hours;
use crate::bloom::{Bloom, Opening};
use crate::event::{
    Details, Doubt, Event, EventKind, FullOpenDetails, FullyOpen, HasClosed, NotOpening, Window,
};
use crate::opening::may_close;
use crate::stage::{Stage, Turn};
use crate::time::Time;

/// One that came no further than a gap is waited for so many times as long as such blooms stay open: of a titan arum's 48 h the 72 h
/// of the longest published (Meise 2018).
const NO_FURTHER_FOR: f64 = 1.5;
/// An opening that takes this many times what nine in ten take has come to its end, or was none. Judgement.
const OPENING_FOR: f64 = 1.35;

impl Bench {
    pub(super) fn tell_full_open(&mut self, now: Time, by: FullyOpen, events: &mut Vec<Event>) {
        let Some(bloom) = self.state.bloom.as_mut() else { return };
        if !bloom.turn(Turn::OpensFully) {
            return;
        }
        bloom.closed = None;
        let Some(opening) = &mut bloom.opening else { return };
        opening.full_since.get_or_insert(now);
        opening.belief = None;
        let began = opening.evidence.began;
        let hours = open_hours(began, now, &self.spec.profile, self.site.timezone);
        let pollinated = opening.pollinated;
        let details = FullOpenDetails { receptive: hours.receptive, by, began, pollinated, hours };
        let event = self.event(now, EventKind::FullOpen, Details::FullOpen(details));
        events.push(event);
    }

    pub(super) fn tell_closed(&mut self, now: Time, by: HasClosed, events: &mut Vec<Event>) {
        let Some(bloom) = self.state.bloom.as_mut() else { return };
        if !bloom.turn(Turn::Closes) {
            return;
        }
        bloom.closed = Some(now);
        let mut ends = Vec::new();
        if let Some(opening) = &bloom.opening {
            ends.push(opening.alarm.clone());
            ends.extend(opening.receptive_ending.clone());
        }
        let after_h = bloom.opening.as_ref().map(|opening| now.hours_since(opening.evidence.began));
        let mut event = self.event(now, EventKind::Closed, Details::Closed { by, after_h });
        event.ends = ends;
        events.push(event);
    }

    /// When the receptive window is said to run out.
    fn receptive_warning(&self, opening: &Opening) -> Option<Time> {
        let until = opening.receptive(&self.spec.profile).until;
        let due = until.plus_hours(-self.spec.profile.receptive_warning_h).max(opening.raised);
        // found open after them, nobody is called for hours that are past
        (!opening.pollinated && opening.receptive_ending.is_none() && due < until).then_some(due)
    }

    fn pollen_due(&self, opening: &Opening) -> Option<Time> {
        let Window { from, until } = opening.collect(&self.spec.profile);
        let due = from.max(opening.raised);
        (!opening.collected && opening.pollen_shed.is_none() && due < until).then_some(due)
    }

    /// When, without a sensor that tells, it is taken to be fully open, or closed.
    fn by_the_clock(&self, stage: Stage, opening: &Opening) -> Option<Time> {
        let profile = &self.spec.profile;
        let began = opening.evidence.began;
        let no_further = opening.doubts.contains(&Doubt::NoFurther);
        match stage {
            Stage::Opening | Stage::FullOpen | Stage::PollenShed if no_further => Some(
                began.plus_hours(NO_FURTHER_FOR * profile.open_for_h).max(opening.raised.plus_hours(24.0)),
            ),
            Stage::Opening => Some(
                began
                    .plus_hours(OPENING_FOR * profile.crack_to_full_latest_h)
                    .max(opening.raised.plus_hours(1.0)),
            ),
            Stage::FullOpen | Stage::PollenShed => {
                Some(began.plus_hours(profile.open_for_h.max(profile.pollen_until_h)))
            }
            _ => None,
        }
    }

    pub(super) fn opening_due(&self) -> Option<Time> {
        let bloom = self.state.bloom.as_ref()?;
        let opening = bloom.opening.as_ref()?;
        let open = bloom.stage.is_open();
        let windows = [
            self.receptive_warning(opening).filter(|_| open),
            self.pollen_due(opening).filter(|_| open || bloom.stage == Stage::Closed),
            self.by_the_clock(bloom.stage, opening),
            self.spent(bloom),
        ];
        windows.into_iter().flatten().min()
    }

    pub(super) fn pass_opening_due(&mut self, due: Time, events: &mut Vec<Event>) {
        let Some(bloom) = &self.state.bloom else { return };
        let Some(opening) = bloom.opening.clone() else { return };
        let stage = bloom.stage;
        if self.receptive_warning(&opening) == Some(due) && stage.is_open() {
            self.tell_receptive_ending(due, &opening, events);
        }
        if self.pollen_due(&opening) == Some(due) {
            self.tell_pollen(due, &opening, events);
        }
        if self.by_the_clock(stage, &opening) == Some(due) {
            match stage {
                _ if opening.doubts.contains(&Doubt::NoFurther) => {
                    self.stand_down(due, NotOpening::NoFurther, events);
                }
                Stage::Opening if self.came_to_nothing(&opening) => self.doubt(due, Doubt::NoFurther, events),
                Stage::Opening => self.tell_full_open(due, FullyOpen::ByTheClock, events),
                _ if self.surely_grows_on(due) => self.stand_down_grown_on(due, events),
                _ => self.tell_closed(due, HasClosed::ByTheClock, events),
            }
        }
        if self.state.bloom.as_ref().and_then(|bloom| self.spent(bloom)) == Some(due) {
            self.tell_spent(due, events);
        }
    }

    /// Nothing more is to come of this bloom.
    fn tell_spent(&mut self, now: Time, events: &mut Vec<Event>) {
        let given_up = self.stage() == Some(Stage::Aborted);
        if !self.turn(Turn::Ends) {
            return;
        }
        let event = self.event(now, EventKind::Spent, Details::Spent {});
        events.push(event);
        let leaf_until = self.state.resting_until;
        self.end_bloom(now);
        if given_up {
            // it has nothing that still has to rot: the next bud is watched for at once
            self.state.resting_until = leaf_until;
        }
    }

    /// An alarm raised on the rim that went no further than a gap that closes: it must not put the watch to rest.
    fn came_to_nothing(&self, opening: &Opening) -> bool {
        opening.evidence.advance_m > 0.0
            && !self.seen_open(opening.evidence.began)
            && may_close(opening.highest_m - opening.base_m, &self.spec.profile)
    }

    /// When the bloom is over and the bench waits for its next bud.
    fn spent(&self, bloom: &Bloom) -> Option<Time> {
        let days = match bloom.stage {
            Stage::Closed => self.spec.profile.spent_after_d,
            Stage::Fruiting => self.spec.profile.fruit_ripe_latest_d,
            Stage::Aborted => self.spec.profile.resting_d,
            _ => return None,
        };
        bloom.closed.map(|closed| closed.plus_hours(24.0 * days))
    }

    fn tell_receptive_ending(&mut self, now: Time, opening: &Opening, events: &mut Vec<Event>) {
        let window = opening.receptive(&self.spec.profile);
        let details = Details::ReceptiveEnding { receptive: window };
        let mut event = self.event(now, EventKind::ReceptiveEnding, details);
        event.stands_until = Some(window.until);
        if let Some(opening) = self.state.bloom.as_mut().and_then(|bloom| bloom.opening.as_mut()) {
            opening.receptive_ending = Some(event.id.clone());
        }
        events.push(event);
    }

    fn tell_pollen(&mut self, now: Time, opening: &Opening, events: &mut Vec<Event>) {
        let window = opening.collect(&self.spec.profile);
        let likely = opening.evidence.began.plus_hours(self.spec.profile.pollen_likely_h);
        let details = Details::Collect { collect: window, likely };
        let mut event = self.event(now, EventKind::PollenShed, details);
        event.stands_until = Some(window.until);
        if let Some(bloom) = self.state.bloom.as_mut() {
            bloom.turn(Turn::ShedsPollen);
            if let Some(opening) = &mut bloom.opening {
                opening.pollen_shed = Some(event.id.clone());
            }
        }
        events.push(event);
    }
}
