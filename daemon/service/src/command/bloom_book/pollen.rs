//! `pollen`: the pollen bank.

use std::path::Path;

use bloom_model::book::entry::{Fact, Storage};
use bloom_model::quantity::measure::{Measure, Units};
use bloom_text::when::moment;
use clap::{Args, Subcommand};

use super::{Common, Desk, Failure, print, print_json};
use crate::book::plan::{Planned, PollenWish};
use crate::book::{bank, telling};
use crate::command::{figure, when};

/// `anthesisd pollen east-3 collected 6 --stored -80`
#[derive(Debug, Args)]
pub(in crate::command) struct PollenArguments {
    /// The lot; to collect or receive, the plant or its bench; the whole bank if left out
    lot: Option<String>,
    #[command(subcommand)]
    what: Option<Work>,
    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Subcommand)]
enum Work {
    /// Pollen was collected from a plant of the house: makes a new lot
    Collected(Taken),
    /// Pollen of a plant came from elsewhere: makes a new lot
    Received {
        #[command(flatten)]
        taken: Taken,
        /// When it was collected there; a lot whose age is not known counts from its arrival
        #[arg(long, value_name = "TIME")]
        collected: Option<String>,
    },
    /// The lot is kept there from now on
    Stored {
        /// Temperature: -80 (°C), -112F
        #[arg(allow_hyphen_values = true, value_parser = figure::temperature)]
        kept_c: f64,
        /// Where
        #[arg(long, value_name = "WORDS")]
        place: Option<String>,
    },
    /// Portions were thawed or taken out
    Thawed {
        /// How many
        #[arg(default_value_t = 1)]
        portions: u32,
    },
    /// A germination test was done
    Tested {
        /// Grains that germinated, %
        germination_pct: f64,
    },
    /// What is left was thrown away
    Discarded,
}

#[derive(Debug, Args)]
struct Taken {
    /// Portions it was split into
    #[arg(default_value_t = 1)]
    portions: u32,
    /// How it was dried; left out, it is fresh
    #[arg(long, value_name = "HOW")]
    dried: Option<String>,
    /// Temperature at which it is kept from now on: -80 (°C), -112F
    #[arg(long, value_name = "°C", allow_hyphen_values = true, value_parser = figure::temperature)]
    stored: Option<f64>,
    /// Where it is kept
    #[arg(long, value_name = "WORDS", requires = "stored")]
    place: Option<String>,
}

impl Taken {
    fn wish(self) -> PollenWish {
        let Self { portions, dried, stored, place } = self;
        let stored = stored.map(|kept_c| Storage { kept_c, place });
        PollenWish { portions, dried, stored, ..PollenWish::default() }
    }
}

pub(in crate::command) fn pollen(path: &Path, arguments: PollenArguments) -> Result<(), Failure> {
    let PollenArguments { lot, what, common } = arguments;
    let Some(what) = what else {
        let desk = Desk::open_to_read(path, &common)?;
        return match lot {
            Some(lot) => card(&desk, &lot, common.json),
            None => list(&desk, common.json),
        };
    };
    let desk = Desk::open(path)?;
    let lot = lot.ok_or_else(|| {
        Failure::Usage(
            "name the lot, or to collect the plant or its bench: anthesisd pollen east-3 …".to_owned(),
        )
    })?;
    let fact = match what {
        Work::Collected(taken) => {
            let taken_c = taken.stored;
            let (wish, remark) = (taken.wish(), desk.in_fahrenheit(taken_c));
            return desk.book(&common, |house, at, _| Ok(with(house.plan_pollen(&lot, wish, at)?, remark)));
        }
        Work::Received { taken, collected } => {
            let read =
                |text: String| when::read(&text, desk.now, desk.config.site.timezone).map_err(Failure::Usage);
            let collected = collected.map(read).transpose()?;
            let remark = desk.in_fahrenheit(taken.stored);
            let wish = PollenWish { received: true, collected, ..taken.wish() };
            return desk.book(&common, |house, at, _| Ok(with(house.plan_pollen(&lot, wish, at)?, remark)));
        }
        Work::Stored { kept_c, place } => {
            let (fact, remark) =
                (Fact::PollenStored(Storage { kept_c, place }), desk.in_fahrenheit(Some(kept_c)));
            return desk.book(&common, |house, _, _| Ok(with(house.plan_lot_work(&lot, fact)?, remark)));
        }
        Work::Thawed { portions } => Fact::PollenThawed { portions },
        Work::Tested { germination_pct } => Fact::PollenTested { germination_pct },
        Work::Discarded => Fact::PollenDiscarded,
    };
    desk.book(&common, |house, _, _| house.plan_lot_work(&lot, fact))
}

impl Desk {
    /// The book is in °C: where people read °F, both are said.
    fn in_fahrenheit(&self, kept_c: Option<f64>) -> Option<String> {
        let kept_c = kept_c.filter(|_| self.config.site.units == Units::Us)?;
        Some(format!("{kept_c} °C are {}", bloom_text::figure(Measure::Temperature, Units::Us, kept_c)))
    }
}

/// With one thing more for the person to hear.
fn with(mut planned: Planned, remark: Option<String>) -> Planned {
    planned.remarks.extend(remark);
    planned
}

fn list(desk: &Desk, json: bool) -> Result<(), Failure> {
    let lots = bank(&desk.house, desk.now);
    if json {
        return print_json(&lots);
    }
    if lots.is_empty() {
        return print("no pollen is in the book: anthesisd pollen BENCH collected PORTIONS books a lot");
    }
    print("use first:")?;
    lots.iter().try_for_each(|lot| print(telling::lot(lot, desk.house.zone)))
}

fn card(desk: &Desk, name: &str, json: bool) -> Result<(), Failure> {
    let name = desk.house.lot_named(name)?;
    let view = bank(&desk.house, desk.now).into_iter().find(|view| view.lot.name == name);
    let Some(view) = view else { return Ok(()) };
    if json {
        return print_json(&view);
    }
    print(telling::lot(&view, desk.house.zone))?;
    let taxon = view.taxon.as_deref().unwrap_or("taxon not known");
    print(format_args!("   pollen of {}, {taxon}", view.lot.plant))?;
    for source in view.keeps.iter().flat_map(|keeps| &keeps.sources) {
        print(format_args!("   figure: {source}"))?;
    }
    for used in &view.lot.uses {
        let when = moment(used.time, desk.house.zone);
        print(format_args!("   used for {} on {when}", used.cross))?;
    }
    desk.print_history(name)
}
