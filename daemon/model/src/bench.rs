//! One watched place: readings in, events out.

use serde::{Deserialize, Serialize};

use crate::event::Event;
use crate::reading::Observed;
use crate::site::Taken;
use crate::spec::{BenchSpec, SiteSpec};
use crate::time::Time;

/// All that a bench remembers, as a value that can be written, read and compared.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct BenchState {}

/// One watched place.
#[derive(Debug)]
pub struct Bench {
    spec: BenchSpec,
    state: BenchState,
}

/// What a bench is like now, for the state topic and the page.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BenchView {}

impl Bench {
    /// A bench that has seen nothing yet.
    pub fn new(_site: &SiteSpec, spec: BenchSpec) -> Self {
        Self { spec, state: BenchState::default() }
    }

    /// The bench as configured.
    pub fn spec(&self) -> &BenchSpec {
        &self.spec
    }

    /// Tells a reading.
    pub fn take(&mut self, _time: Time, _observed: &Observed, _events: &mut Vec<Event>) -> Taken {
        Taken::ByTheModel
    }

    /// The next instant at which something is due.
    pub fn next_due(&self) -> Option<Time> {
        None
    }

    /// Passes one due instant.
    pub fn pass(&mut self, _due: Time, _events: &mut Vec<Event>) {}

    /// The state, to be written down.
    pub fn state(&self) -> &BenchState {
        &self.state
    }

    /// Puts back a state that was written down.
    pub fn restore(&mut self, state: BenchState) {
        self.state = state;
    }

    /// What the bench is like now.
    pub fn view(&self) -> BenchView {
        BenchView {}
    }
}
