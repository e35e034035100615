//! The watch over a house, played by the minute: what is told of intakes, silences, the clock and tests.

use std::collections::BTreeSet;

use chrono::TimeDelta;

use super::*;
use crate::event::{Details, Severity};
use crate::quantity::Quantity;
use crate::reading::{BenchNumber, Observed, Taken};
use crate::sign::{PlainSign, Sign};
use crate::spec::example;

/// 2027-06-02T12:00:00Z, nine in the morning in Halifax.
const NOON: Time = Time::from_unix_ms(1_811_937_600_000);
const BENCHES: [&str; 3] = ["east-3", "east-4", "west-1"];
/// Two benches on one line, a third on another.
const ALL: [(usize, usize); 3] = [(0, 0), (1, 0), (2, 1)];

fn site() -> Site {
    let benches = BENCHES.map(|id| example::bench(id, 0.95, None));
    let mut site = Site::new(example::saltmarsh(), benches.into());
    site.watch_from(NOON);
    site
}

/// A house, its watch, and what was to be done, with when.
struct Played {
    site: Site,
    watch: HouseWatch,
    now: Now,
    clock: ClockSays,
    done: Vec<(Now, Effect)>,
}

impl Played {
    fn new() -> Self {
        Self::with(vec![Intake::of_line("line-0".to_owned()), Intake::of_line("line-1".to_owned())], true)
    }

    fn with(intakes: Vec<Intake>, live: bool) -> Self {
        let (site, now) = (site(), Now { time: NOON, monotonic: Duration::from_secs(100) });
        let watch = HouseWatch::new(&site, intakes, live, now.monotonic);
        Self { site, watch, now, clock: ClockSays::default(), done: Vec::new() }
    }

    fn hear(&mut self, input: Input<'_>) {
        for effect in self.watch.handle(&self.site, self.now, input) {
            if let Effect::Raise(event) = &effect {
                self.watch.handle(&self.site, self.now, Input::Told(event));
            }
            self.done.push((self.now, effect));
        }
    }

    fn say(&mut self, events: Vec<Event>) {
        for event in events {
            self.hear(Input::Said { event: Box::new(event), told_before: false });
        }
    }

    /// One round of a bench's sensors by an intake.
    fn speak(&mut self, bench: usize, intake: usize) {
        self.say_of(bench, intake, 4);
    }

    /// The same of the first so many: the air, and then the rangers.
    fn say_of(&mut self, bench: usize, intake: usize, sensors: usize) {
        // figures with a little life in them, as any real sensor's
        let wobble = f64::from((self.now.time.unix_ms() / 1000 % 97) as i32) * 1e-5;
        let values = [
            (Quantity::Temperature, 25.0),
            (Quantity::Humidity, 80.0),
            (Quantity::TipRange, 2.1),
            (Quantity::RimRange, 0.95),
        ];
        let mut taken = Vec::new();
        for (quantity, value) in values.into_iter().take(sensors) {
            let observed = Observed::Value(quantity, value + wobble);
            let reading = Reading { bench: BenchNumber(bench as u16), time: self.now.time, observed };
            let mut events = Vec::new();
            if self.site.take(&reading, &mut events) == Taken::ByTheModel {
                taken.push(reading);
            }
            self.say(events);
        }
        self.hear(Input::Came { intake, readings: sensors, refused: 0, taken: &taken });
    }

    /// Minutes pass, in each of which those benches speak, each by its intake.
    fn live(&mut self, minutes: u32, speaking: &[(usize, usize)]) {
        for _ in 0..minutes {
            for (bench, intake) in speaking {
                self.speak(*bench, *intake);
            }
            self.now.time = self.now.time + TimeDelta::minutes(1);
            self.now.monotonic += Duration::from_secs(60);
            let mut events = Vec::new();
            self.site.pass_time(self.now.time, &mut events);
            self.say(events);
            self.hear(Input::Look(self.clock));
        }
    }

    /// A bud, as a person books it.
    fn has_bud(&mut self, bench: u16) {
        let observed = Observed::Sign(Sign::Plain(PlainSign::SpadixVisible));
        let mut events = Vec::new();
        self.site.take(&Reading { bench: BenchNumber(bench), time: self.now.time, observed }, &mut events);
        self.say(events);
    }

    fn raised(&self) -> impl Iterator<Item = (Now, &Event)> {
        self.done.iter().filter_map(|(now, effect)| match effect {
            Effect::Raise(event) => Some((*now, &**event)),
            Effect::End(_) => None,
        })
    }

    /// What was told of intakes, sensors, clock and tests: bench, kind and severity, and the minute since the start.
    fn told(&self) -> Vec<(i64, String)> {
        let kinds = [
            EventKind::SensorSilent,
            EventKind::SensorBack,
            EventKind::IntakeDown,
            EventKind::IntakeDownOver,
            EventKind::ClockUntrusted,
            EventKind::ClockUntrustedOver,
            EventKind::Test,
        ];
        let ours = self.raised().filter(|(_, event)| kinds.contains(&event.kind));
        ours.map(|(now, event)| {
            let whose = event.bench.as_ref().unwrap_or(&event.site);
            let alarm = if event.severity == Severity::Alarm { "!" } else { "" };
            ((now.time - NOON).num_minutes(), format!("{whose}/{}{alarm}", event.kind.name()))
        })
        .collect()
    }

