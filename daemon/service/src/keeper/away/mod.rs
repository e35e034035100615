//! Watching while the record cannot be had: a start from the mirror, and taking the record up when it can.
//!
//! What is gathered meanwhile waits in the batch, within its bounds, under running numbers that go on from the newest that was
//! committed. A record that is taken up may know more than the states that the watch began with (its newest hour, or all of it
//! where there was no mirror): then the model is told from the record what it missed, and after that what was gathered. One that
//! knows less (an older copy, an empty file) gets the states as they are.

use std::num::NonZeroU32;
use std::path::PathBuf;

use bloom_model::bench::Bench;
use bloom_model::event::{Event, EventKind, SiteTrouble};
use bloom_model::reading::Reading;
use bloom_model::site::Site;
use tracing::{error, info, warn};

use super::record::{Saved, WasThere};
use super::restore::{replay, restore_states};
use super::{Keeper, KeeperError};
use crate::notify::standing::Standing;
use crate::store::{Alarm, Store, StoreError};

impl Keeper {
    /// Begins where the record says that the work was left; or the mirror, where the record cannot be had.
    pub(super) fn begin(&mut self, test_every_days: Option<NonZeroU32>) -> Result<(), KeeperError> {
        let empty = self.empty_site();
        if let Err(why) = self.restore() {
            (self.site, self.batch) = (empty, Default::default());
            self.store.let_go(why.clone());
            self.begin_without_record();
            self.store_fails(&why.into(), true);
        }
        if self.clock.is_machine() {
            self.site.watch_from(self.clock.now());
            self.adopt_outages();
            if let Err(error) = self.plan_tests(test_every_days) {
                warn!("when the last test alarm was cannot be read: {error}");
            }
        }
        self.tell_what_was_there()
    }

    fn empty_site(&self) -> Site {
        Site::new(self.site.spec().clone(), self.site.benches().map(|bench| bench.spec().clone()).collect())
    }

    fn begin_without_record(&mut self) {
        let mirror = self.store.found.clone().unwrap_or_default();
        let restored = restore_states(&mut self.site, &mirror.benches);
        self.fed = mirror.fed;
        self.standing = Standing::restore(mirror.alarms);
        if self.clock.is_machine() {
            self.find_held();
        }
        for newest in self.site.benches().filter_map(Bench::newest) {
            self.clock.hear(newest);
            self.clock.not_before(newest);
        }
        let (benches, alarms) = (restored.len(), self.standing.alarms().len());
        match mirror.written {
            Some(written) => {
                info!(benches, alarms, "watching without the record, from the mirror of {written}");
            }
            None => warn!("watching without the record, and there is no mirror: the benches begin anew"),
        }
    }

    /// Says at the start that the record is not the one that was there.
    fn tell_what_was_there(&mut self) -> Result<(), KeeperError> {
        if self.store.is_away() {
            return Ok(());
        }
        let known = self.store.open_store().and_then(Store::newest_fed).unwrap_or(u64::MAX);
        let older = self.store.found.as_ref().filter(|mirror| mirror.fed > known).cloned();
        let trouble = match (self.store.gone.take(), &older) {
            (Some(WasThere { written, saved }), _) => {
                Some(SiteTrouble::RecordGone { written, saved: newest_of(&saved) })
            }
            (None, Some(older)) if !older.away => Some(SiteTrouble::RecordOlder { written: older.written }),
            (None, Some(_)) => {
                warn!(
                    "the record lacks what came while it could not be had; the benches are watched as they were left"
                );
                None
            }
            (None, None) => return Ok(()),
        };
        if let Some(trouble) = trouble {
            self.tell_of_store(trouble, self.now());
        }
        // the states of the mirror are all there is
        self.urgent = true;
        self.checkpoint()
    }

    /// Looks now and then whether the record is still in its place, and what the look through it found.
    pub(super) fn look_at_record(&mut self) -> Result<(), KeeperError> {
        if self.store.is_away() {
            self.store.note_told_without_it(&self.batch, EventKind::Test.name(), self.standing.alarms());
            if self.store.mirror_is_due(false) {
                self.write_mirror()?;
            }
        }
        if self.store.look_is_due() {
            self.hear_of_look();
            if !self.store.is_in_place() {
                self.record_was_taken_away();
            }
        }
        Ok(())
    }

    fn record_was_taken_away(&mut self) {
        let now = self.now();
        // into the file that is open: it is saved with it
        self.try_commit();
        if self.store.replaced.is_none() {
            self.store.replaced = Some(now);
            self.tell_of_store(SiteTrouble::RecordTakenAway, now);
        }
        self.store.save_aside(now);
        self.bear_from_now();
    }

    /// Takes the record up if it can be had; at the end of the run, `last`, whatever it takes.
    pub(super) fn try_take_up(&mut self, last: bool) {
        self.bear_from_now();
        match self.store.saved(last) {
            Some(Saved::As(saved, put_back)) => {
                let saved = saved.display();
                warn!(put_back, "the record that was open is saved as {saved}");
            }
            Some(Saved::Not(why)) => {
                error!(
                    "{why}; the record that is open could not be saved beside its place, and is written on"
                );
                return self.try_commit();
            }
            None => {}
        }
        self.store_works();
        let outcome = self.take_up_anew();
        self.store_rests();
        match outcome {
            Ok(false) => {}
            Ok(true) => {
                self.tell_that_it_is_in_place();
                self.end_of_failing();
            }
            Err(why) => {
                if let KeeperError::Store(why) = &why {
                    self.store.note_why(why);
                }
                self.store_fails(&why, false);
            }
        }
    }

