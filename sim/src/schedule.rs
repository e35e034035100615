//! Spans of a season during which something is going on.

use crate::dice::Dice;

/// One span, in hours since the season's start.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Span<T> {
    pub(crate) from_h: f64,
    pub(crate) until_h: f64,
    pub(crate) what: T,
}

/// Spans in order, none overlapping another.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Schedule<T> {
    spans: Vec<Span<T>>,
}

impl<T> Default for Schedule<T> {
    fn default() -> Self {
        Self { spans: Vec::new() }
    }
}

impl<T> Schedule<T> {
    /// Sets spans in order and leaves out those that begin before the one before has ended.
    pub(crate) fn new(mut spans: Vec<Span<T>>) -> Self {
        spans.sort_by(|a, b| a.from_h.total_cmp(&b.from_h));
        let mut free_from_h = f64::NEG_INFINITY;
        spans.retain(|span| {
            let free = span.from_h >= free_from_h;
            if free {
                free_from_h = span.until_h;
            }
            free
        });
        Self { spans }
    }

    /// Draws spans at random instants, `mean_gap_h` apart on average.
    pub(crate) fn scattered(
        dice: &mut Dice,
        until_h: f64,
        mean_gap_h: f64,
        mut draw: impl FnMut(&mut Dice) -> (f64, T),
    ) -> Self {
        let mut spans = Vec::new();
        let mut hour = dice.waiting(mean_gap_h);
        while hour < until_h {
            let (length_h, what) = draw(dice);
            spans.push(Span { from_h: hour, until_h: hour + length_h, what });
            hour += length_h + dice.waiting(mean_gap_h);
        }
        Self { spans }
    }

    /// The span that holds this hour.
    pub(crate) fn at(&self, hour: f64) -> Option<&Span<T>> {
        let after = self.spans.partition_point(|span| span.from_h <= hour);
        let span = self.spans.get(after.checked_sub(1)?)?;
        (hour < span.until_h).then_some(span)
    }

    pub(crate) fn spans(&self) -> &[Span<T>] {
        &self.spans
    }
}

/// From 0 to 1 as `z` goes there, level at both ends.
pub(crate) fn smooth_step(z: f64) -> f64 {
    let z = z.clamp(0.0, 1.0);
    z * z * (3.0 - 2.0 * z)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_holds_its_beginning_and_not_its_end() {
        let span = |from_h, until_h, what| Span { from_h, until_h, what };
        let schedule = Schedule::new(vec![span(5.0, 6.0, 'b'), span(1.0, 3.0, 'a'), span(2.0, 9.0, 'c')]);
        let what = |hour| schedule.at(hour).map(|span| span.what);
        assert_eq!(
            [0.9, 1.0, 2.9, 3.0, 5.5, 6.0].map(what),
            [None, Some('a'), Some('a'), None, Some('b'), None]
        );
    }
}
