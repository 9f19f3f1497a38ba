//! The run problem: everything a plan may depend on, checked once when it is built and never changed after.
//!
//! All quantities are whole numbers (minutes, metres, grams, cents, counts), so equal plans compare equal on every machine.
//! Days are counted from 0, the first day of the plan; visits, crews, trucks and kinds of gear by their place in their list.

use outyard_base::{Cents, ClockTime, CrewId, GearCode, Grams, Minutes, Trouble, TruckId, YardId};

/// Most days a plan may span.
pub const DAYS_MAX: usize = 28;
/// Most crews and most trucks a plan may know.
pub const CREWS_MAX: usize = 64;
/// Most stops a run may be allowed: the exact order of a run is found by dynamic programming over its stops.
pub const STOPS_MAX: usize = 12;
/// Largest amount of money accepted for one item, in cents: sums over a whole plan then stay far inside 64 bits.
pub const CENTS_MAX: i64 = 1_000_000_000_000;
/// Largest count, number of volume units, metres, grams or minutes accepted for one item.
pub const COUNT_MAX: i64 = 1_000_000_000;

/// Everything a plan may depend on, before it is checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunParts {
    /// The days of the plan, 1 to [`DAYS_MAX`].
    pub days: Vec<Day>,
    /// Minutes and metres between nodes.
    pub roads: Roads,
    /// Kinds of gear that are short enough to count.
    pub gear: Vec<Gear>,
    /// The trucks.
    pub trucks: Vec<Truck>,
    /// The crews; each makes at most one run a day.
    pub crews: Vec<Crew>,
    /// The visits that are due.
    pub visits: Vec<Visit>,
    /// Most stops on one run, 1 to [`STOPS_MAX`].
    pub max_stops: usize,
    /// What a kilometre costs.
    pub cents_per_km: Cents,
    /// Pairs of visits that must share a run: either both stand on it or both are left out.
    pub together: Vec<(usize, usize)>,
    /// Pairs of visits that must not share a run.
    pub apart: Vec<(usize, usize)>,
}

/// One day of the plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Day {
    /// Expected share of the day in which work is possible, in thousandths; 0 shuts the day. No run of the day may last longer
    /// than this share of the crew's longest shift.
    pub usable_permille: u32,
}

impl Day {
    /// A day on which nothing hinders work.
    pub const WHOLE: Self = Self { usable_permille: 1000 };
    /// A day on which no work is possible.
    pub const SHUT: Self = Self { usable_permille: 0 };
}

/// Minutes and metres from every node to every other, row by row. Need not be symmetric.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Roads {
    /// Number of nodes (home bases and yards).
    pub nodes: usize,
    /// `minutes[from * nodes + to]`, driving time.
    pub minutes: Vec<i64>,
    /// `metres[from * nodes + to]`, length of the road driven.
    pub metres: Vec<i64>,
}

/// A kind of gear.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gear {
    /// The outfit's own name for it.
    pub code: GearCode,
    /// Room one takes on the way out, in volume units of the truck.
    pub out_volume: i64,
    /// Mass of one on the way out (an empty box).
    pub out_grams: Grams,
    /// Room one takes on the way home.
    pub home_volume: i64,
    /// Mass of one on the way home (a full box).
    pub home_grams: Grams,
    /// `stock[day]`: how many can have been taken out from the first day up to and including this one (what is in the shed, plus
    /// what is delivered or comes back by that morning).
    pub stock: Vec<i64>,
}

/// A truck; it goes out with at most one crew a day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Truck {
    /// The outfit's own name for it.
    pub id: TruckId,
    /// Room on the deck, in volume units.
    pub volume: i64,
    /// Payload.
    pub payload: Grams,
}

