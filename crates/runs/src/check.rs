//! An independent checker: it works out times, loads, stock and money from the parts alone, by plain trial where the planner is
//! clever, and shares no code with schedule or search.

use outyard_base::Cents;

use crate::plan::{Bill, Plan, Run};
use crate::problem::{Gate, RunParts, RunProblem};

/// A rule a plan breaks. Runs are counted by their place in the plan.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Breach {
    /// The run names a day, crew, truck or visit that is not there, or has no stops.
    NotThere {
        /// The run.
        run: usize,
    },
    /// The crew does not work on that day, or the day is shut.
    CrewIsOff {
        /// The run.
        run: usize,
    },
    /// A crew goes out twice on one day.
    CrewTwice {
        /// The day.
        day: usize,
        /// The crew.
        crew: usize,
    },
    /// A truck goes out twice on one day.
    TruckTwice {
        /// The day.
        day: usize,
        /// The truck.
        truck: usize,
    },
    /// The crew may not take that truck.
    TruckNotAllowed {
        /// The run.
        run: usize,
    },
    /// More stops than a run may have.
    TooManyStops {
        /// The run.
        run: usize,
    },
    /// A visit is done more than once.
    DoneTwice {
        /// The visit.
        visit: usize,
    },
    /// A visit is done before its earliest day.
    TooEarly {
        /// The visit.
        visit: usize,
    },
    /// A visit is done on a day its gate is shut.
    GateShut {
        /// The visit.
        visit: usize,
    },
    /// The crew may not do the visit, or has too few hands.
    CrewNotAllowed {
        /// The visit.
        visit: usize,
    },
    /// No leaving time keeps all gates and the lunch rule.
    CannotBeTimed {
        /// The run.
        run: usize,
    },
    /// The run lasts longer than allowed on that day.
    TooLong {
        /// The run.
        run: usize,
        /// Shortest possible time away, minutes.
        away_minutes: i64,
        /// Allowed, minutes.
        allowed_minutes: i64,
    },
    /// The truck has too little room.
    NoRoom {
        /// The run.
        run: usize,
        /// Most volume units on the deck.
        volume: i64,
    },
    /// The truck is overloaded.
    TooHeavy {
        /// The run.
        run: usize,
        /// Most mass on the deck.
        grams: i64,
    },
    /// More gear has gone out by a day than there was.
    StockShort {
        /// The kind of gear.
        gear: usize,
        /// The day.
        day: usize,
        /// How many are missing.
        short: i64,
    },
    /// A second visit is done without its first, or too soon or too late after it.
    FollowsBadly {
        /// The second visit.
        visit: usize,
    },
    /// Two visits that must not share a run do.
    NotApart {
        /// One visit.
        left: usize,
        /// The other.
        right: usize,
    },
    /// Two visits that must share a run do not.
    NotTogether {
        /// One visit.
        left: usize,
        /// The other.
        right: usize,
    },
}

/// Every rule the plan breaks, in a fixed order; empty when it is sound.
pub fn check_plan(problem: &RunProblem, plan: &Plan) -> Vec<Breach> {
    let parts = problem.parts();
    let mut breaches = Vec::new();
    for (index, run) in plan.runs.iter().enumerate() {
        if names_are_there(parts, run) {
            check_run(parts, index, run, &mut breaches);
        } else {
            breaches.push(Breach::NotThere { run: index });
        }
    }
    if breaches.iter().any(|breach| matches!(breach, Breach::NotThere { .. })) {
        return breaches;
    }
    check_doubles(parts, plan, &mut breaches);
    check_stock(parts, plan, &mut breaches);
    check_ties(parts, plan, &mut breaches);
    breaches.sort();
    breaches.dedup();
    breaches
}

fn names_are_there(parts: &RunParts, run: &Run) -> bool {
    run.day < parts.days.len()
        && run.crew < parts.crews.len()
        && run.truck < parts.trucks.len()
        && !run.stops.is_empty()
        && run.stops.iter().all(|&stop| stop < parts.visits.len())
}

fn check_run(parts: &RunParts, index: usize, run: &Run, breaches: &mut Vec<Breach>) {
    let crew = &parts.crews[run.crew];
    let usable = i64::from(parts.days[run.day].usable_permille);
    let allowed_minutes = crew.shift_max.0 * usable / 1000;
    if usable == 0 || crew.days_off.contains(&run.day) {
        breaches.push(Breach::CrewIsOff { run: index });
    }
    if !crew.trucks.contains(&run.truck) {
        breaches.push(Breach::TruckNotAllowed { run: index });
    }
    if run.stops.len() > parts.max_stops {
        breaches.push(Breach::TooManyStops { run: index });
    }
    for &stop in &run.stops {
        let visit = &parts.visits[stop];
        if run.day < visit.earliest_day {
            breaches.push(Breach::TooEarly { visit: stop });
        }
        if !visit.gates.is_empty() && visit.gates[run.day] == Gate::Shut {
            breaches.push(Breach::GateShut { visit: stop });
        }
        let listed = visit.crews.as_ref().is_none_or(|list| list.contains(&run.crew));
        if !listed || crew.hands < visit.hands_min {
            breaches.push(Breach::CrewNotAllowed { visit: stop });
        }
    }
    match shortest_away(parts, run) {
        None => breaches.push(Breach::CannotBeTimed { run: index }),
        Some(away_minutes) if away_minutes > allowed_minutes => {
            breaches.push(Breach::TooLong { run: index, away_minutes, allowed_minutes });
        }
        Some(_) => {}
    }
    check_load(parts, index, run, breaches);
}

