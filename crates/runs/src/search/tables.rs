//! The problem in flat tables, laid out for the search: roads between visits rather than nodes, costs by visit and slot.

use crate::bill::{dropped_cost, told_cost};
use crate::groups::groups;
use crate::problem::{Gate, RunParts, RunProblem, STOPS_MAX};
use crate::shift::{longest_away, service_minutes};

/// Cost that marks a visit as not allowed in a slot.
pub(super) const FORBIDDEN: i64 = i64::MAX;
/// Marks a visit that is left out.
pub(super) const OUT: u16 = u16::MAX;

/// A gate as bare minutes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Window {
    AllDay,
    Open(i64, i64),
}

/// Room and mass.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Bulk {
    pub(super) volume: i64,
    pub(super) grams: i64,
}

/// The terms of a crew.
#[derive(Clone, Copy, Debug)]
pub(super) struct Terms {
    pub(super) leave: i64,
    pub(super) shift: i64,
    pub(super) wage: i64,
    pub(super) extra: i64,
    /// Length of lunch, 0 without a rule.
    pub(super) lunch: i64,
    /// Lunch begins within this, without end when there is no rule.
    pub(super) lunch_within: i64,
}

/// A slot is a crew on a day: `day * crews + crew`.
pub(super) struct Tables<'p> {
    pub(super) parts: &'p RunParts,
    pub(super) visits: usize,
    pub(super) days: usize,
    pub(super) crews: usize,
    pub(super) slots: usize,
    pub(super) stops_max: usize,
    /// Slots in which some crew works.
    pub(super) open_slots: Vec<u16>,
    /// `[visit * slots + slot]`: waiting and told cost, or [`FORBIDDEN`].
    pub(super) place_cost: Vec<i64>,
    /// `[visit]`: what leaving it out costs.
    pub(super) out_cost: Vec<i64>,
    /// `[visit]`: the same with everything that can only be done after it.
    pub(super) out_cost_with_followers: Vec<i64>,
    /// `[visit * crews + crew]`.
    service: Vec<i64>,
    /// `[visit]`: its least service minutes with any crew.
    pub(super) service_least: Vec<i64>,
    /// `[slot]`: its day, and its crew; looked up, as dividing takes longer.
    day_of: Vec<u16>,
    crew_of: Vec<u16>,
    /// `[from * points + to]`: minutes and metres; points are visits, then crews' bases.
    roads: Vec<[i32; 2]>,
    points: usize,
    /// `[visit * days + day]`.
    windows: Vec<Window>,
    /// `[visit * gear + gear]`: pieces taken out.
    needs: Vec<i64>,
    pub(super) out_bulk: Vec<Bulk>,
    pub(super) home_bulk: Vec<Bulk>,
    pub(super) terms: Vec<Terms>,
    /// `[slot]`.
    pub(super) away_max: Vec<i64>,
    pub(super) trucks: Vec<Bulk>,
    /// Whether each crew has one truck of its own.
    pub(super) own_trucks: bool,
    pub(super) cents_per_km: i64,
    /// `[visit]`: visits that must not share its run.
    pub(super) apart: Vec<Vec<u16>>,
    /// `[visit]`: second visits tied to it.
    pub(super) followers: Vec<Vec<u16>>,
    /// `[visit]`: how many visits must come before it.
    pub(super) depth: Vec<u32>,
    /// Visits bound to one run, by the first of them; the others have an empty list.
    pub(super) units: Vec<Vec<u16>>,
    /// `[visit]`: the first visit of its unit.
    pub(super) unit_of: Vec<u16>,
    /// `[visit]`: other visits, nearest road first.
    pub(super) near: Vec<Vec<u16>>,
    pub(super) any_ties: bool,
}

fn small(number: usize) -> u16 {
    u16::try_from(number).expect("checked: fewer visits and slots than that")
}

