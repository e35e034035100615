//! The paragraph at the head of a review, in plain words.

use bloom_model::time::Time;

use super::Review;
use super::calendar::{long_date, short_date};
use super::climate::{Air, Beyond, NEAR_DEW_POINT_K};
use super::measure::Measure;
use super::tables::air_words;

impl Review {
    /// Bench and plant: `AT-0412 on east-3`.
    pub fn who(&self) -> String {
        match &self.spec.plant {
            Some(plant) => format!("{plant} on {}", self.scope.bench),
            None => self.scope.bench.to_string(),
        }
    }

    /// The span in words, `3 May 2027 to 6 June 2027`.
    pub fn span(&self) -> String {
        let date = |time: Time| time.local_date(self.site.timezone);
        let last = Time::from_unix_ms(self.scope.until.unix_ms() - 1);
        format!("{} to {}", long_date(date(self.scope.from)), long_date(date(last)))
    }

    fn text(&self, measure: Measure, value: f64) -> String {
        match measure {
            Measure::Humidity => format!("{} %", measure.number(self.site.units, value, 0)),
            _ => measure.text(self.site.units, value),
        }
    }

    fn weekday(&self, time: Time) -> String {
        time.utc().with_timezone(&self.site.timezone).format("%A %-d %B").to_string()
    }

    fn clock(&self, time: Time) -> String {
        time.utc().with_timezone(&self.site.timezone).format("%H:%M").to_string()
    }

    /// What a grower wants to know first.
    pub fn paragraph(&self) -> String {
        let sentences = [
            self.opening_words(),
            self.plant_words(),
            self.night_air(),
            self.limit_words(),
            self.dew_words(),
        ];
        let mut words: Vec<String> = sentences.into_iter().flatten().collect();
        words.extend(self.heat_sentence());
        words.extend(self.missing_words());
        words.join(" ")
    }

    fn opening_words(&self) -> Option<String> {
        let who = self.who();
        let Some(story) = &self.scope.story else {
            return Some(format!("{who}: no bloom in this span of {} days.", self.days()));
        };
        let seen = self.weekday(story.seen);
        let Some(opening) = self.opening() else {
            return Some(match &story.over {
                Some((over, _)) => {
                    format!("The bud of {who} was seen on {seen} and given up on {}.", self.weekday(*over))
                }
                None => format!("The bud of {who} was seen on {seen}; in this span it did not open."),
            });
        };
        let mut words = format!(
            "{who} opened on {}: the first crack about {}, the alarm at {}",
            self.weekday(opening.began),
            self.clock(opening.began),
            self.clock(opening.alarm)
        );
        if let Some(full) = opening.full {
            let hours = full.hours_since(opening.began);
            words.push_str(&format!(
                ", fully open by {} ({hours:.1} h after the crack)",
                self.day_or_clock(full)
            ));
        }
        let days = opening.began.days_since(story.seen);
        words.push_str(&format!(". The bud had been seen on {seen}, {days:.0} days before."));
        Some(words)
    }

    fn day_or_clock(&self, time: Time) -> String {
        let same = self.opening().is_some_and(|opening| {
            time.local_date(self.site.timezone) == opening.began.local_date(self.site.timezone)
        });
        if same { self.clock(time) } else { self.local(time) }
    }

    fn days(&self) -> u32 {
        self.scope.until.days_since(self.scope.from).round() as u32
    }

    fn plant_words(&self) -> Option<String> {
        let (height_m, when) = self.tallest()?;
        let mut words = format!(
            "At its tallest it stood {} high ({})",
            self.text(Measure::Height, height_m),
            self.local(when)
        );
        if let Some((rate, when)) = self.greatest(|plant| plant.day.map(|rate| rate.m_h)) {
            words.push_str(&format!(
                ", and it grew fastest over the day up to {}: {}",
                self.local(when),
                self.text(Measure::Advance, 24.0 * rate)
            ));
        }
        words.push('.');
        if let Some((advance_m, when)) = self.furthest_rim().filter(|_| self.opening().is_some()) {
            words.push_str(&format!(
                " Its rim came out {} ({})",
                self.text(Measure::Advance, advance_m),
                self.local(when)
            ));
            if let Some((rate, when)) = self.fastest_rim_hour() {
                words.push_str(&format!(
                    ", fastest in the hour before {}: {}",
                    self.clock(when),
                    self.text(Measure::Advance, rate)
                ));
            }
            words.push('.');
        }
        Some(words)
    }

