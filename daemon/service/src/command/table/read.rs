//! A table into readings, row by row; what cannot be understood is refused by line and stops nothing else.

use std::cell::RefCell;
use std::collections::{HashMap, VecDeque};
use std::fmt;
use std::io::{self, Read};
use std::rc::Rc;
use std::sync::Arc;

use bloom_model::quantity::Quantity;
use bloom_model::reading::Observed;
use bloom_model::sign::Sign;
use bloom_model::time::Time;
use chrono::{DateTime, NaiveDate, NaiveDateTime, NaiveTime, Utc};
use chrono_tz::Tz;
use csv::StringRecord;

use super::super::when;
use super::header::{Column, columns};
use crate::formula::restored;
use crate::store::Recorded;
use crate::words;

/// A row is at most so long, bytes; a quote that is never closed would make a row of the whole file.
const LONGEST_ROW: u64 = 1 << 20;

/// What a table is read with.
#[derive(Debug, Clone, Copy)]
pub struct Tabled<'a> {
    /// The benches that there are.
    pub benches: &'a [Arc<str>],
    /// The bench of a table without a column for it.
    pub bench: Option<&'a str>,
    /// The zone of times that name none.
    pub zone: Tz,
}

/// How times were given.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct TimesRead {
    /// With an offset or as UTC.
    pub absolute: u64,
    /// Without: local.
    pub local: u64,
    /// A date alone: local noon.
    pub dates: u64,
}

/// What was refused, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowRefusal {
    line: u64,
    column: Option<String>,
    why: String,
}

impl fmt::Display for RowRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}", self.line)?;
        if let Some(column) = &self.column {
            write!(f, ", {column}")?;
        }
        write!(f, ": {}", self.why)
    }
}

/// Reads a table whose cells `parts` parts; `each` is handed what every row brings, and what was refused of it.
///
/// # Errors
/// With line and remedy, where the file cannot be read, its header names no table, or a row never ends.
pub fn read_table(
    reader: impl Read,
    parts: u8,
    with: &Tabled<'_>,
    mut each: impl FnMut(Vec<Recorded>, Vec<RowRefusal>),
) -> Result<TimesRead, String> {
    let lines = Rc::new(RefCell::new(LineEnds::default()));
    let bounded = Bounded { reader, lines: Rc::clone(&lines) };
    let mut table = csv::ReaderBuilder::new().flexible(true).delimiter(parts).from_reader(bounded);
    let header = table.headers().map_err(|error| told(&error))?.clone();
    let columns = columns(header.iter()).map_err(|why| format!("line 1: {why}"))?;
    if !columns.contains(&Column::Bench) && with.bench.is_none() {
        return Err(
            "line 1: no column \"bench\"; add one, or say --bench EAST-3 for the whole file".to_owned()
        );
    }
    let known: HashMap<&str, &Arc<str>> = with.benches.iter().map(|bench| (&**bench, bench)).collect();
    let times = TimesRead::default();
    let mut rows =
        Rows { with, header: &header, columns: &columns, decimal_comma: parts != b',', known, times };
    let mut row = StringRecord::new();
    loop {
        let line = lines.borrow_mut().row_begins(table.position().byte());
        match table.read_record(&mut row) {
            Ok(true) => {
                let (mut readings, mut refusals) = (Vec::new(), Vec::new());
                rows.row(&row, line, &mut readings, &mut refusals);
                each(readings, refusals);
            }
            Ok(false) => return Ok(rows.times),
            Err(error) => match error.kind() {
                csv::ErrorKind::Utf8 { .. } => {
                    let why = "is not UTF-8: save the sheet as CSV in UTF-8".to_owned();
                    each(Vec::new(), vec![RowRefusal { line, column: None, why }]);
                }
                _ => return Err(format!("line {line}: {}", told(&error))),
            },
        }
    }
}

fn told(error: &csv::Error) -> String {
    match error.kind() {
        csv::ErrorKind::Io(error) => error.to_string(),
        csv::ErrorKind::Utf8 { .. } => "line 1 is not UTF-8: save the sheet as CSV in UTF-8".to_owned(),
        _ => error.to_string(),
    }
}

/// Where lines end that have been read and not yet passed: `csv` counts CR LF a row late.
#[derive(Debug, Default)]
struct LineEnds {
    passed: u64,
    /// Byte offsets of line feeds. No more than lie in a row and the reader's buffer.
    ends: VecDeque<u64>,
    read: u64,
    row_began: u64,
}

impl LineEnds {
    /// The line on which a row begins at that byte, from 1.
    fn row_begins(&mut self, byte: u64) -> u64 {
        self.row_began = self.read;
        // the line feed of a CR LF is left to the next row
        while self.ends.front().is_some_and(|end| *end <= byte) {
            self.ends.pop_front();
            self.passed += 1;
        }
        self.passed + 1
    }

    fn take(&mut self, bytes: &[u8]) {
        let feeds = bytes.iter().zip(self.read..).filter(|(byte, _)| **byte == b'\n');
        self.ends.extend(feeds.map(|(_, offset)| offset));
        self.read += bytes.len() as u64;
    }
}