/// A crew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Crew {
    /// The outfit's own name for it.
    pub id: CrewId,
    /// People in it.
    pub hands: u32,
    /// Work done in a minute against a pair of two, in thousandths: a pair 1000. Service minutes are pair-minutes divided by this,
    /// rounded up.
    pub pace_permille: u32,
    /// Node from which it leaves and to which it comes home.
    pub base: usize,
    /// Earliest leaving time.
    pub earliest_leave: ClockTime,
    /// Paid minutes of a shift, home to home, before overtime begins.
    pub shift: Minutes,
    /// Longest time away, home to home.
    pub shift_max: Minutes,
    /// Wages of the whole crew, a minute.
    pub wage_per_minute: Cents,
    /// What a minute of overtime costs on top of the wage.
    pub overtime_extra_per_minute: Cents,
    /// Days on which the crew does not work.
    pub days_off: Vec<usize>,
    /// The lunch rule, if any.
    pub lunch: Option<Lunch>,
    /// Trucks the crew may take.
    pub trucks: Vec<usize>,
}

/// The lunch rule of a crew. Lunch is taken once, on leaving a yard and as late as the rule lets (on reaching the first yard only when the work
/// there would end too late for it); a run that is home within `begin_within` owes none. Lunch is paid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lunch {
    /// Length of the break.
    pub length: Minutes,
    /// Lunch begins no later than this long after leaving home.
    pub begin_within: Minutes,
}

/// The weather gate of a visit on one day: when the job can be done there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gate {
    /// Not on this day.
    Shut,
    /// Work starts no earlier than `from` and ends no later than `to`.
    Open {
        /// Opening time.
        from: ClockTime,
        /// Closing time.
        to: ClockTime,
    },
    /// At any time.
    AllDay,
}

/// A second visit is tied to the first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Follows {
    /// The first visit.
    pub visit: usize,
    /// Fewest days between.
    pub days_min: u32,
    /// Most days between.
    pub days_max: u32,
}

/// What the crew has already been told about a visit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Told {
    /// The day told.
    pub day: usize,
    /// The crew told.
    pub crew: usize,
    /// Charged when the plan moves the visit to another day or leaves it out.
    pub day_change: Cents,
    /// Charged when the plan keeps the day but sends another crew.
    pub crew_change: Cents,
}

/// A visit that is due.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Visit {
    /// The yard.
    pub yard: YardId,
    /// What is done there, in a few words.
    pub what: String,
    /// The yard's node in the roads.
    pub node: usize,
    /// Minutes there that no hand more makes shorter (gate, smoke, packing), on top of the work of the pair; often 0.
    pub setup_minutes: Minutes,
    /// Work of a pair, in minutes: a crew takes that divided by its pace.
    pub pair_minutes: Minutes,
    /// First day on which it may be done.
    pub earliest_day: usize,
    /// `waiting[day]`: money lost when it is done on that day.
    pub waiting: Vec<Cents>,
    /// Money lost when it is left out of the plan altogether.
    pub skip: Cents,
    /// Gear taken out: kind and count.
    pub needs: Vec<(usize, i64)>,
    /// Gear brought home: kind and count.
    pub brings: Vec<(usize, i64)>,
    /// `gates[day]`; an empty list means all day on every day.
    pub gates: Vec<Gate>,
    /// Crews that may do it; `None` for all.
    pub crews: Option<Vec<usize>>,
    /// Fewest people it takes.
    pub hands_min: u32,
    /// The first visit it is tied to.
    pub follows: Option<Follows>,
    /// What was already told.
    pub told: Option<Told>,
}

impl Visit {
    /// A visit with no waiting cost, no gear, no gate and no ties: the rest is filled in by the caller.
    pub fn plain(yard: YardId, what: &str, node: usize, pair_minutes: Minutes, skip: Cents, days: usize) -> Self {
        Self {
            yard,
            what: what.to_owned(),
            node,
            setup_minutes: Minutes(0),
            pair_minutes,
            earliest_day: 0,
            waiting: vec![Cents::ZERO; days],
            skip,
            needs: Vec::new(),
            brings: Vec::new(),
            gates: Vec::new(),
            crews: None,
            hands_min: 1,
            follows: None,
            told: None,
        }
    }

