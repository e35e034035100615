//! The one sentence of an event: what, and what to do, for a lock screen at night.
//!
//! The first 60 characters of an alarm say what to do and where: a locked phone shows no more. Figures and reasons come after. What was
//! reckoned is not told as seen.

mod answer;
mod bud;
mod climate;
mod opening;
mod reason;
mod sensors;
mod signs;

use bloom_model::event::{Details, Event, EventKind, Severity};
use bloom_model::spec::SiteSpec;

use crate::words::Words;

pub(crate) use reason::reason;
pub(crate) use sensors::LOOK_SAFELY;

/// What to bring and how to go, wherever people are sent to an open bloom; the rest of the cautions is on tonight's sheet.
const TAKE_ALONG: &str = "Gloves, goggles, level ladder, not alone.";
/// What stands behind it, where there is room.
const AGAINST_SAP_IN_AN_EYE: &str = " Sap in an eye: rinse long, see a doctor.";

/// The sentence of an event, in the units and the local time of its site.
pub fn render(event: &Event, site: &SiteSpec) -> String {
    let bench = event.bench.as_deref().unwrap_or(&site.name);
    let words = Words::new(site, bench, event.plant.as_deref());
    let now = event.time;
    match &event.details {
        Details::Test {} => words.test(),
        Details::BudSeen(bud) => words.bud(bud),
        Details::Morning(morning) => words.morning(&morning.growth, morning.outlook.as_ref()),
        Details::Slowing(slowing) => words.slowing(slowing),
        Details::SlowingOver(over) => words.grows_again(over),
        Details::Opening(opening) => words.opening(opening),
        Details::StoodDown { why } => words.not_opening(*why),
        Details::Look { doubt } => words.look(*doubt),
        Details::FullOpenRevised { full_open, revision } => {
            words.full_open_revised(now, full_open, *revision)
        }
        Details::FullOpen(full) => words.fully_open(now, full),
        Details::ReceptiveEnding { receptive } => words.receptive_ending(receptive),
        Details::Collect { collect, likely } => words.pollen(now, collect, *likely),
        Details::Closed { by, after_h } => words.closed(*by, *after_h),
        Details::GivenUp { why } => words.given_up(*why),
        Details::FruitRipe {} => words.fruit_ripe(),
        Details::Spent {} => words.spent(),
        Details::Sign(sign) => words.recorded(sign),
        Details::UndatedSign { sign, sent_from, sent_until } => words.undated(sign, *sent_from, *sent_until),
        Details::Answer(answer) => words.answer(now, answer),
        Details::Climate(climate) if event.kind == EventKind::ClimateOver => {
            words.within(&climate.beyond, climate.still.as_ref())
        }
        Details::Climate(climate) => words.beyond(&climate.beyond, event.severity == Severity::Alarm, now),
        Details::Heat(heat) if event.kind == EventKind::HeatOver => words.extreme_heat_over(&heat.air),
        Details::Heat(heat) if event.severity == Severity::Alarm => words.extreme_heat(&heat.air),
        Details::Heat(heat) => words.heat(&heat.air),
        Details::Sensor(sensor) => match event.kind {
            EventKind::SensorSilent => words.silent(sensor),
            EventKind::SensorStuck => words.stuck(sensor),
            _ => words.back(&sensor.quantities),
        },
        Details::Edge(edge) if event.kind == EventKind::EdgeNotSeenOver => words.edge_seen(edge.waited_for),
        Details::Edge(edge) => words.edge_not_seen(edge, now),
        Details::Trouble { what, since, trouble } => words.trouble(trouble, what, *since),
    }
}
