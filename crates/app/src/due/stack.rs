//! Colonies of one yard that stand alike: how one of them stands this morning, and what becomes of it.
//!
//! The standing comes from the book: the kind, the day of the put-down, the boxes that stand on the hives and when they
//! came there, how full they were at the last look. Bees and brood are those a kind usually has on the eve of the main
//! flow (`outyard_season::colony::kinds`); from the day that holds for, the colony model carries them forward to this
//! morning with the gains that were. So a colony put down is followed from its put-down, one still up from the day the
//! flow began or it was counted last, whichever is later; before the flow it stands as it usually does.
//!
//! Beside the model stands the hand sum, for whoever checks it with a pencil.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | u | `LIFTED_SHARE` | part of a box two lifted frames are | of 1 | 0.2 | arithmetic: 2 of 10 frames |
//! | d | `PUT_DOWN_SHARE` | part of a double's nest that is its upper box | of 1 | 0.5 | arithmetic: one box of two |
//! | B | `BOXES_AT_ONCE_MAX` | most boxes put on one colony at once | - | 3 | common practice, no source |
//! | S | `Room::super_kg` | honey the supers hold, by hand | kg | 24 a deep | common practice, no source |
//! | U | `Room::upper_box_kg` | honey the upper brood box holds once hatched, by hand | kg | 24 for a double put down | common practice, no source |
//! | - | `colony_rules` | a full box in the model moves with the outfit's own figure for it | kg | 29.5 · its figure / 24 | assumed |

use jiff::civil::Date;
use outyard_base::DateRange;
use outyard_base::days::{days_from, each_day, plus_days};
use outyard_season::colony::kinds::Standing;
use outyard_season::colony::{Colony, ColonyRules, ForageDay};
use outyard_season::fill::{FillState, HATCH_DAYS, Room, fill_dates};
use outyard_season::waiting::{ColonyAhead, Relief, Risks, WaitingInput, colonies_ahead};
use outyard_trade::boxes::FrameCount;
use outyard_trade::jobbook::JobBook;
use outyard_trade::{BoxDepth, Kind, KindCounts};

use super::{BoxesMoved, PutDown, YardSeason, YardToday, done_since};

/// Part of a box that two lifted frames are (2 of 10 frames).
const LIFTED_SHARE: f64 = 0.2;
/// Part of a double's nest that its upper box is.
const PUT_DOWN_SHARE: f64 = 0.5;
/// Most boxes put on one colony at once. Common practice, no source.
pub(super) const BOXES_AT_ONCE_MAX: f64 = 3.0;
/// Honey a full deep holds in the hand sum when the outfit says nothing else, kg: common practice, no source.
const USUAL_DEEP_KG: f64 = 24.0;
/// The day after a put-down on which the return visit may look for a queen above (common practice, no source).
pub(super) const FIRST_RETURN_DAY: i64 = 12;
/// Days after a put-down in which a queen above is still looked for. Assumed.
const LOOKED_FOR_DAYS: i64 = 30;

/// What the standing of a colony rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StandsBy {
    /// A look into its boxes.
    Look,
    /// The boxes written down at the put-down and since.
    PutDown,
    /// The last count of the colonies.
    Count,
    /// Nothing but its kind.
    Kind,
}

/// Colonies of one yard that stand alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Stack {
    /// Kind they were at the put-down, or are.
    pub kind: Kind,
    /// How many.
    pub colonies: u32,
    /// Day 0 of their brood clocks; `None` while they are not put down.
    pub day0: Option<Date>,
    /// Boxes above one of them, in deeps.
    pub deeps: f64,
    /// Room above the excluder of one of them, by hand.
    pub room: Room,
    /// One of them this morning.
    pub colony: Colony,
    /// What that rests on, and of which day it is.
    pub stands_by: (StandsBy, Date),
    /// One of them above the excluder on each morning since that day, this one the last.
    pub mornings: Vec<AboveOn>,
    /// What the next visit does to one of them.
    pub relief: Relief,
    /// What may be wrong with them besides.
    pub risks: Risks,
}

/// A stack with the days ahead.
#[derive(Clone, Debug, PartialEq)]
pub struct Followed {
    /// How it stands.
    pub stack: Stack,
    /// What becomes of it with nobody coming, and what waiting costs.
    pub ahead: ColonyAhead,
}