    /// The gate of a day.
    pub fn gate(&self, day: usize) -> Gate {
        self.gates.get(day).copied().unwrap_or(Gate::AllDay)
    }
}

/// A checked run problem.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunProblem {
    parts: RunParts,
}

impl RunProblem {
    /// Checks the parts and keeps them.
    ///
    /// # Errors
    /// Every `RUN-0xx` trouble found (see `docs/errors/runs.md`), not only the first.
    pub fn new(parts: RunParts) -> Result<Self, Vec<Trouble>> {
        let troubles = faults(&parts);
        if troubles.is_empty() { Ok(Self { parts }) } else { Err(troubles) }
    }

    /// The parts as they were checked.
    pub fn parts(&self) -> &RunParts {
        &self.parts
    }

    /// Gives the parts back, to change them and build another problem.
    pub fn into_parts(self) -> RunParts {
        self.parts
    }

    /// Number of days.
    pub fn day_count(&self) -> usize {
        self.parts.days.len()
    }

    /// Number of visits.
    pub fn visit_count(&self) -> usize {
        self.parts.visits.len()
    }

    /// Whether a crew can go out on a day at all.
    pub fn crew_works(&self, crew: usize, day: usize) -> bool {
        crate::shift::longest_away(&self.parts, crew, day) > Minutes(0)
    }

    /// Whether a crew may do a visit on a day, as far as the visit itself says: day not shut, gate not shut, earliest day reached,
    /// crew allowed and large enough.
    pub fn may_do(&self, visit: usize, crew: usize, day: usize) -> bool {
        let due = &self.parts.visits[visit];
        due.earliest_day <= day
            && due.gate(day) != Gate::Shut
            && due.crews.as_ref().is_none_or(|allowed| allowed.contains(&crew))
            && due.hands_min <= self.parts.crews[crew].hands
            && self.crew_works(crew, day)
    }
}

/// Collects troubles with one call a line.
struct Faults(Vec<Trouble>);

impl Faults {
    fn check(&mut self, sound: bool, code: &'static str, cause: impl FnOnce() -> String, remedy: &str) {
        if !sound {
            self.0.push(Trouble::new(code, cause(), remedy));
        }
    }
}

fn faults(parts: &RunParts) -> Vec<Trouble> {
    let mut faults = Faults(Vec::new());
    let days = parts.days.len();
    faults.check(
        (1..=DAYS_MAX).contains(&days),
        "RUN-001",
        || format!("the plan spans {days} days"),
        "plan for 1 to 28 days at a time",
    );
    for (day, kind) in parts.days.iter().enumerate() {
        faults.check(
            kind.usable_permille <= 1000,
            "RUN-002",
            || format!("day {day} is said to be {} thousandths usable", kind.usable_permille),
            "give the usable share of a day as 0 to 1000 thousandths",
        );
    }
    road_faults(parts, &mut faults);
    gear_faults(parts, &mut faults);
    crew_faults(parts, &mut faults);
    faults.check(
        (1..=STOPS_MAX).contains(&parts.max_stops),
        "RUN-007",
        || format!("a run may have {} stops", parts.max_stops),
        "allow 1 to 12 stops on a run",
    );
    faults.check(
        (0..=CENTS_MAX).contains(&parts.cents_per_km.0),
        "RUN-008",
        || format!("a kilometre costs {}", parts.cents_per_km),
        "give what a kilometre costs as 0 or more",
    );
    for (index, visit) in parts.visits.iter().enumerate() {
        visit_faults(parts, index, visit, &mut faults);
    }
    for (what, pairs) in [("share", &parts.together), ("not share", &parts.apart)] {
        for &(left, right) in pairs {
            faults.check(
                left != right && left < parts.visits.len() && right < parts.visits.len(),
                "RUN-014",
                || format!("visits {left} and {right} are to {what} a run"),
                "name two different visits of the plan",
            );
        }
    }
    if faults.0.is_empty() {
        tie_faults(parts, &mut faults);
    }
    faults.0
}

