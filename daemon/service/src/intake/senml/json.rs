//! The JSON form: records are resolved while they are read, all but the time that is relative to now.

use std::borrow::Cow;
use std::fmt;

use serde::Deserialize;
use serde::de::{Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};

use super::{MAX_RECORDS, Name, Pack, PackFault, Record, RecordFault, VERSION, Value, shown};

/// Reads the pack that `text` begins with and says how many bytes it took; an error is JSON's.
pub(super) fn read(text: &[u8]) -> Result<(Result<Pack<'_>, PackFault>, usize), String> {
    let mut stream = serde_json::Deserializer::from_slice(text).into_iter::<Read<'_>>();
    match stream.next() {
        Some(Ok(Read(pack))) => Ok((pack, stream.byte_offset())),
        Some(Err(error)) => Err(shown(&error.to_string())),
        None => Err("nothing".to_owned()),
    }
}

struct Read<'a>(Result<Pack<'a>, PackFault>);

impl<'de> Deserialize<'de> for Read<'de> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct PackVisitor;

        impl<'de> Visitor<'de> for PackVisitor {
            type Value = Read<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a SenML pack, an array of records")
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut records: A) -> Result<Read<'de>, A::Error> {
                let mut resolver = Resolver::default();
                while let Some(raw) = records.next_element::<Raw<'de>>()? {
                    if let Err(fault) = resolver.take(raw) {
                        // the rest is read over, so that what follows the pack is found
                        while records.next_element::<IgnoredAny>()?.is_some() {}
                        return Ok(Read(Err(fault)));
                    }
                }
                Ok(Read(if resolver.place == 0 { Err(PackFault::Empty) } else { Ok(resolver.pack) }))
            }
        }

        deserializer.deserialize_seq(PackVisitor)
    }
}

/// The base fields as they stand, and what has been resolved.
#[derive(Default)]
struct Resolver<'a> {
    name: Cow<'a, str>,
    time_s: f64,
    unit: Option<Cow<'a, str>>,
    value: Option<f64>,
    sum: Option<f64>,
    version: Option<u64>,
    place: usize,
    pack: Pack<'a>,
}

impl<'a> Resolver<'a> {
    fn take(&mut self, raw: Raw<'a>) -> Result<(), PackFault> {
        self.place += 1;
        if self.place > MAX_RECORDS {
            return Err(PackFault::TooManyRecords);
        }
        self.take_base(&raw)?;
        if raw.base_only() {
            return Ok(());
        }
        match self.resolve(raw) {
            Ok(record) => self.pack.records.push(record),
            Err(fault) => self.pack.refused.push((self.place, fault)),
        }
        Ok(())
    }

    fn take_base(&mut self, raw: &Raw<'a>) -> Result<(), PackFault> {
        if let Some(label) = raw.wrong_base {
            return Err(PackFault::WrongBase(label));
        }
        if let Some(version) = raw.bver {
            // a whole number of at least 1: the range of f64's exact integers is far above any version
            if version < 1.0 || version.fract() != 0.0 || version > 1e9 {
                return Err(PackFault::WrongBase("bver"));
            }
            let version = version as u64;
            if version > VERSION {
                return Err(PackFault::VersionTooNew(version));
            }
            let before = if self.place == 1 { version } else { self.version.unwrap_or(VERSION) };
            if before != version {
                return Err(PackFault::VersionsDiffer);
            }
            self.version = Some(version);
        }
        if let Some(name) = &raw.bn {
            self.name = name.clone();
        }
        if let Some(time_s) = raw.bt {
            self.time_s = time_s;
        }
        if let Some(unit) = &raw.bu {
            self.unit = Some(unit.clone());
        }
        self.value = raw.bv.or(self.value);
        self.sum = raw.bs.or(self.sum);
        Ok(())
    }

