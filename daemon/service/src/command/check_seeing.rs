//! `check`: whether the side rangers speak often enough, by what the record has of the last day.

use bloom_model::quantity::Quantity;
use bloom_model::seeing::FAR_APART_S;
use bloom_model::time::Time;

use crate::config::Config;
use crate::store::{Reader, Which};

/// The record is looked through so far back, h.
const LAST_H: f64 = 24.0;
/// So many steps from reading to reading make an interval.
const LEAST_STEPS: usize = 4;
/// Below this a remark is not worth a line, s.
const OFTEN_S: f64 = 120.0;

/// What is to be said of each side ranger whose readings are minutes apart: an error where an opening could not be seen.
pub(super) fn intervals(config: &Config) -> Vec<(String, Result<String, String>)> {
    let Ok(reader) = Reader::open(&config.store_path) else { return Vec::new() };
    let now = Time::from(chrono::Utc::now());
    let mut said = Vec::new();
    for bench in config.benches.iter().filter(|bench| bench.spec.rim.is_some()) {
        let mut times = Vec::new();
        let which = Which::Quantity(Quantity::RimRange);
        let read = reader.readings(&bench.spec.id, which, now.plus_hours(-LAST_H), now, |recorded| {
            times.push(recorded.time);
        });
        // that a store cannot be read is said in its own line
        let (Ok(()), Some(interval_s)) = (read, usual_interval_s(&times)) else { continue };
        if let Some(outcome) = judge(interval_s) {
            said.push((format!("side ranger of {}", bench.spec.id), outcome));
        }
    }
    said
}

/// The middle one of the steps from reading to reading.
fn usual_interval_s(times: &[Time]) -> Option<f64> {
    let mut steps: Vec<f64> = times.windows(2).map(|pair| pair[1].hours_since(pair[0]) * 3600.0).collect();
    if steps.len() < LEAST_STEPS {
        return None;
    }
    let middle = steps.len() / 2;
    Some(*steps.select_nth_unstable_by(middle, f64::total_cmp).1)
}

fn judge(interval_s: f64) -> Option<Result<String, String>> {
    let minutes = interval_s / 60.0;
    if interval_s > FAR_APART_S {
        return Some(Err(format!(
            "its readings come {minutes:.0} min apart, too seldom to see an opening: let the board speak every minute, every 15 min at the most"
        )));
    }
    (interval_s > OFTEN_S).then(|| {
        Ok(format!("speaks every {minutes:.0} min; that serves, and the alarm comes sooner where it speaks every minute"))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn every(minutes: i64) -> Option<Result<String, String>> {
        let times: Vec<Time> = (0..10).map(|number| Time::from_unix_ms(number * minutes * 60_000)).collect();
        judge(usual_interval_s(&times)?)
    }

    #[test]
    fn an_interval_that_cannot_serve_is_refused_and_a_long_one_remarked() {
        assert_eq!(every(1), None);
        assert!(every(15).is_some_and(|outcome| outcome.is_ok_and(|well| well.contains("every 15 min"))));
        assert!(every(30).is_some_and(|outcome| outcome.is_err_and(|why| why.contains("30 min apart"))));
    }

    #[test]
    fn a_span_without_readings_is_no_interval() {
        let minutes = [0, 1, 2, 3, 4, 600, 601, 602];
        let times: Vec<Time> = minutes.iter().map(|minute| Time::from_unix_ms(minute * 60_000)).collect();
        assert_eq!(usual_interval_s(&times), Some(60.0));
        assert_eq!(usual_interval_s(&times[..3]), None);
    }
}
