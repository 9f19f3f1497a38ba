//! Gear: how much of what, and where it can be.

use core::fmt;
use std::collections::BTreeMap;

use outyard_base::{GearCode, TruckId, YardId};

/// A place where gear can be.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum GearPlace {
    /// The shed at home base.
    Shed,
    /// On a truck.
    Truck(TruckId),
    /// On the hives of a yard.
    OnHives(YardId),
    /// Standing in a yard, on no hive.
    LooseInYard(YardId),
    /// In the hot room, full.
    HotRoom,
    /// Extracted and sticky, waiting to go out again.
    Wet,
    /// Lent to someone, as he calls them.
    LentOut(String),
    /// Not the outfit's: where bought gear comes from, and sold or lost gear goes.
    Outside,
}

impl fmt::Display for GearPlace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Shed => f.write_str("the shed"),
            Self::Truck(truck) => write!(f, "truck {truck}"),
            Self::OnHives(yard) => write!(f, "on the hives of yard {yard}"),
            Self::LooseInYard(yard) => write!(f, "loose in yard {yard}"),
            Self::HotRoom => f.write_str("the hot room"),
            Self::Wet => f.write_str("wet supers"),
            Self::LentOut(to) => write!(f, "lent to {to}"),
            Self::Outside => f.write_str("outside the outfit"),
        }
    }
}

/// Counts of gear by kind of gear. A nought that was written down is kept: a place counted empty is not a place
/// never counted.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct GearCounts(BTreeMap<GearCode, u32>);

impl GearCounts {
    /// No gear told of.
    pub const fn none() -> Self {
        Self(BTreeMap::new())
    }

    /// One kind of gear.
    pub fn one(gear: GearCode, count: u32) -> Self {
        Self(BTreeMap::from([(gear, count)]))
    }

    /// Pieces of one kind of gear; nought when it is not told of.
    pub fn of(&self, gear: &GearCode) -> u32 {
        self.0.get(gear).copied().unwrap_or(0)
    }

    /// Sets the count of one kind of gear, nought included.
    pub fn set(&mut self, gear: GearCode, count: u32) {
        self.0.insert(gear, count);
    }

    /// Adds pieces of one kind of gear; stops at the largest count that can be written.
    pub fn add(&mut self, gear: &GearCode, count: u32) {
        let now = self.of(gear).saturating_add(count);
        self.0.insert(gear.clone(), now);
    }

    /// Each kind of gear told of, in order.
    pub fn iter(&self) -> impl Iterator<Item = (&GearCode, u32)> + '_ {
        self.0.iter().map(|(gear, count)| (gear, *count))
    }

    /// All pieces together.
    pub fn total(&self) -> u64 {
        self.0.values().map(|count| u64::from(*count)).sum()
    }

    /// True when no gear is told of at all.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl FromIterator<(GearCode, u32)> for GearCounts {
    fn from_iter<I: IntoIterator<Item = (GearCode, u32)>>(counts: I) -> Self {
        let mut all = Self::none();
        counts.into_iter().for_each(|(gear, count)| all.add(&gear, count));
        all
    }
}
