//! The sheet that `status` prints: within 80 columns, in plain text. What is wrong begins with an exclamation mark.

use std::path::Path;

use bloom_model::bench::BenchView;
use bloom_model::event::{EventClass, EventKind};
use bloom_model::forecast::Tidings;
use bloom_model::quantity::measure::Measure;
use bloom_text::{Words, capital, figure, percent, when};

use super::{Part, Status, is_amiss, is_beyond};
use crate::config::{Config, DEFAULT_PATH};
use crate::facts::{AlarmFacts, BenchFacts};
use crate::page::{verdict, words};

/// Columns of a terminal as it is opened.
const COLUMNS: usize = 80;

/// Of a house, or with `of_bench` of one bench of it.
pub(super) fn lines(status: &Status, config: &Config, of_bench: bool, path: &Path) -> Vec<String> {
    let sheet = Sheet { status, config, path };
    let mut lines = sheet.heading();
    lines.extend(status.alarms.iter().flat_map(|alarm| sheet.alarm(alarm)));
    lines.push(String::new());
    lines.extend(sheet.benches());
    if of_bench {
        lines.extend(status.benches.iter().flat_map(|bench| sheet.climate(bench)));
    }
    lines.push(String::new());
    lines.extend(sheet.machine());
    lines
}

struct Sheet<'a> {
    status: &'a Status,
    config: &'a Config,
    path: &'a Path,
}