/// Ends the reading of a row that does not end.
struct Bounded<R> {
    reader: R,
    lines: Rc<RefCell<LineEnds>>,
}

impl<R: Read> Read for Bounded<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let mut lines = self.lines.borrow_mut();
        if lines.read - lines.row_began > LONGEST_ROW {
            return Err(io::Error::new(
                io::ErrorKind::InvalidData,
                format!("a row of more than {LONGEST_ROW} bytes: is a quote not closed?"),
            ));
        }
        let count = self.reader.read(buffer)?;
        lines.take(&buffer[..count]);
        Ok(count)
    }
}

struct Rows<'a> {
    with: &'a Tabled<'a>,
    header: &'a StringRecord,
    columns: &'a [Column],
    decimal_comma: bool,
    known: HashMap<&'a str, &'a Arc<str>>,
    times: TimesRead,
}

impl Rows<'_> {
    fn row(
        &mut self,
        row: &StringRecord,
        line: u64,
        readings: &mut Vec<Recorded>,
        refusals: &mut Vec<RowRefusal>,
    ) {
        if row.iter().all(|text| text.trim().is_empty()) {
            return;
        }
        let cell = |column: &Column| {
            let place = self.columns.iter().position(|known| known == column)?;
            row.get(place).map(str::trim).filter(|text| !text.is_empty())
        };
        let mut refuse = |column: Option<&str>, why: String| {
            refusals.push(RowRefusal { line, column: column.map(str::to_owned), why });
        };
        if let Some(more) = row.iter().skip(self.columns.len()).map(str::trim).find(|text| !text.is_empty()) {
            return refuse(None, format!("{more:?} has no column: a number is written 1.32, with a point"));
        }
        let Some(text) = cell(&Column::Time) else { return refuse(Some("time"), "is missing".to_owned()) };
        let (time, how) = match read_time(text, self.with.zone) {
            Ok(read) => read,
            Err(why) => return refuse(Some("time"), why),
        };
        let named = cell(&Column::Bench).map(restored);
        let Some(id) = named.as_deref().or(self.with.bench) else {
            return refuse(Some("bench"), "is missing".to_owned());
        };
        let Some(bench) = self.known.get(id) else {
            return refuse(Some("bench"), format!("no bench {id:?} in the configuration"));
        };
        let text = |column: &Column| cell(column).map(restored);
        let (note, by) =
            match words::note_and_by(text(&Column::Note).as_deref(), text(&Column::By).as_deref()) {
                Ok(read) => read,
                Err(why) => return refuse(None, why),
            };
        let (mut found, had) = (0, readings.len());
        for (place, column) in self.columns.iter().enumerate() {
            let Some(text) = row.get(place).map(str::trim).filter(|text| !text.is_empty()) else { continue };
            let observed = match column {
                Column::Value(quantity, unit) => number(text, self.decimal_comma)
                    .map(|value| unit.convert(value))
                    .and_then(|value| observed(*quantity, value)),
                Column::Sign => text.parse::<Sign>().map(Observed::Sign).map_err(|error| error.to_string()),
                Column::Time | Column::Bench | Column::Note | Column::By => continue,
            };
            found += 1;
            match observed {
                Ok(observed) => {
                    let by_hand = match observed {
                        Observed::Value(quantity, _) => quantity.by_hand(),
                        Observed::Sign(_) => true,
                    };
                    let kept = |text: &Option<String>| text.clone().filter(|_| by_hand);
                    readings.push(Recorded {
                        bench: Arc::clone(bench),
                        time,
                        observed,
                        note: kept(&note),
                        by: kept(&by),
                        fed: None,
                    });
                }
                Err(why) => refuse(self.header.get(place), why),
            }
        }
        if found == 0 {
            return refuse(None, "has no value".to_owned());
        }
        if readings.len() == had {
            return;
        }
        match how {
            Given::Absolute => self.times.absolute += 1,
            Given::Local => self.times.local += 1,
            Given::Date => self.times.dates += 1,
        }
    }
}

/// A number with a point, or with a comma where commas do not part the cells. A comma before just three digits may part thousands.
fn number(text: &str, decimal_comma: bool) -> Result<f64, String> {
    if decimal_comma && let Some((whole, decimals)) = text.split_once(',') {
        let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        if digits(whole.strip_prefix('-').unwrap_or(whole)) && digits(decimals) {
            if decimals.len() == 3 {
                return Err(format!(
                    "{text:?} may be a decimal or a thousand: write {whole}.{decimals} or {whole}{decimals}"
                ));
            }
            return format!("{whole}.{decimals}").parse().map_err(|_| format!("{text:?} is no number"));
        }
    }
    text.parse()
        .map_err(|_| format!("{text:?} is no number: it is written 1.32, with a point and without a unit"))
}

fn observed(quantity: Quantity, value: f64) -> Result<Observed, String> {
    quantity.possible(value).map(|value| Observed::Value(quantity, value)).map_err(|error| error.to_string())
}

/// How a time was given.
enum Given {
    Absolute,
    Local,
    Date,
}

