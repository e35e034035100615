//! `tape`: a height that a person taped, held against what else is known of the bud before it is recorded, and taken back if it was wrong.

use std::io::{self, BufRead, IsTerminal, Write};
use std::path::Path;
use std::sync::Arc;

use bloom_model::bench::Bench;
use bloom_model::growth::figures::{TAPE_SLIP_M, could_grow};
use bloom_model::quantity::Quantity;
use bloom_model::quantity::measure::{Measure, Units};
use bloom_model::reading::Observed;
use bloom_model::sign::{MovedMounts, Sign};
use bloom_model::time::Time;
use bloom_text::when;
use chrono::TimeDelta;
use clap::Args;

use super::circumstances::Circumstances;
use super::figure;
use super::figure::Typed;
use super::when::said;
use super::{Failure, named_bench, print, read, taken_up};
use crate::clock::wall_now;
use crate::config::Config;
use crate::store::{Entry, Reader, StoreError, Which};
use crate::words::shown;

/// Readings so long before and after are what the ranger says of an instant.
const AROUND: TimeDelta = TimeDelta::minutes(45);
/// Heights taped so long ago say nothing of the bud of today.
const SAME_BUD: TimeDelta = TimeDelta::days(30);
/// Heights that are named where the one to be taken back is not found.
const NAMED: usize = 3;

/// `anthesisd tape east-3 1.32`
#[derive(Debug, Args)]
pub(super) struct TapeArguments {
    /// The bench, or the accession of its plant
    bench: String,
    /// Height from the bench's datum: 1.87 (metres), 187 cm, 74 in, 6 ft 2 in
    #[arg(required_unless_present = "withdraw", conflicts_with = "withdraw", num_args = 1..=4)]
    height: Vec<String>,
    /// Takes back the height taped at the time of --at, the newest if that is left out; it stays in the record, marked
    #[arg(long)]
    withdraw: bool,
    /// Records a height that cannot be, by the ranger or by what was taped before
    #[arg(long)]
    anyway: bool,
    #[command(flatten)]
    circumstances: Circumstances,
}

pub(super) fn tape(path: &Path, arguments: &TapeArguments) -> Result<(), Failure> {
    let config = read(path)?;
    let bench = named_bench(&config, &arguments.bench)?;
    let (note, by) = arguments.circumstances.note_and_by()?;
    let now = wall_now();
    let at = arguments.circumstances.time(&config, now)?;
    let typed = match arguments.height.join(" ") {
        nothing if nothing.is_empty() => None,
        text => Some(height_typed(&text).map_err(Failure::Usage)?),
    };
    let tapes = Tapes::read(&config, &bench, now)?;
    let (observed, (time, answer)) = match typed {
        Some(typed) => (
            Observed::Value(Quantity::Height, typed.value),
            tapes.fits(typed, at.unwrap_or(now), arguments.anyway)?,
        ),
        None => (Observed::Sign(Sign::HeightWithdrawn), tapes.to_withdraw(at)?),
    };
    let bench = bench.to_string();
    Entry::Observed { bench, time, observed, note, by }.put(&config.store_path)?;
    print(format_args!("{answer}{}", taken_up(&config)))
}

/// A height that a plant may have.
fn height_typed(text: &str) -> Result<Typed, String> {
    let typed = figure::length(text)?;
    Quantity::Height.possible(typed.value).map(|value| Typed { value, ..typed }).map_err(|error| {
        let centimetres = Quantity::Height.possible(typed.value / 100.0).is_ok() && typed.bare;
        let meant = if centimetres { format!("; for centimetres type {text} cm") } else { String::new() };
        format!("{error}{meant}")
    })
}

/// What is known of a bench's heights.
struct Tapes<'a> {
    config: &'a Config,
    bench: &'a str,
    now: Time,
    reader: Reader,
    /// Heights that hold, those that wait for the service among them, in order of time.
    held: Vec<(Time, f64)>,
    /// Instants at which there is a height, whether it holds or not: another one of that instant would not be kept.
    taken: Vec<Time>,
}

