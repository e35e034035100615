//! Fruit on the plants: when it will be ripe, by what is published and by the house's own records, in days and in degree-days.

use bloom_model::book::cross::Cross;
use bloom_model::book::entry::{Colour, Part};
use bloom_model::book::husbandry::ColourFigure;
use bloom_model::book::ripening::{FruitHeat, OwnRipening, Ripening, forecast};
use bloom_model::degree_days::{Cutoff, RecordDegreeDays, Rule, Thresholds};
use bloom_model::event::Window;
use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::time::Time;
use serde::Serialize;

use super::HouseBook;
use crate::store::{Reader, StoreError, Which};

/// Readings of temperature further apart than this leave a gap in the degree-days, h: as the bench itself counts them.
const GAP_H: f64 = 3.0;
/// Degree-days of a fruit that ripened count where the record covers this share of its days. Judgement.
const COVERED_SHARE: f64 = 0.9;
/// From the top coming to red until the bottom is overripe, days. Judgement: no source gives the span, only that ripening goes
/// from the top down (Hyndman on Amorphophallus paeoniifolius, http://www.aroid.org/pollination/hyndman/24.php).
const HARVEST_D: f64 = 21.0;

/// A cross with the forecast of its fruit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FruitView {
    /// The cross.
    #[serde(flatten)]
    pub cross: Cross,
    /// Berries at the newest count, less losses since.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub berries: Option<u32>,
    /// When it will be ripe; left out once it is, and where nothing is known of the taxon.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ripening: Option<Ripening>,
    /// Colours that were published, with the days from pollination.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub colours_published: Vec<ColourFigure>,
    /// When to harvest: from the first red at the top, or from ripe as booked; from the top down.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub harvest: Option<Window>,
    /// Seeds counted that are not sown: sow them fresh.
    pub unsown: u32,
}

/// The fruit of all crosses, or of one; what still grows first, oldest first.
///
/// # Errors
/// If the temperatures cannot be read.
pub fn fruit(
    house: &HouseBook,
    reader: Option<&Reader>,
    only: Option<&str>,
    now: Time,
) -> Result<Vec<FruitView>, StoreError> {
    let mut views = Vec::new();
    for cross in house.book.crosses.values().filter(|cross| only.is_none_or(|only| cross.name == only)) {
        views.push(view(house, reader, cross, now)?);
    }
    views.sort_by_key(|view| (!view.cross.fruit.is_growing(), view.cross.made, view.cross.name.clone()));
    Ok(views)
}

fn view(
    house: &HouseBook,
    reader: Option<&Reader>,
    cross: &Cross,
    now: Time,
) -> Result<FruitView, StoreError> {
    let fruit = &cross.fruit;
    let taxon = house.taxon(&cross.mother);
    let husbandry = house.husbandry(taxon.as_deref());
    let ripening = if fruit.is_growing() {
        let own = own_records(house, reader, taxon.as_deref(), &cross.name)?;
        let heat = heat(house, reader, cross, now)?;
        forecast(cross.made, now, husbandry, own, heat)
    } else {
        None
    };
    let red_at_the_top = fruit
        .colours
        .iter()
        .find(|seen| seen.colour == Colour::Red && matches!(seen.part, Part::Top | Part::All))
        .map(|seen| seen.time);
    let from = [red_at_the_top, fruit.ripe].into_iter().flatten().min();
    let counted: u32 = fruit.seeds.iter().map(|count| count.count).sum();
    Ok(FruitView {
        berries: fruit.berries(),
        ripening,
        colours_published: if fruit.is_growing() {
            husbandry.map(|known| known.colours.clone()).unwrap_or_default()
        } else {
            Vec::new()
        },
        harvest: from
            .filter(|_| fruit.harvests.is_empty())
            .map(|from| Window { from, until: from.plus_hours(24.0 * HARVEST_D) }),
        unsown: counted.saturating_sub(fruit.sown()),
        cross: cross.clone(),
    })
}

/// What ripened in this house on plants of the same taxon.
fn own_records(
    house: &HouseBook,
    reader: Option<&Reader>,
    taxon: Option<&str>,
    but: &str,
) -> Result<Vec<OwnRipening>, StoreError> {
    let mut own = Vec::new();
    for cross in house.book.crosses.values().filter(|cross| cross.name != but) {
        let Some(ripened) = cross.fruit.ripened() else { continue };
        if house.taxon(&cross.mother).as_deref() != taxon {
            continue;
        }
        let days = ripened.days_since(cross.made);
        let heat = heat(house, reader, cross, ripened)?;
        let degree_days =
            heat.filter(|heat| heat.covered_days >= COVERED_SHARE * days).map(|heat| heat.degree_days);
        own.push(OwnRipening { cross: cross.name.clone(), days, degree_days });
    }
    own.sort_by(|one, other| one.cross.cmp(&other.cross));
    Ok(own)
}

/// The heat that a fruit had at its bench from pollination on.
fn heat(
    house: &HouseBook,
    reader: Option<&Reader>,
    cross: &Cross,
    until: Time,
) -> Result<Option<FruitHeat>, StoreError> {
    let bench = cross.bench.as_deref().and_then(|bench| house.bench(bench));
    let (Some(bench), Some(reader)) = (bench, reader) else { return Ok(None) };
    let profile = &bench.profile;
    let thresholds = Thresholds { lower_c: profile.base_temperature_c, upper_c: profile.upper_temperature_c };
    let mut total = RecordDegreeDays::new(Rule { thresholds, cutoff: Cutoff::Horizontal }, GAP_H);
    let which = Which::Quantity(Quantity::Temperature);
    reader.readings(&bench.id, which, cross.made, until, |recorded| {
        if let Observed::Value(_, temperature_c) = recorded.observed {
            total.take(recorded.time, temperature_c);
        }
    })?;
    let (degree_days, covered_days) = (total.degree_days(), total.covered_days());
    Ok((covered_days > 0.0).then(|| FruitHeat {
        degree_days,
        covered_days,
        a_day: degree_days / covered_days,
    }))
}
