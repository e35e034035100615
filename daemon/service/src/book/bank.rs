//! The pollen bank: every lot against what is published of its taxon, the one to use first at the top.

use bloom_model::book::pollen::Lot;
use bloom_model::book::storage::{Keeps, Standing, weigh};
use bloom_model::time::Time;
use schemars::JsonSchema;
use serde::Serialize;

use super::HouseBook;

/// A lot with what is to be known of it now.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LotView {
    /// The lot.
    #[serde(flatten)]
    pub lot: Lot,
    /// Its taxon.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub taxon: Option<String>,
    /// Its age against the published figures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub keeps: Option<Keeps>,
}

impl LotView {
    /// Where it stands against the figures.
    pub fn standing(&self) -> Standing {
        self.keeps.as_ref().map_or(Standing::NoFigure, |keeps| keeps.standing)
    }
}

/// Every lot, in the order in which to use them: of those with portions left and within their figures the one first that comes
/// to its figure first; then those without a figure, oldest first; then those past it; then those of which nothing is left.
/// None is ever hidden.
pub fn bank(house: &HouseBook, now: Time) -> Vec<LotView> {
    let mut lots: Vec<LotView> = house.book.lots.values().map(|lot| lot_view(house, lot, now)).collect();
    lots.sort_by_key(|view| {
        let standing = match view.standing() {
            Standing::Within | Standing::Between => 0,
            Standing::NoFigure => 1,
            Standing::Past => 2,
        };
        let due = view.keeps.as_ref().and_then(|keeps| keeps.good_until).map(|(_, longest)| longest);
        (view.lot.left == 0, standing, due, view.lot.collected, view.lot.name.clone())
    });
    lots
}

/// One lot with what is to be known of it now.
pub(super) fn lot_view(house: &HouseBook, lot: &Lot, now: Time) -> LotView {
    let taxon = house.taxon(&lot.plant);
    let figures = house.husbandry(taxon.as_deref()).map_or(&[][..], |husbandry| &husbandry.storage);
    LotView { keeps: weigh(&lot.keepings(), figures, now), lot: lot.clone(), taxon }
}
