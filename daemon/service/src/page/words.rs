//! Figures, times and stages in the words of the page. A figure that is not known is said to be so, never shown as zero.

use bloom_model::bench::BenchView;
use bloom_model::forecast::Tidings;
use bloom_model::quantity::measure::Measure;
use bloom_model::spec::{SiteSpec, Units};
use bloom_model::time::Time;
use bloom_text::when::{ago, brief_span, clock_seen_from};
use bloom_text::{figure, number};
use chrono_tz::Tz;

use crate::facts::{BenchFacts, ClimateFacts, Lies};

/// How a figure fares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mark {
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
    pub(crate) const fn class(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::Well => "well",
            Self::Beyond => "beyond",
            Self::FarBeyond => "far-beyond",
        }
    }

    /// The sign before the figure, for eyes that see no colour.
    pub(crate) const fn sign(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::Well => "✓ ",
            Self::Beyond => "▲ ",
            Self::FarBeyond => "▲▲ ",
        }
    }
}

/// A stage in a word or two.
pub(crate) fn stage(name: &str) -> &str {
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

/// The height, `1.32 m`.
pub(crate) fn height(state: Option<&BenchView>, units: Units) -> Option<String> {
    state?.growth.height_m.map(|metres| figure(Measure::Length, units, metres))
}

/// How tall a bud will stand when it opens, `1.62 to 2.05 m`, by the forecast that was told; nothing for one that has most likely stopped.
pub(crate) fn stands_at_opening(state: Option<&BenchView>, units: Units) -> Option<String> {
    let told = state?.outlook?.outlook;
    let height = told.height_at_opening_m.filter(|_| matches!(told.tidings(), Tidings::Opens { .. }))?;
    let high = figure(Measure::Length, units, height.high);
    Some(format!("{} to {high}", number(Measure::Length, units, height.low, 0)))
}

/// Growth over the last hour with its standard deviation, `0.31 ± 0.05 cm/h`.
pub(crate) fn growth_of_hour(state: Option<&BenchView>, units: Units) -> Option<String> {
    let growth = &state?.growth;
    rate(growth.growth_cm_hour?, growth.growth_cm_hour_sd, Measure::PerHour, units)
}

/// Growth over the last day with its standard deviation, `8.4 ± 0.6 cm/d`.
pub(crate) fn growth_of_day(state: Option<&BenchView>, units: Units) -> Option<String> {
    let growth = &state?.growth;
    let hourly = |cm_day: f64| cm_day / 24.0;
    rate(hourly(growth.growth_cm_day?), growth.growth_cm_day_sd.map(hourly), Measure::PerDay, units)
}

fn rate(cm_hour: f64, sd_cm_hour: Option<f64>, measure: Measure, units: Units) -> Option<String> {
    let said = |cm: f64| number(measure, units, cm / 100.0, 0);
    let within = sd_cm_hour.map_or(String::new(), |sd| format!(" ± {}", said(sd)));
    Some(format!("{}{within} {}", said(cm_hour), measure.unit(units)))
}

/// A total of degree-days, `312.4 °C·d`.
pub(crate) fn degree_days(total: f64, units: Units) -> String {
    figure(Measure::DegreeDays, units, total)
}

/// `likely 19:46`.
pub(crate) fn full_bloom(likely: Time, now: Time, zone: Tz) -> String {
    format!("likely {}", clock_seen_from(likely, now, zone))
}

/// A value, `27.3 °C`.
pub(crate) fn climate_value(facts: &ClimateFacts, units: Units) -> Option<String> {
    facts.value.map(|value| figure(facts.of.measure(), units, value))
}

/// Its limits, and where the value lies: `above 35.0`, `within 18.0 to 35.0`, `no limits`.
pub(crate) fn climate_limits(facts: &ClimateFacts, units: Units) -> (Mark, String) {
    let number = |value: f64| number(facts.of.measure(), units, value, 0);
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
pub(crate) fn newest(bench: &BenchFacts, silent: bool, now: Time) -> (Mark, String) {
    match bench.newest_reading {
        None => (Mark::Beyond, "none yet".to_owned()),
        Some(time) if silent => (Mark::Beyond, format!("silent for {}", brief_span(now - time))),
        Some(time) => (Mark::Plain, ago(time, now)),
    }
}

/// The site's name, with its zone's for those who look from elsewhere.
pub(crate) fn zone_note(site: &SiteSpec) -> String {
    format!("Times are those of {}. ± is one standard deviation.", site.timezone.name())
}

#[cfg(test)]
mod tests {
    use bloom_model::quantity::Variable;
    use bloom_model::spec::{Band, Bands};

    use super::*;

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
