//! Files that `import` takes: recordings and tables.

use std::io::{BufReader, Read};
use std::sync::Arc;

use anthesisd::command::table::{Kind, TableWriter, Tabled, read_table, recognise};
use anthesisd::intake::decoder::Decoder;
use anthesisd::intake::recording::read_recording;
use anthesisd::store::Recorded;
use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;

use super::{BENCHES, within};

/// The most that reading a file may hold, whatever its size: a line or row, and what was read of it.
const FILE_BYTES: usize = 16 << 20;
/// The most that a refusal says, bytes, for a file whose cells are short.
const ZONE: chrono_tz::Tz = chrono_tz::America::Halifax;

/// A file as `import` reads it; the first byte says whether `--bench` was given.
pub(super) fn file(input: &[u8]) {
    let Some((choice, text)) = input.split_first() else { return };
    let benches = BENCHES.map(Arc::from);
    let bench = (choice % 2 == 0).then_some(BENCHES[0]);
    let with = Tabled { benches: &benches, bench, zone: ZONE };
    let (kind, mut reader) = recognise(text).unwrap_or_else(|error| panic!("memory can be read: {error}"));
    let Kind::Table(parts) = kind else {
        let mut all = Vec::new();
        reader.read_to_end(&mut all).unwrap_or_else(|error| panic!("memory can be read: {error}"));
        assert_eq!(all, text, "nothing is lost by looking");
        // what is taken for no recording must do no harm as one: a service may be told to read it
        return recording(text);
    };
    let lines = text.iter().filter(|byte| **byte == b'\n').count() + 1;
    let mut readings = Vec::new();
    let read = within(FILE_BYTES, "a table", || {
        read_table(reader, parts, &with, |more, refusals| {
            assert!(more.len() <= Quantity::ALL.len() + 1);
            refusals.iter().for_each(|refusal| placed(&refusal.to_string(), lines));
            // kept for the look at it below, where they are few
            if readings.len() < 2000 {
                readings.extend(more);
            }
        })
    });
    if let Err(why) = &read {
        placed(why, lines);
    }
    let written = as_table(&readings);
    let mut again = Vec::new();
    let read = read_table(&*written, b',', &Tabled { bench: None, ..with }, |more, refusals| {
        assert!(refusals.is_empty(), "{refusals:?}");
        again.extend(more);
    });
    assert!(read.is_ok(), "{read:?}");
    assert_eq!(again, readings, "what is written is read again");
}

fn as_table(readings: &[Recorded]) -> Vec<u8> {
    let mut text = Vec::new();
    let mut write = || {
        let mut writer = TableWriter::new(&mut text, Quantity::ALL.to_vec(), ZONE)?;
        for reading in readings {
            writer.instant(std::slice::from_ref(reading))?;
        }
        writer.finish()
    };
    write().unwrap_or_else(|error| panic!("memory can be written to: {error}"));
    text
}

/// A refusal names a line that there is.
fn placed(said: &str, lines: usize) {
    let number: String = said.trim_start_matches("line ").chars().take_while(char::is_ascii_digit).collect();
    let line: usize = number.parse().unwrap_or(1);
    assert!((1..=lines).contains(&line), "{lines} lines: {said}");
}

fn recording(text: &[u8]) {
    let mut decoder = Decoder::new(BENCHES);
    let (mut readings, mut refused) = (0, 0);
    let read = within(FILE_BYTES, "a recording", || {
        read_recording(BufReader::with_capacity(1 << 10, text), &mut decoder, |more, refusals| {
            readings += more.len() as u64;
            refused += refusals.len() as u64;
            for reading in more {
                if let Observed::Value(quantity, value) = reading.observed {
                    assert_eq!(quantity.possible(value), Ok(value));
                }
            }
        })
    });
    assert!(read.is_ok());
    let counts = decoder.counts();
    assert_eq!((counts.readings, counts.refused), (readings, refused));
}
