//! Which alarms the broker has: a word that names none bears on these only.

use tracing::warn;

use crate::keeper::Keeper;
use crate::store::{Importance, Message, Store};

impl Keeper {
    /// The messages of the batch are committed, as the rows of these numbers.
    pub(in crate::keeper) fn alarms_go_out(&mut self, rows: &[i64]) {
        for (message, row) in self.batch.messages.iter().zip(rows) {
            if let Some(id) = alarm_of(message).filter(|id| self.standing.stands(id)) {
                self.under_way.insert(*row, id.clone());
            }
        }
    }

    /// Those that wait in a record that is taken up.
    pub(in crate::keeper) fn alarms_wait(&mut self) {
        match self.store.open_store().and_then(Store::alarms_waiting) {
            Ok(waiting) => {
                let stand = waiting.into_iter().filter(|(_, id)| self.standing.stands(id));
                self.under_way.extend(stand);
            }
            Err(error) => {
                warn!(
                    "which alarms wait for the broker cannot be read: {error}; acknowledge them by their ids"
                )
            }
        }
    }

    /// The broker has the message of that row, and those before it.
    pub(in crate::keeper) fn alarm_is_delivered(&mut self, row: i64) {
        let after = self.under_way.split_off(&row.saturating_add(1));
        let delivered = std::mem::replace(&mut self.under_way, after).remove(&row);
        self.note_delivered(delivered.as_ref());
    }

    /// The broker has a message that the store had not taken.
    pub(in crate::keeper) fn alarm_is_told_directly(&mut self, message: &Message) {
        self.note_delivered(alarm_of(message));
    }

    fn note_delivered(&mut self, id: Option<&String>) {
        let now = self.now();
        if let Some(row) = id.and_then(|id| self.standing.delivered(id, now)) {
            // nothing that anybody is shown has changed: it goes with the next commit, as that the message is sent does
            self.write_down(row);
        }
    }
}

/// The id of the alarm that a message tells with all its figures; its bare sentence goes out before.
fn alarm_of(message: &Message) -> Option<&String> {
    message.displaces.as_ref().filter(|_| message.importance == Importance::Alarm)
}
