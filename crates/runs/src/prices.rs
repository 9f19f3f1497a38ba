//! What one more would be worth: a box, an excluder, a crew for a day, a truck, an hour. Each price is confirmed by planning again
//! with one more, never read off a model alone.

use outyard_base::{Cents, Minutes, Range, Trouble};

use crate::bill::cost;
use crate::plan::Plan;
use crate::problem::{RunParts, RunProblem};
use crate::search::{Effort, solve};

/// One more of something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Extra {
    /// More gear, at hand from a day on.
    Gear {
        /// The kind.
        gear: usize,
        /// First day it is there.
        day: usize,
        /// How many.
        count: i64,
    },
    /// Another crew like this one, for one day, on any free truck that crew may take.
    Crew {
        /// The crew to copy.
        like: usize,
        /// The day.
        day: usize,
    },
    /// Another crew like this one, for one day, with a truck of its own.
    CrewWithTruck {
        /// The crew to copy; its first truck is copied too.
        like: usize,
        /// The day.
        day: usize,
    },
    /// Another truck like this one, for the same crews, on all days.
    Truck {
        /// The truck to copy.
        like: usize,
    },
    /// A longer longest shift for a crew on one day.
    Time {
        /// The crew.
        crew: usize,
        /// The day.
        day: usize,
        /// How much longer.
        minutes: Minutes,
    },
}

/// Whether one more pays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Every replanning saved money.
    Saves,
    /// Some replannings saved money and some did not.
    Unsure,
    /// No replanning saved money.
    NotWorthIt,
}

/// What one more is worth.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Price {
    /// One more of what.
    pub extra: Extra,
    /// Bill of the best plan without it.
    pub before: Cents,
    /// Money saved by having it: least, middle and most over the replannings (not the 10 and 90 % points).
    pub worth: Range<Cents>,
    /// The verdict.
    pub verdict: Verdict,
}

/// The problem with one more.
///
/// # Errors
/// The troubles of [`RunProblem::new`], `RUN-010` when `extra` names something that is not there among them.
pub fn with_extra(problem: &RunProblem, extra: Extra) -> Result<RunProblem, Vec<Trouble>> {
    let mut parts = problem.parts().clone();
    let there = match extra {
        Extra::Gear { gear, day, .. } => gear < parts.gear.len() && day < parts.days.len(),
        Extra::Crew { like, day } | Extra::Time { crew: like, day, .. } => {
            like < parts.crews.len() && day < parts.days.len()
        }
        Extra::CrewWithTruck { like, day } => {
            parts.crews.get(like).is_some_and(|crew| !crew.trucks.is_empty()) && day < parts.days.len()
        }
        Extra::Truck { like } => like < parts.trucks.len(),
    };
    if !there {
        return Err(vec![Trouble::new(
            "RUN-010",
            "one more is asked for of something that is not there",
            "name only gear, crews, trucks and days of this plan",
        )]);
    }
    match extra {
        Extra::Gear { gear, day, count } => {
            for stock in &mut parts.gear[gear].stock[day..] {
                *stock += count;
            }
        }
        Extra::Crew { like, day } => {
            copy_crew(&mut parts, like, day);
        }
        Extra::CrewWithTruck { like, day } => {
            let copy = copy_crew(&mut parts, like, day);
            let truck = parts.trucks[parts.crews[like].trucks[0]].clone();
            parts.crews[copy].trucks = vec![parts.trucks.len()];
            parts.trucks.push(truck);
        }
        Extra::Truck { like } => {
            let copy = parts.trucks.len();
            let truck = parts.trucks[like].clone();
            parts.trucks.push(truck);
            for crew in parts.crews.iter_mut().filter(|crew| crew.trucks.contains(&like)) {
                crew.trucks.push(copy);
            }
        }
        Extra::Time { crew, day, minutes } => {
            // The crew is off on that day, and a twin with the longer shift goes out in its place.
            let twin = copy_crew(&mut parts, crew, day);
            parts.crews[twin].shift_max += minutes;
            if parts.crews[crew].days_off.contains(&day) {
                parts.crews[twin].days_off.push(day);
            }
            parts.crews[crew].days_off.push(day);
            for told in parts.visits.iter_mut().filter_map(|visit| visit.told.as_mut()) {
                if told.crew == crew && told.day == day {
                    told.crew = twin;
                }
            }
        }
    }
    RunProblem::new(parts)
}

