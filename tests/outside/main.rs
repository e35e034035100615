//! The model and the formats against published tables and independent computations; each module names its source.
