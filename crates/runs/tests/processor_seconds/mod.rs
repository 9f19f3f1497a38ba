//! Seconds this thread has had of a processor: what a figure takes when others work on the same machine.

use std::time::Instant;

/// Seconds of the processor since some fixed moment; of the clock where the system does not tell.
pub(crate) fn processor_seconds() -> f64 {
    static BEGUN: std::sync::OnceLock<Instant> = std::sync::OnceLock::new();
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = told.and_then(|text| text.split_whitespace().next()?.parse::<f64>().ok());
    nanoseconds.map_or_else(|| BEGUN.get_or_init(Instant::now).elapsed().as_secs_f64(), |nanoseconds| nanoseconds / 1e9)
}
