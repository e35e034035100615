//! `tonight`: the sheet for bloom night.

use std::path::Path;

use clap::Args;

use super::{Common, Desk, Failure, pollen, print, print_json};
use crate::book::{Candidate, Sheet, sheets, words};
use crate::command::known_bench;

/// `anthesisd tonight east-3`
#[derive(Debug, Args)]
pub(in crate::command) struct TonightArguments {
    /// The bench; every bench in bud or in flower if left out
    bench: Option<String>,
    #[command(flatten)]
    common: Common,
}

pub(in crate::command) fn tonight(path: &Path, arguments: &TonightArguments) -> Result<(), Failure> {
    let TonightArguments { bench, common } = arguments;
    let desk = Desk::open_to_read(path, common)?;
    if let Some(bench) = bench {
        known_bench(&desk.config, bench)?;
    }
    let sheets = sheets(&desk.house, bench.as_deref(), desk.now)?;
    if common.json {
        return print_json(&sheets);
    }
    if sheets.is_empty() {
        let where_ = bench.as_deref().unwrap_or("any bench");
        return print(format_args!("no bloom on {where_} is open or in bud"));
    }
    let (last, before) = match sheets.split_last() {
        Some(split) => split,
        None => return Ok(()),
    };
    for sheet in before {
        print_bloom(&desk, sheet)?;
    }
    print_bloom(&desk, last)?;
    print(format_args!("Bring: {}.", last.kit.join("; ")))?;
    print("Take care:")?;
    last.cautions.iter().try_for_each(|caution| print(format_args!("   {caution}")))
}

fn print_bloom(desk: &Desk, sheet: &Sheet) -> Result<(), Failure> {
    let zone = desk.house.zone;
    let plant = sheet.plant.as_deref().unwrap_or("plant not named");
    print(format_args!("{}: {plant}, {}", sheet.bench, sheet.taxon))?;
    match (sheet.opened, sheet.opens) {
        (Some(opened), _) => {
            print(format_args!("   Open since about {}.", words::moment(opened, zone)))?;
            print(format_args!(
                "   Pollinate {}, best {}.",
                words::window(&sheet.receptive, zone),
                words::hours(sheet.best_hour)
            ))?;
        }
        (None, Some(opens)) => {
            let day = |date: chrono::NaiveDate| date.format("%-d %b").to_string();
            print(format_args!(
                "   In bud: opens likely {} ({} to {}).",
                day(opens.likely),
                day(opens.earliest),
                day(opens.latest)
            ))?;
            print(format_args!(
                "   Receptive between {} and {}, on the night it opens best {}.",
                words::moment(sheet.receptive.from, zone),
                words::moment(sheet.receptive.until, zone),
                words::hours(sheet.best_hour)
            ))?;
        }
        (None, None) => {}
    }
    for cross in &sheet.crosses {
        let father = &cross.father;
        print(format_args!("   Done: pollinated with {father} on {}.", words::moment(cross.made, zone)))?;
    }
    if sheet.pollinated && sheet.crosses.is_empty() {
        print("   Done: pollinated, booked without its lot.")?;
    }
    if sheet.pollen.is_empty() {
        print("   Pollen: none in the bank.")?;
    } else {
        print("   Pollen, best first:")?;
    }
    for candidate in &sheet.pollen {
        print(format_args!("   {} {}", mark(candidate), pollen::line(&candidate.lot, desk.house.zone)))?;
        let relation = candidate.relation.as_ref().map(words::relation);
        let hybrid = if candidate.hybrid { "a hybrid; " } else { "" };
        print(format_args!("        {hybrid}{}", relation.as_deref().unwrap_or("kinship not known")))?;
    }
    match &sheet.thaw {
        Some(thaw) if thaw.frozen => print(format_args!(
            "   Thaw one portion of {} at {}, just before use; carry it cool and never freeze it again (common practice).",
            thaw.lot,
            words::moment(thaw.at, zone)
        ))?,
        Some(thaw) => print(format_args!(
            "   Take out {} at {}, just before use (common practice).",
            thaw.lot,
            words::moment(thaw.at, zone)
        ))?,
        None => print("   Nothing fits: no lot is both within its figure and no close kin.")?,
    }
    let done = if sheet.collected { " Collected." } else { "" };
    print(format_args!(
        "   Own pollen {}, most likely about {}.{done}",
        words::window(&sheet.collect, zone),
        words::moment(sheet.collect_likely, zone)
    ))
}

/// Colour is not needed to see what is not recommended.
const fn mark(candidate: &Candidate) -> &'static str {
    if candidate.recommended { " +" } else { " !" }
}
