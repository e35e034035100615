//! Silent benches and dead lines, told once each.

use bloom_model::quantity::Quantity;
use chrono::TimeDelta;

use super::house::House;

const TWO: [(&str, usize); 2] = [("east-3", 0), ("east-4", 0)];

fn minutes(minutes: i64) -> TimeDelta {
    TimeDelta::minutes(minutes)
}

fn kinds(house: &House) -> Vec<String> {
    ["sensor-silent", "sensor-back", "intake-down", "intake-down-over"]
        .iter()
        .flat_map(|kind| {
            house.told(kind).into_iter().map(|(id, _)| id.split('/').take(2).collect::<Vec<_>>().join("/"))
        })
        .collect()
}

#[test]
fn a_bench_that_falls_silent_on_a_line_that_works_is_told_by_itself() {
    let mut house = House::live(&["east-3", "east-4"], 1);
    house.chatter(&TWO, minutes(30));
    house.chatter(&TWO[1..], minutes(14));
    assert_eq!(kinds(&house), [""; 0]);
    house.chatter(&TWO[1..], minutes(4));
    assert_eq!(kinds(&house), ["east-3/sensor-silent"]);
    assert_eq!(house.payloads("sensor-silent")[0]["severity"], "warning");
    // a loose plug is no recovery
    house.chatter(&TWO, minutes(3));
    house.chatter(&TWO[1..], minutes(30));
    assert_eq!(kinds(&house), ["east-3/sensor-silent"], "and no second silence");
    house.chatter(&TWO, minutes(8));
    assert_eq!(kinds(&house), ["east-3/sensor-silent", "east-3/sensor-back"]);
}

#[test]
fn a_board_whose_clock_has_fallen_back_is_as_good_as_silent() {
    let mut house = House::live(&["east-3", "east-4"], 1);
    house.chatter(&TWO, minutes(30));
    house.has_bud("east-3");
    for minute in 0..30 {
        let long_ago = house.machine_wall() - TimeDelta::days(300);
        house.say_at("east-3", 0, long_ago, &[(Quantity::TipRange, 2.1), (Quantity::RimRange, 0.95)]);
        house.chatter(&TWO[1..], minutes(1));
        let told = kinds(&house);
        assert!(told.is_empty() || minute >= 14, "told after {minute} min: {told:?}");
    }
    assert_eq!(kinds(&house), ["east-3-2027a/sensor-silent"]);
    assert_eq!(house.payloads("sensor-silent")[0]["severity"], "alarm", "nobody watches the bud");
}

#[test]
fn a_reading_ahead_of_the_clock_takes_neither_time_nor_bench_along() {
    let mut house = House::live(&["east-3", "east-4"], 1);
    house.chatter(&TWO, minutes(30));
    let ahead = house.machine_wall() + TimeDelta::days(4);
    house.say_at("east-3", 0, ahead, &[(Quantity::RimRange, 0.95)]);
    house.chatter(&TWO, minutes(30));
    assert_eq!(kinds(&house), [""; 0]);
    house.chatter(&TWO[1..], minutes(30));
    assert_eq!(kinds(&house), ["east-3/sensor-silent"], "it is still watched");
    assert!(house.recorded_times().iter().all(|time| *time < ahead));
}

#[test]
fn a_ranger_that_hears_nothing_in_mist_is_waited_for_and_in_dry_air_it_is_not() {
    for (humidity_pct, told_after_min) in [(80.0, 15), (88.0, 75), (97.0, 75)] {
        let mut house = House::live(&["east-3", "east-4"], 1);
        house.chatter(&TWO, minutes(30));
        let silence_min = (1_u32..=90).find(|_| {
            house.say("east-3", 0, &[(Quantity::Temperature, 25.0), (Quantity::Humidity, humidity_pct)]);
            house.chatter(&TWO[1..], minutes(1));
            kinds(&house) == ["east-3/sensor-silent"]
        });
        let silence_min = silence_min.expect("told at last");
        assert!(
            (told_after_min..=told_after_min + 5).contains(&silence_min),
            "{humidity_pct} %: after {silence_min} min"
        );
    }
}

