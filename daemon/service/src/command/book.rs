//! `sign` and `acknowledge`: what a person tells the service, put into the store for it to take up.

use std::path::Path;

use bloom_model::event::EventKind;
use bloom_model::quantity::measure::Measure;
use bloom_model::reading::Observed;
use bloom_model::sign::{MovedMounts, PlainSign, Sign};
use bloom_model::time::Time;
use bloom_text::when;
use clap::Args;

use super::circumstances::Circumstances;
use super::when::said;
use super::{Failure, figure, named_bench, print, read, site_of, taken_up};
use crate::clock::wall_now;
use crate::config::Config;
use crate::keeper::as_recorded;
use crate::notify::standing::WAITS_AT_MOST;
use crate::page::words as page_words;
use crate::store::{Alarm, Entry, Reader};
use crate::words;

/// `anthesisd sign east-3 bract-dropped`
#[derive(Debug, Args)]
pub(super) struct SignArguments {
    /// The bench, or the accession of its plant
    bench: String,
    /// The sign: emerged, spadix-visible, edge-coloured, bract-dropped, last-bract-dropped, edge-loose, scent, flies, opened,
    /// full-open, not-opening, pollinated, pollen-collected, closed, collapsed, fruit-set, fruit-ripe, leaf or
    /// mount-moved
    sign: String,
    /// With mount-moved: the new distance from the overhead ranger down to the datum: 3.1 (metres), 310cm, "10 ft 2 in"
    #[arg(long, value_name = "METRES", value_parser = figure::metres)]
    tip: Option<f64>,
    /// With mount-moved: the new distance from the side ranger to the spathe edge: 0.95 (metres), 95cm
    #[arg(long, value_name = "METRES", value_parser = figure::metres)]
    rim: Option<f64>,
    /// Takes back a sign recorded for that time
    #[arg(long)]
    withdraw: bool,
    #[command(flatten)]
    circumstances: Circumstances,
}

/// `anthesisd acknowledge`
#[derive(Debug, Args)]
pub(super) struct AcknowledgeArguments {
    /// The alarm's id; all that stand if it is left out
    id: Option<String>,
    /// Acknowledges nothing: you come by this time of day, in two hours at most. Until then the alarms of the bench are not repeated (of
    /// the bench of the alarm that is named, if there are several)
    #[arg(long, value_name = "TIME")]
    coming: Option<String>,
    /// Who
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
}

pub(super) fn sign(path: &Path, arguments: &SignArguments) -> Result<(), Failure> {
    let config = read(path)?;
    let sign = read_sign(arguments)?;
    let bench = named_bench(&config, &arguments.bench)?;
    let around = &arguments.circumstances;
    let now = wall_now();
    let time = around.time(&config, now)?.unwrap_or(now);
    let (note, by) = around.note_and_by()?;
    Entry::Observed { bench: bench.to_string(), time, observed: Observed::Sign(sign), note, by }
        .put(&config.store_path)?;
    let time = said(time, now, config.site.timezone);
    let (done, before) = (recorded(&config, sign), stands(&config, &bench));
    print(format_args!("{bench}: {done}, {time}; {before}{}", taken_up(&config)))
}

pub(super) fn acknowledge(path: &Path, arguments: AcknowledgeArguments) -> Result<(), Failure> {
    let config = read(path)?;
    let (_, by) = words::note_and_by(None, arguments.by.as_deref()).map_err(Failure::Usage)?;
    let until = arguments.coming.as_ref().map(|coming| coming_by(coming, &config)).transpose()?;
    let mut meant = Reader::open(&config.store_path)?.standing()?;
    let all: Vec<String> = meant.iter().map(|alarm| alarm.event_id.clone()).collect();
    if meant.is_empty() {
        return Err(Failure::Failed("no alarm stands: there is nothing to acknowledge".to_owned()));
    }
    if let Some(id) = &arguments.id {
        meant.retain(|alarm| alarm.event_id == *id);
        if meant.is_empty() {
            return Err(Failure::Failed(format!("no alarm {id:?} stands; there are: {}", all.join(", "))));
        }
    }
    let (now, zone) = (wall_now(), config.site.timezone);
    let who = by.as_ref().map_or_else(String::new, |by| format!(" by {by}"));
    let of = |alarm: &Alarm| alarm.bench.as_deref().unwrap_or(&config.site.name).to_owned();
    let (entry, answers) = match until {
        // by their ids: what is raised before the service takes this up has not been seen
        None => {
            let answer = |alarm: &Alarm| {
                let since = said(alarm.raised, now, zone);
                let comes_back = by.is_none() && alarm.kind == EventKind::OpeningTonight.name();
                let then = if comes_back {
                    "without --by NAME it comes back after half an hour, unless a sign is recorded"
                } else {
                    "it is repeated no more"
                };
                let (of, up) = (of(alarm), taken_up(&config));
                format!("{of}: {} of {since} acknowledged{who}; {then}{up}", alarm.kind)
            };
            let answers: Vec<String> = meant.iter().map(answer).collect();
            let ids = Some(meant.into_iter().map(|alarm| alarm.event_id).collect());
            (Entry::Acknowledge { ids, by }, answers)
        }
        Some(until) => {
            let answers = meant.first().map(|alarm| {
                let (of, until, up) = (of(alarm), when::clock(until, zone), taken_up(&config));
                format!("{of}: repeats wait until {until}; nothing is acknowledged{up}")
            });
            let bench = the_place(&meant)?;
            let seen = meant.into_iter().map(|alarm| alarm.event_id).collect();
            (Entry::Coming { bench, seen, until, by }, answers.into_iter().collect())
        }
    };
    entry.put(&config.store_path)?;
    answers.iter().try_for_each(print)
}

