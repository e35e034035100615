//! The drawings above a picture.

use bloom_model::time::Time;
use bloom_text::when;
use chrono_tz::Tz;
use maud::{Markup, html};

use super::super::{Chart, Mark};
use super::pen::{LEFT_PX, RIGHT_PX, hours, px};
use crate::drawing::Drawing;

/// One line of drawings above the plot, px.
pub(super) const MARKS_PX: f64 = 21.0;
/// Lines of drawings above the plot at most.
const MARK_LINES: usize = 5;
/// The height of a drawing, px.
const MARK_PX: f64 = 19.6;

/// The drawings of the marks, in as many lines as keep them apart.
pub(super) struct Marks<'c> {
    pub(super) placed: Vec<(&'c Mark, u32)>,
    pub(super) lines: u32,
}

impl<'c> Marks<'c> {
    const APART_PX: f64 = 15.0;

    pub(super) fn lay_out(chart: &'c Chart, width: u32) -> Self {
        let px_per_h = (f64::from(width) - LEFT_PX - RIGHT_PX) / hours(chart, chart.until).max(1e-9);
        let mut taken = [f64::NEG_INFINITY; MARK_LINES];
        let mut placed = Vec::new();
        let mut lines = 0;
        for mark in &chart.marks {
            let at = hours(chart, mark.time) * px_per_h;
            if mark.time < chart.from || mark.time > chart.until {
                continue;
            }
            // where all lines are full there, the drawing goes where there is most room
            let line = (0..MARK_LINES)
                .find(|line| at - taken[*line] >= Self::APART_PX)
                .or_else(|| (0..MARK_LINES).min_by(|a, b| taken[*a].total_cmp(&taken[*b])))
                .unwrap_or(0);
            taken[line] = at;
            placed.push((mark, line as u32));
            lines = lines.max(line as u32 + 1);
        }
        Self { placed, lines }
    }

    /// Each above its instant, with words for who rests a pointer on it. `top` is where the plot ends, `x` where an instant is in it.
    pub(super) fn drawn(&self, zone: Tz, top: f64, x: impl Fn(Time) -> f64) -> Markup {
        let scale = MARK_PX / Drawing::HEIGHT;
        let place = |mark: &Mark, line: u32| {
            let left = x(mark.time) - scale * Drawing::WIDTH / 2.0;
            let over = top - 1.0 - f64::from(line) * MARKS_PX - MARK_PX;
            format!("translate({} {}) scale({scale:.3})", px(left), px(over))
        };
        html! {
            @for (mark, line) in &self.placed {
                g transform=(place(mark, *line)) {
                    title { (mark.words) ", " (when::date_clock(mark.time, zone, false)) }
                    (mark.drawing.in_ink("#000"))
                }
            }
        }
    }
}
