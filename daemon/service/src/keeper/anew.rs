//! An opening alarm that stands says what holds now: figures of the evening are false the next morning.

use bloom_model::event::Event;
use bloom_model::time::Time;
use bloom_text::Payload;
use tracing::error;

use super::Keeper;

/// An alarm that stands is said anew this often, ms: every ten minutes of the site's time.
const SAID_ANEW_MS: i64 = 600_000;

impl Keeper {
    /// Lets the opening alarms that stand say what holds now: at each repeat, and every ten minutes of the site's time.
    pub(super) fn say_openings_anew(&mut self, now: Time) {
        let slot = now.unix_ms().div_euclid(SAID_ANEW_MS);
        let repeat = self.standing.next_due().is_some_and(|due| due <= now);
        if !repeat && self.said_anew == slot {
            return;
        }
        self.said_anew = slot;
        let alarms: Vec<Event> = self.site.benches().filter_map(|bench| bench.opening_alarm(now)).collect();
        for event in alarms {
            match serde_json::to_value(Payload::of(&event, self.site.spec())) {
                Ok(payload) => {
                    if self.standing.say_anew(&event.id, payload) {
                        self.tell_list(event.bench.as_deref());
                        self.show_soon();
                    }
                }
                Err(error) => error!(id = event.id, "an alarm cannot be written as JSON: {error}"),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use chrono::TimeDelta;
    use serde_json::Value;

    use crate::keeper::house::House;

    /// The bench's one alarm as the list has it.
    fn listed(house: &House) -> Value {
        house.keeper.standing.list(Some("east-3"))[0].clone()
    }

    #[test]
    fn a_standing_opening_and_its_repeats_have_the_figures_of_the_moment() {
        let mut house = House::live(&["east-3"], 1);
        let minute = |house: &mut House, rim_m: f64| {
            house.speak("east-3", 0, 1.2, rim_m);
            house.live_on(TimeDelta::minutes(1));
        };
        (0..26 * 60).for_each(|_| minute(&mut house, 0.0));
        let opens =
            |minute: i32| 0.2 * (1.0 - (std::f64::consts::PI * f64::from(minute).min(480.0) / 480.0).cos());
        (0..300).for_each(|at| minute(&mut house, opens(at)));
        let raised = house.payloads("opening-tonight");
        assert_eq!(raised.len(), 1);
        let five_h = listed(&house);
        assert_eq!(five_h["id"], raised[0]["id"]);
        assert_eq!(five_h["time"], raised[0]["time"]);
        let advance = |payload: &Value| payload["advance_cm"].as_f64().unwrap_or(f64::NAN);
        assert!((advance(&five_h) - 100.0 * opens(295)).abs() < 4.0, "{five_h:#}");
        assert!(advance(&five_h) > advance(&raised[0]) + 8.0, "{five_h:#} after {:#}", raised[0]);
        (300..600).for_each(|at| minute(&mut house, opens(at)));
        let full = listed(&house);
        assert!(full["full_since"].is_string(), "{full:#}");
        assert!(full["message"].as_str().unwrap_or_default().contains(" Fully open since "), "{full:#}");
        // a repeat has them, too, and counts on
        let due = house.keeper.standing.next_due().unwrap();
        let repeat = house.keeper.standing.due(due).repeats.remove(0).payload;
        assert_eq!(repeat["full_since"], full["full_since"]);
        assert!(repeat["repeat"].as_u64() > Some(3), "{repeat:#}");
        // the record has what was told then
        assert_eq!(house.payloads("opening-tonight"), raised);
    }
}
