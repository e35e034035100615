//! The paragraph at the head of a review, in plain words.

use bloom_model::event::EventKind;
use bloom_model::quantity::Variable;
use bloom_model::quantity::measure::Measure;
use bloom_model::time::Time;
use bloom_text::{capital, figure, number, when};
use chrono::NaiveDate;

use super::Review;
use super::climate::{Beyond, Extreme, NEAR_DEW_POINT_K};

impl Review {
    /// The plant that the bloom's events name, or else the one that stands there now.
    pub fn plant_name(&self) -> Option<&str> {
        let then = self.scope.story.as_ref().and_then(|story| story.plant.as_deref());
        then.or(self.spec.plant.as_deref())
    }

    /// Bench and plant: `AT-0412 on east-3`.
    pub fn who(&self) -> String {
        match self.plant_name() {
            Some(plant) => format!("{plant} on {}", self.scope.bench),
            None => self.scope.bench.to_string(),
        }
    }

    /// The first and the last local date of the span.
    pub fn dates(&self) -> (NaiveDate, NaiveDate) {
        let date = |time: Time| time.local_date(self.site.timezone);
        (date(self.scope.from), date(Time::from_unix_ms(self.scope.until.unix_ms() - 1)))
    }

    /// The span in words, `3 May 2027 to 6 June 2027`.
    pub fn span(&self) -> String {
        let (first, last) = self.dates();
        format!("{} to {}", when::long_date(first), when::long_date(last))
    }

    /// A figure with its unit, on one line wherever the paragraph is broken.
    fn text(&self, measure: Measure, value: f64) -> String {
        held(&match measure {
            Measure::Humidity => format!("{} %", number(measure, self.site.units, value, 0)),
            _ => figure(measure, self.site.units, value),
        })
    }

    /// An instant, likewise.
    fn moment(&self, time: Time) -> String {
        held(&self.local(time))
    }

    fn weekday(&self, time: Time) -> String {
        when::weekday(time, self.site.timezone, false)
    }

    fn long_day(&self, time: Time) -> String {
        when::weekday(time, self.site.timezone, true)
    }

