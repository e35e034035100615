//! The topics of deploy/PROGRAMS.md, built and read in one place.

use bloom_model::event::Severity;

/// The topics of one site.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Topics {
    /// `PREFIX/SITE`.
    base: String,
}

/// What a topic that people publish to asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Asked<'a> {
    /// `PREFIX/SITE/acknowledge`, or `PREFIX/SITE/BENCH/acknowledge`.
    Acknowledge {
        /// The bench in the topic, if there is one.
        bench: Option<&'a str>,
    },
    /// `PREFIX/SITE/BENCH/sign`.
    Sign {
        /// The bench in the topic.
        bench: &'a str,
    },
}

impl Topics {
    /// The topics of the site `site` under `prefix`, which may have levels of its own.
    pub fn new(prefix: &str, site: &str) -> Self {
        Self { base: format!("{prefix}/{site}") }
    }

    /// Whether the service runs: its status, and its last will.
    pub fn daemon(&self) -> String {
        format!("{}/daemon", self.base)
    }

    /// Where `check` tries whether what is said is heard, and the service sees that it has heard all that was said before.
    pub fn check(&self) -> String {
        format!("{}/check", self.base)
    }

    /// Events of a bench, or of the site itself.
    pub fn event(&self, bench: Option<&str>) -> String {
        self.of(bench, "event")
    }

    /// The list of standing alarms of a bench, or of the site itself.
    pub fn alarm(&self, bench: Option<&str>) -> String {
        self.of(bench, "alarm")
    }

    /// What a bench is like now: its newest values.
    pub fn now(&self, bench: &str) -> String {
        self.of(Some(bench), "now")
    }

    /// The bare sentences of all events of that severity, of the site and of its benches: for a phone's lock screen.
    pub fn say(&self, severity: Severity) -> String {
        format!("{}/say/{}", self.base, severity.name())
    }

    /// What to subscribe to, to hear what people ask for: every bench by a wildcard, so that a mistyped bench is heard and
    /// can be answered in the log.
    pub fn subscriptions(&self) -> Vec<String> {
        let people =
            [self.of(None, "acknowledge"), self.of(Some("+"), "acknowledge"), self.of(Some("+"), "sign")];
        people.into_iter().chain([self.check()]).collect()
    }

    /// What an incoming topic asks for; `None` if it is none of [`Self::subscriptions`].
    pub fn asked<'a>(&self, topic: &'a str) -> Option<Asked<'a>> {
        let rest = topic.strip_prefix(self.base.as_str())?.strip_prefix('/')?;
        match rest.split_once('/') {
            None if rest == "acknowledge" => Some(Asked::Acknowledge { bench: None }),
            Some((bench, "acknowledge")) => Some(Asked::Acknowledge { bench: Some(bench) }),
            Some((bench, "sign")) => Some(Asked::Sign { bench }),
            _ => None,
        }
    }

    fn of(&self, bench: Option<&str>, last: &str) -> String {
        match bench {
            Some(bench) => format!("{}/{bench}/{last}", self.base),
            None => format!("{}/{last}", self.base),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn topics_are_those_of_the_documents() {
        let topics = Topics::new("anthesis", "saltmarsh");
        assert_eq!(topics.daemon(), "anthesis/saltmarsh/daemon");
        assert_eq!(topics.check(), "anthesis/saltmarsh/check");
        assert_eq!(topics.event(None), "anthesis/saltmarsh/event");
        assert_eq!(topics.event(Some("east-3")), "anthesis/saltmarsh/east-3/event");
        assert_eq!(topics.alarm(None), "anthesis/saltmarsh/alarm");
        assert_eq!(topics.alarm(Some("east-3")), "anthesis/saltmarsh/east-3/alarm");
        assert_eq!(topics.now("east-3"), "anthesis/saltmarsh/east-3/now");
        assert_eq!(topics.say(Severity::Alarm), "anthesis/saltmarsh/say/alarm");
    }

    #[test]
    fn what_people_publish_is_understood() {
        let topics = Topics::new("glass/anthesis", "saltmarsh");
        let asked =
            |rest: &str| topics.asked(&format!("glass/anthesis/{rest}")).map(|asked| format!("{asked:?}"));
        let is = |asked: Asked<'_>| Some(format!("{asked:?}"));
        assert_eq!(asked("saltmarsh/acknowledge"), is(Asked::Acknowledge { bench: None }));
        assert_eq!(asked("saltmarsh/east-3/acknowledge"), is(Asked::Acknowledge { bench: Some("east-3") }));
        assert_eq!(asked("saltmarsh/east-3/sign"), is(Asked::Sign { bench: "east-3" }));
        for other in [
            "saltmarsh",
            "saltmarsh/sign",
            "saltmarsh/east-3/event",
            "saltmarsh2/acknowledge",
            "saltmarsh/a/b/sign",
        ] {
            assert_eq!(asked(other), None, "{other}");
        }
    }

    /// MQTT 3.1.1 (OASIS standard, 2014), section 4.7.1: `+` stands for one whole level. `rumqttc::matches` decides.
    #[test]
    fn subscriptions_cover_what_is_understood_and_nothing_that_goes_out() {
        let topics = Topics::new("anthesis", "saltmarsh");
        let heard = |topic: &str| topics.subscriptions().iter().any(|filter| rumqttc::matches(topic, filter));
        for filter in topics.subscriptions() {
            assert!(rumqttc::valid_filter(&filter), "{filter}");
        }
        for topic in ["acknowledge", "east-3/acknowledge", "east-3/sign"] {
            assert!(heard(&format!("anthesis/saltmarsh/{topic}")), "{topic}");
        }
        assert!(heard(&topics.check()), "what we say to ourselves");
        let says =
            [Severity::Notice, Severity::Warning, Severity::Alarm].map(|severity| topics.say(severity));
        let others =
            [topics.daemon(), topics.event(None), topics.alarm(Some("east-3")), topics.now("east-3")];
        for topic in says.into_iter().chain(others) {
            assert!(rumqttc::valid_topic(&topic) && !heard(&topic), "{topic}");
        }
    }
}