/// RFC 3339, or a local date with or without a time of day; a date alone means noon, which is never half a day wrong.
fn read_time(text: &str, zone: Tz) -> Result<(Time, Given), String> {
    let (time, given) = if let Ok(at) = DateTime::parse_from_rfc3339(text) {
        (Time::from(at.with_timezone(&Utc)), Given::Absolute)
    } else if let Some(at) = naive(text) {
        (when::local(at, zone)?, Given::Local)
    } else if let Ok(date) = NaiveDate::parse_from_str(text, "%Y-%m-%d") {
        let noon = date.and_time(NaiveTime::from_hms_opt(12, 0, 0).unwrap_or_default());
        (when::local(noon, zone)?, Given::Date)
    } else {
        return Err(format!(
            "{text:?} is no time: write 2027-05-30 08:10 (local), 2027-05-30T08:10:00-03:00 or 2027-05-30T11:10:00Z"
        ));
    };
    if time.unix_ms() < 0 {
        return Err(format!("{text:?} lies before 1970"));
    }
    Ok((time, given))
}

fn naive(text: &str) -> Option<NaiveDateTime> {
    let (date, clock) = text.split_once(['T', ' '])?;
    let date = NaiveDate::parse_from_str(date, "%Y-%m-%d").ok()?;
    let clock = clock.trim();
    let clock = NaiveTime::parse_from_str(clock, "%H:%M:%S%.f")
        .or_else(|_| NaiveTime::parse_from_str(clock, "%H:%M"))
        .ok()?;
    Some(date.and_time(clock))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str, bench: Option<&str>) -> Result<(Vec<Recorded>, Vec<String>, TimesRead), String> {
        let benches: Vec<Arc<str>> = vec!["east-3".into(), "west-1".into()];
        let with = Tabled { benches: &benches, bench, zone: chrono_tz::America::Halifax };
        let (mut readings, mut refused) = (Vec::new(), Vec::new());
        let times = read_table(text.as_bytes(), b',', &with, |more, refusals| {
            readings.extend(more);
            refused.extend(refusals.iter().map(ToString::to_string));
        })?;
        Ok((readings, refused, times))
    }

    #[test]
    fn a_sheet_of_tape_measurements_is_read() {
        let text = "\u{feff}time,height (in),note,by\r\n2027-05-30 08:10,52,\"leaning, \"\"left\"\"\",ann\r\n\
                    2027-05-31,54.5,,\r\n2027-06-01T11:00:00Z,,,\r\n,,,\r\n";
        let (readings, refused, times) = read(text, Some("east-3")).unwrap();
        assert_eq!(refused, ["line 4: has no value"]);
        assert_eq!(times, TimesRead { absolute: 0, local: 1, dates: 1 });
        assert_eq!(readings.len(), 2);
        assert_eq!(readings[0].time.to_string(), "2027-05-30T11:10:00Z");
        assert_eq!(
            (readings[0].note.as_deref(), readings[0].by.as_deref()),
            (Some("leaning, \"left\""), Some("ann"))
        );
        assert!(
            matches!(readings[0].observed, Observed::Value(Quantity::Height, m) if (m - 1.3208).abs() < 1e-12)
        );
        assert_eq!(readings[1].time.to_string(), "2027-05-31T15:00:00Z", "noon");
    }

    #[test]
    fn what_is_wrong_is_refused_by_line_and_column_and_the_rest_is_taken() {
        let text = "time,bench,temperature (Cel),humidity (%RH),sign\n\
                    2027-05-30T08:10:00-03:00,east-3,27.31,103,scent\n\
                    2027-05-30T08:20:00-03:00,east-4,27.31,,\n\
                    2027-03-14 02:30,east-3,27.31,,\n\
                    2027-05-30T08:30:00-03:00,east-3,\"27,31\",71.4,blooming\n\
                    2027-05-30T08:40:00-03:00,east-3,99,71.4,\n\
                    2027-05-30T08:50:00-03:00,east-3,27,31,,71.4\n\
                    30/05/2027,east-3,27,,\n";
        let (readings, refused, _) = read(text, None).unwrap();
        assert_eq!(readings.len(), 5);
        let begins = [
            "line 3, bench: no bench",
            "line 4, time: 2027-03-14 02:30:00 does not exist",
            "line 5, temperature (Cel): \"27,31\" is no number",
            "line 5, sign: \"blooming\" is no sign",
            "line 6, temperature (Cel): temperature of 99",
            "line 7: \"71.4\" has no column",
            "line 8, time: \"30/05/2027\" is no time",
        ];
        assert_eq!(refused.len(), begins.len(), "{refused:?}");
        for (refused, begins) in refused.iter().zip(begins) {
            assert!(refused.starts_with(begins), "{refused}");
        }
    }

    #[test]
    fn a_quote_that_is_never_closed_ends_the_table_and_not_the_memory() {
        let endless = format!("time,bench,note\n2027-05-30 08:10,east-3,\"{}", "x,\n".repeat(1 << 20));
        assert!(read(&endless, None).unwrap_err().contains("is a quote not closed?"));
        assert!(read("time,height (m)\n", None).unwrap_err().contains("--bench"));
    }
}
