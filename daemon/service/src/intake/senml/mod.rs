//! SenML in JSON (RFC 8428): text in, resolved records out.
//!
//! Own code, because the crates that exist were tried and do not hold here. `sindit-senml` 0.3 gives a base-only record the
//! value zero, lets versions above 10 and must-understand fields pass, does not order by time and refuses a whole pack for
//! one record; `coapum-senml` 0.1 takes base fields from the first record only and drops what it cannot resolve without a
//! word; both own every string. The JSON itself is `serde_json`'s work. Strings are borrowed from the line; a pack without
//! escapes costs one allocation.

mod json;

use std::borrow::Cow;
use std::fmt;

/// A line longer than this is refused, in bytes. 1,024 records of 60 bytes fit.
pub const MAX_LINE_BYTES: usize = 64 * 1024;
/// A pack of more records than this is refused.
pub const MAX_RECORDS: usize = 1024;
/// The version this reader understands (RFC 8428, 4.4).
const VERSION: u64 = 10;
/// Times below 2^28 s are relative to now (RFC 8428, 4.5.3).
const FIRST_ABSOLUTE_S: f64 = 268_435_456.0;
/// After a pack that cannot be read, reading begins anew at the next `[{` of the same line, this often a line.
const MAX_RESTARTS: u32 = 8;
/// As many packs a line are read: more than ever ran together for want of a line end, and few enough to be refused one by one.
const MAX_PACKS: u32 = 64;
/// What a fault repeats of foreign text, in characters.
const SHOWN_CHARS: usize = 60;

/// The start of a text from outside, short enough for a message.
pub(crate) fn shown(text: &str) -> String {
    text.chars().take(SHOWN_CHARS).collect()
}

/// One pack, resolved, in chronological order; records of the same time keep the order in which they came.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Pack<'a> {
    /// What could be resolved.
    pub records: Vec<Record<'a>>,
    /// What could not: the record's place in the pack, from 1, and why.
    pub refused: Vec<(usize, RecordFault)>,
}

/// A record with the base fields worked in.
#[derive(Debug, Clone, PartialEq)]
pub struct Record<'a> {
    /// The record's place in the pack, from 1.
    pub place: usize,
    /// Base name and name.
    pub name: Name<'a>,
    /// The unit, the base unit, or none.
    pub unit: Option<Cow<'a, str>>,
    /// Seconds since 1970-01-01T00:00:00Z.
    pub time_s: f64,
    /// The value; none where there is a sum only.
    pub value: Option<Value<'a>>,
    /// The integral over time, in unit × seconds.
    pub sum: Option<f64>,
    /// The sensor promises its next reading within so many seconds.
    pub update_time_s: Option<f64>,
    /// The version, unless it is that of RFC 8428.
    pub version: Option<u64>,
}

/// A record's value.
#[derive(Debug, Clone, PartialEq)]
pub enum Value<'a> {
    /// `v`, with the base value added.
    Number(f64),
    /// `vs`.
    Text(Cow<'a, str>),
    /// `vb`.
    Flag(bool),
    /// `vd`, base64 as it came.
    Data(Cow<'a, str>),
}

/// A resolved name: the base name and the name, one after the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Name<'a> {
    base: Cow<'a, str>,
    own: Cow<'a, str>,
}

impl Name<'_> {
    /// What stands before and after the last `/`; `None` where there is none.
    pub fn split_at_last_slash(&self) -> Option<(Cow<'_, str>, Cow<'_, str>)> {
        if let Some((before, after)) = self.own.rsplit_once('/') {
            let before = match &*self.base {
                "" => Cow::Borrowed(before),
                base => Cow::Owned(format!("{base}{before}")),
            };
            return Some((before, Cow::Borrowed(after)));
        }
        let (before, after) = self.base.rsplit_once('/')?;
        let after = match after {
            "" => Cow::Borrowed(&*self.own),
            start => Cow::Owned(format!("{start}{}", self.own)),
        };
        Some((Cow::Borrowed(before), after))
    }

    /// Letters, digits and `- : . / _`, the first a letter or digit (RFC 8428, 4.5.1).
    fn is_allowed(&self) -> bool {
        let mut bytes = self.base.bytes().chain(self.own.bytes());
        bytes.next().is_some_and(|first| first.is_ascii_alphanumeric())
            && bytes.all(|byte| byte.is_ascii_alphanumeric() || b"-:./_".contains(&byte))
    }
}