impl<'a> Tapes<'a> {
    fn read(config: &'a Config, bench: &'a str, now: Time) -> Result<Self, Failure> {
        let reader = Reader::open(&config.store_path)?;
        let (always, never) = (Time::from_unix_ms(0), Time::from_unix_ms(i64::MAX));
        let mut heights = Vec::new();
        reader.series(bench, Quantity::Height, always, never, |time, height_m| {
            heights.push((time, height_m))
        })?;
        let mut withdrawn = reader.withdrawn_heights(bench, always, never)?;
        for entry in reader.pending_entries()? {
            match entry {
                Entry::Observed { bench: other, time, observed, .. } if other == bench => match observed {
                    Observed::Value(Quantity::Height, height_m) => heights.push((time, height_m)),
                    Observed::Sign(Sign::HeightWithdrawn) => withdrawn.push(time),
                    _ => {}
                },
                _ => {}
            }
        }
        heights.sort_by_key(|(time, _)| *time);
        let taken = heights.iter().map(|(time, _)| *time).collect();
        heights.retain(|(time, _)| !withdrawn.contains(time));
        Ok(Self { config, bench, now, reader, held: heights, taken })
    }

    /// When to record a height, and how it fits; asks a person first, or refuses, where it cannot be.
    fn fits(&self, typed: Typed, at: Time, anyway: bool) -> Result<(Time, String), Failure> {
        let height_m = typed.value;
        let mut time = at;
        while self.taken.contains(&time) {
            time = time + TimeDelta::seconds(1);
        }
        let ranger_m = self.ranger_m(at)?;
        let says = match ranger_m {
            Some(ranger_m) => format!("the ranger says {}", self.height(ranger_m)),
            None => match self.nearest(at) {
                Some((taped, before_m)) => {
                    format!(
                        "no ranger reading then; {} was taped {}",
                        self.height(before_m),
                        self.moment(taped)
                    )
                }
                None => "no ranger reading then, and nothing taped before".to_owned(),
            },
        };
        let answer = format!(
            "{}: {}{} taped, {}; {says}",
            self.bench,
            self.height(height_m),
            self.taken_as(typed),
            said(time, self.now, self.config.site.timezone)
        );
        let most_cm_day = self.most_cm_day();
        let doubt = match (ranger_m, self.nearest(at)) {
            (Some(ranger_m), _) if (height_m - ranger_m).abs() > TAPE_SLIP_M => {
                Some(format!("that is {} from it", self.height((height_m - ranger_m).abs())))
            }
            (None, Some(before)) if !could_grow(before, (at, height_m), most_cm_day) => Some(format!(
                "no bud comes from the one to the other in that time (at most {} a day)",
                self.height(most_cm_day / 100.0)
            )),
            _ => None,
        };
        if let Some(doubt) = doubt.filter(|_| !anyway) {
            let question = format!("{answer}: {doubt}");
            if !(io::stdin().is_terminal() && io::stderr().is_terminal()) {
                return Err(Failure::Failed(format!(
                    "{question}. Nothing is recorded; if it is meant, say so: anthesisd tape {} \"{height_m} m\" --anyway",
                    self.bench
                )));
            }
            if !agreed(&question)? {
                return Err(Failure::Failed("nothing is recorded".to_owned()));
            }
        }
        Ok((time, answer))
    }

    /// A number without a unit is in metres also where people read inches: that is said with both figures.
    fn taken_as(&self, typed: Typed) -> String {
        if typed.bare && self.config.site.units == Units::Us {
            let metres = bloom_text::figure(Measure::Length, Units::Metric, typed.value);
            format!(" ({metres}: a number without a unit is in metres)")
        } else {
            String::new()
        }
    }

