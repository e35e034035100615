//! `book`: the bloom book as a whole.

use std::fs::File;
use std::io::{self, BufReader, Write};
use std::path::{Path, PathBuf};

use bloom_model::book::Fact;
use bloom_model::book::bloom::BloomRecord;
use bloom_model::book::overlap::Fit;
use bloom_text::when;
use chrono_tz::Tz;
use clap::{Args, Subcommand};

use super::{Common, Desk, Failure, print, print_json};
use crate::book::calendar::{file, jobs};
use crate::book::exchange::{self, ReadBookError};
use crate::book::plan::{Planned, Refusal};
use crate::book::{HouseBook, LookBack, Pairing, bank, fruit, look_back, pairings, telling, words};
use crate::command::{failed, results};
use crate::store::{BookWriter, ImportBookError, Reader};

/// `anthesisd book history AT-0412`
#[derive(Debug, Args)]
pub(in crate::command) struct BookArguments {
    #[command(subcommand)]
    what: What,
    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Every entry that was ever made, those that no longer hold among them
    History {
        /// Only what speaks of this plant, lot or cross
        subject: Option<String>,
    },
    /// Benches in bud or in flower: whose pollen is ripe while whose flowers are receptive, and what to keep for how long
    Overlap,
    /// Blooms looked back on: this one against earlier ones of the plant and the house, what was booked and what was missed
    Blooms {
        /// Only of this plant or bench
        plant: Option<String>,
    },
    /// Windows and jobs as an iCalendar file on standard output
    Calendar,
    /// The whole book on standard output, as JSON Lines
    Export,
    /// Puts an exported book into the store
    Import {
        /// The file; `-` is standard input
        file: PathBuf,
    },
    /// Takes an entry back: it stays in the history and counts no more
    Withdraw {
        /// Its number
        number: u64,
    },
}

pub(in crate::command) fn book(path: &Path, arguments: BookArguments) -> Result<(), Failure> {
    let BookArguments { what, mut common } = arguments;
    if let What::Withdraw { number } = what {
        common.corrects = Some(number);
        return Desk::open(path)?.book(&common, |_, _, old| {
            let old = old.ok_or_else(|| Refusal::usage(format!("the book has no entry {number}")))?;
            let (subject, fact) = (old.subject.clone(), Fact::Withdrawn);
            Ok(Planned { subject, fact, sign: None, remarks: Vec::new() })
        });
    }
    let desk = Desk::open_to_read(path, &common)?;
    match what {
        What::History { subject } => history(&desk, subject.as_deref(), common.json),
        What::Overlap => overlap(&desk, common.json),
        What::Blooms { plant } => blooms(&desk, plant.as_deref(), common.json),
        What::Calendar => calendar(&desk),
        What::Export => export(&desk),
        What::Import { file } => import(&desk, &file),
        // booked above
        What::Withdraw { .. } => Ok(()),
    }
}

fn history(desk: &Desk, subject: Option<&str>, json: bool) -> Result<(), Failure> {
    let house = &desk.house;
    let subject = match subject {
        Some(name) => Some(
            house
                .lot_named(name)
                .or_else(|_| house.cross_named(name))
                .map(str::to_owned)
                .or_else(|_| house.plant_named(name).map(|named| named.plant))?,
        ),
        None => None,
    };
    let of_it =
        |entry: &&bloom_model::book::Entry| subject.as_ref().is_none_or(|name| entry.subject == *name);
    let entries = house.book.entries().iter().filter(of_it);
    if json {
        return print_json(&entries.collect::<Vec<_>>());
    }
    for entry in entries {
        desk.print_entry(entry)?;
    }
    Ok(())
}

fn overlap(desk: &Desk, json: bool) -> Result<(), Failure> {
    let zone = desk.house.zone;
    let pairings = pairings(&desk.house, desk.now)?;
    if json {
        return print_json(&pairings);
    }
    if pairings.is_empty() {
        return print("fewer than two benches are in bud or in flower: nothing overlaps");
    }
    let mut receivers: Vec<&str> = pairings.iter().map(|pairing| pairing.meeting.receiver.as_str()).collect();
    receivers.dedup();
    for receiver in receivers {
        let of_it = || pairings.iter().filter(|pairing| pairing.meeting.receiver == receiver);
        let Some(first) = of_it().next() else { continue };
        print(format_args!(
            "{receiver}, receptive likely {}:",
            when::window(&first.meeting.receptive, zone)
        ))?;
        if !of_it().any(|pairing| pairing.meeting.fit.fits()) {
            print(
                "   nothing fits of what is in bud: look at the bank (anthesisd pollen), or ask elsewhere",
            )?;
        }
        of_it().try_for_each(|pairing| print_pairing(pairing, zone))?;
    }
    Ok(())
}

