//! What a caller may ask of a season. Whatever is not asked for is drawn from the published spreads.

use chrono::NaiveDate;

use crate::rim::OpeningShape;
use crate::side_loss::SideLoss;
use crate::trouble::{EdgeTrouble, Troubles};
use crate::truth::Outcome;

/// One bench and one season of it.
#[derive(Debug, Clone)]
pub struct SeasonOptions {
    /// The bench's id, as in recordings.
    pub bench: String,
    /// Seconds between two readings of the sensors, 1 to 3600.
    pub interval_s: u32,
    /// The overhead ranger, if there is one.
    pub tip: Option<RangerOptions>,
    /// The side ranger, if there is one.
    pub rim: Option<RangerOptions>,
    /// Whether there is a thermometer.
    pub temperature: bool,
    /// Whether there is a hygrometer.
    pub humidity: bool,
    /// Whether the spadix has a thermometer of its own.
    pub spadix_temperature: bool,
    /// Whether somebody tapes the height a few times a week.
    pub tape: bool,
    /// Whether somebody books the signs of a bud. Opening itself is never booked.
    pub signs: bool,
    /// Air pressure, kPa.
    pub pressure_kpa: f64,
    /// How the side ranger stops seeing the plant some time before the opening, if it does.
    pub side_loss: Option<SideLoss>,
    /// How long after a false opening alarm the grower has looked and books that the bud is closed, h; never if absent.
    pub answers_after_h: Option<f64>,
    /// What goes wrong.
    pub troubles: Troubles,
    /// What comes between the side ranger and the edge, if it is asked for.
    pub edge: Option<EdgeTrouble>,
    /// The rangers are hung so many days before the opening, or the end of growth: between these two. Else they hang all season.
    pub hung_d_before: Option<[f64; 2]>,
    /// What the plant is wished to do.
    pub plant: PlantWishes,
}

impl Default for SeasonOptions {
    fn default() -> Self {
        Self {
            bench: "east-3".to_owned(),
            interval_s: 60,
            tip: Some(RangerOptions { mount_m: 3.1, ..RangerOptions::default() }),
            rim: Some(RangerOptions { mount_m: 0.95, ..RangerOptions::default() }),
            temperature: true,
            humidity: true,
            spadix_temperature: false,
            tape: false,
            signs: false,
            pressure_kpa: 101.325,
            side_loss: None,
            answers_after_h: None,
            troubles: Troubles::NONE,
            edge: None,
            hung_d_before: None,
            plant: PlantWishes::default(),
        }
    }
}

/// A ranger and where it hangs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RangerOptions {
    /// Distance to the datum (overhead) or to the closed rim (side), m.
    pub mount_m: f64,
    /// The speed of sound that it assumes, m/s; `None` if it compensates by itself.
    pub assumed_speed_m_s: Option<f64>,
    /// It reports nothing nearer than this, m.
    pub blind_zone_m: f64,
    /// It hears no echo from further away than this, m.
    pub furthest_m: f64,
    /// Standard deviation of its white noise, m; `None` draws 0.5 to 3 mm (general knowledge of such rangers).
    pub noise_sd_m: Option<f64>,
    /// Echoes of which it reports the median, 1 or more.
    pub burst: u32,
    /// Steps of its output per metre: 1000 for whole millimetres.
    pub steps_per_m: f64,
}

impl Default for RangerOptions {
    fn default() -> Self {
        Self {
            mount_m: 1.0,
            assumed_speed_m_s: Some(343.2),
            blind_zone_m: 0.2,
            furthest_m: 5.0,
            noise_sd_m: None,
            burst: 1,
            steps_per_m: 1000.0,
        }
    }
}

/// Wishes for the plant; `None` is drawn. A wish changes what it names and leaves every other draw as it was.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct PlantWishes {
    /// What becomes of the bud.
    pub outcome: Option<Outcome>,
    /// Local date of emergence.
    pub emerges_on: Option<NaiveDate>,
    /// Days from emergence to opening.
    pub days_to_opening: Option<u32>,
    /// Local hour of the first crack.
    pub crack_hour: Option<f64>,
    /// Hours from first crack to full opening.
    pub hours_to_full: Option<f64>,
    /// Advance of the rim at full opening, m.
    pub full_advance_m: Option<f64>,
    /// The course of the opening.
    pub opening_shape: Option<OpeningShape>,
    /// Whether a gap opens and closes again the day before.
    pub gap_that_closes: Option<bool>,
    /// Whether hot afternoons slacken the spathe.
    pub slack: Option<bool>,
    /// Whether growth stands nearly still for days before opening.
    pub plateau: Option<bool>,
}
