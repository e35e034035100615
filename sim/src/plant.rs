//! What the plant of one season does: drawn first, from one stream, whatever the sensors and troubles are.

use chrono::{Days, NaiveDate};

use crate::calendar::{Calendar, ZONE};
use crate::dice::Dice;
use crate::growth::{Collapse, Growth, GrowthAsked, GrowthDraw};
use crate::house::House;
use crate::options::{PlantWishes, SeasonOptions};
use crate::rim::{Opening, OpeningShape, Passage, Rim, Swelling, Unfolding};
use crate::truth::{Outcome, Passing, Truth};

/// The side ranger sees the bud swell by no more than this in all, m.
const MOST_SWELLING_M: f64 = 0.06;

/// What was drawn of the plant, in hours since the season's start.
pub(crate) struct PlantDraw {
    pub(crate) outcome: Outcome,
    pub(crate) calendar: Calendar,
    pub(crate) emerged_h: f64,
    pub(crate) ends_h: f64,
    pub(crate) last_h: usize,
    pub(crate) growth: GrowthDraw,
    pub(crate) spathe: Rim,
    pub(crate) hot_days: Vec<usize>,
    slack_m: f64,
    slack_stays_h: f64,
    slack_wanted: bool,
    pub(crate) spadix_heat_k: f64,
    collapse_h: Option<f64>,
}

impl PlantDraw {
    pub(crate) fn draw(dice: &mut Dice, wishes: &PlantWishes, tallest_m: f64) -> Self {
        // most buds that somebody hangs a ranger over open; the rest keep the watcher honest
        let lot = dice.between(0.0, 1.0);
        let outcome = wishes.outcome.unwrap_or(match lot {
            lot if lot < 0.80 => Outcome::Opens,
            lot if lot < 0.92 => Outcome::Stops,
            _ => Outcome::Leaf,
        });
        let day_of_year = dice.between(0.0, 365.0) as u64;
        let new_year = NaiveDate::from_ymd_opt(2027, 1, 1).unwrap_or_default();
        let emerges_on = wishes.emerges_on.unwrap_or(new_year + Days::new(day_of_year));
        let calendar = Calendar::new(emerges_on);
        let emerged_h = dice.between(5.0, 12.0);
        // 31 (Bogor 2019) to 75 days, median 47 in the record
        let days = wishes.days_to_opening.unwrap_or(dice.around(31.5, 44.0, 75.0) as u32);
        let clock_h = draw_crack_clock(dice);
        let crack_h = calendar.at_clock(days, wishes.crack_hour.unwrap_or(clock_h));
        let ends_h = match outcome {
            Outcome::Opens => crack_h,
            Outcome::Stops | Outcome::Leaf => crack_h - 24.0 * dice.between(0.0, 12.0),
        };
        let asked = GrowthAsked { outcome, emerged_h, ends_h, plateau: wishes.plateau, tallest_m };
        // a stream of its own, for the number of tries is not known beforehand
        let mut growth = GrowthDraw::draw(&mut dice.branch(), &asked);

        let opening = draw_opening(dice, wishes, crack_h);
        let gap = draw_gap(dice, wishes, &calendar, days, crack_h);
        let swelling = draw_swelling(dice, ends_h);
        let unfolding = Unfolding {
            from_h: ends_h - 24.0 * dice.between(0.0, 4.0),
            hours: 24.0 * dice.between(4.0, 10.0),
            advance_m: dice.between(0.0, 0.12),
        };
        let opens = outcome == Outcome::Opens;
        let lasting_h = 24.0 * dice.between(12.0, 25.0);
        let collapse = Collapse {
            from_h: if opens { crack_h + 24.0 * dice.between(2.9, 5.0) } else { ends_h + lasting_h },
            hours: dice.between(2.0, 12.0),
            share: dice.between(0.3, 0.7),
        };
        let collapses = outcome != Outcome::Leaf;
        if collapses {
            growth.collapse(collapse);
        }
        let slack = SlackDraw::draw(dice, wishes, days);
        Self {
            outcome,
            calendar,
            emerged_h,
            ends_h,
            last_h: (collapse.from_h + 30.0).ceil() as usize,
            growth,
            spathe: Rim {
                swelling,
                opening: opens.then_some(opening),
                gap: gap.filter(|_| opens),
                slack: Vec::new(),
                bracts: Vec::new(),
                near: None,
                unfolding: (outcome == Outcome::Leaf).then_some(unfolding),
            },
            hot_days: slack.hot_days,
            slack_m: slack.advance_m,
            slack_stays_h: slack.stays_h,
            slack_wanted: slack.wanted,
            spadix_heat_k: dice.between(5.0, 13.0),
            collapse_h: collapses.then_some(collapse.from_h),
        }
    }

