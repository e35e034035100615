//! A keeper in a house whose clock the checks set.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use bloom_model::quantity::Quantity;
use bloom_model::reading::{Observed, Reading};
use bloom_model::site::Site;
use bloom_model::spec::{BenchSpec, Limits, Mount, SiteSpec, Units};
use bloom_model::time::Time;
use bloom_model::watch::Intake;
use chrono::TimeDelta;
use serde_json::Value;
use tempfile::TempDir;
use tokio::sync::watch;

use super::{Keeper, Outgoing, Record, Voice};
use crate::clock::fake::FakeMachine;
use crate::intake::IntakeNews;
use crate::notify::topics::Topics;
use crate::notify::{Direct, Taken};
use crate::store::{EventFilter, Reader, Retells};

/// 2027-06-02T12:00:00Z, nine in the morning in Halifax.
pub(super) const NOON: Time = Time::from_unix_ms(1_811_937_600_000);

pub(super) struct House {
    pub(super) keeper: Keeper,
    pub(super) machine: FakeMachine,
    folder: Arc<TempDir>,
    benches: Vec<&'static str>,
    intakes: usize,
}

pub(super) fn site_spec() -> SiteSpec {
    SiteSpec {
        name: "saltmarsh".into(),
        timezone: chrono_tz::America::Halifax,
        units: Units::Metric,
        pressure_kpa: 101.325,
        morning_hour: 7,
        silent_after: TimeDelta::minutes(15),
        heat: bloom_model::heat::HeatLimits::default(),
        test_alarms: false,
    }
}

