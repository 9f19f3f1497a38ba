//! Brood clocks: the dates a job starts by itself.
//!
//! **A brood clock never moves with the weather.** It starts on the day the job is done and runs on the bees' own
//! development, which the brood nest keeps warm. What moves with the weather are the fill clocks, and they live in
//! another room. Brood ages can run a day either way with stock and nest warmth (common practice, no source), which
//! is why each mark has a day to plan with besides its first day.
//!
//! Day 0 is the day of the job. Every day that follows from the stage table ([`crate::stages`]) is worked out from
//! it here, so the two cannot disagree.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | e | `WORKER.egg_days` | last egg above an excluder hatched | d | 3 | stage table |
//! | e + a | `LAST_CELL_START` | last day a queen cell can be started over a larva | d | 6 | stage table |
//! | c | `WORKER.capped_age` | last open worker cell capped | d | 9 | stage table |
//! | T - e - a | `emergency_virgin_day(3)` | first virgin from an emergency cell | d | 10 | stage table |
//! | | `NEW_QUEEN_EGGS` | first eggs of a queen raised after the put-down | d | 20 to 30 | common practice, no source |
//! | | `GIVE_UP_NEW_QUEEN` | no eggs by then: she has failed | d | 35 | common practice, no source |
//! | m | `EMERGENCE_TO_FIRST_EGG` | emergence to first egg | d | 12.9 | `[PerezSato2006]` |

mod tables;

use core::fmt;
use core::str::FromStr;

use jiff::civil::Date;
use outyard_base::days::plus_days;
use outyard_base::range::day_month;

pub use tables::{GIVE_UP_NEW_QUEEN, LAST_CELL_START, NEW_QUEEN_EGGS};

/// What happened on day 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ClockStart {
    /// The queen was put down and an excluder laid under a box of brood of all ages.
    ExcluderUnderBrood,
    /// A split was made and given a caged mated queen.
    SplitMatedQueen,
    /// A split was made and given a ripe cell, ten days after its graft.
    SplitRipeCell,
    /// A split was made and given a virgin up to a day old.
    SplitVirgin,
    /// A split was made and left to raise its own queen.
    SplitWalkAway,
    /// A caged mated queen was given to a colony without one.
    Requeened,
    /// Two colonies were united.
    United,
    /// Larvae were grafted.
    Graft,
    /// A swarm round found or left nothing older than a fresh egg in a cell; the queen flies.
    SwarmCellsSeenUnclipped,
    /// The same, and the queen's wing is clipped.
    SwarmCellsSeenClipped,
    /// The prime swarm left.
    PrimeSwarm,
    /// A treatment went in. The label as typed gives the dates: [`crate::LabelTyped::dates`].
    TreatmentIn,
    /// A treatment came out.
    TreatmentOut,
    /// Full boxes were pulled.
    PullToDrum,
    /// Feed was given.
    Fed,
}

/// A word that names no clock.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is no clock")]
pub struct BadClockStart(pub String);

impl ClockStart {
    /// All of them, in the order of the season.
    pub const ALL: [Self; 15] = [
        Self::ExcluderUnderBrood,
        Self::SplitMatedQueen,
        Self::SplitRipeCell,
        Self::SplitVirgin,
        Self::SplitWalkAway,
        Self::Requeened,
        Self::United,
        Self::Graft,
        Self::SwarmCellsSeenUnclipped,
        Self::SwarmCellsSeenClipped,
        Self::PrimeSwarm,
        Self::TreatmentIn,
        Self::TreatmentOut,
        Self::PullToDrum,
        Self::Fed,
    ];

    /// The word in files.
    pub const fn code(self) -> &'static str {
        match self {
            Self::ExcluderUnderBrood => "excluder-under-brood",
            Self::SplitMatedQueen => "split-mated-queen",
            Self::SplitRipeCell => "split-ripe-cell",
            Self::SplitVirgin => "split-virgin",
            Self::SplitWalkAway => "split-walk-away",
            Self::Requeened => "requeened",
            Self::United => "united",
            Self::Graft => "graft",
            Self::SwarmCellsSeenUnclipped => "swarm-cells-unclipped",
            Self::SwarmCellsSeenClipped => "swarm-cells-clipped",
            Self::PrimeSwarm => "prime-swarm",
            Self::TreatmentIn => "treatment-in",
            Self::TreatmentOut => "treatment-out",
            Self::PullToDrum => "pull-to-drum",
            Self::Fed => "fed",
        }
    }
}

impl fmt::Display for ClockStart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.code())
    }
}

