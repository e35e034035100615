//! Where a level that lay still begins to rise: a constant, then a parabola.

/// The rise that fits best.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Onset {
    /// When it began, h, on the clock of the samples.
    pub began_h: f64,
    /// Advance is this times the square of the hours since, m/h².
    pub curve_m_h2: f64,
}

/// Beginnings that are tried lie so far apart, h.
const STEP_H: f64 = 0.1;

/// Fits `level + curve · max(0, hours − began)²` to `(hours, metres, weight)` by weighted least squares, for beginnings from
/// `earliest_h` until `latest_h`.
///
/// A rim that moves as half a cosine from closed to open starts so, and most others nearly so. `None` where nothing rises.
pub fn fit(samples: &[(f64, f64, f64)], earliest_h: f64, latest_h: f64) -> Option<Onset> {
    let steps = ((latest_h - earliest_h) / STEP_H).floor().max(0.0) as u32;
    let candidates = (0..=steps).map(|step| latest_h - STEP_H * f64::from(step));
    let fitted = candidates.filter_map(|began_h| Some((began_h, parabola_from(samples, began_h)?)));
    let (began_h, best) = fitted.min_by(|(_, a), (_, b)| a.sum_squares.total_cmp(&b.sum_squares))?;
    Some(Onset { began_h, curve_m_h2: best.curve_m_h2 })
}

struct Parabola {
    curve_m_h2: f64,
    sum_squares: f64,
}

fn parabola_from(samples: &[(f64, f64, f64)], began_h: f64) -> Option<Parabola> {
    let since = |hours: f64| (hours - began_h).max(0.0).powi(2);
    let (mut sum, mut sum_x, mut sum_y) = (0.0, 0.0, 0.0);
    for &(hours, metres, weight) in samples {
        sum += weight;
        sum_x += weight * since(hours);
        sum_y += weight * metres;
    }
    let (mean_x, mean_y) = (sum_x / sum, sum_y / sum);
    let (mut spread_x, mut spread_y, mut cross) = (0.0, 0.0, 0.0);
    for &(hours, metres, weight) in samples {
        let (x, y) = (since(hours) - mean_x, metres - mean_y);
        spread_x += weight * x * x;
        spread_y += weight * y * y;
        cross += weight * x * y;
    }
    (spread_x > 1e-12 && cross > 0.0)
        .then(|| Parabola { curve_m_h2: cross / spread_x, sum_squares: spread_y - cross * cross / spread_x })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half a cosine over eight hours to 40 cm, and noise of 2 mm from minute to minute: the beginning is found to a quarter of an
    /// hour, and the curve to a fifth of what the series of the cosine gives, A·π²/(4·T²).
    #[test]
    fn the_beginning_of_half_a_cosine_is_found() {
        let (full_m, lasts_h) = (0.4, 8.0);
        let samples: Vec<(f64, f64, f64)> = (0..480)
            .map(|minute| {
                let hours = f64::from(minute) / 60.0;
                let through = ((hours - 6.2) / lasts_h).clamp(0.0, 1.0);
                let rise_m = full_m * (1.0 - (std::f64::consts::PI * through).cos()) / 2.0;
                let noise_m = 0.002 * (f64::from(minute * 37 % 11) / 5.0 - 1.0);
                (hours, 0.05 + rise_m + noise_m, 1.0)
            })
            .collect();
        let onset = fit(&samples, 0.0, 7.8).unwrap();
        assert!((onset.began_h - 6.2).abs() <= 0.25, "{onset:?}");
        let curve = full_m * std::f64::consts::PI.powi(2) / (4.0 * lasts_h * lasts_h);
        assert!((onset.curve_m_h2 / curve - 1.0).abs() < 0.2, "{onset:?} against {curve}");
    }

    #[test]
    fn what_falls_or_lies_still_has_no_beginning() {
        let course = |rate: f64| {
            (0..60).map(|minute| (f64::from(minute), rate * f64::from(minute), 1.0)).collect::<Vec<_>>()
        };
        assert_eq!(fit(&course(0.0), 0.0, 50.0), None);
        assert_eq!(fit(&course(-0.01), 0.0, 50.0), None);
        assert_eq!(fit(&[], 0.0, 1.0), None);
    }
}
