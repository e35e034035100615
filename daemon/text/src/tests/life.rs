//! The sentences of a bloom's life.

use bloom_model::event::{
    BudSeenDetails, Doubt, FullOpenDetails, FullyOpen, GivenUp, GrowsAgain, GrowthFigures, HasClosed,
    NotOpening, OpeningDetails, OpeningMoment, Revision, SignDetails, SlowingDetails, SlowingOverDetails,
    ToldBy,
};
use bloom_model::sign::{MovedMounts, PlainSign, Sign};

use super::*;

const ALONG: &str = "Gloves, goggles, level ladder, not alone.";
const EYE: &str = "Sap in an eye: rinse long, see a doctor.";

/// A crack on Wednesday at 14:00, looked at at that hour.
fn opening(hour: f64) -> OpeningDetails {
    let full_open =
        FullOpenTimes { earliest: at(18.0 + 59.0 / 60.0), likely: at(21.0 + 52.0 / 60.0), latest: at(30.0) };
    OpeningDetails {
        told_by: ToldBy::Rim,
        advance_cm: Some(4.7),
        rate_cm_hour: Some(5.0),
        baseline_cm_hour: Some(0.1),
        spadix_above_air_k: None,
        began: at(14.0),
        found_open: false,
        full_open,
        full_since: None,
        receptive: hours(hour).receptive,
        moment: OpeningMoment {
            now: at(hour),
            advance_m: 0.047,
            rate_m_h: 0.05,
            seen: true,
            full_open: Some(full_open),
            hours: hours(hour),
            pollinated: false,
            collected: false,
            takes_the_place: false,
        },
    }
}

/// The same with another moment.
fn opening_but(hour: f64, change: impl FnOnce(&mut OpeningMoment)) -> OpeningDetails {
    let mut opening = opening(hour);
    change(&mut opening.moment);
    opening
}

fn told(opening: &OpeningDetails) -> String {
    Words::new(&site(), "east-3", Some("AT-0412")).opening(opening)
}

#[test]
fn an_opening_alarm_says_first_what_to_do_and_where() {
    let alarm = told(&opening(15.5));
    assert_eq!(
        alarm,
        format!(
            "OPENING NOW east-3: thaw pollen, pollinate from 18:00. {ALONG} Full about Wed 21:52 (18:59 to Thu 06:00). Flowers receptive \
             Wed 17:00 to Thu 08:00, best Wed 18:00 to Thu 02:00. Edge out 4.7 cm, 5.0 cm an hour; it began about Wed 14:00. AT-0412. {EYE}"
        )
    );
    keeps_the_rules_of_an_alarm(&alarm, "thaw pollen, pollinate from 18:00.");
    let by_sign =
        told(&OpeningDetails { told_by: ToldBy::Sign, ..opening_but(15.5, |moment| moment.seen = false) });
    assert!(by_sign.contains(" By what was recorded it began about Wed 14:00."), "{by_sign}");
    let from_above = told(&OpeningDetails { told_by: ToldBy::Tip, ..opening(15.5) });
    assert!(from_above.contains(" From above its tip rises 5.0 cm an hour; it began"), "{from_above}");
    let lost = told(&opening_but(15.5, |moment| moment.seen = false));
    assert!(lost.contains(" The ranger does not show its edge now: look, from the ground or by camera."));
    let another = told(&opening_but(15.5, |moment| moment.takes_the_place = true));
    assert!(another.ends_with(&format!("{EYE} What was told before was no opening.")), "{another}");
}

#[test]
fn one_that_is_found_open_offers_no_hour_that_is_past() {
    let found = |hour: f64| {
        let found = opening_but(hour, |moment| (moment.advance_m, moment.rate_m_h) = (0.42, -0.0004));
        told(&OpeningDetails { found_open: true, ..found })
    };
    let in_time = found(20.5);
    assert_eq!(
        in_time,
        format!(
            "ALREADY OPEN east-3: thaw pollen, pollinate now. {ALONG} Full about Wed 21:52 (18:59 to Thu 06:00). Flowers receptive until \
             Thu 08:00, best until Thu 02:00. Edge out 42.0 cm, 0.0 cm an hour; it opened unseen, in a span without readings, about Wed \
             14:00. AT-0412. {EYE}"
        )
    );
    keeps_the_rules_of_an_alarm(&in_time, "pollinate now.");
    let late = found(24.0 + 9.8);
    assert!(
        late.starts_with(&format!(
            "ALREADY OPEN east-3: collect pollen from 12:00. {ALONG} Full by now, most likely (at the latest Thu 09:48). Pollination hours \
             are over by the books (Thu 08:00): try only if stigmas are moist."
        )),
        "{late}"
    );
    keeps_the_rules_of_an_alarm(&late, "collect pollen from 12:00.");
    let shedding = found(24.0 + 13.0);
    keeps_the_rules_of_an_alarm(&shedding, "collect pollen, until Sat 02:00.");
    keeps_the_rules_of_an_alarm(&found(100.0), "look, and record what you see.");
}

