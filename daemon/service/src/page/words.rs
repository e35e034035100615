//! Figures, times and stages in the words of the page. A figure that is not known is said to be so, never shown as zero.

use bloom_model::bench::BenchView;
use bloom_model::quantity::measure::Measure;
use bloom_model::spec::{SiteSpec, Units};
use bloom_model::time::Time;
use chrono::Datelike;
use chrono_tz::Tz;

use crate::facts::{BenchFacts, ClimateFacts, Lies};

/// How a figure fares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mark {
    /// Not judged.
    Plain,
    /// As it should be.
    Well,
    /// To be looked at.
    Beyond,
    /// To be acted on.
    FarBeyond,
}

impl Mark {
    /// The class in the style sheet.
    pub(super) const fn class(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::Well => "well",
            Self::Beyond => "beyond",
            Self::FarBeyond => "far-beyond",
        }
    }

    /// The sign before the figure, for eyes that see no colour.
    pub(super) const fn sign(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::Well => "✓ ",
            Self::Beyond => "▲ ",
            Self::FarBeyond => "▲▲ ",
        }
    }
}

/// A stage in a word or two.
pub(super) fn stage(name: &str) -> &str {
    match name {
        "bud" => "in bud",
        "slowing" => "in bud, slowing",
        "full-open" => "fully open",
        "pollen-shed" => "sheds pollen",
        "fruiting" => "in fruit",
        "aborted" => "given up, still watched",
        other => other,
    }
}

/// `4 s`, `12 min`, `3 h`, `2 d`.
pub(super) fn span(seconds: i64) -> String {
    match seconds.max(0) {
        seconds if seconds < 100 => format!("{seconds} s"),
        seconds if seconds < 100 * 60 => format!("{} min", seconds / 60),
        seconds if seconds < 48 * 3600 => format!("{} h", seconds / 3600),
        seconds => format!("{} d", seconds / 86_400),
    }
}

/// How long ago.
pub(super) fn ago(time: Time, now: Time) -> String {
    format!("{} ago", span((now - time).num_seconds()))
}

/// Local time of day today, `16:15`; with the day before that, `Tue 16:15`, and with the date beyond a week.
pub(super) fn clock(time: Time, now: Time, zone: Tz) -> String {
    let local = time.utc().with_timezone(&zone);
    let days = (now.local_date(zone) - time.local_date(zone)).num_days();
    let form = match days {
        0 => "%H:%M",
        -6..=6 => "%a %H:%M",
        _ if local.year() == now.local_date(zone).year() => "%-d %b %H:%M",
        _ => "%-d %b %Y %H:%M",
    };
    local.format(form).to_string()
}

/// Local time of day to the second, `22:04:09`.
pub(super) fn clock_s(time: Time, zone: Tz) -> String {
    time.utc().with_timezone(&zone).format("%H:%M:%S").to_string()
}

/// The height, `1.32 m`.
pub(super) fn height(state: Option<&BenchView>, units: Units) -> Option<String> {
    state?.growth.height_m.map(|metres| Measure::Length.text(units, metres))
}

/// Growth over the last hour with its standard deviation, `0.31 ± 0.05 cm/h`.
pub(super) fn growth_of_hour(state: Option<&BenchView>, units: Units) -> Option<String> {
    let growth = &state?.growth;
    rate(growth.growth_cm_hour?, growth.growth_cm_hour_sd, Measure::PerHour, units)
}

/// Growth over the last day with its standard deviation, `8.4 ± 0.6 cm/d`.
pub(super) fn growth_of_day(state: Option<&BenchView>, units: Units) -> Option<String> {
    let growth = &state?.growth;
    let hourly = |cm_day: f64| cm_day / 24.0;
    rate(hourly(growth.growth_cm_day?), growth.growth_cm_day_sd.map(hourly), Measure::PerDay, units)
}

fn rate(cm_hour: f64, sd_cm_hour: Option<f64>, measure: Measure, units: Units) -> Option<String> {
    let number = |cm: f64| measure.number(units, cm / 100.0, 0);
    let within = sd_cm_hour.map_or(String::new(), |sd| format!(" ± {}", number(sd)));
    Some(format!("{}{within} {}", number(cm_hour), measure.unit(units)))
}