/// Adds a twin of a crew that works on one day only; whoever may do a visit may send the twin too.
fn copy_crew(parts: &mut RunParts, like: usize, day: usize) -> usize {
    let mut twin = parts.crews[like].clone();
    twin.days_off = (0..parts.days.len()).filter(|&other| other != day).collect();
    let index = parts.crews.len();
    parts.crews.push(twin);
    for visit in &mut parts.visits {
        if let Some(allowed) = &mut visit.crews
            && allowed.contains(&like)
        {
            allowed.push(index);
        }
    }
    index
}

/// A plan of the problem written for the problem with an extra: runs of a crew given more time go to its twin.
fn carried(problem: &RunProblem, plan: &Plan, extra: Extra) -> Plan {
    let mut plan = plan.clone();
    if let Extra::Time { crew, day, .. } = extra {
        for run in plan.runs.iter_mut().filter(|run| run.crew == crew && run.day == day) {
            run.crew = problem.parts().crews.len();
        }
    }
    plan
}

/// Whether one more can be of no use under any plan: gear of which there is enough for all visits at once on every day, or another truck like one that
/// a single crew takes, which has that one to itself.
fn worth_nothing(problem: &RunProblem, extra: Extra) -> bool {
    let parts = problem.parts();
    match extra {
        Extra::Gear { gear, .. } => {
            let needs = parts.visits.iter().flat_map(|visit| &visit.needs).filter(|need| need.0 == gear);
            let all: i64 = needs.map(|need| need.1).sum();
            parts.gear[gear].stock.iter().all(|stock| *stock >= all)
        }
        Extra::Truck { like } => parts.crews.iter().filter(|crew| crew.trucks.contains(&like)).count() <= 1,
        Extra::Crew { .. } | Extra::CrewWithTruck { .. } | Extra::Time { .. } => false,
    }
}

/// Prices one more of something by planning again with it, once for each seed, from the best plan known without it.
///
/// # Errors
/// As [`with_extra`].
///
/// # Panics
/// When `seeds` is empty or `plan` is not sound.
pub fn price(
    problem: &RunProblem,
    plan: &Plan,
    extra: Extra,
    effort: &Effort,
    seeds: &[u64],
    stop: &dyn Fn() -> bool,
) -> Result<Price, Vec<Trouble>> {
    prices(problem, plan, &[extra], effort, seeds, stop).map(|mut all| all.remove(0))
}

/// Prices several extras, each by itself, against one and the same best plan without them.
///
/// # Errors
/// As [`with_extra`].
///
/// # Panics
/// When `seeds` is empty or `plan` is not sound.
pub fn prices(
    problem: &RunProblem,
    plan: &Plan,
    extras: &[Extra],
    effort: &Effort,
    seeds: &[u64],
    stop: &dyn Fn() -> bool,
) -> Result<Vec<Price>, Vec<Trouble>> {
    assert!(!seeds.is_empty(), "a price needs at least one replanning");
    let total = |problem: &RunProblem, plan: &Plan| cost(problem, plan).expect("a sound plan can be timed").total();
    // The plan without the extra gets the same second chance, so that better planning is not booked as the extra's worth.
    let again = seeds.iter().map(|&seed| solve(problem, effort, seed, Some(plan), stop));
    let best = again.min_by_key(|again| total(problem, again)).expect("at least one seed");
    let before = total(problem, &best);
    extras
        .iter()
        .map(|&extra| {
            let richer = with_extra(problem, extra)?;
            if worth_nothing(problem, extra) {
                let none = Range { low: Cents::ZERO, likely: Cents::ZERO, high: Cents::ZERO };
                return Ok(Price { extra, before, worth: none, verdict: Verdict::NotWorthIt });
            }
            let start = carried(problem, &best, extra);
            let mut saved: Vec<Cents> = seeds
                .iter()
                .map(|&seed| before - total(&richer, &solve(&richer, effort, seed, Some(&start), stop)))
                .collect();
            saved.sort_unstable();
            let worth = Range { low: saved[0], likely: saved[saved.len() / 2], high: saved[saved.len() - 1] };
            let verdict = if worth.low > Cents::ZERO {
                Verdict::Saves
            } else if worth.high > Cents::ZERO {
                Verdict::Unsure
            } else {
                Verdict::NotWorthIt
            };
            Ok(Price { extra, before, worth, verdict })
        })
        .collect()
}