/// Tries every leaving minute and every place for lunch, and keeps the shortest time away.
fn shortest_away(parts: &RunParts, run: &Run) -> Option<i64> {
    let crew = &parts.crews[run.crew];
    let first = crew.earliest_leave.minutes().0;
    let gated = run.stops.iter().any(|&stop| matches!(parts.visits[stop].gates.get(run.day), Some(Gate::Open { .. })));
    // Without a gate nothing depends on the clock; with one, two days hold every useful leaving time.
    let last = if gated { 2880 } else { first };
    let mut shortest: Option<i64> = None;
    for leave in first..=last.max(first) {
        for lunch_after in 0..=run.stops.len() + 1 {
            // The last choice stands for no lunch at all.
            let lunch = (lunch_after <= run.stops.len()).then_some(lunch_after);
            if let Some(home) = home_at(parts, run, leave, lunch) {
                shortest = Some(shortest.map_or(home - leave, |so_far| so_far.min(home - leave)));
            }
        }
    }
    shortest
}

/// Minute the crew is home, or `None` when a gate or the lunch rule is missed.
fn home_at(parts: &RunParts, run: &Run, leave: i64, lunch_after: Option<usize>) -> Option<i64> {
    let crew = &parts.crews[run.crew];
    let nodes = parts.roads.nodes;
    let mut now = leave;
    let mut at = crew.base;
    let mut ate = false;
    for worked in 0..=run.stops.len() {
        let to = run.stops.get(worked).map_or(crew.base, |&stop| parts.visits[stop].node);
        // Lunch after some work is taken before driving on; lunch before any work on reaching the first yard.
        let lunch_here = lunch_after == Some(worked);
        if lunch_here && worked > 0 {
            now = lunch_over(crew.lunch, leave, now)?;
            ate = true;
        }
        now += parts.roads.minutes[at * nodes + to];
        at = to;
        let Some(&stop) = run.stops.get(worked) else { break };
        let visit = &parts.visits[stop];
        let pace = i64::from(crew.pace_permille);
        let mut work = visit.pair_minutes.0 * 1000 / pace;
        if work * pace < visit.pair_minutes.0 * 1000 {
            work += 1;
        }
        work += visit.setup_minutes.0;
        if lunch_here && worked == 0 {
            // Not before any work, unless the first yard alone keeps them past lunch.
            let drive = parts.roads.minutes[crew.base * nodes + visit.node];
            if crew.lunch.is_none_or(|rule| drive + work <= rule.begin_within.0) {
                return None;
            }
            now = lunch_over(crew.lunch, leave, now)?;
            ate = true;
        }
        match visit.gates.get(run.day) {
            Some(Gate::Shut) => return None,
            Some(Gate::Open { from, to }) => {
                now = now.max(from.minutes().0) + work;
                if now > to.minutes().0 {
                    return None;
                }
            }
            Some(Gate::AllDay) | None => now += work,
        }
    }
    let owed = crew.lunch.is_some_and(|rule| now - leave > rule.begin_within.0);
    (ate || !owed).then_some(now)
}

fn lunch_over(rule: Option<crate::problem::Lunch>, leave: i64, now: i64) -> Option<i64> {
    let rule = rule?;
    (now - leave <= rule.begin_within.0).then_some(now + rule.length.0)
}

fn check_load(parts: &RunParts, index: usize, run: &Run, breaches: &mut Vec<Breach>) {
    let truck = &parts.trucks[run.truck];
    let (mut volume_most, mut grams_most) = (0, 0);
    // On the road after `done` stops: what the others still need, and what the done ones gave.
    for done in 0..=run.stops.len() {
        let (mut volume, mut grams) = (0, 0);
        for (place, &stop) in run.stops.iter().enumerate() {
            let visit = &parts.visits[stop];
            let (list, out) = if place < done { (&visit.brings, false) } else { (&visit.needs, true) };
            for &(kind, count) in list {
                let gear = &parts.gear[kind];
                volume += count * if out { gear.out_volume } else { gear.home_volume };
                grams += count * if out { gear.out_grams.0 } else { gear.home_grams.0 };
            }
        }
        volume_most = volume_most.max(volume);
        grams_most = grams_most.max(grams);
    }
    if volume_most > truck.volume {
        breaches.push(Breach::NoRoom { run: index, volume: volume_most });
    }
    if grams_most > truck.payload.0 {
        breaches.push(Breach::TooHeavy { run: index, grams: grams_most });
    }
}

