//! What waiting costs: a colony followed through every member twice, as it stands and as if the crew came today.
//!
//! One run of a member serves every day of the curve: until the crew comes, the colony that waits is the same colony
//! whatever the day, so what it has lost by each day is read off one run (the shared beginning). The same colony
//! relieved this morning is run beside it; the cost of waiting until a day is the difference of the two by that day. The
//! colony that waits is followed to the end of the outlook, which gives the day its boxes are full.
//!
//! What the relief on a later day sets off afterwards is left aside: honey refused later because the relief came late
//! stays small while the boxes brought are enough, which a test holds against running every day out.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | L | `Worth::lost_once_full` | part of the honey refused that is lost for good | of 1 | 0.6 | common practice, no source |
//! | S | `Worth::swarm_kg` | honey lost with a swarm | kg | job book | common practice, no source |
//! | W | `WINTER_BEES` | winter bees a colony needs | bees | 12 000 | assumed |
//! | p | `WINTER_POINTS` | winter loss added when all of them are missing or sick | of 1 | 0.20 | common practice, no source: 15 % against 35 % |
//! | - | `winter_eggs` | eggs that become winter bees: 1 August to 4 September in the north | - | dates | emerge late August, most by 25 September `[MattilaHarrisOtis2001]`, less 21 d |
//! | q | `Risks::queen_above` | colonies with a queen above after a put-down | of 1 | job book | common practice, no source |
//! | Q | `QUEEN_ABOVE_DAYS` | days over which a queen above comes to cost what a late queen does | d | 14 | assumed |
//! | - | `NEXT_ROUND_DAYS` | days for which boxes are put on at once: until the crew is back | d | 12 | assumed |
//! | - | `REFUSES_FROM_KG` | nectar without a cell from which a colony counts as refusing it | kg/d | 0.1 | assumed |

use jiff::civil::Date;
use outyard_base::days::plus_days;
use outyard_base::{Cents, DateRange, Kilograms, Range};
use outyard_trade::BoxDepth;
use outyard_trade::boxes::FrameCount;
use outyard_trade::jobbook::Worth;
use rayon::prelude::*;

use crate::colony::crowding::swarm_season;
use crate::colony::laying::{drone_season, laying_season};
use crate::colony::stores::cells_of_box;
use crate::colony::{Colony, ColonyRules, ForageDay, Rates, USUAL_NECTAR_SUGAR};

/// Winter bees a colony needs. Assumed.
pub const WINTER_BEES: f64 = 12_000.0;
/// Winter loss added when all of them are missing or were raised among mites. Common practice, no source.
pub const WINTER_POINTS: f64 = 0.20;
/// Days over which a queen above comes to cost what a late queen does. Assumed.
pub const QUEEN_ABOVE_DAYS: f64 = 14.0;
/// Days for which boxes are put on at once: until the crew is back again. Assumed.
pub const NEXT_ROUND_DAYS: usize = 12;
/// Honey to be that finds no cell in a day, from which a colony counts as refusing it, kg. Assumed.
const REFUSES_FROM_KG: f64 = 0.1;

/// Why waiting costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    /// Honey that finds no room.
    NoRoom,
    /// Swarms.
    Swarm,
    /// A nest plugged with honey: winter bees not raised.
    PluggedNest,
    /// A queen above the excluder found late.
    QueenAbove,
    /// Winter bees raised among mites.
    LateTreatment,
}

impl Cause {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::NoRoom, Self::Swarm, Self::PluggedNest, Self::QueenAbove, Self::LateTreatment];

    const fn place(self) -> usize {
        self as usize
    }
}

/// What the crew does to a colony when it comes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Relief {
    /// Part of the nest put above an excluder; 0 for a visit that only brings boxes.
    pub put_down: f64,
    /// True when drawn combs go down in the place of the brood that goes up.
    pub combs_down: bool,
    /// Boxes brought for each colony.
    pub boxes: f64,
    /// How deep they are.
    pub depth: BoxDepth,
    /// Frames in them.
    pub frames: FrameCount,
    /// True for drawn comb, false for foundation.
    pub drawn: bool,
}