#[test]
fn an_alarm_that_stands_says_what_is_done_and_what_is_not() {
    let since = Some(at(21.0));
    let full = |pollinated, collected| {
        let full = opening_but(23.0, |moment| {
            moment.full_open = None;
            (moment.pollinated, moment.collected) = (pollinated, collected);
        });
        told(&OpeningDetails { full_since: since, ..full })
    };
    assert!(
        full(true, false).starts_with(&format!(
            "FULLY OPEN east-3: collect pollen from Thu 12:00. {ALONG} Fully open since Wed 21:00. Pollination is recorded. Edge out"
        )),
        "{}",
        full(true, false)
    );
    keeps_the_rules_of_an_alarm(&full(false, false), "thaw pollen, pollinate now.");
    keeps_the_rules_of_an_alarm(&full(true, true), "record when it closes.");
}

#[test]
fn us_units_read_as_us_units() {
    let us = SiteSpec { units: Units::Us, ..site() };
    let words = Words::new(&us, "east-3", None);
    let alarm = words.opening(&opening(15.5));
    assert!(alarm.contains(" Edge out 1.9 in, 2.0 in an hour; it began"), "{alarm}");
    let growth = GrowthFigures { height_m: Some(1.82), growth_cm_day: Some(3.0), ..GrowthFigures::default() };
    assert_eq!(words.morning(&growth, None), "east-3: 71.7 in high, 1.2 in since yesterday.");
    let moved = Sign::MountMoved(MovedMounts { tip_m: None, rim_m: Some(0.95) });
    assert_eq!(
        words.recorded(&recorded(moved)),
        "Recorded at east-3: side ranger hung anew, 37.4 in from the spathe edge."
    );
}

#[test]
fn what_follows_an_opening_is_told_as_seen_only_where_it_was() {
    let site = site();
    let words = Words::new(&site, "east-3", Some("AT-0412"));
    let full = |hour: f64, by, pollinated| {
        let (receptive, hours) = (hours(hour).receptive, hours(hour));
        words.fully_open(at(hour), &FullOpenDetails { receptive, by, began: at(14.0), pollinated, hours })
    };
    assert_eq!(
        full(21.0, FullyOpen::AtRest, false),
        format!(
            "FULLY OPEN east-3: pollinate now, until about Thu 08:00, best until Thu 02:00. {ALONG} Its edge has come to rest."
        )
    );
    assert_eq!(
        full(21.0, FullyOpen::AtRest, true),
        "FULLY OPEN east-3: pollination is recorded. Its edge has come to rest."
    );
    assert_eq!(
        full(28.0, FullyOpen::ByTheClock, true),
        "east-3 counted as fully open after 14 h, no sensor saw it: pollination is recorded."
    );
    assert_eq!(
        full(28.0, FullyOpen::Recorded, true),
        "FULLY OPEN east-3, as recorded: pollination is recorded."
    );
    assert_eq!(
        full(28.0, FullyOpen::NotClosed, true),
        "FULLY OPEN east-3, that it closed was taken back: pollination is recorded."
    );
    let closed = |by| words.closed(by, Some(48.0));
    assert_eq!(
        closed(HasClosed::ByTheClock),
        "east-3 counted as closed after 48 h; no sensor saw it. If it is open, record \"full-open\"."
    );
    assert_eq!(closed(HasClosed::HalfWayBack), "east-3 has closed: its edge is half way back.");
    assert_eq!(closed(HasClosed::Recorded), "east-3 has closed, as recorded.");
    assert_eq!(closed(HasClosed::Collapsed), "east-3 has collapsed, as recorded.");
    assert_eq!(closed(HasClosed::FruitSet), "east-3 has set fruit, as recorded.");
    assert_eq!(
        words.spent(),
        "east-3 counted as over: no more is told of this bloom. The bench waits for its next bud."
    );
}