impl FromStr for ClockStart {
    type Err = BadClockStart;
    fn from_str(text: &str) -> Result<Self, BadClockStart> {
        let word = text.trim();
        Self::ALL
            .into_iter()
            .find(|start| start.code() == word)
            .ok_or_else(|| BadClockStart(word.chars().take(40).collect()))
    }
}

/// One mark on a clock, in days after the job.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClockMark {
    /// Stable name in files and tests: `egg-test`.
    pub code: &'static str,
    /// Its name on a page.
    pub name: &'static str,
    /// First day on which it can be, or may be done.
    pub from_day: i64,
    /// The day to plan with.
    pub best_day: i64,
    /// Last day; `None` when it stays true from then on.
    pub to_day: Option<i64>,
    /// What is true then and what to do.
    pub meaning: &'static str,
    /// Where the days come from.
    pub source: &'static str,
    /// The job of the job book that belongs to this mark, if it calls for a visit.
    pub job: Option<&'static str>,
}

impl ClockMark {
    /// True when the mark holds on that day after the job.
    pub fn holds_on(&self, day: i64) -> bool {
        self.from_day <= day && self.to_day.is_none_or(|to| day <= to)
    }

    /// The mark in dates, for a clock started on `day0`.
    pub fn dated(&'static self, day0: Date) -> DatedMark {
        DatedMark {
            mark: self,
            from: plus_days(day0, self.from_day),
            best: plus_days(day0, self.best_day),
            to: self.to_day.map(|to| plus_days(day0, to)),
        }
    }
}

/// A clock mark with its dates.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DatedMark {
    /// The mark.
    pub mark: &'static ClockMark,
    /// First date.
    pub from: Date,
    /// The date to plan with.
    pub best: Date,
    /// Last date; `None` when it stays true from then on.
    pub to: Option<Date>,
}

/// `egg test: from 7 Jul`, `look for queen cells: 10 Jul to 12 Jul, best 11 Jul`.
impl fmt::Display for DatedMark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: ", self.mark.name)?;
        match self.to {
            Some(to) if to == self.from => return f.write_str(&day_month(to)),
            Some(to) => write!(f, "{} to {}", day_month(self.from), day_month(to))?,
            None => write!(f, "from {}", day_month(self.from))?,
        }
        if self.best == self.from { Ok(()) } else { write!(f, ", best {}", day_month(self.best)) }
    }
}

/// The marks of a clock, in the order of their first days. Empty only for [`ClockStart::TreatmentIn`], whose dates
/// come from the label as typed.
pub const fn marks(start: ClockStart) -> &'static [ClockMark] {
    match start {
        ClockStart::ExcluderUnderBrood => tables::EXCLUDER_UNDER_BROOD,
        ClockStart::SplitMatedQueen => tables::SPLIT_MATED_QUEEN,
        ClockStart::SplitRipeCell => tables::SPLIT_RIPE_CELL,
        ClockStart::SplitVirgin => tables::SPLIT_VIRGIN,
        ClockStart::SplitWalkAway => tables::SPLIT_WALK_AWAY,
        ClockStart::Requeened => tables::REQUEENED,
        ClockStart::United => tables::UNITED,
        ClockStart::Graft => tables::GRAFT,
        ClockStart::SwarmCellsSeenUnclipped => tables::SWARM_CELLS_UNCLIPPED,
        ClockStart::SwarmCellsSeenClipped => tables::SWARM_CELLS_CLIPPED,
        ClockStart::PrimeSwarm => tables::PRIME_SWARM,
        ClockStart::TreatmentIn => &[],
        ClockStart::TreatmentOut => tables::TREATMENT_OUT,
        ClockStart::PullToDrum => tables::PULL_TO_DRUM,
        ClockStart::Fed => tables::FED,
    }
}

/// One mark of a clock by its code.
pub fn mark(start: ClockStart, code: &str) -> Option<&'static ClockMark> {
    marks(start).iter().find(|mark| mark.code == code)
}

/// All marks of a clock started on `day0`, in dates.
///
/// ```
/// use jiff::civil::date;
/// use outyard_trade::{ClockStart, dated_marks};
/// let marks = dated_marks(ClockStart::ExcluderUnderBrood, date(2026, 7, 3));
/// let workers = marks.iter().find(|dated| dated.mark.code == "workers-out").unwrap();
/// assert_eq!((workers.from, workers.best), (date(2026, 7, 24), date(2026, 7, 25)));
/// ```
pub fn dated_marks(start: ClockStart, day0: Date) -> Vec<DatedMark> {
    marks(start).iter().map(|mark| mark.dated(day0)).collect()
}
