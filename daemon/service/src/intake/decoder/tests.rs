use bloom_model::sign::PlainSign;
use proptest::prelude::*;

use super::*;

const ARRIVAL: Time = Time::from_unix_ms(1_780_300_800_000);
const EXAMPLE: &str = r#"[{"bn":"east-3/","bt":1780300800,"n":"temperature","u":"Cel","v":27.31},{"n":"humidity","u":"%RH","v":71.4},{"n":"tip-range","u":"m","v":0.914},{"n":"rim-range","u":"m","v":0.802}]"#;

fn decoder() -> Decoder {
    Decoder::new(["east-2", "east-3"])
}

fn take(text: &str, time: ArrivalTime) -> (Vec<Reading>, Vec<Refusal>) {
    let (mut readings, mut refused) = (Vec::new(), Vec::new());
    decoder().line(&Line::Whole(text.as_bytes()), time, &mut readings, &mut refused);
    (readings, refused)
}

fn live(text: &str) -> (Vec<Reading>, Vec<String>) {
    let (readings, refused) = take(text, ArrivalTime::Stamped(ARRIVAL));
    (readings, refused.iter().map(ToString::to_string).collect())
}

fn value(quantity: Quantity, value: f64, time: Time) -> Reading {
    Reading { bench: BenchNumber(1), time, observed: Observed::Value(quantity, value) }
}

#[test]
fn a_pack_becomes_readings_of_its_bench() {
    let expected = [
        value(Quantity::Temperature, 27.31, ARRIVAL),
        value(Quantity::Humidity, 71.4, ARRIVAL),
        value(Quantity::TipRange, 0.914, ARRIVAL),
        value(Quantity::RimRange, 0.802, ARRIVAL),
    ];
    assert_eq!(take(EXAMPLE, ArrivalTime::Carried), (expected.to_vec(), vec![]));
    let no_units = r#"[{"n":"east-3/temperature","v":27.31}]"#;
    assert_eq!(live(no_units), (expected[..1].to_vec(), vec![]));
}

