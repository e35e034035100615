//! A second implementation, plain on purpose, of degree-days, rates, slowing and the forecast's window, beside the model on drawn
//! seasons. It is written from deploy/PROGRAMS.md, from daemon/model/EQUATIONS.md and from the
//! profile's file, and shares no code with the model. Which echoes are the plant, the model's track decides: both go by its
//! cleaned positions. When a bud is seen and when it opens is told to it, too. Earlier blooms and the tape are left out.
#![expect(clippy::unwrap_used, reason = "what the helpers of a check cannot do fails the check")]

mod bench;
mod degree_days;
mod numbers;
mod rates;
mod slowing;
mod window;

use std::path::Path;

use anthesisd::config::profile;
use bench_sim::options::SeasonOptions;
use bench_sim::season::Season;
use bench_sim::trial::site_for;
use bench_sim::truth::Outcome;
use bloom_model::event::{Details, Event, EventKind, MorningDetails};
use bloom_model::profile::Profile;
use bloom_model::quantity::Quantity;
use bloom_model::reading::{BenchNumber, Observed, Reading};
use bloom_model::sign::Sign;
use bloom_model::site::Site;
use bloom_model::time::Time;
use bloom_model::track::ring::Sample;
use chrono::{NaiveTime, TimeZone};

use bench::{Bench, Morning};
use numbers::Numbers;
use slowing::Turn;

/// Figures that are held against each other, and how far apart they may be. The bulletin gives degree-days to 0.1, growth a day to
/// 0.01 cm, growth an hour to 0.001 cm and chances to 0.001; half of that is rounding. The rest of the chances':
/// far ahead the model reckons every second or fourth date and goes straight between.
const FIGURES: [(&str, f64); 7] = [
    ("degree-days", 0.1),
    ("growth a day, cm", 0.03),
    ("its standard deviation", 0.03),
    ("growth an hour, cm", 0.005),
    ("its standard deviation", 0.005),
    ("chance tonight", 0.02),
    ("chance that it never opens", 0.02),
];

/// The share that a window holds may differ by so much: from 21 days ahead on the model goes straight between every second date, and a day
/// at an end that is left out by one of them weighs some hundredths there.
const HELD_WITHIN: f64 = 0.015;

/// What the two said beside each other.
#[derive(Debug, Default)]
struct Beside {
    mornings: usize,
    /// Mornings on which all three dates are the same.
    dates_alike: usize,
    turns: usize,
    /// Greatest difference of each figure.
    furthest: [f64; FIGURES.len()],
    /// In words, whatever is further apart than it may be.
    apart: Vec<String>,
}

/// Both through one season.
struct Pair<'a> {
    season: &'a Season,
    site: Site,
    bench: Bench<'a>,
    in_bud: bool,
    beside: &'a mut Beside,
}