    fn words(&self) -> Vec<String> {
        self.told().into_iter().map(|(_, what)| what).collect()
    }
}

#[test]
fn a_bench_that_falls_silent_on_a_line_that_works_is_told_by_itself_and_so_is_its_return() {
    let mut house = Played::new();
    house.live(30, &ALL);
    house.live(30, &ALL[1..]);
    let told = house.told();
    assert_eq!(house.words(), ["east-3/sensor-silent"]);
    assert!((44..=46).contains(&told[0].0), "{told:?}");
    house.live(30, &ALL);
    assert_eq!(house.words(), ["east-3/sensor-silent", "east-3/sensor-back"]);
}

#[test]
fn a_dead_line_is_told_once_with_its_benches_and_neither_they_nor_their_return() {
    for port_gone in [false, true] {
        let mut house = Played::new();
        house.live(30, &ALL);
        if port_gone {
            house.hear(Input::IntakeDown { intake: 0, why: "the device is gone".to_owned() });
        }
        house.live(120, &ALL[2..]);
        assert_eq!(house.words(), ["saltmarsh/intake-down"], "port gone: {port_gone}");
        let (_, down) = house.raised().find(|(_, event)| event.kind == EventKind::IntakeDown).unwrap();
        let Details::Trouble { trouble: SiteTrouble::LineDead { why, unwatched, not_read }, what, .. } =
            &down.details
        else {
            panic!("{down:?}")
        };
        assert_eq!((what.as_str(), why.is_some(), unwatched.len()), ("line-0", port_gone, 0));
        assert_eq!(not_read.iter().map(|bench| &**bench).collect::<Vec<_>>(), ["east-3", "east-4"]);
        let id = down.id.clone();
        house.live(30, &ALL);
        assert_eq!(house.words(), ["saltmarsh/intake-down", "saltmarsh/intake-down-over"]);
        let (_, over) = house.raised().last().unwrap();
        assert_eq!(over.ends, [id]);
    }
}

#[test]
fn a_dead_line_is_an_alarm_where_it_leaves_a_bud_unwatched_also_one_that_is_booked_later() {
    let mut house = Played::new();
    house.live(30, &ALL);
    house.has_bud(0);
    house.live(5, &ALL);
    house.live(60, &ALL[2..]);
    assert_eq!(house.words(), ["saltmarsh/intake-down!"]);

    let mut house = Played::new();
    house.live(30, &ALL);
    house.live(60, &ALL[2..]);
    house.has_bud(1);
    house.live(60, &ALL[2..]);
    assert_eq!(house.words(), ["saltmarsh/intake-down", "saltmarsh/intake-down!"]);
}

#[test]
fn a_bench_that_stays_away_when_its_line_is_back_is_told_once_it_had_time_to_speak() {
    let mut house = Played::new();
    house.live(30, &ALL);
    house.live(60, &ALL[2..]);
    house.live(13, &ALL[1..]);
    assert_eq!(house.words(), ["saltmarsh/intake-down", "saltmarsh/intake-down-over"]);
    house.live(7, &ALL[1..]);
    assert_eq!(house.words()[2..], ["east-3/sensor-silent"]);
}

#[test]
fn what_comes_from_recordings_is_told_as_the_model_says_it() {
    let mut house = Played::with(vec![Intake::of_recording("pipe".to_owned())], false);
    let one = [(0, 0), (1, 0), (2, 0)];
    house.live(30, &one);
    house.live(30, &[]);
    let words = house.words();
    assert_eq!(words, BENCHES.map(|bench| format!("{bench}/sensor-silent")), "no line is out");
}

#[test]
fn a_bench_read_from_a_quiet_pipe_beside_a_line_is_told_silent() {
    let intakes = vec![Intake::of_line("line-0".to_owned()), Intake::of_recording("pipe".to_owned())];
    let mut house = Played::with(intakes, true);
    house.live(30, &ALL);
    house.live(20, &ALL[..2]);
    assert_eq!(house.words(), ["west-1/sensor-silent"]);
}

#[test]
fn a_port_that_comes_and_goes_excuses_no_bench() {
    let mut house = Played::new();
    house.live(30, &ALL);
    for _ in 0..10 {
        house.hear(Input::IntakeDown { intake: 0, why: "the device is gone".to_owned() });
        house.live(2, &ALL[2..]);
        house.live(3, &ALL[1..]);
    }
    assert_eq!(house.words(), ["east-3/sensor-silent"]);
}

#[test]
fn rangers_that_fell_silent_before_the_bud_are_an_alarm_when_there_is_one() {
    let mut house = Played::new();
    house.live(30, &ALL);
    let without_rangers = |house: &mut Played| {
        for _ in 0..20 {
            house.say_of(0, 0, 2);
            house.live(1, &ALL[1..]);
        }
    };
    without_rangers(&mut house);
    assert_eq!(house.words(), ["east-3/sensor-silent"]);
    house.has_bud(0);
    without_rangers(&mut house);
    assert_eq!(house.words()[1], "east-3/sensor-silent!");
}

