//! A bud whose side ranger sees it, or something else, or nothing.

use super::play::{Play, RIM_M, why};
use crate::event::{Details, EventKind, Severity, Unwatched};
use crate::reading::Observed;
use crate::sign::{PlainSign, Sign};

/// The kinds that say that the side ranger is not seeing.
const OF_SEEING: [EventKind; 4] =
    [EventKind::EdgeNotSeen, EventKind::EdgeNotSeenOver, EventKind::SensorStuck, EventKind::SensorSilent];

#[test]
fn a_side_ranger_that_sees_the_edge_is_not_spoken_of() {
    for (every_min, noise_m) in [(1, 0.0003), (1, 0.002), (10, 0.0003), (15, 0.001)] {
        let mut play = Play::ripe(every_min, noise_m);
        play.go(96.0, Some, Some);
        for kind in OF_SEEING {
            assert!(play.told(0, kind).is_empty(), "every {every_min} min, {noise_m} m: {kind:?}");
        }
    }
}

#[test]
fn a_wall_in_the_place_of_the_edge_is_an_alarm_until_the_ranger_is_turned_back() {
    let mut play = Play::ripe(1, 0.001);
    let since = play.now();
    let from = play.go(6.0, Some, |_| Some(2.4));
    let after_h = play.alarm_after_h(from, EventKind::EdgeNotSeen, since);
    assert!((2.0..=4.0).contains(&after_h), "{after_h} h");
    let id = {
        let told = play.told(from, EventKind::EdgeNotSeen)[0];
        assert_eq!(why(told), "impossible-figures");
        let Details::Edge(details) = &told.details else { panic!("{told:?}") };
        assert_eq!(details.unwatched, Some(Unwatched::Bud));
        told.id.clone()
    };
    let from = play.go(4.0, Some, Some);
    let over = play.told(from, EventKind::EdgeNotSeenOver);
    assert_eq!(over.len(), 1);
    assert_eq!(over[0].ends, [id]);
    assert_eq!(over[0].severity, Severity::Warning);
}

/// A wall no further behind the edge than a mount is knocked: near the opening a person is asked to look all the same.
#[test]
fn a_wall_a_hand_behind_the_edge_is_an_alarm_when_the_opening_is_near() {
    let mut play = Play::ripe(1, 0.001);
    let since = play.now();
    let from = play.go(6.0, Some, |_| Some(RIM_M + 0.06));
    let after_h = play.alarm_after_h(from, EventKind::EdgeNotSeen, since);
    assert!(after_h <= 4.0, "{after_h} h");
    assert_eq!(why(play.told(from, EventKind::EdgeNotSeen)[0]), "target-jumped");

    let mut young = Play::new(1, 0.001, None);
    young.say(Observed::Sign(Sign::Plain(PlainSign::Emerged)));
    young.go(72.0, Some, Some);
    let from = young.go(24.0, Some, |_| Some(RIM_M + 0.06));
    assert!(young.told(from, EventKind::EdgeNotSeen).is_empty(), "weeks ahead it may be a knock");
}

#[test]
fn a_person_before_a_wall_is_no_opening() {
    let mut play = Play::ripe(1, 0.001);
    let from = play.go(5.0, Some, |_| Some(2.4));
    play.go(0.9, Some, |_| Some(0.6));
    play.go(5.0, Some, |_| Some(2.4));
    assert!(play.told(from, EventKind::OpeningTonight).is_empty());

    // a ranger that is turned back to a spathe that has opened meanwhile; this bud grows on, and so is given six hours more
    let mut play = Play::ripe(1, 0.001);
    play.go(5.0, Some, |_| Some(2.4));
    let from = play.go(9.0, Some, |edge_m| Some(edge_m - 0.4));
    assert_eq!(play.told(from, EventKind::OpeningTonight).len(), 1, "{:?}", &play.events[from..]);
}

