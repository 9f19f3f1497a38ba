//! Small random problems that use every rule. All names, places and figures are invented.

#![expect(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use outyard_base::{Cents, Chance, ClockTime, CrewId, GearCode, Grams, Minutes, TruckId, YardId};
use outyard_runs::{Crew, Day, Follows, Gate, Gear, Lunch, Roads, RunParts, RunProblem, Told, Truck, Visit};

/// Which rules a random problem may use.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spice {
    /// Gates, lunch, loads brought home, ties, groups, told visits and odd crews as well.
    pub(crate) all_rules: bool,
    /// Most visits.
    pub(crate) visits_max: u64,
}

fn up_to(chance: &mut Chance, most: u64) -> usize {
    usize::try_from(chance.below(most + 1)).unwrap()
}

fn whole(chance: &mut Chance, low: i64, high: i64) -> i64 {
    low + i64::try_from(chance.below(u64::try_from(high - low + 1).unwrap())).unwrap()
}

/// The parts of a random problem.
pub(crate) fn parts(seed: u64, spice: Spice) -> RunParts {
    let mut chance = Chance::new(seed, "random run problem");
    let chance = &mut chance;
    let days = 2 + up_to(chance, 6);
    let crews = 1 + up_to(chance, 2);
    let count = 2 + up_to(chance, spice.visits_max - 2);
    let bases = if spice.all_rules { 2 } else { 1 };
    let trucks = crews + usize::from(spice.all_rules && chance.happens(0.3));
    let roads = roads(chance, bases + count, spice.all_rules);
    let gear = (0..2)
        .map(|kind| {
            let mut stock = whole(chance, 20, 80);
            Gear {
                code: GearCode::new(["box", "excluder"][kind]).unwrap(),
                out_volume: [10, 1][kind],
                out_grams: Grams([9_000, 1_500][kind]),
                home_volume: [10, 1][kind],
                home_grams: Grams([37_000, 1_500][kind]),
                stock: (0..days)
                    .map(|_| {
                        stock += if chance.happens(0.3) { whole(chance, 0, 60) } else { 0 };
                        stock
                    })
                    .collect(),
            }
        })
        .collect();
    let shared_trucks = spice.all_rules && chance.happens(0.4);
    let crew = |chance: &mut Chance, index: usize| Crew {
        id: CrewId::new(&format!("crew {index}")).unwrap(),
        hands: 1 + u32::try_from(up_to(chance, 3)).unwrap(),
        pace_permille: if spice.all_rules { 700 + 100 * u32::try_from(up_to(chance, 8)).unwrap() } else { 1000 },
        base: if spice.all_rules { index % bases } else { 0 },
        earliest_leave: ClockTime::at(5 + whole(chance, 0, 3), 0),
        shift: Minutes(480),
        shift_max: Minutes(whole(chance, 500, 720)),
        wage_per_minute: Cents(whole(chance, 40, 120)),
        overtime_extra_per_minute: Cents(whole(chance, 0, 60)),
        days_off: if spice.all_rules && chance.happens(0.3) { vec![chance.index(days)] } else { Vec::new() },
        lunch: (spice.all_rules && chance.happens(0.6))
            .then(|| Lunch { length: Minutes(30), begin_within: Minutes(whole(chance, 150, 380)) }),
        trucks: if shared_trucks { (0..trucks).collect() } else { vec![index] },
    };
    let crews: Vec<Crew> = (0..crews).map(|index| crew(chance, index)).collect();
    let visits = (0..count).map(|index| visit(chance, index, bases, days, crews.len(), spice)).collect();
    let mut parts = RunParts {
        days: (0..days)
            .map(|_| match chance.below(8) {
                0 => Day::SHUT,
                1 if spice.all_rules => Day { usable_permille: 700 },
                _ => Day::WHOLE,
            })
            .collect(),
        roads,
        gear,
        trucks: (0..trucks)
            .map(|index| Truck {
                id: TruckId::new(&format!("truck {index}")).unwrap(),
                volume: whole(chance, 400, 1200),
                payload: Grams(whole(chance, 800_000, 2_300_000)),
            })
            .collect(),
        crews,
        visits,
        max_stops: 2 + up_to(chance, 4),
        cents_per_km: Cents(whole(chance, 50, 151)),
        together: Vec::new(),
        apart: Vec::new(),
    };
    if spice.all_rules {
        ties(chance, &mut parts);
    }
    parts
}

