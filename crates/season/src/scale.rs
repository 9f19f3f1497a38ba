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
//! | - | `RISE_GROWS` | growth of a building flow over the best of two days, for steps of 3 h and more | - | 2 | assumed |
//! | - | `LONG_RISE_MOST_KG` | the most taken for gain in a step of 3 h and more | kg | 3.2 | assumed |
//! | - | `SURE_RISE_KG`, `SURE_FALL_KG` | change of one step that is work however much the days scatter | kg | 6 and twice the best of two days, 3 | assumed |
//! | - | `MAY_BE_WORK`, `OTHERS_LEAST` | for steps of 3 h and more: changes of the same hour on other days left aside as perhaps work, and days needed | - | 1, 8 | assumed |
//! | - | `OTHERS_GROW`, `OTHERS_MARGIN_KG` | beyond so many times the best of those days, and so far beyond them, a change is work however they scatter | -, kg | 1.75, 1 | assumed |
//! | - | `SOON_GROWS` | a rise no more than so many times the days after is a flow that begins | - | 1.25 | assumed |
//! | - | `LONG_FALL_MOST_KG` | loss of a step of 3 h and more that night, flight and drying rain may bring together | kg | 2 | practice: night 1.2, dawn flight 0.5; rain assumed |
//! | - | `fewer_widths` | K for longer steps, by the root of ln of the readings in a season | of 1 | 1 at 5 min, 0.72 at 12 h | largest of n normal errors |
//! | - | `HALF_LEAST`, `TAKES_BACK` | part of a jump that a step beside it must be to belong to it | of 1 | 0.25, 0.5 | assumed |
//! | - | `ERR_TOGETHER` | what the errors of one visit's steps have in common | of 1 | 0.5 | assumed |
//! | - | `ROUND_S` | hours before and after a visit that tell the day's own gain | h | 2 | assumed |
//! | - | `PLAUSIBLE_KG` | what a hive's scale can show | kg | -200 to 400 | assumed |
//! | - | `STUCK_S` | so long the same reading is a stuck cell | h | 6 | assumed |
//! | - | `FALL_KG_PER_H`, `FALL_MOST_KG` | fastest loss by flight and drying, and most in one step | kg/h, kg | 0.6, 1.2 | from practice: dawn flight 0.1 to 0.5 kg, night 0.3 to 1.2 kg |
//! | - | `FULL_BOX_KG` | loss from which full boxes were pulled | kg | 8 | assumed: between an empty box and a full third |
//! | - | `USUAL_GAIN_KG_PER_D` | net gain without flow | kg/d | -0.15 | middle of the practice range -0.05 to -0.3 |
//! | - | `STEP_ERROR_KG` | error of a step on the best scale | kg | 0.1 | assumed |
//! | - | `FEED_DRIES` | part of feed that dries off in a week | of 1 | 0.1 | half of what 67 % syrup loses down to 18 % water (sugar kept: 1 - 0.67/0.82) |
//! | - | `SWARM_KG` | loss that may be a swarm | kg | 0.7 to 5 | assumed |

use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;
use outyard_base::{Kilograms, KilogramsPerDay, Minutes, Note, Range, Share};

mod clean;
mod nights;
pub mod score;
mod steps;
mod stream;

pub use stream::ScaleStream;

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
    /// One standard deviation of `kg`.
    pub kg_error: Kilograms,
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
    let level =
        level.iter().map(|(at, kg)| LevelPoint { at: clean::instant(*at), level: Kilograms::of(*kg) }).collect();
    ScaleReading { changes, nights, level, notes }
}

