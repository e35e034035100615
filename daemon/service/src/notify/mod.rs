//! What goes out to people, and what they answer.
//!
//! An event's path: keeper → store's outbox → [`publisher`] → broker; an alarm that gets no further than the outbox goes to
//! the operator's own [`command`]. A person's: broker → [`publisher`] → [`incoming`] →
//! keeper → [`standing`]. Only what is committed leaves the house, unless the store fails: then it goes [directly](Direct).

pub mod command;
mod connection;
mod direct;
mod inbox;
pub mod incoming;
pub mod mqtt;
mod pace;
pub mod publisher;
mod publishing;
mod retained;
pub mod standing;
mod tls;
pub mod topics;
mod wire;

pub use direct::{Direct, STORE_PATIENCE};
pub use inbox::{HEARD_WAITING, Heard, Inbox, Taken};
pub use mqtt::{Authorities, PublisherSpec, deliver, try_broker};
pub use pace::Pace;
pub(crate) use pace::{Retries, Told};
pub use publisher::{BrokerNews, Channels, Outbox, Publisher};
pub use retained::StateMessage;