    fn night_air(&self) -> Option<String> {
        let [_, (_, nights), (_, days)] = self.parts();
        let temperature = &nights[Air::Temperature as usize];
        let coldest = temperature.lowest?;
        let mut words =
            format!("The nights were {} on average", self.text(Measure::Temperature, temperature.mean()?));
        if let Some(humidity) = nights[Air::Humidity as usize].mean() {
            words.push_str(&format!(" at {}", self.text(Measure::Humidity, humidity)));
        }
        words.push_str(&format!(
            ", the coldest moment {} ({})",
            self.text(Measure::Temperature, coldest.value),
            self.local(coldest.time)
        ));
        if let Some(day) = days[Air::Temperature as usize].mean() {
            words.push_str(&format!("; the days {}", self.text(Measure::Temperature, day)));
            if let Some(humidity) = days[Air::Humidity as usize].mean() {
                words.push_str(&format!(" at {}", self.text(Measure::Humidity, humidity)));
            }
        }
        words.push('.');
        Some(words)
    }

    fn limit_words(&self) -> Option<String> {
        let [(_, whole), ..] = self.parts();
        let (mut out, mut kept) = (Vec::new(), Vec::new());
        for air in [Air::Humidity, Air::Temperature, Air::Deficit] {
            let Some(band) = self.limits[air as usize][0] else { continue };
            let (name, measure) = air_words(air);
            let figures = &whole[air as usize];
            if figures.measured_h <= 0.0 {
                continue;
            }
            let Beyond { below_h, above_h } = figures.beyond[0];
            let mut parts = Vec::new();
            for (hours, side, limit) in [(below_h, "below", band.from), (above_h, "above", band.to)] {
                if hours > 0.0 {
                    parts.push(format!(
                        "{} for {}",
                        format_args!("{side} {}", self.text(measure, limit)),
                        spent(hours)
                    ));
                }
            }
            if parts.is_empty() {
                kept.push(name)
            } else {
                out.push(format!("{name} was {}", parts.join(" and ")))
            }
        }
        let mut sentences = Vec::new();
        if !out.is_empty() {
            sentences.push(capital(&format!("{}.", out.join("; "))));
        }
        if !kept.is_empty() {
            sentences.push(capital(&format!(
                "{} never left {} limits.",
                kept.join(" and "),
                if kept.len() > 1 { "their" } else { "its" }
            )));
        }
        (!sentences.is_empty()).then(|| sentences.join(" "))
    }

    fn dew_words(&self) -> Option<String> {
        let [(_, whole), ..] = self.parts();
        let spread = &whole[Air::Spread as usize];
        (spread.measured_h > 0.0).then_some(())?;
        let near = self.text(Measure::Difference, NEAR_DEW_POINT_K);
        if spread.beyond[0].below_h <= 0.0 {
            return Some(format!("The air never came within {near} of its dew point."));
        }
        let mut nights: Vec<(chrono::NaiveDate, f64)> = Vec::new();
        for (step, figures) in self.steps.iter().zip(&self.climate) {
            let hours = figures[Air::Spread as usize].beyond[0].below_h;
            match nights.last_mut() {
                Some((date, sum)) if *date == step.date => *sum += hours,
                _ => nights.push((step.date, hours)),
            }
        }
        let worst = nights.into_iter().max_by(|(_, a), (_, b)| a.total_cmp(b));
        let worst = worst
            .map(|(date, hours)| format!(", most of it on {} ({})", short_date(date), spent(hours)))
            .unwrap_or_default();
        Some(format!(
            "The air was within {near} of its dew point, where water may condense, for {}{worst}.",
            spent(spread.beyond[0].below_h)
        ))
    }

    fn heat_sentence(&self) -> Option<String> {
        let (total, until) = match (self.heat_at_crack, self.plant.last()) {
            (Some(total), _) => (total, "the first crack"),
            (None, Some(plant)) => (plant.degree_days?, "the end"),
            _ => return None,
        };
        let from = if self.scope.story.is_some() { "From the bud being seen" } else { "From the beginning" };
        Some(format!(
            "{from} to {until} it had {} ({}).",
            self.text(Measure::DegreeDays, total),
            self.heat_words()
        ))
    }

    fn missing_words(&self) -> Option<String> {
        let out = &self.outages.listed;
        let worst = out.iter().max_by_key(|outage| outage.until - outage.from)?;
        let hours = worst.until.hours_since(worst.from);
        Some(format!(
            "Sensors fell silent {}, the longest time {} for {} from {}: what happened then is not in these figures.",
            match out.len() + self.outages.further {
                1 => "once".to_owned(),
                times => format!("{times} times"),
            },
            worst.quantity.words(),
            spent(hours),
            self.local(worst.from)
        ))
    }
}

/// Hours in words: `40 min`, `5.3 h`.
pub(super) fn spent(hours: f64) -> String {
    if hours < 1.0 { format!("{:.0} min", (hours * 60.0).max(1.0)) } else { format!("{hours:.1} h") }
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
