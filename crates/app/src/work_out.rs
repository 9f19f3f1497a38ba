//! The morning worked out: seasons, due visits, gates, stock and the plan of the next days, in that order.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::ids::in_reading_order;
use outyard_base::{Cents, GearCode, Note, Trouble, YardId};
use outyard_runs::{Bill, Bound, Breach, Effort, Plan, RunProblem, bound_under, check_plan, cost, nearest_due_first};
use outyard_trade::jobbook::JobBook;

use crate::due::{
    ChoreInput, DueVisit, Followed, StackInput, YardToday, colony_rules, due_visits, follow, follow_ups, stacks,
};
use crate::ensemble::{Ahead, choose, fare, members_of};
use crate::plan::{GateDay, PlanInput, Planned, build_problem};
use crate::seasons::{Seasons, gate_day, gates_together, seasons};
use crate::situation::Situation;
use crate::told::{LaidDown, SinceTold, follow_on, hold_to, still_wanted};

/// Most runs listed for the floor under a plan: an outfit of some fifty yards has tens of thousands. Assumed.
const RUNS_LISTED_MAX: usize = 100_000;

/// What a morning is worked out with.
#[derive(Clone, Debug)]
pub struct WorkOrder {
    /// Days planned.
    pub days: usize,
    /// How long to look for a better plan.
    pub effort: Effort,
    /// Days on which nobody goes out.
    pub shut: Vec<Date>,
    /// Crews that stay home, and when.
    pub crews_out: Vec<(String, Date)>,
}

/// A morning worked out.
#[derive(Clone, Debug)]
pub struct Worked {
    /// The season of each yard.
    pub seasons: Seasons,
    /// How each yard stands.
    pub yards: BTreeMap<YardId, YardToday>,
    /// Colonies of each yard that fill alike, followed through the days ahead.
    pub stacks: BTreeMap<YardId, Vec<Followed>>,
    /// Visits due within the plan.
    pub due: Vec<DueVisit>,
    /// `gates[visit][day]`.
    pub gates: Vec<Vec<GateDay>>,
    /// The problem and its plan.
    pub planned: Planned,
    /// What the plan costs.
    pub bill: Bill,
    /// How the plan fares in the weather that may come; none without members.
    pub ahead: Option<Ahead>,
    /// What has come of the plan the crews were told; none when nothing of it lies ahead.
    pub told: Option<SinceTold>,
    /// What the usual rule of the trade would cost: to the nearest yard that is due, and on from there.
    pub rule_of_thumb: Bill,
    /// What is worth knowing.
    pub notes: Vec<Note>,
}

/// What a look at all yards finds.
#[derive(Clone, Debug)]
pub struct Found {
    /// The season of each yard.
    pub seasons: Seasons,
    /// How each yard stands.
    pub yards: BTreeMap<YardId, YardToday>,
    /// The colonies of each yard with an outlook, and what becomes of them.
    pub stacks: BTreeMap<YardId, Vec<Followed>>,
    /// Visits due.
    pub due: Vec<DueVisit>,
    /// What is worth knowing.
    pub notes: Vec<Note>,
}

/// The gear of the shed a kind of the job book is: a third, an empty box and a full box are all deeps of the shed.
pub fn shed_gear<'a>(jobs: &'a JobBook, code: &'a GearCode) -> &'a GearCode {
    jobs.gear.get(code).map_or(code, |gear| &gear.counts_as)
}