impl Stack {
    /// When it is full by hand: the room of the hand sum, filled with the gains that were and will be, each at the share
    /// of a strong colony's that its kind has of a double's bees. `None` when it is not put down.
    pub fn full_by_hand(&self, season: &YardSeason, today: Date) -> Option<DateRange> {
        let day0 = self.day0?;
        let share = Standing::usual(self.kind).adults / Standing::usual(Kind::Double).adults;
        let since = days_from(day0, today).max(0);
        let held = (0..since).fold(0.0_f64, |held, ahead| {
            (held + share * season.seen_on(plus_days(day0, ahead)).unwrap_or(0.0)).max(0.0)
        });
        #[expect(clippy::cast_precision_loss, reason = "days of one season")]
        let now = FillState { day: since as f64, held_kg: held };
        let gains: Vec<Vec<f64>> =
            season.gain.iter().map(|gains| gains.iter().map(|gain| gain * share).collect()).collect();
        Some(fill_dates(&self.room, now, today, &gains))
    }
}

impl Stack {
    /// One of them above the excluder with nobody coming, in each member on each morning from this one on.
    pub fn ahead_above(&self, season: &YardSeason, rules: &ColonyRules, days: usize) -> Vec<Vec<AboveOn>> {
        let morning = |ahead: usize| plus_days(season.first, i64::try_from(ahead).expect("days of one outlook"));
        (season.gain.iter().enumerate())
            .map(|(member, gains)| {
                let mut colony = self.colony;
                let flight = season.flight_h.get(member);
                let days = days.min(gains.len());
                let mut above = vec![AboveOn::of(season.first, &colony, rules)];
                for (ahead, gain_kg) in gains.iter().enumerate().take(days) {
                    let flight_h = flight.map_or(rules.adults.usual_flight_h, |hours| hours[ahead]);
                    let day = ForageDay::of_gain(*gain_kg, flight_h, morning(ahead), season.south, rules);
                    colony.step(&day, rules);
                    above.push(AboveOn::of(morning(ahead + 1), &colony, rules));
                }
                above
            })
            .collect()
    }
}

/// What stacks are made from.
#[derive(Clone, Copy, Debug)]
pub struct StackInput<'a> {
    /// How the yard stands.
    pub yard: &'a YardToday,
    /// Its season.
    pub season: &'a YardSeason,
    /// This morning.
    pub today: Date,
    /// Days of the plan.
    pub days: usize,
    /// The job book.
    pub jobs: &'a JobBook,
    /// Share of the colonies whose queen the outfit's way of putting down misses.
    pub queens_missed: f64,
    /// Boxes on the hives of the yard, in deeps.
    pub deeps: f64,
    /// Figures of the colony.
    pub rules: &'a ColonyRules,
}

/// Figures of the colony for an outfit: as they usually are, with its own figure for a full box.
pub fn colony_rules(jobs: &JobBook) -> ColonyRules {
    let mut rules = ColonyRules::default();
    rules.stores.honey_per_cell_kg *= jobs.worth.full_deep_kg.get() / USUAL_DEEP_KG;
    rules
}

/// The stacks of a yard: one for each kind in each put-down, and one for each kind that is still to be put down; in the
/// season of treatment one for every other kind too. Boxes counted on the hives are shared out evenly; where none were
/// counted, the one third of the put-down stands there.
pub fn stacks(input: &StackInput<'_>) -> Vec<Stack> {
    let yard = input.yard;
    let put_down: u32 = yard.put_downs.iter().map(|round| round.colonies.total()).sum();
    let mut all = Vec::new();
    for round in &yard.put_downs {
        for (kind, colonies) in round.colonies.iter() {
            let deeps = if input.deeps > 0.0 { input.deeps / f64::from(put_down) } else { 1.0 };
            all.push(stack(input, kind, colonies, Some(round), deeps, put_down));
        }
    }
    let mites = mites_in_days(input.jobs, yard, input.today);
    let treated_soon = mites.is_some_and(|from| from <= i64::try_from(input.days).unwrap_or(i64::MAX));
    for (kind, colonies) in still_up(yard).iter() {
        if colonies > 0 && (treated_soon || matches!(kind, Kind::Double | Kind::Split)) {
            let total = yard.standing.total().max(1);
            let deeps = if put_down == 0 { input.deeps / f64::from(total) } else { 0.0 };
            all.push(stack(input, kind, colonies, None, deeps, total));
        }
    }
    all
}