    fn resolve(&self, raw: Raw<'a>) -> Result<Record<'a>, RecordFault> {
        if let Some(fault) = raw.fault {
            return Err(fault);
        }
        let name = Name { base: self.name.clone(), own: raw.n.unwrap_or_default() };
        if name.base.is_empty() && name.own.is_empty() {
            return Err(RecordFault::NoName);
        }
        if !name.is_allowed() {
            return Err(RecordFault::WrongName(shown(&name.to_string())));
        }
        let mut values = [
            raw.v.map(|number| Value::Number(number + self.value.unwrap_or(0.0))),
            raw.vs.map(Value::Text),
            raw.vb.map(Value::Flag),
            raw.vd.map(Value::Data),
        ]
        .into_iter()
        .flatten();
        // a missing value counts as zero where there is a base value (RFC 8428, 4.5.4)
        let value = values.next().or(self.value.map(Value::Number));
        if values.next().is_some() {
            return Err(RecordFault::TwoValues);
        }
        let sum = match (self.sum, raw.s) {
            (None, None) => None,
            (base, own) => Some(base.unwrap_or(0.0) + own.unwrap_or(0.0)),
        };
        if value.is_none() && sum.is_none() {
            return Err(RecordFault::NoValue);
        }
        Ok(Record {
            place: self.place,
            name,
            unit: raw.u.or_else(|| self.unit.clone()),
            time_s: self.time_s + raw.t.unwrap_or(0.0),
            value,
            sum,
            update_time_s: raw.ut,
            version: self.version.filter(|version| *version != VERSION),
        })
    }
}

/// A record as it stands in the pack.
#[derive(Default)]
struct Raw<'a> {
    bn: Option<Cow<'a, str>>,
    bt: Option<f64>,
    bu: Option<Cow<'a, str>>,
    bv: Option<f64>,
    bs: Option<f64>,
    bver: Option<f64>,
    n: Option<Cow<'a, str>>,
    u: Option<Cow<'a, str>>,
    v: Option<f64>,
    vs: Option<Cow<'a, str>>,
    vb: Option<bool>,
    vd: Option<Cow<'a, str>>,
    s: Option<f64>,
    t: Option<f64>,
    ut: Option<f64>,
    fault: Option<RecordFault>,
    wrong_base: Option<&'static str>,
    has_base: bool,
    /// Any known field that is not a base field.
    has_own: bool,
}

impl<'a> Raw<'a> {
    /// Carries base fields for the records after it and is itself no record.
    fn base_only(&self) -> bool {
        self.has_base && !self.has_own && self.fault.is_none()
    }

    fn put(&mut self, label: Label<'a>, scalar: Scalar<'a>) {
        let name = match label {
            Label::Known(name) => name,
            Label::Unknown(name) => {
                if name.ends_with('_') {
                    self.fail(RecordFault::MustUnderstand(shown(&name)));
                }
                return;
            }
        };
        let fits = match name {
            "bn" => set(&mut self.bn, scalar.text()),
            "bt" => set(&mut self.bt, scalar.number()),
            "bu" => set(&mut self.bu, scalar.text()),
            "bv" => set(&mut self.bv, scalar.number()),
            "bs" => set(&mut self.bs, scalar.number()),
            "bver" => set(&mut self.bver, scalar.number()),
            "n" => set(&mut self.n, scalar.text()),
            "u" => set(&mut self.u, scalar.text()),
            "v" => set(&mut self.v, scalar.number()),
            "vs" => set(&mut self.vs, scalar.text()),
            "vb" => set(&mut self.vb, scalar.flag()),
            "vd" => set(&mut self.vd, scalar.text()),
            "s" => set(&mut self.s, scalar.number()),
            "t" => set(&mut self.t, scalar.number()),
            _ => set(&mut self.ut, scalar.number()),
        };
        let is_base = name.starts_with('b');
        self.has_base |= is_base;
        self.has_own |= !is_base;
        match fits {
            Fit::Set => {}
            Fit::Twice | Fit::WrongType if is_base => self.wrong_base = Some(name),
            Fit::Twice => self.fail(RecordFault::Twice(name)),
            Fit::WrongType => self.fail(RecordFault::WrongType(name)),
        }
    }

    fn fail(&mut self, fault: RecordFault) {
        self.fault.get_or_insert(fault);
    }
}

enum Fit {
    Set,
    Twice,
    WrongType,
}

