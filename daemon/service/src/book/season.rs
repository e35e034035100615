//! Next time: a bloom against the earlier ones of its plant and of the house, and what was booked of it and what was missed.

use std::sync::Arc;

use bloom_model::bloom::life::Stages;
use bloom_model::book::bloom::BloomRecord;
use bloom_model::book::cross::Cross;
use bloom_model::book::plant::Weighing;
use bloom_model::book::pollen::Lot;
use bloom_model::book::season::{Durations, Spread, spread};
use bloom_model::sign::PlainSign;
use bloom_model::time::Time;
use schemars::JsonSchema;
use serde::Serialize;

use super::HouseBook;

/// A weighing counts for a bloom if it is not older than this, days. Judgement: corms are weighed when they are repotted.
const WEIGHED_WITHIN_D: f64 = 550.0;
/// By this many days after pollination somebody should have looked whether fruit set. Judgement.
const SET_BY_D: f64 = 60.0;

/// A bloom that opened, as the forecast of the next can use it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PastBloom {
    /// The bloom.
    pub bloom: Arc<str>,
    /// The bench.
    pub bench: Arc<str>,
    /// The plant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plant: Option<Arc<str>>,
    /// The plant's taxon.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub taxon: Option<String>,
    /// When its stages came, as booked, else as sensed.
    pub stages: Stages,
    /// The spans between them.
    pub durations: Durations,
}

/// The blooms of the house that opened, oldest first. Those of one plant or of one taxon are picked by the caller.
pub fn past_blooms(house: &HouseBook) -> Vec<PastBloom> {
    let opened = house.blooms.iter().filter(|bloom| bloom.stages().opened.is_some());
    opened
        .map(|bloom| PastBloom {
            bloom: Arc::clone(&bloom.id),
            bench: Arc::clone(&bloom.bench),
            plant: bloom.plant.clone(),
            taxon: bloom.plant.as_ref().and_then(|plant| house.taxon(plant)),
            stages: bloom.stages(),
            durations: Durations::of(&bloom.stages(), bloom.life.booked.pollen_shed),
        })
        .collect()
}

/// A bloom looked back on.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LookBack {
    /// The bloom.
    #[serde(flatten)]
    pub bloom: BloomRecord,
    /// Each span of it beside the earlier ones.
    pub compared: Vec<Compared>,
    /// The newest weighing before it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weighed: Option<Weighing>,
    /// Crosses made on it.
    pub crosses: Vec<Cross>,
    /// Lots collected from it.
    pub lots: Vec<Lot>,
    /// What was not recorded, or not done: for the next time.
    pub missed: Vec<String>,
}

/// A span beside the earlier ones.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Compared {
    /// What it is.
    pub span: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// In this bloom.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub here: Option<f64>,
    /// In the earlier blooms of the same plant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_plant: Option<Spread>,
    /// In the earlier blooms of its taxon in the house, this plant's among them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of_house: Option<Spread>,
}

/// Looks back on a bloom.
pub fn look_back(house: &HouseBook, bloom: &BloomRecord, now: Time) -> LookBack {
    let taxon = bloom.plant.as_ref().and_then(|plant| house.taxon(plant));
    let began = bloom.began();
    let earlier: Vec<PastBloom> = past_blooms(house)
        .into_iter()
        .filter(|past| past.bloom != bloom.id && past.taxon == taxon && past.stages.opened < began)
        .collect();
    let here = Durations::of(&bloom.stages(), bloom.life.booked.pollen_shed).named();
    let compared = here
        .iter()
        .enumerate()
        .map(|(place, (span, unit, here))| {
            let of = |past: &PastBloom| past.durations.named()[place].2;
            let same_plant = earlier.iter().filter(|past| past.plant == bloom.plant);
            Compared {
                span,
                unit,
                here: *here,
                of_plant: spread(same_plant.filter_map(of)),
                of_house: spread(earlier.iter().filter_map(of)),
            }
        })
        .filter(|compared| compared.here.is_some() || compared.of_house.is_some())
        .collect();
    let of_it = |id: &Option<String>| id.as_deref() == Some(&*bloom.id);
    let crosses: Vec<Cross> =
        house.book.crosses.values().filter(|cross| of_it(&cross.bloom)).cloned().collect();
    let lots: Vec<Lot> = house.book.lots.values().filter(|lot| of_it(&lot.bloom)).cloned().collect();
    let plant = bloom.plant.as_ref().and_then(|plant| house.book.plants.get(&**plant));
    let weighed = plant.and_then(|plant| {
        let before = |weighing: &&Weighing| began.is_none_or(|began| weighing.time <= began);
        plant.weighings.iter().rev().find(before).copied()
    });
    let missed = missed(bloom, &crosses, &lots, weighed, now);
    LookBack { bloom: bloom.clone(), compared, weighed, crosses, lots, missed }
}

fn missed(
    bloom: &BloomRecord,
    crosses: &[Cross],
    lots: &[Lot],
    weighed: Option<Weighing>,
    now: Time,
) -> Vec<String> {
    let mut missed = Vec::new();
    let mut miss = |is_missed: bool, what: &str| {
        if is_missed {
            missed.push(what.to_owned());
        }
    };
    let stages = bloom.stages();
    let Some(opened) = stages.opened else { return missed };
    miss(!bloom.has(PlainSign::Emerged), "emergence was not recorded: the forecast goes by it");
    miss(
        !bloom.has(PlainSign::SpadixVisible),
        "the spadix tip was not recorded: it is the better anchor of the forecast",
    );
    miss(!bloom.has(PlainSign::LastBractDropped), "the fall of the last bract was not recorded");
    miss(!bloom.has(PlainSign::Opened), "nobody recorded the first crack as seen");
    let fresh = weighed.filter(|weighing| opened.days_since(weighing.time) <= WEIGHED_WITHIN_D);
    miss(fresh.is_none(), "the corm was not weighed before it");
    let pollinated = bloom.has(PlainSign::Pollinated);
    miss(crosses.is_empty() && !pollinated, "no pollination was recorded");
    miss(
        crosses.is_empty() && pollinated,
        "a pollination was recorded without its lot: anthesisd cross BENCH LOT --at …",
    );
    let collected = bloom.has(PlainSign::PollenCollected);
    miss(lots.is_empty() && !collected, "no pollen was collected");
    miss(
        lots.is_empty() && collected,
        "pollen was collected without a lot: anthesisd pollen BENCH collected … --at …",
    );
    for lot in lots {
        miss(lot.stored.is_empty(), &format!("where lot {} is kept was not recorded", lot.name));
        miss(lot.tests.is_empty(), &format!("lot {} was never tested for germination", lot.name));
    }
    for cross in crosses {
        let due = now.days_since(cross.made) > SET_BY_D;
        let looked = cross.fruit.set.is_some() || !cross.fruit.losses.is_empty();
        miss(due && !looked, &format!("whether {} set fruit was not recorded", cross.name));
        let counted: u32 = cross.fruit.seeds.iter().map(|count| count.count).sum();
        miss(
            counted > cross.fruit.sown(),
            &format!(
                "{} seeds of {} are counted and not sown",
                counted.saturating_sub(cross.fruit.sown()),
                cross.name
            ),
        );
    }
    missed
}
