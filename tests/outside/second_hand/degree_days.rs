//! Degree-days: ∫ (min(T, upper) − lower)⁺ dt, added up in small steps.

/// Temperature between two readings further apart is not known, h (daemon/model/EQUATIONS.md, "Degree-days").
const GREATEST_GAP_H: f64 = 3.0;
/// Each span between two readings is cut into this many steps, and counted by the temperature in the middle of each.
const STEPS: u32 = 10;

/// A total since its beginning.
pub(super) struct DegreeDays {
    lower_c: f64,
    upper_c: f64,
    newest: Option<(f64, f64)>,
    pub(super) total: f64,
    pub(super) covered_d: f64,
}

impl DegreeDays {
    pub(super) fn new(lower_c: f64, upper_c: f64) -> Self {
        Self { lower_c, upper_c, newest: None, total: 0.0, covered_d: 0.0 }
    }

    /// Takes a reading at an hour.
    pub(super) fn take(&mut self, hour: f64, temperature_c: f64) {
        if let Some((before_h, before_c)) = self.newest.replace((hour, temperature_c)) {
            let span_h = hour - before_h;
            if span_h > GREATEST_GAP_H {
                return;
            }
            // straight from reading to reading, horizontal cutoff (McMaster & Wilhelm 1997; Zalom et al. 1983)
            for step in 0..STEPS {
                let part = (f64::from(step) + 0.5) / f64::from(STEPS);
                let now_c = before_c + (temperature_c - before_c) * part;
                let above_k = (now_c.min(self.upper_c) - self.lower_c).max(0.0);
                self.total += above_k * span_h / 24.0 / f64::from(STEPS);
            }
            self.covered_d += span_h / 24.0;
        }
    }
}
