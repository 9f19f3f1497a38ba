//! The planner: ruin and recreate with annealing.
//!
//! Each try takes some visits out of the plan, puts them back (and whatever else was left out) at their cheapest places, and keeps the
//! result when it is cheaper or a cooling chance says so (Schrimpf et al. 2000; the ruin by strings of neighbours and the recreation with
//! blinks are those of Christiaens & Vanden Berghe 2020). A third of the tries are a hundred small steps instead. Work is counted in tries, never in time, and every draw comes from one named
//! stream, so the same problem, effort, seed and start give the same plan on every machine.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | c̄ | `visits_mean` | visits taken out on average by strings | visits | 8 | assumed, tuned on the bench; the paper has 10 |
//! | L max | `string_max` | longest string | visits | 10 | [SISR2020, section 6] |
//! | β | `blink` | chance that a place is not looked at | - | over all places of a visit 0.01 + 1/visits, 0.5 with ties | assumed, tuned on the bench; the paper has 0.01 for each place |
//! | T0, Tf | `heat_first`, `heat_last` | temperature at the first and last try | cents | 0.25 of the start's cost for each visit, 0.04 of that | assumed, tuned on the bench |
//! | - | `pass_over` | chance that a visit is left out for a try | - | 0.2 over all visits | assumed, tuned on the bench |
//! | - | `stepping` | share of tries that are a hundred small steps instead | - | 0.35 and 0.0002 for each visit, 0.75 at most | assumed, tuned on the bench |
//! | - | `regret` | share of tries that put back by regret | - | 0.5 | assumed, tuned on the bench |
//! | - | `old_out_max` | visits out before the try that are tried in it, nearest first | visits | 8 | assumed, tuned on the bench |

mod order;
mod recreate;
mod ruin;
mod state;
mod steps;
mod stock_charge;
mod tables;

use outyard_base::Chance;

use self::recreate::{Manner, Scratch, recreate};
use self::ruin::{Strength, ruin};
use self::state::{SlotRun, State};
use self::stock_charge::StockCharge;
use self::tables::{OUT, Tables};
use crate::draft::repaired;
use crate::plan::{Plan, Run};
use crate::problem::RunProblem;
use crate::rule_of_thumb::nearest_due_first;

/// How much work the planner may do. Work is counted, not timed, so the same effort and seed give the same plan everywhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Effort {
    /// How often visits are taken out of the plan and put back.
    pub tries: u64,
}

impl Effort {
    /// For a first answer while somebody waits.
    pub const QUICK: Self = Self { tries: 10_000 };
    /// For the plan of the morning.
    pub const GOOD: Self = Self { tries: 30_000 };
    /// For comparing plans, when minutes do not matter.
    pub const LONG: Self = Self { tries: 1_000_000 };
}

/// Tries between two questions to `stop`.
const TRIES_BETWEEN_STOPS: u64 = 64;

/// Finds a plan. Starts from `warm` (what of it still stands) or from the rule of thumb, and never returns a plan that costs more
/// than its start. `stop` is asked now and then; once it says true the best plan so far is returned.
pub fn solve(problem: &RunProblem, effort: &Effort, seed: u64, warm: Option<&Plan>, stop: &dyn Fn() -> bool) -> Plan {
    let start = match warm {
        Some(plan) => repaired(problem, plan).plan.tidied(),
        None => nearest_due_first(problem),
    };
    let tables = Tables::new(problem);
    if tables.visits == 0 || tables.open_slots.is_empty() {
        return start;
    }
    let mut state = State::new(&tables);
    state.begin();
    for run in &start.runs {
        let stops: Vec<u16> = run.stops.iter().map(|&stop| u16::try_from(stop).expect("visits fit")).collect();
        let loaded = state.load_run(run.day * tables.crews + run.crew, run.truck, &stops);
        assert!(loaded, "a sound start stands in the search as well");
    }
    anneal(&mut state, *effort, seed, warm.is_some(), stop)
}

/// First temperature, as a share of the start's cost for each visit.
const HEAT_FIRST_SHARE: f64 = 0.25;
/// Last temperature, as a share of the first.
const HEAT_LAST_SHARE: f64 = 0.04;
/// The first temperature from a warm start, as a share of that from a cold one.
const HEAT_WARM_SHARE: f64 = 0.4;
/// Share of the tries that are many small steps instead: more where there are more visits, as a great try looks at every run and a
/// small step at two. assumed, tuned on the bench
const STEPPING: f64 = 0.35;
const STEPPING_PER_VISIT: f64 = 0.000_2;
const STEPPING_MAX: f64 = 0.75;
/// Small steps in such a try: about as much work as taking visits out and putting them back. assumed
const STEPS_PER_TRY: u32 = 100;
const STRENGTH: Strength = Strength { visits_mean: 8.0, string_max: 10.0 };
/// Blinks over all places of a visit, on average; one over the number of visits is added.
const BLINKS_PER_VISIT: f64 = 0.01;
/// The same when a visit's best place hangs on another's: greed alone would never look past the first.
const BLINKS_PER_TIED_VISIT: f64 = 0.5;
/// Passed-over visits, if all were out, on average.
const PASSED_OVER: f64 = 0.2;
const REGRET_SHARE: f64 = 0.5;
const OLD_OUT_MAX: usize = 8;