/// Fog hides the edge from a ranger that then reports its furthest, for an hour; that is no wall.
#[test]
fn an_hour_of_fog_is_no_wall() {
    let mut play = Play::ripe(1, 0.001);
    let from = play.go(1.0, Some, |_| Some(5.0));
    play.go(6.0, Some, Some);
    assert!(play.told(from, EventKind::EdgeNotSeen).is_empty());
}

/// Nor is fog before a pause of the line, or before and behind it.
#[test]
fn fog_on_either_side_of_a_silence_is_no_wall() {
    let mut play = Play::ripe(1, 0.001);
    let from = play.go(0.5, Some, |_| Some(5.0));
    play.go(3.0, |_| None, |_| None);
    play.go(0.25, Some, |_| Some(5.0));
    play.go(6.0, Some, Some);
    assert!(play.told(from, EventKind::EdgeNotSeen).is_empty());
}

#[test]
fn a_barrier_nearer_than_the_edge_is_an_alarm_until_it_is_taken_away() {
    let mut play = Play::ripe(1, 0.001);
    let since = play.now();
    let from = play.go(6.0, Some, |_| Some(0.6));
    let after_h = play.alarm_after_h(from, EventKind::EdgeNotSeen, since);
    assert!(after_h <= 4.0, "{after_h} h");
    assert_eq!(why(play.told(from, EventKind::EdgeNotSeen)[0]), "target-jumped");
    // a day and a half, so that the track has long taken the barrier for its target
    play.go(30.0, Some, |_| Some(0.6));
    let from = play.go(6.0, Some, Some);
    assert_eq!(play.told(from, EventKind::EdgeNotSeenOver).len(), 1, "{:?}", &play.events[from..]);
    assert!(play.told(from, EventKind::EdgeNotSeen).is_empty());
}

#[test]
fn a_person_who_hangs_the_ranger_anew_ends_it() {
    let mut play = Play::ripe(1, 0.001);
    let from = play.go(6.0, Some, |_| Some(0.6));
    assert_eq!(play.told(from, EventKind::EdgeNotSeen).len(), 1);
    let moved = crate::sign::MovedMounts { rim_m: Some(0.6), tip_m: None };
    play.say(Observed::Sign(Sign::MountMoved(moved)));
    let from = play.go(4.0, Some, |edge_m| Some(edge_m - RIM_M + 0.6));
    assert_eq!(play.told(from, EventKind::EdgeNotSeenOver).len(), 1);
}

/// The median of a dozen echoes has a third of a millimetre of noise, on steps of one.
#[test]
fn a_quiet_side_ranger_that_hangs_is_an_alarm_within_two_hours_or_so() {
    let mut play = Play::ripe(1, 0.0003);
    let since = play.now();
    play.hung_m = Some(0.946);
    let from = play.go(8.0, Some, Some);
    let after_h = play.alarm_after_h(from, EventKind::SensorStuck, since);
    assert!((1.0..=4.0).contains(&after_h), "{after_h} h");
}

/// However quiet it is: the same figure in air that has become 4 K warmer comes from no echo.
#[test]
fn a_figure_that_does_not_follow_the_air_comes_from_a_ranger_that_hangs() {
    let mut play = Play::new(1, 0.0, Some(343.2));
    play.go(1.0, Some, |_| Some(0.947));
    play.is_ripe();
    let from = play.go(2.0, Some, |_| Some(0.947));
    assert!(play.told(0, EventKind::SensorStuck).is_empty(), "in still air it may be that quiet");
    play.warmer_k = 4.0;
    play.go(2.0, Some, |_| Some(0.947));
    let told = play.told(from, EventKind::SensorStuck);
    assert_eq!(told.len(), 1);
    assert_eq!(told[0].severity, Severity::Alarm);
}

