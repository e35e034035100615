//! What is published about a taxon's pollen and fruit. It lives in the profiles, with a source beside every figure.

use serde::Serialize;

use super::entry::Colour;
use super::storage::StorageFigure;

/// Figures of a taxon; a list is empty where nobody has published any.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Husbandry {
    /// The scientific name.
    pub taxon: String,
    /// How long its pollen keeps.
    pub storage: Vec<StorageFigure>,
    /// How long its fruit takes to ripen.
    pub ripening: Vec<RipeningFigure>,
    /// When its berries have been seen to colour.
    pub colours: Vec<ColourFigure>,
}

/// What one source says about the time from pollination to ripe fruit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RipeningFigure {
    /// Days; of a span the lower end.
    pub days: f64,
    /// Days; of a span the upper end, else the same.
    pub days_at_most: f64,
    /// Growers say so and no publication was found: it stands beside the published range, not in it.
    pub common_practice: bool,
    /// Who says so.
    pub source: String,
}

/// When berries have been seen to come to a colour.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ColourFigure {
    /// The colour.
    pub colour: Colour,
    /// Days from pollination.
    pub days: f64,
    /// Who says so.
    pub source: String,
}