fn set<T>(place: &mut Option<T>, value: Option<T>) -> Fit {
    match (place.is_some(), value) {
        (true, _) => Fit::Twice,
        (false, None) => Fit::WrongType,
        (false, value) => {
            *place = value;
            Fit::Set
        }
    }
}

impl<'de> Deserialize<'de> for Raw<'de> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct RecordVisitor;

        impl<'de> Visitor<'de> for RecordVisitor {
            type Value = Raw<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a SenML record")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut fields: A) -> Result<Raw<'de>, A::Error> {
                let mut raw = Raw::default();
                while let Some(label) = fields.next_key::<Label<'de>>()? {
                    let scalar = fields.next_value::<Scalar<'de>>()?;
                    raw.put(label, scalar);
                }
                Ok(raw)
            }
        }

        deserializer.deserialize_map(RecordVisitor)
    }
}

/// The name of a field.
enum Label<'a> {
    Known(&'static str),
    Unknown(Cow<'a, str>),
}

const LABELS: [&str; 15] =
    ["n", "v", "u", "t", "bn", "bt", "bu", "vs", "bv", "bs", "bver", "vb", "vd", "s", "ut"];

impl<'de> Deserialize<'de> for Label<'de> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = deserializer.deserialize_str(TextVisitor)?;
        Ok(match LABELS.iter().find(|label| **label == text) {
            Some(label) => Self::Known(label),
            None => Self::Unknown(text),
        })
    }
}

struct TextVisitor;

impl<'de> Visitor<'de> for TextVisitor {
    type Value = Cow<'de, str>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a string")
    }

    fn visit_borrowed_str<E>(self, text: &'de str) -> Result<Self::Value, E> {
        Ok(Cow::Borrowed(text))
    }

    fn visit_str<E>(self, text: &str) -> Result<Self::Value, E> {
        Ok(Cow::Owned(text.to_owned()))
    }
}

/// The value of a field, of whatever type it is: a wrong type is the record's fault, not the pack's.
enum Scalar<'a> {
    Number(f64),
    Text(Cow<'a, str>),
    Flag(bool),
    Other,
}

impl<'a> Scalar<'a> {
    fn number(self) -> Option<f64> {
        match self {
            Self::Number(number) => Some(number),
            _ => None,
        }
    }

    fn text(self) -> Option<Cow<'a, str>> {
        match self {
            Self::Text(text) => Some(text),
            _ => None,
        }
    }

    fn flag(self) -> Option<bool> {
        match self {
            Self::Flag(flag) => Some(flag),
            _ => None,
        }
    }
}

impl<'de> Deserialize<'de> for Scalar<'de> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct ScalarVisitor;

        impl<'de> Visitor<'de> for ScalarVisitor {
            type Value = Scalar<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a value")
            }

            fn visit_bool<E>(self, flag: bool) -> Result<Self::Value, E> {
                Ok(Scalar::Flag(flag))
            }

            fn visit_i64<E>(self, number: i64) -> Result<Self::Value, E> {
                Ok(Scalar::Number(number as f64))
            }

            fn visit_u64<E>(self, number: u64) -> Result<Self::Value, E> {
                Ok(Scalar::Number(number as f64))
            }

            fn visit_f64<E>(self, number: f64) -> Result<Self::Value, E> {
                Ok(Scalar::Number(number))
            }

            fn visit_borrowed_str<E>(self, text: &'de str) -> Result<Self::Value, E> {
                Ok(Scalar::Text(Cow::Borrowed(text)))
            }

            fn visit_str<E>(self, text: &str) -> Result<Self::Value, E> {
                Ok(Scalar::Text(Cow::Owned(text.to_owned())))
            }

            fn visit_unit<E>(self) -> Result<Self::Value, E> {
                Ok(Scalar::Other)
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Self::Value, A::Error> {
                while items.next_element::<IgnoredAny>()?.is_some() {}
                Ok(Scalar::Other)
            }

            fn visit_map<A: MapAccess<'de>>(self, mut fields: A) -> Result<Self::Value, A::Error> {
                while fields.next_entry::<IgnoredAny, IgnoredAny>()?.is_some() {}
                Ok(Scalar::Other)
            }
        }

        deserializer.deserialize_any(ScalarVisitor)
    }
}
