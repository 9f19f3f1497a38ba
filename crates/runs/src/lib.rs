//! Room `runs`.
