//! Checks that what the house was told of heat outlives the keeper.

use bloom_model::quantity::Quantity;
use chrono::TimeDelta;

use super::house::House;

impl House {
    /// Two benches in that air for so many minutes.
    fn in_air(&mut self, temperature_c: f64, humidity_pct: f64, minutes: u32) {
        let values = [(Quantity::Temperature, temperature_c), (Quantity::Humidity, humidity_pct)];
        for _ in 0..minutes {
            for bench in ["east-3", "east-4"] {
                self.say(bench, 0, &values);
            }
            self.live_on(TimeDelta::minutes(1));
        }
    }
}

#[test]
fn a_warning_of_the_day_is_not_told_again_after_a_restart() {
    for in_order in [true, false] {
        let mut house = House::live(&["east-3", "east-4"], 1);
        // 34 °C and 60 %: a heat index of 42.2 °C; 26 °C and 60 %: 26 °C (tests/reference/heat_stress_grid.csv)
        house.in_air(34.0, 60.0, 20);
        assert_eq!(house.told("heat").len(), 1);
        house.in_air(26.0, 60.0, 60);
        house.keeper.commit().unwrap();
        let mut house = house.restart(in_order, TimeDelta::minutes(1));
        house.in_air(34.0, 60.0, 30);
        assert_eq!(house.told("heat").len(), 1, "{:?}", house.told("heat"));
    }
}

#[test]
fn an_alarm_of_extreme_heat_stands_for_the_site_over_a_restart_until_it_is_cooler() {
    let mut house = House::live(&["east-3", "east-4"], 1);
    house.in_air(38.0, 60.0, 20);
    let id = house.told("heat")[0].0.clone();
    assert!(id.starts_with("saltmarsh/heat/"), "{id}");
    let stands = |house: &House| house.keeper.standing.list(None).as_array().unwrap().len();
    assert_eq!((stands(&house), house.keeper.standing.list(Some("east-3"))), (1, serde_json::json!([])));
    house.keeper.commit().unwrap();
    let mut house = house.restart(false, TimeDelta::minutes(1));
    assert!(house.keeper.standing.stands(&id));
    house.in_air(26.0, 60.0, 40);
    house.keeper.commit().unwrap();
    assert_eq!((stands(&house), house.told("heat").len(), house.told("heat-over").len()), (0, 1, 1));
}
