//! Many readings as a chart of few points.

use bloom_model::time::Time;

use super::cursor::Grain;
use super::hour::Hour;

/// A point of a chart: what was read in a short span.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChartPoint {
    /// When its span begins.
    pub from: Time,
    /// How many readings it stands for; never none.
    pub readings: u32,
    /// The least value.
    pub least: f64,
    /// The mean of the values, each counting the same.
    pub mean: f64,
    /// The greatest value.
    pub greatest: f64,
}

/// Takes in readings, which may be derived ones, in the order of time or not.
#[derive(Debug, Clone)]
pub struct Chart {
    from_ms: i64,
    until_ms: i64,
    width_ms: i64,
    cells: Vec<Cell>,
    /// The cell of the reading before, and where it begins: the next is nearly always of the same.
    place: usize,
    begins_ms: i64,
}

#[derive(Debug, Clone, Copy)]
struct Cell {
    readings: u32,
    sum: f64,
    least: f64,
    greatest: f64,
}

impl Cell {
    /// Four columns of sums and bounds, which the processor works at side by side.
    fn add_many(&mut self, values: &[f64]) {
        let (fours, rest) = values.as_chunks::<4>();
        let mut sums = [0.0; 4];
        let (mut least, mut greatest) = ([f64::INFINITY; 4], [f64::NEG_INFINITY; 4]);
        for four in fours {
            for column in 0..4 {
                sums[column] += four[column];
                least[column] = least[column].min(four[column]);
                greatest[column] = greatest[column].max(four[column]);
            }
        }
        self.readings += values.len() as u32;
        self.sum += sums.iter().sum::<f64>() + rest.iter().sum::<f64>();
        self.least = least.iter().chain(rest).copied().fold(self.least, f64::min);
        self.greatest = greatest.iter().chain(rest).copied().fold(self.greatest, f64::max);
    }
}

impl Chart {
    /// A chart from one instant to another, both included, of so many points of equal span at most, and one at least. Points of an
    /// hour or more begin with full hours (UTC), so that no hour is in two of them; those of three days or more with full days.
    pub fn new(from: Time, until: Time, points: usize) -> Self {
        let points = points.max(1);
        let span = (until.unix_ms() - from.unix_ms()).max(0).unsigned_abs() + 1;
        let width = span.div_ceil(points as u64);
        let none = Cell { readings: 0, sum: 0.0, least: f64::INFINITY, greatest: f64::NEG_INFINITY };
        let cells = vec![none; span.div_ceil(width) as usize];
        let (from_ms, until_ms) = (from.unix_ms(), until.unix_ms());
        Self { from_ms, until_ms, width_ms: width as i64, cells, place: 0, begins_ms: from_ms }
    }

    /// How coarse is fine enough for it: a point of fewer days than three would be a day longer than the next too often.
    pub(super) const fn grain(&self) -> Grain {
        if self.width_ms >= 3 * Grain::Days.ms() {
            Grain::Days
        } else if self.width_ms >= Grain::Hours.ms() {
            Grain::Hours
        } else {
            Grain::Readings
        }
    }

    /// The instant by which one finds its point.
    fn counted_at(&self, ms: i64) -> i64 {
        (ms - ms.rem_euclid(self.grain().ms())).max(self.from_ms)
    }

    /// The cell of an instant, which becomes the present one.
    fn find(&mut self, ms: i64) -> Option<&mut Cell> {
        let at_ms = self.counted_at(ms);
        if !(0..self.width_ms).contains(&(at_ms - self.begins_ms)) {
            let place = (at_ms - self.from_ms).div_euclid(self.width_ms);
            let found = usize::try_from(place).ok().filter(|found| *found < self.cells.len())?;
            self.place = found;
            self.begins_ms = self.from_ms + place * self.width_ms;
        }
        self.cells.get_mut(self.place)
    }

    /// Takes in a value; one outside the chart's span is left out.
    pub fn add(&mut self, time: Time, value: f64) {
        let ms = time.unix_ms();
        if ms < self.from_ms || ms > self.until_ms {
            return;
        }
        if let Some(cell) = self.find(ms) {
            cell.readings += 1;
            cell.sum += value;
            cell.least = cell.least.min(value);
            cell.greatest = cell.greatest.max(value);
        }
    }