/// Colonies that no put-down of this season took in.
pub(super) fn still_up(yard: &YardToday) -> KindCounts {
    let already: KindCounts = yard.put_downs.iter().map(|round| round.colonies).sum();
    let mut up = yard.standing;
    // What was a double at the put-down is counted as a single since.
    let put_down = |kind| match kind {
        Kind::Double => 0,
        Kind::Single => already.get(Kind::Double) + already.get(Kind::Single),
        other => already.get(other),
    };
    for kind in Kind::ALL {
        up.set(kind, up.get(kind).saturating_sub(put_down(kind)));
    }
    up
}

/// Days until mites harm the winter bees: the first day of the treatment's window, as long as none is tallied.
pub(super) fn mites_in_days(jobs: &JobBook, yard: &YardToday, today: Date) -> Option<i64> {
    const WINDOW_STANDS_DAYS: i64 = 30;
    let window = jobs.jobs.values().find(|job| job.code.as_str() == "treatment-in")?.season?;
    let (from, to) = (window.from.in_year(today.year()), window.to.in_year(today.year()));
    let open = to >= from && days_from(to, today) <= WINDOW_STANDS_DAYS;
    (open && !done_since(yard, "treatment-in", plus_days(from, -14))).then(|| days_from(today, from))
}

fn stack(
    input: &StackInput<'_>,
    kind: Kind,
    colonies: u32,
    round: Option<&PutDown>,
    deeps: f64,
    sharing: u32,
) -> Stack {
    let day0 = round.map(|round| round.day0);
    let start = day0.map_or_else(|| stands_since(input), |day0| (StandsBy::PutDown, day0));
    let (colony, stands_by, mornings) = standing(input, kind, day0, start, deeps, f64::from(sharing.max(1)));
    let deep_kg = input.jobs.worth.full_deep_kg.get();
    let upper = if kind == Kind::Double { 1.0 } else { LIFTED_SHARE };
    let open_check = day0.filter(|day0| kind == Kind::Double && queen_unchecked(input.yard, *day0, input.today));
    Stack {
        kind,
        colonies,
        day0,
        deeps,
        room: Room { super_kg: deeps * deep_kg, upper_box_kg: deep_kg * upper, hatch_days: HATCH_DAYS },
        colony,
        stands_by,
        mornings,
        relief: relief(kind, day0),
        risks: Risks {
            queen_above: if open_check.is_some() { input.queens_missed } else { 0.0 },
            test_in_days: open_check.map(|day0| days_from(input.today, plus_days(day0, FIRST_RETURN_DAY))),
            mites_in_days: mites_in_days(input.jobs, input.yard, input.today),
        },
    }
}

/// True while nobody has looked whether a queen is above since the put-down.
pub(super) fn queen_unchecked(yard: &YardToday, day0: Date, today: Date) -> bool {
    !done_since(yard, "open-brood-test", plus_days(day0, 10)) && days_from(day0, today) < LOOKED_FOR_DAYS
}

/// What the next visit does: puts down what is still up, brings boxes to what is down.
fn relief(kind: Kind, day0: Option<Date>) -> Relief {
    match (day0, kind) {
        (Some(_), _) => Relief::deeps(BOXES_AT_ONCE_MAX),
        (None, Kind::Double) => Relief { put_down: PUT_DOWN_SHARE, ..Relief::deeps(1.0) },
        (None, Kind::Split) => Relief { put_down: LIFTED_SHARE, combs_down: true, ..Relief::deeps(1.0) },
        (None, _) => Relief::deeps(0.0),
    }
}

/// From when on the usual standing of a kind holds for a colony that is still up.
fn stands_since(input: &StackInput<'_>) -> (StandsBy, Date) {
    let eve = input.season.begins.likely.map_or(input.today, |begins| begins.min(input.today));
    match input.yard.counted_on.filter(|counted| *counted <= input.today) {
        Some(counted) if counted >= eve => (StandsBy::Count, counted),
        Some(_) => (StandsBy::Count, eve),
        None => (StandsBy::Kind, eve),
    }
}

