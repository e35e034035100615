//! Each rule of the watch alone, on both sides of where it changes its mind, with the titan arum's figures.

mod night;
mod shape;

pub(crate) use self::night::titan_arum;
use self::night::{Night, START, at, growing, near, opens, ripe, sways, young};
use super::*;

#[test]
fn an_opening_is_told_with_what_it_stands_on() {
    let mut night = Night::after_rest(ripe());
    let (told_h, evidence) = night.moves(8.0, opens(0.4, 8.0)).unwrap();
    // advance and rate together reach 0.95 · 7.5 at 1.4 h, the line over half an hour lags, ten minutes must pass
    assert!((1.4..2.0).contains(&told_h), "{told_h}");
    near(evidence.began.hours_since(at(12.5)), 0.0, 0.25);
    near(evidence.advance_m, opens(0.4, 8.0)(told_h), 0.006);
    // the rate a quarter of an hour before
    near(evidence.rate_m_h, 0.0785 * (std::f64::consts::PI * (told_h - 0.25) / 8.0).sin(), 0.006);
    // no more than the 1.2 cm below which nothing has begun
    near(evidence.baseline_m_h, 0.0, 0.0012);
    assert!(!evidence.found_open);
    // A·π²/(4·T²), the first term of the cosine's series
    near(evidence.curve_m_h2.unwrap(), 0.4 * std::f64::consts::PI.powi(2) / (4.0 * 64.0), 0.003);
    assert_eq!(evidence.began, evidence.began.to_the_minute());
}

#[test]
fn a_slow_opening_is_told_by_its_advance_and_a_fast_one_by_its_rate() {
    // 1 cm/h: (a + 1) / 7.5 = 0.95 at 6.1 cm
    let (slow_h, evidence) = Night::after_rest(ripe()).moves(12.0, |hours| 0.01 * hours).unwrap();
    near(slow_h, 6.3, 0.25);
    near(evidence.rate_m_h, 0.01, 0.002);
    let (fast_h, _) = Night::after_rest(ripe()).moves(2.0, |hours| 0.2 * hours).unwrap();
    assert!(fast_h < 0.75, "{fast_h}");
    // what a growing edge makes in half a day is not enough
    assert!(Night::after_rest(ripe()).moves(48.0, |hours| 0.003 * hours).is_none());
}

#[test]
fn what_is_done_in_a_minute_is_no_opening() {
    assert!(Night::after_rest(ripe()).moves(24.0, |hours| if hours > 2.0 { 0.11 } else { 0.0 }).is_none());
    // the same way in three quarters of an hour
    assert!(Night::after_rest(ripe()).moves(24.0, |hours| 0.11 * (hours / 0.75).min(1.0)).is_some());
}

#[test]
fn fast_but_not_yet_out_is_no_opening() {
    // 30 cm/h for two minutes: the rate alone would do; 1.2 cm are asked for
    let mut night = Night::after_rest(ripe());
    assert!(night.moves(3.0, |hours| (0.3 * hours).min(0.011)).is_none());
    assert!(night.watch.over_since.is_none());
}

#[test]
fn the_bar_must_be_held_ten_minutes_and_an_hour_at_full_growth() {
    for (around, held_h) in [(ripe(), 10.0 / 60.0), (growing(), 1.0)] {
        let mut night = Night::after_rest(around);
        let mut over_h = None;
        let told_h = (1..600).find_map(|minute| {
            let gone_h = f64::from(minute) / 60.0;
            night.is_at(opens(0.4, 8.0)(gone_h));
            let told = night.watch.look(&night.rings, night.now(), &night.around, &night.profile, true);
            over_h = night.watch.over_since.map(|since| since.hours_since(at(12.5))).or(over_h);
            told.map(|_| gone_h)
        });
        near(told_h.unwrap() - over_h.unwrap(), held_h, 1e-9);
    }
}

#[test]
fn a_break_begins_the_ten_minutes_anew() {
    let mut night = Night::after_rest(ripe());
    night.watch.over_since = Some(at(12.0));
    night.stands(0.0, 0.05);
    assert_eq!(night.watch.over_since, None);
}

