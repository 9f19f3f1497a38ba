//! How long brood takes: the one table all brood clocks are worked out from.
//!
//! Ages are days since the egg was laid: **day 0 is the laying day**. Many handbooks call that day 1; their ordinals
//! are one higher, their spans the same. All ages are for a brood nest of 34 to 35 °C; cooler brood (32 to 33 °C) can
//! add a day or two (from memory, Winston 1987).
//!
//! | symbol | name in code | meaning | unit | value (worker / drone / queen) | source |
//! |---|---|---|---|---|---|
//! | e | `egg_days` | days as an egg | d | 3 / 3 / 3 | `[LifeCycle, table]`; `[BaileyChange]` |
//! | c | `capped_age` | age at capping, on the safe side | d | 9 / 10 / 8 | `[LifeCycle, table]` |
//! | c₀ | `capped_age_earliest` | least age at capping | d | 8 / 9 / 7 | `[BaileyChange]`; drone and queen halves rounded down |
//! | T₀ | `emerges_earliest` | least age at emergence | d | 19 / 23 / 15 | Winston 1987, from memory, halves rounded down |
//! | T | `emerges_age` | usual age at emergence | d | 21 / 24 / 16 | `[LifeCycle, table]` |
//! | T₁ | `emerges_latest` | greatest age at emergence | d | 22 / 26 / 17 | Winston 1987, from memory, halves rounded up |

/// The ages at which one caste passes its stages, in days since the egg was laid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stages {
    /// Days as an egg.
    pub egg_days: i64,
    /// Least age at which a cell is capped.
    pub capped_age_earliest: i64,
    /// Age by which every cell is capped: the safe figure for "no open brood is left".
    pub capped_age: i64,
    /// Least age at emergence.
    pub emerges_earliest: i64,
    /// Usual age at emergence.
    pub emerges_age: i64,
    /// Greatest age at emergence.
    pub emerges_latest: i64,
}

/// Worker brood.
pub const WORKER: Stages = Stages {
    egg_days: 3,
    capped_age_earliest: 8,
    capped_age: 9,
    emerges_earliest: 19,
    emerges_age: 21,
    emerges_latest: 22,
};

/// Drone brood.
pub const DRONE: Stages = Stages {
    egg_days: 3,
    capped_age_earliest: 9,
    capped_age: 10,
    emerges_earliest: 23,
    emerges_age: 24,
    emerges_latest: 26,
};

/// Queen brood.
pub const QUEEN: Stages = Stages {
    egg_days: 3,
    capped_age_earliest: 7,
    capped_age: 8,
    emerges_earliest: 15,
    emerges_age: 16,
    emerges_latest: 17,
};

/// Greatest age after hatching, in days, at which a worker larva can still be raised into a queen
/// (Woyke 1971, Weaver 1957, from memory; poorer queens after 2 days).
pub const OLDEST_QUEEN_LARVA_DAYS: i64 = 3;

/// Age since laying of a larva fit for grafting, in days (12 to 24 h after hatching) `[GraftSheet]`.
pub const GRAFT_AGE: i64 = 4;

/// Mean days from a queen's emergence to her first egg: 12.9 in Pérez-Sato & Ratnieks 2006, in whole days.
pub const EMERGENCE_TO_FIRST_EGG: i64 = 13;

/// Days after the job on which a virgin emerges from an emergency cell started at once over a larva `days_hatched`
/// old: 16 - 3 - days hatched.
///
/// ```
/// use outyard_trade::stages::emergency_virgin_day;
/// assert_eq!([0, 1, 3].map(emergency_virgin_day), [13, 12, 10]);
/// ```
pub const fn emergency_virgin_day(days_hatched: i64) -> i64 {
    QUEEN.emerges_age - QUEEN.egg_days - days_hatched
}

/// Days after the job on which that cell is capped: 8 - 3 - days hatched.
pub const fn emergency_cell_capped_day(days_hatched: i64) -> i64 {
    QUEEN.capped_age - QUEEN.egg_days - days_hatched
}

#[cfg(test)]
mod tests {
    use super::*;

    // trade facts 1.1 and 1.3 A: capped day 5-a -> 2 to 5; virgin day 13-a -> 10, 12, 13.
    #[test]
    fn emergency_cells_follow_from_the_stage_table() {
        assert_eq!([3, 2, 1, 0].map(emergency_cell_capped_day), [2, 3, 4, 5]);
        assert_eq!([3, 2, 1, 0].map(emergency_virgin_day), [10, 11, 12, 13]);
    }

    // Trade facts 1.1 (3+5+13 and 3+6+12 days of a worker; ranges of Winston 1987, from memory): egg days, earliest and usual age
    // at capping, and the range of emergence in whole days.
    #[test]
    fn stages_are_those_of_the_published_table() {
        for (stages, egg, capped, emerges, range) in
            [(WORKER, 3, (8, 9), 21, (19, 22)), (DRONE, 3, (9, 10), 24, (23, 26)), (QUEEN, 3, (7, 8), 16, (15, 17))]
        {
            assert_eq!((stages.egg_days, stages.emerges_age), (egg, emerges));
            assert_eq!((stages.capped_age_earliest, stages.capped_age), capped);
            assert_eq!((stages.emerges_earliest, stages.emerges_latest), range);
        }
    }

    #[test]
    fn stages_come_in_order() {
        for stages in [WORKER, DRONE, QUEEN] {
            let ages = [
                stages.egg_days,
                stages.capped_age_earliest,
                stages.capped_age,
                stages.emerges_earliest,
                stages.emerges_age,
                stages.emerges_latest,
            ];
            assert!(ages.windows(2).all(|pair| pair[0] < pair[1]), "{stages:?}");
        }
    }
}
