//! Reads a hive scale: work at the hive told apart from gain, and the net gain of each day.

use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use outyard_base::days::plus_days;
use outyard_base::{Kilograms, KilogramsPerDay, Note, Range, Share};

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
}

impl Default for ScaleRules {
    fn default() -> Self {
        Self { least_change: Kilograms::of(0.5) }
    }
}

/// Reads a series of instants; days are those of `tz`.
pub fn read_instants(readings: &[(Timestamp, Kilograms)], tz: &TimeZone, rules: &ScaleRules) -> ScaleReading {
    let _ = rules;
    let mut sorted = readings.to_vec();
    sorted.sort_by_key(|reading| reading.0);
    sorted.dedup_by_key(|reading| reading.0);
    let level: Vec<LevelPoint> = sorted.iter().map(|(at, level)| LevelPoint { at: *at, level: *level }).collect();
    let (Some(first), Some(last)) = (level.first(), level.last()) else { return ScaleReading::default() };
    let date = |at: Timestamp| tz.to_datetime(at).date();
    let at_midnight = |date: Date| -> Option<f64> {
        let midnight = tz.to_timestamp(date.at(0, 0, 0, 0)).ok()?;
        let after = level.partition_point(|point| point.at < midnight);
        let (before, after) = (level.get(after.checked_sub(1)?)?, level.get(after)?);
        let seconds = |span: SignedDuration| span.as_secs_f64();
        let part = seconds(midnight.duration_since(before.at)) / seconds(after.at.duration_since(before.at));
        Some(before.level.get() + (after.level.get() - before.level.get()) * part)
    };
    let nights = outyard_base::days::each_day(date(first.at), date(last.at))
        .filter_map(|date| {
            let gain = KilogramsPerDay::of(at_midnight(plus_days(date, 1))? - at_midnight(date)?);
            Some(Night { date, net_gain: gain, range: Range::exact(gain) })
        })
        .collect();
    ScaleReading { changes: Vec::new(), nights, level, notes: Vec::new() }
}

/// Reads a series whose times are those of a clock in the yard.
pub fn read_series(readings: &[(DateTime, Kilograms)], tz: &TimeZone, rules: &ScaleRules) -> ScaleReading {
    let instants: Vec<_> = readings.iter().filter_map(|(at, mass)| Some((tz.to_timestamp(*at).ok()?, *mass))).collect();
    read_instants(&instants, tz, rules)
}