#[test]
fn what_is_known_beside_the_rim_moves_the_bar() {
    let profile = titan_arum();
    let ordinary = ripe().bar(&profile);
    near(ordinary, 0.95, 1e-12);
    let factor = |around: Circumstances| around.bar(&profile) / ordinary;
    // spathes have cracked from noon to four; an hour before and two after are still usual
    for (hour, usual) in [(10.9, false), (11.0, true), (18.0, true), (18.1, false), (3.0, false)] {
        let expected = if usual { 1.0 } else { 1.1 / 0.95 };
        near(factor(Circumstances { local_hour: hour, ..ripe() }), expected, 1e-12);
    }
    near(factor(growing()), 1.35, 1e-12);
    near(factor(young()), 1.35, 1e-12);
    near(factor(Circumstances { growth_share: None, bud_age_d: None, ..ripe() }), 1.0, 1e-12);
    near(factor(Circumstances { ripe_by_sign: true, ..ripe() }), 0.9, 1e-12);
    near(factor(Circumstances { air_known: false, ..ripe() }), 1.5, 1e-12);
    for (celsius, expected) in [(35.0, 1.0), (36.5, 1.3), (38.0, 1.6), (45.0, 1.6)] {
        near(factor(Circumstances { temperature_c: Some(celsius), ..ripe() }), expected, 1e-12);
    }
    near(factor(Circumstances { temperature_c: None, ..ripe() }), 1.0, 1e-12);
    for (kelvin, expected) in [(1.9, 1.0), (2.0, 0.8)] {
        near(factor(Circumstances { spadix_above_air_k: Some(kelvin), ..ripe() }), expected, 1e-12);
    }
}

#[test]
fn neither_full_growth_nor_the_first_half_lets_a_bud_be_ripe() {
    let profile = titan_arum();
    for (growth_share, fully) in [(None, false), (Some(0.8), false), (Some(0.81), true)] {
        assert_eq!(Circumstances { growth_share, ..ripe() }.grows_fully(&profile), fully);
    }
    // the earliest opened 34 days after it emerged
    for (bud_age_d, may) in [(None, true), (Some(16.9), false), (Some(17.0), true)] {
        assert_eq!(Circumstances { bud_age_d, ..ripe() }.may_be_ripe(&profile), may);
    }
    assert!(!growing().may_be_ripe(&profile));
}

#[test]
fn a_rim_found_far_out_after_a_blind_span_is_open() {
    let mut night = Night::after_rest(ripe());
    night.blind(3.0, 0.25);
    let (told_h, evidence) = night.moves(2.0, |_| 0.25).unwrap();
    assert!(told_h < 0.1, "{told_h}");
    assert!(evidence.found_open);
    assert_eq!(evidence.curve_m_h2, None, "nobody saw how it set out");
    near(evidence.advance_m, 0.25, 0.003);
    // half way through the span at the latest
    let began_h = evidence.began.hours_since(at(12.5));
    assert!((0.0..=1.5).contains(&began_h), "{began_h}");
}

#[test]
fn a_rim_found_a_little_out_or_going_back_is_not_open() {
    for (found_m, open) in [(0.09, false), (0.11, true)] {
        let mut night = Night::after_rest(ripe());
        night.blind(3.0, found_m);
        assert_eq!(night.moves(2.0, |_| found_m).is_some(), open, "{found_m} m");
    }
    // somebody who steps away
    let mut night = Night::after_rest(ripe());
    night.blind(3.0, 0.25);
    assert!(night.moves(3.0, |hours| 0.25 - 0.04 * hours).is_none());
}

#[test]
fn a_blind_span_excuses_a_leap_for_two_hours() {
    for (after_h, open) in [(1.9, true), (2.1, false)] {
        let mut night = Night::after_rest(ripe());
        night.blind(3.0, 0.0);
        night.stands(0.0, after_h);
        assert_eq!(night.moves(6.0, |_| 0.25).is_some(), open, "{after_h} h after it");
    }
}

