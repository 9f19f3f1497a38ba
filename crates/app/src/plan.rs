//! Due visits become a run problem, and its plan becomes runs with clock times, loads and reasons.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::days::plus_days;
use outyard_base::{Cents, ClockTime, GearCode, Grams, Kilograms, Minutes, Place, Trouble, YardId};
use outyard_runs::problem::{Crew, Day, Follows, Gate, Gear, Lunch, RunParts, RunProblem, Truck, Visit};
use outyard_runs::{Effort, Plan, solve};
use outyard_trade::jobbook::JobBook;

use crate::due::DueVisit;
use crate::intake::drives::Drives;
use crate::roads::{RoadMap, RoadTimes};
use crate::settings::{CrewRule, Settings};
use crate::work_out::shed_gear;

/// Volume units in the place of one deep box on the deck.
const UNITS_PER_BOX_PLACE: f64 = 100.0;

/// When a visit can be worked on each day of the plan, and the reading that decided.
#[derive(Clone, Debug, PartialEq)]
pub struct GateDay {
    /// Open hours; `None` when the day is shut to the job.
    pub open: Option<(ClockTime, ClockTime)>,
    /// The reading that decided.
    pub deciding: String,
    /// Share of the members in which the day is open.
    pub share_open: f64,
}

/// What a plan is made from.
#[derive(Clone, Copy, Debug)]
pub struct PlanInput<'a> {
    /// The outfit's settings.
    pub settings: &'a Settings,
    /// Its job book.
    pub jobs: &'a JobBook,
    /// Known drives.
    pub drives: &'a Drives,
    /// Drives by the roads of a map.
    pub roads: &'a RoadTimes,
    /// Where its yards are.
    pub places: &'a BTreeMap<YardId, Place>,
    /// Visits that are due.
    pub due: &'a [DueVisit],
    /// `gates[visit][day]`.
    pub gates: &'a [Vec<GateDay>],
    /// `stock[gear][day]`: how many can have gone out from today up to that day.
    pub stock: &'a BTreeMap<GearCode, Vec<i64>>,
    /// First day of the plan.
    pub today: Date,
    /// Days of the plan.
    pub days: usize,
    /// Days on which nobody goes out, by the owner's word.
    pub shut: &'a [Date],
    /// Crews that stay home, and on which days.
    pub crews_out: &'a [(String, Date)],
}

/// A run problem with what is needed to read its plan.
#[derive(Clone, Debug)]
pub struct Planned {
    /// The problem.
    pub problem: RunProblem,
    /// Its kinds of gear by number.
    pub gear: Vec<GearCode>,
    /// The roads.
    pub roads: RoadMap,
    /// The plan.
    pub plan: Plan,
}

/// Builds the run problem of the due visits.
///
/// # Errors
/// `ROD-001` for a yard nobody knows the place of, and whatever [`RunProblem::new`] finds.
pub fn build_problem(input: &PlanInput<'_>) -> Result<(RunProblem, Vec<GearCode>, RoadMap), Vec<Trouble>> {
    let mut yards: Vec<YardId> = input.due.iter().map(|due| due.yard.clone()).collect();
    yards.sort();
    yards.dedup();
    let roads = RoadMap::new(input.settings, input.drives, input.roads, yards, input.places)?;
    let gear_codes: Vec<GearCode> = gear_of(input.jobs, input.due);
    let gear = gear_codes.iter().map(|code| gear_rule(input, code)).collect();
    let crews = input.settings.crews.iter().map(|crew| crew_rule(input, crew)).collect();
    let kit = crew_kit(input);
    let trucks = input
        .settings
        .trucks
        .iter()
        .map(|truck| Truck {
            id: truck.id.clone(),
            volume: (units(f64::from(truck.deeps_empty)) - kit.0).max(0),
            payload: Grams((truck.payload.get() - kit.1.get()).max(0)),
        })
        .collect();
    let visits = input
        .due
        .iter()
        .zip(input.gates)
        .map(|(due, gates)| visit_rule(input, due, gates, &gear_codes, &roads))
        .collect();
    let days = (0..input.days)
        .map(|ahead| if input.shut.contains(&day_of(input.today, ahead)) { Day::SHUT } else { Day::WHOLE })
        .collect();
    let problem = RunProblem::new(RunParts {
        days,
        roads: roads.table.clone(),
        gear,
        trucks,
        crews,
        visits,
        max_stops: input.settings.stops_max,
        cents_per_km: input.jobs.worth.road_per_km,
        together: Vec::new(),
        apart: Vec::new(),
    })?;
    Ok((problem, gear_codes, roads))
}