fn check_doubles(parts: &RunParts, plan: &Plan, breaches: &mut Vec<Breach>) {
    for day in 0..parts.days.len() {
        for crew in 0..parts.crews.len() {
            if plan.runs.iter().filter(|run| run.day == day && run.crew == crew).count() > 1 {
                breaches.push(Breach::CrewTwice { day, crew });
            }
        }
        for truck in 0..parts.trucks.len() {
            if plan.runs.iter().filter(|run| run.day == day && run.truck == truck).count() > 1 {
                breaches.push(Breach::TruckTwice { day, truck });
            }
        }
    }
    let mut times_done = vec![0; parts.visits.len()];
    for run in &plan.runs {
        for &stop in &run.stops {
            times_done[stop] += 1;
        }
    }
    for (visit, times) in times_done.into_iter().enumerate() {
        if times > 1 {
            breaches.push(Breach::DoneTwice { visit });
        }
    }
}

fn check_stock(parts: &RunParts, plan: &Plan, breaches: &mut Vec<Breach>) {
    for (gear, kind) in parts.gear.iter().enumerate() {
        for day in 0..parts.days.len() {
            let used: i64 = plan
                .runs
                .iter()
                .filter(|run| run.day <= day)
                .flat_map(|run| &run.stops)
                .flat_map(|&stop| &parts.visits[stop].needs)
                .filter(|need| need.0 == gear)
                .map(|need| need.1)
                .sum();
            if used > kind.stock[day] {
                breaches.push(Breach::StockShort { gear, day, short: used - kind.stock[day] });
            }
        }
    }
}

fn check_ties(parts: &RunParts, plan: &Plan, breaches: &mut Vec<Breach>) {
    let run_of = |visit: usize| plan.runs.iter().position(|run| run.stops.contains(&visit));
    for (visit, due) in parts.visits.iter().enumerate() {
        let (Some(tie), Some(run)) = (due.follows, run_of(visit)) else { continue };
        let kept = run_of(tie.visit).is_some_and(|first| {
            let (first, second) = (plan.runs[first].day, plan.runs[run].day);
            second >= first + tie.days_min as usize && second <= first + tie.days_max as usize
        });
        if !kept {
            breaches.push(Breach::FollowsBadly { visit });
        }
    }
    for &(left, right) in &parts.apart {
        if run_of(left).is_some() && run_of(left) == run_of(right) {
            breaches.push(Breach::NotApart { left, right });
        }
    }
    for &(left, right) in &parts.together {
        if run_of(left) != run_of(right) {
            breaches.push(Breach::NotTogether { left, right });
        }
    }
}

/// The bill by the checker's own arithmetic; `None` when a run cannot be timed or names something that is not there.
pub fn own_bill(problem: &RunProblem, plan: &Plan) -> Option<Bill> {
    let parts = problem.parts();
    let mut bill = Bill::default();
    let mut done = vec![false; parts.visits.len()];
    for run in &plan.runs {
        if run.stops.is_empty() {
            continue;
        }
        if !names_are_there(parts, run) {
            return None;
        }
        let crew = &parts.crews[run.crew];
        let away = shortest_away(parts, run)?;
        bill.wage += Cents(away * crew.wage_per_minute.0);
        if away > crew.shift.0 {
            bill.overtime += Cents((away - crew.shift.0) * crew.overtime_extra_per_minute.0);
        }
        let mut metres = 0;
        let mut at = crew.base;
        for &stop in &run.stops {
            metres += parts.roads.metres[at * parts.roads.nodes + parts.visits[stop].node];
            at = parts.visits[stop].node;
        }
        metres += parts.roads.metres[at * parts.roads.nodes + crew.base];
        let thousandths = metres * parts.cents_per_km.0;
        bill.road += Cents(thousandths / 1000 + i64::from(thousandths % 1000 >= 500));
        for &stop in &run.stops {
            let visit = &parts.visits[stop];
            done[stop] = true;
            bill.waiting += visit.waiting[run.day];
            if let Some(told) = visit.told {
                if told.day != run.day {
                    bill.told += told.day_change;
                } else if told.crew != run.crew {
                    bill.told += told.crew_change;
                }
            }
        }
    }
    for (visit, _) in parts.visits.iter().zip(done).filter(|(_, done)| !done) {
        bill.skip += visit.skip;
        if let Some(told) = visit.told {
            bill.told += told.day_change;
        }
    }
    Some(bill)
}
