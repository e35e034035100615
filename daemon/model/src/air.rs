//! The air of the bench.
