//! `[site]` and `[alarm]`: the glass-house, its hours and its ways of calling people.

use std::num::NonZeroU32;
use std::path::Path;
use std::sync::Arc;

use bloom_model::heat::{HeatLimits, SCALE_ENDS_C};
use bloom_model::spec::{SiteSpec, Units};
use chrono::TimeDelta;
use chrono_tz::{TZ_VARIANTS, Tz};
use toml::de::DeValue;

use super::files::Need;
use super::section::Section;
use super::value::{Read, between, command, one_of, pair, text, whole};

/// How people are called beside MQTT.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlarmConfig {
    /// A program that is run for each alarm, without a shell, with the event on standard input.
    pub command: Option<AlarmCommand>,
    /// Days between test alarms, [`Self::USUAL_TEST_EVERY_DAYS`] unless set; `None` is never.
    pub test_every_days: Option<NonZeroU32>,
}

impl AlarmConfig {
    /// Days between test alarms unless set.
    pub const USUAL_TEST_EVERY_DAYS: Option<NonZeroU32> = NonZeroU32::new(30);
}

/// A program and what it is given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlarmCommand {
    /// Its path, or a bare name that the system looks for.
    pub program: String,
    /// Its arguments.
    pub arguments: Vec<String>,
}

/// What `[alarm]` says, of which the model gets a part with the site.
pub(super) struct Alarm {
    pub(super) morning_hour: u32,
    pub(super) silent_after: TimeDelta,
    pub(super) heat: HeatLimits,
    pub(super) config: AlarmConfig,
}

const UNITS: [(&str, Units); 2] = [("metric", Units::Metric), ("us", Units::Us)];

/// Pressure where none is given, kPa: the standard atmosphere at sea level (ISO 2533).
const PRESSURE_KPA: f64 = 101.325;

impl Default for Alarm {
    fn default() -> Self {
        Self {
            morning_hour: 7,
            silent_after: TimeDelta::minutes(15),
            heat: HeatLimits::default(),
            config: AlarmConfig { command: None, test_every_days: AlarmConfig::USUAL_TEST_EVERY_DAYS },
        }
    }
}

/// Reads `[site]`.
pub(super) fn site(section: &mut Section<'_>, alarm: &Alarm) -> Option<SiteSpec> {
    let name = section.required("name", "\"saltmarsh\"", site_name);
    let timezone = section.required("timezone", "\"America/Halifax\"", timezone);
    let units = section.optional("units", one_of(&UNITS)).unwrap_or(Units::Metric);
    let pressure = between(50.0, 110.0, "kPa, the air pressure at the site's own altitude");
    let pressure_kpa = section.optional("pressure_kpa", pressure).unwrap_or(PRESSURE_KPA);
    Some(SiteSpec {
        name: name?,
        timezone: timezone?,
        units,
        pressure_kpa,
        morning_hour: alarm.morning_hour,
        silent_after: alarm.silent_after,
        heat: alarm.heat,
        test_alarms: alarm.config.test_every_days.is_some(),
    })
}

/// Reads `[alarm]`.
pub(super) fn alarm(section: &mut Section<'_>) -> Option<Alarm> {
    let usual = Alarm::default();
    let command = section.optional("command", command).map(|(program, arguments)| {
        // With a slash it is a path, without one a name: the same rule by which the system starts programs.
        let path =
            if program.contains('/') { section.path_of(&program) } else { Path::new(&program).to_owned() };
        section.names_file("command", &path, Need::Program);
        AlarmCommand { program: path.to_string_lossy().into_owned(), arguments }
    });
    let morning_hour = section.optional("morning_hour", whole(0, 23, "o'clock, local"));
    let silent_after = section.optional("silent_after_min", whole(1, 1440, "minutes"));
    let heat = section.optional("heat_index_c", pair(heat_index, "[39.4, 51.7]"));
    let test_every_days = section.optional("test_every_days", whole(0, 366, "days, where 0 is never"));
    Some(Alarm {
        morning_hour: morning_hour.unwrap_or(usual.morning_hour),
        silent_after: silent_after.map_or(usual.silent_after, |minutes| TimeDelta::minutes(minutes.into())),
        heat: heat.map_or(usual.heat, |(heat_c, great_heat_c)| HeatLimits { heat_c, great_heat_c }),
        config: AlarmConfig {
            command,
            test_every_days: test_every_days.map_or(usual.config.test_every_days, NonZeroU32::new),
        },
    })
}

/// A heat index at which people may be cautioned.
fn heat_index(value: f64) -> Read<f64> {
    Some(value).filter(|value| (25.0..=SCALE_ENDS_C).contains(value)).ok_or_else(|| {
        format!("a heat index of {value} °C says nothing: give two between 25 and {SCALE_ENDS_C:.1} °C, such as [39.4, 51.7]")
    })
}

/// A name that can be one level of a topic.
fn site_name(value: &DeValue<'_>) -> Read<Arc<str>> {
    let name = text(value)?;
    if name.contains(['/', '+', '#']) || name.starts_with('$') || name.trim() != name || name.len() > 64 {
        return Err(
            "cannot be a level of a topic: at most 64 bytes, no / + or #, no $ in front, no spaces around; \
                    write one such as \"saltmarsh\""
                .to_owned(),
        );
    }
    Ok(name.into())
}

fn timezone(value: &DeValue<'_>) -> Read<Tz> {
    let name = text(value)?;
    name.parse().map_err(|_| {
        format!("is no IANA time zone; the nearest names are {}", nearest_timezones(&name).join(", "))
    })
}

/// The three zones whose name, or whose city, is most like what was written.
fn nearest_timezones(name: &str) -> Vec<&'static str> {
    let city = |name: &str| name.rsplit('/').next().unwrap_or(name).to_lowercase().replace(' ', "_");
    let likeness = |zone: &Tz| {
        let whole = strsim::jaro_winkler(&name.to_lowercase(), &zone.name().to_lowercase());
        // The city decides: regions are few and written right more often.
        whole + 2.0 * strsim::jaro_winkler(&city(name), &city(zone.name()))
    };
    let mut zones: Vec<_> = TZ_VARIANTS.iter().map(|zone| (likeness(zone), zone.name())).collect();
    zones.sort_by(|a, b| b.0.total_cmp(&a.0));
    zones.into_iter().take(3).map(|(_, name)| name).collect()
}
