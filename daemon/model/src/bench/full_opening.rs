//! When an opening will be full: what is believed of it, and a word to people when that changes.

use super::Bench;
use super::raise::rounded;
use crate::event::{Details, Event, EventKind, FullOpenTimes, Revision};
use crate::opening::belief::Belief;
use crate::opening::full_open_times;
use crate::stage::Stage;
use crate::time::Time;

/// The likely hour is told anew when it has moved by more than this, h. Judged: whoever drives to the house plans by the half hour.
const MOVED_H: f64 = 0.75;
/// The window is told anew when it has shrunk to this share of what was told. Judged.
const SURER_SHARE: f64 = 0.5;
/// A change is told when it has lasted for so long, h: an edge that rests or hurries for a while looks like another course. Judged.
const LASTS_H: f64 = 1.0;

impl Bench {
    /// When it will be fully open as of `now`, while it is opening.
    pub(super) fn full_open_now(&self, now: Time) -> Option<FullOpenTimes> {
        let opening = self.opening().filter(|_| self.stage() == Some(Stage::Opening))?;
        opening.full_since.is_none().then(|| {
            let believed = opening.belief.as_ref().and_then(Belief::full_open);
            believed.map_or_else(
                || full_open_times(&opening.evidence, now, &self.spec.profile),
                |times| times.no_sooner_than(now),
            )
        })
    }

    /// The chance that what stands as an opening is one, 0 to 1, while the side ranger's samples tell of its course.
    pub(super) fn probability_opening(&self) -> Option<f64> {
        let opening = self.opening().filter(|_| self.stage() == Some(Stage::Opening))?;
        opening.belief.as_ref().map(|belief| rounded(belief.opens(&self.spec.profile), 3))
    }

    /// Says when it will be fully open, where that is not what was told last.
    pub(super) fn tell_full_open_revised(&mut self, now: Time, events: &mut Vec<Event>) {
        let believed = self.opening().and_then(|opening| Belief::full_open(opening.belief.as_ref()?));
        let Some(full_open) = believed.and_then(|_| self.full_open_now(now)) else { return };
        let Some(opening) = self.state.bloom.as_mut().and_then(|bloom| bloom.opening.as_mut()) else {
            return;
        };
        let Some(revision) = revision(&opening.full_open, &full_open) else {
            opening.revision = None;
            return;
        };
        let same = opening.revision.filter(|(before, _)| *before == revision);
        let (_, since) = *opening.revision.insert(same.unwrap_or((revision, now)));
        if now.hours_since(since) < LASTS_H {
            return;
        }
        opening.full_open = full_open;
        opening.revision = None;
        let event =
            self.event(now, EventKind::FullOpenRevised, Details::FullOpenRevised { full_open, revision });
        events.push(event);
    }
}

fn revision(told: &FullOpenTimes, now: &FullOpenTimes) -> Option<Revision> {
    let width_h = |times: &FullOpenTimes| times.latest.hours_since(times.earliest);
    let moved_h = now.likely.hours_since(told.likely);
    if moved_h.abs() > MOVED_H {
        Some(if moved_h < 0.0 { Revision::Sooner } else { Revision::Later })
    } else if width_h(now) <= SURER_SHARE * width_h(told) {
        Some(Revision::Surer)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hours after a midnight.
    fn times(earliest_h: f64, likely_h: f64, latest_h: f64) -> FullOpenTimes {
        let [earliest, likely, latest] =
            [earliest_h, likely_h, latest_h].map(|hours| Time::from_unix_ms(0).plus_hours(hours));
        FullOpenTimes { earliest, likely, latest }
    }

    #[test]
    fn three_quarters_of_an_hour_or_half_of_the_window_are_worth_a_word() {
        let told = times(20.0, 22.0, 26.0);
        for (now, expected) in [
            (told, None),
            (times(19.0, 21.3, 25.0), None),
            (times(19.0, 21.2, 25.0), Some(Revision::Sooner)),
            (times(20.5, 22.7, 26.5), None),
            (times(20.5, 22.8, 26.5), Some(Revision::Later)),
            (times(20.5, 22.0, 23.6), None),
            (times(20.5, 22.0, 23.5), Some(Revision::Surer)),
        ] {
            assert_eq!(revision(&told, &now), expected, "{now:?}");
        }
    }
}
