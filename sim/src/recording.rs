//! Seasons as recordings: JSON Lines, each line one SenML pack (RFC 8428).

use std::io::{self, Write};
use std::iter::Peekable;

use bloom_model::reading::Observed;
use bloom_model::time::Time;
use serde::{Serialize, Serializer};

use crate::observe::{Observation, Observations};
use crate::season::Season;

/// What a pack says of its time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stamp {
    /// The instant of the season, as a recording needs it.
    Season,
    /// Nothing: the reader takes the time of arrival.
    Arrival,
}

/// One SenML record.
#[derive(Debug, Serialize)]
struct Record<'a> {
    #[serde(rename = "bn", skip_serializing_if = "Option::is_none")]
    base_name: Option<&'a str>,
    #[serde(rename = "bt", skip_serializing_if = "Option::is_none")]
    base_time: Option<Seconds>,
    #[serde(rename = "n")]
    name: &'static str,
    #[serde(rename = "u", skip_serializing_if = "Option::is_none")]
    unit: Option<&'static str>,
    #[serde(rename = "v", skip_serializing_if = "Option::is_none")]
    value: Option<f64>,
    #[serde(rename = "vs", skip_serializing_if = "Option::is_none")]
    text: Option<String>,
}

/// Seconds since the epoch, whole where they are.
#[derive(Debug, Clone, Copy)]
struct Seconds(Time);

impl Serialize for Seconds {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let ms = self.0.unix_ms();
        if ms % 1000 == 0 {
            serializer.serialize_i64(ms / 1000)
        } else {
            serializer.serialize_f64(ms as f64 / 1000.0)
        }
    }
}

impl<'a> Record<'a> {
    const fn new(name: &'static str) -> Self {
        Self { base_name: None, base_time: None, name, unit: None, value: None, text: None }
    }

    fn of(observed: &Observed) -> Self {
        match observed {
            Observed::Value(quantity, value) => {
                Self { unit: Some(quantity.unit()), value: Some(*value), ..Self::new(quantity.name()) }
            }
            Observed::Sign(sign) => Self { text: Some(sign.to_string()), ..Self::new("sign") },
        }
    }
}

/// The packs of one season: everything said at one instant in one line, in time order.
pub struct Packs<'a> {
    base_name: String,
    observations: Peekable<Observations<'a>>,
    stamp: Stamp,
}

impl<'a> Packs<'a> {
    /// The packs of a season.
    pub fn new(season: &'a Season, stamp: Stamp) -> Self {
        Self {
            base_name: format!("{}/", season.options().bench),
            observations: season.observations().peekable(),
            stamp,
        }
    }

    /// The instant of the next pack.
    pub fn peek_time(&mut self) -> Option<Time> {
        self.observations.peek().map(|next| next.time)
    }

    /// Appends the next pack and a line feed to `line` and tells its instant; `None` at the season's end.
    pub fn next_line(&mut self, line: &mut Vec<u8>) -> Option<Time> {
        let time = self.peek_time()?;
        let mut separator = b'[';
        while let Some(Observation { observed, .. }) =
            self.observations.next_if(|observation| observation.time == time)
        {
            let mut record = Record::of(&observed);
            if separator == b'[' {
                record.base_name = Some(&self.base_name);
                record.base_time = (self.stamp == Stamp::Season).then_some(Seconds(time));
            }
            line.push(separator);
            // a record of names, numbers and text cannot fail to be written into memory
            if serde_json::to_writer(&mut *line, &record).is_err() {
                return None;
            }
            separator = b',';
        }
        line.extend_from_slice(b"]\n");
        Some(time)
    }
}

/// Writes the packs of several benches in time order and tells how many lines there were.
///
/// # Errors
/// When the writer fails.
pub fn write_recording(seasons: &[Season], mut to: impl Write) -> io::Result<u64> {
    let mut benches: Vec<Packs<'_>> =
        seasons.iter().map(|season| Packs::new(season, Stamp::Season)).collect();
    let mut line = Vec::with_capacity(512);
    let mut lines = 0;
    loop {
        let next = benches
            .iter_mut()
            .enumerate()
            .filter_map(|(place, packs)| packs.peek_time().map(|time| (time, place)))
            .min();
        let Some((_, place)) = next else {
            break;
        };
        line.clear();
        if benches[place].next_line(&mut line).is_some() {
            to.write_all(&line)?;
            lines += 1;
        }
    }
    to.flush()?;
    Ok(lines)
}

/// Writes what really happened as indented JSON, one entry a bench.
///
/// # Errors
/// When the writer fails.
pub fn write_truth(seasons: &[Season], mut to: impl Write) -> io::Result<()> {
    let truths: Vec<_> = seasons.iter().map(Season::truth).collect();
    serde_json::to_writer_pretty(&mut to, &truths)?;
    writeln!(to)?;
    to.flush()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::options::SeasonOptions;

    #[test]
    fn a_line_is_one_pack_with_everything_of_its_instant() {
        let season = Season::draw(11, &SeasonOptions { signs: true, ..SeasonOptions::default() });
        let mut text = Vec::new();
        let lines = write_recording(std::slice::from_ref(&season), &mut text).unwrap();
        let text = String::from_utf8(text).unwrap();
        assert_eq!(text.lines().count() as u64, lines);
        let mut count = 0;
        let mut last = i64::MIN;
        for line in text.lines() {
            let pack: Vec<serde_json::Map<String, serde_json::Value>> = serde_json::from_str(line).unwrap();
            assert_eq!(pack[0]["bn"], "east-3/");
            let time = pack[0]["bt"].as_i64().unwrap();
            assert!(time > last, "{line}");
            last = time;
            assert!(pack.iter().all(|record| record.contains_key("v") != record.contains_key("vs")));
            count += pack.len();
        }
        assert_eq!(count, season.observations().count());
        assert!(text.contains(r#"{"n":"tip-range","u":"m","v":"#));
        assert!(text.contains(r#""n":"sign","vs":"emerged"}"#));
    }

    #[test]
    fn without_a_stamp_there_is_no_time() {
        let season = Season::draw(11, &SeasonOptions::default());
        let mut line = Vec::new();
        Packs::new(&season, Stamp::Arrival).next_line(&mut line).unwrap();
        assert!(!String::from_utf8(line).unwrap().contains("\"bt\""));
    }
}