    /// Lets the spathe hang slack on the afternoons that the house made too hot, and back by the evening.
    pub(crate) fn hang_slack(&mut self, house: &House) {
        let hot = self.hot_days.iter().filter(|_| self.slack_wanted && self.outcome != Outcome::Leaf);
        self.spathe.slack = hot
            .filter_map(|day| house.slack_from_h(*day))
            .map(|from_h| Passage {
                from_h,
                rise_h: 1.5,
                stay_h: self.slack_stays_h,
                fall_h: 2.5,
                advance_m: self.slack_m,
            })
            .collect();
    }

    pub(crate) fn truth(&self, seed: u64, options: &SeasonOptions, growth: &Growth) -> Truth {
        let at = |hour| self.calendar.time(hour);
        let passing = |passage: &Passage| Passing {
            window: self.calendar.window(passage.from_h, passage.until_h()),
            advance_m: passage.advance_m,
        };
        let opening = self.spathe.opening.as_ref();
        let fastest_h = growth.fastest_h();
        Truth {
            seed,
            bench: options.bench.clone(),
            timezone: ZONE.name(),
            outcome: self.outcome,
            start: at(0.0),
            end: at(self.last_h as f64),
            emerged: at(self.emerged_h),
            fastest: at(fastest_h),
            peak_cm_day: 100.0 * growth.daily_m(fastest_h),
            slowing_began: opening.and_then(|_| growth.slowing_h()).map(at),
            growth_ended: (self.outcome != Outcome::Opens).then(|| at(self.ends_h)),
            crack: opening.map(|opening| at(opening.crack_h)),
            full_open: opening.map(|opening| at(opening.full_h)),
            closing_begins: opening.map(|opening| at(opening.closing_h)),
            closed: opening.map(|opening| at(opening.closed_h)),
            collapses: self.collapse_h.map(at),
            final_height_m: growth.height_m(self.ends_h),
            full_advance_m: opening.map(|opening| opening.full_m),
            opening_shape: opening.map(|opening| opening.shape),
            swelling_mm_day: 1000.0 * self.spathe.swelling.m_day,
            gap_that_closes: self.spathe.gap.as_ref().map(passing),
            slack: self.spathe.slack.iter().map(passing).collect(),
            bracts: self.spathe.bracts.iter().map(passing).collect(),
            troubles: options.troubles.names(),
            side_lost: None,
            knocks: Vec::new(),
            power_cuts: Vec::new(),
            people: Vec::new(),
        }
    }
}

/// Hot days before an opening and what they do to the spathe.
struct SlackDraw {
    hot_days: Vec<usize>,
    wanted: bool,
    advance_m: f64,
    stays_h: f64,
}

