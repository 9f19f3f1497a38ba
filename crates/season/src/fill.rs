//! When the boxes above the excluder are full: the hand sum, always shown because it can be checked with a pencil.
//!
//! Put-down day is day 0. The super is empty comb at once; the upper brood box becomes honey room as its brood hatches,
//! evenly over 21 days (outyard design, section 5; worker development 21 days). The boxes are full on the day the
//! summed net gain has caught up with the room. The queen check at day 14 does not move with the gain: by then two
//! thirds of the brood above has hatched and open brood above still tells where the queen is.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | S | `super_kg` | honey the supers hold above the excluder | kg | 24 a third | common practice, no source |
//! | U | `upper_box_kg` | honey the upper brood box holds once clear of brood | kg | 24 | common practice, no source |
//! | h | `hatch_days` | days from egg to worker: after them the upper box is clear | d | 21 | Winston 1987, ch. 4 |
//! | g | `gain` | net gain of one colony | kg/d | input | scale or outlook |
//! | t | `day` | days since the put-down, fractional | d | - | - |
//! | C(t) | `capacity_kg` | room on day t: S + U·min(t, h)/h | kg | - | hand sum |
//! | L | `share_lost` | part of the gain lost while the boxes stand full | of 1 | 0.6 | common practice, no source |

use jiff::civil::Date;
use outyard_base::days::plus_days;
use outyard_base::{DateRange, Kilograms, KilogramsPerDay, Share};

/// Days from egg to worker bee (Winston 1987, *The Biology of the Honey Bee*, ch. 4).
pub const HATCH_DAYS: f64 = 21.0;

/// Day after the put-down on which the queen check falls due: two thirds of the brood above has hatched.
/// Common practice, no source.
pub const QUEEN_CHECK_DAY: i64 = 14;

/// Honey room above the excluder of one colony.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// What the supers hold, all together, kg; not negative.
    pub super_kg: f64,
    /// What the upper brood box holds once its brood has hatched, kg; 0 for a colony with none.
    pub upper_box_kg: f64,
    /// Days the brood takes to hatch out; [`HATCH_DAYS`] unless a test says otherwise. At 0 the box counts at once.
    pub hatch_days: f64,
}

impl Room {
    /// The usual put-down room: so much in supers, one upper box, worker brood.
    pub fn new(supers: Kilograms, upper_box: Kilograms) -> Self {
        Self { super_kg: supers.get(), upper_box_kg: upper_box.get(), hatch_days: HATCH_DAYS }
    }

    /// Room on day `day` after the put-down (fractional; before day 0 it is the super alone), kg.
    pub fn capacity_kg(&self, day: f64) -> f64 {
        let hatched = if self.hatch_days > 0.0 { (day / self.hatch_days).clamp(0.0, 1.0) } else { 1.0 };
        self.super_kg + self.upper_box_kg * hatched
    }
}

/// Where a colony stands when a sum starts.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct FillState {
    /// Days since the put-down, 0 on the day itself.
    pub day: f64,
    /// Honey and nectar already above the excluder, kg.
    pub held_kg: f64,
}

/// Days from the put-down until the room is full at a constant gain; `None` when it never fills
/// (the gain is nought or less).
///
/// ```
/// use outyard_base::{Kilograms, KilogramsPerDay};
/// use outyard_season::{Room, full_after};
/// let room = Room::new(Kilograms::of(24.0), Kilograms::of(24.0));
/// let days = full_after(&room, KilogramsPerDay::of(3.0)).unwrap();
/// assert!((days - 12.92).abs() < 0.01);
/// ```
pub fn full_after(room: &Room, gain: KilogramsPerDay) -> Option<f64> {
    let gain = gain.get();
    if gain <= 0.0 {
        return (room.capacity_kg(0.0) <= 0.0).then_some(0.0);
    }
    let hatching = if room.hatch_days > 0.0 { room.upper_box_kg / room.hatch_days } else { 0.0 };
    if gain > hatching {
        let day = room.capacity_kg(0.0) / (gain - hatching);
        if day <= room.hatch_days || hatching <= 0.0 {
            return Some(day);
        }
    }
    Some((room.super_kg + room.upper_box_kg) / gain)
}

/// The gain at which the room is full exactly on `day`: above it one more box must be loaded.
pub fn gain_that_fills_on(room: &Room, day: f64) -> Option<KilogramsPerDay> {
    (day > 0.0).then(|| KilogramsPerDay::of(room.capacity_kg(day) / day))
}

