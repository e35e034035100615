//! Who listens: a broker, the rehearsal's own or the grower's, and a phone at it.

use std::time::Duration;

use anthesisd::config::Config;
use anthesisd::notify::topics::Topics;
use anthesisd::notify::{PublisherSpec, try_broker};

use super::house::OwnBroker;
use super::phone::Phone;

/// How long a broker may take to let us in.
const BROKER_PATIENCE: Duration = Duration::from_secs(10);

/// The broker, and a phone that listens to all that the site says.
#[derive(Debug)]
pub(super) struct Audience {
    /// The phone.
    pub(super) phone: Phone,
    /// `PREFIX/SITE/`, with which every topic begins.
    pub(super) base: String,
    /// How others can listen in.
    pub(super) how_to_listen: String,
    topics: Topics,
    /// Nothing may be left at a broker that others use.
    others_use_it: bool,
}

impl Audience {
    /// Tries the broker and listens there.
    ///
    /// # Errors
    /// With what is wrong at the broker.
    pub(super) async fn gather(config: &Config, own: &OwnBroker) -> Result<Self, String> {
        let mqtt = config.mqtt.as_ref().ok_or("the rehearsal's configuration has no broker")?;
        let topics = Topics::new(&mqtt.prefix, &config.site.name);
        let base = format!("{}/{}/", mqtt.prefix, config.site.name);
        let others_use_it = own.url.is_some();
        if others_use_it {
            try_broker(&PublisherSpec::new(mqtt, &topics, String::new()), BROKER_PATIENCE).await?;
        }
        let whom = if others_use_it { ", your phone's too" } else { "" };
        let how_to_listen = format!(
            "Any MQTT client can listen in{whom}:\n\n    mosquitto_sub -h {} -p {} -v -t '{base}#'\n",
            mqtt.host, mqtt.port
        );
        let phone = Phone::listen(mqtt, &format!("{base}#")).await?;
        Ok(Self { phone, base, how_to_listen, topics, others_use_it })
    }

    /// Leaves the broker as it was found, when the service of these benches has stopped.
    pub(super) async fn leave(mut self, benches: &[&str]) {
        if self.others_use_it {
            let of_bench = |bench: &&str| [self.topics.alarm(Some(bench)), self.topics.now(bench)];
            let of_site = [self.topics.alarm(None), self.topics.daemon()];
            self.phone.clear(benches.iter().flat_map(of_bench).chain(of_site).collect()).await;
        }
        self.phone.leave().await;
    }
}