/// A colony above the excluder on the morning of one day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AboveOn {
    /// The day.
    pub on: Date,
    /// Honey there or to be, kg.
    pub held_kg: f64,
    /// Honey the drawn cells that brood does not take would hold, kg.
    pub room_kg: f64,
}

impl AboveOn {
    /// How a colony stands on a morning.
    pub fn of(on: Date, colony: &Colony, rules: &ColonyRules) -> Self {
        let open = (colony.comb.above - colony.above.brood_cells()).max(0.0);
        Self { on, held_kg: colony.honey_above_kg(), room_kg: open * rules.stores.honey_per_cell_kg }
    }
}

/// One colony this morning, carried forward from the day its usual standing holds for, with every morning on the way.
fn standing(
    input: &StackInput<'_>,
    kind: Kind,
    day0: Option<Date>,
    (by, since): (StandsBy, Date),
    deeps_now: f64,
    sharing: f64,
) -> (Colony, (StandsBy, Date), Vec<AboveOn>) {
    let (rules, season, today) = (input.rules, input.season, input.today);
    let mut stands_by = (by, since);
    let moved = |on: Date| input.yard.boxes_moved.iter().filter(move |moved| moved.on == on);
    let since_then: f64 =
        input.yard.boxes_moved.iter().filter(|moved| moved.on > since).map(BoxesMoved::net_deeps).sum();
    let mut colony = Colony::of_kind(kind, rules);
    // What the moves since do not explain stood there from the first day on.
    let at_first = if deeps_now > 0.0 { (deeps_now - since_then / sharing).max(0.0) } else { 0.0 };
    colony.add_boxes(BoxDepth::Deep, FrameCount::Ten, at_first, true);
    match (day0, kind) {
        (None, _) => {}
        (Some(_), Kind::Double) => colony.put_down(PUT_DOWN_SHARE),
        (Some(_), _) => colony.lift_brood(LIFTED_SHARE),
    }
    let seen = input.yard.fullness.filter(|(on, _)| *on > since && *on <= today);
    let mut mornings = Vec::new();
    for date in each_day(since, today) {
        if let Some((on, share)) = seen.filter(|(on, _)| *on == date) {
            colony.seen_full(share.get(), rules);
            stands_by = (StandsBy::Look, on);
        }
        if date > since {
            for boxes in moved(date) {
                colony.take_boxes(BoxDepth::Deep, FrameCount::Ten, boxes.off_deeps / sharing, rules);
                colony.add_boxes(BoxDepth::Deep, FrameCount::Ten, boxes.on_deeps / sharing, true);
            }
        }
        mornings.push(AboveOn::of(date, &colony, rules));
        if date < today {
            let gain_kg = season.seen_on(date).unwrap_or(0.0);
            let day = ForageDay::of_gain(gain_kg, rules.adults.usual_flight_h, date, season.south, rules);
            colony.step(&day, rules);
        }
    }
    // A swarm that may have left was not seen to leave: the morning's own risk begins here.
    colony.unswarmed = 1.0;
    (colony, stands_by, mornings)
}

/// Follows the stacks of many yards through the days ahead, all of them at once.
pub fn follow(
    yards: Vec<(&YardSeason, Vec<Stack>)>,
    jobs: &JobBook,
    rules: &ColonyRules,
    days: usize,
) -> Vec<Vec<Followed>> {
    let inputs: Vec<WaitingInput<'_>> = yards
        .iter()
        .flat_map(|(season, stacks)| {
            stacks.iter().map(|stack| WaitingInput {
                colony: &stack.colony,
                colonies: stack.colonies,
                first: season.first,
                south: season.south,
                gain: &season.gain,
                flight_h: &season.flight_h,
                relief: stack.relief,
                risks: stack.risks,
                worth: &jobs.worth,
                rules,
                days,
            })
        })
        .collect();
    let mut ahead = colonies_ahead(&inputs).into_iter();
    yards
        .into_iter()
        .map(|(_, stacks)| stacks.into_iter().zip(&mut ahead).map(|(stack, ahead)| Followed { stack, ahead }).collect())
        .collect()
}

/// All colonies of the stacks.
pub(super) fn colonies_of<'a>(stacks: impl IntoIterator<Item = &'a Followed>) -> KindCounts {
    stacks.into_iter().map(|one| KindCounts::of(&[(one.stack.kind, one.stack.colonies)])).sum()
}