#[test]
fn a_side_ranger_that_dies_is_an_alarm_though_the_other_lives_and_ends_with_its_own_return_only() {
    let mut play = Play::ripe(1, 0.001);
    let since = play.now();
    let from = play.go(2.0, Some, |_| None);
    let after_h = play.alarm_after_h(from, EventKind::SensorSilent, since);
    assert!(after_h <= 1.5, "{after_h} h");
    let id = play.told(from, EventKind::SensorSilent)[0].id.clone();
    let from = play.go(1.0, Some, Some);
    assert!(play.told(from, EventKind::SensorBack).iter().any(|back| back.ends == [id.clone()]));

    // both go, the one overhead comes back: nobody sees the opening still
    let from = play.go(2.0, |_| None, |_| None);
    let id = play.told(from, EventKind::SensorSilent)[0].id.clone();
    let from = play.go(2.0, Some, |_| None);
    assert!(play.told(from, EventKind::SensorBack).iter().all(|back| back.ends.is_empty()));
    let from = play.go(1.0, Some, Some);
    assert!(play.told(from, EventKind::SensorBack).iter().any(|back| back.ends == [id.clone()]));
}

#[test]
fn openings_are_seen_by_radios_that_speak_every_ten_to_fifteen_minutes() {
    for every_min in [10, 14, 15] {
        let mut play = Play::ripe(every_min, 0.001);
        play.go(15.0, Some, Some);
        let (began, first) = (play.now(), play.minute);
        let from = play.events.len();
        // a rim that comes out by 40 cm in six hours, reading by reading
        while play.minute < first + 360 {
            let through = (play.minute + every_min - first) as f64 / 360.0;
            let advance_m = 0.2 * (1.0 - (std::f64::consts::PI * through.min(1.0)).cos());
            play.go(every_min as f64 / 60.0, Some, |edge_m| Some(edge_m - advance_m));
        }
        let after_h = play.alarm_after_h(from, EventKind::OpeningTonight, began);
        assert!(after_h <= 4.0, "every {every_min} min: {after_h} h");
        assert!(play.told(0, EventKind::SensorSilent).is_empty(), "every {every_min} min");
    }
}

#[test]
fn readings_too_far_apart_to_see_an_opening_are_told() {
    let mut play = Play::ripe(30, 0.001);
    let told = play.told(0, EventKind::EdgeNotSeen);
    assert!(!told.is_empty() && told.iter().all(|event| why(event) == "readings-far-apart"), "{told:?}");
    let last = told[told.len() - 1].severity;
    assert_eq!(last, Severity::Alarm, "the bud is ripe by its signs");
    let from = play.go(1.0, Some, Some);
    play.every_min = 1;
    play.go(6.0, Some, Some);
    assert_eq!(play.told(from, EventKind::EdgeNotSeenOver).len(), 1);
}

/// A wall a hand behind the edge, met from the first day on: nothing jumped, and every figure is one that an edge can have.
#[test]
fn an_edge_that_neither_swells_nor_sways_is_none() {
    let mut play = Play::new(1, 0.001, None);
    play.go(1.0, Some, |_| Some(0.99));
    play.is_ripe();
    play.go(96.0, Some, |_| Some(0.99));
    let told = play.told(0, EventKind::EdgeNotSeen);
    assert_eq!(told.last().map(|event| why(event)), Some("no-swelling-no-sway"));
}

/// A barrier that was put up while nothing was heard looks like an edge far out. Once somebody has looked and it is closed, that is no edge.
#[test]
fn what_was_found_far_out_and_is_closed_hides_the_edge_until_it_is_taken_away() {
    let mut play = Play::ripe(1, 0.001);
    let from = play.go(4.0, |_| None, |_| None);
    play.go(10.0, Some, |_| Some(0.6));
    assert_eq!(play.told(from, EventKind::OpeningTonight).len(), 1, "{:?}", &play.events[from..]);
    let since = play.now();
    play.say(Observed::Sign(Sign::Plain(PlainSign::NotOpening)));
    let from = play.go(30.0, Some, |_| Some(0.6));
    let after_h = play.alarm_after_h(from, EventKind::EdgeNotSeen, since);
    assert!(after_h <= 1.0, "{after_h} h");
    assert_eq!(why(play.told(from, EventKind::EdgeNotSeen)[0]), "target-jumped");
    assert!(play.told(from, EventKind::EdgeNotSeenOver).is_empty(), "{:?}", &play.events[from..]);
    let from = play.go(6.0, Some, Some);
    assert_eq!(play.told(from, EventKind::EdgeNotSeenOver).len(), 1, "{:?}", &play.events[from..]);
}

