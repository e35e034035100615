//! What people say of the alarms that stand: that they took note of them, that they come, and that somebody was there.
//!
//! A word that says of no alarm by its id bears on those only that had been told long enough before it was sent: nobody takes note
//! of what nobody has seen.

use bloom_model::event::EventKind;
use bloom_model::time::Time;
use chrono::TimeDelta;

use super::Standing;
use crate::store::{Alarm, Coming};

/// The broker has had an alarm for so long before a word that names none can have meant it: the time to take a phone out and read.
/// Judged.
pub const READ_IN: TimeDelta = TimeDelta::seconds(10);
/// An opening that somebody took note of who did not say who is told again after so long, unless a sign shows that somebody went. Judged:
/// an opening is over in a night, and the hour it takes to come has begun.
const COMES_BACK_AFTER: TimeDelta = TimeDelta::minutes(30);
/// Repeats wait for whoever comes for so long at most, however often somebody says so. Judged.
pub const WAITS_AT_MOST: TimeDelta = TimeDelta::hours(2);

/// The alarm that is never held back.
const OPENING: &str = EventKind::OpeningTonight.name();

/// What became of a word about the alarms of a place.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Word {
    /// Those that it bears on, to be written.
    pub changed: Vec<Alarm>,
    /// Those that go on, for they had not been told for long enough.
    pub unread: Vec<Alarm>,
}

/// Which alarms a word can have meant.
#[derive(Debug, Clone, Copy)]
pub struct Seen<'a> {
    /// Those that the broker has had since then or before.
    pub read: Time,
    /// And these, which were shown to whoever said it.
    pub ids: &'a [String],
}

impl Seen<'_> {
    fn holds(self, row: &Alarm) -> bool {
        row.delivered.is_some_and(|delivered| delivered <= self.read) || self.ids.contains(&row.event_id)
    }
}

/// Why a word bears on nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unheard {
    /// No alarm stands there.
    NoneStands,
    /// Whoever comes would come too late: repeats wait until then at most.
    TooFarAhead(Time),
}

impl Standing {
    /// The broker has the alarm of that id. Gives the row to be written where that is news.
    pub fn delivered(&mut self, id: &str, now: Time) -> Option<Alarm> {
        let row = self.alarms.iter_mut().find(|row| row.event_id == id && row.delivered.is_none())?;
        row.delivered = Some(now);
        Some(row.clone())
    }

    /// Stops the repeats of those alarms; they stand until they end. One raised later is not concerned. `bench` given, they must be that
    /// bench's own.
    ///
    /// Gives the rows to be written: none if all of them were acknowledged before.
    ///
    /// # Errors
    /// With a sentence for the person, when no such alarm stands.
    pub fn acknowledge(
        &mut self,
        ids: &[String],
        bench: Option<&str>,
        by: Option<&str>,
        now: Time,
    ) -> Result<Vec<Alarm>, String> {
        let meant = |row: &Alarm| {
            ids.contains(&row.event_id) && bench.is_none_or(|bench| row.bench.as_deref() == Some(bench))
        };
        if !self.alarms.iter().any(meant) {
            return Err(self.none_such(ids, bench));
        }
        let meant = self.alarms.iter_mut().filter(|row| meant(row));
        Ok(meant.filter_map(|row| note(row, by, now)).collect())
    }

    /// The same of all alarms of a bench, or of the site itself, that the broker has had since `read` or before. Nobody says who.
    ///
    /// # Errors
    /// When none stands there.
    pub fn acknowledge_read(&mut self, bench: Option<&str>, read: Time, now: Time) -> Result<Word, Unheard> {
        let mut word = Word::default();
        for row in self.of_place(bench)? {
            if row.delivered.is_some_and(|delivered| delivered <= read) {
                word.changed.extend(note(row, None, now));
            } else if row.acknowledged.is_none() {
                word.unread.push(row.clone());
            }
        }
        Ok(word)
    }