#[test]
fn a_young_bud_found_open_must_stay_so_for_six_hours() {
    let mut night = Night::after_rest(young());
    night.blind(3.0, 0.25);
    let (told_h, evidence) = night.moves(12.0, |_| 0.25).unwrap();
    near(told_h, 6.0, 0.02);
    assert!(evidence.found_open);
    // a crowd that leaves
    let mut night = Night::after_rest(young());
    night.blind(3.0, 0.25);
    assert!(night.moves(12.0, |hours| if hours < 5.0 { 0.25 } else { 0.0 }).is_none());
}

#[test]
fn a_bud_at_full_growth_is_found_open_only_twice_as_far_out() {
    for (found_m, open) in [(0.19, false), (0.21, true)] {
        let mut night = Night::after_rest(growing());
        night.blind(3.0, found_m);
        assert_eq!(night.moves(12.0, |_| found_m).is_some(), open, "{found_m} m");
    }
}

#[test]
fn an_opening_that_begins_after_a_blind_span_was_not_hidden_by_it() {
    let mut night = Night::after_rest(ripe());
    night.blind(1.0, 0.0);
    night.stands(0.0, 0.4);
    let began = night.now();
    let (_, evidence) = night.moves(8.0, opens(0.4, 5.0)).unwrap();
    assert!(!evidence.found_open);
    assert!(evidence.curve_m_h2.is_some());
    near(evidence.began.hours_since(began), 0.0, 0.25);
}

#[test]
fn what_a_person_says_sets_the_level_and_takes_it_back() {
    let out = |hours: f64| 0.01 * hours;
    let told = |said: fn(&mut OpeningWatch, Time)| {
        let mut night = Night::after_rest(ripe());
        assert!(night.moves(4.0, out).is_none());
        let now = night.now();
        said(&mut night.watch, now);
        night.moves(20.0, |hours| out(4.0 + hours)).unwrap().0 + 4.0
    };
    near(told(|_, _| {}), 6.3, 0.25);
    // 6.1 cm from where it was when it was said
    near(told(OpeningWatch::rest_at), 10.4, 0.4);
    let back = told(|watch, now| {
        watch.rest_at(now);
        watch.watch_on();
    });
    near(back, 6.3, 0.25);
}

#[test]
fn what_a_person_says_ends_what_was_under_way() {
    let mut watch =
        OpeningWatch { over_since: Some(START), hidden: Some((START, at(1.0))), baseline_from: None };
    watch.rest_at(at(2.0));
    assert_eq!(watch, OpeningWatch { over_since: None, hidden: None, baseline_from: Some(at(2.0)) });
}

#[test]
fn the_last_levels_before_a_long_blind_span_stand_for_the_plants_own() {
    let mut night = Night::after_rest(ripe());
    night.blind(14.0, 0.05);
    night.stands(0.05, 0.6);
    near(night.baseline().0, 0.0, 0.001);
    // until there are four quarters of an hour of its own again, the middle of the last a quarter of an hour ago: after 68 min, 37
    // of which have passed
    let again = (1..120).find(|_| {
        night.is_at(0.05);
        night.baseline().0 > 0.04
    });
    near(f64::from(again.unwrap()), 68.0 - 37.0, 1.0);
}

#[test]
fn the_last_quarter_of_an_hour_is_no_baseline() {
    let mut night = Night::beginning(ripe());
    (0..12 * 60 - 1).for_each(|_| night.is_at(0.1));
    // one whole quarter of an hour, and the minute that ends it
    (0..15).for_each(|_| night.is_at(0.0));
    night.is_at(0.1);
    near(night.baseline().0, 0.1, 0.001);
    (0..15).for_each(|_| night.is_at(0.1));
    near(night.baseline().0, 0.0, 0.001);
}

#[test]
fn a_rate_counts_by_as_much_as_it_is_sure() {
    let way = |hours: f64| 0.05 * hours;
    let (clear_h, _) = Night::after_rest(ripe()).moves(4.0, way).unwrap();
    let mut night = Night::after_rest(ripe());
    night.noise_m = sways;
    let (swaying_h, _) = night.moves(4.0, way).unwrap();
    // 8.2 mm over 30 readings in half an hour: 1.0 cm/h, of which one and a half times are 1.5 cm of advance, or 0.3 h
    near(swaying_h - clear_h, 0.3, 0.15);
}