impl<'p> Tables<'p> {
    pub(super) fn new(problem: &'p RunProblem) -> Self {
        let parts = problem.parts();
        let (visits, days, crews) = (parts.visits.len(), parts.days.len(), parts.crews.len());
        let slots = days * crews;
        let mut place_cost = vec![FORBIDDEN; visits * slots];
        for (index, visit) in parts.visits.iter().enumerate() {
            for day in 0..days {
                for crew in 0..crews {
                    if problem.may_do(index, crew, day) {
                        place_cost[index * slots + day * crews + crew] =
                            visit.waiting[day].0 + told_cost(visit, day, crew).0;
                    }
                }
            }
        }
        let points = visits + crews;
        let node = |point: usize| match parts.visits.get(point) {
            Some(visit) => visit.node,
            None => parts.crews[point - visits].base,
        };
        let cell = |from: usize, to: usize| {
            let road = node(from) * parts.roads.nodes + node(to);
            let whole = |number: i64| i32::try_from(number).expect("checked: at most a thousand million");
            [whole(parts.roads.minutes[road]), whole(parts.roads.metres[road])]
        };
        let roads = (0..points * points).map(|index| cell(index / points, index % points)).collect();
        let bulk = |list: &[(usize, i64)], out: bool| {
            list.iter().fold(Bulk::default(), |sum, &(kind, count)| {
                let gear = &parts.gear[kind];
                let (volume, grams) =
                    if out { (gear.out_volume, gear.out_grams.0) } else { (gear.home_volume, gear.home_grams.0) };
                Bulk { volume: sum.volume + count * volume, grams: sum.grams + count * grams }
            })
        };
        let mut tables = Self {
            parts,
            visits,
            days,
            crews,
            slots,
            stops_max: parts.max_stops.min(STOPS_MAX),
            open_slots: (0..slots)
                .filter(|slot| longest_away(parts, slot % crews, slot / crews).0 > 0)
                .map(small)
                .collect(),
            place_cost,
            out_cost: parts.visits.iter().map(|visit| visit.skip.0 + dropped_cost(visit).0).collect(),
            out_cost_with_followers: Vec::new(),
            service: parts
                .visits
                .iter()
                .flat_map(|visit| parts.crews.iter().map(|crew| service_minutes(crew, visit).0))
                .collect(),
            service_least: Vec::new(),
            day_of: (0..slots).map(|slot| small(slot / crews)).collect(),
            crew_of: (0..slots).map(|slot| small(slot % crews)).collect(),
            roads,
            points,
            windows: parts.visits.iter().flat_map(|visit| (0..days).map(|day| window(visit.gate(day)))).collect(),
            needs: needs(parts),
            out_bulk: parts.visits.iter().map(|visit| bulk(&visit.needs, true)).collect(),
            home_bulk: parts.visits.iter().map(|visit| bulk(&visit.brings, false)).collect(),
            terms: parts.crews.iter().map(terms).collect(),
            away_max: (0..slots).map(|slot| longest_away(parts, slot % crews, slot / crews).0).collect(),
            trucks: parts.trucks.iter().map(|truck| Bulk { volume: truck.volume, grams: truck.payload.0 }).collect(),
            own_trucks: own_trucks(parts),
            cents_per_km: parts.cents_per_km.0,
            apart: vec![Vec::new(); visits],
            followers: vec![Vec::new(); visits],
            depth: vec![0; visits],
            units: vec![Vec::new(); visits],
            unit_of: Vec::new(),
            near: Vec::new(),
            any_ties: parts.visits.iter().any(|visit| visit.follows.is_some()),
        };
        tables.service_least =
            tables.service.chunks(crews.max(1)).map(|row| row.iter().copied().min().unwrap_or(0)).collect();
        tables.bind(parts);
        tables.find_neighbours();
        tables
    }

    fn bind(&mut self, parts: &RunParts) {
        for &(left, right) in &parts.apart {
            self.apart[left].push(small(right));
            self.apart[right].push(small(left));
        }
        let groups = groups(parts);
        for (visit, &first) in groups.iter().enumerate() {
            self.units[first].push(small(visit));
        }
        self.unit_of = groups.into_iter().map(small).collect();
        self.out_cost_with_followers = self.out_cost.clone();
        for (visit, due) in parts.visits.iter().enumerate() {
            let Some(tie) = due.follows else { continue };
            self.followers[tie.visit].push(small(visit));
            let mut at = tie.visit;
            loop {
                self.depth[visit] += 1;
                self.out_cost_with_followers[at] += self.out_cost[visit].max(0);
                match parts.visits[at].follows {
                    Some(tie) => at = tie.visit,
                    None => break,
                }
            }
        }
    }

