//! Whether a level that waits beside the track is the target: rule after rule, each with its own patience.

use std::ops::ControlFlow;

use super::motion::GATE_FLOOR_M;
use super::ring::Sample;
use super::{Finding, Motion, NOISE_M, Parked, STRANGE_CONFIRMED_H, Track};
use crate::growth::line::{self, Line};
use crate::time::Time;

/// A level is judged by a straight line through its newest samples of this span, h.
const STRAIGHT_H: f64 = 0.7;
/// Spread within which waiting samples count as one level, m.
const CANDIDATE_SPREAD_M: f64 = 0.015;
/// Waiting samples also count as one level within this multiple of the target's own noise: a person is more restless than a spathe.
const CANDIDATE_NOISE: f64 = 1.8;
/// A level that came after a span without readings is judged after this long, h: well inside the first quarter of an hour.
const RETURN_CONFIRMED_H: f64 = 11.0 / 60.0;
/// One that stands still far out is believed after this long, h: a ranger that sends medians shows a person just as still as a spathe.
const RETURN_FAR_CONFIRMED_H: f64 = 40.0 / 60.0;
/// A small change over a span without readings is given this long to show that it goes on, h.
const RETURN_UNDECIDED_H: f64 = 45.0 / 60.0;
/// A level that came while people or echoes hid the target is judged after this long, h: people stand still, too.
const HIDDEN_CONFIRMED_H: f64 = 75.0 / 60.0;
/// One that goes on as the plant would is judged after this long, h.
const HIDDEN_GOES_ON_H: f64 = 30.0 / 60.0;
/// Readings that resumed count as the end of a span without readings for this long, h.
const RESUMED_FOR_H: f64 = 20.0 / 60.0;
/// A level that jumped is taken for a moved mount after this long, h; people seldom stand still longer.
const STEP_CONFIRMED_H: f64 = 25.0 / 60.0;
/// A level that jumped and does not stand still is taken for it after this long, h.
const UNSTEADY_CONFIRMED_H: f64 = 2.0;
/// A level before a step is remembered this long, h, in case what stood in the beam goes away.
const PARKED_FOR_H: f64 = 24.0;
/// The hours over which a target's middle is taken.
const MEAN_OVER_H: f64 = 2.0;
/// A rim goes back no further than it has been within this many hours.
const BEHIND_WITHIN_H: f64 = 24.0;
/// A jump back is one to a level that the target held within this many hours.
const HELD_WITHIN_H: f64 = 12.0;
/// It held a level if it was no further from it than this, m.
const NEAR_M: f64 = 2.0 * GATE_FLOOR_M;
/// A level further out than the one followed now counts as held if the target was there in so many quarter hours (judged).
const HELD_FOR_LONG: usize = 16;
/// A jump back is believed after this long, h.
const WENT_BACK_H: f64 = 5.0 / 60.0;
/// Where the target is known to be on its way, a jump back is believed after this long, h.
const ON_ITS_WAY_WENT_BACK_H: f64 = 15.0 / 60.0;
/// A level is the target that sets out only if it begins within this long after the newest trusted sample, h.
const SET_OUT_WITHIN_H: f64 = 0.5;
/// It must also have been followed for this long, h.
const SET_OUT_H: f64 = 10.0 / 60.0;
/// It must also have this share of the samples since.
const SET_OUT_SHARE: f64 = 0.6;
/// The least share of the samples since its first that a level must have to be the target's.
const SHARE: f64 = 0.4;
/// The least share for a mount that was moved: a target that sways is at either end of its swing no more than half the time.
const STEP_SHARE: f64 = 0.75;

/// A level that waits, as it is judged.
struct Level {
    place: usize,
    /// Its first sample.
    first: Sample,
    /// When its newest sample came.
    newest: Time,
    /// The newest trusted sample.
    last: Sample,
    /// Through its newest samples.
    line: Line,
    /// How long it has waited, h.
    waited_h: f64,
    /// Where it is, with the track's offset, m.
    level_m: f64,
    /// How far that is from the newest trusted sample, m.
    moved_m: f64,
    /// Whether the target can have moved so far.
    possible: bool,
    /// Whether a target of this ranger can be there at all.
    plausible: bool,
}

