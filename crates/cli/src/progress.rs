//! A sign of life where an answer takes a moment. Only on a terminal; never mixed into the answer itself.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

/// A turning mark on the error stream, gone when dropped.
#[derive(Debug)]
pub(crate) struct Waiting(ProgressBar);

impl Waiting {
    /// Says what is being waited for.
    pub(crate) fn new(what: &'static str) -> Self {
        let bar = ProgressBar::new_spinner();
        if let Ok(style) = ProgressStyle::with_template("{spinner} {msg} ({elapsed})") {
            bar.set_style(style);
        }
        bar.set_message(what);
        bar.enable_steady_tick(Duration::from_millis(120));
        Self(bar)
    }

    /// Goes on to the next thing.
    pub(crate) fn say(&self, what: &'static str) {
        self.0.set_message(what);
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}