fn road_faults(parts: &RunParts, faults: &mut Faults) {
    let roads = &parts.roads;
    let cells = roads.nodes.saturating_mul(roads.nodes);
    faults.check(
        roads.minutes.len() == cells && roads.metres.len() == cells,
        "RUN-003",
        || format!("{} nodes with {} times and {} lengths", roads.nodes, roads.minutes.len(), roads.metres.len()),
        "give one time and one length from every node to every other",
    );
    let odd = |value: &&i64| !(0..=COUNT_MAX).contains(*value);
    let bad = roads.minutes.iter().chain(&roads.metres).find(odd);
    faults.check(
        bad.is_none(),
        "RUN-004",
        || format!("a road of {} minutes or metres", bad.unwrap_or(&0)),
        "give times and lengths as 0 or more",
    );
}

fn gear_faults(parts: &RunParts, faults: &mut Faults) {
    for gear in &parts.gear {
        let sizes = [gear.out_volume, gear.out_grams.0, gear.home_volume, gear.home_grams.0];
        faults.check(
            gear.stock.len() == parts.days.len(),
            "RUN-005",
            || format!("{} has stock for {} of {} days", gear.code, gear.stock.len(), parts.days.len()),
            "give the stock of every day, added up from the first",
        );
        let counts = sizes.iter().chain(&gear.stock);
        faults.check(
            counts.clone().all(|count| (0..=COUNT_MAX).contains(count)),
            "RUN-006",
            || format!("{} has a size, mass or stock below 0 or past a thousand million", gear.code),
            "give volume, mass and stock as 0 or more",
        );
    }
    for truck in &parts.trucks {
        faults.check(
            (0..=COUNT_MAX).contains(&truck.volume) && (0..=COUNT_MAX).contains(&truck.payload.0),
            "RUN-006",
            || format!("truck {} holds {} units and {} g", truck.id, truck.volume, truck.payload.0),
            "give volume and payload as 0 or more",
        );
    }
    faults.check(
        parts.trucks.len() <= CREWS_MAX && parts.crews.len() <= CREWS_MAX,
        "RUN-009",
        || format!("{} crews and {} trucks", parts.crews.len(), parts.trucks.len()),
        "plan for at most 64 crews and 64 trucks at a time",
    );
}

fn crew_faults(parts: &RunParts, faults: &mut Faults) {
    for crew in &parts.crews {
        faults.check(
            crew.base < parts.roads.nodes
                && crew.trucks.iter().all(|&truck| truck < parts.trucks.len())
                && crew.days_off.iter().all(|&day| day < parts.days.len()),
            "RUN-010",
            || format!("crew {} names a base, truck or day off that is not there", crew.id),
            "name only nodes, trucks and days of this plan",
        );
        let lunch = crew.lunch.unwrap_or(Lunch { length: Minutes(0), begin_within: Minutes(0) });
        let spans = [crew.shift, crew.shift_max, crew.earliest_leave.minutes(), lunch.length, lunch.begin_within];
        faults.check(
            spans.iter().all(|span| (0..=2880).contains(&span.0)) && crew.shift <= crew.shift_max,
            "RUN-011",
            || format!("crew {}: shift {}, longest {}", crew.id, crew.shift, crew.shift_max),
            "give times of 0 to 48 hours, the longest time away not below the shift",
        );
        faults.check(
            (1..=100_000).contains(&crew.pace_permille) && crew.hands >= 1,
            "RUN-012",
            || format!("crew {} has {} hands and pace {}", crew.id, crew.hands, crew.pace_permille),
            "give at least one hand and a pace of 1 to 100000 thousandths of a pair",
        );
        faults.check(
            (0..=CENTS_MAX).contains(&crew.wage_per_minute.0)
                && (0..=CENTS_MAX).contains(&crew.overtime_extra_per_minute.0),
            "RUN-008",
            || format!("crew {} costs {} a minute", crew.id, crew.wage_per_minute),
            "give wages as 0 or more",
        );
    }
}

