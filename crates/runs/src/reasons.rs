//! Why a visit stands where it stands: what every other day would cost with the rest of the plan left as it is, or what forbids it.

use std::ops::Range;

use outyard_base::{Cents, Minutes};

use crate::bill::cost;
use crate::draft::{Draft, repaired};
use crate::plan::{Plan, Run};
use crate::problem::{Gate, RunProblem};
use crate::schedule::schedule;
use crate::truck_load::{fits, load_of};

/// What forbids a visit on a day, with the rest of the plan left as it is. Of several crews and places, the one that comes nearest to
/// being possible is told: the later in this list, the nearer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hindrance {
    /// The day is shut.
    DayShut,
    /// Before its earliest day.
    TooEarly,
    /// Its gate is shut all day.
    GateShut,
    /// Its first visit, or one that follows it, would be too near or too far, or is left out.
    Ties,
    /// Gear is short.
    GearShort {
        /// The kind.
        gear: usize,
        /// How many are missing.
        short: i64,
    },
    /// No crew that may do it works that day.
    NoCrew,
    /// The run has all the stops it may have.
    RunFull,
    /// A visit on the run must not share it.
    Apart,
    /// No free truck carries the load.
    TruckFull,
    /// A gate or the lunch rule would be missed.
    GateMissed,
    /// The crew would be away too long.
    ShiftTooLong {
        /// Minutes too long.
        over: Minutes,
    },
}

/// Another day for a visit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Alternative {
    /// The day.
    pub day: usize,
    /// The cheapest crew and what the bill would rise by (negative: fall), or what forbids it.
    pub outcome: Result<(usize, Cents), Hindrance>,
}

/// Another crew for a visit on the day it stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OtherCrew {
    /// The crew.
    pub crew: usize,
    /// What the bill would rise by (negative: fall), or what forbids it.
    pub outcome: Result<Cents, Hindrance>,
}

/// Why a visit stands where it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reason {
    /// The visit.
    pub visit: usize,
    /// Day and crew; `None` when left out.
    pub stands: Option<(usize, usize)>,
    /// Money lost by waiting to that day, or by leaving it out.
    pub loss: Cents,
    /// What leaving it out would add to the bill (0 when it is left out).
    pub leaving_out_adds: Cents,
    /// All other days, in order.
    pub alternatives: Vec<Alternative>,
    /// All other crews on the same day, in order; none when it is left out.
    pub other_crews: Vec<OtherCrew>,
}

impl Reason {
    /// The cheapest other day and what it adds.
    pub fn next_best(&self) -> Option<(usize, Cents)> {
        self.alternatives
            .iter()
            .filter_map(|other| other.outcome.ok().map(|(_, adds)| (other.day, adds)))
            .min_by_key(|&(day, adds)| (adds, day))
    }

    /// The cheapest other crew of the same day and what it adds.
    pub fn next_best_crew(&self) -> Option<(usize, Cents)> {
        self.other_crews
            .iter()
            .filter_map(|other| other.outcome.ok().map(|adds| (other.crew, adds)))
            .min_by_key(|&(crew, adds)| (adds, crew))
    }
}

/// Gives the reasons for one visit of a sound plan. All figures are with the rest of the plan left as it is; visits bound to the same
/// run move along with it.
///
/// # Panics
/// When the plan is not sound or the visit is not there.
pub fn reasons(problem: &RunProblem, plan: &Plan, visit: usize) -> Reason {
    let parts = problem.parts();
    let bill = |plan: &Plan| cost(problem, plan).expect("a sound plan can be timed").total();
    let draft = repaired(problem, plan);
    let groups = crate::groups::groups(parts);
    let group: Vec<usize> = (0..groups.len()).filter(|&other| groups[other] == groups[visit]).collect();
    let now = bill(&draft.plan);
    let stands = draft.plan.assignments(groups.len())[visit];
    let mut without = draft.clone();
    without.remove(&[visit]);
    // A run that cannot be timed without this stop loses others as well.
    let leaving_out_adds = bill(&repaired(problem, &without.plan).plan) - now;
    let mut loose = draft;
    loose.take_off(&group);
    let crews = 0..parts.crews.len();
    let alternatives = (0..parts.days.len())
        .filter(|&day| stands.is_none_or(|(own, _)| own != day))
        .map(|day| {
            let outcome = on_day(&loose, &group, day, crews.clone()).map(|(crew, total)| (crew, total - now));
            Alternative { day, outcome }
        })
        .collect();
    let other_crews = stands.map_or_else(Vec::new, |(day, own)| {
        let others = crews.clone().filter(|&crew| crew != own);
        let outcome = |crew| on_day(&loose, &group, day, crew..crew + 1).map(|(_, total)| total - now);
        others.map(|crew| OtherCrew { crew, outcome: outcome(crew) }).collect()
    });
    let loss = stands.map_or(parts.visits[visit].skip, |(day, _)| parts.visits[visit].waiting[day]);
    Reason { visit, stands, loss, leaving_out_adds, alternatives, other_crews }
}