#[test]
fn a_live_record_without_a_time_is_of_its_arrival_and_relative_times_count_from_it() {
    let (readings, refused) = live(r#"[{"bn":"east-3/","n":"girth","v":1},{"n":"girth","v":2,"t":-1.5}]"#);
    let before = ARRIVAL - TimeDelta::milliseconds(1500);
    assert_eq!(readings, [value(Quantity::Girth, 2.0, before), value(Quantity::Girth, 1.0, ARRIVAL)]);
    assert_eq!(refused, [""; 0]);
}

#[test]
fn signs_come_as_strings_without_a_unit() {
    let (readings, refused) = live(
        r#"[{"n":"east-3/sign","vs":"bract-dropped"},{"n":"east-3/sign","v":1},{"n":"east-3/sign","vs":"blue"},{"n":"east-3/sign","u":"m","vs":"opened"}]"#,
    );
    let sign = Observed::Sign(Sign::Plain(PlainSign::BractDropped));
    assert_eq!(readings, [Reading { bench: BenchNumber(1), time: ARRIVAL, observed: sign }]);
    assert_eq!(refused.len(), 3, "{refused:?}");
    assert_eq!(refused[0], "line 1, record 2: a sign without a string: it belongs in `vs`");
    assert!(refused[1].starts_with(r#"line 1, record 3: "blue" is no sign"#), "{refused:?}");
    assert_eq!(refused[2], r#"line 1, record 4: sign in "m": it is measured in no unit"#);
}

#[test]
fn each_wrong_record_is_refused_by_itself_with_its_reason() {
    for (record, reason) in [
        (r#"{"n":"west-9/girth","v":1}"#, r#"no bench "west-9" in the configuration"#),
        (r#"{"n":"girth","v":1}"#, r#"the name "girth" is not BENCH/QUANTITY"#),
        (r#"{"n":"house/east-3/girth","v":1}"#, r#"no bench "house/east-3" in the configuration"#),
        (r#"{"n":"east-3/pressure","v":1}"#, r#"no quantity "pressure""#),
        (r#"{"n":"east-3/tip-range","u":"mm","v":914}"#, r#"tip-range in "mm": it is measured in m"#),
        (r#"{"n":"east-3/tip-range","v":"0.9"}"#, "the field `v` has the wrong type, or is no finite number"),
        (r#"{"n":"east-3/tip-range","vs":"0.9"}"#, "tip-range without a number: it belongs in `v`"),
        (r#"{"n":"east-3/tip-range","s":0.9}"#, "tip-range without a number: it belongs in `v`"),
        (
            r#"{"n":"east-3/tip-range","v":0.0}"#,
            "tip-range of 0 m is impossible: it lies between 0.02 and 8 m",
        ),
        (
            r#"{"n":"east-3/humidity","v":105.1}"#,
            "humidity of 105.1 %RH is impossible: it lies between 0 and 100 %RH",
        ),
        (r#"{"n":"east-3/temperature","v":NaN}"#, "the field `v` has the wrong type, or is no finite number"),
        (
            r#"{"n":"east-3/temperature","v":1e999}"#,
            "the field `v` has the wrong type, or is no finite number",
        ),
        (
            r#"{"n":"east-3/girth","v":1,"t":-1e17}"#,
            "the time -99999998219699200 s is outside the years 1970 to 9999",
        ),
    ] {
        let line = format!(r#"[{{"n":"east-3/height","v":1}},{record},{{"n":"east-2/height","v":2}}]"#);
        let (readings, refused) = live(&line);
        assert_eq!(readings.len(), 2, "{line}");
        assert_eq!(refused, [format!("line 1, record 2: {reason}")]);
    }
}

#[test]
fn a_live_time_may_be_a_little_ahead_and_a_recorded_one_must_be_there() {
    let record = |t: i64| format!(r#"[{{"n":"east-3/girth","v":1,"t":{t}}}]"#);
    assert_eq!(live(&record(120)).0.len(), 1);
    let (readings, refused) = live(&record(1_780_300_800 + 121));
    assert_eq!(readings, []);
    assert_eq!(
        refused,
        [
            "line 1, record 1: the time 2026-06-01T08:02:01Z is more than 2 minutes after its arrival at 2026-06-01T08:00:00Z: set the sensor's clock, or leave the time out"
        ]
    );
    assert_eq!(take(&record(1_780_300_800 + 121), ArrivalTime::Carried).0.len(), 1);
    let (readings, refused) = take(&record(0), ArrivalTime::Carried);
    assert_eq!(readings, []);
    assert_eq!(refused[0].reason, RecordFault::NoAbsoluteTime.into());
}

#[test]
fn lines_are_counted_and_named() {
    let mut decoder = decoder();
    let (mut readings, mut refused) = (Vec::new(), Vec::new());
    let bom = format!("\u{feff}{EXAMPLE}");
    let glued = format!("{EXAMPLE}{EXAMPLE}");
    let half = &EXAMPLE[..100];
    let lines = [
        Line::Whole(bom.as_bytes()),
        Line::Whole(b""),
        Line::TooLong,
        Line::Whole(glued.as_bytes()),
        Line::Whole(half.as_bytes()),
        Line::Whole(b"\xff\xfe\x80 ~~"),
    ];
    for line in &lines {
        decoder.line(line, ArrivalTime::Carried, &mut readings, &mut refused);
    }
    assert_eq!(decoder.counts(), Counts { lines: 6, readings: 12, refused: 3 });
    let named: Vec<_> =
        refused.iter().map(|refusal| (refusal.line, refusal.record, refusal.reason.kind())).collect();
    assert_eq!(
        named,
        [(3, None, "a line too long"), (5, None, "no readable pack"), (6, None, "no readable pack")]
    );
    decoder.begin();
    decoder.line(&Line::Whole(b"?"), ArrivalTime::Carried, &mut readings, &mut refused);
    assert_eq!(refused.last().unwrap().line, 1);
}

#[test]
fn the_first_line_of_a_port_is_read_if_whole_and_not_blamed_if_cut() {
    let mut decoder = decoder();
    let mut readings = Vec::new();
    decoder.first_line(&Line::Whole(&EXAMPLE.as_bytes()[20..]), ArrivalTime::Carried, &mut readings);
    assert_eq!((readings.len(), decoder.counts().refused), (0, 0));
    decoder.first_line(&Line::Whole(EXAMPLE.as_bytes()), ArrivalTime::Carried, &mut readings);
    assert_eq!((readings.len(), decoder.counts().readings), (4, 4));
}

const WITHOUT_BASE: &str = r#"[{"n":"east-3/temperature","u":"Cel","v":27.31,"t":1780300800},{"n":"east-2/sign","vs":"opened","t":1780300800}]"#;

/// Text that is nearly SenML: an example with bytes changed, dropped, doubled.
fn damaged() -> impl Strategy<Value = Vec<u8>> {
    let damage = (any::<prop::sample::Index>(), any::<u8>(), 0..4_u8);
    let example = prop_oneof![Just(EXAMPLE), Just(WITHOUT_BASE)];
    (example, proptest::collection::vec(damage, 0..8)).prop_map(|(example, damages)| {
        let mut text = example.as_bytes().to_vec();
        for (place, byte, how) in damages {
            let place = place.index(text.len());
            match how {
                0 => text[place] = byte,
                1 => drop(text.remove(place)),
                2 => text.insert(place, byte),
                _ => text.extend_from_within(place..),
            }
            text.truncate(4096);
        }
        text
    })
}

proptest! {
    #[test]
    fn whatever_comes_only_possible_readings_pass(
        text in prop_oneof![damaged(), proptest::collection::vec(any::<u8>(), 0..300)],
        is_live: bool,
    ) {
        let mut decoder = decoder();
        let (mut readings, mut refused) = (Vec::new(), Vec::new());
        let time = if is_live { ArrivalTime::Stamped(ARRIVAL) } else { ArrivalTime::Carried };
        decoder.line(&Line::Whole(&text), time, &mut readings, &mut refused);
        for reading in &readings {
            prop_assert!(reading.bench.0 < 2);
            if let Observed::Value(quantity, value) = reading.observed {
                prop_assert_eq!(quantity.possible(value), Ok(value));
            }
            prop_assert!(!is_live || reading.time <= ARRIVAL + MOST_AHEAD);
        }
        // no line goes by in silence, unless it is blank or may hold nothing but base fields
        let may_be_silent = text.trim_ascii().is_empty() || text.windows(2).any(|two| two == b"\"b");
        prop_assert!(may_be_silent || !readings.is_empty() || !refused.is_empty());
        prop_assert!(readings.len() + refused.len() <= text.len());
        let counts = decoder.counts();
        prop_assert_eq!((counts.readings, counts.refused), (readings.len() as u64, refused.len() as u64));
    }
}

/// How fast packs of four readings become readings. Run with `--release --ignored --nocapture`; the figure decides nothing.
#[test]
#[ignore = "a measurement"]
fn packs_a_second() {
    let packs = 1_000_000_u32;
    let mut decoder = decoder();
    let (mut readings, mut refused) = (Vec::new(), Vec::new());
    let began = std::time::Instant::now();
    for _ in 0..packs {
        readings.clear();
        decoder.line(&Line::Whole(EXAMPLE.as_bytes()), ArrivalTime::Carried, &mut readings, &mut refused);
    }
    let rate = f64::from(packs) / began.elapsed().as_secs_f64();
    println!("{rate:.0} packs of {} bytes a second", EXAMPLE.len());
    assert_eq!(
        decoder.counts(),
        Counts { lines: u64::from(packs), readings: 4 * u64::from(packs), refused: 0 }
    );
}