/// Seasons, yards and due visits of a morning.
///
/// # Errors
/// As [`seasons`]; `SET-007` when the way to put down is no job of the job book.
pub fn find_due(situation: &Situation, days: usize) -> Result<Found, Vec<Trouble>> {
    let put_down_by = &situation.settings.put_down_by;
    if !situation.jobs.jobs.contains_key(put_down_by) {
        return Err(vec![Trouble::new(
            "SET-007",
            format!("put_down_by names \"{put_down_by}\", which is no job of the job book"),
            "name one of the jobs `outyard jobs` lists, such as single-down-blow",
        )]);
    }
    let (seasons, notes) = seasons(situation, days)?;
    let (jobs, today) = (&situation.jobs, situation.today);
    let rules = colony_rules(jobs);
    let queens_missed = jobs.jobs.get(put_down_by).map_or(0.0, |job| job.fails.get());
    let mut kept: Vec<_> = situation.outfit.kept_yards().collect();
    kept.sort_by(|left, right| in_reading_order(left.0.as_str(), right.0.as_str()));
    let stand: Vec<YardToday> = kept.iter().map(|(id, yard)| situation.yard_today(id, yard)).collect();
    let with_outlook: Vec<_> = stand.iter().filter_map(|yard| Some((yard, &seasons.get(&yard.yard)?.season))).collect();
    let stacked = with_outlook
        .iter()
        .map(|(yard, season)| {
            let deeps = situation.deeps_on_hives(yard);
            let input = StackInput { yard, season, today, days, jobs, queens_missed, deeps, rules: &rules };
            (*season, stacks(&input))
        })
        .collect();
    let followed = follow(stacked, jobs, &rules, days);
    let mut due = Vec::new();
    for ((yard, season), stacks) in with_outlook.iter().zip(&followed) {
        let input = ChoreInput { jobs, yard, season, stacks, rules: &rules, today, days, put_down_by };
        let of_yard = due_visits(&input);
        let more = follow_ups(&input, &of_yard, due.len());
        due.extend(of_yard);
        due.extend(more);
    }
    let stacks = with_outlook.iter().zip(followed).map(|((yard, _), stacks)| (yard.yard.clone(), stacks)).collect();
    let yards = stand.into_iter().map(|yard| (yard.yard.clone(), yard)).collect();
    Ok(Found { seasons, yards, stacks, due, notes })
}

/// Gates of every visit on every day, each job's gate worked out once for each yard.
pub fn gates_of(situation: &Situation, seasons: &Seasons, due: &[DueVisit], days: usize) -> Vec<Vec<GateDay>> {
    let mut known: BTreeMap<(YardId, String), Vec<GateDay>> = BTreeMap::new();
    due.iter()
        .map(|visit| {
            let mut of_jobs: Vec<Vec<GateDay>> = Vec::new();
            for chore in &visit.chores {
                let Some(job) = situation.jobs.jobs.get(&chore.job) else { continue };
                let days_of = known.entry((visit.yard.clone(), job.gate.clone())).or_insert_with(|| {
                    let gate = situation.jobs.gate_of(job);
                    let ahead = &seasons[&visit.yard];
                    (0..days).map(|day| gate_day(situation, ahead, gate, day)).collect()
                });
                of_jobs.push(days_of.clone());
            }
            (0..days)
                .map(|day| gates_together(&of_jobs.iter().map(|days| days[day].clone()).collect::<Vec<_>>()))
                .collect()
        })
        .collect()
}

/// Gear that can have gone out by each day: what is ready this morning. Gear the book never counted is left out, and
/// so counts as plenty; a note says so.
pub fn stock_of(situation: &Situation, due: &[DueVisit], days: usize) -> (BTreeMap<GearCode, Vec<i64>>, Vec<Note>) {
    let mut stock = BTreeMap::new();
    let mut notes = Vec::new();
    let wanted = due.iter().flat_map(|visit| visit.gear_out.in_yards.keys());
    for gear in wanted.map(|gear| shed_gear(&situation.jobs, gear).clone()) {
        if stock.contains_key(&gear) {
            continue;
        }
        if situation.gear_is_kept(&gear) {
            let ready = situation.ready_to_go(&gear).max(0);
            stock.insert(gear, vec![ready; days]);
        } else if !notes.iter().any(|note: &Note| note.text.contains(&format!("no {gear} "))) {
            notes.push(Note::new(
                "GER-101",
                format!("no {gear} was ever counted, so the plan takes it that there are enough; count the shed once"),
            ));
        }
    }
    (stock, notes)
}

