//! The one sentence of an event: what, and what to do, for a lock screen at night.

use chrono_tz::Tz;

use crate::event::{FullOpenTimes, OpeningDates, Window};
use crate::profile::Profile;
use crate::spec::{SiteSpec, Units};
use crate::time::Time;

/// What a test alarm says, of a bench or of the site.
pub const TEST_MESSAGE: &str =
    "TEST ALARM, nothing is wrong. Acknowledge it now, so that we know that somebody is reached.";

/// The words of one bench: its name, its site's units and local time.
#[derive(Debug, Clone, Copy)]
pub struct Words<'a> {
    site: &'a SiteSpec,
    bench: &'a str,
    plant: Option<&'a str>,
}

impl<'a> Words<'a> {
    /// Words for a bench of a site.
    pub const fn new(site: &'a SiteSpec, bench: &'a str, plant: Option<&'a str>) -> Self {
        Self { site, bench, plant }
    }

    /// The bench and its plant: `east-3 (AT-0412)`.
    pub fn who(&self) -> String {
        match self.plant {
            Some(plant) => format!("{} ({plant})", self.bench),
            None => self.bench.to_owned(),
        }
    }

    const fn zone(&self) -> Tz {
        self.site.timezone
    }

    /// Local time of day, `16:15`.
    pub fn clock(&self, time: Time) -> String {
        time.utc().with_timezone(&self.zone()).format("%H:%M").to_string()
    }

    /// Local weekday and time, `Wed 16:15`.
    pub fn day_clock(&self, time: Time) -> String {
        time.utc().with_timezone(&self.zone()).format("%a %H:%M").to_string()
    }

    /// Local date and time with the year, `2 Jun 2027 16:15`: for clocks that may be years off.
    pub fn date_clock(&self, time: Time) -> String {
        time.utc().with_timezone(&self.zone()).format("%-d %b %Y %H:%M").to_string()
    }

    /// A length of centimetres: `12.7 cm` or `5.0 in`.
    pub fn centimetres(&self, metres: f64) -> String {
        let units = self.site.units;
        let unit = if units == Units::Metric { "cm" } else { "in" };
        format!("{:.1} {unit}", units.growth(metres))
    }

    /// A height: `1.84 m` or `72.5 in`.
    pub fn height(&self, metres: f64) -> String {
        let height = self.site.units.height(metres);
        match self.site.units {
            Units::Metric => format!("{height:.2} m"),
            Units::Us => format!("{height:.1} in"),
        }
    }

    /// A temperature: `14.2 °C` or `57.6 °F`.
    pub fn temperature(&self, celsius: f64) -> String {
        let units = self.site.units;
        let unit = if units == Units::Metric { "°C" } else { "°F" };
        format!("{:.1} {unit}", units.degrees(celsius))
    }

    /// `about Wed 21:00 (19:10 to 23:30)`.
    pub fn full_open(&self, times: &FullOpenTimes) -> String {
        format!(
            "about {} ({} to {})",
            self.day_clock(times.likely),
            self.clock(times.earliest),
            self.clock(times.latest)
        )
    }

    /// `from Wed 16:40 until Thu 07:40`.
    pub fn window(&self, window: &Window) -> String {
        format!("from {} until {}", self.day_clock(window.from), self.day_clock(window.until))
    }

    /// `likely 3 June (1 to 7 June)`.
    pub fn dates(&self, opens: &OpeningDates) -> String {
        let day = |date: chrono::NaiveDate| date.format("%-d %b").to_string();
        format!("likely {} ({} to {})", day(opens.likely), day(opens.earliest), day(opens.latest))
    }

    /// The best hours of the night for pollination, `18:00 to 02:00`.
    pub fn best_hours(&self, profile: &Profile) -> String {
        let hour = |value: f64| format!("{:02.0}:{:02.0}", value.floor(), (value.fract() * 60.0).round());
        format!("{} to {}", hour(profile.receptive_best_from_hour), hour(profile.receptive_best_until_hour))
    }
}
