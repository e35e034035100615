//! Figures by name, unit and labels, put into the text form of OpenMetrics.

use std::fmt;
use std::sync::atomic::AtomicU64;

use bloom_model::time::Time;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::{Registry, Unit};

/// What tells figures of one name apart.
pub(super) type Labels = Vec<(&'static str, String)>;

/// All figures of one answer.
pub(super) struct Sheet(Registry);

impl Default for Sheet {
    fn default() -> Self {
        Self(Registry::with_prefix("anthesisd"))
    }
}

impl Sheet {
    /// A figure that may go up and down, one for each of the labels; left out where there is none.
    pub(super) fn gauges(
        &mut self,
        name: &str,
        help: &str,
        unit: Option<Unit>,
        figures: impl IntoIterator<Item = (Labels, f64)>,
    ) {
        let family = Family::<Labels, Gauge<f64, AtomicU64>>::default();
        let mut any = false;
        for (labels, figure) in figures {
            family.get_or_create(&labels).set(figure);
            any = true;
        }
        match unit {
            _ if !any => {}
            Some(unit) => self.0.register_with_unit(name, help, unit, family),
            None => self.0.register(name, help, family),
        }
    }

    pub(super) fn gauge(&mut self, name: &str, help: &str, unit: Option<Unit>, figure: f64) {
        self.gauges(name, help, unit, [(Labels::new(), figure)]);
    }

    /// A count that only grows, one for each of the labels.
    pub(super) fn counts(&mut self, name: &str, help: &str, counts: impl IntoIterator<Item = (Labels, u64)>) {
        let family = Family::<Labels, Counter>::default();
        for (labels, count) in counts {
            family.get_or_create(&labels).inc_by(count);
        }
        self.0.register(name, help, family);
    }

    /// What does not change while the service runs.
    pub(super) fn info(&mut self, name: &str, help: &str, labels: Labels) {
        self.0.register(name, help, Info::new(labels));
    }

    /// All of it, as it is sent.
    pub(super) fn text(&self) -> Result<String, fmt::Error> {
        let mut text = String::new();
        encode(&mut text, &self.0)?;
        Ok(text)
    }
}

/// How long before, s; 0 where it lies ahead.
pub(super) fn age_s(time: Time, now: Time) -> f64 {
    (now - time).num_milliseconds().max(0) as f64 / 1e3
}

/// Whether something holds, as a figure.
pub(super) const fn said(holds: bool) -> f64 {
    if holds { 1.0 } else { 0.0 }
}