impl fmt::Display for Name<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.base)?;
        f.write_str(&self.own)
    }
}

/// Why a whole pack is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PackFault {
    /// Cut off, garbled or something else.
    #[error("no SenML pack: {0}")]
    NotAPack(String),
    /// `[]`.
    #[error("an empty pack: a pack has at least one record")]
    Empty,
    /// Beyond [`MAX_RECORDS`].
    #[error("more than {MAX_RECORDS} records in one pack: send several packs")]
    TooManyRecords,
    /// Beyond [`MAX_PACKS`] on one line.
    #[error("more than {MAX_PACKS} packs in one line: send a pack a line")]
    TooManyPacks,
    /// Made for readers that know more than RFC 8428.
    #[error("version {0}: this reader knows version {VERSION} (RFC 8428)")]
    VersionTooNew(u64),
    /// `bver` changes within the pack.
    #[error("two versions in one pack")]
    VersionsDiffer,
    /// A base field is not what it must be, and the records after it cannot be understood without it.
    #[error("the base field `{0}` has the wrong type or comes twice")]
    WrongBase(&'static str),
}

/// Why a single record is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RecordFault {
    /// Neither name nor base name.
    #[error("no name")]
    NoName,
    /// A character that RFC 8428 does not allow.
    #[error("the name {0:?} is not of letters, digits and - : . / _, beginning with a letter or digit")]
    WrongName(String),
    /// Neither value nor sum.
    #[error("no value")]
    NoValue,
    /// More than one of `v`, `vs`, `vb`, `vd`.
    #[error("two values")]
    TwoValues,
    /// The same field twice.
    #[error("the field `{0}` twice")]
    Twice(&'static str),
    /// A field that must not be ignored.
    #[error("the field {0:?} must be understood and is not")]
    MustUnderstand(String),
    /// A number where there must be a string, NaN, and the like.
    #[error("the field `{0}` has the wrong type, or is no finite number")]
    WrongType(&'static str),
    /// Without a time, or with one relative to now, where only the record's own time counts.
    #[error("no absolute time")]
    NoAbsoluteTime,
}

/// The packs of one line: normally one, or two where a newline was lost.
///
/// A pack that cannot be read is reported by itself; what follows it on the line is read.
#[derive(Debug)]
pub struct Packs<'a> {
    rest: &'a [u8],
    now_s: Option<f64>,
    restarts: u32,
    read: u32,
}

/// The packs of a line of at most [`MAX_LINE_BYTES`].
///
/// `now_s`, in seconds since 1970, is what relative and missing times count from; with `None` such records are refused.
pub fn packs(line: &[u8], now_s: Option<f64>) -> Packs<'_> {
    Packs { rest: line, now_s, restarts: 0, read: 0 }
}

impl<'a> Packs<'a> {
    fn restart(&mut self) {
        let next = match self.rest.get(1..) {
            Some(after) if self.restarts < MAX_RESTARTS => after.windows(2).position(|two| two == b"[{"),
            _ => None,
        };
        self.restarts += 1;
        self.rest = next.and_then(|place| self.rest.get(place + 1..)).unwrap_or_default();
    }

    fn place_in_time(&self, pack: &mut Pack<'a>) {
        match self.now_s {
            Some(now_s) => {
                for record in pack.records.iter_mut().filter(|record| record.time_s < FIRST_ABSOLUTE_S) {
                    record.time_s += now_s;
                }
            }
            None => pack.records.retain(|record| {
                let absolute = record.time_s >= FIRST_ABSOLUTE_S;
                if !absolute {
                    pack.refused.push((record.place, RecordFault::NoAbsoluteTime));
                }
                absolute
            }),
        }
        if !pack.records.is_sorted_by(|earlier, later| earlier.time_s <= later.time_s) {
            pack.records.sort_by(|one, other| one.time_s.total_cmp(&other.time_s));
        }
    }
}