impl Pair<'_> {
    /// Hours since the start of the season.
    fn hour(&self, time: Time) -> f64 {
        time.hours_since(self.season.truth().start)
    }

    /// Passes a full hour: both look, then both say what they have to say.
    fn pass(&mut self, time: Time) {
        let was_in_bud = self.in_bud;
        let mut events = Vec::new();
        self.site.pass_time(time, &mut events);
        self.note_stage(&events);

        let now_h = self.hour(time);
        let rings = self.site.benches().next().unwrap().tip().rings();
        let sample = |sample: &Sample| (self.hour(sample.time), 100.0 * sample.position_m);
        let quarters: Vec<_> = rings.quarters_between(time.plus_hours(-57.0), time).map(sample).collect();
        let minutes: Vec<_> = rings.minutes_from(time.plus_hours(-1.0)).map(sample).collect();
        let height_cm = rings.newest().map(|newest| 100.0 * newest.position_m);

        if was_in_bud && self.in_bud {
            let ours = self.bench.look(now_h, self.cracks_h(time), &quarters, height_cm);
            let theirs = events.iter().find_map(|event| match event.kind {
                EventKind::Slowing => Some(Turn::Slowing),
                EventKind::SlowingOver => Some(Turn::SlowingOver),
                _ => None,
            });
            self.beside.turns += usize::from(theirs.is_some());
            if ours != theirs {
                self.apart(time, format!("{ours:?} here, {theirs:?} there"));
            }
        }
        for event in &events {
            if let (EventKind::Morning, Details::Morning(theirs)) = (event.kind, &event.details) {
                let ours =
                    self.bench.morning(now_h, self.cracks_h(time), &minutes, height_cm.unwrap()).unwrap();
                self.compare(time, &ours, theirs);
            }
        }
    }

    /// The middle of the hours at which most openings begin, 12 to 16, on the day of that instant.
    fn cracks_h(&self, time: Time) -> f64 {
        let zone = self.season.zone();
        let cracks = time.local_date(zone).and_time(NaiveTime::from_hms_opt(14, 0, 0).unwrap());
        self.hour(Time::from(zone.from_local_datetime(&cracks).unwrap().to_utc()))
    }

    fn note_stage(&mut self, events: &[Event]) {
        for event in events {
            match (event.kind, &event.details) {
                (EventKind::BudSeen, Details::BudSeen(bud)) => {
                    self.in_bud = true;
                    self.bench.bud_seen(self.hour(event.time), bud.height_m.map(|metres| 100.0 * metres));
                }
                (EventKind::OpeningTonight | EventKind::Aborted, _) => self.in_bud = false,
                (EventKind::StoodDown, _) => self.in_bud = true,
                _ => {}
            }
        }
    }

    fn apart(&mut self, time: Time, what: String) {
        self.beside.apart.push(format!("season {}, {}: {what}", self.season.truth().seed, time.utc()));
    }

    fn compare(&mut self, time: Time, ours: &Morning, theirs: &MorningDetails) {
        self.beside.mornings += 1;
        let growth = &theirs.growth;
        let pairs = [
            (Some(ours.degree_days), theirs.heat.as_ref().map(|heat| heat.degree_days)),
            (ours.day.map(|rate| rate.cm), growth.growth_cm_day),
            (ours.day.map(|rate| rate.sd_cm), growth.growth_cm_day_sd),
            (ours.hour.map(|rate| rate.cm), growth.growth_cm_hour),
            (ours.hour.map(|rate| rate.sd_cm), growth.growth_cm_hour_sd),
            (Some(ours.window.today), theirs.outlook.map(|outlook| outlook.probability_tonight)),
            (Some(ours.window.never), theirs.outlook.map(|outlook| outlook.probability_never)),
        ];
        for (number, (figure, within)) in FIGURES.into_iter().enumerate() {
            let difference = match pairs[number] {
                (Some(ours), Some(theirs)) => (ours - theirs).abs(),
                (None, None) => 0.0,
                _ => f64::INFINITY,
            };
            self.beside.furthest[number] = self.beside.furthest[number].max(difference);
            if difference > within {
                let (ours, theirs) = pairs[number];
                self.apart(time, format!("{figure} {ours:.3?} here, {theirs:.3?} there"));
            }
        }

        let today = time.local_date(self.season.zone());
        let opens = theirs.outlook.unwrap().opens;
        let theirs = [opens.earliest, opens.likely, opens.latest].map(|date| (date - today).num_days());
        let chances = &ours.window.chances;
        let held: f64 = (theirs[0]..=theirs[2]).map(|ahead| chances[ahead as usize]).sum();
        let ours = [ours.window.earliest, ours.window.likely, ours.window.latest].map(|ahead| ahead as i64);
        self.beside.dates_alike += usize::from(ours == theirs);
        // of two runs that come all but as near to four fifths, each may take the other
        let held_here: f64 = (ours[0]..=ours[2]).map(|ahead| chances[ahead as usize]).sum();
        let further_off = (held - 0.8).abs() > (held_here - 0.8).abs() + HELD_WITHIN;
        if further_off || (ours[1] - theirs[1]).abs() > 1 {
            self.apart(
                time,
                format!("opens in {ours:?} days here ({held_here:.4}), {theirs:?} there ({held:.4})"),
            );
        }
    }
}

fn play(season: &Season, numbers: &Numbers, profile: &Profile, beside: &mut Beside) {
    let bench = Bench::new(numbers);
    let site = site_for(season.options(), profile);
    let mut pair = Pair { season, site, bench, in_bud: false, beside };
    let mut due = season.truth().start;
    for observation in season.observations() {
        let time = observation.time;
        while due <= time {
            pair.pass(due);
            due = due.plus_hours(1.0);
        }
        let now_h = pair.hour(time);
        match observation.observed {
            Observed::Value(Quantity::Temperature, celsius) => pair.bench.temperature(now_h, celsius),
            Observed::Sign(Sign::Plain(sign)) => pair.bench.sign(now_h, sign.name()),
            _ => {}
        }
        let mut events = Vec::new();
        let reading = Reading { bench: BenchNumber(0), time, observed: observation.observed };
        pair.site.take(&reading, &mut events);
        pair.note_stage(&events);
    }
}

#[test]
fn the_model_agrees_with_a_plain_reckoning_of_its_equations() {
    let profile = profile("titan-arum", Path::new("/nonexistent")).unwrap();
    let numbers = Numbers::of("titan-arum");
    let (seasons, interval_s) =
        if std::env::var_os("ANTHESISD_LONG").is_some() { (48, 60) } else { (4, 300) };
    let mut beside = Beside::default();
    for number in 0..seasons {
        // houses whose track has no person and no knock to judge
        let troubles = ["none", "sway", "correlated-noise", "thermometer-bias,thermometer-lag"];
        let mut options = SeasonOptions {
            troubles: troubles[number as usize % troubles.len()].parse().unwrap(),
            interval_s,
            signs: number % 3 != 0,
            ..SeasonOptions::default()
        };
        options.plant.outcome = Some(match number % 8 {
            3 => Outcome::Stops,
            7 => Outcome::Leaf,
            _ => Outcome::Opens,
        });
        play(&Season::draw(70_001 + number, &options), &numbers, &profile, &mut beside);
    }
    let Beside { mornings, dates_alike, turns, furthest, apart } = beside;
    println!(
        "{mornings} mornings, {turns} turns, the same dates on {dates_alike}; furthest apart {furthest:.4?}"
    );
    assert!(
        mornings > 30 * seasons as usize && turns > seasons as usize / 2,
        "{mornings} mornings, {turns} turns"
    );
    assert!(apart.is_empty(), "{} apart:\n{}", apart.len(), apart.join("\n"));
    assert!(dates_alike * 100 >= mornings * 90, "the same dates on {dates_alike} of {mornings} mornings");
}
