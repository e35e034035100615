//! The hours of an open bloom: when to pollinate, when best, and when to collect pollen.

use chrono_tz::Tz;

use crate::event::{OpenHours, Window};
use crate::profile::Profile;
use crate::time::Time;

/// When to collect pollen, counted from the first crack.
pub fn collect(began: Time, profile: &Profile) -> Window {
    Window { from: began.plus_hours(profile.pollen_from_h), until: began.plus_hours(profile.pollen_until_h) }
}

/// When pollination is worth trying, counted from the first crack: a slow opening does not put it off.
pub fn receptive(began: Time, profile: &Profile) -> Window {
    Window {
        from: began.plus_hours(profile.receptive_from_h),
        until: began.plus_hours(profile.receptive_until_h),
    }
}

/// The hours of a bloom that cracked at `began`, as of `now`.
pub fn open_hours(began: Time, now: Time, profile: &Profile, zone: Tz) -> OpenHours {
    let receptive = receptive(began, profile);
    OpenHours {
        receptive,
        best: best_hours(&receptive, now, profile, zone),
        collect: collect(began, profile),
    }
}

/// The best hours of the night within a receptive window that are still to come; `None` where none are.
pub fn best_hours(receptive: &Window, now: Time, profile: &Profile, zone: Tz) -> Option<Window> {
    let (from_hour, until_hour) = (profile.receptive_best_from_hour, profile.receptive_best_until_hour);
    let earliest = receptive.from.max(now);
    let first = earliest.plus_hours(-24.0).local_date(zone);
    first.iter_days().take(5).find_map(|evening| {
        let morning = if until_hour > from_hour { evening } else { evening.succ_opt()? };
        let from = Time::at_local_hour(evening, from_hour, zone).max(earliest);
        let until = Time::at_local_hour(morning, until_hour, zone).min(receptive.until);
        (until > from).then_some(Window { from, until })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::opening::titan_arum;

    /// Local hours after the midnight before Wednesday 2 June 2027 in Halifax.
    fn at(hours: f64) -> Time {
        Time::from_unix_ms(1_811_905_200_000).plus_hours(hours)
    }

    #[test]
    fn the_best_hours_lie_within_the_window_or_are_not_named() {
        let profile = titan_arum();
        let window = |from: f64, until: f64| Window { from: at(from), until: at(until) };
        let best = |receptive, now| best_hours(&receptive, now, &profile, chrono_tz::America::Halifax);
        // opened at 02:00: receptive from 05:00 to 20:00 of the same day
        assert_eq!(best(window(5.0, 20.0), at(2.0)), Some(window(18.0, 20.0)));
        assert_eq!(best(window(3.0, 17.0), at(2.0)), None);
        assert_eq!(best(window(0.5, 15.0), at(0.0)), Some(window(0.5, 2.0)));
        let hours = |now| open_hours(at(14.0), now, &profile, chrono_tz::America::Halifax);
        assert_eq!(
            (hours(at(15.5)).receptive, hours(at(15.5)).collect),
            (window(17.0, 32.0), window(36.0, 74.0))
        );
        assert_eq!(hours(at(15.5)).best, Some(window(18.0, 26.0)));
        assert_eq!(hours(at(25.0)).best, Some(window(25.0, 26.0)));
        assert_eq!(hours(at(26.5)).best, None, "the best hours are over");
    }
}