/// What swells for days after a jump is a bud: its mount was knocked. So what is found far out later is its edge.
#[test]
fn an_edge_that_swells_on_after_a_knock_is_trusted_again() {
    const KNOCK_M: f64 = 0.06;
    let opened_unseen_after = |days: f64| {
        let mut play = Play::new(1, 0.001, None);
        play.say(Observed::Sign(Sign::Plain(PlainSign::Emerged)));
        play.go(72.0, Some, Some);
        play.go(24.0 * days, Some, |edge_m| Some(edge_m - KNOCK_M));
        play.is_ripe();
        play.go(4.0, |_| None, |_| None);
        let from = play.go(9.0, Some, |edge_m| Some(edge_m - KNOCK_M - 0.4));
        play.told(from, EventKind::OpeningTonight).len()
    };
    assert_eq!(opened_unseen_after(1.0), 0, "a day after the jump it may be a wall");
    assert_eq!(opened_unseen_after(10.0), 1, "2 mm a day for ten days");
}

/// People walk about before the ranger while the edge sets out: for eight minutes nothing else is heard, then of each seven echoes three
/// are the edge's. What goes on for so long is the edge, and no mount that was knocked. This bud grows on, and so is given six hours.
#[test]
fn an_edge_that_sets_out_among_people_is_an_opening() {
    let mut play = Play::ripe(1, 0.001);
    let minute = std::cell::Cell::new(0_u32);
    let from = play.go(10.0, Some, |edge_m| {
        minute.set(minute.get() + 1);
        let minutes = f64::from(minute.get());
        let person_m = 0.5 + 0.08 * f64::sin(1.7 * minutes);
        let edge_seen = minute.get() > 8 && matches!(minute.get() % 7, 0 | 2 | 4);
        Some(edge_m - if edge_seen { f64::min(0.12 * minutes / 60.0, 0.24) } else { person_m })
    });
    let told = play.told(from, EventKind::OpeningTonight);
    assert_eq!(told.len(), 1, "{:?}", &play.events[from..]);
}

/// For an hour and a half something behind the edge is met, and then the edge again: nothing jumped, and nothing opened.
#[test]
fn what_comes_back_to_where_the_edge_was_for_hours_is_the_edge() {
    let mut play = Play::ripe(1, 0.001);
    let minute = std::cell::Cell::new(0.0);
    // a target that creeps away is followed
    play.go(1.5, Some, |edge_m| {
        minute.set(minute.get() + 1.0);
        Some(edge_m + 0.12 * minute.get() / 90.0)
    });
    let from = play.go(8.0, Some, Some);
    for kind in [EventKind::EdgeNotSeen, EventKind::OpeningTonight] {
        assert!(play.told(from, kind).is_empty(), "{kind:?}: {:?}", &play.events[from..]);
    }
}

/// The chance of tonight changes at midnight. What the ranger meets does not.
#[test]
fn a_knock_that_was_told_stands_until_it_is_over() {
    let mut play = Play::new(1, 0.001, None);
    play.say(Observed::Sign(Sign::Plain(PlainSign::Emerged)));
    play.go(72.0, Some, Some);
    let from = play.events.len();
    for _day in 0..20 {
        play.go(24.0, Some, |_| Some(RIM_M - 0.2));
    }
    let told = play.told(from, EventKind::EdgeNotSeen);
    let over = play.told(from, EventKind::EdgeNotSeenOver);
    assert!(told.len() <= 2 && over.is_empty(), "a warning and an alarm at most: {told:?} {over:?}");
}
