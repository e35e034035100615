//! What goes out to people, and what they answer.
//!
//! An event's path: keeper → store's outbox → [`publisher`] → broker; an alarm that gets no further than the outbox goes to
//! the operator's own [`command`]. A person's: broker → [`publisher`] → [`incoming`] →
//! keeper → [`standing`]. Only what is committed leaves the house.

pub mod command;
mod connection;
pub mod incoming;
pub mod mqtt;
mod pace;
pub mod publisher;
mod retained;
pub mod standing;
mod tls;
pub mod topics;

pub use mqtt::{Authorities, PublisherSpec, try_broker};
pub use pace::Pace;
pub use publisher::{BrokerNews, Channels, Outbox, Publisher};
pub use retained::StateMessage;
