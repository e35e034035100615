//! The edge on the opening night: how far out, how fast, and the curve from the crack, with the hours in which full opening is expected.

use bloom_model::quantity::measure::Measure;
use bloom_model::time::Time;
use bloom_text::{figure, percent, when};
use maud::{Markup, html};

use super::House;
use super::sketch::{Field, full_hours, px, step};
use crate::facts::{BenchFacts, EdgeFacts};

/// Width and height of the curve, px.
const SIZE: (f64, f64) = (360.0, 176.0);
/// The curve's field: left, right, lower and upper end, px.
const FIELD: [f64; 4] = [34.0, 352.0, 154.0, 20.0];
/// The curve reaches at least so long beyond the crack, h.
const AT_LEAST_H: f64 = 8.0;
/// Quarter hours further apart than this are not joined, h.
const GAP_H: f64 = 0.75;
/// The curve's axis reaches at least so far, m.
const LEAST_M: f64 = 0.05;
/// A figure of the edge that is older than this is said to be old, h.
const OLD_H: f64 = 0.25;

/// The figures and the curve.
pub(super) fn shown(house: &House, bench: &BenchFacts, now: Time) -> Markup {
    let (units, zone) = (house.config.site.units, house.config.site.timezone);
    let state = bench.state.as_ref();
    let full = state.and_then(|state| state.full_open);
    let clock = |time| when::clock_seen_from(time, now, zone);
    html! {
        h2 { "The edge" }
        dl.large {
            @if let Some(edge) = &bench.edge {
                div { dt { "Out" } dd { (figure(Measure::Advance, units, edge.out_m)) } }
                @if let Some(rate) = edge.rate {
                    div { dt { "Speed" } dd { (figure(Measure::PerHour, units, rate.m_h)) } }
                }
            }
            @if let Some(since) = state.and_then(|state| state.full_open_since) {
                div { dt { "Fully open since" } dd { (clock(since)) } }
            } @else if let Some(full) = full {
                div { dt { "Full bloom likely" } dd { (clock(full.likely)) } }
            }
        }
        @if let Some(edge) = &bench.edge {
            @if now.hours_since(edge.seen) > OLD_H {
                p.remark { "▲ The edge was seen last " (when::ago(edge.seen, now)) ": these figures are old. Look at the plant." }
            }
            (curve(house, edge, bench, now))
            p.note {
                "First crack about " (clock(edge.began)) "."
                @if let Some(full) = full { " Band: full bloom between " (clock(full.earliest)) " and " (clock(full.latest)) ", four times in five." }
                @if let Some(opening) = state.and_then(|state| state.probability_opening) { " That it opens: " (percent(opening)) "." }
            }
        } @else {
            p.remark { "▲ No side ranger tells how far the edge is out. Look at the plant." }
        }
    }
}

fn curve(house: &House, edge: &EdgeFacts, bench: &BenchFacts, now: Time) -> Markup {
    let (units, zone) = (house.config.site.units, house.config.site.timezone);
    let full = bench.state.as_ref().and_then(|state| state.full_open);
    let from = edge.course.first().map_or(edge.began, |(time, _)| *time);
    let last = edge.course.last().map_or(edge.began, |(time, _)| *time);
    let least = edge.began.plus_hours(AT_LEAST_H);
    let until = full.map_or(last, |full| full.latest.plus_hours(0.5)).max(last).max(least);
    let most = edge.course.iter().fold(LEAST_M, |most, (_, out)| most.max(*out));
    let shown = |metres: f64| Measure::Advance.shown(units, metres);
    let by = step(shown(most) * 1.05, 4.0);
    let top = (shown(most) * 1.05 / by).ceil() * by;
    let [left, right, low, high] = FIELD;
    let field = Field { x: (left, right), y: (low, high), span: (from, until), values: (0.0, top) };
    let line: Vec<(Time, f64)> =
        edge.course.iter().map(|(time, out)| (*time, shown(*out).max(-0.02 * top))).collect();
    let runs = line.chunk_by(|before, after| after.0.hours_since(before.0) <= GAP_H);
    let every = if until.hours_since(from) > 15.0 { 6 } else { 3 };
    let words =
        format!("The edge since the first crack: now {} out", figure(Measure::Advance, units, edge.out_m));
    let levels = (0..=(top / by).round() as u32).map(|number| f64::from(number) * by);
    html! {
        svg.sketch #edge-curve viewBox={ "0 0 " (SIZE.0) " " (SIZE.1) } role="img" aria-label=(words) {
            @if let Some(full) = full {
                @let (x, end) = (field.at(full.earliest), field.at(full.latest));
                rect.band x=(px(x)) y=(px(high)) width=(px((end - x).max(2.0))) height=(px(low - high)) {}
                line.likely x1=(px(field.at(full.likely))) x2=(px(field.at(full.likely))) y1=(px(high)) y2=(px(low)) {}
            }
            @for value in levels {
                line.rule x1=(px(left)) x2=(px(right)) y1=(px(field.of(value))) y2=(px(field.of(value))) {}
                text x=(px(left - 5.0)) y=(px(field.of(value) + 4.0)) text-anchor="end" { (trimmed(value)) }
            }
            text x="4" y="11" { (Measure::Advance.unit(units)) " out" }
            @for time in full_hours((from, until), every, zone) {
                line.rule x1=(px(field.at(time))) x2=(px(field.at(time))) y1=(px(low)) y2=(px(low + 4.0)) {}
                text x=(px(field.at(time))) y=(px(low + 17.0)) text-anchor="middle" { (when::clock(time, zone)) }
            }
            @if (from..=until).contains(&now) {
                line.now x1=(px(field.at(now))) x2=(px(field.at(now))) y1=(px(high - 4.0)) y2=(px(low)) {}
                text.now x=(px(field.at(now))) y=(px(high - 8.0)) text-anchor="middle" { "now" }
            }
            @for run in runs { polyline.course points=(field.points(run)) {} }
        }
    }
}

/// A number of an axis, without needless decimals.
fn trimmed(value: f64) -> String {
    if (value - value.round()).abs() < 1e-6 { format!("{value:.0}") } else { format!("{value:.1}") }
}
