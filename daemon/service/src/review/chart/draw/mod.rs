//! The drawing itself, as SVG.

mod legend;
mod marks;
mod pen;

use bloom_model::time::Time;
use maud::{Markup, html};

use super::axis::{Tick, levels, range, ticks};
use super::{Band, Chart, Level, Line, Size, Stroke};
use legend::Legend;
use marks::{MARKS_PX, Marks};
use pen::{
    Anchor, BLACK, Baseline, DASHES, GREY, LEFT_PX, LEGEND_PX, LIGHT, NIGHT, PAPER, RIGHT_PX, RULE, hours,
    length_of, points, px, square, text,
};

/// Room for the words below.
const BELOW_PX: f64 = 22.0;
/// Room of a tick's words.
const TICK_PX: u32 = 62;
/// The length of a tick.
const TICK_MARK_PX: f64 = 3.0;
/// The strokes and gaps of a level across the plot.
const LEVEL_DASHES: &str = "6 4";

/// Draws a chart, without a size of its own, with words for those who do not see it; inside a page it needs no name space.
pub(super) fn svg(chart: &Chart, size: Size) -> Markup {
    let legend = Legend::lay_out(chart, size.width);
    let marks = Marks::lay_out(chart, size.width);
    let marks_px = f64::from(marks.lines) * MARKS_PX;
    let height = f64::from(size.height) + f64::from(legend.lines.saturating_sub(1)) * LEGEND_PX + marks_px;
    let above = f64::from(legend.lines) * LEGEND_PX + marks_px + 8.0;
    let plot = Plot::of(chart, size, above, height);
    html! {
        svg viewBox={ "0 0 " (size.width) " " (px(height)) } role="img" aria-label=(chart.label) {
            (legend.drawn())
            @for (from, until) in &chart.nights { (plot.night(*from, *until)) }
            (plot.axes(&ticks(chart.from, chart.until, chart.zone, (size.width / TICK_PX) as usize)))
            @for band in &chart.bands { (plot.band(band)) }
            @for line in &chart.lines { (plot.line(line)) }
            @for (number, level) in chart.levels.iter().enumerate() { (plot.level(number, level)) }
            @for mark in &chart.marks { (plot.instant(mark.time)) }
            (marks.drawn(chart.zone, plot.top, |time| plot.x(time)))
        }
    }
}

/// The field of the plot: where an instant and a value are in the picture.
struct Plot<'c> {
    chart: &'c Chart,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    low: f64,
    high: f64,
    /// The decimals of its numbers.
    decimals: usize,
}

impl<'c> Plot<'c> {
    fn of(chart: &'c Chart, size: Size, top: f64, height: f64) -> Self {
        let values = chart
            .lines
            .iter()
            .flat_map(|line| line.values.iter().filter_map(|(_, value)| *value))
            .chain(chart.bands.iter().flat_map(|band| {
                band.edges.iter().filter_map(|(_, edges)| *edges).flat_map(|(low, high)| [low, high])
            }))
            .chain(chart.holds.iter().copied())
            .chain(chart.levels.iter().map(|level| level.value));
        let (low, high, decimals) = range(values);
        let (right, bottom) = (f64::from(size.width) - RIGHT_PX, height - BELOW_PX);
        Self { chart, left: LEFT_PX, right, top, bottom, low, high, decimals }
    }

    fn x(&self, time: Time) -> f64 {
        let share = hours(self.chart, time) / hours(self.chart, self.chart.until).max(1e-9);
        self.left + share * (self.right - self.left)
    }

    fn y(&self, value: f64) -> f64 {
        self.bottom - (value - self.low) / (self.high - self.low) * (self.bottom - self.top)
    }

    fn at(&self, time: Time, value: f64) -> (f64, f64) {
        (self.x(time), self.y(value))
    }

    fn night(&self, from: Time, until: Time) -> Markup {
        let (from, until) = (self.x(from).max(self.left), self.x(until).min(self.right));
        let (width, height) = ((until - from).max(0.0), self.bottom - self.top);
        html! { rect x=(px(from)) y=(px(self.top)) width=(px(width)) height=(px(height)) fill=(NIGHT) {} }
    }

    /// The rules with their numbers and hours, and the unit.
    fn axes(&self, ticks: &[Tick]) -> Markup {
        let &Self { left, right, top, bottom, decimals, .. } = self;
        let rule = |from: (f64, f64), to: (f64, f64), colour: &str| {
            html! { line x1=(px(from.0)) y1=(px(from.1)) x2=(px(to.0)) y2=(px(to.1)) stroke=(colour) {} }
        };
        html! {
            @for value in levels(self.low, self.high) {
                @let y = self.y(value);
                (rule((left, y), (right, y), RULE))
                (rule((left - TICK_MARK_PX, y), (left, y), GREY))
                @let number = format!("{:.decimals$}", if value.abs() < 1e-9 { 0.0 } else { value });
                (text(&number, (left - TICK_MARK_PX - 3.0, y), GREY, Anchor::End, Baseline::Centre))
            }
            @for tick in ticks {
                @let x = self.x(tick.time);
                (rule((x, top), (x, bottom), RULE))
                (rule((x, bottom), (x, bottom + TICK_MARK_PX), GREY))
                (text(&tick.words, (x, bottom + TICK_MARK_PX + 2.0), GREY, Anchor::Middle, Baseline::Below))
            }
            (rule((left, top), (left, bottom), GREY))
            (rule((left, bottom), (right, bottom), GREY))
            (text(self.chart.unit, (left - 6.0, top - 4.0), GREY, Anchor::End, Baseline::Above))
        }
    }