impl Relief {
    /// Deeps of drawn comb, ten frames each.
    pub fn deeps(boxes: f64) -> Self {
        Self { put_down: 0.0, combs_down: false, boxes, depth: BoxDepth::Deep, frames: FrameCount::Ten, drawn: true }
    }

    /// Does it to a colony.
    pub fn give(&self, colony: &mut Colony) {
        colony.add_boxes(self.depth, self.frames, self.boxes, self.drawn);
        match (self.put_down > 0.0, self.combs_down) {
            (false, _) => {}
            (true, true) => colony.lift_brood(self.put_down),
            (true, false) => colony.put_down(self.put_down),
        }
    }
}

/// What may be wrong that no box cures.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Risks {
    /// Share of the colonies with a queen above.
    pub queen_above: f64,
    /// Days from today until the open-brood test can find her; `None` when no put-down runs.
    pub test_in_days: Option<i64>,
    /// Days from today from which mites harm the winter bees; `None` when they were treated.
    pub mites_in_days: Option<i64>,
}

/// Colonies of one kind in one yard, and the days ahead.
#[derive(Clone, Copy, Debug)]
pub struct WaitingInput<'a> {
    /// One of the colonies this morning.
    pub colony: &'a Colony,
    /// How many there are.
    pub colonies: u32,
    /// Date of the first gain.
    pub first: Date,
    /// True for a yard south of the equator.
    pub south: bool,
    /// `gain[member][day]`: net gain of the reference colony, kg/d.
    pub gain: &'a [Vec<f64>],
    /// `flight_h[member][day]`; empty when it is not known: then every day flies its usual hours.
    pub flight_h: &'a [Vec<f64>],
    /// What the crew would do.
    pub relief: Relief,
    /// What may be wrong besides.
    pub risks: Risks,
    /// What things are worth.
    pub worth: &'a Worth,
    /// Figures of the colony.
    pub rules: &'a ColonyRules,
    /// Days of the curves: the crew comes today or on one of so many days after it.
    pub days: usize,
}

/// What the year's date alone decides, for one day.
#[derive(Clone, Copy)]
struct YearDay {
    laying: f64,
    swarm: f64,
    drones: bool,
    winter_eggs: bool,
}

fn year_days(first: Date, south: bool, days: usize) -> Vec<YearDay> {
    (0..days)
        .map(|ahead| {
            let date = plus_days(first, i64::try_from(ahead).expect("days of one outlook"));
            let turned = if south { 182.5 } else { 0.0 };
            let day = (f64::from(date.day_of_year()) + turned - 1.0).rem_euclid(365.0) + 1.0;
            YearDay {
                laying: laying_season(day),
                swarm: swarm_season(day),
                drones: drone_season(day),
                winter_eggs: (213.0..=247.0).contains(&day),
            }
        })
        .collect()
}

/// Money lost by waiting, cause by cause, member by member, day by day.
#[derive(Clone, Debug, PartialEq)]
pub struct WaitingCosts {
    days: usize,
    /// For each member, cause and day, the days running fastest; whole money units.
    money: Vec<f64>,
}

/// Curves of one member: `days + 1` values for each cause.
fn width(days: usize) -> usize {
    Cause::ALL.len() * (days + 1)
}

impl WaitingCosts {
    /// Members.
    pub fn members(&self) -> usize {
        self.money.len() / width(self.days)
    }

    /// Days of the curves; each has one value more, that of today.
    pub fn days(&self) -> usize {
        self.days
    }

    /// Money lost in one member by waiting until each day, for the causes given together.
    pub fn of_member(&self, member: usize, causes: &[Cause]) -> Vec<f64> {
        (0..=self.days).map(|day| causes.iter().map(|cause| self.at(member, *cause, day)).sum()).collect()
    }