impl House {
    /// With these benches, and so many serial lines, at [`NOON`].
    pub(super) fn live(benches: &[&'static str], intakes: usize) -> Self {
        Self::live_at(NOON, benches, intakes)
    }

    /// The same, with a machine whose clock says something else.
    pub(super) fn live_at(wall: Time, benches: &[&'static str], intakes: usize) -> Self {
        Self::begin(Arc::new(tempfile::tempdir().unwrap()), FakeMachine::at(wall), benches, intakes)
    }

    fn begin(folder: Arc<TempDir>, machine: FakeMachine, benches: &[&'static str], intakes: usize) -> Self {
        let path = folder.path().join("anthesisd.db");
        let store = Record::open(&path, NOON, None).unwrap();
        let outgoing = Outgoing {
            wake: watch::channel(0).0,
            states: watch::channel(Arc::new(Vec::new())).0,
            direct: Direct::default(),
            taken: Taken::default(),
        };
        let topics = Topics::new("anthesis", "saltmarsh");
        let voice = Voice::new(topics, Some(outgoing), None, 1, NOON, false);
        let profile = crate::config::profile("titan-arum", folder.path()).unwrap();
        let mount = |distance_m| Some(Mount { distance_m, assumed_speed_m_s: None });
        let specs = benches.iter().map(|id| BenchSpec {
            id: (*id).into(),
            plant: None,
            profile: profile.clone(),
            tip: mount(3.1),
            rim: mount(0.95),
            limits: Limits::default(),
            earlier: Vec::new(),
        });
        let site = Site::new(site_spec(), specs.collect());
        let lines = (0..intakes).map(|number| Intake::of_line(format!("line-{number}"))).collect();
        let keeper = Keeper::take_up(store, site, Arc::new(machine.clock()), voice, lines, None).unwrap();
        Self { keeper, machine, folder, benches: benches.to_vec(), intakes }
    }

    /// Ends the keeper, in order or not, and begins another after a while.
    pub(super) fn restart(self, in_order: bool, after: TimeDelta) -> Self {
        self.restart_when(in_order, after, |_| {})
    }

    /// The same, when something has befallen the record meanwhile.
    pub(super) fn restart_when(self, in_order: bool, after: TimeDelta, befalls: impl FnOnce(&Path)) -> Self {
        let Self { mut keeper, machine, folder, benches, intakes, .. } = self;
        if in_order {
            keeper.checkpoint().unwrap();
            keeper.commit().unwrap();
        }
        drop(keeper);
        befalls(&folder.path().join("anthesisd.db"));
        machine.pass(after);
        Self::begin(folder, machine, &benches, intakes)
    }

    /// Where its record lies.
    pub(super) fn path(&self) -> PathBuf {
        self.folder.path().join("anthesisd.db")
    }

    /// One round of a bench's sensors by a line: its height and its rim's advance, m.
    pub(super) fn speak(&mut self, bench: &str, intake: usize, height_m: f64, rim_m: f64) {
        let values = [
            (Quantity::Temperature, 25.0),
            (Quantity::Humidity, 80.0),
            (Quantity::TipRange, 3.1 - height_m),
            (Quantity::RimRange, 0.95 - rim_m),
        ];
        self.say(bench, intake, &values);
    }

    pub(super) fn say(&mut self, bench: &str, intake: usize, values: &[(Quantity, f64)]) {
        self.say_at(bench, intake, self.keeper.clock.now(), values);
    }

    /// A board says when it measured, by a clock of its own.
    pub(super) fn say_at(&mut self, bench: &str, intake: usize, time: Time, values: &[(Quantity, f64)]) {
        let number = self.keeper.site.number_of(bench).unwrap();
        // figures with a little life in them, as any real sensor's
        let wobble = f64::from((self.machine_wall().unix_ms() / 1000 % 97) as i32) * 1e-5;
        let readings = values.iter().map(|(quantity, value)| Reading {
            bench: number,
            time,
            observed: Observed::Value(*quantity, value + wobble),
        });
        self.keeper.hear_intake(IntakeNews::Readings { intake, readings: readings.collect(), refused: 0 });
    }

    pub(super) fn machine_wall(&self) -> Time {
        self.keeper.clock.claimed().unwrap()
    }

    /// Time passes, and the keeper looks every ten seconds.
    pub(super) fn live_on(&mut self, span: TimeDelta) {
        for _ in 0..span.num_seconds() / 10 {
            self.machine.pass(TimeDelta::seconds(10));
            self.keeper.pass_time();
        }
        if self.keeper.urgent || self.keeper.batch.readings.len() > 1000 {
            self.keeper.commit().unwrap();
        }
    }

    /// Ids and messages of the events of a kind that were told, in order.
    pub(super) fn told(&self, kind: &str) -> Vec<(String, String)> {
        self.payloads(kind).into_iter().map(|event| (text(&event, "id"), text(&event, "message"))).collect()
    }

    pub(super) fn payloads(&self, kind: &str) -> Vec<Value> {
        let mut found = Vec::new();
        Reader::open(&self.path())
            .unwrap()
            .events(EventFilter::default(), |_, event| {
                if event.kind == kind {
                    found.push(serde_json::from_str(&event.payload).unwrap());
                }
            })
            .unwrap();
        found
    }

    pub(super) fn recorded_times(&self) -> Vec<Time> {
        let mut times = Vec::new();
        self.keeper
            .store
            .replay_since(0, |replayed| {
                if let crate::store::Replayed::Fed { time, .. } = replayed {
                    times.push(time);
                }
            })
            .unwrap();
        times.extend(self.keeper.batch.readings.iter().map(|reading| reading.time));
        times
    }

    pub(super) fn growth_cm_day(&self) -> f64 {
        self.keeper.site.benches().next().unwrap().view().unwrap().growth.growth_cm_day.unwrap()
    }

    pub(super) fn intake_is_down(&mut self, intake: usize) {
        self.keeper.hear_intake(IntakeNews::Down { intake, why: "the device is gone".to_owned() });
    }

    /// Lets the benches speak each by its line every `every`, for that long.
    pub(super) fn chatter(&mut self, by: &[(&'static str, usize)], span: TimeDelta) {
        const EVERY: Duration = Duration::from_secs(60);
        for _ in 0..span.num_seconds() as u64 / EVERY.as_secs() {
            for (bench, intake) in by {
                self.speak(bench, *intake, 1.0, 0.0);
            }
            self.live_on(TimeDelta::from_std(EVERY).unwrap());
        }
    }

    /// A bud, as a person books it.
    pub(super) fn has_bud(&mut self, bench: &str) {
        let sign = "spadix-visible".parse().unwrap();
        let now = self.keeper.now();
        self.keeper.take_booked(bench, now, Observed::Sign(sign), None, None).unwrap();
    }
}

fn text(event: &Value, key: &str) -> String {
    event[key].as_str().unwrap().to_owned()
}