fn visit_faults(parts: &RunParts, index: usize, visit: &Visit, faults: &mut Faults) {
    let days = parts.days.len();
    let name = || format!("visit {index} (yard {}, {})", visit.yard, visit.what);
    faults.check(
        visit.node < parts.roads.nodes
            && visit.crews.iter().flatten().all(|&crew| crew < parts.crews.len())
            && visit.needs.iter().chain(&visit.brings).all(|&(gear, _)| gear < parts.gear.len())
            && visit.told.is_none_or(|told| told.day < days && told.crew < parts.crews.len()),
        "RUN-010",
        || format!("{} names a node, crew, day or kind of gear that is not there", name()),
        "name only what this plan knows",
    );
    let gear = visit.needs.iter().chain(&visit.brings);
    faults.check(
        (0..=2880).contains(&visit.pair_minutes.0)
            && (0..=2880).contains(&visit.setup_minutes.0)
            && gear.clone().all(|(_, count)| (0..=1_000_000).contains(count))
            && visit.earliest_day <= DAYS_MAX,
        "RUN-013",
        || format!("{} has minutes, counts or an earliest day out of range", name()),
        "give 0 to 48 hours, 0 to a million of each kind and an earliest day of the plan",
    );
    let money = visit
        .waiting
        .iter()
        .chain([&visit.skip])
        .chain(visit.told.iter().flat_map(|told| [&told.day_change, &told.crew_change]));
    faults.check(
        money.clone().all(|cents| cents.0.abs() <= CENTS_MAX),
        "RUN-008",
        || format!("{} has a cost past ten thousand million", name()),
        "give waiting, leaving-out and change costs in cents",
    );
    faults.check(
        visit.waiting.len() == days && (visit.gates.is_empty() || visit.gates.len() == days),
        "RUN-005",
        || {
            format!(
                "{} has {} waiting costs and {} gates for {days} days",
                name(),
                visit.waiting.len(),
                visit.gates.len()
            )
        },
        "give one waiting cost for every day, and one gate for every day or none at all",
    );
    for gate in &visit.gates {
        if let Gate::Open { from, to } = gate {
            faults.check(
                (0..=2880).contains(&from.minutes().0) && (0..=2880).contains(&to.minutes().0) && from <= to,
                "RUN-015",
                || format!("{} has a gate from {from} to {to}", name()),
                "a gate closes no earlier than it opens; shut the day instead if it never opens",
            );
        }
    }
    if let Some(tie) = visit.follows {
        faults.check(
            tie.visit < parts.visits.len() && tie.visit != index && tie.days_min <= tie.days_max,
            "RUN-016",
            || format!("{} follows visit {} by {} to {} days", name(), tie.visit, tie.days_min, tie.days_max),
            "let it follow another visit of the plan, with no fewer days at most than at least",
        );
    }
}

/// Ties that chase their own tail, or pairs both bound together and kept apart.
fn tie_faults(parts: &RunParts, faults: &mut Faults) {
    for start in 0..parts.visits.len() {
        let mut at = start;
        let mut steps = 0;
        while let Some(tie) = parts.visits[at].follows {
            at = tie.visit;
            steps += 1;
            if steps > parts.visits.len() {
                break;
            }
        }
        faults.check(
            steps <= parts.visits.len(),
            "RUN-016",
            || format!("visit {start} follows itself in a circle"),
            "break the circle: one visit must come first",
        );
    }
    let groups = crate::groups::groups(parts);
    for &(left, right) in &parts.apart {
        faults.check(
            groups[left] != groups[right],
            "RUN-014",
            || format!("visits {left} and {right} are bound to one run and kept apart"),
            "drop one of the two rules",
        );
    }
}
