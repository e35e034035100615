//! Running.
