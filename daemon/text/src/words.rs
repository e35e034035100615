//! How dates, times, chances and figures are said to people.

use bloom_model::event::FullOpenTimes;
use bloom_model::forecast::{OpeningDates, Outlook, Tidings};
use bloom_model::quantity::measure::Measure;
use bloom_model::spec::SiteSpec;
use bloom_model::time::Time;
use chrono::Datelike;
use chrono_tz::Tz;

use crate::figure::figure;
use crate::when;

/// `likely 3 Jun (1 to 7 Jun)`, `likely 1 Jun (30 May to 2 Jun)`, or `3 Jun` where the window is that one day.
pub fn dates(opens: &OpeningDates) -> String {
    let OpeningDates { earliest, likely, latest } = *opens;
    let day = |date| when::short_date(date, false);
    if earliest == latest {
        return day(likely);
    }
    let one_month = (earliest.year(), earliest.month()) == (latest.year(), latest.month());
    let first = if one_month { earliest.day().to_string() } else { day(earliest) };
    format!("likely {} ({first} to {})", day(likely), day(latest))
}

/// A chance in whole per cent; below one of them and above 99 in words, for neither is certain.
pub fn percent(chance: f64) -> String {
    match chance * 100.0 {
        percent if percent < 1.0 => "under 1 %".to_owned(),
        percent if percent > 99.0 => "over 99 %".to_owned(),
        percent => format!("{percent:.0} %"),
    }
}

/// `tonight 16 %, opens likely 29 May (28 to 30 May)`, with the chance that it never opens where that is worth a word; or
/// `most likely stopped (95 %), look at it`. `tonight` left out is left out.
pub fn outlook(outlook: &Outlook, with_tonight: bool) -> String {
    match outlook.tidings() {
        Tidings::Stopped(never) => format!("most likely stopped ({}), look at it", percent(never)),
        Tidings::Opens { dates: opens, tonight, never } => {
            let tonight =
                if with_tonight { format!("tonight {}, ", percent(tonight)) } else { String::new() };
            let never = never.map_or(String::new(), |never| {
                format!(", if it opens at all (chance that it never does {})", percent(never))
            });
            format!("{tonight}opens {}{never}", dates(&opens))
        }
    }
}

/// The words of one bench: its name, its site's units and local time.
#[derive(Debug, Clone, Copy)]
pub struct Words<'a> {
    pub(crate) site: &'a SiteSpec,
    pub(crate) bench: &'a str,
    plant: Option<&'a str>,
}

impl<'a> Words<'a> {
    /// Words for a bench of a site.
    pub const fn new(site: &'a SiteSpec, bench: &'a str, plant: Option<&'a str>) -> Self {
        Self { site, bench, plant }
    }

    const fn zone(&self) -> Tz {
        self.site.timezone
    }

    /// ` AT-0412.`, or nothing where the plant has no label.
    pub(crate) fn of_plant(&self) -> String {
        self.plant.map_or(String::new(), |plant| format!(" {plant}."))
    }

    /// Local time of day, `16:15`.
    pub fn clock(&self, time: Time) -> String {
        when::clock(time, self.zone())
    }

    /// Local time of day, with its weekday where that is not the day of `beside`: `16:15` or `Tue 16:15`.
    pub fn clock_on(&self, time: Time, beside: Time) -> String {
        let same_day = time.local_date(self.zone()) == beside.local_date(self.zone());
        if same_day { self.clock(time) } else { self.day_clock(time) }
    }

    /// Local weekday and time, `Wed 16:15`.
    pub fn day_clock(&self, time: Time) -> String {
        when::day_clock(time, self.zone())
    }

    /// Local weekday and time of the last days, `Wed 16:15`; what is older is a date, `6 Aug`.
    pub fn day_clock_or_date(&self, time: Time, now: Time) -> String {
        when::day_clock_or_date(time, now, self.zone())
    }

    /// Local date and time with the year, `2 Jun 2027 16:15`: for clocks that may be years off.
    pub fn date_clock(&self, time: Time) -> String {
        when::date_clock(time, self.zone(), true)
    }

    /// A length of centimetres: `12.7 cm` or `5.0 in`.
    pub fn centimetres(&self, metres: f64) -> String {
        figure(Measure::Advance, self.site.units, metres)
    }

    /// A height: `1.84 m` or `72.5 in`.
    pub fn height(&self, metres: f64) -> String {
        figure(Measure::Length, self.site.units, metres)
    }

    /// A temperature: `14.2 °C` or `57.6 °F`.
    pub fn temperature(&self, celsius: f64) -> String {
        figure(Measure::Temperature, self.site.units, celsius)
    }

    /// A difference of temperatures: `4.2 °C` or `7.6 °F`.
    pub fn degrees_of_difference(&self, kelvin: f64) -> String {
        figure(Measure::Difference, self.site.units, kelvin)
    }

    /// When it will be fully open, as of `now`: `about Wed 21:00 (19:10 to Thu 01:30)`, `by now, most likely (at the latest Thu 01:30)`.
    pub fn full_open(&self, times: &FullOpenTimes, now: Time) -> String {
        let likely = times.likely;
        if likely <= now {
            return format!("by now, most likely (at the latest {})", self.day_clock(times.latest.max(now)));
        }
        format!(
            "about {} ({} to {})",
            self.day_clock(likely),
            self.clock_on(times.earliest, likely),
            self.clock_on(times.latest, likely)
        )
    }
}
