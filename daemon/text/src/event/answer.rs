//! The answer to whoever took note of alarms, or said that somebody comes.

use bloom_model::event::{Answer, AnswerDetails, WhyNothing};
use bloom_model::time::Time;

use crate::words::Words;

/// What stands behind the last answer of an hour to what changed nothing: a sentence with a space before it.
fn too_many(most: usize) -> String {
    format!(" That is the {most}th such answer within an hour: no more come for a while. Is a button stuck?")
}

impl Words<'_> {
    /// What came of an acknowledgement, at the instant of the answer.
    pub(crate) fn answer(&self, now: Time, details: &AnswerDetails) -> String {
        let mut said = match &details.answer {
            Answer::Taken { of, unread } => match details.coming {
                Some(until) => self.comes(until, details, of, unread),
                None => self.noted(now, details, of, unread),
            },
            Answer::Nothing(why) => self.nothing(details, why),
        };
        if let Some(most) = details.too_many {
            said.push_str(&too_many(most));
        }
        said
    }

    fn noted(&self, now: Time, details: &AnswerDetails, of: &[String], unread: &[String]) -> String {
        let by = details.by.as_ref().map_or(String::new(), |by| format!(" by {by}"));
        let mut said = format!(
            "Acknowledged at {}{by} {}: {}. Repeats stop.",
            self.bench,
            self.clock(now),
            of.join(", ")
        );
        if let Some(at) = details.comes_back {
            let at = self.clock(at);
            said.push_str(&format!(
                " Nobody said who: the opening alarm comes back at {at} unless a sign is recorded."
            ));
        }
        if !unread.is_empty() {
            said.push_str(&format!(
                " Not yet {}, told a moment ago: read it, then answer again.",
                unread.join(", ")
            ));
        }
        said
    }

    fn comes(&self, until: Time, details: &AnswerDetails, of: &[String], unread: &[String]) -> String {
        let who = details.by.as_deref().unwrap_or("Somebody");
        let comes = format!("{who} comes to {} by {}", self.bench, self.clock(until));
        if of.is_empty() {
            return format!("{comes}; all that stands there is acknowledged.");
        }
        let mut said = format!("{comes}; repeats wait until then.");
        if !unread.is_empty() {
            said.push_str(&format!(" {}, told a moment ago, does not wait.", unread.join(", ")));
        }
        said
    }

    fn nothing(&self, details: &AnswerDetails, why: &WhyNothing) -> String {
        let bench = self.bench;
        let goes_on = match details.coming {
            Some(_) => format!("Repeats at {bench} go on"),
            None => format!("NOT acknowledged at {bench}"),
        };
        match why {
            WhyNothing::NoneStands { elsewhere } => {
                let what = if details.coming.is_some() { "nothing waits" } else { "nothing to acknowledge" };
                let elsewhere = match elsewhere.join(", ") {
                    places if places.is_empty() => places,
                    places => format!(" Alarms stand at {places}: answer there."),
                };
                format!("No alarm stands at {bench}: {what}.{elsewhere}")
            }
            WhyNothing::JustTold(of) => {
                format!("{goes_on}: {}, told a moment ago. Read it, then answer again.", of.join(", "))
            }
            WhyNothing::SentBefore(of) => format!(
                "{goes_on}: {}, perhaps told after that was sent. Read it, then answer again.",
                of.join(", ")
            ),
            WhyNothing::TooFarAhead { latest } => {
                let asked = details.coming.map_or(String::new(), |until| self.clock(until));
                format!(
                    "{goes_on}: {asked} is too far ahead, they wait until {} at most. Say an earlier time, or acknowledge.",
                    self.clock(*latest)
                )
            }
        }
    }
}
