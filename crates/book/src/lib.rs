//! Room `book`.
