//! The sentences of sensors that fail.

use bloom_model::event::{EdgeDetails, SensorDetails, Unwatched};
use bloom_model::quantity::Quantity;
use bloom_model::seeing::Cause;

use super::*;

const LOOK: &str = "look at the bud by eye now, not alone, from the ground or by camera.";

fn sensor(quantities: &[Quantity], all: bool, since: Time, unwatched: Option<Unwatched>) -> SensorDetails {
    SensorDetails { quantities: quantities.to_vec(), since, value: None, all, unwatched }
}

#[test]
fn silent_sensors_are_named_and_a_bud_is_looked_at_first() {
    let site = site();
    let words = Words::new(&site, "east-3", Some("AT-0412"));
    let all = [Quantity::Temperature, Quantity::Humidity, Quantity::TipRange, Quantity::RimRange];
    let alarm = words.silent(&sensor(&all, true, at(13.5), Some(Unwatched::Bud)));
    assert_eq!(
        alarm,
        format!(
            "NOT WATCHED east-3: {LOOK} All sensors silent since Wed 13:30: check power and cable. AT-0412."
        )
    );
    keeps_the_rules_of_an_alarm(&alarm, "look at the bud by eye now, not alone");
    let bloom = words.silent(&sensor(&all[2..], false, at(13.5), Some(Unwatched::Bloom)));
    assert!(bloom.starts_with("NOT WATCHED east-3: look at the bloom by eye now, not alone"), "{bloom}");
    assert!(bloom.contains(" Overhead ranger and side ranger silent since Wed 13:30"), "{bloom}");
    assert_eq!(
        words.silent(&sensor(&[Quantity::TipRange], false, at(25.0), None)),
        "Overhead ranger of east-3 silent since Thu 01:00. Check plug and cable."
    );
    assert_eq!(
        words.silent(&sensor(&all, true, at(25.0), None)),
        "All sensors of east-3 silent since Thu 01:00. Check plug and cable."
    );
    assert_eq!(
        words.silent(&sensor(&[Quantity::Co2, Quantity::Light], false, at(25.0), None)),
        "CO2 sensor and light sensor of east-3 silent since Thu 01:00. Check plug and cable."
    );
}

#[test]
fn a_sensor_that_repeats_itself_and_one_that_is_back() {
    let site = site();
    let words = Words::new(&site, "east-3", None);
    let alarm =
        words.stuck(&sensor(&[Quantity::RimRange], false, at(10.0 + 46.0 / 60.0), Some(Unwatched::Bud)));
    assert_eq!(
        alarm,
        format!(
            "NOT WATCHED east-3: {LOOK} Side ranger: the same value since Wed 10:46. Wipe its face, switch it off and on."
        )
    );
    keeps_the_rules_of_an_alarm(&alarm, "look at the bud by eye now");
    assert_eq!(
        words.stuck(&sensor(&[Quantity::Temperature], false, at(3.0), None)),
        "Thermometer of east-3: the same value since Wed 03:00. Switch it off and on."
    );
    assert_eq!(words.back(&[Quantity::RimRange]), "Side ranger of east-3 works again.");
    assert_eq!(
        words.back(&[Quantity::Temperature, Quantity::Humidity]),
        "Thermometer and hygrometer of east-3 work again."
    );
}

fn edge(cause: Cause, since: Time, unwatched: Option<Unwatched>) -> EdgeDetails {
    EdgeDetails {
        why: cause.name(),
        since,
        value: None,
        impossible_pct: None,
        moved_cm: None,
        interval_min: None,
        noise_mm: 0.7,
        chance_today: None,
        cause,
        unwatched,
        waited_for: true,
    }
}

#[test]
fn a_side_ranger_that_does_not_see_the_edge() {
    let site = site();
    let words = Words::new(&site, "east-3", Some("AT-0412"));
    let mend = "Aim it at the spathe edge, or clear what stands between, and record mount-moved.";
    let alarm = words.edge_not_seen(&edge(Cause::Impossible(0.34), at(10.0), Some(Unwatched::Bud)), at(11.0));
    assert_eq!(
        alarm,
        format!(
            "NOT WATCHED east-3: {LOOK} Its side ranger does not see the edge: 34 % of its figures lie where no edge can be, since Wed \
             10:00. {mend} AT-0412."
        )
    );
    keeps_the_rules_of_an_alarm(&alarm, "look at the bud by eye now");
    let came_nearer =
        words.edge_not_seen(&edge(Cause::Jumped(0.15), at(10.0), Some(Unwatched::Bud)), at(11.0));
    assert!(
        came_nearer.starts_with(&format!("NOT WATCHED east-3: {LOOK} It may have opened. ")),
        "{came_nearer}"
    );
    let knocked = words.edge_not_seen(&edge(Cause::Jumped(0.05), at(10.0), Some(Unwatched::Bud)), at(11.0));
    assert!(!knocked.contains("opened"), "{knocked}");
    for (cause, seen) in [
        (Cause::Jumped(0.15), "what it meets came 15.0 cm nearer at once"),
        (Cause::Jumped(-0.15), "what it meets went 15.0 cm away at once"),
        (Cause::Restless, "it meets nothing that moves as an edge does"),
        (Cause::Still(0.0), "what it meets has neither swelled nor swayed for two days"),
    ] {
        let warning = words.edge_not_seen(&edge(cause, at(10.0), None), at(11.0));
        assert_eq!(
            warning,
            format!("Side ranger of east-3 does not see the edge: {seen}, since Wed 10:00. {mend}")
        );
        keeps_the_rules(&warning);
    }
    assert_eq!(
        words.edge_not_seen(&edge(Cause::FarApart(2400.0), at(10.0), None), at(11.0)),
        "Side ranger of east-3 does not see the edge: its readings come 40 min apart, too seldom to see an opening, since Wed 10:00. Let \
         the board speak every minute, every 15 min at the most."
    );
    let long_ago = words.edge_not_seen(&edge(Cause::Jumped(0.05), at(10.0 - 24.0 * 27.0), None), at(10.0));
    assert!(long_ago.contains(" nearer at once, since 6 May. "), "{long_ago}");
    assert_eq!(words.edge_seen(true), "Side ranger of east-3 sees the spathe edge again.");
    assert_eq!(
        words.edge_seen(false),
        "east-3: no bud is waited for now, its side ranger need not see an edge."
    );
}
