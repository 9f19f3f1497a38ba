//! What a set of entries comes to, in forty bytes, so that two sets can be held against each other without reading them.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | n | `entries` | entries in the set | entries | 0 or more | counted |
//! | h | - | SHA-256 of an entry's line | 256 bits | - | FIPS 180-4 |
//! | s | `sum` | sum of h over the set, modulo 2^256 | 256 bits | - | Bellare & Micciancio 1997, additive hash |
//!
//! A sum does not hang on the order and can be carried on entry by entry, which is what the book's own law asks of
//! anything said about it. Equal entries give equal lines, so equal sets come to the same wherever they are kept. It
//! shows damage and mistakes; it is no proof against a man who makes entries up to fit.

use sha2::{Digest, Sha256};

/// What a set of entries comes to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct SetSum {
    /// Entries in the set.
    pub entries: u64,
    /// Sum of their lines' digests, least significant part first.
    sum: [u64; 4],
}

impl SetSum {
    /// The empty set.
    pub const NONE: Self = Self { entries: 0, sum: [0; 4] };

    /// Takes in one more entry, by its line as [`crate::wire::write_line`] writes it.
    pub fn add_line(&mut self, line: &str) {
        let digest: [u8; 32] = Sha256::digest(line.as_bytes()).into();
        self.entries += 1;
        let mut carry = false;
        for (part, more) in self.sum.iter_mut().zip(digest.as_chunks::<8>().0) {
            let (once, over) = part.overflowing_add(u64::from_le_bytes(*more));
            let (twice, over_again) = once.overflowing_add(u64::from(carry));
            *part = twice;
            carry = over || over_again;
        }
    }

    /// The set of these lines.
    pub fn of<'a>(lines: impl IntoIterator<Item = &'a str>) -> Self {
        let mut all = Self::NONE;
        for line in lines {
            all.add_line(line);
        }
        all
    }

    /// What was added to an earlier sum to come to this one.
    #[must_use]
    pub fn since(&self, earlier: &Self) -> Self {
        let mut borrow = false;
        let mut sum = self.sum;
        for (part, less) in sum.iter_mut().zip(earlier.sum) {
            let (once, under) = part.overflowing_sub(less);
            let (twice, under_again) = once.overflowing_sub(u64::from(borrow));
            *part = twice;
            borrow = under || under_again;
        }
        Self { entries: self.entries.wrapping_sub(earlier.entries), sum }
    }

    /// The sum as bytes, for keeping.
    pub fn digest(&self) -> [u8; 32] {
        let mut bytes = [0; 32];
        for (part, to) in self.sum.iter().zip(bytes.as_chunks_mut::<8>().0) {
            *to = part.to_le_bytes();
        }
        bytes
    }

    /// A sum that was kept.
    pub fn kept(entries: u64, digest: [u8; 32]) -> Self {
        let mut sum = [0; 4];
        for (part, from) in sum.iter_mut().zip(digest.as_chunks::<8>().0) {
            *part = u64::from_le_bytes(*from);
        }
        Self { entries, sum }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sum_hangs_on_the_set_and_not_on_its_order() {
        let lines = ["a", "b", "c", "d"];
        let there = SetSum::of(lines);
        assert_eq!(SetSum::of(lines.into_iter().rev()), there);
        assert_ne!(SetSum::of(["a", "b", "c"]), there);
        assert_ne!(SetSum::of(["a", "b", "c", "e"]), there);
        assert_ne!(SetSum::of(["a", "b", "c", "d", "d"]), there);
        assert_eq!(SetSum::kept(there.entries, there.digest()), there);
        assert_eq!(SetSum::of([]), SetSum::NONE);
        assert_eq!(there.since(&SetSum::of(["a", "d"])), SetSum::of(["c", "b"]));
        assert_eq!(SetSum::of(["a"]).since(&there).since(&SetSum::of(["a"])), SetSum::NONE.since(&there));
    }

    #[test]
    fn carries_run_through_all_parts() {
        let most = SetSum::kept(1, [0xff; 32]);
        let mut one_more = most;
        one_more.add_line("a");
        // -1 + h = h - 1 modulo 2^256, and SHA-256 of "a" begins with ca (FIPS 180-4, worked out elsewhere).
        let mut alone = SetSum::NONE;
        alone.add_line("a");
        assert_eq!(alone.digest()[0], 0xca);
        assert_eq!(one_more.digest()[0], 0xc9);
        assert_eq!(one_more.digest()[1..], alone.digest()[1..]);
        assert_eq!(one_more.entries, 2);
    }
}
