//! An event as it is published, recorded and listed: JSON with its sentence first.

use std::borrow::Cow;

use bloom_model::event::{Details, Event, EventKind, Severity};
use bloom_model::spec::SiteSpec;
use bloom_model::time::Time;
use schemars::JsonSchema;
use serde::Serialize;

use crate::event::{reason, render};

/// An event as JSON, as deploy/PROGRAMS.md describes it. What only the service needs of an event is left out.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "Event")]
pub struct Payload<'a> {
    /// One sentence for a phone: what, and what to do. First, for a client may show no more than the beginning.
    pub message: String,
    /// BLOOM/EVENT/ordinal, BENCH/EVENT/time where there is no bloom, or SITE/EVENT/time where there is no bench.
    pub id: &'a str,
    /// The instant it speaks of.
    pub time: Time,
    /// The site's name.
    pub site: &'a str,
    /// The bench; absent for an event of the site itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bench: Option<&'a str>,
    /// Accession or label of the plant.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plant: Option<&'a str>,
    /// The bloom's id, once a bud is established.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bloom: Option<&'a str>,
    /// What happened.
    #[serde(rename = "event")]
    pub kind: EventKind,
    /// What it asks of a person.
    pub severity: Severity,
    /// `stood-down`, `look`, `closed`, `aborted`, `fruit-ripe`, `spent`, `slowing-over`, and `acknowledged` where nothing came of it: why, in
    /// words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<Cow<'static, str>>,
    /// The evidence.
    #[serde(flatten)]
    pub details: &'a Details,
}

impl<'a> Payload<'a> {
    /// An event with its sentence, in the units and the local time of its site.
    pub fn of(event: &'a Event, site: &SiteSpec) -> Self {
        Self {
            message: render(event, site),
            id: &event.id,
            time: event.time,
            site: &event.site,
            bench: event.bench.as_deref(),
            plant: event.plant.as_deref(),
            bloom: event.bloom.as_deref(),
            kind: event.kind,
            severity: event.severity,
            reason: reason(&event.details),
            details: &event.details,
        }
    }
}