/// Day after the put-down (fractional) on which the room is full when day `start.day + k` gains `gains_kg_per_day[k]`;
/// `None` when it is not full within the days given. The held honey never falls below nought.
pub fn fill_day(room: &Room, start: FillState, gains_kg_per_day: &[f64]) -> Option<f64> {
    let (mut day, mut held) = (start.day, start.held_kg.max(0.0));
    if held >= room.capacity_kg(day) {
        return Some(day);
    }
    for &gain in gains_kg_per_day {
        // The room grows in a straight line until the last brood is out, then not at all: at most two pieces a day.
        let bend = room.hatch_days;
        let pieces = if day < bend && bend < day + 1.0 { [bend - day, day + 1.0 - bend] } else { [1.0, 0.0] };
        for length in pieces {
            if length <= 0.0 {
                continue;
            }
            let room_before = room.capacity_kg(day) - held;
            let room_after = room.capacity_kg(day + length) - (held + gain * length);
            if room_after <= 0.0 {
                return Some(day + length * room_before / (room_before - room_after));
            }
            held = (held + gain * length).max(0.0);
            day += length;
        }
    }
    None
}

/// Honey above the excluder after the days given, kg, with no limit of room.
pub fn held_after(start: FillState, gains_kg_per_day: &[f64]) -> Kilograms {
    Kilograms::of(gains_kg_per_day.iter().fold(start.held_kg.max(0.0), |held, gain| (held + gain).max(0.0)))
}

/// The date on which the boxes are full, from one gain series per member. `first` is the date of the first gain.
pub fn fill_dates(room: &Room, start: FillState, first: Date, gains_by_member: &[Vec<f64>]) -> DateRange {
    DateRange::of_members(gains_by_member.iter().map(|gains| {
        fill_day(room, start, gains).map(|day| {
            #[expect(clippy::cast_possible_truncation, reason = "bounded by the number of days given")]
            let whole = (day - start.day).floor() as i64;
            plus_days(first, whole)
        })
    }))
}

/// By when a crew must be back at a yard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ReturnBy {
    /// Last day, counted from the put-down, on which the boxes still have room; `None` when they never fill.
    pub for_room: Option<i64>,
    /// Day on which the queen check falls due whatever the flow does.
    pub for_queen_check: i64,
}

impl ReturnBy {
    /// The earlier of the two.
    pub fn day(&self) -> i64 {
        self.for_room.map_or(self.for_queen_check, |room| room.min(self.for_queen_check))
    }

    /// True when it is the room, not the queen check, that sets the day.
    pub fn room_decides(&self) -> bool {
        self.for_room.is_some_and(|room| room < self.for_queen_check)
    }

    /// The two as dates, counted from the put-down.
    pub fn dates(&self, put_down: Date) -> (Option<Date>, Date) {
        (self.for_room.map(|day| plus_days(put_down, day)), plus_days(put_down, self.for_queen_check))
    }
}

/// The return rule: no later than the last whole day before the boxes are full, and at the queen check in any case.
pub fn return_by(full_after_days: Option<f64>, queen_check_day: i64) -> ReturnBy {
    #[expect(clippy::cast_possible_truncation, reason = "clamped to days that fit")]
    // A sum that should give 24 may give 23.999...: the tiny allowance keeps that day.
    let for_room = full_after_days.map(|days| (days.clamp(-1e6, 1e6) + 1e-9).floor() as i64);
    ReturnBy { for_room, for_queen_check: queen_check_day }
}

