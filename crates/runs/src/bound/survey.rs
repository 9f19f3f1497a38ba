//! What every hunt for the cheapest run looks up: the ways between yards, who is near whom, when each yard is open.

use std::rc::Rc;

use super::best_run::{BestRun, FORGOTTEN, Legs, NEAR, Nearby};
use super::every_run::{NEVER, largest_truck, load_of_visit};
use crate::problem::{Gate, RunParts, RunProblem};
use crate::shift::service_minutes;

/// Longest road told apart from longer ones: a longer one counted as this only lowers the floor.
const ROAD_MAX: i64 = (1 << 30) - 1;
/// The same in minutes: years.
const MINUTES_MAX: i64 = 1 << 20;

/// Tables shared by all classes of crews.
pub(super) struct Survey<'p> {
    problem: &'p RunProblem,
    /// Nodes of visits and bases, in order.
    nodes: Vec<usize>,
    minutes: Rc<[i32]>,
    /// Prices of all roads by wage.
    prices: Vec<(i64, Rc<[i32]>)>,
    nearby: Rc<Nearby>,
    open: Rc<[(i64, i64)]>,
}

impl<'p> Survey<'p> {
    pub(super) fn new(problem: &'p RunProblem) -> Self {
        let parts = problem.parts();
        let mut nodes: Vec<usize> = parts.visits.iter().map(|visit| visit.node).collect();
        nodes.extend(parts.crews.iter().map(|crew| crew.base));
        nodes.sort_unstable();
        nodes.dedup();
        let minutes = ways(parts, &nodes, |road| parts.roads.minutes[road].min(MINUTES_MAX));
        let places: Vec<usize> = parts.visits.iter().map(|visit| place(&nodes, visit.node)).collect();
        let nearby = Rc::new(nearby(parts, &minutes, nodes.len(), &places));
        Self { problem, nodes, minutes, prices: Vec::new(), nearby, open: open(parts) }
    }

    /// A hunter for crews that differ in nothing the floor looks at.
    pub(super) fn hunter(&mut self, crews: &[usize]) -> BestRun {
        let parts = self.problem.parts();
        let crew = &parts.crews[crews[0]];
        let visits = 0..parts.visits.len();
        BestRun {
            legs: self.legs(crew.base, crew.wage_per_minute.0),
            nearby: self.nearby.clone(),
            service: parts.visits.iter().map(|due| service_minutes(crew, due).0).collect(),
            loads: visits.map(|visit| load_of_visit(parts, visit)).collect(),
            open: self.open.clone(),
            truck: largest_truck(parts, crews[0]),
            leave: crew.earliest_leave.minutes().0,
            wage: crew.wage_per_minute.0,
            extra: crew.overtime_extra_per_minute.0,
            shift: crew.shift.0,
            lunch: crew.lunch.map(|rule| (rule.length.0, rule.begin_within.0)),
            stops_max: parts.max_stops.min(parts.visits.len()),
            paths_max: 0,
            work: 0,
            last: vec![Vec::new(); parts.days.len()],
            minute: vec![-1; parts.days.len()],
        }
    }

    fn legs(&mut self, base: usize, wage: i64) -> Legs {
        let parts = self.problem.parts();
        let known = self.prices.iter().find(|known| known.0 == wage).map(|known| known.1.clone());
        let price = known.unwrap_or_else(|| {
            ways(parts, &self.nodes, |road| {
                1000 * wage * parts.roads.minutes[road] + parts.cents_per_km.0 * parts.roads.metres[road]
            })
        });
        self.prices.push((wage, price.clone()));
        let visits = parts.visits.iter().map(|visit| place(&self.nodes, visit.node));
        let places: Vec<usize> = visits.chain([place(&self.nodes, base)]).collect();
        Legs { nodes: self.nodes.len(), minutes: self.minutes.clone(), price, places }
    }
}

fn place(nodes: &[usize], node: usize) -> usize {
    nodes.binary_search(&node).expect("every node is listed")
}

/// Least ways between all nodes by a price of each road (Floyd 1962). With roads as they are, a visit that pays nothing could still be worth a stop for
/// the short cut it lies on, and none could be left out of a hunt beforehand.
fn ways(parts: &RunParts, nodes: &[usize], price: impl Fn(usize) -> i64) -> Rc<[i32]> {
    let count = nodes.len();
    let cell = |cell: usize| {
        let road = price(nodes[cell / count] * parts.roads.nodes + nodes[cell % count]).min(ROAD_MAX);
        i32::try_from(road).expect("cut off well below the largest")
    };
    let mut ways: Vec<i32> = (0..count * count).map(cell).collect();
    for over in 0..count {
        let onward = ways[over * count..(over + 1) * count].to_vec();
        for row in ways.chunks_mut(count) {
            let there = row[over];
            row.iter_mut().zip(&onward).for_each(|(way, on)| *way = (*way).min(there + on));
        }
    }
    ways.into()
}

fn nearby(parts: &RunParts, minutes: &[i32], nodes: usize, places: &[usize]) -> Nearby {
    let visits = places.len();
    let mut apart = vec![Vec::new(); visits];
    for &(left, right) in &parts.apart {
        apart[left].push(right);
        apart[right].push(left);
    }
    let mut bit = vec![FORGOTTEN; visits * visits];
    let mut visit = vec![0; visits * NEAR];
    let mut others: Vec<usize> = (0..visits).collect();
    for at in 0..visits {
        let key = |other: &usize| {
            let held = *other == at || apart[at].contains(other);
            (!held, minutes[places[at] * nodes + places[*other]], *other)
        };
        if visits > NEAR {
            others.select_nth_unstable_by_key(NEAR - 1, key);
        }
        for (number, &other) in others.iter().take(NEAR).enumerate() {
            bit[at * visits + other] = u8::try_from(number).expect("few are near");
            visit[at * NEAR + number] = u16::try_from(other).expect("fewer visits than that");
        }
    }
    Nearby { visits, bit, visit, apart }
}

fn open(parts: &RunParts) -> Rc<[(i64, i64)]> {
    let hours = |gate: Gate| match gate {
        Gate::Open { from, to } => (from.minutes().0, to.minutes().0),
        Gate::AllDay => (0, NEVER),
        Gate::Shut => (NEVER, 0),
    };
    (0..parts.days.len()).flat_map(|day| parts.visits.iter().map(move |visit| hours(visit.gate(day)))).collect()
}