    fn clock(&self, time: Time) -> String {
        when::clock(time, self.site.timezone)
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
            let bud = format!("The bud of {who} was seen on {seen}");
            let given_up = story.over.as_ref().filter(|(_, how)| *how == EventKind::Aborted);
            return Some(match (story.opening, given_up) {
                (Some(opening), _) => {
                    format!(
                        "{bud}; it opened on {}, which is not in this span.",
                        self.long_day(opening.began)
                    )
                }
                (None, Some((over, _))) => format!("{bud} and given up on {}.", self.long_day(*over)),
                (None, None) => format!("{bud}; up to the end of this span it did not open."),
            });
        };
        let mut words = format!(
            "{who} opened on {}: the first crack about {}, the alarm at {}",
            self.long_day(opening.began),
            self.clock(opening.began),
            self.clock(opening.alarm)
        );
        if let Some(full) = opening.full {
            let hours = full.hours_since(opening.began);
            words.push_str(&format!(
                ", fully open by {} ({hours:.1}\u{a0}h after the crack)",
                self.day_or_clock(full)
            ));
        }
        words.push('.');
        let closed =
            story.over.as_ref().filter(|(over, how)| *how == EventKind::Closed && *over < self.scope.until);
        if let Some((over, _)) = closed {
            let hours = over.hours_since(opening.began);
            words.push_str(&format!(
                " It had closed by {} ({hours:.0}\u{a0}h after the crack).",
                self.moment(*over)
            ));
        }
        let days = opening.began.days_since(story.seen);
        let days = if days < 1.5 { "a day".to_owned() } else { format!("{days:.0} days") };
        if story.bud_seen.is_some() {
            words.push_str(&format!(" The bud had been seen on {seen}, {days} before."));
        }
        Some(words)
    }

    fn day_or_clock(&self, time: Time) -> String {
        let same = self.opening().is_some_and(|opening| {
            time.local_date(self.site.timezone) == opening.began.local_date(self.site.timezone)
        });
        if same { self.clock(time) } else { self.moment(time) }
    }

    fn days(&self) -> u32 {
        self.scope.until.days_since(self.scope.from).round() as u32
    }

    fn plant_words(&self) -> Option<String> {
        let (height_m, when) = self.tallest()?;
        let mut words = format!(
            "At its tallest it stood {} high ({})",
            self.text(Measure::Length, height_m),
            self.moment(when)
        );
        if let Some((rate, when)) = self.greatest(|plant| plant.day.map(|rate| rate.m_h)) {
            words.push_str(&format!(
                ", and it grew fastest over the day up to {}: {}",
                self.moment(when),
                self.text(Measure::Advance, 24.0 * rate)
            ));
        }
        words.push('.');
        if let Some((advance_m, when)) = self.furthest_rim().filter(|_| self.opening().is_some()) {
            words.push_str(&format!(
                " Its rim came out {} ({})",
                self.text(Measure::Advance, advance_m),
                self.moment(when)
            ));
            if let Some((rate, when)) = self.fastest_rim_hour() {
                words.push_str(&format!(
                    ", fastest in the hour before {}: {}",
                    self.day_or_clock(when),
                    self.text(Measure::Advance, rate)
                ));
            }
            words.push('.');
        }
        Some(words)
    }

    fn night_air(&self) -> Option<String> {
        let [_, (_, nights), (_, days)] = self.parts();
        let temperature = &nights[Variable::TEMPERATURE];
        let coldest = temperature.lowest?;
        let mut words =
            format!("The nights were {} on average", self.text(Measure::Temperature, temperature.mean()?));
        if let Some(humidity) = nights[Variable::HUMIDITY].mean() {
            words.push_str(&format!(" at {}", self.text(Measure::Humidity, humidity)));
        }
        words.push_str(&format!(
            ", the coldest moment {} ({})",
            self.text(Measure::Temperature, coldest.value),
            self.moment(coldest.time)
        ));
        if let Some(day) = days[Variable::TEMPERATURE].mean() {
            words.push_str(&format!("; the days {}", self.text(Measure::Temperature, day)));
            if let Some(humidity) = days[Variable::HUMIDITY].mean() {
                words.push_str(&format!(" at {}", self.text(Measure::Humidity, humidity)));
            }
        }
        words.push('.');
        Some(words)
    }

    fn limit_words(&self) -> Option<String> {
        let [(_, whole), ..] = self.parts();
        let (mut out, mut kept) = (Vec::new(), Vec::new());
        for (variable, _) in Variable::limited() {
            let Some(band) = self.limits[variable].warning else { continue };
            let (name, measure) = (variable.short(), variable.measure());
            let figures = &whole[variable];
            if figures.measured_h <= 0.0 {
                continue;
            }
            let Beyond { below_h, above_h } = figures.beyond[0];
            let mut parts = Vec::new();
            for (hours, side, limit, furthest) in
                [(below_h, "below", band.from, figures.lowest), (above_h, "above", band.to, figures.highest)]
            {
                if let Some(Extreme { value, time, .. }) = furthest.filter(|_| hours > 0.0) {
                    parts.push(format!(
                        "{side} {} for {} ({} at {})",
                        self.text(measure, limit),
                        spent(hours),
                        self.text(measure, value),
                        self.moment(time)
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
                listed(&kept),
                if kept.len() > 1 { "their" } else { "its" }
            )));
        }
        (!sentences.is_empty()).then(|| sentences.join(" "))
    }

    fn dew_words(&self) -> Option<String> {
        let [(_, whole), ..] = self.parts();
        let spread = &whole[Variable::SPREAD];
        (spread.measured_h > 0.0).then_some(())?;
        let near = self.text(Measure::Difference, NEAR_DEW_POINT_K);
        if spread.beyond[0].below_h <= 0.0 {
            return Some(format!("The air never came within {near} of its dew point."));
        }
        let mut nights: Vec<(NaiveDate, f64)> = Vec::new();
        for (step, figures) in self.steps.iter().zip(&self.climate) {
            let hours = figures[Variable::SPREAD].beyond[0].below_h;
            match nights.last_mut() {
                Some((date, sum)) if *date == step.date => *sum += hours,
                _ => nights.push((step.date, hours)),
            }
        }
        let worst = nights.into_iter().max_by(|(_, a), (_, b)| a.total_cmp(b));
        let worst = worst
            .map(|(date, hours)| {
                format!("; the most on {} and the night after it, {}", held(&self.date(date)), spent(hours))
            })
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
        let seen = self.scope.story.as_ref().is_some_and(|story| story.seen == self.heat_from);
        let from = if seen { "From the bud being seen" } else { "From the beginning of this span" };
        Some(format!(
            "{from} to {until} it had {} of {}.",
            self.text(Measure::DegreeDays, total),
            self.heat_words()
        ))
    }

    fn missing_words(&self) -> Option<String> {
        if self.outages.first.is_none() {
            return Some("No sensor said anything in this span: there are no figures of it.".to_owned());
        }
        let out = &self.outages.listed;
        let worst = out.iter().max_by_key(|outage| outage.until - outage.from)?;
        let hours = worst.until.hours_since(worst.from);
        Some(format!(
            "Sensors fell silent {}; longest was the {}, for {} from {}. What happened then is not in these figures.",
            match out.len() + self.outages.further {
                1 => "once".to_owned(),
                2 => "twice".to_owned(),
                times => format!("{times} times"),
            },
            worst.quantity.words(),
            spent(hours),
            self.moment(worst.from)
        ))
    }
}

/// Hours in words: `40 min`, `5.3 h`.
pub(super) fn spent(hours: f64) -> String {
    held(&if hours < 1.0 { format!("{:.0} min", (hours * 60.0).max(1.0)) } else { format!("{hours:.1} h") })
}

/// Words that no line break parts.
fn held(words: &str) -> String {
    words.replace(' ', "\u{a0}")
}

/// `temperature, humidity and light`.
fn listed(words: &[&str]) -> String {
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => words.concat(),
    }
}