/// Honey lost by day `day` when a yard has stood full since day `full_on`.
pub fn loss_after_full(
    colonies: u32,
    gain: KilogramsPerDay,
    full_on: Option<f64>,
    day: f64,
    share_lost: Share,
) -> Kilograms {
    let days_full = full_on.map_or(0.0, |full_on| (day - full_on).max(0.0));
    Kilograms::of(f64::from(colonies) * gain.get().max(0.0) * days_full * share_lost.get())
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn one_third() -> Room {
        Room::new(Kilograms::of(24.0), Kilograms::of(24.0))
    }

    // Scene S3: 2 / 3 / 4.5 kg/d with one third on, and 4.5 with two.
    #[test]
    fn scene_3_days_to_full_and_latest_return() {
        for (supers, gain, days, room_day) in
            [(24.0, 2.0, 24.0, 24), (24.0, 3.0, 12.92, 12), (24.0, 4.5, 7.15, 7), (48.0, 4.5, 14.3, 14)]
        {
            let room = Room::new(Kilograms::of(supers), Kilograms::of(24.0));
            let full = full_after(&room, KilogramsPerDay::of(gain)).unwrap();
            assert!((full - days).abs() < 0.01, "{gain} kg/d fills after {full}");
            let back = return_by(Some(full), QUEEN_CHECK_DAY);
            assert_eq!(back.for_room, Some(room_day));
            assert_eq!(back.day(), room_day.min(14));
        }
        let enough = gain_that_fills_on(&one_third(), 14.0).unwrap().get();
        assert!((enough - 2.857).abs() < 0.001, "{enough}");
    }

    // Scene S6: 3 kg/d, rain on D+3, D+4 and D+5 at -0.5 kg/d.
    #[test]
    fn scene_6_three_days_of_rain() {
        let gains: Vec<f64> = (0..40).map(|day| if (3..6).contains(&day) { -0.5 } else { 3.0 }).collect();
        let held = held_after(FillState::default(), &gains[..6]);
        assert!((held.get() - 7.5).abs() < 1e-12);
        let full = fill_day(&one_third(), FillState::default(), &gains).unwrap();
        assert!((full - 18.58).abs() < 0.01, "{full}");
        let back = return_by(Some(full), QUEEN_CHECK_DAY);
        assert_eq!(back.dates(date(2026, 7, 3)).0, Some(date(2026, 7, 21)));
        let dry = return_by(full_after(&one_third(), KilogramsPerDay::of(3.0)), QUEEN_CHECK_DAY);
        assert_eq!(dry.dates(date(2026, 7, 3)).0, Some(date(2026, 7, 15)));
    }

    // Scene S4: yards N and W, 24 kg a box, 0.6 lost once full.
    #[test]
    fn scene_4_honey_lost_while_a_full_yard_waits() {
        let full_on = |free_kg: f64, gain: f64| {
            full_after(&Room::new(Kilograms::of(free_kg), Kilograms::ZERO), KilogramsPerDay::of(gain))
        };
        let north = full_on(0.4 * 24.0, 3.5);
        let west = full_on(0.05 * 24.0, 4.5);
        assert!((north.unwrap() - 2.74).abs() < 0.01);
        assert!((full_on(24.0, 1.2).unwrap() - 20.0).abs() < 1e-9);
        assert!((west.unwrap() - 0.27).abs() < 0.01);
        let lost = |day| loss_after_full(20, KilogramsPerDay::of(4.5), west, day, Share::of(0.6)).get();
        assert!(lost(0.0).abs() < 1e-12);
        assert!((lost(1.0) - 39.6).abs() < 0.05);
        assert!((lost(2.0) - 93.6).abs() < 0.05);
    }

    #[test]
    fn daily_sums_agree_with_the_constant_sum() {
        for gain in [0.3, 1.0, 1.14, 2.0, 2.5, 3.0, 4.5, 11.0] {
            let by_hand = full_after(&one_third(), KilogramsPerDay::of(gain)).unwrap();
            let by_day = fill_day(&one_third(), FillState::default(), &vec![gain; 200]).unwrap();
            assert!((by_hand - by_day).abs() < 1e-9, "{gain}: {by_hand} and {by_day}");
        }
        assert_eq!(full_after(&one_third(), KilogramsPerDay::of(-0.2)), None);
        assert_eq!(fill_day(&one_third(), FillState::default(), &[-0.2; 60]), None);
    }

    #[test]
    fn a_sum_taken_up_half_way_gives_the_same_day() {
        let whole = fill_day(&one_third(), FillState::default(), &[2.5; 60]).unwrap();
        let later = FillState { day: 5.0, held_kg: 12.5 };
        assert!((fill_day(&one_third(), later, &[2.5; 60]).unwrap() - whole).abs() < 1e-9);
        let full = FillState { day: 30.0, held_kg: 50.0 };
        assert_eq!(fill_day(&one_third(), full, &[]), Some(30.0));
    }

    #[test]
    fn members_that_never_fill_leave_the_late_date_open() {
        let members = vec![vec![3.0; 30], vec![2.0; 30], vec![0.5; 30]];
        let dates = fill_dates(&one_third(), FillState::default(), date(2026, 7, 3), &members);
        assert_eq!(dates.early, Some(date(2026, 7, 15)));
        assert_eq!(dates.likely, Some(date(2026, 7, 27)));
        assert_eq!(dates.late, None);
    }

    proptest::proptest! {
        #[test]
        fn more_gain_never_fills_later(gain in 0.1_f64..8.0, more in 0.0_f64..4.0, supers in 0.0_f64..80.0) {
            let room = Room::new(Kilograms::of(supers), Kilograms::of(24.0));
            let slow = full_after(&room, KilogramsPerDay::of(gain)).unwrap();
            let fast = full_after(&room, KilogramsPerDay::of(gain + more)).unwrap();
            proptest::prop_assert!(fast <= slow + 1e-9);
            proptest::prop_assert!((room.capacity_kg(slow) - gain * slow).abs() < 1e-6);
        }
    }
}
