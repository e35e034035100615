//! Service.
