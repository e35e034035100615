//! What a person booked: signs move the stage, end alarms, and can be taken back.

use super::Bench;
use crate::event::{
    Details, Event, EventKind, FullyOpen, GivenUp, HasClosed, NotOpening, SignDetails, ToldBy,
};
use crate::opening::Evidence;
use crate::reading::Taken;
use crate::sign::{MovedMounts, PlainSign, Sign};
use crate::stage::{Stage, Turn};
use crate::time::Time;

/// Signs of one kind kept for a bloom: the first, from which the forecast counts, and the newest. All of them act, and all are in
/// the record. Judged: no plant shows one sign so often, a button that is stuck does.
pub(super) const MOST_OF_A_KIND: usize = 20;

impl Bench {
    pub(super) fn take_sign(&mut self, time: Time, sign: Sign, events: &mut Vec<Event>) -> Taken {
        // a sign may be booked late: what follows from it is said now
        let now = self.state.newest.map_or(time, |newest| newest.max(time));
        match sign {
            Sign::Plain(sign) => {
                if self.state.signs.contains(&(time, sign)) {
                    return Taken::ByTheRecord;
                }
                self.take_plain(now, time, sign, events);
            }
            Sign::MountMoved(moved) => self.take_moved(now, moved, events),
            Sign::Withdrawn(sign) => {
                let Some(place) = self.state.signs.iter().position(|booked| *booked == (time, sign)) else {
                    return Taken::ByTheRecord;
                };
                self.state.signs.remove(place);
                self.take_back(now, sign, events);
            }
            Sign::HeightWithdrawn => {
                if !self.state.taped.withdraw(time) {
                    return Taken::ByTheRecord;
                }
                self.tell_sign(now, Sign::HeightWithdrawn, None, Vec::new(), events);
                self.forget_taped(now, events);
            }
        }
        Taken::ByTheModel
    }

    fn take_plain(&mut self, now: Time, time: Time, sign: PlainSign, events: &mut Vec<Event>) {
        let before_opening = self.stage().is_none_or(Stage::may_open);
        let of_a_bud = matches!(
            sign,
            PlainSign::Emerged
                | PlainSign::SpadixVisible
                | PlainSign::EdgeColoured
                | PlainSign::BractDropped
                | PlainSign::LastBractDropped
                | PlainSign::EdgeLoose
        );
        if of_a_bud && self.stage().is_none_or(|stage| stage == Stage::Aborted) {
            self.tell_bud(now, "sign", events);
        }
        let is_full = self.keep(time, sign);
        let ends = self.book(sign);
        self.tell_sign(now, Sign::Plain(sign), is_full.then_some(MOST_OF_A_KIND), ends, events);
        match sign {
            PlainSign::Opened | PlainSign::FullOpen if before_opening => {
                let before_h = match sign {
                    PlainSign::FullOpen => self.spec.profile.crack_to_full_likely_h,
                    _ => 0.0,
                };
                let evidence = Evidence {
                    advance_m: 0.0,
                    rate_m_h: 0.0,
                    baseline_m_h: 0.0,
                    curve_m_h2: None,
                    began: time.plus_hours(-before_h),
                    found_open: false,
                };
                self.tell_opening(now, ToldBy::Sign, evidence, events);
                if sign == PlainSign::FullOpen {
                    self.tell_full_open(now, FullyOpen::Recorded, events);
                }
            }
            PlainSign::FullOpen => self.tell_full_open(now, FullyOpen::Recorded, events),
            PlainSign::NotOpening => {
                self.stand_down(now, NotOpening::PersonLooked, events);
                self.state.opening_watch.rest_at(now);
            }
            PlainSign::Closed => self.tell_closed(now, HasClosed::Recorded, events),
            PlainSign::Collapsed if self.stage().is_some_and(Stage::in_bud) => {
                self.tell_aborted(now, GivenUp::Collapsed, events);
            }
            PlainSign::Collapsed => self.tell_closed(now, HasClosed::Collapsed, events),
            PlainSign::Leaf if self.stage().is_some_and(Stage::in_bud) => {
                self.tell_aborted(now, GivenUp::Leaf, events);
                // a leaf grows and unfolds before the rangers as a flower does
                self.state.resting_until = Some(now.plus_hours(24.0 * self.spec.profile.resting_d));
            }
            PlainSign::FruitSet => {
                self.tell_closed(now, HasClosed::FruitSet, events);
                self.turn(Turn::SetsFruit);
            }
            PlainSign::FruitRipe if self.state.bloom.is_some() => self.tell_fruit_ripe(now, events),
            _ => {}
        }
    }