#[test]
fn a_new_hour_of_full_opening() {
    let full_open = opening(16.0).full_open;
    for (revision, what) in [
        (Revision::Sooner, "opens faster than was told"),
        (Revision::Later, "opens more slowly than was told"),
        (Revision::Surer, "opens as was told"),
    ] {
        let said =
            Words::new(&site(), "east-3", Some("AT-0412")).full_open_revised(at(16.0), &full_open, revision);
        assert_eq!(said, format!("east-3 {what}: full about Wed 21:52 (18:59 to Thu 06:00)."));
    }
}

#[test]
fn the_last_call_and_the_pollen() {
    let site = site();
    let words = Words::new(&site, "east-3", Some("AT-0412"));
    let last = words.receptive_ending(&window(17.0, 32.0));
    assert_eq!(
        last,
        format!(
            "POLLINATE NOW east-3: flowers receptive until about Thu 08:00. Nobody has recorded a pollination. {ALONG} AT-0412. {EYE}"
        )
    );
    keeps_the_rules_of_an_alarm(&last, "POLLINATE NOW");
    let collect = window(36.0, 74.0);
    let pollen = words.pollen(at(36.0), &collect, at(43.0));
    assert_eq!(
        pollen,
        format!(
            "POLLEN east-3: collect it, trays in now. It is shed until Sat 02:00, likeliest about Thu 19:00. A mask. {ALONG} AT-0412. {EYE}"
        )
    );
    keeps_the_rules_of_an_alarm(&pollen, "collect it, trays in now.");
    assert!(words.pollen(at(44.0), &collect, at(43.0)).contains("It is shed until Sat 02:00. A mask."));
}

#[test]
fn a_false_alarm_and_a_look() {
    let site = site();
    let words = Words::new(&site, "east-3", Some("AT-0412"));
    let why = |why| {
        let said = words.not_opening(why);
        keeps_the_rules(&said);
        let end = ". It may open tomorrow: the watch goes on.";
        let said = said.strip_prefix("FALSE ALARM east-3: not opening, ").unwrap();
        said.strip_suffix(end).unwrap().to_owned()
    };
    assert_eq!(why(NotOpening::HeardClosed), "its edge was heard closed for two hours");
    assert_eq!(why(NotOpening::GrowsOn), "the bud grows on as before");
    assert_eq!(why(NotOpening::NoFurther), "in all these hours the edge came no further");
    assert_eq!(why(NotOpening::PersonLooked), "a person looked and it is closed");
    assert_eq!(why(NotOpening::TakenBack), "the recorded opening was taken back");
    for doubt in [Doubt::EdgeLost, Doubt::TurnedBack, Doubt::Back, Doubt::NoFurther, Doubt::GrowsOn] {
        let said = words.look(doubt);
        keeps_the_rules_of_an_alarm(&said, "look, from the ground or by camera");
        assert!(said.ends_with(". The opening alarm stands; if it is closed, record \"not-opening\"."));
    }
    assert_eq!(
        words.look(Doubt::EdgeLost),
        "east-3: look, from the ground or by camera, not alone: the ranger no longer shows its edge. The opening alarm stands; if it is \
         closed, record \"not-opening\"."
    );
}

#[test]
fn a_bud_and_its_mornings() {
    let site = site();
    let words = Words::new(&site, "east-1", Some("AT-0398"));
    let seen = BudSeenDetails {
        height_m: Some(0.13),
        growth_cm_day: Some(1.7),
        told_by: "tip-range",
        taken_up: false,
        outlook: None,
    };
    assert_eq!(
        words.bud(&seen),
        "New bud east-1, 0.13 m high, 1.7 cm a day: record the signs you see. AT-0398."
    );
    let by_sign = BudSeenDetails {
        height_m: None,
        growth_cm_day: None,
        told_by: "sign",
        taken_up: true,
        outlook: None,
    };
    assert_eq!(words.bud(&by_sign), "Bud of east-1 is watched again: record the signs you see. AT-0398.");
    let growth = GrowthFigures { height_m: Some(1.82), growth_cm_day: Some(3.0), ..GrowthFigures::default() };
    assert_eq!(
        words.morning(&growth, Some(&of(0.163, 0.08))),
        "east-1: tonight 16 %, opens likely 29 May (28 to 30 May). 1.82 m high, 3.0 cm since yesterday. AT-0398."
    );
    let still = GrowthFigures { growth_cm_day: Some(-0.03), ..growth };
    assert_eq!(
        words.morning(&still, Some(&of(0.002, 0.95))),
        "east-1: most likely stopped (95 %), look at it. 1.82 m high, 0.0 cm since yesterday. AT-0398."
    );
    assert_eq!(
        words.morning(&GrowthFigures::default(), Some(&of(0.002, 0.05))),
        "east-1: tonight under 1 %, opens likely 29 May (28 to 30 May). Height not known. AT-0398."
    );
    assert_eq!(
        words.test(),
        "TEST ALARM east-1: acknowledge it now. Nothing is wrong; your answer proves that an alarm reaches somebody. AT-0398."
    );
}