#[test]
fn a_dead_line_is_one_warning_and_not_one_a_bench() {
    for port_gone in [false, true] {
        let mut house = House::live(&["east-3", "east-4", "west-1"], 2);
        let all = [("east-3", 0), ("east-4", 0), ("west-1", 1)];
        house.chatter(&all, minutes(30));
        if port_gone {
            house.intake_is_down(0);
        }
        house.chatter(&all[2..], minutes(13));
        assert_eq!(kinds(&house), [""; 0]);
        house.chatter(&all[2..], minutes(120));
        assert_eq!(kinds(&house), ["saltmarsh/intake-down"], "port gone: {port_gone}");
        let told = &house.payloads("intake-down")[0];
        assert_eq!(told["severity"], "warning");
        let message = told["message"].as_str().unwrap();
        let why = if port_gone {
            "The device is gone"
        } else {
            "Nobody speaks on it: check power and cable of its boards"
        };
        assert_eq!(message, format!("Line dead: east-3, east-4 not read since Wed 09:29. {why} (line-0)."));
        house.chatter(&all, minutes(30));
        assert_eq!(kinds(&house), ["saltmarsh/intake-down", "saltmarsh/intake-down-over"]);
    }
}

#[test]
fn a_dead_line_that_leaves_a_bud_unwatched_is_an_alarm_once() {
    let mut house = House::live(&["east-3", "east-4"], 1);
    house.chatter(&TWO, minutes(30));
    house.has_bud("east-3");
    house.chatter(&TWO, minutes(5));
    house.live_on(minutes(90));
    assert_eq!(kinds(&house), ["saltmarsh/intake-down"]);
    let told = &house.payloads("intake-down")[0];
    assert_eq!(told["severity"], "alarm");
    let message = told["message"].as_str().unwrap();
    assert!(
        message
            .starts_with("NOT WATCHED: look by eye now at east-3. Not alone, from the ground or by camera"),
        "{message}"
    );
    assert_eq!(house.keeper.standing.list(None).as_array().unwrap().len(), 1);
    house.chatter(&TWO, minutes(4));
    assert_eq!(
        house.keeper.standing.list(None).as_array().unwrap().len(),
        0,
        "it ends when the line is back"
    );
}

#[test]
fn a_bud_that_is_booked_on_a_dead_line_makes_an_alarm_of_it() {
    let mut house = House::live(&["east-3", "east-4"], 1);
    house.chatter(&TWO, minutes(30));
    house.live_on(minutes(60));
    let severities = |house: &House| -> Vec<String> {
        house.payloads("intake-down").iter().map(|told| told["severity"].as_str().unwrap().into()).collect()
    };
    assert_eq!(severities(&house), ["warning"]);
    house.has_bud("east-3");
    house.live_on(minutes(60));
    assert_eq!(severities(&house), ["warning", "alarm"]);
    assert_eq!(
        kinds(&house),
        ["saltmarsh/intake-down", "saltmarsh/intake-down"],
        "and nothing of its benches"
    );
    house.chatter(&TWO, minutes(5));
    assert_eq!(house.keeper.standing.list(None).as_array().unwrap().len(), 0, "over with the outage");
}

#[test]
fn a_bench_that_stays_away_when_its_line_is_back_is_told_after_all() {
    let mut house = House::live(&["east-3", "east-4"], 1);
    house.chatter(&TWO, minutes(30));
    house.has_bud("east-3");
    house.chatter(&TWO, minutes(1));
    house.live_on(minutes(26 * 60));
    house.chatter(&TWO[1..], minutes(10));
    assert_eq!(
        kinds(&house),
        ["saltmarsh/intake-down", "saltmarsh/intake-down-over"],
        "it has time to speak"
    );
    house.chatter(&TWO[1..], minutes(10));
    let silent = &house.payloads("sensor-silent");
    assert_eq!(
        (silent.len(), &silent[0]["bench"], &silent[0]["severity"]),
        (1, &"east-3".into(), &"alarm".into())
    );
    assert_eq!(house.keeper.standing.list(Some("east-3")).as_array().unwrap().len(), 1);
    house.chatter(&TWO, minutes(10));
    assert_eq!(house.told("sensor-back").len(), 1);
    assert_eq!(house.keeper.standing.list(Some("east-3")).as_array().unwrap().len(), 0);
}

