//! Room `season`.
