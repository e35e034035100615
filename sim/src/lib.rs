//! Sim.
