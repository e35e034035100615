//! What the forwarder has sent, and its trouble.

use bloom_model::event::SiteTrouble;
use chrono::TimeDelta;

use super::Keeper;
use crate::forward::ForwarderNews;

impl Keeper {
    pub(super) fn hear_forwarder(&mut self, news: ForwarderNews) {
        let now = self.now();
        let (trouble, lasting) = match news {
            ForwarderNews::Forwarded(forwarded) => {
                // late spans wait for it before more of them are taken up; the cursor has until the next commit
                self.urgent |= !forwarded.late.is_empty();
                return self.batch.forwarded.add(forwarded);
            }
            ForwarderNews::Behind { lasting, why } => (SiteTrouble::NoCopies { why }, lasting),
            ForwarderNews::Over { lasting } => (SiteTrouble::AllCopied, lasting),
        };
        let since = now - TimeDelta::from_std(lasting).unwrap_or_default();
        self.tell_of_trouble(trouble, "readings_to".to_owned(), since);
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use chrono::TimeDelta;

    use super::super::house::{House, NOON};
    use super::*;
    use crate::store::Forwarded;

    #[test]
    fn standing_still_is_a_warning_of_the_site_and_so_is_its_end() {
        let mut house = House::live(&["east-3"], 1);
        let why = "http://127.0.0.1:8086 cannot be reached: Connection refused".to_owned();
        house.keeper.hear_forwarder(ForwarderNews::Behind { lasting: Duration::from_secs(960), why });
        house.live_on(TimeDelta::minutes(30));
        house.keeper.hear_forwarder(ForwarderNews::Over { lasting: Duration::from_secs(2760) });
        house.live_on(TimeDelta::seconds(10));
        let since = serde_json::json!(NOON - TimeDelta::minutes(16));
        let [behind] = &house.payloads("readings-behind")[..] else { panic!("one") };
        assert_eq!((&behind["severity"], &behind["since"]), (&"warning".into(), &since));
        assert!(behind.get("bench").is_none());
        assert_eq!(
            behind["message"],
            "No hurry: the database takes no copies since Wed 08:44. Nothing is lost, readings are sent when it goes on. \
             (http://127.0.0.1:8086 cannot be reached: Connection refused)"
        );
        let [over] = &house.payloads("readings-behind-over")[..] else { panic!("one") };
        assert_eq!((&over["severity"], &over["since"]), (&"warning".into(), &since));
    }

    #[test]
    fn what_was_sent_is_written_down_with_the_next_commit() {
        let mut house = House::live(&["east-3"], 1);
        let sent = Forwarded { until: Some(NOON), late: Vec::new() };
        house.keeper.hear_forwarder(ForwarderNews::Forwarded(sent.clone()));
        assert!(!house.keeper.urgent, "a cursor is no reason to wear the flash");
        assert!(house.keeper.something_waits());
        assert_eq!(house.keeper.batch.forwarded, sent);
        house.keeper.commit().unwrap();
        assert!(house.keeper.batch.forwarded.is_empty());
    }
}