/// A total of degree-days, `312.4 °C·d`.
pub(super) fn degree_days(total: f64, units: Units) -> String {
    Measure::DegreeDays.text(units, total)
}

/// `likely 19:46`.
pub(super) fn full_bloom(likely: Time, now: Time, zone: Tz) -> String {
    format!("likely {}", clock(likely, now, zone))
}

/// A value, `27.3 °C`.
pub(super) fn climate_value(facts: &ClimateFacts, units: Units) -> Option<String> {
    facts.value.map(|value| facts.of.measure().text(units, value))
}

/// Its limits, and where the value lies: `above 35.0`, `within 18.0 to 35.0`, `no limits`.
pub(super) fn climate_limits(facts: &ClimateFacts, units: Units) -> (Mark, String) {
    let number = |value: f64| facts.of.measure().number(units, value, 0);
    let range = |(from, to): (f64, f64)| format!("{} to {}", number(from), number(to));
    let end =
        |pick: fn((f64, f64)) -> f64, of: Option<(f64, f64)>| of.map(pick).map_or(String::new(), number);
    let known = facts.limits.or(facts.alarm_limits);
    match facts.lies {
        None => (
            Mark::Plain,
            known.map_or("no limits set".to_owned(), |limits| format!("limits {}", range(limits))),
        ),
        Some(Lies::Within) => {
            (Mark::Well, known.map_or(String::new(), |limits| format!("within {}", range(limits))))
        }
        Some(Lies::Below) => (Mark::Beyond, format!("below {}", end(|ends| ends.0, facts.limits))),
        Some(Lies::Above) => (Mark::Beyond, format!("above {}", end(|ends| ends.1, facts.limits))),
        Some(Lies::FarBelow) => {
            (Mark::FarBeyond, format!("far below, under {}", end(|ends| ends.0, facts.alarm_limits)))
        }
        Some(Lies::FarAbove) => {
            (Mark::FarBeyond, format!("far above, over {}", end(|ends| ends.1, facts.alarm_limits)))
        }
    }
}

/// The age of a bench's newest reading; `silent` where that is too long.
pub(super) fn newest(bench: &BenchFacts, silent: bool, now: Time) -> (Mark, String) {
    match bench.newest_reading {
        None => (Mark::Beyond, "none yet".to_owned()),
        Some(time) if silent => (Mark::Beyond, format!("silent for {}", span((now - time).num_seconds()))),
        Some(time) => (Mark::Plain, ago(time, now)),
    }
}

/// The site's name, with its zone's for those who look from elsewhere.
pub(super) fn zone_note(site: &SiteSpec) -> String {
    format!("Times are those of {}. ± is one standard deviation.", site.timezone.name())
}

#[cfg(test)]
mod tests {
    use bloom_model::quantity::Variable;
    use bloom_model::spec::{Band, Bands};

    use super::*;

    #[test]
    fn spans_are_said_in_one_unit() {
        assert_eq!(span(4), "4 s");
        assert_eq!(span(99 * 60), "99 min");
        assert_eq!(span(100 * 60), "1 h");
        assert_eq!(span(3 * 86_400), "3 d");
        assert_eq!(span(-3), "0 s", "a clock that was set back");
    }

    #[test]
    fn a_value_is_said_with_the_limit_that_it_passed() {
        let band = |from, to| Some(Band { from, to });
        let bands = Bands { warning: band(18.0, 35.0), alarm: band(15.0, 42.0) };
        let of = |value| ClimateFacts::new(Variable::TEMPERATURE, Some(value), bands);
        let said = |value| climate_limits(&of(value), Units::Metric);
        assert_eq!(said(27.0), (Mark::Well, "within 18.0 to 35.0".to_owned()));
        assert_eq!(said(36.0), (Mark::Beyond, "above 35.0".to_owned()));
        assert_eq!(said(14.0), (Mark::FarBeyond, "far below, under 15.0".to_owned()));
        assert_eq!(climate_limits(&of(36.0), Units::Us).1, "above 95.0");
    }
}
