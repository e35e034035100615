//! A machine's clock that is set while the benches are read, or was never set: what is told of it, and what it does to growth.

use bloom_model::time::Time;
use chrono::TimeDelta;

use super::house::{House, NOON};

fn said(house: &House) -> Vec<(String, String)> {
    house.told("clock-untrusted").into_iter().chain(house.told("clock-untrusted-over")).collect()
}

#[test]
fn a_start_in_1970_is_said_and_so_is_its_end() {
    let mut house = House::live_at(Time::from_unix_ms(0), &["east-3"], 1);
    house.live_on(TimeDelta::minutes(9));
    assert_eq!(said(&house), []);
    house.live_on(TimeDelta::minutes(2));
    let told = said(&house);
    assert_eq!(told.len(), 1);
    assert!(told[0].1.contains("It says 31 Dec 1969 20:10."), "{told:?}");
    house.machine.set(NOON + TimeDelta::hours(5));
    house.live_on(TimeDelta::minutes(7));
    let told = said(&house);
    assert_eq!(told.len(), 2);
    assert_eq!(told[1].1, "The clock is right again.");
}

#[test]
fn a_clock_set_back_by_an_hour_makes_no_growth_and_loses_no_reading() {
    let steady = grow(|_| {});
    let set_back = grow(|house| house.machine.set(house.machine_wall() - TimeDelta::hours(1)));
    let told = said(&set_back);
    assert!(told.len() == 1 && told[0].1.contains("was set back 60 min"), "{told:?}");
    for other in ["sensor-silent", "opening-tonight", "stood-down", "aborted"] {
        assert_eq!(set_back.told(other), [], "{other}");
    }
    let times = set_back.recorded_times();
    assert!(times.is_sorted() && times.len() == steady.recorded_times().len());
    let (steady, moved) = (steady.growth_cm_day(), set_back.growth_cm_day());
    assert!((moved / steady - 1.0).abs() < 0.06, "{moved} cm a day for {steady}");
}

#[test]
fn a_clock_set_forward_by_an_hour_is_a_gap_and_no_growth() {
    let forward = grow(|house| house.machine.set(house.machine_wall() + TimeDelta::hours(1)));
    let told = said(&forward);
    assert!(told.len() == 2 && told[0].1.contains("was set forward 60 min"), "{told:?}");
    for other in ["sensor-silent", "sensor-back", "opening-tonight", "intake-down"] {
        assert_eq!(forward.told(other), [], "{other}");
    }
    let growth = forward.growth_cm_day();
    // a day of growth over which the clock counted twenty-five hours
    assert!((9.3..10.3).contains(&growth), "{growth}");
}

/// A bud that grows 10 cm a day for three days, and what happens on the second afternoon.
fn grow(happens: impl FnOnce(&House)) -> House {
    let mut house = House::live(&["east-3"], 1);
    let mut happens = Some(happens);
    for minute in 0..3 * 24 * 60 {
        if minute == 2 * 24 * 60 + 300
            && let Some(happens) = happens.take()
        {
            happens(&house);
        }
        house.speak("east-3", 0, 1.0 + 0.1 * f64::from(minute) / 1440.0, 0.0);
        house.live_on(TimeDelta::minutes(1));
    }
    house
}