#[test]
fn a_bud_that_slows_grows_again_or_stops() {
    let site = site();
    let words = Words::new(&site, "east-3", None);
    let slows = |outlook| SlowingDetails { growth_cm_day: 4.6, peak_cm_day: 9.7, outlook };
    assert_eq!(
        words.slowing(&slows(Some(of(0.02, 0.05)))),
        "SLOWING east-3: opens likely 29 May (28 to 30 May). Ask for pollen, somebody there every evening. It grows 4.6 cm a day, 9.7 cm at \
         its peak."
    );
    assert_eq!(
        words.slowing(&slows(Some(of(0.02, 0.95)))),
        "SLOWING east-3: most likely stopped (95 %), look at it. It grows 4.6 cm a day, 9.7 cm at its peak."
    );
    let over = SlowingOverDetails {
        why: GrowsAgain::Recovered,
        growth_cm_day: Some(9.0),
        outlook: Some(of(0.0, 0.05)),
    };
    assert_eq!(
        words.grows_again(&over),
        "east-3 grows again, 9.0 cm a day: opening is further off than said. Now: opens likely 29 May (28 to 30 May)."
    );
    assert_eq!(
        words.grows_again(&SlowingOverDetails {
            why: GrowsAgain::TapeTakenBack,
            growth_cm_day: None,
            outlook: None
        }),
        "east-3 has not slowed, the taped height was taken back: opening is further off than said."
    );
    let end = "Look at it. If it opens all the same, the alarm still comes.";
    assert_eq!(
        words.given_up(GivenUp::NoGrowth(14.0)),
        format!("east-3: counted as stopped, no growth for 14 days. {end}")
    );
    assert_eq!(
        words.given_up(GivenUp::Collapsed),
        format!("east-3: the bud has collapsed, as recorded. {end}")
    );
    assert_eq!(words.given_up(GivenUp::Leaf), format!("east-3: a leaf and no flower, as recorded. {end}"));
}

fn recorded(sign: Sign) -> SignDetails {
    SignDetails { sign, outlook: None, too_many: None }
}

#[test]
fn what_people_recorded() {
    let site = site();
    let words = Words::new(&site, "west-1", None);
    assert_eq!(words.recorded(&recorded(Sign::Plain(PlainSign::Opened))), "Recorded at west-1: \"opened\".");
    assert_eq!(
        words.recorded(&recorded(Sign::Withdrawn(PlainSign::Opened))),
        "Taken back at west-1: \"opened\"."
    );
    assert_eq!(words.recorded(&recorded(Sign::HeightWithdrawn)), "Taken back at west-1: the taped height.");
    let moved = Sign::MountMoved(MovedMounts { tip_m: Some(3.6), rim_m: Some(0.95) });
    let said = words.recorded(&recorded(moved));
    assert_eq!(
        said,
        "Recorded at west-1: overhead ranger hung anew, at 3.60 m; side ranger hung anew, 0.95 m from the spathe edge."
    );
    keeps_the_rules(&said);
    let stuck = SignDetails { too_many: Some(20), ..recorded(Sign::Plain(PlainSign::Scent)) };
    assert_eq!(
        words.recorded(&stuck),
        "Recorded at west-1: \"scent\". That is the 20th of this bloom: from here on the first and the newest count, and the others are in \
         the record only. Is a button stuck?"
    );
    assert_eq!(
        words.fruit_ripe(),
        format!("Fruit of west-1 is ripe, as recorded: harvest, clean, sow fresh. Gloves and goggles. {EYE}")
    );
}
