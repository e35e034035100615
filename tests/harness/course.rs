//! The life of a bloom as a check plays it: what both rangers see every ten minutes, and what a person books in between.

use std::fmt::Write as _;

use serde_json::Value;

use crate::bud::Recorder;
use crate::house::House;

/// 2027-06-02T00:00 in Halifax (UTC-3).
pub const MIDNIGHT: i64 = 1_811_905_200;
/// An hour, s.
pub const HOUR: i64 = 3_600;
/// A day, s.
pub const DAY: i64 = 24 * HOUR;

/// A bench with both rangers, told every ten minutes; what a person books goes in between.
#[derive(Debug, Clone)]
pub struct Course {
    bench: String,
    /// What was told so far.
    pub recorder: Recorder,
    /// The newest reading, s since 1970.
    pub second: i64,
    /// The plant's height then, m.
    pub height_m: f64,
}

impl Course {
    /// A bench of that id at [`MIDNIGHT`], with a plant of 60 cm.
    pub fn new(bench: &str) -> Self {
        Self { bench: bench.to_owned(), recorder: Recorder::new(bench), second: MIDNIGHT, height_m: 0.6 }
    }

    /// Grows that fast for so many days, the rim at that place.
    pub fn grow(&mut self, cm_day: f64, days: f64, rim_m: f64) {
        self.grow_seen(cm_day, days, |height_m| (Some(height_m), Some(rim_m)));
    }

    /// The same, seen by the overhead ranger only.
    pub fn grow_seen_from_above(&mut self, cm_day: f64, days: f64) {
        self.grow_seen(cm_day, days, |height_m| (Some(height_m), None));
    }

    /// The same, unseen by both rangers.
    pub fn grow_unseen(&mut self, cm_day: f64, days: f64) {
        self.grow_seen(cm_day, days, |_| (None, None));
    }

    fn grow_seen(&mut self, cm_day: f64, days: f64, seen: impl Fn(f64) -> (Option<f64>, Option<f64>)) {
        let until = self.second + (days * DAY as f64) as i64;
        while self.second < until {
            self.second += 600;
            self.height_m += cm_day / 100.0 / 144.0;
            let (height_m, rim_m) = seen(self.height_m);
            self.recorder.pack(self.second, height_m, rim_m, 0.001);
        }
    }

    /// Books a sign for now, and says when that is.
    pub fn book(&mut self, sign: &str) -> i64 {
        self.second += 60;
        self.book_for(self.second, sign);
        self.second
    }

    /// Books a sign for that second.
    pub fn book_for(&mut self, second: i64, sign: &str) {
        let bench = &self.bench;
        let _ =
            writeln!(self.recorder.text, r#"[{{"bn":"{bench}/","n":"sign","vs":"{sign}","t":{second}}}]"#);
    }

    /// The rim sets out and comes to rest, in so many hours.
    pub fn open(&mut self, full_m: f64, hours: f64) {
        let from = self.second;
        while self.second < from + (hours * 3600.0) as i64 {
            self.second += 60;
            let through = (self.second - from) as f64 / 3600.0 / hours;
            let rim = full_m * (1.0 - (std::f64::consts::PI * through).cos()) / 2.0;
            self.recorder.pack(self.second, Some(self.height_m), Some(rim), 0.001);
        }
    }

    /// A bud that has slowed and opens.
    pub fn opened(bench: &str) -> Self {
        let mut course = Self::new(bench);
        course.grow(9.0, 6.0, 0.0);
        course.grow(2.0, 3.0 + 14.0 / 24.0, 0.0);
        course.open(0.4, 6.0);
        course
    }

    /// What `replay` tells of it.
    ///
    /// # Panics
    /// When it fails, with all it said.
    pub fn events(&self) -> Vec<Value> {
        House::new().with_bench(&self.bench).replay(&self.recorder.text)
    }

    /// The stages' events in their order; bulletins, bookings, tests and windows left out.
    ///
    /// # Panics
    /// When `replay` fails, with all it said.
    pub fn told(&self) -> Vec<String> {
        const TURNS: [&str; 11] = [
            "bud-seen",
            "slowing",
            "slowing-over",
            "opening-tonight",
            "stood-down",
            "full-open",
            "pollen-shed",
            "closed",
            "fruit-ripe",
            "aborted",
            "spent",
        ];
        let name = |event: &Value| event["event"].as_str().unwrap_or_default().to_owned();
        self.events().iter().map(name).filter(|name| TURNS.contains(&name.as_str())).collect()
    }
}

/// The recordings of several benches as one, in the order of time.
///
/// # Panics
/// On a line that is no pack.
pub fn together(recordings: &[&str]) -> String {
    let time = |line: &&str| {
        let pack: Value = serde_json::from_str(line).expect("a pack a line");
        pack[0]["bt"].as_i64().or(pack[0]["t"].as_i64()).expect("a time")
    };
    let mut lines: Vec<&str> = recordings.iter().flat_map(|recording| recording.lines()).collect();
    lines.sort_by_cached_key(time);
    lines.join("\n") + "\n"
}