/// The one place that these alarms are of: a bench, or `None` for the site itself.
fn the_place(alarms: &[Alarm]) -> Result<Option<String>, Failure> {
    let mut places = alarms.iter().map(|alarm| alarm.bench.as_deref());
    let first = places.next().flatten();
    if places.all(|place| place == first) {
        return Ok(first.map(str::to_owned));
    }
    let ids: Vec<&str> = alarms.iter().map(|alarm| alarm.event_id.as_str()).collect();
    Err(Failure::Usage(format!(
        "alarms of several places stand, and you come to one: name an alarm of it. There are: {}",
        ids.join(", ")
    )))
}

/// The instant by which somebody comes who names a time of day.
fn coming_by(text: &str, config: &Config) -> Result<Time, Failure> {
    let (now, zone) = (wall_now(), config.site.timezone);
    let until = now.next_local_time(words::clock(text).map_err(Failure::Usage)?, zone);
    if until > now + WAITS_AT_MOST {
        return Err(Failure::Usage(format!(
            "{text} is too far ahead, it is {} now: alarms wait for two hours at most. Say an earlier time, or acknowledge",
            when::clock(now, zone)
        )));
    }
    Ok(until)
}

fn read_sign(arguments: &SignArguments) -> Result<Sign, Failure> {
    let moved = MovedMounts { tip_m: arguments.tip, rim_m: arguments.rim };
    let text = match (arguments.sign.as_str(), moved) {
        ("mount-moved", MovedMounts { tip_m: None, rim_m: None }) => {
            return Err(Failure::Usage(
                "mount-moved wants the new distance: --rim METRES or --tip METRES".to_owned(),
            ));
        }
        ("mount-moved", moved) => Sign::MountMoved(moved).to_string(),
        (_, MovedMounts { tip_m: None, rim_m: None }) if arguments.withdraw => {
            format!("withdrawn {}", arguments.sign)
        }
        (sign, MovedMounts { tip_m: None, rim_m: None }) => sign.to_owned(),
        _ => return Err(Failure::Usage("--tip and --rim go with mount-moved only".to_owned())),
    };
    text.parse().map_err(|error| {
        let nearest = PlainSign::ALL.iter().map(|sign| sign.name()).max_by(|a, b| {
            strsim::jaro_winkler(a, &arguments.sign).total_cmp(&strsim::jaro_winkler(b, &arguments.sign))
        });
        Failure::Usage(format!("{error}; nearest is {}", nearest.unwrap_or_default()))
    })
}

/// What was done, in words: `bract-dropped recorded`.
fn recorded(config: &Config, sign: Sign) -> String {
    let length = |metres: f64| bloom_text::figure(Measure::Length, config.site.units, metres);
    match sign {
        Sign::Plain(sign) => format!("{} recorded", sign.name()),
        Sign::Withdrawn(sign) => format!("{} taken back, if it was recorded for that time", sign.name()),
        Sign::HeightWithdrawn => "a taped height taken back".to_owned(),
        Sign::MountMoved(MovedMounts { tip_m, rim_m }) => {
            let tip = tip_m.map(|tip_m| format!("overhead ranger {} above the datum", length(tip_m)));
            let rim = rim_m.map(|rim_m| format!("side ranger {} from the spathe edge", length(rim_m)));
            let moved: Vec<String> = tip.into_iter().chain(rim).collect();
            format!("mount-moved recorded, {}", moved.join(" and "))
        }
    }
}

/// How the bench stands by the record. What was recorded is safe: that it cannot be told is no failure.
fn stands(config: &Config, bench: &str) -> String {
    let site = Reader::open(&config.store_path).and_then(|reader| as_recorded(site_of(config), &reader));
    let view = site.ok().and_then(|site| site.benches().find(|known| *known.spec().id == *bench)?.view());
    let units = config.site.units;
    match view {
        None => "nothing else is known of it yet".to_owned(),
        Some(view) => {
            let height = page_words::height(Some(&view), units)
                .map_or_else(String::new, |height| format!(", {height}"));
            format!("until now it was {}{height}", page_words::stage(view.stage))
        }
    }
}