/// The cheapest of some crews for a group of visits on a day and the bill with it.
fn on_day(loose: &Draft<'_>, group: &[usize], day: usize, crews: Range<usize>) -> Result<(usize, Cents), Hindrance> {
    day_hindrance(loose, group, day)?;
    let mut best: Option<(Cents, usize)> = None;
    let mut nearest = Hindrance::NoCrew;
    for crew in crews {
        if !group.iter().all(|&visit| loose.problem.may_do(visit, crew, day)) {
            continue;
        }
        let stops = loose.run_index(day, crew).map_or(&[][..], |run| &loose.plan.runs[run].stops);
        let mut trials = vec![stops.to_vec()];
        for &visit in group {
            trials = trials.iter().flat_map(|stops| with_visit_everywhere(stops, visit)).collect();
        }
        for trial in trials {
            if let Some(hindrance) = run_hindrance(loose, day, crew, &trial) {
                nearest = nearest.max(hindrance);
                continue;
            }
            let mut tried = loose.clone();
            if !tried.place(day, crew, group, trial) {
                continue;
            }
            // The run it came from may be one that cannot be timed without it.
            nearest = nearest.max(Hindrance::GateMissed);
            if let Some(bill) = cost(loose.problem, &tried.plan) {
                let total = bill.total();
                best = Some(best.map_or((total, crew), |so_far| so_far.min((total, crew))));
            }
        }
    }
    best.map(|(total, crew)| (crew, total)).ok_or(nearest)
}

fn with_visit_everywhere(stops: &[usize], visit: usize) -> Vec<Vec<usize>> {
    (0..=stops.len())
        .map(|place| {
            let mut longer = stops.to_vec();
            longer.insert(place, visit);
            longer
        })
        .collect()
}

fn day_hindrance(loose: &Draft<'_>, group: &[usize], day: usize) -> Result<(), Hindrance> {
    let parts = loose.problem.parts();
    if parts.days[day].usable_permille == 0 {
        return Err(Hindrance::DayShut);
    }
    let mut stock = loose.stock.clone();
    for &visit in group {
        let due = &parts.visits[visit];
        if day < due.earliest_day {
            return Err(Hindrance::TooEarly);
        }
        if due.gate(day) == Gate::Shut {
            return Err(Hindrance::GateShut);
        }
        if !loose.ties_allow(visit, day) {
            return Err(Hindrance::Ties);
        }
        for &(gear, count) in &due.needs {
            if count > stock.room(gear, day) {
                return Err(Hindrance::GearShort { gear, short: count - stock.room(gear, day) });
            }
        }
        stock.take(&due.needs, day, 1);
    }
    Ok(())
}

fn run_hindrance(loose: &Draft<'_>, day: usize, crew: usize, stops: &[usize]) -> Option<Hindrance> {
    let parts = loose.problem.parts();
    if stops.len() > parts.max_stops {
        return Some(Hindrance::RunFull);
    }
    if parts.apart.iter().any(|(left, right)| stops.contains(left) && stops.contains(right)) {
        return Some(Hindrance::Apart);
    }
    let load = load_of(parts, stops);
    let taken =
        |truck: usize| loose.plan.runs.iter().any(|run| run.day == day && run.truck == truck && run.crew != crew);
    let Some(&truck) = parts.crews[crew].trucks.iter().find(|&&truck| !taken(truck) && fits(parts, truck, &load))
    else {
        return Some(Hindrance::TruckFull);
    };
    match schedule(loose.problem, &Run { day, crew, truck, stops: stops.to_vec() }) {
        None => Some(Hindrance::GateMissed),
        Some(times) if times.to_spare.0 < 0 => Some(Hindrance::ShiftTooLong { over: Minutes(-times.to_spare.0) }),
        Some(_) => None,
    }
}
