//! The drawing itself, with `plotters`.

mod legend;
mod marks;
mod pen;

use std::ops::Range;

use bloom_model::time::Time;
use maud::{Markup, PreEscaped, html};
use plotters::coord::ranged1d::{DefaultFormatting, KeyPointHint, Ranged};
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, VPos};

use super::axis::{levels, range, ticks};
use super::{Chart, ChartError, Size, Stroke};
use legend::Legend;
use marks::{MARKS_PX, Marks};
use pen::{
    Area, FINE, GREY, LEFT_PX, LEGEND_PX, LETTER, NIGHT, PAPER, RIGHT_PX, RULE, TEXT_PX, fault, fine, hours,
    square, text,
};

/// Room for the words below, px.
const BELOW_PX: u32 = 22;
/// Room of a tick's words, px.
const TICK_PX: u32 = 62;

/// A straight axis whose ticks are given.
struct Axis {
    range: Range<f64>,
    ticks: Vec<f64>,
}

impl Ranged for Axis {
    type FormatOption = DefaultFormatting;
    type ValueType = f64;

    fn map(&self, value: &f64, limit: (i32, i32)) -> i32 {
        let share = (value - self.range.start) / (self.range.end - self.range.start);
        limit.0 + (f64::from(limit.1 - limit.0) * share).round() as i32
    }

    fn key_points<Hint: KeyPointHint>(&self, hint: Hint) -> Vec<f64> {
        if hint.weight().allow_light_points() { Vec::new() } else { self.ticks.clone() }
    }

    fn range(&self) -> Range<f64> {
        self.range.clone()
    }
}

/// Draws a chart.
pub(super) fn svg(chart: &Chart, size: Size) -> Result<String, ChartError> {
    let legend = Legend::lay_out(chart, size.width);
    let marks = Marks::lay_out(chart, size.width);
    let above = legend.lines * LEGEND_PX + marks.lines * MARKS_PX + 8;
    let height = size.height + (legend.lines.saturating_sub(1)) * LEGEND_PX + marks.lines * MARKS_PX;
    let mut picture = String::new();
    let drawn = {
        let backend = SVGBackend::with_string(&mut picture, (size.width * FINE, height * FINE));
        let root = backend.into_drawing_area();
        legend.draw(&root)?;
        let drawn = plot(chart, &root, above, size, &marks)?;
        root.present().map_err(fault)?;
        drawn
    };
    Ok(placed(&picture, &chart.label, &drawn))
}

/// The picture without a size of its own, with the drawings, and with words for those who do not see it; inside a page it needs no name
/// space.
fn placed(picture: &str, label: &str, drawn: &Markup) -> String {
    let (head, rest) = picture.split_once('>').unwrap_or((picture, ""));
    let view_box = head
        .split_once("viewBox=\"")
        .and_then(|(_, rest)| rest.split_once('"'))
        .map_or("0 0 1 1", |(view_box, _)| view_box);
    let inside = rest.trim_end().trim_end_matches("</svg>");
    html! { svg viewBox=(view_box) role="img" aria-label=(label) { (PreEscaped(inside)) (drawn) } }
        .into_string()
}

