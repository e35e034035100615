//! Intakes that stay away: one event for the intake, however many benches hang on it.
//!
//! An intake is out when its port is gone, or when nothing has come by it for as long as a sensor may be silent. It is said after
//! that same span, counted by the clock that nobody can set; it is over when the intake has brought readings for a while without another
//! outage. It is an alarm where it leaves a bud unwatched.

use std::cell::LazyCell;
use std::sync::Arc;
use std::time::Duration;

use super::intake::ToldOutage;
use super::intakes::Intakes;
use super::silence::{Silences, quantities_of};
use super::site_events::SiteEvents;
use crate::bench::Bench;
use crate::condition::Change;
use crate::event::{Event, Severity, SiteTrouble};
use crate::quantity::Quantity;
use crate::reading::BenchNumber;
use crate::site::Site;
use crate::time::Now;

/// Says which intakes are newly out, and which are newly back.
pub(super) fn look(
    intakes: &mut Intakes,
    silences: &Silences,
    events: &mut SiteEvents,
    site: &Site,
    now: Now,
) -> Vec<Event> {
    let mut told = Vec::new();
    let patience = intakes.patience();
    for number in 0..intakes.all().len() {
        let change = intakes.get_mut(number).and_then(|intake| intake.look(now.monotonic, patience));
        match change {
            Some(Change::Began(_)) => told.extend(tell_out(number, intakes, silences, events, site, now)),
            Some(Change::Over { gone, .. }) => {
                told.extend(tell_back(number, gone, intakes, events, site, now))
            }
            // a bud has been booked since, or another of its rangers has gone
            None if is_told_as_warning(number, intakes, now)
                && !left_blind_by(number, intakes, silences, site, now.monotonic).is_empty() =>
            {
                told.extend(tell_out(number, intakes, silences, events, site, now));
            }
            None => {}
        }
    }
    told
}

fn is_told_as_warning(number: usize, intakes: &Intakes, now: Now) -> bool {
    let told = intakes.get(number).and_then(|intake| intake.told());
    told.is_some_and(|told| !told.as_alarm) && intakes.is_out(number, now.monotonic)
}

fn tell_out(
    number: usize,
    intakes: &mut Intakes,
    silences: &Silences,
    events: &mut SiteEvents,
    site: &Site,
    now: Now,
) -> Option<Event> {
    let intake = intakes.get(number)?;
    let since = now.time_of(intakes.out_since(intake, now.monotonic)?);
    let (what, why) = (intake.name().to_owned(), intake.why().map(str::to_owned));
    let unwatched = left_blind_by(number, intakes, silences, site, now.monotonic);
    let as_alarm = !unwatched.is_empty();
    let not_read = benches_that(site, |_, bench| intakes.may_bring(number, bench));
    let trouble = SiteTrouble::LineDead { why, unwatched, not_read };
    let mut event = events.trouble(site, now.time, trouble, what, since);
    event.severity = if as_alarm { Severity::Alarm } else { Severity::Warning };
    intakes.get_mut(number)?.tell(ToldOutage { id: event.id.clone(), since, as_alarm });
    Some(event)
}

fn tell_back(
    number: usize,
    back: Duration,
    intakes: &mut Intakes,
    events: &mut SiteEvents,
    site: &Site,
    now: Now,
) -> Option<Event> {
    let intake = intakes.get_mut(number)?;
    let told = intake.end()?;
    let what = intake.name().to_owned();
    let read = benches_that(site, |_, bench| intakes.has_brought_since(number, bench, back));
    let mut event = events.trouble(site, now.time, SiteTrouble::LineWorks { read }, what, told.since);
    event.ends.push(told.id);
    Some(event)
}

/// The benches in bud or open that have no ranger left while that intake is out.
fn left_blind_by(
    number: usize,
    intakes: &Intakes,
    silences: &Silences,
    site: &Site,
    now: Duration,
) -> Vec<Arc<str>> {
    benches_that(site, |bench, of| leaves_blind(number, bench, of, intakes, silences, now))
}

/// Whether that intake, being out, leaves a bench in bud without its side ranger, or in bud or open with no ranger that works.
fn leaves_blind(
    number: usize,
    bench: &Bench,
    of: BenchNumber,
    intakes: &Intakes,
    silences: &Silences,
    now: Duration,
) -> bool {
    // most benches have no bud, and need not say what is silent
    let standing = LazyCell::new(|| bench.standing_silences());
    let told_before = |quantity: Quantity| {
        standing.iter().any(|event| !silences.holds(&event.id) && quantities_of(event).contains(&quantity))
    };
    let may_hang_on_it = |quantity| intakes.brings(of, quantity).is_none_or(|by| by == number);
    let is_gone = |quantity| intakes.brings(of, quantity).is_none_or(|by| intakes.is_out(by, now));
    let side = Quantity::RimRange;
    if bench.leaves_unwatched(&[side]) && may_hang_on_it(side) && !told_before(side) && is_gone(side) {
        return true;
    }
    let mut rangers = bench.hung_rangers().peekable();
    bench.is_in_bud_or_open()
        && rangers.peek().is_some()
        && bench.hung_rangers().any(|ranger| may_hang_on_it(ranger) && !told_before(ranger))
        && rangers.all(|ranger| told_before(ranger) || is_gone(ranger))
}

fn benches_that(site: &Site, holds: impl Fn(&Bench, BenchNumber) -> bool) -> Vec<Arc<str>> {
    let numbered = site.benches().zip(0_u16..);
    let meant = numbered.filter(|(bench, number)| holds(bench, BenchNumber(*number)));
    meant.map(|(bench, _)| Arc::clone(&bench.spec().id)).collect()
}