/// First and last temperature, in cents.
#[expect(clippy::cast_precision_loss, reason = "a temperature need not be exact")]
fn heats(state: &State<'_, '_>, warm: bool) -> (f64, f64) {
    let mean = state.total.unsigned_abs() as f64 / state.tables.visits as f64;
    let first = mean.max(100.0) * HEAT_FIRST_SHARE * if warm { HEAT_WARM_SHARE } else { 1.0 };
    (first, first * HEAT_LAST_SHARE)
}

fn anneal(state: &mut State<'_, '_>, effort: Effort, seed: u64, warm: bool, stop: &dyn Fn() -> bool) -> Plan {
    let tables = state.tables;
    let mut chance = Chance::new(seed, "runs search");
    let (heat_first, heat_last) = heats(state, warm);
    let count = |number: usize| f64::from(u32::try_from(number).expect("few visits and slots"));
    let bound = tables.any_ties || !tables.parts.together.is_empty() || !tables.own_trucks;
    let blinks = if bound { BLINKS_PER_TIED_VISIT } else { BLINKS_PER_VISIT + 1.0 / count(tables.visits) };
    let manner = Manner {
        blink: (blinks / count(tables.open_slots.len())).min(0.2),
        pass_over: (PASSED_OVER / count(tables.visits)).min(0.05),
        regret: REGRET_SHARE,
        old_out_max: OLD_OUT_MAX,
    };
    let stepping = (STEPPING + count(tables.visits) * STEPPING_PER_VISIT).min(STEPPING_MAX);
    let mut scratch = Scratch::default();
    let mut fresh = vec![false; tables.visits];
    let mut touched = Vec::new();
    let mut best = Best::new(state);
    let mut stock_charge = StockCharge::new(tables);
    stock_charge.apply(state);
    for trial in 0..effort.tries {
        if trial % TRIES_BETWEEN_STOPS == 0 && stop() {
            break;
        }
        #[expect(clippy::cast_precision_loss, reason = "a share of the tries")]
        let gone = trial as f64 / effort.tries as f64;
        let heat = heat_first * (heat_last / heat_first).powf(gone);
        if chance.happens(stepping) {
            for _ in 0..STEPS_PER_TRY {
                small_step(state, &mut chance, heat, &mut best);
            }
            stock_charge.after_try(state, gone);
            continue;
        }
        best.keep(state);
        let before = state.total;
        state.begin();
        fresh.iter_mut().zip(&state.slot_of).for_each(|(fresh, &slot)| *fresh = slot != OUT);
        let around = ruin(state, &mut chance, STRENGTH);
        recreate(state, &mut chance, manner, &mut scratch, &fresh, around);
        // Accept when cost < cost before - T ln U (section 5.1 of the paper).
        if accepted(state.total - before, heat, &mut chance) {
            touched.clear();
            touched.extend(state.touched());
            for &slot in &touched {
                order::improve(state, usize::from(slot));
            }
            best.look(state);
        } else {
            state.undo();
        }
        stock_charge.after_try(state, gone);
    }
    best.keep(state);
    best.plan(state)
}

fn accepted(rise: i64, heat: f64, chance: &mut Chance) -> bool {
    #[expect(clippy::cast_precision_loss, reason = "a difference of costs against a temperature")]
    let rise = rise as f64;
    rise <= 0.0 || rise < -heat * chance.uniform().max(1e-300).ln()
}

/// Draws one small step and takes it if the temperature allows.
fn small_step(state: &mut State<'_, '_>, chance: &mut Chance, heat: f64, best: &mut Best) {
    let Some(step) = steps::draw(state, chance) else { return };
    if !accepted(step.adds, heat, chance) {
        return;
    }
    if step.adds > 0 || step.overdraws {
        best.keep(state);
    }
    state.begin();
    state.take(&step);
    for &(slot, _) in &step.runs[..step.run_count] {
        order::improve(state, usize::from(slot));
    }
    best.look(state);
}

/// The best plan met. Copied only when the search is about to leave it: on the way down each step is better than the last.
struct Best {
    total: i64,
    runs: Vec<SlotRun>,
    /// The state is better than `runs` and not yet copied.
    ahead: bool,
}

impl Best {
    fn new(state: &State<'_, '_>) -> Self {
        Self { total: state.total, runs: state.runs.clone(), ahead: false }
    }

    /// Looks whether the state is the best yet.
    fn look(&mut self, state: &State<'_, '_>) {
        if state.total < self.total && !state.overdrawn() {
            self.total = state.total;
            self.ahead = true;
        }
    }

    /// Copies the state if it is the best yet; asked before it gets any worse.
    fn keep(&mut self, state: &State<'_, '_>) {
        if self.ahead {
            self.runs.clone_from(&state.runs);
            self.ahead = false;
        }
    }

    fn plan(&self, state: &State<'_, '_>) -> Plan {
        let crews = state.tables.crews;
        let runs = self
            .runs
            .iter()
            .enumerate()
            .map(|(slot, run)| Run {
                day: slot / crews,
                crew: slot % crews,
                truck: usize::from(run.truck),
                stops: run.stops().iter().map(|&stop| usize::from(stop)).collect(),
            })
            .collect();
        Plan { runs }.tidied()
    }
}