/// What a rule says: that it is decided, by a finding or by waiting on, or that the next rule is asked.
type Rule = ControlFlow<Option<Finding>>;

/// Wait for more samples.
const WAIT: Rule = ControlFlow::Break(None);
/// Ask the next rule.
const NEXT: Rule = ControlFlow::Continue(());

impl Track {
    /// Whether the level that a waiting sample was put to is the target.
    pub(super) fn decide(&mut self, place: usize, last: Sample, motion: &Motion) -> Option<Finding> {
        let level = self.level(place, last, motion)?;
        match self.ask(&level, motion) {
            ControlFlow::Break(decided) => decided,
            ControlFlow::Continue(()) => Some(self.step(&level)),
        }
    }

    fn ask(&mut self, level: &Level, motion: &Motion) -> Rule {
        self.left_the_beam(level, motion)?;
        self.jumped_back(level, motion)?;
        self.sets_out(level, motion)?;
        self.came_back(level, motion)?;
        self.swayed(level, motion)?;
        self.goes_on(level, motion)?;
        self.stands_as_a_mount_does(level, motion)?;
        self.came_forward(level, motion)
    }

    /// The level, if it has samples enough and is as quiet as the target.
    fn level(&self, place: usize, last: Sample, motion: &Motion) -> Option<Level> {
        let level = self.waiting.level(place)?;
        let (first, newest) = level.ends()?;
        let waited_h = newest.time.hours_since(first.time);
        if level.samples.len() < 3 || self.waiting.share(level) < SHARE {
            return None;
        }
        // an opening that went on unseen has curved: the newest part of it is straight
        let from = newest.time.plus_hours(-STRAIGHT_H);
        let recent = &level.samples[level.samples.partition_point(|sample| sample.time < from)..];
        let line = line_through(if recent.len() >= 3 { recent } else { &level.samples }, newest.time)?;
        if line.residual_sd_m
            > CANDIDATE_SPREAD_M.min(CANDIDATE_NOISE * self.noise_variance_m2.sqrt() + 0.0015)
        {
            return None;
        }
        let level_m = line.level_m + self.offset_m;
        let moved_m = level_m - last.position_m;
        let blind_h = first.time.hours_since(last.time);
        let possible =
            motion.allows(moved_m, blind_h + waited_h) && !self.is_behind_all(level_m, moved_m, last, motion);
        let plausible = motion.is_plausible(level_m) || motion.is_plausible(line.level_m);
        Some(Level {
            place,
            first,
            newest: newest.time,
            last,
            line,
            waited_h,
            level_m,
            moved_m,
            possible,
            plausible,
        })
    }

    /// What stood in the beam has gone: the old frame holds again, with the movement made meanwhile.
    fn left_the_beam(&mut self, level: &Level, motion: &Motion) -> Rule {
        let Some(parked) = self.parked.filter(|_| level.waited_h >= 2.0 / 60.0) else { return NEXT };
        let moved_m = level.line.level_m + parked.offset_m - parked.level_m;
        let away_h = level.newest.hours_since(parked.since);
        let differs = (parked.offset_m - self.offset_m).abs() > 2.0 * GATE_FLOOR_M;
        let unmoved = moved_m.abs() <= 2.0 * GATE_FLOOR_M;
        let moved_on = level.waited_h >= HIDDEN_GOES_ON_H
            && motion.allows(moved_m, away_h)
            && motion.goes_on(&level.line, moved_m);
        if away_h > PARKED_FOR_H {
            self.parked = None;
            return NEXT;
        }
        if !differs || !(unmoved || moved_on) {
            return NEXT;
        }
        self.offset_m = parked.offset_m;
        self.parked = None;
        let before = Sample { time: parked.since, position_m: parked.level_m };
        self.accept(level.place, &level.line);
        ControlFlow::Break(Some(if unmoved { Finding::WentBack } else { self.moved_over(before, moved_m) }))
    }

