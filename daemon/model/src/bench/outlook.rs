//! What is forecast of a bud, as it is told; and what a bloom that is over teaches of the next one.

use super::Bench;
use super::raise::rounded;
use crate::event::DegreeDayFigures;
use crate::forecast::{EarlierBloom, Evidence, Forecast, Outlook, Spans, forecast};
use crate::sign::PlainSign;
use crate::stage::Stage;
use crate::time::Time;

/// Degree-days tell of the house once they cover so many days: three, but for a minute. A bud that was seen as the hour of the bulletin struck
/// has three of them to the second, and rounding must not decide.
const COVERED_D: f64 = 3.0 - 1.0 / 1440.0;
/// Earlier blooms kept for a bench: two decades of yearly ones.
const MOST_EARLIER: usize = 20;

impl Bench {
    /// Degree-days since the bud was seen, with what they were counted by.
    pub(super) fn heat_figures(&self) -> Option<DegreeDayFigures> {
        let (total, covered) = self.state.bloom.as_ref()?.heat_before;
        Some(DegreeDayFigures {
            degree_days: rounded(self.state.heat.degree_days() - total, 1),
            degree_days_by: format!("integral of the record, {}", self.state.heat.rule()),
            degree_days_covered: rounded(self.state.heat.covered_days() - covered, 2),
        })
    }

    /// The forecast of a bud at an instant, to be told. It is remembered: page, sheets and calendar show what was told, not another
    /// one of their own hour.
    pub(super) fn outlook_to_tell(&mut self, now: Time) -> Option<Outlook> {
        if !self.stage().is_some_and(Stage::in_bud) {
            return None;
        }
        let forecast = self.forecast(now)?;
        let outlook = Outlook {
            opens: forecast.opens,
            probability_tonight: rounded(forecast.chance_today, 3),
            probability_never: rounded(forecast.probability_never, 3),
            height_at_opening_m: forecast.height_at_opening,
        };
        let bloom = self.state.bloom.as_mut()?;
        bloom.outlook = Some((now, outlook));
        Some(outlook)
    }

    pub(super) fn forecast(&self, now: Time) -> Option<Forecast> {
        let bloom = self.state.bloom.as_ref()?;
        let growth = self.growth_by_day(now);
        let (heat, covered_d) = bloom.heat_before;
        let covered_d = self.state.heat.covered_days() - covered_d;
        let most_covered = covered_d >= COVERED_D && covered_d >= 0.8 * now.days_since(bloom.seen);
        let earlier: Vec<EarlierBloom> =
            self.spec.earlier.iter().chain(&self.state.earlier).copied().collect();
        let evidence = Evidence {
            seen: (bloom.seen, bloom.seen_height_m),
            signs: &self.state.signs,
            growth: &growth,
            height_m: self.height_m(now),
            degree_days_a_day: most_covered.then(|| (self.state.heat.degree_days() - heat) / covered_d),
            stopped: bloom.stopped_since.is_some(),
            waited: bloom.waited,
            earlier: &earlier,
        };
        Some(forecast(&evidence, now, &self.spec.profile, self.site.timezone))
    }

    /// What the bloom took from the signs to the opening moves the forecast of the bench's next one.
    pub(super) fn learn_from_the_bloom(&mut self) {
        let Some(bloom) = &self.state.bloom else { return };
        let Some(opening) = &bloom.opening else { return };
        let began = opening.evidence.began;
        let first = |sign: PlainSign| {
            let times = self.state.signs.iter().filter(|(_, seen)| *seen == sign).map(|(time, _)| *time);
            times.min().map(|time| began.days_since(time)).filter(|days| *days > 0.0)
        };
        let spans = Spans {
            emergence_to_opening_d: first(PlainSign::Emerged),
            spadix_to_opening_d: first(PlainSign::SpadixVisible),
            slowing_to_opening_d: bloom
                .slow_since
                .map(|since| began.days_since(since))
                .filter(|days| *days > 0.0),
        };
        if spans != Spans::default() {
            self.state.earlier.push(EarlierBloom { of_this_plant: true, spans });
            if self.state.earlier.len() > MOST_EARLIER {
                self.state.earlier.remove(0);
            }
        }
    }
}
