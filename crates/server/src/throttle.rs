//! How often a caller may ask, and how often somebody may guess.
//!
//! | what | as | value | source |
//! |---|---|---|---|
//! | requests of one caller | a bucket that fills again | `Limits` | assumed |
//! | guesses from one address before it waits | `FREE` | 5 | assumed |
//! | first wait, doubled by each guess after | `FIRST_WAIT` | 1 s | assumed |
//! | longest wait | `LONGEST_WAIT` | 15 min | assumed |
//! | guesses from everywhere in ten minutes | `FROM_ALL` | 100 | NIST SP 800-63B-4, section 3.2.2: at most 100 in a row |

use std::collections::BTreeMap;
use std::net::{IpAddr, Ipv6Addr};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

const FREE: u32 = 5;
const FIRST_WAIT: Duration = Duration::from_secs(1);
const LONGEST_WAIT: Duration = Duration::from_mins(15);
const FROM_ALL: u32 = 100;
const ALL_WITHIN: Duration = Duration::from_mins(10);
/// Addresses and callers remembered at once. Assumed.
const MOST: usize = 8192;

/// The part of an address one caller cannot change at will: all of IPv4, the network half of IPv6.
pub(crate) fn house(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(six) => Ipv6Addr::from_bits(six.to_bits() >> 64 << 64).into(),
        four @ IpAddr::V4(_) => four,
    }
}

#[derive(Debug)]
struct Failed {
    times: u32,
    last: Instant,
}

impl Failed {
    fn wait(&self) -> Duration {
        match self.times.checked_sub(FREE) {
            None | Some(0) => Duration::ZERO,
            Some(past) => FIRST_WAIT.saturating_mul(1 << (past - 1).min(20)).min(LONGEST_WAIT),
        }
    }
}

#[derive(Debug)]
struct Tally {
    by_address: BTreeMap<IpAddr, Failed>,
    from_all: u32,
    since: Instant,
}

/// Guesses at passphrase and codes.
#[derive(Debug)]
pub(crate) struct Guesses(Mutex<Tally>);

impl Guesses {
    pub(crate) fn new(now: Instant) -> Self {
        Self(Mutex::new(Tally { by_address: BTreeMap::new(), from_all: 0, since: now }))
    }

    /// Lets a guess through and counts it as failed, until [`Guesses::was_right`] says otherwise: guesses sent side by side
    /// each count before the first is judged.
    ///
    /// # Errors
    /// How long to wait.
    pub(crate) fn may(&self, from: IpAddr, now: Instant) -> Result<(), Duration> {
        let mut tally = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let tally = &mut *tally;
        if now.duration_since(tally.since) > ALL_WITHIN {
            tally.from_all = 0;
            tally.since = now;
            tally.by_address.retain(|_, failed| now.duration_since(failed.last) <= LONGEST_WAIT);
        }
        if tally.from_all >= FROM_ALL {
            return Err(ALL_WITHIN.saturating_sub(now.duration_since(tally.since)));
        }
        if tally.by_address.len() >= MOST && !tally.by_address.contains_key(&house(from)) {
            return Err(LONGEST_WAIT);
        }
        let failed = tally.by_address.entry(house(from)).or_insert(Failed { times: 0, last: now });
        let passed = now.duration_since(failed.last);
        if passed < failed.wait() {
            return Err(failed.wait().saturating_sub(passed));
        }
        failed.times += 1;
        failed.last = now;
        tally.from_all += 1;
        Ok(())
    }

    /// The guess was right: what came before it from there is forgiven.
    pub(crate) fn was_right(&self, from: IpAddr) {
        let mut tally = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        tally.by_address.remove(&house(from));
        tally.from_all = tally.from_all.saturating_sub(1);
    }
}

#[derive(Debug)]
struct Bucket {
    left: f64,
    at: Instant,
}

/// Requests of each caller.
#[derive(Debug)]
pub(crate) struct Rates {
    buckets: Mutex<BTreeMap<String, Bucket>>,
    per_second: f64,
    at_once: f64,
}

impl Rates {
    pub(crate) fn new(per_second: f64, at_once: f64) -> Self {
        Self { buckets: Mutex::default(), per_second, at_once }
    }

    /// Whether a caller may ask now.
    pub(crate) fn may(&self, caller: &str, now: Instant) -> bool {
        let mut buckets = self.buckets.lock().unwrap_or_else(PoisonError::into_inner);
        if buckets.len() >= MOST && !buckets.contains_key(caller) {
            // Whose bucket is full again is as good as new.
            let full_after = Duration::from_secs_f64(self.at_once / self.per_second);
            buckets.retain(|_, bucket| now.duration_since(bucket.at) < full_after);
            if buckets.len() >= MOST {
                return false;
            }
        }
        let bucket = buckets.entry(caller.to_owned()).or_insert(Bucket { left: self.at_once, at: now });
        let filled = now.duration_since(bucket.at).as_secs_f64() * self.per_second;
        bucket.left = (bucket.left + filled).min(self.at_once);
        bucket.at = now;
        let may = bucket.left >= 1.0;
        if may {
            bucket.left -= 1.0;
        }
        may
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whoever_guesses_waits_longer_each_time_and_is_forgiven_when_right() {
        let start = Instant::now();
        let guesses = Guesses::new(start);
        let from: IpAddr = "10.0.0.9".parse().unwrap();
        for _ in 0..=FREE {
            assert!(guesses.may(from, start).is_ok());
        }
        let mut now = start;
        let mut last = Duration::ZERO;
        for _ in 0..12 {
            let wait = guesses.may(from, now).unwrap_err();
            assert!(wait > last || wait == LONGEST_WAIT, "{wait:?} after {last:?}");
            now += wait;
            assert!(guesses.may(from, now).is_ok());
            last = wait;
        }
        assert_eq!(last, LONGEST_WAIT);
        assert!(guesses.may("10.0.0.10".parse().unwrap(), now).is_ok(), "another address does not wait for this one");
        guesses.was_right(from);
        assert!(guesses.may(from, now).is_ok());
    }

    #[test]
    fn many_addresses_together_are_held_too() {
        let start = Instant::now();
        let guesses = Guesses::new(start);
        let passed = (0..=255_u8).filter(|last| guesses.may(IpAddr::from([10, 0, 0, *last]), start).is_ok()).count();
        assert_eq!(passed, 100);
        assert!(guesses.may(IpAddr::from([10, 1, 0, 1]), start + ALL_WITHIN + FIRST_WAIT).is_ok());
        // The half of an IPv6 address that anybody gives himself tells nobody apart.
        assert_eq!(house("2001:db8:1:2:3::4".parse().unwrap()), house("2001:db8:1:2::9".parse().unwrap()));
    }

    #[test]
    fn a_bucket_fills_again() {
        let start = Instant::now();
        let rates = Rates::new(2.0, 5.0);
        assert_eq!((0..9).filter(|_| rates.may("a", start)).count(), 5);
        assert!(rates.may("b", start));
        assert_eq!((0..9).filter(|_| rates.may("a", start + Duration::from_secs(1))).count(), 2);
    }
}