    /// Keeps a sign; where there are too many of its kind, the second oldest gives way. Says whether the kind has just become full.
    fn keep(&mut self, time: Time, sign: PlainSign) -> bool {
        let count = |signs: &[(Time, PlainSign)]| signs.iter().filter(|(_, other)| *other == sign).count();
        let signs = &mut self.state.signs;
        while count(signs) >= MOST_OF_A_KIND {
            let of_kind = || signs.iter().enumerate().filter(|(_, (_, other))| *other == sign);
            let Some((first, _)) = of_kind().min_by_key(|(_, (time, _))| *time) else { break };
            let second = of_kind().filter(|(place, _)| *place != first).min_by_key(|(_, (time, _))| *time);
            let Some((second, _)) = second else { break };
            signs.remove(second);
            if count(signs) < MOST_OF_A_KIND {
                signs.push((time, sign));
                return false;
            }
        }
        signs.push((time, sign));
        count(signs) == MOST_OF_A_KIND
    }

    /// Writes down what a sign says was done; gives the alarms that it ends.
    fn book(&mut self, sign: PlainSign) -> Vec<String> {
        let Some(opening) = self.state.bloom.as_mut().and_then(|bloom| bloom.opening.as_mut()) else {
            return Vec::new();
        };
        match sign {
            PlainSign::Pollinated => {
                opening.pollinated = true;
                opening.receptive_ending.iter().cloned().collect()
            }
            PlainSign::PollenCollected => {
                opening.collected = true;
                opening.pollen_shed.iter().cloned().collect()
            }
            _ => Vec::new(),
        }
    }

    fn take_back(&mut self, now: Time, sign: PlainSign, events: &mut Vec<Event>) {
        if let Some(opening) = self.state.bloom.as_mut().and_then(|bloom| bloom.opening.as_mut()) {
            match sign {
                PlainSign::Pollinated => opening.pollinated = false,
                PlainSign::PollenCollected => opening.collected = false,
                _ => {}
            }
        }
        self.tell_sign(now, Sign::Withdrawn(sign), None, Vec::new(), events);
        match (sign, self.stage()) {
            (PlainSign::Opened, Some(Stage::Opening)) => {
                self.stand_down(now, NotOpening::TakenBack, events);
                self.state.opening_watch.rest_at(now);
            }
            (PlainSign::Opened | PlainSign::FullOpen, Some(stage))
                if stage.is_open() && self.opened_by_sign() =>
            {
                self.stand_down(now, NotOpening::TakenBack, events);
            }
            (PlainSign::Closed | PlainSign::Collapsed, Some(Stage::Closed)) => {
                self.tell_full_open(now, FullyOpen::NotClosed, events);
            }
            (PlainSign::Collapsed | PlainSign::Leaf, Some(Stage::Aborted)) => {
                self.tell_bud(now, "sign", events)
            }
            (PlainSign::FruitSet, Some(Stage::Fruiting)) => {
                self.turn(Turn::HasNoFruit);
            }
            (PlainSign::NotOpening, _) => self.state.opening_watch.watch_on(),
            _ => {}
        }
    }

    /// Whether a person's word is all that the opening stands on.
    fn opened_by_sign(&self) -> bool {
        let opening = self.state.bloom.as_ref().and_then(|bloom| bloom.opening.as_ref());
        opening.is_some_and(|opening| opening.evidence.advance_m <= 0.0)
    }

    fn take_moved(&mut self, now: Time, moved: MovedMounts, events: &mut Vec<Event>) {
        if moved.tip_m.is_some() {
            self.state.moved_tip_m = moved.tip_m;
            self.state.tip.hang_anew();
            self.state.tape_over_ranger_m = None;
            self.state.taped.ranger_was_moved();
        }
        if moved.rim_m.is_some() {
            self.state.moved_rim_m = moved.rim_m;
            self.state.rim.hang_anew();
            self.state.edge.hang_anew();
        }
        self.tell_sign(now, Sign::MountMoved(moved), None, Vec::new(), events);
    }

    fn tell_sign(
        &mut self,
        now: Time,
        sign: Sign,
        too_many: Option<usize>,
        ends: Vec<String>,
        events: &mut Vec<Event>,
    ) {
        let of_a_bud = match sign {
            Sign::Plain(sign) | Sign::Withdrawn(sign) => sign.moves_the_forecast(),
            Sign::MountMoved(_) | Sign::HeightWithdrawn => false,
        };
        let outlook = if of_a_bud { self.outlook_to_tell(now) } else { None };
        let details = Details::Sign(SignDetails { sign, outlook, too_many });
        let mut event = self.event(now, EventKind::SignBooked, details);
        event.ends = ends;
        events.push(event);
    }

    fn tell_fruit_ripe(&mut self, now: Time, events: &mut Vec<Event>) {
        let event = self.event(now, EventKind::FruitRipe, Details::FruitRipe {});
        events.push(event);
        self.turn(Turn::Ends);
        self.end_bloom(now);
    }
}