impl SlackDraw {
    fn draw(dice: &mut Dice, wishes: &PlantWishes, days: u32) -> Self {
        let hot = dice.chance(0.25);
        let slack = dice.chance(0.6);
        let before_d = dice.between(1.0, 9.0) as u32;
        let second = dice.chance(0.4);
        let wanted = wishes.slack.unwrap_or(hot && slack);
        let mut hot_days = Vec::new();
        if hot || wanted {
            let last = days.saturating_sub(before_d) as usize;
            hot_days.extend(second.then_some(last.saturating_sub(1)));
            hot_days.push(last);
        }
        Self { hot_days, wanted, advance_m: dice.between(0.01, 0.04), stays_h: dice.between(1.0, 3.0) }
    }
}

/// Local hour of the first crack: 21 of 25 clocked events of the record lie within 12:00 to 16:00, one at 07:00 and three
/// from 20:40 to 23:00.
fn draw_crack_clock(dice: &mut Dice) -> f64 {
    let lot = dice.between(0.0, 1.0);
    let (afternoon, morning, night) =
        (dice.around(12.0, 13.7, 16.0), dice.between(6.5, 8.0), dice.between(20.3, 23.2));
    match lot {
        lot if lot < 0.84 => afternoon,
        lot if lot < 0.89 => morning,
        _ => night,
    }
}

fn draw_opening(dice: &mut Dice, wishes: &PlantWishes, crack_h: f64) -> Opening {
    // 4 to 12 h in the record, median 8.5; some took a day or more (Fairchild 1998, Houston 2010)
    let usual_h = dice.around(4.0, 7.0, 12.0);
    let slow_h = dice.between(12.0, 24.0);
    let slow = dice.chance(0.12);
    let drawn = OpeningShape::ALL[(dice.between(0.0, 4.0) as usize).min(3)];
    let two_speed_h = dice.between(10.0, 18.0);
    // diameters of 81 to 161 cm from a closed spathe of some 30 cm (Bonn 1996)
    let full_m = wishes.full_advance_m.unwrap_or(dice.around(0.20, 0.42, 0.65));
    let shape = wishes.opening_shape.unwrap_or(drawn);
    let to_full_h = wishes.hours_to_full.unwrap_or(match shape {
        _ if slow => slow_h,
        OpeningShape::TwoSpeed => two_speed_h,
        _ => usual_h,
    });
    let full_h = crack_h + to_full_h;
    // closing from 14 h (Fairchild 2003) over 27 h (WIU 3) to 72 h (Meise 2018) after the crack
    let closing_h = (crack_h + dice.around(14.0, 26.0, 72.0)).max(full_h + 1.0);
    Opening {
        crack_h,
        full_h,
        full_m,
        shape,
        closing_h,
        closed_h: closing_h + dice.between(8.0, 24.0),
        comes_back: dice.between(0.5, 0.9),
    }
}

/// A gap of up to 5 cm that closes again the day before (Fairchild 2003).
fn draw_gap(
    dice: &mut Dice,
    wishes: &PlantWishes,
    calendar: &Calendar,
    days: u32,
    crack_h: f64,
) -> Option<Passage> {
    let drawn = dice.chance(0.15);
    let from_h = calendar.at_clock(days.saturating_sub(1), dice.between(10.0, 16.0));
    let mut gap = Passage {
        from_h,
        rise_h: dice.between(1.0, 3.0),
        stay_h: dice.between(0.5, 3.0),
        fall_h: dice.between(1.0, 4.0),
        advance_m: dice.between(0.01, 0.05),
    };
    // closed again well before the spathe really opens
    gap.from_h = gap.from_h.min(crack_h - 3.0 - (gap.until_h() - gap.from_h));
    wishes.gap_that_closes.unwrap_or(drawn).then_some(gap)
}

/// The bud swells by 1 to 4 mm a day towards the side ranger (girths at Como 2008, Houston 2010 and OSU 2011).
fn draw_swelling(dice: &mut Dice, until_h: f64) -> Swelling {
    let m_day = dice.between(0.001, 0.004);
    Swelling { from_h: (until_h - 24.0 * MOST_SWELLING_M / m_day).max(0.0), until_h, m_day }
}