    fn at(&self, member: usize, cause: Cause, day: usize) -> f64 {
        self.money[member * width(self.days) + cause.place() * (self.days + 1) + day]
    }

    /// Expected money lost by waiting until each day.
    #[expect(clippy::cast_precision_loss, reason = "a count of members")]
    pub fn expected(&self, causes: &[Cause]) -> Vec<Cents> {
        let members = self.members();
        (0..=self.days)
            .map(|day| {
                let sum: f64 = (0..members)
                    .map(|member| causes.iter().map(|cause| self.at(member, *cause, day)).sum::<f64>())
                    .sum();
                Cents::round_of(sum / members.max(1) as f64)
            })
            .collect()
    }

    /// Range over the members of the money lost by waiting until a day; nought past the curve.
    pub fn range_on(&self, causes: &[Cause], day: usize) -> Range<Cents> {
        if day > self.days {
            return Range::exact(Cents::ZERO);
        }
        let sample: Vec<f64> = (0..self.members())
            .map(|member| causes.iter().map(|cause| self.at(member, *cause, day)).sum::<f64>())
            .collect();
        Range::of_sample(&sample).map_or(Range::exact(Cents::ZERO), |range| range.map(Cents::round_of))
    }
}

/// Colonies of one kind in one yard, followed through the days ahead with nobody coming.
#[derive(Clone, Debug, PartialEq)]
pub struct ColonyAhead {
    /// Day on which there is no more room above.
    pub full: DateRange,
    /// First day on which nectar finds no cell at all, above or in the nest.
    pub refuses: DateRange,
    /// The same for each member in days from the first morning, with its part of the day.
    pub full_in_days: Vec<Option<f64>>,
    /// Honey of one colony on the last evening, kg.
    pub honey_kg: Range<f64>,
    /// Adult workers on the last evening.
    pub adults: Range<f64>,
    /// Share of the colonies that have swarmed by then.
    pub swarmed: Range<f64>,
    /// What one colony could bring a day over the days of the curves, kg.
    pub offered_kg_per_day: f64,
    /// Deeps of comb that would be wanted above, beyond what stands there, until the crew is back
    /// ([`NEXT_ROUND_DAYS`]); as far as the relief brings them.
    pub wanted_deeps: Range<f64>,
    /// What waiting costs.
    pub waiting: WaitingCosts,
    /// Days over which the curves run, for the reasons.
    first: Date,
    colonies: u32,
}

/// One member followed to its end.
struct Course {
    full_in: Option<f64>,
    refuses_in: Option<usize>,
    wanted_cells: f64,
    honey_kg: f64,
    adults: f64,
    swarmed: f64,
    offered_kg: f64,
    money: Vec<f64>,
}

/// What a colony has lost so far.
#[derive(Clone, Copy, Default)]
struct Losses {
    refused_kg: f64,
    winter_eggs_short: f64,
    /// Eggs of winter bees laid since mites harm them.
    winter_eggs_among_mites: f64,
}

impl Losses {
    fn add(&mut self, rates: &Rates, day: YearDay, among_mites: bool) {
        self.refused_kg += rates.refused_kg;
        if day.winter_eggs {
            self.winter_eggs_short += rates.eggs_short;
            if among_mites {
                self.winter_eggs_among_mites += rates.worker_eggs;
            }
        }
    }
}

/// Follows the colonies of one kind in one yard.
///
/// # Panics
/// When the members are not all as long as the first.
pub fn colony_ahead(input: &WaitingInput<'_>) -> ColonyAhead {
    let horizon = input.gain.first().map_or(0, Vec::len);
    let year = year_days(input.first, input.south, horizon);
    let courses: Vec<Course> = (0..input.gain.len()).map(|member| course(input, &year, member)).collect();
    gather(input, &courses)
}