#[test]
fn far_out_and_creeping_less_than_can_be_told_from_nothing_is_no_opening() {
    let mut night = Night::after_rest(ripe());
    night.noise_m = sways;
    assert!(night.moves(3.0, |hours| if hours > 0.1 { 0.09 + 0.002 * hours } else { 0.0 }).is_none());
}

#[test]
fn the_plants_own_rate_is_that_before_anything_began() {
    let mut night = Night::beginning(ripe());
    assert!(night.moves(12.5, |hours| 0.0005 * hours).is_none());
    assert!(night.moves(2.0, |hours| 0.006_25 + 0.02 * hours).is_none());
    let (lowest_m, rate_m_h) = night.baseline();
    near(lowest_m, 0.0005 * 2.5, 0.001);
    // half a millimetre an hour, and as above
    near(rate_m_h, 0.0005, 0.012 / 12.0);
    assert!(rate_m_h > 0.0003, "{rate_m_h}");
    // of less than an hour nothing can be said
    let mut night = Night::beginning(ripe());
    assert!(night.moves(1.1, |hours| 0.01 * hours).is_none());
    let (_, rate_m_h) = night.baseline();
    near(rate_m_h, 0.0, 0.0);
}

#[test]
fn a_gap_that_closes_by_and_by_has_turned_back() {
    // 6 cm out: a quarter of it; 3 cm out: a centimetre
    for (highest_m, turns_after_m) in [(0.06, 0.015), (0.03, 0.01)] {
        let mut night = Night::after_rest(ripe());
        for minute in 0..60 {
            night.is_at(highest_m * f64::from(minute) / 60.0);
        }
        let turned_m = (1..180).map(|minute| 0.02 * f64::from(minute) / 60.0).find(|retreat_m| {
            night.is_at(highest_m - retreat_m);
            night.turned_back(highest_m, highest_m)
        });
        near(turned_m.unwrap(), turns_after_m, 0.0035);
    }
}

#[test]
fn what_goes_out_stands_or_falls_at_once_has_not_turned_back() {
    let after = |way: &dyn Fn(f64) -> f64| {
        let mut night = Night::after_rest(ripe());
        (1..=60).for_each(|minute| night.is_at(way(f64::from(minute) / 60.0)));
        night
    };
    assert!(after(&|hours| 0.06 - 0.03 * hours).turned_back(0.06, 0.06), "one that does");
    assert!(!after(&|hours| 0.03 + 0.03 * hours).turned_back(0.09, 0.09), "goes out");
    let mut stands = Night::after_rest(ripe());
    stands.noise_m = sways;
    (1..=60).for_each(|_| stands.is_at(0.04));
    assert!(!stands.turned_back(0.06, 0.06), "stands");
    assert!(
        !after(&|hours| if hours > 0.8 { 0.0 } else { 0.06 }).turned_back(0.06, 0.06),
        "somebody came between"
    );
    assert!(!after(&|hours| 0.16 - 0.06 * hours).turned_back(0.16, 0.16), "too far out for a gap");
    assert!(!Night::beginning(ripe()).turned_back(0.06, 0.06), "nothing read");
}

#[test]
fn a_gap_may_close_up_to_what_has_been_seen_to() {
    let profile = titan_arum();
    assert!(may_close(0.119, &profile));
    assert!(!may_close(0.12, &profile));
}

#[test]
fn the_hidden_crack_is_no_later_than_the_advance_could_be_made_and_half_way() {
    let profile = titan_arum();
    let hours = |guess_h: f64, advance_m: f64| {
        middle(at(guess_h), START, at(4.0), advance_m, &profile).hours_since(START)
    };
    // 25 cm take an hour at the least
    near(hours(3.9, 0.25), 2.0, 1e-9);
    near(hours(1.0, 0.25), 1.0, 1e-9);
    near(hours(2.0, 0.75), 1.0, 1e-9);
    near(hours(2.0, 2.0), 0.0, 1e-9);
}
