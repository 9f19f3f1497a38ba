//! When a run leaves, works, eats and comes home.
//!
//! Of all ways to time a run that keep every gate and the lunch rule, the one with the shortest time away is taken; among equals
//! the one with the latest lunch, and among these the one that leaves first. So with a gate at the first yard the crew leaves
//! just in time to reach it as it opens, and no paid minute is spent waiting that could be spent at home.
//!
//! That the lunch rule can be checked on the shortest pass of the stretch before lunch: a shortest pass of the whole run leaves
//! between the earliest and latest begin of every one of its beginnings, so it passes each of them in the shortest time too.

use outyard_base::{ClockTime, Minutes};

use crate::gate::Stretch;
use crate::plan::{LunchTimes, Run, RunTimes, StopTimes};
use crate::problem::{Gate, Lunch, RunParts, RunProblem, Visit};
use crate::shift::{longest_away, service_minutes};

/// Times a run; `None` when no timing keeps the gates and the lunch rule. Whether the time away is allowed is not asked here:
/// `to_spare` is negative when it is not.
///
/// # Panics
/// When the run names a crew, day or visit the problem does not have.
pub fn schedule(problem: &RunProblem, run: &Run) -> Option<RunTimes> {
    let parts = problem.parts();
    let crew = &parts.crews[run.crew];
    let (lunch_after, whole) = best_timing(parts, run)?;
    let leave = whole.begin_first;
    let mut now = leave;
    let mut node = crew.base;
    let mut lunch = None;
    let mut stops = Vec::with_capacity(run.stops.len());
    let (mut drive, mut metres, mut service) = (0, 0, 0);
    for (position, &visit) in run.stops.iter().enumerate() {
        let due = &parts.visits[visit];
        let road = node * parts.roads.nodes + due.node;
        drive += parts.roads.minutes[road];
        metres += parts.roads.metres[road];
        now += parts.roads.minutes[road];
        node = due.node;
        let arrive = now;
        if position == 0 && lunch_after == Some(0) {
            lunch = eat(0, &mut now, crew.lunch);
        }
        let work = service_minutes(crew, due).0;
        let gate_left = if let Gate::Open { from, to } = due.gate(run.day) {
            now = now.max(from.minutes().0);
            Some(Minutes(to.minutes().0 - now - work))
        } else {
            None
        };
        let start = now;
        now += work;
        service += work;
        stops.push(StopTimes { visit, arrive: clock(arrive), start: clock(start), end: clock(now), gate_left });
        if lunch_after == Some(position + 1) {
            lunch = eat(position + 1, &mut now, crew.lunch);
        }
    }
    let road = node * parts.roads.nodes + crew.base;
    drive += parts.roads.minutes[road];
    metres += parts.roads.metres[road];
    now += parts.roads.minutes[road];
    debug_assert_eq!(now - leave, whole.span, "the times add up to the span found");
    let eaten = lunch.map_or(0, |times: LunchTimes| (times.to - times.from).0);
    Some(RunTimes {
        leave: clock(leave),
        stops,
        lunch,
        home: clock(now),
        drive: Minutes(drive),
        metres,
        service: Minutes(service),
        waited: Minutes(now - leave - drive - service - eaten),
        to_spare: Minutes(longest_away(parts, run.crew, run.day).0 - (now - leave)),
    })
}

fn clock(minutes: i64) -> ClockTime {
    ClockTime::MIDNIGHT + Minutes(minutes)
}

fn eat(after_stops: usize, now: &mut i64, rule: Option<Lunch>) -> Option<LunchTimes> {
    let from = *now;
    *now += rule?.length.0;
    Some(LunchTimes { after_stops, from: clock(from), to: clock(*now) })
}

/// The stretch of work at a visit.
fn work(visit: &Visit, day: usize, minutes: i64) -> Option<Stretch> {
    match visit.gate(day) {
        Gate::Shut => None,
        Gate::AllDay => Some(Stretch::any_time(minutes)),
        Gate::Open { from, to } => Stretch::gated(minutes, from.minutes().0, to.minutes().0),
    }
}

/// The best place for lunch (`None` for no lunch) and the whole run as a stretch.
fn best_timing(parts: &RunParts, run: &Run) -> Option<(Option<usize>, Stretch)> {
    let crew = &parts.crews[run.crew];
    let plain = whole_run(parts, run, None)?;
    let Some(rule) = crew.lunch else { return Some((None, plain)) };
    if plain.span <= rule.begin_within.0 {
        return Some((None, plain));
    }
    (lunch_after_min(parts, run, rule)..=run.stops.len())
        .rev()
        .filter_map(|after| whole_run(parts, run, Some((after, rule))).map(|whole| (Some(after), whole)))
        .min_by_key(|(_, whole)| whole.span)
}

/// Lunch before any work (0) only when the first yard would be finished too late to eat after it.
fn lunch_after_min(parts: &RunParts, run: &Run, rule: Lunch) -> usize {
    let crew = &parts.crews[run.crew];
    run.stops.first().map_or(0, |&first| {
        let due = &parts.visits[first];
        let road = parts.roads.minutes[crew.base * parts.roads.nodes + due.node];
        usize::from(road + service_minutes(crew, due).0 <= rule.begin_within.0)
    })
}

/// The whole run with lunch at a given place; `None` when a gate or the lunch rule is missed.
fn whole_run(parts: &RunParts, run: &Run, lunch: Option<(usize, Lunch)>) -> Option<Stretch> {
    let crew = &parts.crews[run.crew];
    let mut so_far = Stretch::home(crew.earliest_leave.minutes().0);
    let mut node = crew.base;
    let eat = |so_far: Stretch, after: usize| match lunch {
        Some((place, rule)) if place == after => {
            if so_far.span > rule.begin_within.0 {
                None
            } else {
                so_far.then(Stretch::any_time(rule.length.0))
            }
        }
        _ => Some(so_far),
    };
    for (position, &visit) in run.stops.iter().enumerate() {
        let due = &parts.visits[visit];
        so_far = so_far.then(Stretch::any_time(parts.roads.minutes[node * parts.roads.nodes + due.node]))?;
        if position == 0 {
            so_far = eat(so_far, 0)?;
        }
        so_far = so_far.then(work(due, run.day, service_minutes(crew, due).0)?)?;
        so_far = eat(so_far, position + 1)?;
        node = due.node;
    }
    so_far.then(Stretch::any_time(parts.roads.minutes[node * parts.roads.nodes + crew.base]))
}
