//! Degree-days.