impl<'a> Iterator for Packs<'a> {
    type Item = Result<Pack<'a>, PackFault>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.rest.len() > MAX_LINE_BYTES {
            self.rest = &[];
            return Some(Err(PackFault::NotAPack(format!("longer than {MAX_LINE_BYTES} bytes"))));
        }
        self.rest = self.rest.trim_ascii();
        if self.rest.is_empty() {
            return None;
        }
        self.read += 1;
        if self.read > MAX_PACKS {
            self.rest = &[];
            return Some(Err(PackFault::TooManyPacks));
        }
        Some(match json::read(self.rest) {
            Ok((pack, length)) => {
                self.rest = self.rest.get(length..).unwrap_or_default();
                pack.map(|mut pack| {
                    self.place_in_time(&mut pack);
                    pack
                })
            }
            Err(why) => {
                self.restart();
                Err(PackFault::NotAPack(why))
            }
        })
    }
}

/// The line with every number that is not finite (`NaN`, `-inf`, `1e999`) made `null`; `None` if there is none.
///
/// JSON has no word for them and encoders print them all the same: so their record is refused without harm to its
/// neighbours.
pub fn mended(line: &[u8]) -> Option<Vec<u8>> {
    let mut text = Vec::with_capacity(line.len());
    let mut rest = line;
    let mut changed = false;
    while let Some(&first) = rest.first() {
        let is_word = |byte: &u8| !byte.is_ascii_whitespace() && !b"[]{},:\"".contains(byte);
        let (length, keep) = if first == b'"' {
            (string_length(rest), true)
        } else if is_word(&first) {
            let length = rest.iter().position(|byte| !is_word(byte)).unwrap_or(rest.len());
            (length, !rest.get(..length).is_some_and(is_no_finite_number))
        } else {
            (1, true)
        };
        let (token, after) = rest.split_at(length);
        text.extend_from_slice(if keep { token } else { b"null" });
        changed |= !keep;
        rest = after;
    }
    changed.then_some(text)
}

fn is_no_finite_number(word: &[u8]) -> bool {
    std::str::from_utf8(word).is_ok_and(|word| word.parse::<f64>().is_ok_and(|number| !number.is_finite()))
}