/// Follows many groups of colonies on all cores; the result does not depend on how many there are.
pub fn colonies_ahead(inputs: &[WaitingInput<'_>]) -> Vec<ColonyAhead> {
    inputs.par_iter().map(colony_ahead).collect()
}

/// What waiting costs the colonies of one kind in one yard; see [`colony_ahead`] for the rest that is known then.
pub fn waiting_costs(input: &WaitingInput<'_>) -> WaitingCosts {
    colony_ahead(input).waiting
}

fn gather(input: &WaitingInput<'_>, courses: &[Course]) -> ColonyAhead {
    let range = |value: fn(&Course) -> f64| {
        let sample: Vec<f64> = courses.iter().map(value).collect();
        Range::of_sample(&sample).unwrap_or(Range::exact(0.0))
    };
    let full_in_days: Vec<Option<f64>> = courses.iter().map(|course| course.full_in).collect();
    #[expect(clippy::cast_possible_truncation, reason = "days of one outlook")]
    let date = |days: f64| plus_days(input.first, days.floor() as i64);
    let full = DateRange::of_members(full_in_days.iter().map(|days| days.map(date)));
    let refuses = DateRange::of_members(courses.iter().map(|course| {
        course.refuses_in.map(|days| plus_days(input.first, i64::try_from(days).expect("days of one outlook")))
    }));
    let wanted_deeps =
        range(|course| course.wanted_cells).map(|cells| cells / cells_of_box(BoxDepth::Deep, FrameCount::Ten));
    let (honey_kg, adults, swarmed) =
        (range(|course| course.honey_kg), range(|course| course.adults), range(|course| course.swarmed));
    #[expect(clippy::cast_precision_loss, reason = "a count of members and days")]
    let member_days = (courses.len() * input.days.max(1)).max(1) as f64;
    let offered_kg_per_day = courses.iter().map(|course| course.offered_kg).sum::<f64>() / member_days;
    let mut money = Vec::with_capacity(courses.len() * width(input.days));
    for course in courses {
        money.extend_from_slice(&course.money);
    }
    ColonyAhead {
        full,
        refuses,
        wanted_deeps,
        full_in_days,
        honey_kg,
        adults,
        swarmed,
        offered_kg_per_day,
        waiting: WaitingCosts { days: input.days, money },
        first: input.first,
        colonies: input.colonies,
    }
}

fn course(input: &WaitingInput<'_>, year: &[YearDay], member: usize) -> Course {
    let gains = &input.gain[member];
    assert_eq!(gains.len(), year.len(), "members of one outlook are of one length");
    let flight = input.flight_h.get(member);
    let mut waits = *input.colony;
    let mut relieved = *input.colony;
    input.relief.give(&mut relieved);
    let (mut lost, mut lost_relieved) = (Losses::default(), Losses::default());
    let mut money = vec![0.0; width(input.days)];
    let (mut full_in, mut refuses_in, mut offered_kg) = (None, None, 0.0);
    let (stands, mut wanted_cells) = (input.colony.comb.above, 0.0_f64);
    let relieved_days = input.days.max(NEXT_ROUND_DAYS);
    for (ahead, (gain_kg, of_year)) in gains.iter().zip(year).enumerate() {
        if ahead <= input.days {
            write_money(input, ahead, &waits, &relieved, &lost, &lost_relieved, &mut money);
        }
        let day = ForageDay {
            intake_kg: (gain_kg + input.rules.reference_use_kg).max(0.0),
            flight_h: flight.map_or(input.rules.adults.usual_flight_h, |hours| hours[ahead]),
            nectar_sugar: USUAL_NECTAR_SUGAR,
            laying_season: of_year.laying,
            swarm_season: of_year.swarm,
            drones: of_year.drones,
        };
        let rates = waits.step(&day, input.rules);
        if let (None, Some(part)) = (full_in, rates.full_after) {
            #[expect(clippy::cast_precision_loss, reason = "days of one outlook")]
            let whole = ahead as f64;
            full_in = Some(whole + part);
        }
        if refuses_in.is_none() && rates.refused_kg > REFUSES_FROM_KG {
            refuses_in = Some(ahead);
        }
        if ahead < relieved_days {
            let among_mites = input.risks.mites_in_days.is_some_and(|from| i64::try_from(ahead).unwrap_or(0) >= from);
            let of_relieved = relieved.step(&day, input.rules);
            if ahead < input.days {
                offered_kg += rates.offered_kg;
                lost.add(&rates, *of_year, among_mites);
                lost_relieved.add(&of_relieved, *of_year, among_mites);
            }
            if ahead < NEXT_ROUND_DAYS {
                let taken = relieved.above.brood_cells() + relieved.above.stores.cells(&input.rules.stores);
                wanted_cells = wanted_cells.max(taken - stands);
            }
        }
    }
    // An outlook shorter than the curves: the last evening stands for the rest.
    for ahead in gains.len()..=input.days {
        write_money(input, ahead, &waits, &relieved, &lost, &lost_relieved, &mut money);
    }
    Course {
        full_in,
        refuses_in,
        wanted_cells,
        honey_kg: waits.honey_kg(),
        adults: waits.adults(),
        swarmed: 1.0 - waits.unswarmed,
        offered_kg,
        money,
    }
}

/// Writes what waiting until one day has cost.
fn write_money(
    input: &WaitingInput<'_>,
    ahead: usize,
    waits: &Colony,
    relieved: &Colony,
    lost: &Losses,
    lost_relieved: &Losses,
    money: &mut [f64],
) {
    let worth = input.worth;
    let count = f64::from(input.colonies);
    let per_kg = worth.honey_per_kg.amount();
    let winter = worth.winter_loss.amount() * WINTER_POINTS;
    let survives = input.rules.brood.all_through();
    let missing = |eggs: f64| (eggs * survives / WINTER_BEES).clamp(0.0, 1.0);
    let late = |from: Option<i64>| {
        #[expect(clippy::cast_precision_loss, reason = "days of one plan")]
        from.map_or(0.0, |from| (ahead as f64 - from as f64).max(0.0))
    };
    let each = [
        (lost.refused_kg - lost_relieved.refused_kg).max(0.0) * per_kg * worth.lost_once_full.get(),
        (relieved.unswarmed - waits.unswarmed).max(0.0) * per_kg * worth.swarm_kg.get(),
        missing(lost.winter_eggs_short - lost_relieved.winter_eggs_short) * winter,
        input.risks.queen_above
            * worth.late_queen().amount()
            * (late(input.risks.test_in_days) / QUEEN_ABOVE_DAYS).min(1.0),
        missing(lost.winter_eggs_among_mites) * winter,
    ];
    for (cause, amount) in Cause::ALL.iter().zip(each) {
        money[cause.place() * (input.days + 1) + ahead] = amount * count;
    }
}

impl ColonyAhead {
    /// Why waiting until a day costs, in words with the three numbers that matter; `None` when that cause costs nothing.
    pub fn reason(&self, cause: Cause, day: usize) -> Option<String> {
        let day = day.min(self.waiting.days);
        let cost = self.waiting.expected(&[cause])[day];
        if cost <= Cents::ZERO {
            return None;
        }
        let until = outyard_base::range::day_month(plus_days(self.first, i64::try_from(day).unwrap_or(0)));
        let money = cost.whole();
        let colonies = self.colonies;
        Some(match cause {
            Cause::NoRoom => format!(
                "{colonies} colonies bring {:.1} kg a day each; no more room above from {}; until {until} that costs {money}",
                self.offered_kg_per_day, self.full
            ),
            Cause::Swarm => format!(
                "{colonies} colonies are crowded; {:.0} % would have swarmed at the end; until {until} that costs {money}",
                self.swarmed.likely * 100.0
            ),
            Cause::PluggedNest => format!(
                "{colonies} nests fill with honey from {}; until {until} winter bees worth {money} are not raised",
                self.full
            ),
            Cause::QueenAbove => {
                format!(
                    "a queen above in some of {colonies} colonies lays in the honey; until {until} that costs {money}"
                )
            }
            Cause::LateTreatment => format!(
                "winter bees of {colonies} colonies are being raised among mites; until {until} that costs {money}"
            ),
        })
    }

    /// Honey a colony of the likely member holds at the end.
    pub fn honey(&self) -> Range<Kilograms> {
        self.honey_kg.map(Kilograms::of)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use outyard_base::Share;
    use outyard_trade::Kind;

    fn worth() -> Worth {
        Worth {
            honey_per_kg: Cents(500),
            wage_per_hour: Cents(2400),
            road_per_km: Cents(100),
            lost_once_full: Share::of(1.0),
            late_put_down_kg_per_day: 0.6,
            late_brood_lift_kg_per_day: 0.3,
            swarm_kg: Kilograms::of(30.0),
            late_queen_kg: Kilograms::of(20.0),
            winter_loss: Cents(25_000),
            split_not_made_kg: Kilograms::of(45.0),
            box_price: Cents(4500),
            full_deep_kg: Kilograms::of(24.0),
        }
    }

    fn double_with_third(rules: &ColonyRules) -> Colony {
        let mut colony = Colony::of_kind(Kind::Double, rules);
        colony.put_down(0.5);
        colony.add_boxes(BoxDepth::Deep, FrameCount::Ten, 1.0, true);
        colony
    }

    struct Yard {
        colony: Colony,
        gain: Vec<Vec<f64>>,
        worth: Worth,
        rules: ColonyRules,
    }

    impl Yard {
        fn new(gains: &[f64], days: usize) -> Self {
            let rules = ColonyRules::default();
            let gain = gains.iter().map(|gain| vec![*gain; days]).collect();
            Self { colony: double_with_third(&rules), gain, worth: worth(), rules }
        }

        fn input(&self, first: Date) -> WaitingInput<'_> {
            WaitingInput {
                colony: &self.colony,
                colonies: 20,
                first,
                south: false,
                gain: &self.gain,
                flight_h: &[],
                relief: Relief::deeps(2.0),
                risks: Risks::default(),
                worth: &self.worth,
                rules: &self.rules,
                days: 21,
            }
        }
    }

    #[test]
    fn waiting_costs_nothing_today_and_never_less_tomorrow() {
        let yard = Yard::new(&[1.0, 3.0, 5.0], 60);
        let ahead = colony_ahead(&yard.input(date(2026, 7, 3)));
        for cause in [Cause::NoRoom, Cause::Swarm] {
            for member in 0..3 {
                let curve = ahead.waiting.of_member(member, &[cause]);
                assert_eq!(curve.len(), 22);
                assert!(curve[0].abs() < 1e-9);
                assert!(curve.windows(2).all(|pair| pair[1] >= pair[0] - 1e-9), "{cause:?} {curve:?}");
            }
        }
        // The stronger the flow the sooner full and the dearer.
        let at_end = |member| ahead.waiting.of_member(member, &[Cause::NoRoom])[21];
        assert!(at_end(0) < at_end(1) && at_end(1) < at_end(2));
        assert!(ahead.full_in_days[2] < ahead.full_in_days[1]);
        let reason = ahead.reason(Cause::NoRoom, 21).unwrap();
        assert!(reason.starts_with("20 colonies bring "), "{reason}");
        assert_eq!(ahead.reason(Cause::QueenAbove, 21), None);
    }

    /// Honey a colony has in the end when the crew comes on a day, every step of it run.
    fn honey_when_relieved(input: &WaitingInput<'_>, on: usize) -> f64 {
        let year = year_days(input.first, false, input.gain[0].len());
        let mut colony = *input.colony;
        for (ahead, (gain, of_year)) in input.gain[0].iter().zip(&year).enumerate() {
            if ahead == on {
                input.relief.give(&mut colony);
            }
            let day = ForageDay {
                intake_kg: gain + input.rules.reference_use_kg,
                flight_h: input.rules.adults.usual_flight_h,
                nectar_sugar: USUAL_NECTAR_SUGAR,
                laying_season: of_year.laying,
                swarm_season: of_year.swarm,
                drones: of_year.drones,
            };
            colony.step(&day, input.rules);
        }
        colony.honey_kg()
    }

    #[test]
    fn the_shared_beginning_agrees_with_running_every_day_out() {
        for gain in [2.0, 3.0, 4.5] {
            let mut yard = Yard::new(&[gain], 35);
            // The flow ends after three weeks.
            for day in &mut yard.gain[0][21..] {
                *day = -0.2;
            }
            let mut input = yard.input(date(2026, 7, 3));
            input.relief = Relief::deeps(4.0);
            let curve = waiting_costs(&input).of_member(0, &[Cause::NoRoom]);
            let best = honey_when_relieved(&input, 0);
            for day in [0, 7, 14, 21] {
                let lost_kg = best - honey_when_relieved(&input, day);
                let told_kg = curve[day] / (20.0 * 5.0);
                assert!(
                    (lost_kg - told_kg).abs() <= 0.12 * best.max(1.0),
                    "{gain} kg/d, day {day}: {lost_kg} {told_kg}"
                );
                if told_kg > 5.0 {
                    assert!((lost_kg / told_kg - 1.0).abs() < 0.25, "{gain} kg/d, day {day}: {lost_kg} {told_kg}");
                }
            }
        }
    }

    #[test]
    fn a_plugged_nest_costs_winter_bees_in_august_and_none_in_june() {
        let rules = ColonyRules::default();
        let mut yard = Yard::new(&[4.0], 40);
        yard.colony = Colony::of_kind(Kind::Single, &rules);
        let cost = |first| waiting_costs(&yard.input(first)).expected(&[Cause::PluggedNest])[21];
        assert!(cost(date(2026, 8, 1)) > Cents(10_000), "{}", cost(date(2026, 8, 1)));
        assert_eq!(cost(date(2026, 6, 10)), Cents::ZERO);
    }

    #[test]
    fn a_queen_above_and_late_treatment_cost_by_the_calendar() {
        let yard = Yard::new(&[1.0], 60);
        let mut input = yard.input(date(2026, 8, 5));
        input.risks = Risks { queen_above: 0.04, test_in_days: Some(2), mites_in_days: Some(0) };
        let costs = waiting_costs(&input);
        let queen = costs.expected(&[Cause::QueenAbove]);
        // 20 colonies, 4 %, 20 kg at 5.00: 80 when found two weeks late.
        assert_eq!(queen[2], Cents::ZERO);
        assert_eq!(queen[16], Cents(8000));
        assert_eq!(queen[21], Cents(8000));
        let mites = costs.expected(&[Cause::LateTreatment]);
        assert_eq!(mites[0], Cents::ZERO);
        // Bees raised before mites harm them cost nothing.
        input.risks.mites_in_days = Some(10);
        let later = waiting_costs(&input).expected(&[Cause::LateTreatment]);
        assert_eq!(later[10], Cents::ZERO);
        assert!(later[11] > Cents::ZERO && later[21] < mites[21]);
        assert!(mites.windows(2).all(|pair| pair[0] <= pair[1]));
        // At most 20 points of 250.00 for each of 20 colonies.
        assert!(mites[21] > Cents(10_000) && mites[21] <= Cents(100_000), "{}", mites[21]);
    }

    #[test]
    fn many_groups_give_what_each_gives_alone_whatever_the_threads() {
        let yard = Yard::new(&[0.5, 2.0, 4.0], 50);
        let inputs: Vec<WaitingInput<'_>> =
            (0..7).map(|day| yard.input(plus_days(date(2026, 6, 20), day * 5))).collect();
        let alone: Vec<ColonyAhead> = inputs.iter().map(colony_ahead).collect();
        for threads in [1, 2, 5] {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            assert_eq!(pool.install(|| colonies_ahead(&inputs)), alone);
        }
    }
}