fn roads(chance: &mut Chance, nodes: usize, crooked: bool) -> Roads {
    let places: Vec<(f64, f64)> = (0..nodes).map(|_| (chance.between(0.0, 60.0), chance.between(0.0, 60.0))).collect();
    let mut roads = Roads { nodes, ..Roads::default() };
    for from in 0..nodes {
        for to in 0..nodes {
            let km = (places[from].0 - places[to].0).hypot(places[from].1 - places[to].1) * 1.3;
            // One-way detours now and then, so that roads are not always symmetric nor short cuts impossible.
            let detour = if crooked && from != to && chance.happens(0.2) { 1.4 } else { 1.0 };
            roads.minutes.push(Minutes::ceil_of(km * detour).0);
            #[expect(clippy::cast_possible_truncation, reason = "metres of a short road")]
            roads.metres.push((km * 1000.0).round() as i64);
        }
    }
    roads
}

fn visit(chance: &mut Chance, index: usize, bases: usize, days: usize, crews: usize, spice: Spice) -> Visit {
    let yard = YardId::new(&format!("{}", index + 1)).unwrap();
    let minutes = Minutes(whole(chance, 30, 260));
    let skip = Cents(whole(chance, 0, 300_000));
    let mut visit = Visit::plain(yard, "invented job", bases + index, minutes, skip, days);
    visit.earliest_day = up_to(chance, 2);
    let due = whole(chance, 0, 6);
    let slope = whole(chance, 0, 20_000);
    visit.waiting = (0..days).map(|day| Cents((i64::try_from(day).unwrap() - due).max(0) * slope)).collect();
    visit.needs = vec![(0, whole(chance, 0, 40)), (1, whole(chance, 0, 30))];
    if !spice.all_rules {
        return visit;
    }
    if chance.happens(0.3) {
        visit.needs.clear();
        visit.brings = vec![(0, whole(chance, 0, 40))];
    }
    if chance.happens(0.5) {
        visit.gates = (0..days)
            .map(|_| match chance.below(5) {
                0 => Gate::Shut,
                1 => Gate::AllDay,
                _ => {
                    let from = ClockTime::at(whole(chance, 6, 11), whole(chance, 0, 59));
                    Gate::Open { from, to: from + Minutes(whole(chance, 0, 600)) }
                }
            })
            .collect();
    }
    if chance.happens(0.2) {
        visit.crews = Some((0..crews).filter(|_| chance.happens(0.6)).collect());
    }
    visit.setup_minutes = Minutes(if chance.happens(0.5) { whole(chance, 0, 40) } else { 0 });
    visit.hands_min = if chance.happens(0.2) { 2 } else { 1 };
    if chance.happens(0.3) {
        visit.told = Some(Told {
            day: chance.index(days),
            crew: chance.index(crews),
            day_change: Cents(whole(chance, 0, 20_000)),
            crew_change: Cents(whole(chance, 0, 5_000)),
        });
    }
    visit
}

fn ties(chance: &mut Chance, parts: &mut RunParts) {
    let count = parts.visits.len();
    for visit in 1..count {
        if chance.happens(0.15) {
            let days_min = u32::try_from(up_to(chance, 2)).unwrap();
            let days_max = days_min + u32::try_from(up_to(chance, 3)).unwrap();
            parts.visits[visit].follows = Some(Follows { visit: chance.index(visit), days_min, days_max });
        }
    }
    for _ in 0..up_to(chance, 2) {
        let pair = (chance.index(count), chance.index(count));
        if pair.0 != pair.1 {
            if chance.happens(0.5) { parts.together.push(pair) } else { parts.apart.push(pair) }
        }
    }
    // A pair bound both ways is refused when the problem is built; keep the binding.
    while RunProblem::new(parts.clone()).is_err() && parts.apart.pop().is_some() {}
}

/// A random problem.
pub(crate) fn problem(seed: u64, spice: Spice) -> RunProblem {
    RunProblem::new(parts(seed, spice)).unwrap_or_else(|troubles| panic!("seed {seed}: {troubles:?}"))
}