    /// It is just where it was some hours before.
    fn jumped_back(&mut self, level: &Level, motion: &Motion) -> Rule {
        let patience_h = if motion.on_its_way { ON_ITS_WAY_WENT_BACK_H } else { WENT_BACK_H };
        // in the frame of something that stands in the beam, a target on its way passes through every earlier level
        let in_its_frame = self.parked.is_none() || !motion.on_its_way;
        if motion.jumps_back_tell && level.waited_h >= patience_h && in_its_frame && self.held_before(level) {
            return self.accepted(level, Finding::WentBack);
        }
        NEXT
    }

    /// A level began where the target was just before and moves as only the target does. While people are about, the gate is too narrow
    /// for a rim that sets out; a person does not step into the beam just at the rim and creep on from there.
    fn sets_out(&mut self, level: &Level, motion: &Motion) -> Rule {
        let began_m = level.first.position_m + self.offset_m - level.last.position_m;
        if level.waited_h >= SET_OUT_H
            && level.first.time.hours_since(level.last.time) <= SET_OUT_WITHIN_H
            && began_m.abs() <= 2.0 * GATE_FLOOR_M
            && motion.goes_on(&level.line, level.moved_m)
            && self.share(level) >= SET_OUT_SHARE
        {
            return self.accepted(level, Finding::Moved);
        }
        NEXT
    }

    /// It came after a blind span, and is as far as the target can have moved by itself.
    fn came_back(&mut self, level: &Level, motion: &Motion) -> Rule {
        let &Level { first, last, waited_h, moved_m, possible, plausible, .. } = level;
        let blind_h = first.time.hours_since(last.time);
        let was_blind = blind_h > self.blind_after_h();
        if !(was_blind && possible && plausible) {
            let patience_h = if plausible { STEP_CONFIRMED_H } else { STRANGE_CONFIRMED_H };
            return if waited_h < patience_h { WAIT } else { NEXT };
        }
        let unread = self
            .resumed
            .is_some_and(|resumed| resumed > last.time && first.time.hours_since(resumed) <= RESUMED_FOR_H);
        let (confirmed_h, undecided_h) = if unread {
            (RETURN_CONFIRMED_H, RETURN_UNDECIDED_H)
        } else {
            (HIDDEN_GOES_ON_H, HIDDEN_CONFIRMED_H)
        };
        if waited_h < confirmed_h {
            return WAIT;
        }
        let far_confirmed_h = if unread { RETURN_FAR_CONFIRMED_H } else { undecided_h };
        let far = moved_m.abs() >= motion.found_moved_m && waited_h >= far_confirmed_h;
        if far || motion.goes_on(&level.line, moved_m) || moved_m.abs() <= 1.5 * GATE_FLOOR_M {
            return self.accepted_as_moved(level);
        }
        if waited_h < undecided_h { WAIT } else { NEXT }
    }

    /// A target that swayed is back in its middle, from whichever end of the swing was trusted last.
    fn swayed(&mut self, level: &Level, motion: &Motion) -> Rule {
        if !motion.jumps_back_tell && self.near_its_mean(level) {
            return self.accepted(level, Finding::Moved);
        }
        NEXT
    }

    /// What goes on as the plant would is the target, though somebody stood near it when it began.
    fn goes_on(&mut self, level: &Level, motion: &Motion) -> Rule {
        if level.possible
            && level.plausible
            && level.waited_h >= HIDDEN_CONFIRMED_H
            && motion.goes_on(&level.line, level.moved_m)
        {
            return self.accepted_as_moved(level);
        }
        NEXT
    }