/// Works a morning out.
///
/// # Errors
/// As [`find_due`] and [`build_problem`]; `PLN-001` when the independent checker finds a breach in the plan, which is a fault of
/// the program.
pub fn work_out(situation: &Situation, order: &WorkOrder, stop: &dyn Fn() -> bool) -> Result<Worked, Vec<Trouble>> {
    let Found { seasons, yards, stacks, due, mut notes } = find_due(situation, order.days)?;
    let gates = gates_of(situation, &seasons, &due, order.days);
    let (stock, more) = stock_of(situation, &due, order.days);
    notes.extend(more);
    let mut planned = unplanned(situation, order, &due, &gates, &stock)?;
    let problem = &planned.problem;
    let members = members_of(situation, &seasons, &due, problem);
    let followed = follow_on(situation, &due, problem, order.effort, stop);
    let (plan, ahead, told) = if let Some((plan, told)) = followed {
        let (plan, ahead) = fare(&members, problem, plan);
        (plan, ahead, Some(told))
    } else {
        let seed = situation.settings.outlook.seed;
        let (plan, ahead) = choose(&members, problem, &gates, &order.effort, seed, stop);
        (plan, ahead, None)
    };
    planned.plan = plan;
    checked(&planned)?;
    let bill = cost(&planned.problem, &planned.plan).unwrap_or_default();
    let rule_of_thumb = cost(&planned.problem, &nearest_due_first(&planned.problem)).unwrap_or_default();
    let mut all = situation.notes.clone();
    all.extend(notes);
    Ok(Worked { seasons, yards, stacks, due, gates, planned, bill, ahead, told, rule_of_thumb, notes: all })
}

/// Builds the problem of a morning without planning it.
///
/// # Errors
/// As [`work_out`].
pub fn problem_of(situation: &Situation, order: &WorkOrder, worked: &Worked) -> Result<Planned, Vec<Trouble>> {
    let (stock, _) = stock_of(situation, &worked.due, order.days);
    unplanned(situation, order, &worked.due, &worked.gates, &stock)
}

/// The problem with no plan yet, and with what the owner laid down when he told the crews.
fn unplanned(
    situation: &Situation,
    order: &WorkOrder,
    due: &[DueVisit],
    gates: &[Vec<GateDay>],
    stock: &BTreeMap<GearCode, Vec<i64>>,
) -> Result<Planned, Vec<Trouble>> {
    let places = situation.places();
    let laid = LaidDown::with(situation, &order.shut, &order.crews_out);
    let (mut problem, gear, roads) = build_problem(&PlanInput {
        settings: &situation.settings,
        jobs: &situation.jobs,
        drives: &situation.drives,
        roads: &situation.roads,
        places: &places,
        due,
        gates,
        stock,
        today: situation.today,
        days: order.days,
        shut: &laid.shut,
        crews_out: &laid.crews_out,
    })?;
    let wanted = still_wanted(situation, due, order.days);
    if !wanted.is_empty() {
        let mut parts = problem.into_parts();
        for (visit, day, crew) in wanted {
            hold_to(&mut parts, visit, day, crew);
        }
        problem = RunProblem::new(parts)?;
    }
    Ok(Planned { problem, gear, roads, plan: Plan::default() })
}

/// Holds a plan against the checker, which shares no code with the planner.
///
/// # Errors
/// `PLN-001`.
pub fn checked(planned: &Planned) -> Result<(), Vec<Trouble>> {
    let breaches: Vec<Breach> = check_plan(&planned.problem, &planned.plan);
    match breaches.first() {
        None => Ok(()),
        Some(breach) => Err(vec![Trouble::new(
            "PLN-001",
            format!("the plan breaks a rule of its own: {breach:?}"),
            "this is a fault of the program; report it with `outyard book out` and outfit.toml",
        )]),
    }
}

/// The floor under every plan of this morning, with at most so much work on the prices behind it: some hundred million in a third of a second.
pub fn floor_of(worked: &Worked, work_max: u64) -> Bound {
    bound_under(&worked.planned.problem, &worked.planned.plan, RUNS_LISTED_MAX, work_max, &|| false)
}

/// Money lost by waiting, over the whole plan, for the head of a page.
pub fn waiting_money(bill: &Bill) -> Cents {
    bill.waiting + bill.skip
}
