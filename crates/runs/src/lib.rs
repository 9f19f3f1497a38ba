//! Crew runs: who goes to which yards on which day, in which order, with what on the truck, and what another day would cost.
//!
//! A [`RunProblem`] is checked when it is built and never changes. [`solve`] finds a plan, [`bound()`] says how much better any plan
//! could possibly be, [`check_plan`] recomputes a plan with code of its own, [`prices()`] says what one more box, crew day or
//! truck would be worth, [`replan()`] mends a plan after rain, and [`reasons()`] says why a visit stands where it stands.
//! Nothing here reads a clock, a file or the environment: the seed and the effort are arguments.

pub mod bill;
pub mod bound;
pub mod check;
mod draft;
mod gate;
mod groups;
pub mod plan;
pub mod prices;
pub mod problem;
pub mod reasons;
pub mod replan;
pub mod replay;
mod rule_of_thumb;
pub mod schedule;
pub mod search;
mod shift;
mod stock;
pub mod truck_load;

pub use bill::cost;
pub use bound::{Bound, Gap, Proof, bound, bound_by_best_runs, bound_under, gap};
pub use check::{Breach, check_plan, own_bill};
pub use plan::{Bill, Load, LunchTimes, Plan, Run, RunTimes, StopTimes};
pub use prices::{Extra, Price, price, prices};
pub use problem::{Crew, Day, Follows, Gate, Gear, Lunch, Roads, RunParts, RunProblem, Told, Truck, Visit};
pub use reasons::{Alternative, Hindrance, OtherCrew, Reason, reasons};
pub use replan::{Replanned, Slide, replan};
pub use replay::{Replayed, best_over, replay};
pub use rule_of_thumb::nearest_due_first;
pub use schedule::schedule;
pub use search::{Effort, solve};
pub use truck_load::load;