/// Reads a series whose times are those of a clock in the yard; in the hour that comes twice in autumn the first counts.
pub fn read_series(readings: &[(DateTime, Kilograms)], tz: &TimeZone, rules: &ScaleRules) -> ScaleReading {
    let instants: Vec<_> = readings.iter().filter_map(|(at, mass)| Some((tz.to_timestamp(*at).ok()?, *mass))).collect();
    read_instants(&instants, tz, rules)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use jiff::{SignedDuration, tz};
    use outyard_base::Chance;
    use outyard_base::days::{days_from, plus_days};

    /// A made-up colony on a scale: `gains` kg a day between 09:00 and 19:00, bees out by day, stores eaten at night.
    struct MadeUp {
        first: Date,
        gains: Vec<f64>,
        step: SignedDuration,
        noise_kg: f64,
        resolution_kg: f64,
        /// (day, hour, kg)
        events: Vec<(u32, f64, f64)>,
    }

    impl MadeUp {
        fn new(gains: Vec<f64>, step_min: i64) -> Self {
            let step = SignedDuration::from_mins(step_min);
            Self { first: date(2026, 5, 1), gains, step, noise_kg: 0.02, resolution_kg: 0.01, events: Vec::new() }
        }

        /// True weight without work at so many hours after the first midnight.
        fn weight_kg(&self, hours: f64) -> f64 {
            let gained: f64 = self
                .gains
                .iter()
                .zip(0_u32..)
                .map(|(gain, day)| {
                    let into_day = hours - f64::from(day) * 24.0;
                    // What is eaten and dried off runs on all day; the net of the day is the gain asked for.
                    let upkeep = 0.2 + 0.2 * gain.max(0.0);
                    (gain + upkeep) * ((into_day - 9.0) / 10.0).clamp(0.0, 1.0)
                        - upkeep * (into_day / 24.0).clamp(0.0, 1.0)
                })
                .sum();
            let hour = hours.rem_euclid(24.0);
            // A third of a kilogram of bees is out from seven to eight in the morning until six to eight at night.
            let out = 0.35 * ((hour - 7.0).clamp(0.0, 1.0) - ((hour - 18.0) / 2.0).clamp(0.0, 1.0));
            45.0 + gained - out
        }

        fn readings(&self, seed: u64) -> Vec<(Timestamp, Kilograms)> {
            let mut chance = Chance::new(seed, "made-up scale");
            let start = TimeZone::UTC.to_timestamp(self.first.at(0, 0, 0, 0)).unwrap();
            let mut readings = Vec::new();
            let mut hours = 0.0;
            let step_h = self.step.as_secs_f64() / 3600.0;
            let days = f64::from(u32::try_from(self.gains.len()).unwrap());
            while hours < 24.0 * days {
                let events: f64 = self
                    .events
                    .iter()
                    .filter(|event| f64::from(event.0) * 24.0 + event.1 <= hours)
                    .map(|event| event.2)
                    .sum();
                let kg = self.weight_kg(hours) + events + self.noise_kg * chance.normal();
                let kg = (kg / self.resolution_kg).round() * self.resolution_kg;
                readings.push((start + SignedDuration::from_secs_f64((hours * 3600.0).round()), Kilograms::of(kg)));
                hours += step_h;
            }
            readings
        }

        fn read(&self, seed: u64) -> ScaleReading {
            read_instants(&self.readings(seed), &TimeZone::UTC, &ScaleRules::default())
        }
    }

    fn lasting(reading: &ScaleReading) -> Vec<(ChangeKind, f64)> {
        reading
            .changes
            .iter()
            .filter(|change| change.kind.lasts())
            .map(|change| (change.kind, (change.kg.get() * 10.0).round() / 10.0))
            .collect()
    }

    /// A dearth, a flow that comes within a day and is strong, a spell of rain in it, a dearth.
    fn a_season() -> Vec<f64> {
        let mut gains = vec![-0.2; 20];
        gains.extend([0.4, 1.5, 3.0, 4.0, 6.0, 2.0, -0.6, -0.5, 1.0, 5.0, 4.0, 3.5, 7.0, 2.5, 1.2, 0.6]);
        gains.extend([-0.2; 20]);
        gains
    }

    const STEPS_MIN: [i64; 7] = [1, 5, 15, 60, 180, 360, 720];

    #[test]
    fn gain_alone_is_never_taken_for_work() {
        for step_min in STEPS_MIN {
            let reading = MadeUp::new(a_season(), step_min).read(7);
            assert_eq!(lasting(&reading), [], "step of {step_min} min");
        }
    }

    // The evening's answer must not wait for the days that follow.
    #[test]
    fn read_each_evening_gain_is_never_taken_for_work_either() {
        for step_min in [5, 60, 360, 720] {
            let whole = MadeUp::new(a_season(), step_min).readings(7);
            let per_day = whole.len() / a_season().len();
            for day in 10..a_season().len() {
                let reading = read_instants(&whole[..per_day * day], &TimeZone::UTC, &ScaleRules::default());
                assert_eq!(lasting(&reading), [], "step of {step_min} min, evening {day}");
            }
        }
    }

    #[test]
    fn a_box_and_a_pull_are_found_at_any_step() {
        for step_min in STEPS_MIN {
            let mut made_up = MadeUp::new(a_season(), step_min);
            made_up.events = vec![(12, 10.5, 6.0), (45, 14.2, -30.0)];
            let reading = made_up.read(7);
            let found: Vec<_> = lasting(&reading);
            assert_eq!(found.len(), 2, "step of {step_min} min: {found:?}");
            assert_eq!((found[0].0, found[1].0), (ChangeKind::BoxOn, ChangeKind::Pull));
            assert!((found[0].1 - 6.0).abs() < 0.4, "step of {step_min} min: {found:?}");
            assert!((found[1].1 + 30.0).abs() < 0.4, "step of {step_min} min: {found:?}");
        }
    }

    #[test]
    fn net_gains_are_the_true_ones_with_work_taken_out() {
        for (step_min, allowed) in [(1, 0.12), (5, 0.12), (60, 0.2), (360, 0.6)] {
            let mut made_up = MadeUp::new(a_season(), step_min);
            made_up.events = vec![(12, 10.5, 6.0), (30, 14.2, -30.0)];
            let reading = made_up.read(11);
            assert!(reading.nights.len() >= made_up.gains.len() - 1);
            for night in &reading.nights {
                let day = usize::try_from(days_from(made_up.first, night.date)).unwrap();
                let truth = made_up.gains[day];
                let got = night.net_gain.get();
                // On a day with work the gain of a long step cannot be told from the box: the range must say so.
                let half = 1.5 * (night.range.high.get() - got);
                let allowed = if [12, 30].contains(&day) { allowed + half } else { allowed };
                assert!((got - truth).abs() < allowed, "step {step_min}, day {day}: {got:.2}, true {truth:.2}");
            }
        }
    }

    #[test]
    fn work_after_which_the_level_returns_leaves_no_mark() {
        for step_min in [1, 5, 10] {
            let mut made_up = MadeUp::new(a_season(), step_min);
            // Lid and a super lifted off and put back; then a super beside the hive for two hours.
            made_up.events =
                vec![(25, 10.0, -2.5), (25, 10.2, -18.0), (25, 10.8, 20.5), (40, 9.0, -15.0), (40, 11.1, 15.0)];
            let reading = made_up.read(5);
            assert_eq!(lasting(&reading), [], "step of {step_min} min");
            let visits = reading.changes.iter().filter(|change| change.kind == ChangeKind::WorkThatReturned).count();
            assert_eq!(visits, 2, "step of {step_min} min");
        }
    }

    #[test]
    fn a_swarm_goes_in_steps_and_a_box_in_one() {
        let mut made_up = MadeUp::new(vec![0.5; 30], 5);
        let swarm = (0..4).map(|part| (15, 11.0 + f64::from(part) / 12.0, -0.6));
        made_up.events = swarm.chain([(22, 11.0, -2.4)]).collect();
        let kinds: Vec<_> = lasting(&made_up.read(3)).iter().map(|change| change.0).collect();
        assert_eq!(kinds, [ChangeKind::Swarm, ChangeKind::BoxOff]);
    }

    #[test]
    fn feed_dries_off_and_a_box_does_not() {
        let mut gains = vec![-0.1; 40];
        for gain in &mut gains[21..28] {
            *gain = -0.4;
        }
        let mut made_up = MadeUp::new(gains, 15);
        made_up.events = vec![(8, 15.0, 9.0), (20, 15.0, 9.0)];
        let kinds: Vec<_> = lasting(&made_up.read(3)).iter().map(|change| change.0).collect();
        assert_eq!(kinds, [ChangeKind::BoxOn, ChangeKind::Feed]);
    }

    #[test]
    fn disorder_repeats_and_faults_change_nothing_and_are_noted() {
        let mut made_up = MadeUp::new(a_season(), 15);
        made_up.events = vec![(12, 10.5, 6.0)];
        let clean = made_up.read(9);
        let mut rows = made_up.readings(9);
        let copies: Vec<_> = rows.iter().step_by(50).copied().collect();
        rows.extend(copies);
        rows.push((rows[100].0 + SignedDuration::from_secs(60), Kilograms::of(-1000.0)));
        rows.push((rows[200].0 + SignedDuration::from_secs(60), Kilograms::of(6553.5)));
        Chance::new(1, "disorder").shuffle(&mut rows);
        let flawed = read_instants(&rows, &TimeZone::UTC, &ScaleRules::default());
        assert_eq!(flawed.nights, clean.nights);
        assert_eq!(lasting(&flawed), lasting(&clean));
        let codes: Vec<_> = flawed.notes.iter().map(|note| note.code).collect();
        assert_eq!(codes, ["SCL-101", "SCL-102", "SCL-103"]);
        assert_eq!(flawed.changes.iter().filter(|change| change.kind == ChangeKind::Fault).count(), 2);
    }

    #[test]
    fn a_gap_is_told_its_nights_are_left_out_and_its_change_is_no_work() {
        let made_up = MadeUp::new(a_season(), 15);
        let start = TimeZone::UTC.to_timestamp(plus_days(made_up.first, 40).at(6, 0, 0, 0)).unwrap();
        let mut rows = made_up.readings(2);
        rows.retain(|row| !(start..start + SignedDuration::from_hours(80)).contains(&row.0));
        let reading = read_instants(&rows, &TimeZone::UTC, &ScaleRules::default());
        assert_eq!(reading.changes.iter().map(|change| change.kind).collect::<Vec<_>>(), [ChangeKind::Gap]);
        assert_eq!(reading.nights.len(), made_up.gains.len() - 1 - 4);
        assert_eq!(reading.notes[0].code, "SCL-104");
        // A box put on while nobody read is told as such.
        let mut boxed = MadeUp::new(a_season(), 15);
        boxed.events = vec![(41, 12.0, 20.0)];
        let mut rows = boxed.readings(2);
        rows.retain(|row| !(start..start + SignedDuration::from_hours(80)).contains(&row.0));
        let reading = read_instants(&rows, &TimeZone::UTC, &ScaleRules::default());
        let kinds: Vec<_> = reading.changes.iter().map(|change| change.kind).collect();
        assert_eq!(kinds, [ChangeKind::Gap, ChangeKind::BoxOn]);
    }

    #[test]
    fn days_are_those_of_the_yard() {
        let zone = tz::TimeZone::get("America/Winnipeg").unwrap();
        let made_up = MadeUp::new(vec![1.0; 12], 30);
        let civil: Vec<_> =
            made_up.readings(1).iter().map(|(at, mass)| (TimeZone::UTC.to_datetime(*at), *mass)).collect();
        let local = read_series(&civil, &zone, &ScaleRules::default());
        let plain = read_series(&civil, &TimeZone::UTC, &ScaleRules::default());
        assert_eq!(local.nights.len(), plain.nights.len());
        for (here, there) in local.nights.iter().zip(&plain.nights) {
            assert_eq!(here.date, there.date);
            assert!((here.net_gain.get() - there.net_gain.get()).abs() < 1e-6);
        }
    }

    #[test]
    fn next_to_nothing_is_answered_with_nothing() {
        assert_eq!(read_instants(&[], &TimeZone::UTC, &ScaleRules::default()), ScaleReading::default());
        let one = [(Timestamp::UNIX_EPOCH, Kilograms::of(40.0))];
        assert_eq!(read_instants(&one, &TimeZone::UTC, &ScaleRules::default()).nights, []);
        let two = [one[0], (Timestamp::from_second(3600).unwrap(), Kilograms::of(41.0))];
        assert_eq!(lasting(&read_instants(&two, &TimeZone::UTC, &ScaleRules::default())), []);
    }

    proptest::proptest! {
        #![proptest_config(proptest::prelude::ProptestConfig::with_cases(24))]
        #[test]
        fn what_comes_off_and_on_is_never_gain(
            seed in 0_u64..1000, day in 8_u32..22, hour in 8.0_f64..18.0, kg in 3.0_f64..35.0, off in proptest::bool::ANY,
        ) {
            let kg = if off { -kg } else { kg };
            let mut made_up = MadeUp::new(vec![0.8; 30], 15);
            let before = made_up.read(seed);
            made_up.events = vec![(day, hour, kg)];
            let after = made_up.read(seed);
            proptest::prop_assert_eq!(lasting(&after).len(), 1);
            for (plain, worked) in before.nights.iter().zip(&after.nights) {
                proptest::prop_assert!((plain.net_gain.get() - worked.net_gain.get()).abs() < 0.5);
            }
        }
    }
}
