//! `cross`: pollinations and the crosses they make.

use bloom_text::when;
use std::path::Path;

use clap::Args;
use serde::Serialize;

use super::{Common, Desk, Failure, print, print_json};
use crate::book::plan::PollinationWish;

/// `anthesisd cross east-3 AT-0398-2026a`
#[derive(Debug, Args)]
pub(in crate::command) struct CrossArguments {
    /// The plant that is pollinated, or its bench; or a cross to look at; all crosses if left out
    plant: Option<String>,
    /// The lot of pollen
    lot: Option<String>,
    /// Portions used; one if left out
    #[arg(long, value_name = "NUMBER", requires = "lot")]
    portions: Option<u32>,
    /// Which flowers
    #[arg(long, value_name = "WORDS", requires = "lot")]
    flowers: Option<String>,
    /// By which access: a window cut low in the spathe, from above
    #[arg(long, value_name = "WORDS", requires = "lot")]
    access: Option<String>,
    /// Books it however close the kin
    #[arg(long, requires = "lot")]
    anyway: bool,
    #[command(flatten)]
    common: Common,
}

pub(in crate::command) fn cross(path: &Path, arguments: CrossArguments) -> Result<(), Failure> {
    let CrossArguments { plant, lot, portions, flowers, access, anyway, common } = arguments;
    let (Some(plant), Some(lot)) = (&plant, lot) else {
        return show(&Desk::open_to_read(path, &common)?, plant.as_deref(), common.json);
    };
    let wish = PollinationWish { portions, flowers, access, anyway };
    Desk::open(path)?.book(&common, |house, at, _| house.plan_pollination(plant, &lot, wish, at))
}

/// A cross with what is known of its parents.
#[derive(Serialize)]
struct View<'a> {
    #[serde(flatten)]
    cross: &'a bloom_model::book::cross::Cross,
    #[serde(skip_serializing_if = "Option::is_none")]
    mother_taxon: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    father_taxon: Option<String>,
    hybrid: bool,
    relation: bloom_model::book::kinship::Relation,
}

fn show(desk: &Desk, name: Option<&str>, json: bool) -> Result<(), Failure> {
    let house = &desk.house;
    let one = match name {
        // a plant or a bench means all that grew on it
        Some(name) => match house.plant_named(name) {
            Ok(named) => Some((None, Some(named.plant))),
            Err(_) => Some((Some(house.cross_named(name)?), None)),
        },
        None => None,
    };
    let mut views = Vec::new();
    for cross in house.book.crosses.values() {
        let wanted = match &one {
            None => true,
            Some((Some(name), _)) => cross.name == *name,
            Some((None, plant)) => Some(&cross.mother) == plant.as_ref(),
        };
        if wanted {
            let (mother_taxon, father_taxon) = (house.taxon(&cross.mother), house.taxon(&cross.father));
            views.push(View {
                hybrid: bloom_model::book::ledger::is_hybrid(
                    mother_taxon.as_deref(),
                    father_taxon.as_deref(),
                ),
                relation: house.relation(&cross.mother, &cross.father)?,
                cross,
                mother_taxon,
                father_taxon,
            });
        }
    }
    if json {
        return print_json(&views);
    }
    for view in &views {
        let View { cross, relation, .. } = view;
        print(format_args!(
            "{}: {} × {}, pollinated {}",
            cross.name,
            cross.mother,
            cross.father,
            when::moment(cross.made, house.zone)
        ))?;
        print(format_args!("   {}", house.kinship_remark(&cross.mother, &cross.father, relation)))?;
        if matches!(one, Some((Some(_), _))) {
            desk.print_history(&cross.name)?;
        }
    }
    if views.is_empty() {
        print("no pollination is in the book: anthesisd cross BENCH LOT books one")?;
    }
    Ok(())
}
