//! `plant`: the plants of the house.

use std::path::Path;

use bloom_model::book::entry::{Fact, PlantCard};
use bloom_model::quantity::measure::Units;
use bloom_text::when;
use clap::{Args, Subcommand};
use serde::Serialize;

use super::{Common, Desk, Failure, print, print_json};
use crate::book::words;
use crate::command::figure::{self, Typed};

/// `anthesisd plant AT-0412 weighed 31.2`
#[derive(Debug, Args)]
pub(in crate::command) struct PlantArguments {
    /// The accession, or the bench on which it stands; all plants if left out
    plant: Option<String>,
    #[command(subcommand)]
    what: Option<Work>,
    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Subcommand)]
enum Work {
    /// Takes up a plant into the book
    Add(Card),
    /// The corm was weighed
    Weighed {
        /// Mass: 31.2 (kilograms), 31,2 kg, 68 lb
        #[arg(required = true, num_args = 1..=4)]
        mass: Vec<String>,
    },
    /// It was repotted
    Repotted {
        /// Volume of the pot, litres
        #[arg(long, value_name = "LITRES")]
        pot: Option<f64>,
        /// The mix
        #[arg(long, value_name = "WORDS")]
        mix: Option<String>,
    },
    /// The leaf is down: dormancy begins
    Dormant,
    /// A leaf is up: dormancy ends
    InLeaf,
    /// It died or left the house
    Gone,
}

/// Where a plant comes from. What is not known is left out.
#[derive(Debug, Args)]
struct Card {
    /// Scientific name
    #[arg(long, value_name = "NAME")]
    taxon: Option<String>,
    /// Seed parent
    #[arg(long, value_name = "PLANT", conflicts_with = "seed_of")]
    mother: Option<String>,
    /// Pollen parent
    #[arg(long, value_name = "PLANT", conflicts_with = "seed_of")]
    father: Option<String>,
    /// The cross of this book whose seed it grew from
    #[arg(long, value_name = "CROSS")]
    seed_of: Option<String>,
    /// The plant that it is an offset or a cutting of
    #[arg(long, value_name = "PLANT")]
    offset_of: Option<String>,
    /// The clone it belongs to
    #[arg(long, value_name = "NAME")]
    clone: Option<String>,
    /// The sib group it belongs to, where the parents are not known
    #[arg(long, value_name = "NAME")]
    sibs: Option<String>,
    /// Where it came from
    #[arg(long = "from", value_name = "WORDS")]
    provenance: Option<String>,
}

impl From<Card> for PlantCard {
    fn from(card: Card) -> Self {
        let Card { taxon, mother, father, seed_of, offset_of, clone, sibs, provenance } = card;
        Self { taxon, mother, father, seed_of, offset_of, clone, sibs, provenance }
    }
}

pub(in crate::command) fn plant(path: &Path, arguments: PlantArguments) -> Result<(), Failure> {
    let PlantArguments { plant, what, common } = arguments;
    let Some(what) = what else {
        let desk = Desk::open_to_read(path, &common)?;
        return match plant {
            Some(plant) => card(&desk, &plant, common.json),
            None => list(&desk, common.json),
        };
    };
    let plant =
        plant.ok_or_else(|| Failure::Usage("name the plant: anthesisd plant AT-0412 …".to_owned()))?;
    let fact = match what {
        Work::Add(new) => {
            return Desk::open(path)?
                .book(&common, |house, _, old| house.plan_plant(&plant, new.into(), old.is_some()));
        }
        Work::Weighed { mass } => {
            let Typed { value: mass_kg, bare } = figure::mass(&mass.join(" ")).map_err(Failure::Usage)?;
            let desk = Desk::open(path)?;
            let us = bare && desk.config.site.units == Units::Us;
            let remark = us.then(|| {
                format!(
                    "{mass_kg} kg are {}: a number without a unit is in kilograms",
                    figure::pounds(mass_kg)
                )
            });
            return desk.book(&common, |house, _, _| {
                let mut planned = house.plan_plant_work(&plant, Fact::Weighed { mass_kg })?;
                planned.remarks.extend(remark);
                Ok(planned)
            });
        }
        Work::Repotted { pot, mix } => Fact::Repotted { pot_litres: pot, mix },
        Work::Dormant => Fact::Dormant,
        Work::InLeaf => Fact::InLeaf,
        Work::Gone => Fact::Gone,
    };
    Desk::open(path)?.book(&common, |house, _, _| house.plan_plant_work(&plant, fact))
}

/// A plant in the list.
#[derive(Serialize)]
struct Row<'a> {
    plant: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    bench: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    taxon: Option<String>,
    #[serde(flatten)]
    card: Option<&'a bloom_model::book::plant::Plant>,
}

fn row<'a>(desk: &'a Desk, plant: &'a str) -> Row<'a> {
    Row {
        plant,
        bench: desk.house.bench_of(plant).map(|bench| &*bench.id),
        taxon: desk.house.taxon(plant),
        card: desk.house.book.plants.get(plant),
    }
}

fn list(desk: &Desk, json: bool) -> Result<(), Failure> {
    let rows: Vec<Row<'_>> = desk.house.plant_names().map(|plant| row(desk, plant)).collect();
    if json {
        return print_json(&rows);
    }
    for row in rows {
        let bench = row.bench.map_or(String::new(), |bench| format!(", on {bench}"));
        let gone = if row.card.is_some_and(|plant| plant.gone.is_some()) { ", gone" } else { "" };
        let taxon = row.taxon.as_deref().unwrap_or("taxon not known");
        print(format_args!("{}: {taxon}{bench}{gone}", row.plant))?;
    }
    Ok(())
}

fn card(desk: &Desk, name: &str, json: bool) -> Result<(), Failure> {
    let named = desk.house.plant_named(name)?;
    let row = row(desk, &named.plant);
    if json {
        return print_json(&row);
    }
    print(format_args!("{}: {}", row.plant, row.taxon.as_deref().unwrap_or("taxon not known")))?;
    if let Some(plant) = row.card {
        let said =
            words::card_words(&bloom_model::book::entry::PlantCard { taxon: None, ..plant.card.clone() });
        if let Some(said) = said.strip_prefix(", ") {
            print(format_args!("   {said}"))?;
        }
    }
    if let Some(bench) = row.bench {
        print(format_args!("   on {bench}"))?;
    }
    for bloom in desk.house.blooms.iter().filter(|bloom| bloom.plant.as_deref() == Some(row.plant)) {
        let opened = match bloom.stages().opened {
            Some(opened) => format!("opened {}", when::moment(opened, desk.house.zone)),
            None if bloom.life.in_bud() => "in bud".to_owned(),
            None => "did not open".to_owned(),
        };
        print(format_args!("   bloom {}: {opened}", bloom.id))?;
    }
    desk.print_history(row.plant)
}
