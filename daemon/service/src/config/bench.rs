//! `[[bench]]`: a watched place, its rangers, its limits and its kind of plant.

use std::sync::Arc;

use bloom_model::profile::Profile;
use bloom_model::quantity::{LimitRow, Quantity, Variable};
use bloom_model::spec::{Band, Bands, BenchSpec, Limits, Mount};
use toml::de::DeValue;

use super::profile::{Profiles, bounds_of};
use super::section::{Once, Section};
use super::value::{Read, between, flag, number, one_of, pair, text};

/// A bench as configured.
#[derive(Debug, Clone)]
pub struct BenchConfig {
    /// What the model needs to know.
    pub spec: BenchSpec,
    /// Where heights are measured from.
    pub height_datum: HeightDatum,
}

/// Where heights are measured from: one plant differs by tens of centimetres between soil and tuber.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeightDatum {
    /// The lip of the pot, unless set.
    PotRim,
    /// The surface of the soil.
    Soil,
    /// The top of the tuber.
    Tuber,
}

const DATA: [(&str, HeightDatum); 3] =
    [("pot-rim", HeightDatum::PotRim), ("soil", HeightDatum::Soil), ("tuber", HeightDatum::Tuber)];

impl HeightDatum {
    /// The name in words for a message.
    pub const fn words(self) -> &'static str {
        match self {
            Self::PotRim => "the lip of the pot",
            Self::Soil => "the soil",
            Self::Tuber => "the top of the tuber",
        }
    }
}

/// What a ranger assumes unless told: the speed of sound in dry air at 20 °C, m/s.
const ASSUMED_SPEED_M_S: f64 = 343.2;

/// Names of the site itself in topics and readings, which a bench of the same name would be taken for.
const RESERVED: [&str; 7] = ["daemon", "event", "alarm", "acknowledge", "say", "mains", "battery"];

/// Reads one `[[bench]]`; `seen` holds the ids of those before it.
pub(super) fn bench(
    section: &mut Section<'_>,
    seen: &mut Once<Arc<str>>,
    profiles: &mut Profiles,
) -> Option<BenchConfig> {
    let id: Option<Arc<str>> = section.required("id", "\"east-3\"", id).map(Arc::from);
    if let Some(id) = &id {
        seen.take(section, "id", Arc::clone(id), "give every bench an id of its own");
    }
    let plant = section.optional("plant", text).map(Arc::from);
    let name = section.required("profile", "\"titan-arum\"", text);
    let profile = name.and_then(|name| profiles.find(&name, section));
    let height_datum = section.optional("height_datum", one_of(&DATA)).unwrap_or(HeightDatum::PotRim);
    let tip = section.table("tip", |tip| {
        let to = format!("the distance straight down to {}", height_datum.words());
        mount(tip, "mount_height_m", Quantity::TipRange, "3.100", &to)
    });
    let rim = section.table("rim", |rim| {
        mount(
            rim,
            "mount_distance_m",
            Quantity::RimRange,
            "0.950",
            "the distance to the edge of the closed spathe",
        )
    });
    let limits = section.table("limits", limits).unwrap_or_default();
    let profile = overridden(section, profile);
    let spec = BenchSpec { id: id?, plant, profile: profile?, tip, rim, limits, earlier: Vec::new() };
    Some(BenchConfig { spec, height_datum })
}

fn id(value: &DeValue<'_>) -> Read<String> {
    const LONGEST: usize = 64;
    let id = text(value)?;
    if RESERVED.contains(&id.as_str()) {
        return Err(
            "is a name of the site itself, in its topics or its readings; give the bench another id, such as \"east-3\""
                .to_owned(),
        );
    }
    if id.len() > LONGEST || !id.bytes().all(|byte| matches!(byte, b'a'..=b'z' | b'0'..=b'9' | b'-')) {
        return Err(format!("is no id: at most {LONGEST} of a-z, 0-9 and -, such as \"east-3\""));
    }
    Ok(id)
}

fn mount(
    section: &mut Section<'_>,
    key: &'static str,
    quantity: Quantity,
    example: &str,
    to: &str,
) -> Option<Mount> {
    let distance_m = section.required(key, example, |value| {
        let distance_m = number(value)?;
        quantity.possible(distance_m).map_err(|impossible| {
            let remedy = format!("give {to} in metres, such as {example}");
            if distance_m <= 0.0 {
                format!("a ranger cannot hang at {distance_m} m; {remedy}")
            } else {
                format!("a ranger cannot hang at {distance_m} m, for {impossible}; {remedy}")
            }
        })
    });
    let speed = between(300.0, 400.0, "m/s, the speeds of sound in air that a ranger may assume");
    let speed = section.optional("assumed_speed_m_s", speed);
    let compensated = section.optional("compensated", flag).unwrap_or(false);
    if compensated && speed.is_some() {
        section.fault(
            "assumed_speed_m_s",
            "contradicts compensated = true: a ranger that compensates assumes no one speed; keep one of the two",
        );
    }
    let assumed_speed_m_s = (!compensated).then_some(speed.unwrap_or(ASSUMED_SPEED_M_S));
    Some(Mount { distance_m: distance_m?, assumed_speed_m_s })
}

fn limits(section: &mut Section<'_>) -> Option<Limits> {
    let mut limits = Limits::default();
    for (variable, keys) in Variable::limited() {
        limits[variable] = bands(section, variable, keys);
    }
    Some(limits)
}

/// The limits beyond which a quantity is a warning, and those beyond which it is an alarm.
fn bands(section: &mut Section<'_>, variable: Variable, keys: &'static LimitRow) -> Bands {
    let possible = |value| variable.possible(value).map_err(|impossible| impossible.to_string());
    let mut band =
        |key| section.optional(key, pair(possible, keys.example)).map(|(from, to)| Band { from, to });
    let (warning, alarm) = (band(keys.warning_key), band(keys.alarm_key));
    for (key, band) in [(keys.warning_key, warning), (keys.alarm_key, alarm)] {
        if keys.below.is_none() && band.is_some_and(|band| band.from > variable.lowest()) {
            let (lowest, short) = (variable.lowest(), variable.short());
            section.fault(
                key,
                format!("must begin at {lowest}, such as {}: of {short} only too much is told", keys.example),
            );
        }
    }
    if let (Some(warning), Some(alarm)) = (warning, alarm)
        && !(alarm.holds(warning.from) && alarm.holds(warning.to))
    {
        let why = format!("must enclose {}, for an alarm is graver than a warning", keys.warning_key);
        section.fault(keys.alarm_key, why);
    }
    Bands { warning, alarm }
}

/// Reads `override` onto a profile; its keys are checked even where the profile itself was not found.
fn overridden(section: &mut Section<'_>, mut profile: Option<Profile>) -> Option<Profile> {
    section.table("override", |numbers| {
        for key in Profile::KEYS {
            let value = numbers.optional(key, number);
            if let (Some(profile), Some(value)) = (&mut profile, value)
                && let Err(fault) = profile.set(key, value)
            {
                numbers.fault(key, bounds_of(&fault));
            }
        }
        Some(())
    });
    profile
}
