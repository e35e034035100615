//! What comes over a serial line, and SenML.

use anthesisd::intake::decoder::{ArrivalTime, Counts, Decoder, MOST_AHEAD, Refusal};
use anthesisd::intake::lines::Lines;
use anthesisd::intake::senml::{self, MAX_LINE_BYTES, MAX_RECORDS};
use bloom_model::reading::{Observed, Reading};
use serde_json::json;

use super::{BENCHES, NOW, within};

/// Bytes that an intake reads at once.
const PIECE: usize = 16 * 1024;
/// The most that an intake may hold for what it is reading: a line, its copy, its readings, and what was refused of it.
const INTAKE_BYTES: usize = 4 << 20;
/// The most that a refusal says, bytes: a line in the log.
const SAID_BYTES: usize = 1500;

/// A stream, cut as drivers cut it: the first byte says how.
pub(super) fn serial(input: &[u8]) {
    let Some((size, stream)) = input.split_first() else { return };
    within(INTAKE_BYTES, "an intake", || heard(stream, PIECE, |_, _| {}));
    let whole = all_heard(stream, PIECE);
    assert_eq!(
        whole,
        all_heard(stream, usize::from(*size).max(1)),
        "where the pieces are cut makes no difference"
    );

    let (readings, refused, counts) = whole;
    let ends_open = !stream.is_empty() && !stream.ends_with(b"\n");
    let lines = stream.iter().filter(|byte| **byte == b'\n').count() + usize::from(ends_open);
    assert_eq!(counts.lines, lines as u64, "lines are counted");
    assert_eq!((counts.readings, counts.refused), (readings.len() as u64, refused.len() as u64));
    for refusal in &refused {
        assert!((1..=counts.lines).contains(&refusal.line), "{refusal}");
        assert!(refusal.to_string().len() <= SAID_BYTES, "{refusal}");
    }
    for reading in &readings {
        possible(reading);
        assert!(reading.time - NOW <= MOST_AHEAD);
    }
}

type Heard = (Vec<Reading>, Vec<Refusal>, Counts);

fn all_heard(stream: &[u8], piece: usize) -> Heard {
    let (mut readings, mut refused) = (Vec::new(), Vec::new());
    let counts = heard(stream, piece, |more, refusals| {
        readings.extend_from_slice(more);
        refused.extend_from_slice(refusals);
    });
    (readings, refused, counts)
}

/// As an intake does it: what a piece completes is handed on and forgotten.
fn heard(stream: &[u8], piece: usize, mut each: impl FnMut(&[Reading], &[Refusal])) -> Counts {
    let (mut lines, mut decoder) = (Lines::default(), Decoder::new(BENCHES));
    let arrival = ArrivalTime::Stamped(NOW);
    for piece in stream.chunks(piece) {
        let (mut readings, mut refused) = (Vec::new(), Vec::new());
        let mut rest = piece;
        while let Some(line) = lines.next(&mut rest) {
            decoder.line(&line, arrival, &mut readings, &mut refused);
        }
        each(&readings, &refused);
    }
    if let Some(line) = lines.last() {
        let (mut readings, mut refused) = (Vec::new(), Vec::new());
        decoder.line(&line, arrival, &mut readings, &mut refused);
        each(&readings, &refused);
    }
    decoder.counts()
}

fn possible(reading: &Reading) {
    assert!(usize::from(reading.bench.0) < BENCHES.len() && reading.time.unix_ms() >= 0);
    if let Observed::Value(quantity, value) = reading.observed {
        assert_eq!(quantity.possible(value), Ok(value), "{reading:?}");
    }
}

/// One line: packs are resolved as promised, and what is taken is taken again as it is written.
pub(super) fn senml(input: &[u8]) {
    let line = input.split(|byte| *byte == b'\n').next().unwrap_or_default();
    if line.len() > MAX_LINE_BYTES {
        return;
    }
    let now_s = NOW.unix_ms() as f64 / 1e3;
    within(INTAKE_BYTES, "a line", || senml::packs(line, Some(now_s)).for_each(drop));
    for pack in senml::packs(line, Some(now_s)) {
        match pack {
            Ok(pack) => {
                assert!(pack.records.len() + pack.refused.len() <= MAX_RECORDS);
                let ordered = pack.records.is_sorted_by(|one, next| one.time_s <= next.time_s);
                assert!(ordered, "records are in the order of time");
                assert!(pack.records.iter().all(|record| (1..=MAX_RECORDS).contains(&record.place)));
            }
            Err(fault) => assert!(fault.to_string().len() <= SAID_BYTES, "{fault}"),
        }
    }
    let readings = taken(line);
    let written: Vec<_> = readings.iter().map(written).collect();
    for (records, readings) in written.chunks(MAX_RECORDS / 2).zip(readings.chunks(MAX_RECORDS / 2)) {
        let again = taken(serde_json::Value::from(records.to_vec()).to_string().as_bytes());
        // the order of an instant's records is kept, that of instants is chronological
        let mut sorted = readings.to_vec();
        sorted.sort_by_key(|reading| reading.time);
        assert_eq!(again, sorted);
    }
}

/// What a recording with this line brings.
fn taken(line: &[u8]) -> Vec<Reading> {
    let (mut readings, mut refused) = (Vec::new(), Vec::new());
    let line = anthesisd::intake::lines::Line::Whole(line);
    Decoder::new(BENCHES).line(&line, ArrivalTime::Carried, &mut readings, &mut refused);
    readings.iter().for_each(possible);
    readings
}

fn written(reading: &Reading) -> serde_json::Value {
    let bench = BENCHES[usize::from(reading.bench.0)];
    let seconds = reading.time.unix_ms() as f64 / 1e3;
    match reading.observed {
        Observed::Value(quantity, value) => {
            json!({"n": format!("{bench}/{}", quantity.name()), "t": seconds, "u": quantity.unit(), "v": value})
        }
        Observed::Sign(sign) => json!({"n": format!("{bench}/sign"), "t": seconds, "vs": sign.to_string()}),
    }
}
