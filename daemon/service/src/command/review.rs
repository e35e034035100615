//! `review`: the record of a bloom or of a span of days, as a page, as figures for a spreadsheet, or on the terminal.

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use bloom_model::time::Time;
use bloom_text::when::long_date;
use chrono::TimeDelta;
use clap::Args;

use super::progress::Progress;
use super::{Failure, bench_of_plant, failed, print, read, results, when};
use crate::clock::wall_now;
use crate::config::Config;
use crate::review::scope::{Asked, Scope, ScopeError, choose};
use crate::review::story::{OpeningStory, Story};
use crate::review::{Earlier, Review, Source, csv, page, summary};
use crate::store::Reader;

/// `anthesisd review east-3`
#[derive(Debug, Args)]
pub(super) struct ReviewArguments {
    /// The bench, or the accession of its plant, for its newest bloom; or a bloom such as east-3-2027a
    #[arg(value_name = "BENCH")]
    of: String,
    /// From this time on: 2027-05-30, yesterday 18:00
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// Up to this time
    #[arg(long, value_name = "TIME")]
    to: Option<String>,
    /// Lay an earlier bloom over it, aligned on opening: its id, or the time at which it opened
    #[arg(long, value_name = "BLOOM")]
    compare: Option<String>,
    /// Write every figure for a spreadsheet instead of the page
    #[arg(long, conflicts_with = "summary")]
    csv: bool,
    /// Print the figures on the terminal instead
    #[arg(long)]
    summary: bool,
    /// The file to write; - is standard output. A page goes to a file named after the bloom unless told otherwise
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
}

impl From<ScopeError> for Failure {
    fn from(error: ScopeError) -> Self {
        match error {
            ScopeError::Store(error) => error.into(),
            other => Self::Usage(other.to_string()),
        }
    }
}

pub(super) fn review(path: &Path, arguments: &ReviewArguments) -> Result<(), Failure> {
    let config = read(path)?;
    let (now, zone) = (wall_now(), config.site.timezone);
    let at = |text: &Option<String>| {
        text.as_deref().map(|text| when::read(text, now, zone).map_err(Failure::Usage)).transpose()
    };
    let reader = Reader::open(&config.store_path)?;
    let of = match bench_of_plant(&config, &arguments.of)? {
        Some(bench) => bench.to_string(),
        None => arguments.of.clone(),
    };
    let asked = Asked { of, from: at(&arguments.from)?, until: at(&arguments.to)? };
    let scope = choose(&reader, &asked, now, zone)?;
    let site = Arc::new(config.site.clone());
    let house = House { config: &config, reader: &reader, site: &site, now };
    let review = house.review(scope)?;
    let earlier = arguments.compare.as_deref().map(|other| house.earlier(&review, other)).transpose()?;
    let earlier = earlier.as_ref().map(|(name, earlier, later_by)| Earlier {
        review: earlier,
        name,
        later_by: *later_by,
    });

    if arguments.summary {
        return write(arguments.output.as_deref(), summary::text(&review, earlier.as_ref()).as_bytes());
    }
    if arguments.csv {
        let mut figures = Vec::new();
        csv::write(&review, earlier.as_ref(), &mut figures).map_err(failed)?;
        return write(arguments.output.as_deref(), &figures);
    }
    let html = page::html(&review, earlier.as_ref());
    let part = arguments.from.is_some() || arguments.to.is_some();
    let output = arguments.output.clone().unwrap_or_else(|| usual_file(&review, part));
    write(Some(&output), html.as_bytes())?;
    if output == Path::new("-") { Ok(()) } else { print(output.display()) }
}

/// What reviews are read from.
struct House<'a> {
    config: &'a Config,
    reader: &'a Reader,
    site: &'a Arc<bloom_model::spec::SiteSpec>,
    now: Time,
}

impl House<'_> {
    fn review(&self, scope: Scope) -> Result<Review, Failure> {
        let bench = self.config.benches.iter().find(|bench| bench.spec.id == scope.bench);
        let bench = bench.ok_or_else(|| {
            Failure::Usage(format!(
                "{} is in the record and no longer in the configuration: put its [[bench]] section back, for its kind of plant \
                 and its mounts, with no intake it is only read",
                scope.bench
            ))
        })?;
        let source = Source {
            reader: self.reader,
            site: self.site,
            spec: &bench.spec,
            height_datum: bench.height_datum.words(),
            now: self.now,
        };
        let mut progress = Progress::new(format!("reading {}", scope.bench));
        Ok(Review::read(&source, scope, |share| progress.tell(share))?)
    }

    /// The review of the same span about another opening: its name, its figures, and how much earlier it was.
    fn earlier(&self, review: &Review, other: &str) -> Result<(String, Review, TimeDelta), Failure> {
        let zone = self.site.timezone;
        let present = review.opening().ok_or_else(|| {
            Failure::Usage("there is no opening in the span to align another bloom with".to_owned())
        })?;
        let asked = Asked { of: other.to_owned(), ..Asked::default() };
        let (bench, began, story) = match when::read(other, self.now, zone) {
            Ok(began) => {
                // an opening that the record's events know nothing of: its bud is taken to be as old as the present one
                let bench = Arc::clone(&review.scope.bench);
                let seen = review.heat_from - (present.began - began);
                let opening = OpeningStory { began, alarm: began, full: None };
                let id = long_date(began.local_date(zone));
                let story = Story {
                    id,
                    bench: Arc::clone(&bench),
                    plant: None,
                    seen,
                    newest: began,
                    bud_seen: Some(seen),
                    opening: Some(opening),
                    over: None,
                };
                (bench, began, Some(story))
            }
            Err(_) => {
                let scope = choose(self.reader, &asked, self.now, zone)?;
                let opening = scope.opening().ok_or_else(|| {
                    Failure::Usage(format!(
                        "{other} did not open; give the id of a bloom that did, or the time"
                    ))
                })?;
                (scope.bench, opening.began, scope.story)
            }
        };
        let later_by = present.began - began;
        let name = story.as_ref().map_or_else(|| other.to_owned(), |story| story.id.clone());
        let scope =
            Scope { bench, from: review.scope.from - later_by, until: review.scope.until - later_by, story };
        Ok((name, self.review(scope)?, later_by))
    }
}

/// `east-3-2027a.html`; of a part of the record, or where there is no bloom, `east-3-2027-05-01-to-2027-05-08.html`.
fn usual_file(review: &Review, part: bool) -> PathBuf {
    let name = match &review.scope.story {
        Some(story) if !part => story.id.clone(),
        _ => {
            let (first, last) = review.dates();
            format!("{}-{first}-to-{last}", review.scope.bench)
        }
    };
    PathBuf::from(format!("{name}.html"))
}

/// Writes to a file, all of it or nothing, or to standard output, whose reader may have had enough.
fn write(output: Option<&Path>, bytes: &[u8]) -> Result<(), Failure> {
    match output.filter(|path| *path != Path::new("-")) {
        Some(path) => {
            let at = |error: io::Error| {
                let path = path.display();
                Failure::Failed(format!(
                    "{path} cannot be written: {error}; name another with --output FILE, or --output - and have the shell write \
                     what comes"
                ))
            };
            let unfinished = path.with_extension("unfinished");
            std::fs::write(&unfinished, bytes).map_err(at)?;
            std::fs::rename(&unfinished, path).map_err(at)
        }
        None => match results().write_all(bytes) {
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
            other => other.map_err(failed),
        },
    }
}