impl Sheet<'_> {
    fn heading(&self) -> Vec<String> {
        let Status { site, time, service_runs, .. } = self.status;
        let mut lines = vec![format!("{site}, {}", when::moment(*time, self.config.site.timezone))];
        if !service_runs {
            lines.push("! THE SERVICE IS NOT RUNNING: nothing is watched, no alarm comes.".to_owned());
            lines.push("  Start it:  sudo systemctl start anthesisd".to_owned());
            lines.push("  By hand:   anthesisd run".to_owned());
        }
        lines.extend(wrapped(&format!("{}.", capital(&self.status.summary())), "", ""));
        lines
    }

    fn seen(&self, time: bloom_model::time::Time) -> String {
        when::clock_seen_from(time, self.status.time, self.config.site.timezone)
    }

    fn alarm(&self, alarm: &AlarmFacts) -> Vec<String> {
        let drill = EventKind::of(&alarm.event).is_some_and(|kind| kind.row().class == EventClass::Drill);
        let name = if drill { "TEST ALARM" } else { "ALARM" };
        let bench = alarm.bench.as_deref().unwrap_or(&self.status.site);
        let since =
            format!("since {} ({})", self.seen(alarm.raised), when::ago(alarm.raised, self.status.time));
        let mut lines = vec![String::new()];
        lines.extend(wrapped(&format!("{name} {bench}, {}, {since}", alarm.event), "! ", "  "));
        lines.extend(wrapped(&alarm.message, "  ", "  "));
        if let Some(time) = alarm.coming {
            let who = alarm.coming_by.as_deref().unwrap_or("somebody");
            let coming = format!("{who} comes by {}; repeats wait until then", self.seen(time));
            lines.extend(wrapped(&coming, "  ", "  "));
        }
        match alarm.acknowledged {
            Some(time) => {
                let by = alarm.acknowledged_by.as_ref().map_or_else(String::new, |by| format!(" by {by}"));
                let back = alarm.comes_back.map_or_else(String::new, |time| {
                    let time = self.seen(time);
                    format!("; nobody said who: it comes back at {time} unless a sign is recorded")
                });
                lines.extend(wrapped(&format!("acknowledged {}{by}{back}", self.seen(time)), "  ", "  "));
            }
            None => lines.push(format!("  {} acknowledge {}", self.program(), alarm.id)),
        }
        lines
    }

    /// The program with the configuration that it was given: a command that is shown must do what it says.
    fn program(&self) -> String {
        if self.path == Path::new(DEFAULT_PATH) {
            "anthesisd".to_owned()
        } else {
            format!("anthesisd --config {}", self.path.display())
        }
    }

    /// A line a bench, and below it what is wrong there.
    fn benches(&self) -> Vec<String> {
        let rows: Vec<[String; 6]> = self.status.benches.iter().map(|bench| self.row(bench)).collect();
        let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
        let widths: Vec<usize> = (0..6).map(width).collect();
        let mut lines = Vec::new();
        for (row, bench) in rows.iter().zip(&self.status.benches) {
            lines.extend(flowing(if is_amiss(bench) { "! " } else { "  " }, row, &widths));
            lines.extend(self.amiss(bench).iter().flat_map(|wrong| wrapped(wrong, "    ! ", "      ")));
        }
        lines
    }

    fn row(&self, bench: &BenchFacts) -> [String; 6] {
        let units = self.config.site.units;
        let growth = bench.state.as_ref().and_then(|state| state.growth.growth_cm_day);
        [
            bench.bench.to_string(),
            words::stage(bench.stage()).to_owned(),
            words::height(bench.state.as_ref(), units).unwrap_or_else(|| "-".to_owned()),
            growth.map_or_else(|| "-".to_owned(), |cm| figure(Measure::PerDay, units, cm / 2_400.0)),
            bench
                .newest_reading
                .map_or_else(|| "never read".to_owned(), |time| when::ago(time, self.status.time)),
            bench.state.as_ref().and_then(|state| self.window(bench, state)).unwrap_or_default(),
        ]
    }

    /// The days in which a bud opens, or the hours of the night in which a bloom can be pollinated.
    fn window(&self, bench: &BenchFacts, state: &BenchView) -> Option<String> {
        let zone = self.config.site.timezone;
        if let Some(receptive) = &state.receptive {
            let until = when::day_clock(receptive.until, zone);
            return Some(format!("pollinate {} to {until}", self.seen(receptive.from)));
        }
        match state.outlook?.outlook.tidings() {
            Tidings::Stopped(never) => Some(format!("likely stopped ({})", percent(never))),
            Tidings::Opens { dates, .. } => {
                let day = |date| when::short_date(date, false);
                let tonight = bench.tonight.map_or_else(String::new, |tonight| {
                    format!(", tonight {}", percent(tonight.probability))
                });
                Some(format!("opens {} to {}{tonight}", day(dates.earliest), day(dates.latest)))
            }
        }
    }

    fn amiss(&self, bench: &BenchFacts) -> Vec<String> {
        let now = self.status.time;
        let mut wrong = Vec::new();
        match bench.newest_reading {
            Some(newest) if bench.silent => {
                wrong.push(format!("not read for {}", when::brief_span(now - newest)));
            }
            _ if bench.silent => wrong.push("nothing was ever read of it".to_owned()),
            _ if !bench.sensors_out.is_empty() => wrong.push(verdict::sensors_out(bench)),
            _ => {}
        }
        if !bench.silent {
            let beyond = bench.climate.iter().filter(|facts| is_beyond(facts));
            wrong.extend(beyond.filter_map(|facts| self.climate_figure(facts)));
        }
        wrong
    }

    fn climate_figure(&self, facts: &crate::facts::ClimateFacts) -> Option<String> {
        let units = self.config.site.units;
        let value = words::climate_value(facts, units)?;
        let (_, limits) = words::climate_limits(facts, units);
        Some(format!("{} {value}, {limits}", facts.of.short()))
    }

    /// The quantities of one bench that are as they should be; the others were told.
    fn climate(&self, bench: &BenchFacts) -> Vec<String> {
        let well = bench.climate.iter().filter(|facts| bench.silent || !is_beyond(facts));
        well.filter_map(|facts| self.climate_figure(facts)).map(|line| format!("    {line}")).collect()
    }

    /// The service, and all that it hangs on.
    fn machine(&self) -> Vec<String> {
        let Status { service_runs, started, benches, troubles, .. } = self.status;
        let mut lines = Vec::new();
        let started = started.map_or_else(String::new, |time| format!(", last started {}", self.seen(time)));
        lines.push(if *service_runs {
            format!("  service: runs{started}")
        } else {
            format!("! service: does not run{started}")
        });
        let newest = benches.iter().filter_map(|bench| bench.newest_reading.map(|time| (time, &bench.bench)));
        if let Some((time, bench)) = newest.max() {
            lines.push(format!("  newest reading: {}, of {bench}", when::ago(time, self.status.time)));
        }
        for intake in &self.status.intakes {
            lines.extend(part("intake", intake, if *service_runs { "is read" } else { "is there" }));
        }
        match &self.status.broker {
            Some(broker) => {
                let waiting = match self.status.messages_waiting {
                    0 => "answers; no message waits for it".to_owned(),
                    1 => "answers; one message waits for it".to_owned(),
                    many => format!("answers; {many} messages wait for it"),
                };
                lines.extend(part("broker", broker, &waiting));
            }
            None => lines.push("  broker: none configured".to_owned()),
        }
        lines.extend(part("store", &self.status.store, "can be read"));
        for trouble in troubles {
            let since = self.seen(trouble.time);
            lines.extend(wrapped(&format!("{since}: {}", trouble.message), "! ", "  "));
        }
        if let Some(hottest) = &self.status.hottest {
            let feels =
                Words::new(&self.config.site, &self.status.site, None).temperature(hottest.heat_index_c);
            lines.extend(wrapped(
                &format!(
                    "hot for people at {}: it feels like {feels}; short spells, water, a second person",
                    hottest.bench
                ),
                "! ",
                "  ",
            ));
        }
        lines
    }
}

