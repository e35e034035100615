//! Figures of the benches and of the service itself for whoever watches services, in the text form of OpenMetrics 1.0: the facts, the
//! stages of the watchdog, and what the record says of what waits in it. Every figure is written anew for each answer, so none
//! outlives what it speaks of.

mod benches;
mod sheet;

use std::fs;
use std::path::Path;
use std::sync::Arc;

use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse;
use bloom_model::heat::HeatLevel;
use bloom_model::time::Time;
use prometheus_client::registry::Unit;

use super::House;
use super::health::Health;
use super::trouble::Trouble;
use crate::facts::{HouseFacts, IntakeFacts};
use crate::store::{Forwarding, Outbox, Reader, StoreError};
use sheet::{Labels, Sheet, age_s, said};

/// The media type, with the version of the text form.
pub(super) const MEDIA_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// `GET /metrics`
pub(super) async fn show(State(house): State<Arc<House>>) -> Result<impl IntoResponse, Trouble> {
    let now = house.clock.now();
    let record = house.reading(move |house| Ok(RecordFigures::read(house, now).ok())).await?;
    let mut sheet = Sheet::default();
    sheet.service(&house, record.is_some());
    if let Some(facts) = house.facts() {
        sheet.house(&facts, now);
        sheet.benches(&facts.benches, now);
    }
    if let Some(record) = &record {
        sheet.record(record);
    }
    Ok(([(header::CONTENT_TYPE, MEDIA_TYPE)], sheet.text().map_err(Trouble::of)?))
}

/// What the record says of what waits in it.
struct RecordFigures {
    size_bytes: u64,
    outbox: Outbox,
    /// How old the oldest reading is that the InfluxDB has yet to take, s; where there is one.
    readings_behind_s: Option<f64>,
}

impl RecordFigures {
    fn read(house: &House, now: Time) -> Result<Self, StoreError> {
        let path = &house.config.store_path;
        let reader = Reader::open(path)?;
        let sent = if house.config.readings_to.is_some() { reader.forwarding()? } else { None };
        let backlog_s = |sent: Forwarding| {
            Ok::<_, StoreError>(reader.first_after(sent.sent_until)?.map_or(0.0, |oldest| age_s(oldest, now)))
        };
        Ok(Self {
            size_bytes: size_of(path),
            outbox: reader.outbox()?,
            readings_behind_s: sent.map(backlog_s).transpose()?,
        })
    }
}

/// The store's file and its write-ahead log together.
fn size_of(path: &Path) -> u64 {
    let mut log = path.as_os_str().to_owned();
    log.push("-wal");
    let bytes = |path: &Path| fs::metadata(path).map_or(0, |file| file.len());
    bytes(path) + bytes(Path::new(&log))
}

impl Sheet {
    fn service(&mut self, house: &House, store_readable: bool) {
        let labels = vec![
            ("version", env!("CARGO_PKG_VERSION").to_owned()),
            ("site", house.config.site.name.to_string()),
        ];
        self.info("service", "What serves these figures", labels);
        let (moving, serving) = (Health::moving(house).well, Health::serving(house).well);
        self.gauge(
            "moving",
            "Whether every running part makes progress, as at /watch/moving",
            None,
            said(moving),
        );
        self.gauge(
            "serving",
            "Whether every part runs and makes progress, as at /watch/serving",
            None,
            said(serving),
        );
        self.gauge("store_readable", "Whether the record can be read", None, said(store_readable));
    }