/// Draws all but the legend, and gives the drawings that come on top.
fn plot(
    chart: &Chart,
    root: &Area<'_>,
    above: u32,
    size: Size,
    marks: &Marks<'_>,
) -> Result<Markup, ChartError> {
    let width_h = hours(chart, chart.until);
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
    let ticks = ticks(chart.from, chart.until, chart.zone, (size.width / TICK_PX) as usize);
    let times: Vec<f64> = ticks.iter().map(|tick| hours(chart, tick.time)).collect();

    let mut axes = ChartBuilder::on(root)
        .margin_top(fine(above))
        .margin_right(fine(RIGHT_PX))
        .x_label_area_size(fine(BELOW_PX))
        .y_label_area_size(fine(LEFT_PX))
        .build_cartesian_2d(
            Axis { range: 0.0..width_h, ticks: times.clone() },
            Axis { range: low..high, ticks: levels(low, high) },
        )
        .map_err(fault)?;

    let nights = chart.nights.iter().map(|(from, until)| {
        let (from, until) = (hours(chart, *from).max(0.0), hours(chart, *until).min(width_h));
        Rectangle::new([(from, low), (until, high)], NIGHT.filled())
    });
    axes.draw_series(nights).map_err(fault)?;
    let tick_words = |at: &f64| {
        let place = times.iter().position(|time| (time - at).abs() < 1e-9);
        place.map_or_else(String::new, |place| ticks[place].words.clone())
    };
    let numbers = |value: &f64| format!("{:.decimals$}", if value.abs() < 1e-9 { 0.0 } else { *value });
    axes.configure_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(RULE.stroke_width(FINE))
        .axis_style(GREY.stroke_width(FINE))
        .set_all_tick_mark_size(fine(3))
        .x_label_style(text(TEXT_PX, &GREY, HPos::Center, VPos::Top))
        .y_label_style(text(TEXT_PX, &GREY, HPos::Right, VPos::Center))
        .x_label_formatter(&tick_words)
        .y_label_formatter(&numbers)
        .draw()
        .map_err(fault)?;

    for band in &chart.bands {
        for run in runs(&band.edges) {
            let upper = run.iter().map(|(time, (_, high))| (hours(chart, *time), *high));
            let lower = run.iter().rev().map(|(time, (low, _))| (hours(chart, *time), *low));
            let outline: Vec<(f64, f64)> = upper.chain(lower).collect();
            axes.draw_series([Polygon::new(outline, band.ink.colour().mix(0.35))]).map_err(fault)?;
        }
    }
    for line in &chart.lines {
        let style = line.ink.colour().stroke_width(FINE * 3 / 2);
        for run in runs(&line.values) {
            let points: Vec<(f64, f64)> =
                run.iter().map(|(time, value)| (hours(chart, *time), *value)).collect();
            let drawn = match line.stroke {
                Stroke::Squares => points
                    .iter()
                    .try_for_each(|point| root.draw(&square(axes.backend_coord(point), line.ink))),
                _ if points.len() == 1 => axes
                    .draw_series(points.iter().map(|point| Circle::new(*point, fine(1), style.filled())))
                    .map(|_| ()),
                Stroke::Solid => axes.draw_series(LineSeries::new(points, style)).map(|_| ()),
                Stroke::Dashed => {
                    axes.draw_series(DashedLineSeries::new(points, fine(4), fine(3), style)).map(|_| ())
                }
            };
            drawn.map_err(fault)?;
        }
    }
    for (number, level) in chart.levels.iter().enumerate() {
        let across = [(0.0, level.value), (width_h, level.value)];
        let style = BLACK.stroke_width(FINE);
        axes.draw_series(DashedLineSeries::new(across, fine(6), fine(4), style)).map_err(fault)?;
        // every other pair has its words at the other end, for limits lie close
        let at_end = number / 2 % 2 == 1;
        let at = axes.backend_coord(&(if at_end { width_h } else { 0.0 }, level.value));
        let near_top = (high - level.value) / (high - low) < 0.12;
        level_words(root, &level.words, at, at_end, near_top)?;
    }
    let top = axes.backend_coord(&(0.0, high)).1;
    for mark in &chart.marks {
        let at = hours(chart, mark.time);
        if (0.0..=width_h).contains(&at) {
            let line = PathElement::new(vec![(at, low), (at, high)], BLACK.mix(0.55).stroke_width(FINE));
            axes.draw_series([line]).map_err(fault)?;
        }
    }
    let style = text(TEXT_PX, &GREY, HPos::Right, VPos::Bottom);
    root.draw(&Text::new(chart.unit.to_owned(), (fine(LEFT_PX) - fine(6), top - fine(4)), style))
        .map_err(fault)?;
    Ok(marks.drawn(chart.zone, top, |time| axes.backend_coord(&(hours(chart, time), high)).0))
}

/// The words of a level at one of its ends, above it or, near the top, below; on a ground that keeps them readable.
fn level_words(
    root: &Area<'_>,
    words: &str,
    (x, y): (i32, i32),
    at_end: bool,
    below: bool,
) -> Result<(), ChartError> {
    let length = (words.chars().count() as f64 * TEXT_PX * LETTER) as i32 * FINE as i32;
    let (horizontal, x, left) = match at_end {
        true => (HPos::Right, x - fine(5), x - fine(5) - length),
        false => (HPos::Left, x + fine(5), x + fine(5)),
    };
    let (vertical, over) = match below {
        true => (VPos::Top, y + fine(1)),
        false => (VPos::Bottom, y - fine(14)),
    };
    let corners = [(left, over), (left + length, over + fine(13))];
    root.draw(&Rectangle::new(corners, PAPER.mix(0.75).filled())).map_err(fault)?;
    let style = text(TEXT_PX - 1.0, &BLACK, horizontal, vertical);
    root.draw(&Text::new(words.to_owned(), (x, y), style)).map_err(fault)
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
        let picture = svg(&chart, Size::WIDE).unwrap();
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