    /// Takes in readings of one day, in the order of time and all of them in the chart's span: those of one cell at once.
    pub(super) fn add_day(&mut self, midnight_ms: i64, mut times: &[u32], mut values: &[f64]) {
        while let (Some(ms), Some(value)) = (times.first(), values.first()) {
            // finds the cell
            self.add(Time::from_unix_ms(midnight_ms + i64::from(*ms)), *value);
            let ends_ms = self.begins_ms + self.width_ms;
            let within = |ms: &u32| self.counted_at(midnight_ms + i64::from(*ms)) < ends_ms;
            let count = times.partition_point(within).max(1);
            let Some(cell) = self.cells.get_mut(self.place) else { return };
            cell.add_many(values.get(1..count).unwrap_or_default());
            times = times.get(count..).unwrap_or_default();
            values = values.get(count..).unwrap_or_default();
        }
    }

    /// Takes in an hour or a day in brief that lies in the chart's span.
    pub(super) fn add_brief(&mut self, begins_ms: i64, brief: &Hour) {
        if let Some(cell) = self.find(begins_ms) {
            cell.readings += brief.readings;
            cell.sum += brief.mean * f64::from(brief.readings);
            cell.least = cell.least.min(brief.least);
            cell.greatest = cell.greatest.max(brief.greatest);
        }
    }

    /// The points that stand for a reading at least, in the order of time.
    pub fn points(&self) -> Vec<ChartPoint> {
        let begins = (0..).map(|place| self.from_ms + place * self.width_ms).map(|begins| {
            if begins > self.from_ms { begins + (-begins).rem_euclid(self.grain().ms()) } else { begins }
        });
        self.cells
            .iter()
            .zip(begins)
            .filter(|(cell, _)| cell.readings > 0)
            .map(|(cell, begins)| ChartPoint {
                from: Time::from_unix_ms(begins),
                readings: cell.readings,
                least: cell.least,
                mean: cell.sum / f64::from(cell.readings),
                greatest: cell.greatest,
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: i64) -> Time {
        Time::from_unix_ms(ms)
    }

    #[test]
    fn a_point_stands_for_the_readings_of_its_span() {
        let mut chart = Chart::new(at(1_000), at(1_999), 10);
        for (ms, value) in
            [(1_000, 4.0), (1_099, 2.0), (1_100, 7.0), (1_950, -1.0), (1_050, 3.0), (1_999, 5.0)]
        {
            chart.add(at(ms), value);
        }
        for outside in [999, 2_000, -5] {
            chart.add(at(outside), 99.0);
        }
        let point = |from, readings, least, mean, greatest| ChartPoint {
            from: at(from),
            readings,
            least,
            mean,
            greatest,
        };
        assert_eq!(
            chart.points(),
            [point(1_000, 3, 2.0, 3.0, 4.0), point(1_100, 1, 7.0, 7.0, 7.0), point(1_900, 2, -1.0, 2.0, 5.0)]
        );
    }

    #[test]
    fn a_day_at_once_is_as_one_reading_after_the_other() {
        let times: Vec<u32> = (0..5_000).map(|n| n * 17_000 + n % 7).collect();
        let values: Vec<f64> = times.iter().map(|ms| f64::from(ms % 1_013) / 8.0 - 20.0).collect();
        for points in [1, 7, 100, 5_000] {
            let mut one_by_one = Chart::new(at(86_400_000), at(2 * 86_400_000), points);
            let mut at_once = one_by_one.clone();
            for (ms, value) in times.iter().zip(&values) {
                one_by_one.add(at(86_400_000 + i64::from(*ms)), *value);
            }
            at_once.add_day(86_400_000, &times, &values);
            // eighths, which sum up the same in any order
            assert_eq!(at_once.points(), one_by_one.points());
        }
    }

    #[test]
    fn a_chart_has_no_more_points_than_asked_for_and_no_reading_falls_out_at_its_ends() {
        for (span, points) in [(0, 5), (1, 1), (7, 3), (999, 10), (1_000, 7), (86_400_000, 1_000)] {
            let mut chart = Chart::new(at(50), at(50 + span), points);
            let step = (span / 500).max(1);
            let mut added = 0;
            for ms in (0..=span).step_by(step as usize).chain([span]) {
                chart.add(at(50 + ms), 1.0);
                added += 1;
            }
            let told = chart.points();
            assert!(told.len() <= points);
            assert_eq!(told.iter().map(|point| point.readings).sum::<u32>(), added);
        }
    }
}