    fn house(&mut self, facts: &HouseFacts, now: Time) {
        let working = &facts.working;
        self.gauge("run", "The number of this run of the service", None, facts.run as f64);
        self.gauge(
            "start_time",
            "When this run began, since 1970",
            Some(Unit::Seconds),
            facts.since.unix_ms() as f64 / 1e3,
        );
        self.gauge("facts_age", "How old what is shown is", Some(Unit::Seconds), age_s(facts.time, now));
        self.gauge("rehearsal", "Whether nothing of it is real", None, said(facts.rehearsal));
        let standing =
            |noted| facts.alarms.iter().filter(|alarm| alarm.acknowledged.is_some() == noted).count();
        let standing = [false, true]
            .map(|noted| (vec![("acknowledged", yes_or_no(noted).to_owned())], standing(noted) as f64));
        self.gauges("standing_alarms", "Alarms that stand", None, standing);
        let hottest = facts.hottest.iter();
        let index = hottest.clone().map(|air| (vec![("bench", air.bench.to_string())], air.heat_index_c));
        self.gauges(
            "heat_index",
            "Heat index of the hottest bench, for people in the shade",
            Some(Unit::Celsius),
            index,
        );
        let level = hottest.map(|air| {
            let level = match air.level {
                HeatLevel::Bearable => 0.0,
                HeatLevel::Danger => 1.0,
                HeatLevel::ExtremeDanger => 2.0,
            };
            (Labels::new(), level)
        });
        self.gauges("heat_level", "Heat for people: 0 bearable, 1 danger, 2 extreme danger", None, level);
        let trusted = working.clock_doubt.is_none();
        self.gauge("clock_trusted", "Whether the time of day is to be trusted", None, said(trusted));
        self.counts(
            "readings",
            "Readings that the model has taken since the record began",
            [(Labels::new(), working.readings_taken)],
        );
        let connected =
            working.broker.as_ref().map(|broker| (Labels::new(), said(broker.away_since.is_none())));
        self.gauges(
            "broker_connected",
            "Whether the broker is connected, where there is one",
            None,
            connected,
        );
        let intakes = |figure: fn(&IntakeFacts) -> u64| {
            working
                .intakes
                .iter()
                .map(move |intake| (vec![("intake", intake.intake.clone())], figure(intake)))
        };
        self.gauges(
            "intake_up",
            "Whether an intake works: its port is there, and it was heard of lately",
            None,
            intakes(|intake| u64::from(intake.out_since.is_none())).map(|(labels, up)| (labels, up as f64)),
        );
        self.counts(
            "intake_readings",
            "Readings that came by an intake in this run",
            intakes(|intake| intake.readings),
        );
        self.counts(
            "intake_refused",
            "Lines and records of an intake that were refused in this run",
            intakes(|intake| intake.refused),
        );
        let store = &working.store;
        self.gauge(
            "store_writable",
            "Whether the record can be written",
            None,
            said(store.failing_since.is_none()),
        );
        self.gauge(
            "store_waiting_readings",
            "Readings in memory that the record has yet to take",
            None,
            store.readings_waiting as f64,
        );
        self.gauge(
            "store_dropped_readings",
            "Readings lost since the record began to fail",
            None,
            store.readings_dropped as f64,
        );
    }

    fn record(&mut self, record: &RecordFigures) {
        let RecordFigures { size_bytes, outbox, readings_behind_s } = record;
        self.gauge(
            "store_size",
            "The record's file and its write-ahead log",
            Some(Unit::Bytes),
            *size_bytes as f64,
        );
        self.gauge("outbox_messages", "Messages that the broker has yet to take", None, outbox.rows as f64);
        self.gauge(
            "outbox_size",
            "Messages that the broker has yet to take, with their topics",
            Some(Unit::Bytes),
            outbox.bytes as f64,
        );
        self.counts(
            "outbox_dropped_messages",
            "Messages that ever gave way because the outbox was full",
            [(Labels::new(), outbox.dropped)],
        );
        let backlog = readings_behind_s.map(|backlog_s| (Labels::new(), backlog_s));
        self.gauges(
            "readings_behind",
            "How old the oldest reading is that the InfluxDB has yet to take",
            Some(Unit::Seconds),
            backlog,
        );
    }
}

const fn yes_or_no(holds: bool) -> &'static str {
    if holds { "yes" } else { "no" }
}
