//! What the rise or the fall of a rim looks like over the last minutes and hours.

use super::NOISE_FLOOR_M;
use crate::growth::line;
use crate::time::Time;
use crate::track::ring::Rings;

/// A rise must be spread over so many blocks of time.
const BLOCKS: usize = 5;
/// The length of a block, h.
const BLOCK_H: f64 = 9.0 / 60.0;
/// Blocks that must hold a sample.
const LEAST_BLOCKS: usize = 3;
/// The greatest share of the rise that one step from block to block may have.
const LARGEST_SHARE: f64 = 0.55;
/// Whether an opening is under way is judged by its advance over so many hours.
const UNDER_WAY_H: f64 = 3.0;
/// An opening that is under way has made at least this share of its whole advance over those hours.
const UNDER_WAY_SHARE: f64 = 0.3;
/// A fall of which one step from block to block has more than this share was made at once.
const FALL_SHARE: f64 = 0.8;
/// A rim found open does not go back faster than this within minutes, m/h.
const HOLDS_OUT_M_H: f64 = 0.02;

/// Whether the rim found far out stays there: a person who steps away does not.
pub(super) fn holds_out(rings: &Rings, since: Time, now: Time) -> bool {
    let points: Vec<(f64, f64)> =
        rings.minutes_from(since).map(|sample| (sample.time.hours_since(now), sample.position_m)).collect();
    line::fit(&points, NOISE_FLOOR_M).is_some_and(|line| line.rate_m_h > -HOLDS_OUT_M_H)
}

/// Whether enough of the advance was made lately: an opening does not stand still for hours, what was knocked or hung in the beam
/// does.
pub(super) fn is_under_way(rings: &Rings, now: Time, lowest_m: f64, advance_m: f64) -> bool {
    let then = now.plus_hours(-UNDER_WAY_H);
    let mut around = rings.quarters_between(then.plus_hours(-0.25), then.plus_hours(0.25));
    around
        .next_back()
        .is_none_or(|quarter| quarter.position_m - lowest_m <= (1.0 - UNDER_WAY_SHARE) * advance_m)
}

/// Whether the rise of the last three quarters of an hour is spread over them. A hand, a knock or a neighbour's echo does in a
/// minute what an opening takes the whole time for.
pub fn rises_throughout(rings: &Rings, now: Time) -> bool {
    let medians = block_medians(rings, now);
    // a bench that reports every ten minutes leaves blocks empty
    let (Some(first), Some(last)) = (medians.first(), medians.last()) else { return false };
    if medians.len() < LEAST_BLOCKS {
        return false;
    }
    let largest = medians.windows(2).map(|pair| pair[1] - pair[0]).fold(0.0, f64::max);
    let share = LARGEST_SHARE.max(1.3 / (medians.len() as f64 - 1.0));
    last > first && largest <= share * (last - first)
}

/// Whether the fall of the last three quarters of an hour was made in one step, as by somebody who came between: a gap takes
/// its time to close.
pub(super) fn falls_at_once(rings: &Rings, now: Time) -> bool {
    let medians = block_medians(rings, now);
    let highest = medians.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let Some(last) = medians.last() else { return false };
    let largest = medians.windows(2).map(|pair| pair[0] - pair[1]).fold(0.0, f64::max);
    largest > FALL_SHARE * (highest - last)
}

/// The medians of the blocks of the last three quarters of an hour that hold a sample, oldest first.
fn block_medians(rings: &Rings, now: Time) -> Vec<f64> {
    let mut medians = Vec::with_capacity(BLOCKS);
    let mut positions: Vec<f64> = Vec::with_capacity(32);
    for place in (1..=BLOCKS).rev() {
        let from = now.plus_hours(-BLOCK_H * place as f64);
        let until = from.plus_hours(BLOCK_H);
        positions.clear();
        positions.extend(
            rings
                .minutes_from(from)
                .take_while(|sample| sample.time <= until)
                .map(|sample| sample.position_m),
        );
        if !positions.is_empty() {
            let middle = positions.len() / 2;
            medians.push(*positions.select_nth_unstable_by(middle, f64::total_cmp).1);
        }
    }
    medians
}