    /// Lets the repeats of the alarms of a bench, or of the site itself, wait for somebody who comes; an opening that they cannot have
    /// seen goes on. Nothing is acknowledged; of what was, without a name, nobody asks any more until then.
    ///
    /// # Errors
    /// When none stands there, or they would wait for too long.
    pub fn wait_for(
        &mut self,
        bench: Option<&str>,
        seen: Seen<'_>,
        until: Time,
        by: Option<&str>,
        now: Time,
    ) -> Result<Word, Unheard> {
        let of_place = self.of_place(bench)?;
        let open: Vec<&mut Alarm> = of_place.into_iter().filter(|row| !is_settled(row)).collect();
        let waited = open.iter().filter_map(|row| row.coming.as_ref()).map(|coming| coming.since).min();
        let latest = waited.unwrap_or(now) + WAITS_AT_MOST;
        if until > latest {
            return Err(Unheard::TooFarAhead(latest));
        }
        let mut word = Word::default();
        for row in open {
            let is_new = row.acknowledged.is_none() && row.coming.is_none();
            let since = row.coming.as_ref().map_or(now, |coming| coming.since);
            let coming = Coming { since, until, by: by.map(str::to_owned) };
            if row.kind == OPENING && is_new && !seen.holds(row) {
                word.unread.push(row.clone());
            } else if row.coming.as_ref() != Some(&coming) {
                wait(row, coming);
                word.changed.push(row.clone());
            }
        }
        Ok(word)
    }

    /// A new alarm of a place to which somebody comes waits for them, too, once it is told; an opening never does.
    pub(super) fn join(&self, row: &mut Alarm, now: Time) {
        let coming = |other: &&Alarm| other.bench == row.bench && other.coming.is_some();
        let coming = self.alarms.iter().find(coming).and_then(|other| other.coming.clone());
        if let Some(coming) = coming.filter(|coming| coming.until > now && row.kind != OPENING) {
            // nobody was there for this one before it was raised
            wait(row, Coming { since: now, ..coming });
        }
    }

    /// Somebody saw or did something at that bench at that instant: what was acknowledged before without a name does not come back, and
    /// what waited for somebody is acknowledged by them. Gives the rows to be written, those acknowledged now apart.
    pub fn somebody_was_there(&mut self, bench: &str, at: Time, now: Time) -> (Vec<Alarm>, Vec<Alarm>) {
        let (mut settled, mut noted) = (Vec::new(), Vec::new());
        for row in self.alarms.iter_mut().filter(|row| row.bench.as_deref() == Some(bench)) {
            if row.coming.as_ref().is_some_and(|coming| coming.since < at) {
                row.acknowledged_by = row.coming.take().and_then(|coming| coming.by);
                row.acknowledged = Some(now);
                row.next_repeat = None;
                noted.push(row.clone());
            } else if row.acknowledged.is_some_and(|noted| noted < at) && row.next_repeat.take().is_some() {
                settled.push(row.clone());
            }
        }
        (settled, noted)
    }

    fn of_place(&mut self, bench: Option<&str>) -> Result<Vec<&mut Alarm>, Unheard> {
        let rows: Vec<&mut Alarm> =
            self.alarms.iter_mut().filter(|row| row.bench.as_deref() == bench).collect();
        if rows.is_empty() { Err(Unheard::NoneStands) } else { Ok(rows) }
    }

    fn none_such(&self, ids: &[String], bench: Option<&str>) -> String {
        let standing = self.alarms.iter().rev().take(5).map(|row| row.event_id.as_str()).collect::<Vec<_>>();
        let sought = match (ids, bench) {
            ([id], Some(bench)) => format!("no alarm {id:?} stands for bench {bench:?}"),
            ([id], None) => format!("no alarm {id:?} stands"),
            _ => "no such alarm stands".to_owned(),
        };
        if standing.is_empty() {
            format!("{sought}: nothing is left to acknowledge")
        } else {
            format!("{sought}; standing now, newest first: {}", standing.join(", "))
        }
    }
}

/// Whether somebody took note of it for good.
const fn is_settled(row: &Alarm) -> bool {
    row.acknowledged.is_some() && row.next_repeat.is_none()
}

/// Somebody takes note of an alarm; `None` if somebody did before, unless only now it is said who.
fn note(row: &mut Alarm, by: Option<&str>, now: Time) -> Option<Alarm> {
    if is_settled(row) || (row.acknowledged.is_some() && by.is_none()) {
        return None;
    }
    row.acknowledged = Some(now);
    row.acknowledged_by = by.map(str::to_owned);
    row.coming = None;
    row.next_repeat = (by.is_none() && row.kind == OPENING).then(|| now + COMES_BACK_AFTER);
    Some(row.clone())
}

fn wait(row: &mut Alarm, coming: Coming) {
    row.acknowledged = None;
    row.acknowledged_by = None;
    row.next_repeat = Some(coming.until);
    row.coming = Some(coming);
}

#[cfg(test)]
mod tests;
