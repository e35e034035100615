//! Behind an opening alarm: whether what was taken for open grows on as a bud.

use super::Bench;
use super::growth::is_sure;
use crate::event::{Doubt, Event, NotOpening};
use crate::stage::Stage;
use crate::time::Time;

/// Growth behind an opening alarm is looked at this long after the crack, h: the same hours of a day, all after it. Judgement.
const GROWS_ON_AFTER_H: f64 = 34.0;
/// A flower that has opened hardly grows (tests/reference/series/disney_2004.csv: 1.2 cm in the three days after; Fairchild 2003 says
/// that its plants grew on). More than this share of the peak a day and a half later is the growth of a bud (judged).
const GROWS_ON_SHARE: f64 = 0.4;
/// A peak of fewer days than these before the crack may have been anything: the ranger was hung late.
const PEAK_DAYS: usize = 3;
/// Where the peak is not known, growth of more than this is worth a look, cm a day: over three times that of Disney 2004 (judged).
const GROWS_ON_CM_DAY: f64 = 1.5;
/// Where the peak is not known, growth of more than this is surely that of a bud, cm a day: a tip that sways or was knocked seems to grow
/// by up to two (judged; the weakest published peak is 5.1, Disney 2005).
const SURELY_GROWS_ON_CM_DAY: f64 = 4.0;

impl Bench {
    /// A flower that is open hardly grows. A bud that goes on as before behind an opening alarm was taken for open: by a person in
    /// the beam, by a mount that was knocked. While it may be open this is said and no more; once its hours are over the bud is
    /// watched again.
    pub(super) fn look_whether_it_grows_on(&mut self, now: Time, events: &mut Vec<Event>) {
        if self.stage() == Some(Stage::Closed) {
            if self.surely_grows_on(now) {
                self.stand_down_grown_on(now, events);
            }
        } else if self.grows_on(now, GROWS_ON_CM_DAY) {
            self.doubt(now, Doubt::GrowsOn, events);
        }
    }

    /// The hours of an opening are over, and it was none.
    pub(super) fn stand_down_grown_on(&mut self, now: Time, events: &mut Vec<Event>) {
        self.stand_down(now, NotOpening::GrowsOn, events);
        self.state.opening_watch.rest_at(now);
    }

    /// Whether it is sure that what opened goes on as a bud.
    pub(super) fn surely_grows_on(&self, now: Time) -> bool {
        self.grows_on(now, SURELY_GROWS_ON_CM_DAY)
    }

    /// Whether the plant grows on a day and a half behind the crack, and nobody saw it open. Where its peak is not known well, it
    /// must grow by so much.
    fn grows_on(&self, now: Time, least_cm_day: f64) -> bool {
        let Some((bloom, opening)) = self.state.bloom.as_ref().zip(self.opening()) else { return false };
        let began = opening.evidence.began;
        // by then a day's growth is growth after the crack alone
        if self.seen_open(began) || now.hours_since(began) < GROWS_ON_AFTER_H {
            return false;
        }
        let Some(growth) = self.daily_growth_by_ranger(now) else { return false };
        let days_before = bloom.growth.iter().filter(|day| day.until <= began).count();
        let least_m_h = match bloom.peak_m_h {
            Some(peak) if days_before >= PEAK_DAYS => GROWS_ON_SHARE * peak,
            peak => (GROWS_ON_SHARE * peak.unwrap_or_default()).max(least_cm_day / 2400.0),
        };
        growth.m_h > least_m_h
            && growth.m_h * 2400.0 >= 2.0 * self.spec.profile.bud_growth_cm_day
            && is_sure(growth)
    }
}