    /// A mount that was knocked stands still again; what goes on moving is no mount.
    fn stands_as_a_mount_does(&self, level: &Level, motion: &Motion) -> Rule {
        let steady = (level.line.rate_m_h * level.waited_h).abs() <= GATE_FLOOR_M;
        let alone = self.share(level) >= STEP_SHARE;
        let stands = steady && alone && !motion.on_its_way;
        if stands || level.waited_h >= UNSTEADY_CONFIRMED_H { NEXT } else { WAIT }
    }

    /// What comes forward to where the target was for hours lately is the target: something behind it had been followed meanwhile.
    fn came_forward(&mut self, level: &Level, motion: &Motion) -> Rule {
        if motion.jumps_back_tell && level.moved_m > 0.0 && self.quarters_held(level) >= HELD_FOR_LONG {
            return self.accepted(level, Finding::WentBack);
        }
        NEXT
    }

    /// Nothing else is left: the mount was moved, or something took its place.
    fn step(&mut self, level: &Level) -> Finding {
        let last = level.last;
        self.parked = Some(Parked { offset_m: self.offset_m, level_m: last.position_m, since: last.time });
        self.offset_m = last.position_m - level.first.position_m;
        self.accept(level.place, &level.line);
        Finding::Stepped
    }

    fn accepted(&mut self, level: &Level, finding: Finding) -> Rule {
        self.accept(level.place, &level.line);
        ControlFlow::Break(Some(finding))
    }

    fn accepted_as_moved(&mut self, level: &Level) -> Rule {
        self.accept(level.place, &level.line);
        ControlFlow::Break(Some(self.moved_over(level.last, level.moved_m)))
    }

    fn moved_over(&self, before: Sample, moved_m: f64) -> Finding {
        match self.newest() {
            Some(after) if moved_m.abs() > 1.5 * GATE_FLOOR_M => Finding::Returned { before, after },
            _ => Finding::Moved,
        }
    }

    /// The share of the samples since its first that the level has.
    fn share(&self, level: &Level) -> f64 {
        self.waiting.level(level.place).map_or(0.0, |level| self.waiting.share(level))
    }

    /// Whether a rim would have gone back further than it has been for a day: it goes back to where it came from and no further.
    fn is_behind_all(&self, level_m: f64, moved_m: f64, last: Sample, motion: &Motion) -> bool {
        let held = self.rings.quarters_between(last.time.plus_hours(-BEHIND_WITHIN_H), last.time);
        let lowest = held.map(|quarter| quarter.position_m).fold(f64::INFINITY, f64::min);
        motion.jumps_back_tell && moved_m < 0.0 && level_m < lowest - 2.0 * GATE_FLOOR_M
    }

    /// Whether a level is that of the last two hours.
    fn near_its_mean(&self, level: &Level) -> bool {
        let last = level.last.time;
        let mean = self.rings.mean_between(last.plus_hours(-MEAN_OVER_H), last);
        mean.is_some_and(|(mean, quarters)| {
            quarters >= 3 && (level.level_m - mean).abs() <= 1.5 * GATE_FLOOR_M
        })
    }

    /// Whether a level is not where the target was last, but where it was within the last half day. A mount that is knocked
    /// comes to rest anywhere; what had stood in the beam and left gives back just the old level.
    fn held_before(&self, level: &Level) -> bool {
        level.level_m < level.last.position_m - 2.0 * NEAR_M && self.quarters_held(level) >= 2
    }

    /// In how many quarter hours of the last half day the target was near a level.
    fn quarters_held(&self, level: &Level) -> usize {
        let last = level.last.time;
        self.rings
            .quarters_between(last.plus_hours(-HELD_WITHIN_H), last)
            .filter(|quarter| (quarter.position_m - level.level_m).abs() <= NEAR_M)
            .count()
    }
}

fn line_through(samples: &[Sample], at: Time) -> Option<Line> {
    let points: Vec<(f64, f64)> =
        samples.iter().map(|sample| (sample.time.hours_since(at), sample.position_m)).collect();
    line::fit(&points, *NOISE_M.start())
}