#[test]
fn a_power_cut_of_the_machine_itself_is_no_silence_of_its_benches() {
    for in_order in [true, false] {
        let mut house = House::live(&["east-3", "east-4"], 1);
        house.chatter(&TWO, minutes(30));
        let mut house = house.restart(in_order, minutes(120));
        house.live_on(minutes(2));
        house.chatter(&TWO, minutes(30));
        assert_eq!(kinds(&house), [""; 0], "{in_order}");
        // and over a second start, what was told is not told again
        house.chatter(&TWO[1..], minutes(20));
        let mut house = house.restart(in_order, minutes(1));
        house.chatter(&TWO[1..], minutes(40));
        assert_eq!(kinds(&house), ["east-3/sensor-silent"]);
    }
}

#[test]
fn an_outage_that_is_an_alarm_is_the_same_over_a_restart() {
    let mut house = House::live(&["east-3"], 1);
    let one = [("east-3", 0)];
    house.chatter(&one, minutes(30));
    house.has_bud("east-3");
    house.chatter(&one, minutes(1));
    house.live_on(minutes(30));
    let mut house = house.restart(true, minutes(5));
    house.live_on(minutes(60));
    assert_eq!(kinds(&house), ["saltmarsh/intake-down"]);
    house.chatter(&one, minutes(5));
    assert_eq!(kinds(&house), ["saltmarsh/intake-down", "saltmarsh/intake-down-over"]);
    assert_eq!(house.keeper.standing.list(None).as_array().unwrap().len(), 0);
}

#[test]
fn what_was_held_back_and_came_back_between_two_lives_is_not_told() {
    let mut house = House::live(&["east-3", "east-4"], 1);
    house.chatter(&TWO, minutes(30));
    house.live_on(minutes(40));
    // the state is written down in the outage, the return only with the readings
    house.keeper.checkpoint().unwrap();
    house.keeper.commit().unwrap();
    house.chatter(&TWO, minutes(10));
    house.keeper.commit().unwrap();
    let mut house = house.restart(false, minutes(1));
    house.chatter(&TWO, minutes(30));
    assert_eq!(house.told("sensor-back"), []);
    assert_eq!(house.told("sensor-silent"), []);
}

#[test]
fn a_line_that_is_dead_since_the_start_names_all_that_have_not_been_heard() {
    let mut house = House::live(&["east-3", "east-4"], 1);
    house.chatter(&TWO, minutes(30));
    house.has_bud("east-4");
    let mut house = house.restart(true, minutes(60));
    house.intake_is_down(0);
    house.live_on(minutes(40));
    assert_eq!(kinds(&house), ["saltmarsh/intake-down"]);
    let told = &house.payloads("intake-down")[0];
    let message = told["message"].as_str().unwrap();
    assert!(
        message.contains("now at east-4. Not alone")
            && message.contains("Line dead: east-3, east-4 not read since"),
        "{message}"
    );
    // the outage goes on over another start, and one of the benches never comes back
    let mut house = house.restart(true, minutes(1));
    house.chatter(&TWO[..1], minutes(60));
    let silent = house.told("sensor-silent");
    assert_eq!(silent.len(), 1, "{silent:?}");
    assert!(silent[0].0.starts_with("east-4"), "{silent:?}");
}

#[test]
fn one_quantity_that_stays_away_is_told_though_the_rest_of_its_bench_came_back() {
    let mut house = House::live(&["east-3", "east-4"], 1);
    house.chatter(&TWO, minutes(30));
    house.has_bud("east-3");
    house.chatter(&TWO[1..], minutes(20));
    assert_eq!(house.payloads("sensor-silent")[0]["severity"], "alarm");
    for _ in 0..30 {
        house.say("east-3", 0, &[(Quantity::TipRange, 2.1), (Quantity::RimRange, 0.95)]);
        house.chatter(&TWO[1..], minutes(1));
    }
    let back = house.payloads("sensor-back");
    assert_eq!(back.len(), 1);
    assert_eq!(back[0]["quantities"], serde_json::json!(["tip-range", "rim-range"]));
    assert_eq!(house.keeper.standing.list(Some("east-3")).as_array().unwrap().len(), 0);
    // the rangers are watched again
    house.chatter(&TWO[1..], minutes(20));
    assert_eq!(house.payloads("sensor-silent").len(), 2);
    assert_eq!(house.payloads("sensor-silent")[1]["severity"], "alarm");
}