fn part(kind: &str, part: &Part, well: &str) -> Vec<String> {
    let mark = if part.fault.is_some() { "! " } else { "  " };
    wrapped(&format!("{kind} {}: {}", part.name, part.fault.as_deref().unwrap_or(well)), mark, "    ")
}

/// Cells in their columns; what does not fit goes on a line below.
fn flowing(mark: &str, cells: &[String], widths: &[usize]) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = mark.to_owned();
    for (place, (cell, width)) in cells.iter().zip(widths).enumerate() {
        if place > 0 && line.chars().count() + cell.chars().count() > COLUMNS {
            lines.push(line.trim_end().to_owned());
            line = "    ".to_owned();
        }
        line.push_str(&format!("{cell:<width$}  "));
    }
    lines.push(line.trim_end().to_owned());
    lines
}

/// Words on lines of at most [`COLUMNS`], `first` before the first of them and `then` before the others. A word that is longer than a
/// line is not broken: it may be a command or a path.
fn wrapped(text: &str, first: &str, then: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let (mut line, mut empty) = (first.to_owned(), true);
    for word in text.split_whitespace() {
        if !empty && line.chars().count() + 1 + word.chars().count() > COLUMNS {
            lines.push(std::mem::replace(&mut line, then.to_owned()));
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_and_cells_go_on_below_and_are_not_broken() {
        let long = "Open it tonight. ".repeat(20);
        let lines = wrapped(&long, "! ", "  ");
        assert!(lines.len() > 4 && lines.iter().all(|line| line.chars().count() <= COLUMNS), "{lines:?}");
        let words = |text: &str| text.split_whitespace().filter(|word| *word != "!").count();
        assert_eq!(lines.iter().map(|line| words(line)).sum::<usize>(), words(&long));

        let cells = ["east-3", "in bud", "1.32 m", "opens 28 May to 2 Jun, tonight 16 %"].map(str::to_owned);
        let one = flowing("  ", &cells, &[8, 8, 6, 10]);
        assert_eq!(one, ["  east-3    in bud    1.32 m  opens 28 May to 2 Jun, tonight 16 %"]);
        let two = flowing("! ", &cells, &[40, 8, 6, 10]);
        assert_eq!(two.len(), 2, "{two:?}");
        assert!(two[1].starts_with("    opens"), "{two:?}");
    }
}
