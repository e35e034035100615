//! Watching without the record, and taking it up again.

use std::fs;
use std::path::Path;

use bloom_model::bench::BenchState;
use bloom_model::reading::BenchNumber;
use chrono::TimeDelta;

use crate::keeper::house::House;
use crate::store::mirror_path;

const BY: [(&str, usize); 1] = [("east-3", 0)];

fn state(house: &House) -> BenchState {
    house.keeper.site.state_of(BenchNumber(0)).unwrap().clone()
}

/// The record is where it was, and something else in its place.
fn hide(path: &Path) {
    fs::rename(path, path.with_extension("hidden")).unwrap();
    for end in ["-wal", "-shm"] {
        let _ = fs::rename(format!("{}{end}", path.display()), format!("{}.hidden{end}", path.display()));
    }
    fs::create_dir(path).unwrap();
}

fn bring_back(path: &Path) {
    fs::remove_dir(path).unwrap();
    fs::rename(path.with_extension("hidden"), path).unwrap();
    for end in ["-wal", "-shm"] {
        let _ = fs::rename(format!("{}.hidden{end}", path.display()), format!("{}{end}", path.display()));
    }
}

fn began(with_mirror: bool) -> (House, House) {
    let mut houses = (House::live(&["east-3"], 1), House::live(&["east-3"], 1));
    for house in [&mut houses.0, &mut houses.1] {
        house.has_bud("east-3");
        house.chatter(&BY, TimeDelta::hours(3));
        house.keeper.checkpoint().unwrap();
        house.keeper.commit().unwrap();
        // what the mirror does not know of
        house.chatter(&BY, TimeDelta::minutes(30));
        house.keeper.commit().unwrap();
    }
    let (whole, torn) = houses;
    let torn = torn.restart_when(false, TimeDelta::zero(), |path| {
        hide(path);
        if !with_mirror {
            fs::remove_file(mirror_path(path)).unwrap();
        }
    });
    (whole.restart(false, TimeDelta::zero()), torn)
}

#[test]
fn a_record_that_can_be_had_again_is_taken_up_as_if_it_had_never_been_away() {
    for with_mirror in [true, false] {
        let (mut whole, mut torn) = began(with_mirror);
        assert!(torn.keeper.store.is_away() && torn.keeper.failing.is_some());
        assert_eq!(torn.keeper.batch.events[0].kind, "store-failing", "told at once");
        assert_eq!(torn.keeper.fed > 0, with_mirror);
        for house in [&mut whole, &mut torn] {
            for _ in 0..60 {
                house.speak("east-3", 0, 1.0, 0.0);
                house.machine.pass(TimeDelta::minutes(1));
                house.keeper.pass_time();
            }
        }
        bring_back(&torn.path());
        torn.keeper.try_take_up(false);
        assert!(!torn.keeper.store.is_away());
        for house in [&mut whole, &mut torn] {
            house.keeper.commit().unwrap();
        }
        assert_eq!(torn.keeper.fed, whole.keeper.fed);
        assert_eq!(torn.recorded_times(), whole.recorded_times());
        assert_eq!(state(&torn), state(&whole), "with a mirror: {with_mirror}");
        // and a restart is no restart
        let (torn, whole) = (torn.restart(false, TimeDelta::zero()), whole.restart(false, TimeDelta::zero()));
        assert_eq!(state(&torn), state(&whole));
        assert_eq!(torn.told("store-failing").len(), 1);
    }
}

#[test]
fn a_record_that_knows_less_gets_the_states_as_they_are() {
    let mut house = House::live(&["east-3"], 1);
    house.has_bud("east-3");
    house.chatter(&BY, TimeDelta::hours(3));
    house.keeper.checkpoint().unwrap();
    house.keeper.commit().unwrap();
    let (fed, before) = (house.keeper.fed, state(&house));
    let gone = |path: &Path| {
        for end in ["", "-wal", "-shm"] {
            let _ = fs::remove_file(format!("{}{end}", path.display()));
        }
    };
    let mut house = house.restart_when(false, TimeDelta::zero(), gone);
    assert_eq!((house.keeper.fed, state(&house)), (fed, before.clone()));
    house.keeper.commit().unwrap();
    let [(_, told)] = &house.told("store-replaced")[..] else { panic!("told once") };
    assert!(told.contains("is gone"), "{told}");
    let house = house.restart(false, TimeDelta::zero());
    assert_eq!((house.keeper.fed, state(&house)), (fed, before), "from the states that were written down");
}

#[test]
fn what_is_damaged_for_long_is_let_go_and_another_is_taken_up() {
    let mut house = House::live(&["east-3"], 1);
    house.chatter(&BY, TimeDelta::hours(1));
    house.keeper.commit().unwrap();
    let path = house.path();
    let damaged = crate::store::StoreError::Damaged { path: path.clone(), why: "a page".to_owned() };
    house.keeper.store_fails(&damaged.clone().into(), false);
    assert!(!house.keeper.store.is_away(), "it may heal");
    house.machine.pass(TimeDelta::minutes(2));
    house.keeper.store_fails(&damaged.into(), false);
    assert!(house.keeper.store.is_away());
    house.speak("east-3", 0, 1.0, 0.0);
    let fed = house.keeper.fed;
    // the same file again: there is no sense in it
    house.keeper.try_take_up(false);
    assert!(house.keeper.store.is_away());
    for end in ["", "-wal", "-shm"] {
        let _ = fs::remove_file(format!("{}{end}", path.display()));
    }
    drop(crate::store::Store::open(&path).unwrap());
    house.keeper.try_take_up(false);
    assert!(!house.keeper.store.is_away());
    assert_eq!((house.keeper.fed, house.recorded_times().len()), (fed, 4), "what was gathered is in it");
}

#[test]
fn the_first_commit_of_a_run_writes_the_mirror() {
    let mut house = House::live(&["east-3"], 1);
    house.speak("east-3", 0, 1.0, 0.0);
    house.keeper.commit().unwrap();
    let mirror = crate::store::Mirror::read(&house.path()).unwrap();
    assert_eq!((mirror.fed, mirror.benches.len(), mirror.away), (4, 1, false));
}
