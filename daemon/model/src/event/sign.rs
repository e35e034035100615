//! Evidence of what people recorded.

use std::fmt::Display;

use schemars::JsonSchema;
use serde::{Serialize, Serializer};

use crate::forecast::Outlook;
use crate::sign::Sign;

/// Evidence of `sign-booked`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SignDetails {
    /// The sign as it was recorded.
    #[serde(serialize_with = "as_written")]
    #[schemars(with = "String")]
    pub sign: Sign,
    /// What is forecast with it, where it tells of a bud.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub outlook: Option<Outlook>,
    /// It is so many of its kind, and the bloom keeps no more of them.
    #[serde(skip)]
    pub too_many: Option<usize>,
}

/// As people write it.
pub(super) fn as_written<S: Serializer>(value: &impl Display, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(value)
}
