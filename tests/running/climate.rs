//! Air outside a bench's limits: one cause is one message, told once a day, an alarm at once; over when it has lasted.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fmt::Write as _;

use end_to_end::house::House;
use serde_json::Value;

/// 2027-06-02T12:00:00Z, nine in the morning in Halifax.
const START_S: i64 = 1_811_937_600;
/// The limits of the sample configuration.
const SAMPLE: &str =
    "temperature_c = [18, 35], humidity_pct = [60, 100], vpd_kpa = [0, 1.6], alarm_temperature_c = [15, 42]";
/// Those of the temperature alone.
const TEMPERATURE: &str = "temperature_c = [18, 35], alarm_temperature_c = [15, 42]";

/// All that is told of a bench with these limits, a reading a minute of temperature, °C, and where there is one of humidity, %; the
/// humidity stands first in every second pack.
fn events(limits: &str, minutes: i64, air: impl Fn(i64) -> (f64, Option<f64>)) -> Vec<Value> {
    let bench = format!("limits = {{ {limits} }}\ntip = {{ mount_height_m = 3.1 }}");
    let house = House::new().with_bench_of("east-3", &bench);
    let mut text = String::new();
    for minute in 0..minutes {
        let (time, (air_c, humidity_pct)) = (START_S + 60 * minute, air(minute));
        let mut records = vec![format!(r#"{{"n":"east-3/temperature","t":{time},"u":"Cel","v":{air_c}}}"#)];
        if let Some(humidity_pct) = humidity_pct {
            records.push(format!(r#"{{"n":"east-3/humidity","t":{time},"u":"%RH","v":{humidity_pct}}}"#));
        }
        if minute % 2 == 1 {
            records.reverse();
        }
        writeln!(text, "[{}]", records.join(",")).expect("a text can be written to");
    }
    house.replay(&text)
}

fn word<'a>(event: &'a Value, name: &str) -> &'a str {
    event[name].as_str().unwrap_or_default()
}

fn of_climate(events: &[Value]) -> Vec<&Value> {
    events.iter().filter(|event| word(event, "event").starts_with("climate")).collect()
}

/// Event, severity, time and limit of what is said of the climate.
fn said(minutes: i64, air_c: impl Fn(i64) -> f64) -> Vec<(String, String, String, Value)> {
    let events = events(TEMPERATURE, minutes, |minute| (air_c(minute), None));
    let owned = |event: &Value, name: &str| word(event, name).to_owned();
    of_climate(&events)
        .into_iter()
        .map(|event| {
            (owned(event, "event"), owned(event, "severity"), owned(event, "time"), event["limit"].clone())
        })
        .collect()
}

fn event(kind: &str, severity: &str, time: &str, limit: f64) -> (String, String, String, Value) {
    (kind.to_owned(), severity.to_owned(), format!("2027-06-0{time}:00Z"), Value::from(limit))
}

#[test]
fn a_heater_that_fails_is_a_warning_then_an_alarm_and_over_once_when_it_is_warm_again() {
    // from 13:00 on it cools by 6 °C an hour, under 18 °C at 13:41 and under 15 °C at 14:11; at 15:20 it is warm again
    let told = said(300, |minute| match minute {
        ..60 => 22.0,
        60..200 => 22.0 - 0.1 * (minute - 60) as f64,
        _ => 22.0,
    });
    assert_eq!(
        told,
        [
            event("climate", "warning", "2T13:52", 18.0),
            event("climate", "alarm", "2T14:22", 15.0),
            event("climate-over", "warning", "2T15:31", 15.0),
        ]
    );
}

#[test]
fn what_is_warmer_but_not_yet_warm_says_so_and_is_over_later() {
    let events = events(TEMPERATURE, 300, |minute| match minute {
        ..60 => (22.0, None),
        60..120 => (12.0, None),
        120..180 => (16.5, None),
        _ => (22.0, None),
    });
    let told: Vec<(&str, &str)> =
        of_climate(&events).iter().map(|event| (word(event, "event"), word(event, "message"))).collect();
    let kinds: Vec<&str> = told.iter().map(|(kind, _)| *kind).collect();
    assert_eq!(kinds, ["climate", "climate-over", "climate-over"], "{told:?}");
    assert_eq!(told[1].1, "No longer an alarm at east-3: temperature is 16.5 °C, still below 18.0 °C.");
    assert!(told[2].1.starts_with("Back inside its limits at east-3: temperature 22.0 °C."), "{told:?}");
}

#[test]
fn a_door_that_is_opened_is_not_told_and_a_figure_at_its_limit_is_told_once() {
    assert_eq!(said(300, |minute| if minute % 15 < 10 { 17.0 } else { 22.0 }), []);
    // outside by a tenth of a degree, inside by a fifth: within the deadband it is not over
    let told = said(300, |minute| if minute % 20 < 12 { 17.9 } else { 18.2 });
    assert_eq!(told.len(), 1, "{told:?}");
}

#[test]
fn a_hot_noon_is_one_alarm_of_the_bench_and_one_of_the_house_and_sends_nobody_in() {
    // 43 °C and 35 %: a deficit of 5.6 kPa (FAO-56 eq. 11), a heat index of 52 °C (NWS algorithm)
    let told =
        events(SAMPLE, 240, |minute| if minute < 60 { (26.0, Some(75.0)) } else { (43.0, Some(35.0)) });
    // the overhead ranger, which says nothing, is another matter
    let loud: Vec<&Value> = told.iter().filter(|event| event["event"] != "sensor-silent").collect();
    let of_bench: Vec<&&Value> = loud.iter().filter(|event| event["bench"] == "east-3").collect();
    let of_house: Vec<&&Value> = loud.iter().filter(|event| event["bench"].is_null()).collect();
    assert_eq!((of_bench.len(), of_house.len()), (1, 1), "{loud:?}");
    assert_eq!(
        word(of_bench[0], "message"),
        "TOO HOT east-3: 43.0 °C. Vents and shade from outside, do not stay in. Alarm at 42.0 °C, since Wed 10:00. Not alone. Nobody onto \
         the roof or the glass."
    );
    assert_eq!((word(of_bench[0], "severity"), word(of_house[0], "event")), ("alarm", "heat"));
    for event in &loud {
        let message = word(event, "message").to_lowercase();
        assert!(!message.contains("go and look") && !message.contains("go,"), "{message}");
    }
}

#[test]
fn a_noon_that_dries_before_it_is_hot_is_one_warning() {
    // a sine from 24 to 37 °C and back in eight hours, in air of 9 g a cubic metre and more: the deficit leads by an hour
    let told = events(SAMPLE, 480, |minute| {
        let warmth = (std::f64::consts::PI * minute as f64 / 480.0).sin();
        (24.0 + 13.0 * warmth, Some(75.0 - 10.0 * warmth))
    });
    let warned: Vec<&Value> =
        of_climate(&told).into_iter().filter(|event| event["event"] == "climate").collect();
    assert_eq!(warned.len(), 1, "{warned:?}");
    assert!(word(warned[0], "message").starts_with("Dry at east-3: deficit 1.6"), "{warned:?}");
}

#[test]
fn heat_behind_which_no_alarm_stands_is_told_though_dryness_was() {
    let told = events("temperature_c = [18, 35], vpd_kpa = [0, 1.6]", 240, |minute| match minute {
        ..60 => (26.0, Some(75.0)),
        60..120 => (32.0, Some(50.0)),
        _ => (44.0, Some(50.0)),
    });
    let told: Vec<&str> = of_climate(&told).into_iter().map(|event| word(event, "message")).collect();
    assert!(told.len() == 2 && told[1].starts_with("Hot at east-3: 44.0 °C"), "{told:?}");
    let told = events("temperature_c = [18, 35], vpd_kpa = [0, 1.6]", 300, |minute| match minute {
        ..60 => (26.0, Some(75.0)),
        60..120 => (32.0, Some(50.0)),
        120..180 => (26.0, Some(75.0)),
        _ => (44.0, Some(50.0)),
    });
    let told: Vec<&str> = of_climate(&told).into_iter().map(|event| word(event, "message")).collect();
    assert!(told.len() == 3 && told[2].starts_with("Hot at east-3: 44.0 °C, limit 35.0 °C."), "{told:?}");
}

#[test]
fn a_damp_house_is_one_warning_a_day_however_often_it_is_misted() {
    // for three days the mist runs for half an hour in every two: 99 % and a deficit of nearly nothing
    let limits = "humidity_pct = [60, 95], vpd_kpa = [0.2, 1.6]";
    let told = events(limits, 3 * 1440, |minute| (25.0, Some(if minute % 120 < 30 { 99.0 } else { 80.0 })));
    let warned = |day: &str| {
        let of_day = |event: &&&Value| word(event, "time").starts_with(day);
        of_climate(&told).iter().filter(|event| event["event"] == "climate").filter(of_day).count()
    };
    let days = ["2027-06-02", "2027-06-03", "2027-06-04"].map(warned);
    assert!(days.iter().all(|count| (0..=1).contains(count)) && days.iter().sum::<usize>() == 3, "{days:?}");
    let first = word(of_climate(&told)[0], "message").to_owned();
    assert_eq!(first, "Damp at east-3: 99 %, limit 95 %. Open vents. Since 09:00.");
}

#[test]
fn what_comes_back_on_the_same_day_is_held_and_an_alarm_never_is() {
    let told = said(900, |minute| match minute {
        0..60 | 120..180 | 300..360 | 420..480 => 17.0,
        200..230 | 500..530 => 12.0,
        _ => 22.0,
    });
    let severities: Vec<(&str, &str)> =
        told.iter().map(|(kind, severity, ..)| (&**kind, &**severity)).collect();
    let (warning, alarm, over) = (("climate", "warning"), ("climate", "alarm"), ("climate-over", "warning"));
    assert_eq!(severities, [warning, over, alarm, over, alarm, over], "{told:?}");
}

#[test]
fn what_was_held_and_still_stands_is_told_in_the_morning_with_its_day() {
    // 20:00 in Halifax on Wednesday is 23:00Z: cold from ten in the morning for an hour, and from eight in the evening on
    let told = events(TEMPERATURE, 1500, |minute| match minute {
        60..120 | 660.. => (17.0, None),
        _ => (22.0, None),
    });
    let told: Vec<(&str, &str)> =
        of_climate(&told).iter().map(|event| (word(event, "time"), word(event, "message"))).collect();
    assert_eq!(told.len(), 3, "{told:?}");
    assert_eq!(told[2].0, "2027-06-03T10:00:00Z", "seven in the morning");
    assert!(told[2].1.ends_with("no open flame, no wet mains. Since Wed 20:00."), "{told:?}");
}

#[test]
fn a_cold_alarm_sends_two_and_names_what_kills() {
    let told = events(TEMPERATURE, 60, |minute| (if minute < 20 { 22.0 } else { 12.0 }, None));
    let told = of_climate(&told);
    assert_eq!(told.len(), 1, "{told:?}");
    let message = word(told[0], "message");
    let locked: String = message.chars().take(60).collect();
    assert_eq!(locked, "TOO COLD east-3: 12.0 °C. Go, not alone: heating may have fa");
    assert!(message.contains("No open flame, no wet mains.") && message.contains("local codes"), "{message}");
}

/// All that is told of the climate of a bench with these limits, a reading a minute of each of these.
fn climate_of(
    limits: &str,
    minutes: i64,
    read: impl Fn(i64) -> Vec<(&'static str, &'static str, f64)>,
) -> Vec<Value> {
    let house = House::new().with_bench_of("east-3", &format!("limits = {{ {limits} }}"));
    let mut text = String::new();
    for minute in 0..minutes {
        let time = START_S + 60 * minute;
        let record = |(name, unit, value): (&str, &str, f64)| {
            format!(r#"{{"n":"east-3/{name}","t":{time},"u":"{unit}","v":{value}}}"#)
        };
        let records: Vec<String> = read(minute).into_iter().map(record).collect();
        writeln!(text, "[{}]", records.join(",")).expect("a text can be written to");
    }
    let told = house.replay(&text);
    told.into_iter().filter(|event| word(event, "event").starts_with("climate")).collect()
}

#[test]
fn carbon_dioxide_is_told_by_itself_beside_the_heat_and_keeps_people_out() {
    let limits = "temperature_c = [18, 35], alarm_temperature_c = [15, 42], co2_ppm = [350, 1500], alarm_co2_ppm = [0, 5000]";
    // hot throughout; the dosing sticks open from 13:00 on, and is shut and aired away at 15:00
    let told = climate_of(limits, 300, |minute| {
        let co2_ppm = match minute {
            ..60 => 800.0,
            60..180 => (800.0 + 100.0 * (minute - 60) as f64).min(6000.0),
            _ => 450.0,
        };
        vec![("temperature", "Cel", 43.0), ("co2", "ppm", co2_ppm)]
    });
    let of = |event: &Value| {
        (word(event, "of").to_owned(), word(event, "event").to_owned(), word(event, "severity").to_owned())
    };
    let row = |of: &str, event: &str, severity: &str| (of.to_owned(), event.to_owned(), severity.to_owned());
    assert_eq!(
        told.iter().map(of).collect::<Vec<_>>(),
        [
            row("temperature", "climate", "alarm"),
            row("co2", "climate", "warning"),
            row("co2", "climate", "alarm"),
            row("co2", "climate-over", "warning"),
        ],
        "an alarm that stands for heat holds back none for people's air"
    );
    assert_eq!(
        word(&told[2], "message"),
        "TOO MUCH CO2 east-3: 6000 ppm. Stay out. Dosing off, vents open, from outside. Alarm at 5000 ppm, since Wed 10:43. Not alone. \
         Nobody smells it: air before anybody works there; local codes first. This is no safety system."
    );
    assert_eq!((&told[2]["unit"], &told[2]["limit"]), (&Value::from("ppm"), &Value::from(5000.0)));
    assert!(word(&told[1], "message").starts_with("Much CO2 at east-3: "), "{told:?}");
}

#[test]
fn a_dark_night_is_no_warning_and_a_sun_without_shade_is() {
    // three days of light from six to eighteen by local clocks, the second without shade at noon
    let told = climate_of("light_umol_m2_s = [0, 600]", 3 * 1440, |minute| {
        let hour = (minute / 60 + 9) % 24;
        let umol_m2_s = match hour {
            11..13 if (minute / 60 + 9) / 24 == 1 => 1400.0,
            6..18 => 400.0,
            _ => 0.0,
        };
        vec![("light", "umol/m2/s", umol_m2_s)]
    });
    let said: Vec<&str> = told.iter().map(|event| word(event, "message")).collect();
    assert_eq!(
        said,
        [
            "Bright at east-3: 1400 µmol/m²/s, limit 600 µmol/m²/s. Draw shade. Since 11:00.",
            "Back inside its limits at east-3: light 400 µmol/m²/s. Today it is told again only as an alarm.",
        ]
    );
}

#[test]
fn cold_soil_is_told_by_itself_beside_cold_air() {
    let limits =
        "temperature_c = [18, 35], soil_temperature_c = [20, 28], alarm_soil_temperature_c = [16, 32]";
    let told = climate_of(limits, 240, |minute| {
        let cooled = (minute as f64 / 40.0).min(4.0);
        let back = if minute < 200 { 0.0 } else { 4.0 };
        vec![("temperature", "Cel", 15.0), ("soil-temperature", "Cel", 22.0 - 1.0 * cooled + back)]
    });
    let said: Vec<&str> = told.iter().map(|event| word(event, "message")).collect();
    assert_eq!(
        said,
        [
            "Cold at east-3: 15.0 °C, limit 18.0 °C. Check the heating: no open flame, no wet mains. Since 09:00.",
            "Soil cold at east-3: 19.7 °C, limit 20.0 °C. Check the bottom heat: no wet mains. Since 10:21.",
            "Back inside its limits at east-3: soil temperature 22.0 °C. Today it is told again only as an alarm.",
        ]
    );
    assert_eq!((word(&told[1], "of"), word(&told[1], "unit")), ("soil-temperature", "Cel"));
}
