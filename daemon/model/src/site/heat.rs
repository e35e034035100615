//! Heat for the people in the house, told once for all benches.

use std::sync::Arc;

use super::Site;
use crate::bench::Bench;
use crate::event::{Details, Event, EventKind, HeatDetails, Severity, rounded};
use crate::heat::{HeatLevel, HeatNews, HottestAir, SCALE_ENDS_C, heat_index_c};
use crate::time::Time;

impl Site {
    /// The air where it is hottest for people; `None` while no bench's air is known.
    pub fn hottest_air(&self, now: Time) -> Option<HottestAir> {
        let level = self.benches.iter().map(|bench| bench.heat_level(now)).max().unwrap_or_default();
        let air = |bench: &Bench| {
            let (temperature_c, humidity_pct) = bench.air_for_people(now)?;
            let index_c = heat_index_c(temperature_c, humidity_pct);
            let (bench, above_scale) = (Arc::clone(&bench.spec().id), index_c >= SCALE_ENDS_C);
            Some(HottestAir { level, heat_index_c: index_c, above_scale, bench, temperature_c, humidity_pct })
        };
        // of two alike the first
        let hottest = self.benches.iter().filter_map(air).reduce(|hottest, other| {
            if other.heat_index_c > hottest.heat_index_c { other } else { hottest }
        })?;
        Some(HottestAir { heat_index_c: rounded(hottest.heat_index_c, 2), ..hottest })
    }

    /// A bench has become hotter or cooler for people.
    pub(super) fn look_at_heat_soon(&mut self, now: Time) {
        self.heat.look_soon(now);
        self.keep_heat();
        self.due = self.earliest_due();
    }

    pub(super) fn look_at_heat(&mut self, now: Time, events: &mut Vec<Event>) {
        let (zone, morning_hour) = (self.spec.timezone, self.spec.morning_hour);
        let morning = now.next_local_hour(morning_hour, zone);
        match self.hottest_air(now) {
            Some(air) => {
                let news = self.heat.look(air.level, now, now.local_date(zone), morning);
                events.extend(news.map(|news| self.told(now, news, &air)));
            }
            None => self.heat.pass_over(now, morning),
        }
        self.keep_heat();
    }

    fn keep_heat(&mut self) {
        for bench in &mut self.benches {
            bench.keep_house_heat(self.heat);
        }
    }

    fn told(&self, now: Time, news: HeatNews, air: &HottestAir) -> Event {
        let site = &self.spec.name;
        let (kind, severity, limit_c) = match news {
            HeatNews::Hot(HeatLevel::ExtremeDanger) => {
                (EventKind::Heat, Severity::Alarm, self.spec.heat.great_heat_c)
            }
            HeatNews::Hot(_) => (EventKind::Heat, EventKind::Heat.row().severity, self.spec.heat.heat_c),
            HeatNews::Over { .. } => {
                (EventKind::HeatOver, EventKind::HeatOver.row().severity, self.spec.heat.great_heat_c)
            }
        };
        let id = |kind: EventKind, time: Time| format!("{site}/{}/{time}", kind.name());
        let ends = match news {
            HeatNews::Over { alarm } => vec![id(EventKind::Heat, alarm)],
            HeatNews::Hot(_) => Vec::new(),
        };
        Event {
            id: id(kind, now),
            time: now,
            site: Arc::clone(site),
            bench: None,
            plant: None,
            bloom: None,
            kind,
            severity,
            details: Details::Heat(HeatDetails {
                level: air.level.name(),
                hottest_bench: Arc::clone(&air.bench),
                heat_index_c: rounded(air.heat_index_c, 1),
                above_scale: air.above_scale,
                temperature_c: rounded(air.temperature_c, 1),
                humidity_pct: rounded(air.humidity_pct, 0),
                limit_c,
                air: air.clone(),
            }),
            ends,
            stands_until: None,
        }
    }
}