/// The length of the JSON string that `text` begins with, quotes included; all of it if the closing quote is missing.
fn string_length(text: &[u8]) -> usize {
    let mut escaped = false;
    for (place, byte) in text.iter().enumerate().skip(1) {
        match byte {
            _ if escaped => escaped = false,
            b'\\' => escaped = true,
            b'"' => return place + 1,
            _ => {}
        }
    }
    text.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW_S: f64 = 1_780_300_800.0;

    fn names(line: &str) -> Vec<Result<Vec<String>, PackFault>> {
        packs(line.as_bytes(), Some(NOW_S))
            .map(|pack| pack.map(|pack| pack.records.iter().map(|record| record.name.to_string()).collect()))
            .collect()
    }

    #[test]
    fn a_name_is_split_at_its_last_slash_wherever_that_stands() {
        for (base, own) in [
            ("east-3/", "tip-range"),
            ("", "east-3/tip-range"),
            ("east-", "3/tip-range"),
            ("east-3/tip-", "range"),
        ] {
            let name = Name { base: base.into(), own: own.into() };
            let (bench, quantity) = name.split_at_last_slash().unwrap();
            assert_eq!((&*bench, &*quantity), ("east-3", "tip-range"), "{base:?} {own:?}");
        }
        assert_eq!(Name { base: "a".into(), own: "b".into() }.split_at_last_slash(), None);
    }

    #[test]
    fn glued_packs_are_all_read_and_a_half_one_costs_only_itself() {
        let one = r#"[{"n":"a","v":1}]"#;
        let two = r#"[{"n":"b","v":2}]"#;
        let read = |names: &[&str]| Ok(names.iter().map(ToString::to_string).collect::<Vec<_>>());
        assert_eq!(names(&format!("{one}{two}\r")), [read(&["a"]), read(&["b"])]);
        for half in [r#"[{"n":"a","v":1"#, r#"[{"n":"x"#, "\u{0}\u{7f}", r#""v":1}]"#, "[{}"] {
            let found = names(&format!("{half}{two}"));
            assert!(matches!(found.first(), Some(Err(PackFault::NotAPack(_)))), "{half}: {found:?}");
            assert_eq!(found.last(), Some(&read(&["b"])), "{half}");
            let found = names(&format!("{two}{half}"));
            assert_eq!(found.first(), Some(&read(&["b"])), "{half}");
        }
        assert_eq!(names(" \r\t "), []);
        assert_eq!(names("[]"), [Err(PackFault::Empty)]);
    }

    #[test]
    fn restarts_within_a_line_are_counted() {
        let found = names(&"[{".repeat(200));
        assert_eq!(found.len(), MAX_RESTARTS as usize + 1);
        assert!(found.iter().all(Result::is_err));
    }

    #[test]
    fn too_much_is_refused() {
        let records = |count: usize| format!("[{}]", vec![r#"{"n":"a","v":1}"#; count].join(","));
        assert_eq!(names(&records(MAX_RECORDS)).first().unwrap().as_ref().unwrap().len(), MAX_RECORDS);
        assert_eq!(names(&records(MAX_RECORDS + 1)), [Err(PackFault::TooManyRecords)]);
        let glued = names(&"[]".repeat(1000));
        assert_eq!(
            (glued.len(), glued.last()),
            (MAX_PACKS as usize + 1, Some(&Err(PackFault::TooManyPacks)))
        );
        let long = format!(r#"[{{"n":"a","vs":"{}"}}]"#, "x".repeat(MAX_LINE_BYTES));
        assert!(matches!(&*names(&long), [Err(PackFault::NotAPack(_))]));
        assert!(matches!(&*names(&"[".repeat(MAX_LINE_BYTES)), [Err(PackFault::NotAPack(_))]));
    }

    #[test]
    fn a_fault_stays_with_its_record_and_a_broken_base_with_its_pack() {
        let line = r#"[{"bn":"a/","n":"x","v":1},{"n":"y","v":"1"},{"n":"z","v":1,"v":2},{"n":"w","t":null,"v":1},{"n":"u","v":3}]"#;
        let pack = packs(line.as_bytes(), Some(NOW_S)).next().unwrap().unwrap();
        let kept: Vec<_> = pack.records.iter().map(|record| record.name.to_string()).collect();
        assert_eq!(kept, ["a/x", "a/u"]);
        let refused = [
            (2, RecordFault::WrongType("v")),
            (3, RecordFault::Twice("v")),
            (4, RecordFault::WrongType("t")),
        ];
        assert_eq!(pack.refused, refused);
        assert_eq!(
            names(r#"[{"n":"a","v":1,"bt":"now"},{"n":"b","v":1}]"#),
            [Err(PackFault::WrongBase("bt"))]
        );
        assert_eq!(names(r#"[{"n":"a","v":1,"bver":1.5}]"#), [Err(PackFault::WrongBase("bver"))]);
    }

    #[test]
    fn without_a_now_only_absolute_times_count() {
        let line = br#"[{"n":"a","v":1},{"n":"b","v":1,"t":-5},{"n":"c","v":1,"t":1780300800}]"#;
        let pack = packs(line, None).next().unwrap().unwrap();
        assert_eq!(pack.records.len(), 1);
        assert_eq!(pack.refused, [(1, RecordFault::NoAbsoluteTime), (2, RecordFault::NoAbsoluteTime)]);
    }

    #[test]
    fn numbers_that_are_not_finite_become_null_and_nothing_else_changes() {
        let line = r#"[{"n":"NaN \" nan","v":NaN},{"v":-inf},{"v":1e999},{"v":-1.5e3},{"vb":true}]"#;
        let expected = r#"[{"n":"NaN \" nan","v":null},{"v":null},{"v":null},{"v":-1.5e3},{"vb":true}]"#;
        assert_eq!(mended(line.as_bytes()).unwrap(), expected.as_bytes());
        assert_eq!(mended(expected.as_bytes()), None);
        assert_eq!(mended(br#"[{"n":"a","v":27.x1},{"v":ERR},{"#), None);
    }
}
