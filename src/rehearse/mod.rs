//! Synthetic sequences with known faults.
