//! Growth over an hour and over a day (daemon/model/EQUATIONS.md, "Rate").

/// Residuals smaller than this are not believed, cm.
const LEAST_RESIDUAL_CM: f64 = 0.05;
/// From the median absolute deviation of normal noise to its standard deviation, 1 / Φ⁻¹(3/4).
const MAD_TO_SD: f64 = 1.4826;
/// Of the 32 quarters of 8 h so many must have a partner.
const LEAST_PAIRS: usize = 12;
/// Residuals beyond so many robust standard deviations count less (Huber 1981).
const BOUND: f64 = 2.0;

/// An instant, h, and a height, cm.
pub(super) type Sample = (f64, f64);

/// A rate and its standard deviation, in cm over the time that is asked for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rate {
    pub(super) cm: f64,
    pub(super) sd_cm: f64,
}

/// Growth an hour, by the minutes of the last hour; they must reach over 40 of the 60.
pub(super) fn hourly(minutes: &[Sample]) -> Option<Rate> {
    line(minutes, 40.0 / 60.0)
}

/// Growth a day: what the last 8 h stand higher than the same quarter hours some days before.
pub(super) fn by_same_hours(quarters: &[Sample], now_h: f64, days: f64) -> Option<Rate> {
    let number = |hour: f64| (hour * 4.0).floor() as i64;
    let mut grown_cm = Vec::new();
    for (hour, cm) in quarters.iter().filter(|(hour, _)| *hour >= now_h - 8.0) {
        let same = number(*hour - 24.0 * days);
        if let Some((_, before_cm)) = quarters.iter().find(|(hour, _)| number(*hour) == same) {
            grown_cm.push((cm - before_cm) / days);
        }
    }
    if grown_cm.len() < LEAST_PAIRS {
        return None;
    }
    let cm = median(grown_cm.clone());
    let spread_cm = MAD_TO_SD * median(grown_cm.iter().map(|grown| (grown - cm).abs()).collect());
    // four quarters tell as much as one that stands alone; and 2 mm in quadrature
    let sd_cm = (spread_cm / (grown_cm.len() as f64 / 4.0).sqrt()).hypot(0.2 / days);
    Some(Rate { cm, sd_cm })
}

/// Growth a day; on the first day, with no day before, by a line through 16 h or more, 1 cm less sure.
pub(super) fn daily(quarters: &[Sample], now_h: f64) -> Option<Rate> {
    by_same_hours(quarters, now_h, 1.0).or_else(|| {
        let day: Vec<Sample> = quarters.iter().copied().filter(|(hour, _)| *hour >= now_h - 24.0).collect();
        let hourly = line(&day, 16.0)?;
        Some(Rate { cm: 24.0 * hourly.cm, sd_cm: (24.0 * hourly.sd_cm).hypot(1.0) })
    })
}

/// The slope of a line whose far residuals are held down, reweighted four times; `None` unless the samples reach over
/// so many hours.
fn line(samples: &[Sample], reach_h: f64) -> Option<Rate> {
    let (first, last) = (samples.first()?, samples.last()?);
    if last.0 - first.0 < reach_h || samples.len() < 3 {
        return None;
    }
    let mut weights = vec![1.0; samples.len()];
    let mut bound_cm = f64::INFINITY;
    for _ in 0..4 {
        let (_, residuals) = least_squares(samples, &weights);
        bound_cm = BOUND * robust_sd(&residuals);
        weights = residuals.iter().map(|residual| (bound_cm / residual.abs()).min(1.0)).collect();
    }
    let (slope, residuals) = least_squares(samples, &weights);
    let residuals: Vec<f64> = residuals.iter().map(|residual| residual.clamp(-bound_cm, bound_cm)).collect();

    // the standard deviation of a least-squares slope, s / √Σ w (t − t̄)²
    let count = samples.len() as f64;
    let sum: f64 = weights.iter().sum();
    let mean_h = samples.iter().zip(&weights).map(|((hour, _), weight)| weight * hour).sum::<f64>() / sum;
    let spread: f64 =
        samples.iter().zip(&weights).map(|((hour, _), weight)| weight * (hour - mean_h).powi(2)).sum();
    let squares: f64 = residuals.iter().map(|residual| residual.powi(2)).sum();
    let residual_cm = (squares / (count - 2.0)).sqrt().max(LEAST_RESIDUAL_CM);

    // widened for residuals that follow one another; their correlation is found low by (1 + 4ρ) / n (Kendall & Stuart; from memory)
    let beside: f64 = residuals.windows(2).map(|pair| pair[0] * pair[1]).sum();
    let found = if squares > 0.0 { beside / squares } else { 0.0 };
    let rho = (found + (1.0 + 4.0 * found) / count).clamp(0.0, 0.95);
    let sd_cm = residual_cm / spread.sqrt() * ((1.0 + rho) / (1.0 - rho)).sqrt();
    Some(Rate { cm: slope, sd_cm })
}

fn least_squares(samples: &[Sample], weights: &[f64]) -> (f64, Vec<f64>) {
    let (mut sum, mut hours, mut levels) = (0.0, 0.0, 0.0);
    for ((hour, cm), weight) in samples.iter().zip(weights) {
        sum += weight;
        hours += weight * hour;
        levels += weight * cm;
    }
    let (mean_h, mean_cm) = (hours / sum, levels / sum);
    let (mut across, mut along) = (0.0, 0.0);
    for ((hour, cm), weight) in samples.iter().zip(weights) {
        across += weight * (hour - mean_h) * (cm - mean_cm);
        along += weight * (hour - mean_h).powi(2);
    }
    let slope = across / along;
    (slope, samples.iter().map(|(hour, cm)| cm - mean_cm - slope * (hour - mean_h)).collect())
}

fn robust_sd(residuals: &[f64]) -> f64 {
    let spread_cm = MAD_TO_SD * median(residuals.iter().map(|residual| residual.abs()).collect());
    spread_cm.max(LEAST_RESIDUAL_CM)
}

/// The middle value; of an even number the upper of the two in the middle.
fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}