#[test]
fn what_the_record_knows_is_not_held() {
    let mut house = Played::new();
    house.live(30, &ALL);
    house.live(13, &ALL[1..]);
    let mut events = Vec::new();
    house.site.pass_time(house.now.time + TimeDelta::minutes(2), &mut events);
    let [event] = &events[..] else { panic!("one silence: {events:?}") };
    house.hear(Input::Said { event: Box::new(event.clone()), told_before: true });
    house.live(30, &ALL[1..]);
    assert_eq!(house.words(), [""; 0]);
}

#[test]
fn an_outage_from_a_life_before_is_over_when_its_intake_is_back_or_is_no_longer_configured() {
    let mut house = Played::new();
    let outage = |intake: &str| StandingOutage {
        id: format!("of {intake}"),
        since: NOON - TimeDelta::hours(1),
        intake: intake.to_owned(),
    };
    house.hear(Input::OutagesStand(vec![outage("line-0"), outage("line-9")]));
    assert_eq!(house.done, [(house.now, Effect::End("of line-9".to_owned()))]);
    house.live(60, &ALL[2..]);
    assert_eq!(house.words(), [""; 0], "it is not told again");
    house.live(5, &ALL);
    assert_eq!(house.words(), ["saltmarsh/intake-down-over"]);
    let (_, over) = house.raised().last().unwrap();
    assert_eq!(over.ends, ["of line-0"]);
    let Details::Trouble { since, .. } = &over.details else { panic!("{over:?}") };
    assert_eq!(*since, NOON - TimeDelta::hours(1));
}

#[test]
fn a_doubt_about_the_clock_is_told_once_and_so_is_its_end() {
    let mut house = Played::new();
    let claimed = Some(Time::from_unix_ms(0));
    for (minutes, doubt) in [(5, None), (20, Some(ClockTrouble::NotSet)), (20, None)] {
        house.clock = ClockSays { doubt, claimed };
        house.live(minutes, &ALL);
        assert_eq!(house.watch.clock_doubt(), doubt);
    }
    let told = house.told();
    let began = (6, "saltmarsh/clock-untrusted".to_owned());
    assert_eq!(told, [began, (26, "saltmarsh/clock-untrusted-over".to_owned())]);
    let troubles: Vec<_> = house.raised().map(|(_, event)| event.details.clone()).collect();
    let doubt = ClockTrouble::NotSet;
    let since = NOON + TimeDelta::minutes(6);
    let of = |trouble| Details::Trouble { what: "clock".to_owned(), since, trouble };
    assert_eq!(troubles, [of(SiteTrouble::ClockWrong { doubt, claimed }), of(SiteTrouble::ClockRight)]);
}

#[test]
fn a_test_comes_in_the_morning_and_any_other_test_puts_it_off() {
    let mut house = Played::new();
    house.hear(Input::TestsWanted { every_days: NonZeroU32::new(2).unwrap(), last: None });
    // from nine in the morning to seven
    let first = NOON + TimeDelta::hours(22);
    assert_eq!(house.watch.test_due(), Some(first));
    house.live(22 * 60, &ALL);
    assert_eq!(house.told(), [(22 * 60, "saltmarsh/test!".to_owned())]);
    assert_eq!(house.watch.test_due(), Some(first + TimeDelta::days(2)));
    let (_, test) = house.raised().last().unwrap();
    assert_eq!(test.stands_until, Some(first + TimeDelta::hours(24)));
    let of_bench = Event { bench: Some(BENCHES[0].into()), time: first + TimeDelta::days(1), ..test.clone() };
    house.hear(Input::Told(&of_bench));
    assert_eq!(house.watch.test_due(), Some(first + TimeDelta::days(3)));
}

#[test]
fn events_of_one_kind_and_instant_have_ids_of_their_own() {
    let mut house = Played::new();
    for what in ["a", "b", "c"] {
        house.hear(Input::Befell { trouble: SiteTrouble::AllCopied, what: what.to_owned(), since: NOON });
    }
    house.hear(Input::Befell { trouble: SiteTrouble::ClockRight, what: "clock".to_owned(), since: NOON });
    let stem = "saltmarsh/readings-behind-over/2027-06-02T12:00:00Z";
    let ids: Vec<&str> = house.raised().map(|(_, event)| event.id.as_str()).collect();
    let other = "saltmarsh/clock-untrusted-over/2027-06-02T12:00:00Z";
    assert_eq!(ids, [stem, &format!("{stem}.2"), &format!("{stem}.3"), other]);
    // a recording takes the site's time on and back
    for seconds in [10, 0] {
        house.now.time = NOON + TimeDelta::seconds(seconds);
        house.hear(Input::Befell { trouble: SiteTrouble::AllCopied, what: "d".to_owned(), since: NOON });
    }
    let ids: BTreeSet<&str> = house.raised().map(|(_, event)| event.id.as_str()).collect();
    assert_eq!(ids.len(), house.done.len());
}