    fn find_neighbours(&mut self) {
        self.near = (0..self.visits)
            .map(|visit| {
                let mut others: Vec<u16> = (0..self.visits).filter(|&other| other != visit).map(small).collect();
                others.sort_by_key(|&other| {
                    (self.road(visit, usize::from(other))[0] + self.road(usize::from(other), visit)[0], other)
                });
                others
            })
            .collect();
    }

    /// Minutes and metres between two points.
    pub(super) fn road(&self, from: usize, to: usize) -> [i32; 2] {
        self.roads[from * self.points + to]
    }

    /// Minutes between two points.
    pub(super) fn minutes(&self, from: usize, to: usize) -> i64 {
        i64::from(self.road(from, to)[0])
    }

    /// The day of a slot.
    pub(super) fn day_of(&self, slot: usize) -> usize {
        usize::from(self.day_of[slot])
    }

    /// The crew of a slot.
    pub(super) fn crew_of(&self, slot: usize) -> usize {
        usize::from(self.crew_of[slot])
    }

    /// The point of a crew's base.
    pub(super) fn base(&self, crew: usize) -> usize {
        self.visits + crew
    }

    pub(super) fn service(&self, visit: usize, crew: usize) -> i64 {
        self.service[visit * self.crews + crew]
    }

    pub(super) fn window(&self, visit: usize, day: usize) -> Window {
        self.windows[visit * self.days + day]
    }

    pub(super) fn place_cost(&self, visit: usize, slot: usize) -> i64 {
        self.place_cost[visit * self.slots + slot]
    }

    /// Pieces of a kind of gear that a visit takes out.
    pub(super) fn need(&self, visit: usize, gear: usize) -> i64 {
        self.needs[visit * self.parts.gear.len() + gear]
    }

    /// Whether a visit may go anywhere by itself: not bound to a run with another, tied to none before or after it.
    pub(super) fn is_free(&self, visit: usize) -> bool {
        self.units[visit].len() == 1 && self.followers[visit].is_empty() && self.depth[visit] == 0
    }

    /// Wages, overtime and road of a run that is `away` minutes and `metres` long.
    pub(super) fn run_cost(&self, terms: &Terms, away: i64, metres: i64) -> i64 {
        (self.run_price(terms, away, metres) + 500) / 1000
    }

    /// The same in thousandths of a cent, not yet rounded: cheaper to compare.
    pub(super) fn run_price(&self, terms: &Terms, away: i64, metres: i64) -> i64 {
        1000 * (terms.wage * away + terms.extra * (away - terms.shift).max(0)) + metres * self.cents_per_km
    }
}

fn needs(parts: &RunParts) -> Vec<i64> {
    let mut needs = vec![0; parts.visits.len() * parts.gear.len()];
    for (visit, due) in parts.visits.iter().enumerate() {
        for &(gear, count) in &due.needs {
            needs[visit * parts.gear.len() + gear] += count;
        }
    }
    needs
}

fn window(gate: Gate) -> Window {
    match gate {
        Gate::Open { from, to } => Window::Open(from.minutes().0, to.minutes().0),
        // A shut gate never gets this far: the slot is forbidden.
        Gate::Shut | Gate::AllDay => Window::AllDay,
    }
}

fn terms(crew: &crate::problem::Crew) -> Terms {
    Terms {
        leave: crew.earliest_leave.minutes().0,
        shift: crew.shift.0,
        wage: crew.wage_per_minute.0,
        extra: crew.overtime_extra_per_minute.0,
        lunch: crew.lunch.map_or(0, |rule| rule.length.0),
        lunch_within: crew.lunch.map_or(crate::gate::NEVER, |rule| rule.begin_within.0),
    }
}

fn own_trucks(parts: &RunParts) -> bool {
    let mut taken = vec![false; parts.trucks.len()];
    parts.crews.iter().all(|crew| match crew.trucks[..] {
        [only] => !std::mem::replace(&mut taken[only], true),
        _ => false,
    })
}
