//! One reading as one line of InfluxDB's line protocol.
//!
//! The library escapes what the format wants escaped and checks nothing: empty tags, line breaks, a backslash at the end of a
//! tag and values that are no number would leave as they are and spoil the batch. They cannot come as far as its builder here.

use std::collections::HashMap;
use std::sync::Arc;

use bloom_model::reading::Observed;
use influxdb2::models::{DataPoint, FieldValue, WriteDataPoint};

use crate::store::Recorded;

/// The measurement of every line.
const MEASUREMENT: &str = "bench";
/// The field of a sign, a text.
const SIGN: &str = "sign";

/// What lines are labelled with: the site, and the plant on each bench.
#[derive(Debug, Clone)]
pub struct Labels {
    site: Option<String>,
    plants: HashMap<Arc<str>, String>,
}

impl Labels {
    /// Labels of a site; `plants` by bench. Of a label that the format cannot hold, what it can hold is kept.
    pub fn new(site: &str, plants: HashMap<Arc<str>, String>) -> Self {
        let plants = plants.into_iter().filter_map(|(bench, plant)| Some((bench, tag(&plant)?))).collect();
        Self { site: tag(site), plants }
    }

    /// The line of a reading or sign, closed by a line break; `None` for a value that is no number.
    pub(super) fn line(&self, recorded: &Recorded) -> Option<String> {
        let (field, value) = match recorded.observed {
            Observed::Value(quantity, value) if value.is_finite() => {
                (quantity.field(), FieldValue::F64(value))
            }
            Observed::Value(..) => return None,
            Observed::Sign(sign) => (SIGN, FieldValue::String(text(&sign.to_string()))),
        };
        let tags = [
            ("site", self.site.clone()),
            ("bench", tag(&recorded.bench)),
            ("plant", self.plants.get(&recorded.bench).cloned()),
        ];
        point(MEASUREMENT, tags, field, value, recorded.time.unix_ms())
    }
}

fn point(
    measurement: &str,
    tags: impl IntoIterator<Item = (&'static str, Option<String>)>,
    field: &str,
    value: FieldValue,
    time_ms: i64,
) -> Option<String> {
    let mut point = DataPoint::builder(measurement).field(field, value).timestamp(time_ms);
    for (key, value) in tags {
        if let Some(value) = value {
            point = point.tag(key, value);
        }
    }
    let mut line = Vec::with_capacity(96);
    point.build().ok()?.write_data_point_to(&mut line).ok()?;
    String::from_utf8(line).ok()
}

/// A tag's value: no control characters, no backslash at the end (it would escape what follows), and not empty.
fn tag(label: &str) -> Option<String> {
    let label = label.replace(char::is_control, " ");
    let label = label.trim_end_matches('\\');
    (!label.is_empty()).then(|| label.to_owned())
}

/// A text field's value: the library escapes the quotes, and leaves the backslash to us.
fn text(value: &str) -> String {
    value.replace(char::is_control, " ").replace('\\', "\\\\")
}

#[cfg(test)]
mod tests {
    use bloom_model::quantity::Quantity;
    use bloom_model::time::Time;

    use super::*;

    fn recorded(observed: Observed) -> Recorded {
        Recorded {
            bench: "east-3".into(),
            time: Time::from_unix_ms(1_811_880_000_250),
            observed,
            note: Some("gloves on".to_owned()),
            by: Some("Ida".to_owned()),
            fed: Some(7),
        }
    }

    fn labels(plant: &str) -> Labels {
        Labels::new("saltmarsh", HashMap::from([("east-3".into(), plant.to_owned())]))
    }

    #[test]
    fn a_reading_is_a_line_and_names_of_people_stay_at_home() {
        let line = |observed| labels("AT-0412").line(&recorded(observed)).unwrap();
        assert_eq!(
            line(Observed::Value(Quantity::TipRange, 0.914)),
            "bench,bench=east-3,plant=AT-0412,site=saltmarsh tip_range_m=0.914 1811880000250\n"
        );
        assert_eq!(
            line(Observed::Sign("mount-moved rim=0.95".parse().unwrap())),
            "bench,bench=east-3,plant=AT-0412,site=saltmarsh sign=\"mount-moved rim=0.95\" 1811880000250\n"
        );
    }

    #[test]
    fn what_the_format_cannot_hold_does_not_reach_it() {
        let line = |plant: &str| {
            let value = Observed::Value(Quantity::Humidity, 71.4);
            labels(plant).line(&recorded(value)).unwrap().split(' ').next().unwrap().to_owned()
        };
        assert_eq!(line(""), "bench,bench=east-3,site=saltmarsh");
        assert_eq!(line("\\\\"), "bench,bench=east-3,site=saltmarsh");
        assert_eq!(line("AT\\"), "bench,bench=east-3,plant=AT,site=saltmarsh");
        let broken = labels("a\nb").line(&recorded(Observed::Value(Quantity::Humidity, 71.4))).unwrap();
        assert_eq!(broken.matches('\n').count(), 1, "{broken}");
        for value in [f64::NAN, f64::INFINITY] {
            assert_eq!(labels("AT").line(&recorded(Observed::Value(Quantity::Height, value))), None);
        }
    }

    /// Rows of the line protocol's documentation: element, raw text, text as it is to be written.
    #[test]
    fn escaping_is_that_of_the_documentation() {
        let table = include_str!("../../../../tests/reference/lineprotocol_escape.csv");
        let mut rows = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(table.as_bytes());
        let mut checked = 0;
        for row in rows.records().map(Result::unwrap) {
            let [element, raw, escaped] = [&row[0], &row[1], &row[2]];
            let with = |measurement: &str, key: &str, tag_value: &str, field: &str, value: FieldValue| {
                let point = DataPoint::builder(measurement).tag(key, tag_value).field(field, value);
                let mut line = Vec::new();
                point.timestamp(7).build().unwrap().write_data_point_to(&mut line).unwrap();
                String::from_utf8(line).unwrap()
            };
            let one = FieldValue::F64(1.0);
            let (written, wanted) = match element {
                "measurement" => (with(raw, "k", "v", "f", one), format!("{escaped},k=v f=1 7\n")),
                "tag key" => (with("m", raw, "v", "f", one), format!("m,{escaped}=v f=1 7\n")),
                "tag value" => {
                    (with("m", "k", &tag(raw).unwrap(), "f", one), format!("m,k={escaped} f=1 7\n"))
                }
                "field key" => (with("m", "k", "v", raw, one), format!("m,k=v {escaped}=1 7\n")),
                "string field value" => {
                    let value = FieldValue::String(text(raw));
                    (with("m", "k", "v", "f", value), format!("m,k=v f={escaped} 7\n"))
                }
                "float field value" => {
                    let value: f64 = raw.parse().unwrap();
                    let line = with("m", "k", "v", "f", FieldValue::F64(value));
                    // the same number: the format takes it with an exponent or written out
                    let number = line.strip_prefix("m,k=v f=").and_then(|rest| rest.strip_suffix(" 7\n"));
                    assert_eq!(number.unwrap().parse(), Ok(value), "{line}");
                    checked += 1;
                    continue;
                }
                // fields of other kinds are not forwarded
                _ => continue,
            };
            assert_eq!(written, wanted, "{element} {raw:?}");
            checked += 1;
        }
        assert_eq!(checked, 13, "all rows but integers and truth values");
    }
}