    fn band(&self, band: &Band) -> Markup {
        let outline = |run: &[(Time, (f64, f64))]| {
            let upper = run.iter().map(|(time, (_, high))| self.at(*time, *high));
            let lower = run.iter().rev().map(|(time, (low, _))| self.at(*time, *low));
            points(upper.chain(lower))
        };
        html! {
            @for run in runs(&band.edges) {
                polygon points=(outline(&run)) fill=(band.ink.colour()) fill-opacity=(LIGHT) {}
            }
        }
    }

    fn line(&self, line: &Line) -> Markup {
        let dashes = (line.stroke == Stroke::Dashed).then_some(DASHES);
        let (colour, squares) = (line.ink.colour(), line.stroke == Stroke::Squares);
        html! {
            @for run in runs(&line.values) {
                @let at = run.iter().map(|(time, value)| self.at(*time, *value));
                @if squares {
                    @for point in at { (square(point, line.ink)) }
                } @else if let [(time, value)] = run[..] {
                    @let (x, y) = self.at(time, value);
                    circle cx=(px(x)) cy=(px(y)) r="1" fill=(colour) {}
                } @else {
                    polyline points=(points(at)) fill="none" stroke=(colour) stroke-width="1.5" stroke-dasharray=[dashes] {}
                }
            }
        }
    }

    /// A level across the plot with its words at one of its ends, above it or, near the top, below, on a ground that keeps them readable.
    fn level(&self, number: usize, level: &Level) -> Markup {
        let y = self.y(level.value);
        let length = length_of(&level.words);
        // every other pair has its words at the other end, for limits lie close
        let at_end = number / 2 % 2 == 1;
        let (anchor, x) =
            if at_end { (Anchor::End, self.right - 5.0) } else { (Anchor::Start, self.left + 5.0) };
        let ground = if at_end { x - length } else { x };
        let near_top = (self.high - level.value) / (self.high - self.low) < 0.12;
        let (baseline, over) =
            if near_top { (Baseline::Below, y + 1.0) } else { (Baseline::Above, y - 14.0) };
        html! {
            line x1=(px(self.left)) y1=(px(y)) x2=(px(self.right)) y2=(px(y)) stroke=(BLACK) stroke-dasharray=(LEVEL_DASHES) {}
            rect x=(px(ground)) y=(px(over)) width=(px(length)) height="13" fill=(PAPER) fill-opacity="0.75" {}
            (text(&level.words, (x, y), BLACK, anchor, baseline))
        }
    }

    fn instant(&self, time: Time) -> Markup {
        let x = self.x(time);
        let (top, bottom) = (self.top, self.bottom);
        html! {
            @if (self.left..=self.right).contains(&x) {
                line x1=(px(x)) y1=(px(top)) x2=(px(x)) y2=(px(bottom)) stroke=(BLACK) stroke-opacity="0.55" {}
            }
        }
    }
}

/// The stretches without an interruption.
fn runs<T: Copy>(values: &[(Time, Option<T>)]) -> Vec<Vec<(Time, T)>> {
    values
        .split(|(_, value)| value.is_none())
        .map(|run| run.iter().filter_map(|(time, value)| Some((*time, (*value)?))).collect::<Vec<_>>())
        .filter(|run| !run.is_empty())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::{Ink, Line, Mark};
    use super::*;
    use crate::drawing::Drawing;

    #[test]
    fn a_mark_is_its_drawing_above_its_instant_with_words_and_marks_do_not_lie_on_each_other() {
        let from = Time::from_unix_ms(1_811_900_000_000);
        let at = |hours: f64| from.plus_hours(hours);
        let mark = |drawing, words: &str, hours| Mark { drawing, words: words.to_owned(), time: at(hours) };
        let chart = Chart {
            label: "height <of> the plant".to_owned(),
            unit: "m",
            from,
            until: at(1000.0),
            zone: chrono_tz::America::Halifax,
            nights: Vec::new(),
            holds: Vec::new(),
            bands: Vec::new(),
            lines: vec![Line {
                words: "ranger".to_owned(),
                ink: Ink::Blue,
                stroke: Stroke::Solid,
                values: vec![(at(0.0), Some(1.0)), (at(1000.0), Some(2.0))],
            }],
            levels: Vec::new(),
            marks: vec![
                mark(Drawing::Opening, "first crack", 500.0),
                mark(Drawing::Opening, "opening tonight", 501.0),
                mark(Drawing::FullOpen, "full open", 504.0),
                mark(Drawing::Closed, "closed", 560.0),
                mark(Drawing::Fruit, "fruit ripe", 2000.0),
            ],
        };
        let lines: Vec<u32> =
            Marks::lay_out(&chart, Size::WIDE.width).placed.iter().map(|(_, line)| *line).collect();
        assert_eq!(lines, [0, 1, 2, 0], "what lies outside is not drawn");
        let picture = svg(&chart, Size::WIDE).into_string();
        for (drawing, times) in
            [(Drawing::Opening, 2), (Drawing::FullOpen, 1), (Drawing::Closed, 1), (Drawing::Fruit, 0)]
        {
            assert_eq!(picture.matches(drawing.paths().0).count(), times, "{drawing:?}");
        }
        assert!(picture.contains("<title>first crack, 22 Jun 18:33"), "{picture}");
        assert!(picture.starts_with("<svg viewBox=") && picture.ends_with("</svg>"));
        assert!(picture.contains("aria-label=\"height &lt;of&gt; the plant\""));
        assert_eq!(picture.matches("</svg>").count(), 1);
    }
}