/// Builds the problem and plans it.
///
/// # Errors
/// As [`build_problem`].
pub fn plan(
    input: &PlanInput<'_>,
    effort: &Effort,
    seed: u64,
    stop: &dyn Fn() -> bool,
) -> Result<Planned, Vec<Trouble>> {
    let (problem, gear, roads) = build_problem(input)?;
    let plan = solve(&problem, effort, seed, None, stop);
    Ok(Planned { problem, gear, roads, plan })
}

/// The date of a day of the plan.
pub fn day_of(today: Date, ahead: usize) -> Date {
    plus_days(today, i64::try_from(ahead).unwrap_or(i64::MAX))
}

fn gear_of(jobs: &JobBook, due: &[DueVisit]) -> Vec<GearCode> {
    let mut codes: Vec<GearCode> = due
        .iter()
        .flat_map(|due| due.gear_out.in_yards.keys().chain(due.gear_home.in_yards.keys()))
        .map(|code| shed_gear(jobs, code).clone())
        .collect();
    codes.sort();
    codes.dedup();
    codes
}

/// Room and weight to keep free on every truck for what crews carry out and home again: the most that any visit asks for.
fn crew_kit(input: &PlanInput<'_>) -> (i64, Grams) {
    let mut most: BTreeMap<&GearCode, u32> = BTreeMap::new();
    for (code, count) in input.due.iter().flat_map(|due| &due.gear_out.with_crew) {
        let known = most.entry(code).or_default();
        *known = (*known).max(*count);
    }
    let gear =
        || most.iter().filter_map(|(code, count)| input.jobs.gear.get(*code).map(|gear| (gear, f64::from(*count))));
    let places: f64 = gear().map(|(gear, count)| gear.box_places * count).sum();
    let weight: Kilograms = gear().map(|(gear, count)| gear.weight * count).sum();
    (units(places), Grams::ceil_of(weight))
}

#[expect(clippy::cast_possible_truncation, reason = "a deck holds a few hundred boxes")]
fn units(box_places: f64) -> i64 {
    (box_places * UNITS_PER_BOX_PLACE).ceil() as i64
}

/// A kind of gear of the shed as the planner sees it: it goes out as the lightest thing of the job book that counts as
/// it and comes home as the heaviest. Spares are counted in, so that a planned load still fits with them.
fn gear_rule(input: &PlanInput<'_>, code: &GearCode) -> Gear {
    let mut out = (0.0_f64, Kilograms::of(1e6), 1.0_f64);
    let mut home = (0.0_f64, Kilograms::ZERO);
    for rule in input.jobs.gear.values().filter(|rule| rule.counts_as == *code) {
        let spare = if rule.takes_spare { 1.0 + input.jobs.visit.spare.get() } else { 1.0 };
        out = (out.0.max(rule.box_places), out.1.min(rule.weight), out.2.max(spare));
        home = (home.0.max(rule.box_places), home.1.max(rule.weight));
    }
    let (places, weight, spare) = out;
    let weight = weight.min(home.1);
    // What no count was ever taken of cannot be short on paper.
    let stock = input.stock.get(code).cloned().unwrap_or_else(|| vec![1_000_000; input.days]);
    Gear {
        code: code.clone(),
        out_volume: units(places * spare),
        out_grams: Grams::ceil_of(weight * spare),
        home_volume: units(home.0),
        home_grams: Grams::ceil_of(home.1),
        stock,
    }
}

