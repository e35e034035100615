//! What is told once it has lasted, and is over once it has been gone for long enough: one rule for the climate, heat, intakes, the record and its
//! copy. What is told, and to whom, is each one's own.

use std::time::Duration;

use serde::{Deserialize, Serialize};

use crate::time::Time;

/// A point of a clock: the site's time, or one that nobody can set, which is counted from some fixed instant.
pub trait Moment: Copy + Ord {
    /// How long after `earlier` this is; nothing if it is before.
    fn lasted(self, earlier: Self) -> Duration;
}

impl Moment for Time {
    fn lasted(self, earlier: Self) -> Duration {
        (self - earlier).to_std().unwrap_or_default()
    }
}

impl Moment for Duration {
    fn lasted(self, earlier: Self) -> Duration {
        self.saturating_sub(earlier)
    }
}

/// How long a condition must hold before it begins, and be gone before it is over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Delays {
    /// Until it begins.
    pub begin: Duration,
    /// Until it is over.
    pub end: Duration,
}

/// Something that holds or does not, by looks at it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Condition<T> {
    /// Since when it has held; none while it does not stand.
    standing: Option<T>,
    /// Since when the opposite of what stands has been seen.
    turning: Option<T>,
}

/// What a look changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change<T> {
    /// It has held for long enough, since that moment.
    Began(T),
    /// It has been gone for long enough.
    Over {
        /// It had held since that moment.
        since: T,
        /// It has been gone since that one.
        gone: T,
    },
}

impl<T> Default for Condition<T> {
    fn default() -> Self {
        Self { standing: None, turning: None }
    }
}

impl<T: Moment> Condition<T> {
    /// One that holds since that moment, and has not begun.
    pub const fn coming(since: T) -> Self {
        Self { standing: None, turning: Some(since) }
    }

    /// One that was told in a life before.
    pub const fn standing(since: T) -> Self {
        Self { standing: Some(since), turning: None }
    }

    /// Takes a look at `now`; gives what it changed.
    ///
    /// Where a dead band keeps a figure at its limit quiet, the caller's `holds` hangs on [`Self::stands`].
    pub fn look(&mut self, holds: bool, now: T, after: Delays) -> Option<Change<T>> {
        self.see(holds, now);
        self.turn(now, after)
    }

    /// It holds since that moment, or is gone since then.
    pub fn see(&mut self, holds: bool, since: T) {
        let turned = (holds != self.stands()).then_some(since);
        self.turning = turned.map(|turned| self.turning.map_or(turned, |before| before.min(turned)));
    }

    /// Begins or is over at `now`, if what was seen has lasted for long enough.
    pub fn turn(&mut self, now: T, after: Delays) -> Option<Change<T>> {
        let delay = if self.stands() { after.end } else { after.begin };
        let turned = self.turning.take_if(|turned| now.lasted(*turned) >= delay)?;
        match self.standing.take() {
            Some(since) => Some(Change::Over { since, gone: turned }),
            None => {
                self.standing = Some(turned);
                Some(Change::Began(turned))
            }
        }
    }

    /// Whether it has begun and is not over.
    pub const fn stands(&self) -> bool {
        self.standing.is_some()
    }

    /// Since when it has held, while it stands.
    pub const fn since(&self) -> Option<T> {
        self.standing
    }

    /// Since when it has held, told or not.
    pub fn held_since(&self) -> Option<T> {
        self.standing.or(self.turning)
    }

    /// Whether it stands, and was seen to be gone.
    pub const fn is_ending(&self) -> bool {
        self.standing.is_some() && self.turning.is_some()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AFTER: Delays = Delays { begin: minutes(10), end: minutes(30) };

    const fn minutes(minutes: u64) -> Duration {
        Duration::from_secs(60 * minutes)
    }

    /// What looks at those minutes change.
    fn changes(looks: &[(u64, bool)]) -> Vec<(u64, Change<Duration>)> {
        let mut condition = Condition::default();
        looks
            .iter()
            .filter_map(|(minute, holds)| {
                let change = condition.look(*holds, minutes(*minute), AFTER)?;
                assert_eq!(condition.stands(), matches!(change, Change::Began(_)));
                Some((*minute, change))
            })
            .collect()
    }

    #[test]
    fn it_begins_and_is_over_once_it_has_lasted_and_says_since_when() {
        let looks: Vec<(u64, bool)> = (0..120).map(|minute| (minute, (20..60).contains(&minute))).collect();
        let since = minutes(20);
        assert_eq!(
            changes(&looks),
            [(30, Change::Began(since)), (90, Change::Over { since, gone: minutes(60) })]
        );
    }

    #[test]
    fn what_breaks_off_in_between_begins_anew() {
        let nine_in_ten: Vec<(u64, bool)> = (0..600).map(|minute| (minute, minute % 10 != 0)).collect();
        assert_eq!(changes(&nine_in_ten), []);
        let gone_for_short =
            [(0, true), (10, true), (20, false), (49, false), (50, true), (60, false), (90, false)];
        let since = minutes(0);
        let over = Change::Over { since, gone: minutes(60) };
        assert_eq!(changes(&gone_for_short), [(10, Change::Began(since)), (90, over)]);
    }

    #[test]
    fn it_may_be_seen_and_turn_later() {
        let mut condition = Condition::coming(minutes(5));
        condition.see(true, minutes(2));
        assert_eq!((condition.turn(minutes(11), AFTER), condition.held_since()), (None, Some(minutes(2))));
        assert_eq!(condition.turn(minutes(12), AFTER), Some(Change::Began(minutes(2))));
        condition.see(false, minutes(20));
        assert!(condition.is_ending());
        condition.see(true, minutes(30));
        assert!(!condition.is_ending());
        condition.see(false, minutes(40));
        assert_eq!(condition.turn(minutes(69), AFTER), None);
        let over = Change::Over { since: minutes(2), gone: minutes(40) };
        assert_eq!(condition.turn(minutes(70), AFTER), Some(over));
    }
}
