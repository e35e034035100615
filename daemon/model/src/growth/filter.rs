//! Level and rate, followed through irregular and noisy readings.
