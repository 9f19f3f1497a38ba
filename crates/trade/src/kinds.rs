//! The kinds of colony an outfit works by, and how many of each stand in a yard.

use core::fmt;
use core::iter::Sum;
use core::ops::{Add, AddAssign};
use core::str::FromStr;

/// What sort of colony a hive holds, as it is called out when the truck stops.
///
/// The order is the order of a tally: the many first, the exceptions last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// A wintered colony in two brood chambers.
    Double,
    /// A wintered colony in one brood chamber.
    Single,
    /// A colony made this year, in one brood chamber.
    Split,
    /// A colony too small to follow the yard's job.
    Weak,
    /// A colony with no laying queen.
    Queenless,
}

/// A word that names no kind of colony.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is no kind of colony; the kinds are double, single, split, weak and queenless")]
pub struct BadKind(pub String);

impl Kind {
    /// All kinds, in the order of a tally.
    pub const ALL: [Self; 5] = [Self::Double, Self::Single, Self::Split, Self::Weak, Self::Queenless];

    /// The word in files and on the command line.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Double => "double",
            Self::Single => "single",
            Self::Split => "split",
            Self::Weak => "weak",
            Self::Queenless => "queenless",
        }
    }

    /// The word on a page, for a number of colonies: `26 doubles`, `1 double`.
    pub const fn label(self, count: u32) -> &'static str {
        match (self, count) {
            (Self::Double, 1) => "double",
            (Self::Double, _) => "doubles",
            (Self::Single, 1) => "single",
            (Self::Single, _) => "singles",
            (Self::Split, 1) => "split",
            (Self::Split, _) => "splits",
            (Self::Weak, _) => "weak",
            (Self::Queenless, _) => "queenless",
        }
    }

    const fn place(self) -> usize {
        self as usize
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.code())
    }
}

impl FromStr for Kind {
    type Err = BadKind;
    fn from_str(text: &str) -> Result<Self, BadKind> {
        let word = text.trim();
        Self::ALL
            .into_iter()
            .find(|kind| kind.code().eq_ignore_ascii_case(word))
            .ok_or_else(|| BadKind(word.chars().take(40).collect()))
    }
}

/// Colonies of each kind. A kind that is not there counts 0.
///
/// ```
/// use outyard_trade::{Kind, KindCounts};
/// let yard = KindCounts::of(&[(Kind::Double, 26), (Kind::Split, 6)]);
/// assert_eq!(yard.total(), 32);
/// assert_eq!(yard.to_string(), "26 doubles, 6 splits");
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct KindCounts([u32; Kind::ALL.len()]);

impl KindCounts {
    /// No colonies.
    pub const NONE: Self = Self([0; Kind::ALL.len()]);

    /// From pairs; a kind named twice is added up.
    pub fn of(pairs: &[(Kind, u32)]) -> Self {
        pairs.iter().copied().collect()
    }

    /// Colonies of one kind.
    pub const fn get(&self, kind: Kind) -> u32 {
        self.0[kind.place()]
    }

    /// Sets the colonies of one kind.
    pub fn set(&mut self, kind: Kind, count: u32) {
        self.0[kind.place()] = count;
    }

    /// All colonies together.
    pub fn total(&self) -> u32 {
        self.0.iter().sum()
    }

    /// True when there is no colony at all.
    pub fn is_empty(&self) -> bool {
        self.0.iter().all(|count| *count == 0)
    }

    /// The kinds present with their counts, in the order of a tally.
    pub fn iter(&self) -> impl Iterator<Item = (Kind, u32)> + '_ {
        Kind::ALL.into_iter().map(|kind| (kind, self.get(kind))).filter(|(_, count)| *count > 0)
    }

    /// Only the kinds named.
    #[must_use]
    pub fn only(&self, kinds: &[Kind]) -> Self {
        self.iter().filter(|(kind, _)| kinds.contains(kind)).collect()
    }
}

impl FromIterator<(Kind, u32)> for KindCounts {
    fn from_iter<I: IntoIterator<Item = (Kind, u32)>>(pairs: I) -> Self {
        let mut counts = Self::NONE;
        for (kind, count) in pairs {
            counts.0[kind.place()] += count;
        }
        counts
    }
}

impl Add for KindCounts {
    type Output = Self;
    fn add(mut self, other: Self) -> Self {
        self += other;
        self
    }
}

impl AddAssign for KindCounts {
    fn add_assign(&mut self, other: Self) {
        for (mine, theirs) in self.0.iter_mut().zip(other.0) {
            *mine += theirs;
        }
    }
}

impl Sum for KindCounts {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        parts.fold(Self::NONE, Add::add)
    }
}

/// `26 doubles, 6 splits`, or `no colonies`.
impl fmt::Display for KindCounts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_empty() {
            return f.write_str("no colonies");
        }
        for (index, (kind, count)) in self.iter().enumerate() {
            let lead = if index == 0 { "" } else { ", " };
            write!(f, "{lead}{count} {}", kind.label(count))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_reads_back_from_its_code() {
        for kind in Kind::ALL {
            assert_eq!(kind.code().parse::<Kind>().unwrap(), kind);
            assert_eq!(kind.code().to_uppercase().parse::<Kind>().unwrap(), kind);
        }
        assert_eq!(
            "doubles".parse::<Kind>().unwrap_err().to_string(),
            "\"doubles\" is no kind of colony; the kinds are double, single, split, weak and queenless"
        );
        assert!(Kind::ALL.is_sorted());
    }

    #[test]
    fn counts_add_kind_by_kind() {
        let seven = KindCounts::of(&[(Kind::Double, 20), (Kind::Split, 6), (Kind::Double, 6)]);
        let nineteen = KindCounts::of(&[(Kind::Double, 34), (Kind::Weak, 1)]);
        let both: KindCounts = [seven, nineteen].into_iter().sum();
        assert_eq!(both.to_string(), "60 doubles, 6 splits, 1 weak");
        assert_eq!(both.total(), 67);
        assert_eq!(both.only(&[Kind::Split, Kind::Queenless]), KindCounts::of(&[(Kind::Split, 6)]));
        assert_eq!(KindCounts::NONE.to_string(), "no colonies");
        assert!(KindCounts::of(&[(Kind::Single, 0)]).is_empty());
    }
}