fn crew_rule(input: &PlanInput<'_>, crew: &CrewRule) -> Crew {
    let worth = &input.jobs.worth;
    let wage = worth.wage_per_hour.amount() * f64::from(crew.hands) / 60.0;
    let days_off = (0..input.days)
        .filter(|&ahead| {
            let date = day_of(input.today, ahead);
            crew.days_off.contains(&date.weekday())
                || input.crews_out.iter().any(|(out, on)| *on == date && out == crew.id.as_str())
        })
        .collect();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a pace between a third and a dozen")]
    let pace_permille = (1000.0 / input.jobs.hands_factor(crew.hands)).floor() as u32;
    Crew {
        id: crew.id.clone(),
        hands: crew.hands,
        pace_permille,
        base: RoadMap::HOME,
        earliest_leave: crew.leave,
        shift: crew.shift,
        shift_max: crew.longest,
        wage_per_minute: Cents::round_of(wage),
        overtime_extra_per_minute: Cents::round_of(wage * crew.overtime_extra),
        days_off,
        lunch: (crew.lunch > Minutes::ZERO).then_some(Lunch { length: crew.lunch, begin_within: crew.lunch_within }),
        trucks: input.settings.trucks.iter().position(|truck| truck.id == crew.truck).into_iter().collect(),
    }
}

fn visit_rule(input: &PlanInput<'_>, due: &DueVisit, gates: &[GateDay], gear: &[GearCode], roads: &RoadMap) -> Visit {
    let node = roads.node(&due.yard).expect("every yard of a due visit was given to the road map");
    let counts = |sum: &BTreeMap<GearCode, u32>| -> Vec<(usize, i64)> {
        let mut by_gear: BTreeMap<usize, i64> = BTreeMap::new();
        for (code, count) in sum {
            let of_shed = shed_gear(input.jobs, code);
            if let Some(at) = gear.iter().position(|known| known == of_shed) {
                *by_gear.entry(at).or_default() += i64::from(*count);
            }
        }
        by_gear.into_iter().filter(|(_, count)| *count > 0).collect()
    };
    // A third pair of hands shortens the work at the colonies, never gate, smoke and packing.
    let setup = (Minutes::ZERO - Minutes::ceil_of(-input.jobs.visit.setup_pair_minutes)).min(due.pair_minutes);
    let earliest = outyard_base::days::days_from(input.today, due.window.from).clamp(0, 28);
    Visit {
        earliest_day: usize::try_from(earliest).expect("clamped to a plan"),
        waiting: due.waiting.clone(),
        skip: due.after_plan + own_trip(input, due, roads, node),
        needs: counts(&due.gear_out.in_yards),
        brings: counts(&due.gear_home.in_yards),
        gates: gates.iter().map(|gate| gate.open.map_or(Gate::Shut, |(from, to)| Gate::Open { from, to })).collect(),
        follows: due.follows.map(|follow| Follows {
            visit: follow.after,
            days_min: follow.days_min,
            days_max: follow.days_max,
        }),
        hands_min: 2.min(input.settings.crews.iter().map(|crew| crew.hands).max().unwrap_or(1)),
        setup_minutes: setup,
        ..Visit::plain(due.yard.clone(), &due.what(input.jobs), node, due.pair_minutes - setup, Cents::ZERO, input.days)
    }
}

/// What the visit would cost on a trip of its own on the day after the plan: leaving it out must not look like saving
/// the work, for it is still to be done.
#[expect(clippy::cast_precision_loss, reason = "minutes and metres of one trip")]
fn own_trip(input: &PlanInput<'_>, due: &DueVisit, roads: &RoadMap, node: usize) -> Cents {
    let nodes = roads.table.nodes;
    let drive = (roads.table.minutes[node] + roads.table.minutes[node * nodes]) as f64;
    let km = (roads.table.metres[node] + roads.table.metres[node * nodes]) as f64 / 1000.0;
    let pair_wage = input.jobs.worth.wage_per_hour.amount() * 2.0 / 60.0;
    let work = due.pair_minutes.get() as f64;
    Cents::round_of((drive + work) * pair_wage + km * input.jobs.worth.road_per_km.amount())
}