    fn tell_that_it_is_in_place(&mut self) {
        let Some(since) = self.store.replaced.take() else { return };
        let saved = crate::store::saved_beside(self.store.path());
        self.tell_of_store(SiteTrouble::RecordInPlace { saved: newest_of(&saved) }, since);
    }

    /// Opens the record, and commits all that was gathered; false if there is no sense in trying yet.
    fn take_up_anew(&mut self) -> Result<bool, KeeperError> {
        let Some(mut store) = self.store.try_open()? else { return Ok(false) };
        let newest = store.newest_fed()?;
        let base = self.committed_fed();
        let resumed = self.resumed(&store, newest, base)?;
        self.number_from(base, newest);
        if !self.store.is_the_one_before(&store) {
            // numbers of another outbox are not to be taken for those of this one
            self.batch.sent.clear();
            self.batch.consumed.clear();
            store.number_outbox_above(self.store.newest_row())?;
        }
        self.agree_on_alarms(store.standing()?, resumed.is_some() || self.store.found.is_none());
        match &resumed {
            Some(_) => self.batch.checkpoints.clear(),
            None => self.checkpoint()?,
        }
        let readings = self.batch.readings.len();
        let committed = store.commit(&self.batch)?;
        self.store.put(store, &committed);
        self.alarms_wait();
        info!(readings, "the record can be had, and is taken up with what was gathered");
        self.committed(&committed)?;
        if let Some((site, events)) = resumed {
            self.site = site;
            self.raise_all(events);
        }
        // states as they are now, and with them the sealing
        self.checkpoint()?;
        self.urgent = true;
        Ok(true)
    }

    /// The running number of the newest reading that was committed, to whatever record.
    fn committed_fed(&self) -> u64 {
        let waiting = self.batch.readings.iter().filter_map(|reading| reading.fed).min();
        waiting.map_or(self.fed, |first| first.saturating_sub(1))
    }

    /// Numbers what was gathered after `base` so that it follows on `newest`.
    fn number_from(&mut self, base: u64, newest: u64) {
        let by = newest.saturating_sub(base);
        self.fed += by;
        self.batch.readings.iter_mut().filter_map(|reading| reading.fed.as_mut()).for_each(|fed| *fed += by);
        self.batch.events.iter_mut().for_each(|event| event.after_fed += by);
    }

    /// The model as the record knows it, told what was gathered since; `None` if the record knows less than the model. All of it is
    /// read either way: a record that cannot be is not taken up.
    fn resumed(
        &self,
        store: &Store,
        newest: u64,
        base: u64,
    ) -> Result<Option<(Site, Vec<Event>)>, StoreError> {
        let mut site = self.empty_site();
        let restored = restore_states(&mut site, &store.checkpoints()?);
        let (mut events, _) = replay(store, &mut site, &self.clock, &restored, newest)?;
        if newest < base {
            return Ok(None);
        }
        if self.clock.is_machine() {
            site.watch_from(self.batch.readings.first().map_or(self.clock.now(), |reading| reading.time));
        }
        for reading in self.batch.readings.iter().filter(|reading| reading.fed.is_some()) {
            if let Some(bench) = site.number_of(&reading.bench) {
                site.pass_time(reading.time, &mut events);
                site.take(&Reading { bench, time: reading.time, observed: reading.observed }, &mut events);
            }
        }
        Ok(Some((site, events)))
    }

    /// Alarms that stand in a record that is taken up: they stand on if it `knows` what has become of them, and are over if the watch
    /// knows better.
    fn agree_on_alarms(&mut self, rows: Vec<Alarm>, knows: bool) {
        let ended = |id: &str| self.batch.alarms.iter().any(|row| row.event_id == id && row.ended.is_some());
        let rows: Vec<Alarm> = rows.into_iter().filter(|row| !ended(&row.event_id)).collect();
        if knows {
            return self.standing.adopt(rows);
        }
        let now = self.now();
        let mut others = Standing::restore(rows);
        let ids: Vec<String> = others.alarms().iter().map(|row| row.event_id.clone()).collect();
        let over = ids.iter().filter(|id| !self.standing.stands(id)).filter_map(|id| others.end(id, now));
        self.batch.alarms.extend(over.collect::<Vec<_>>());
        for row in self.standing.alarms() {
            if !self.batch.alarms.iter().any(|written| written.event_id == row.event_id) {
                self.batch.alarms.push(row.clone());
            }
        }
    }

    /// Writes the mirror as things are now.
    pub(super) fn write_mirror(&mut self) -> Result<(), KeeperError> {
        let (states, alarms) = (self.states()?, self.standing.alarms().to_vec());
        self.store_works();
        self.store.mirror(self.fed, states, alarms, self.now());
        self.store_rests();
        Ok(())
    }

    /// The last commit of a run, with the benches' states.
    ///
    /// # Errors
    /// Where the record takes it no more, with what is lost.
    pub(super) fn commit_the_last(&mut self) -> Result<(), KeeperError> {
        if self.store.is_away() {
            self.try_take_up(true);
        }
        self.checkpoint()?;
        self.people.write_listened();
        let outcome = self.commit();
        if outcome.is_err() {
            warn!(
                readings = self.batch.readings.len(),
                events = self.batch.events.len(),
                "stopping, and the record could not be written: so much was in memory only and is lost; the mirror has the benches' \
                 states and the alarms that stand"
            );
            self.write_mirror()?;
        }
        outcome
    }
}

/// The newest of the files in which a record was saved.
fn newest_of(saved: &[PathBuf]) -> Option<String> {
    saved.last().map(|path| path.display().to_string())
}

#[cfg(test)]
mod tests;
