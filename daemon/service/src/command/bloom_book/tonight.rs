//! `tonight`: the sheet for bloom night.

use std::path::Path;

use clap::Args;

use super::{Common, Desk, Failure, print, print_json};
use crate::book::{CAUTIONS, KIT, Sheet, sheets, telling};
use crate::command::named_bench;

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
    let bench = bench.as_deref().map(|name| named_bench(&desk.config, name)).transpose()?;
    let sheets = sheets(&desk.house, bench.as_deref(), desk.now)?;
    if common.json {
        return print_json(&sheets);
    }
    sheets.iter().try_for_each(|sheet| print_bloom(&desk, sheet))?;
    if sheets.is_empty() {
        let where_ = bench.as_deref().unwrap_or("any bench");
        print(format_args!("no bloom on {where_} is open or in bud"))?;
    } else {
        print(format_args!("Bring: {}.", KIT.join("; ")))?;
    }
    // whatever stage the plants are at: fruit has its sap, too, and a ladder is one in every month
    print("Take care:")?;
    CAUTIONS.iter().try_for_each(|caution| print(format_args!("   {caution}")))
}

fn print_bloom(desk: &Desk, sheet: &Sheet) -> Result<(), Failure> {
    let words = telling::sheet(sheet, desk.house.zone);
    print(&words.heading)?;
    words.windows.iter().chain(&words.done).try_for_each(|line| print(format_args!("   {line}")))?;
    print(if words.pollen.is_empty() { "   Pollen: none in the bank." } else { "   Pollen, best first:" })?;
    for choice in &words.pollen {
        // colour is not needed to see what is not recommended
        print(format_args!("    {} {}", if choice.recommended { '+' } else { '!' }, choice.lot))?;
        print(format_args!("        {}", choice.kin))?;
    }
    print(format_args!("   {}", words.thaw))?;
    words.own_pollen.iter().try_for_each(|line| print(format_args!("   {line}")))
}
