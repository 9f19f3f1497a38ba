//! Reads a hive scale: work at the hive told apart from gain, and the net gain of each day.
//!
//! Only net gain midnight to midnight is used (Meikle et al. 2008): the day's swing of bees leaving and nectar coming
//! in cancels. The steps in the weight are found against the series itself. From every change between two readings the
//! middle change of the same hour of the days around it is taken off; what is left is work when it is larger than the
//! noise of that hour (a robust standard deviation, 1.4826 times the median absolute deviation), larger than what bees
//! can do in the time, and larger than half the least gear. Jumps close together are one visit. The level before and
//! after a visit, less what was to be expected meanwhile, is what stays changed; a visit after which the level comes
//! back is [`ChangeKind::WorkThatReturned`]. Readings closer than 5 minutes are first joined to medians of 5 minutes.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | m | `least_change` | least lasting change told apart from gain | kg | 0.5 | assumed: lighter than any box, heavier than a lid askew |
//! | K | `noise_widths` | widths of the noise beyond which a change is work | - | 6 | assumed |
//! | - | `half_window_days` | days either side whose same hour makes the expected change | d | 7 | assumed |
//! | - | `visit_gap` | pause that still belongs to one visit | min | 60 | assumed |
//! | - | `level_window` | readings before and after a visit that make a level | min | 30 | assumed |
//! | - | `RISE_KG_PER_H`, `RISE_MOST_KG` | fastest gain, and most in one step | kg/h, kg | 1.2, 2.5 | from practice: 1.5 to 3 kg/d sustained, best days 4 to 7 |
//! | - | `FALL_KG_PER_H`, `FALL_MOST_KG` | fastest loss by flight and drying, and most in one step | kg/h, kg | 0.6, 1.2 | from practice: dawn flight 0.1 to 0.5 kg, night 0.3 to 1.2 kg |
//! | - | `FULL_BOX_KG` | loss from which full boxes were pulled | kg | 8 | assumed: between an empty box and a full third |
//! | - | `FEED_DRIES` | part of feed that dries off in a week | of 1 | 0.1 | half of what 67 % syrup loses down to 18 % water (sugar kept: 1 - 0.67/0.82) |
//! | - | `SWARM_KG` | loss that may be a swarm | kg | 0.7 to 5 | assumed |

use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;
use outyard_base::{Kilograms, KilogramsPerDay, Minutes, Note, Range, Share};

mod clean;
mod nights;
mod steps;

/// What happened at the hive.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ChangeKind {
    /// A box, feeder or other gear was put on.
    BoxOn,
    /// Empty gear or a few combs were taken off.
    BoxOff,
    /// Full boxes were pulled.
    Pull,
    /// Feed was given.
    Feed,
    /// The hive was worked on and stands as before.
    WorkThatReturned,
    /// The scale was set to nought, or the hive put on it or taken off.
    Rezero,
    /// A sudden loss like that of a swarm leaving.
    Swarm,
    /// No readings.
    Gap,
    /// Readings that cannot be a weight of this hive.
    Fault,
}

impl ChangeKind {
    /// True when the weight stays changed for a reason other than gain.
    pub fn lasts(self) -> bool {
        matches!(self, Self::BoxOn | Self::BoxOff | Self::Pull | Self::Feed | Self::Rezero | Self::Swarm)
    }
}

/// One change found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// First moment of it.
    pub at: Timestamp,
    /// Last moment of it.
    pub until: Timestamp,
    /// Weight that stays on (positive) or off the hive because of it; for a gap, what changed across it.
    pub kg: Kilograms,
    /// What it looks like.
    pub kind: ChangeKind,
    /// How sure the kind is.
    pub confidence: Share,
}

/// Net gain of one civil day, midnight to midnight, with work at the hive taken out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Night {
    /// The day that ended at midnight.
    pub date: Date,
    /// Net gain.
    pub net_gain: KilogramsPerDay,
    /// Its range, from the noise of the readings and from work taken out that day.
    pub range: Range<KilogramsPerDay>,
}

/// One point of the level without work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LevelPoint {
    /// When.
    pub at: Timestamp,
    /// Weight as if no gear had ever been put on or taken off since the first reading.
    pub level: Kilograms,
}

/// What a series says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ScaleReading {
    /// What happened at the hive, in order.
    pub changes: Vec<Change>,
    /// Net gain of each day that can be told.
    pub nights: Vec<Night>,
    /// Level without work.
    pub level: Vec<LevelPoint>,
    /// Flaws of the series.
    pub notes: Vec<Note>,
}

/// Limits of the reader.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScaleRules {
    /// Least lasting change told apart from gain.
    pub least_change: Kilograms,
    /// Widths of the noise beyond which a change is work.
    pub noise_widths: f64,
    /// Days either side whose same hour makes the expected change.
    pub half_window_days: i64,
    /// Pause that still belongs to one visit.
    pub visit_gap: Minutes,
    /// Readings before and after a visit that make a level.
    pub level_window: Minutes,
}

impl Default for ScaleRules {
    /// All assumed; the table of this module gives the reasons.
    fn default() -> Self {
        Self {
            least_change: Kilograms::of(0.5),
            noise_widths: 6.0,
            half_window_days: 7,
            visit_gap: Minutes(60),
            level_window: Minutes(30),
        }
    }
}

/// Reads a series of instants, in any order; days are those of `tz`.
pub fn read_instants(readings: &[(Timestamp, Kilograms)], tz: &TimeZone, rules: &ScaleRules) -> ScaleReading {
    let (series, mut faults, notes) = clean::clean(readings, tz);
    if series.len() < 2 {
        return ScaleReading { changes: faults, notes, ..ScaleReading::default() };
    }
    let expected = steps::Expected::of(&series, rules);
    let visits = steps::find_visits(&series, &expected, rules);
    let (mut changes, level) = steps::settle(&series, &expected, &visits, rules);
    let nights = nights::net_gains(&series, &level, &expected, &changes, tz);
    steps::tell_feed(&mut changes, &nights, tz);
    changes.append(&mut faults);
    changes.sort_by_key(|change| change.at);
    let level = level
        .iter()
        .map(|(at, kg)| LevelPoint { at: clean::instant(*at), level: Kilograms::of(*kg) })
        .collect();
    ScaleReading { changes, nights, level, notes }
}

/// Reads a series whose times are those of a clock in the yard; in the hour that comes twice in autumn the first counts.
pub fn read_series(readings: &[(DateTime, Kilograms)], tz: &TimeZone, rules: &ScaleRules) -> ScaleReading {
    let instants: Vec<_> =
        readings.iter().filter_map(|(at, mass)| Some((tz.to_timestamp(*at).ok()?, *mass))).collect();
    read_instants(&instants, tz, rules)
}