fn print_pairing(pairing: &Pairing, zone: Tz) -> Result<(), Failure> {
    let meeting = &pairing.meeting;
    let (early, likely, late) = meeting.keep_d;
    let kin = pairing.relation.as_ref().map_or("kinship not known".to_owned(), words::relation);
    let hybrid = if pairing.hybrid { "a hybrid; " } else { "" };
    print(format_args!(
        "   pollen of {}, ripe likely {} ({hybrid}{kin})",
        meeting.donor,
        when::window(&meeting.pollen, zone)
    ))?;
    let needed = format!("{likely:.0} days ({:.0} to {late:.0})", early.max(0.0));
    match meeting.fit {
        Fit::Fresh => print("      fits fresh, if both keep to what is likely"),
        Fit::Keep => {
            print(format_args!("      keep it {needed}:"))?;
            meeting.ways.iter().try_for_each(|way| {
                let how = match way.dried {
                    Some(true) => "dried, ",
                    Some(false) => "fresh, ",
                    None => "",
                };
                let sure = if way.surely { "" } else { ", not if it takes longest" };
                print(format_args!(
                    "         {how}{} to {} °C, {}{sure}: {}",
                    way.kept_c.0,
                    way.kept_c.1,
                    when::long_span(way.good_d),
                    way.source
                ))?;
                way.but.iter().try_for_each(|but| print(format_args!("            but: {but}")))
            })
        }
        Fit::TooLong => print(format_args!(
            "      no source says that it keeps {needed}: ask elsewhere, or try and test it"
        )),
        Fit::Unlikely => print("      likely too late; it fits only if the one is early and the other late"),
        Fit::TooLate => print("      too late"),
    }
}

fn blooms(desk: &Desk, name: Option<&str>, json: bool) -> Result<(), Failure> {
    let house = &desk.house;
    let now = desk.now;
    let plant = name.map(|name| house.plant_named(name)).transpose()?;
    let wanted = |bloom: &&BloomRecord| {
        plant.as_ref().is_none_or(|named| {
            bloom.plant.as_deref() == Some(&*named.plant) || Some(&*bloom.bench) == named.bench.as_deref()
        })
    };
    let looks: Vec<LookBack> =
        house.blooms.iter().filter(wanted).map(|bloom| look_back(house, bloom, now)).collect();
    if json {
        return print_json(&looks);
    }
    if looks.is_empty() {
        return print("no bloom is in the record");
    }
    looks.iter().try_for_each(|look| print_look(house, look))
}

fn print_look(house: &HouseBook, look: &LookBack) -> Result<(), Failure> {
    let bloom = &look.bloom;
    let plant = bloom.plant.as_deref().unwrap_or("plant not named");
    print(format_args!("{}: {plant}", bloom.id))?;
    telling::look(look, house.zone).iter().try_for_each(|line| print(format_args!("   {line}")))
}

fn calendar(desk: &Desk) -> Result<(), Failure> {
    let now = desk.now;
    let house = &desk.house;
    let fruit = fruit(house, desk.reader()?.as_ref(), None, now)?;
    let jobs = jobs(house, &fruit, &bank(house, now), now)?;
    let text = file(&desk.config.site.name, &jobs, now);
    to_standard_output(|out| out.write_all(text.as_bytes()))
}

fn export(desk: &Desk) -> Result<(), Failure> {
    let reader = Reader::open(&desk.config.store_path)?;
    let mut text = Vec::new();
    exchange::export(&reader, &desk.config.site.name, &mut text).map_err(failed)?;
    to_standard_output(|out| out.write_all(&text))
}

/// Writes results as they are; whoever reads may have had enough.
fn to_standard_output(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Failure> {
    let mut out = results();
    match write(&mut out).and_then(|()| out.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        other => other.map_err(failed),
    }
}

fn import(desk: &Desk, file: &Path) -> Result<(), Failure> {
    let name = file.display();
    let in_file = |error: ReadBookError| Failure::Failed(format!("{name}: {error}"));
    let book = if file == Path::new("-") {
        exchange::read(io::stdin().lock()).map_err(in_file)?
    } else {
        let file = File::open(file).map_err(|error| Failure::Failed(format!("{name}: {error}")))?;
        exchange::read(BufReader::new(file)).map_err(in_file)?
    };
    let lines = book.entries.len() + book.signs.len() + book.events.len();
    let new = BookWriter::open(&desk.config.store_path)?.import(&book).map_err(|error| match error {
        ImportBookError::Store(error) => error.into(),
        clash @ ImportBookError::Clash { .. } => Failure::Failed(format!("{name}: {clash}")),
    })?;
    print(format_args!("{new} lines new, {} known before", lines - new))
}