    /// The height that is meant, and what is said of it.
    fn to_withdraw(&self, at: Option<Time>) -> Result<(Time, String), Failure> {
        let found = match at {
            None => self.held.last(),
            // people say minutes
            Some(at) => {
                let off = |time: Time| (time.unix_ms() - at.unix_ms()).abs();
                let within = self.held.iter().filter(|(time, _)| off(*time) < 60_000);
                within.min_by_key(|(time, _)| off(*time))
            }
        };
        let Some((time, height_m)) = found else {
            let newest: Vec<String> = (self.held.iter().rev().take(NAMED))
                .map(|(time, height_m)| format!("{} at {}", self.height(*height_m), self.moment(*time)))
                .collect();
            return Err(Failure::Failed(match (newest.is_empty(), at) {
                (true, _) => format!("{}: no height is taped: there is nothing to take back", self.bench),
                (false, _) => format!(
                    "{}: no height was taped then; the newest are {}: say its time by --at",
                    self.bench,
                    newest.join(", ")
                ),
            }));
        };
        let answer = format!(
            "{}: {} taped {} is taken back; it stays in the record, marked as withdrawn",
            self.bench,
            self.height(*height_m),
            self.moment(*time)
        );
        Ok((*time, answer))
    }

    /// The height taped nearest to an instant, of the same bud.
    fn nearest(&self, at: Time) -> Option<(Time, f64)> {
        let off = |time: Time| (time.unix_ms() - at.unix_ms()).abs();
        let same_bud = self.held.iter().filter(|(time, _)| off(*time) <= SAME_BUD.num_milliseconds());
        same_bud.min_by_key(|(time, _)| off(*time)).copied()
    }

    /// What the overhead ranger says of an instant: the model's own reading of what the record holds around it.
    fn ranger_m(&self, at: Time) -> Result<Option<f64>, StoreError> {
        let Some(spec) =
            self.config.benches.iter().map(|bench| &bench.spec).find(|spec| *spec.id == *self.bench)
        else {
            return Ok(None);
        };
        if spec.tip.is_none() {
            return Ok(None);
        }
        let mut bench = Bench::new(&Arc::new(self.config.site.clone()), spec.clone());
        let mut told = Vec::new();
        for quantity in [Quantity::Temperature, Quantity::Humidity, Quantity::TipRange] {
            self.reader.series(self.bench, quantity, at - AROUND - AROUND, at + AROUND, |time, value| {
                told.push((time, Observed::Value(quantity, value)));
            })?;
        }
        told.sort_by_key(|(time, observed)| match observed {
            Observed::Value(quantity, _) => (*time, *quantity),
            Observed::Sign(_) => (*time, Quantity::Temperature),
        });
        let mut moved = None;
        self.reader.readings(self.bench, Which::Signs, Time::from_unix_ms(0), at, |recorded| {
            if let Observed::Sign(Sign::MountMoved(MovedMounts { tip_m: Some(_), .. })) = recorded.observed {
                moved = Some(recorded.observed);
            }
        })?;
        let mut events = Vec::new();
        let begins = told.first().map(|(time, _)| *time);
        let all = begins.zip(moved).into_iter().chain(told);
        all.for_each(|(time, observed)| {
            bench.take(time, &observed, &mut events);
        });
        Ok(bench.ranger_height_m(at))
    }

    fn most_cm_day(&self) -> f64 {
        let spec = self.config.benches.iter().map(|bench| &bench.spec).find(|spec| *spec.id == *self.bench);
        spec.map_or(0.0, |spec| spec.profile.bud_growth_max_cm_day)
    }

    fn moment(&self, time: Time) -> String {
        when::moment(time, self.config.site.timezone)
    }

    fn height(&self, metres: f64) -> String {
        bloom_text::figure(Measure::Length, self.config.site.units, metres)
    }
}

/// Asks on the terminal; only a plain yes is one.
fn agreed(question: &str) -> Result<bool, Failure> {
    let ask = || -> io::Result<String> {
        let mut error = io::stderr();
        write!(error, "{}. Record it all the same? [y/N] ", shown(question))?;
        error.flush()?;
        let mut line = String::new();
        io::stdin().lock().read_line(&mut line)?;
        Ok(line)
    };
    let line = ask().map_err(super::failed)?;
    Ok(matches!(line.trim().to_lowercase().as_str(), "y" | "yes"))
}
