//! Chores of one yard become visits: what can be done on one trip is done on one trip.

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::{Cents, Minutes, YardId};
use outyard_trade::jobbook::{GearSum, JobBook, Work};

use super::chores::{Chore, ChoreInput, ClockSort, Window, chores, put_down_follow_ups};
use super::waiting::WaitingCurve;

/// Drive a yard adds to a run that passes near by, in minutes. Assumed.
const TRIP_DRIVE_MIN: f64 = 20.0;
/// Road it adds, in kilometres. Assumed.
const TRIP_ROAD_KM: f64 = 20.0;

/// A visit that is due.
#[derive(Clone, Debug, PartialEq)]
pub struct DueVisit {
    /// Names it from one morning to the next: yard, leading job and the first day of its window's week.
    pub key: String,
    /// The yard.
    pub yard: YardId,
    /// What is to be done, the job that presses most first.
    pub chores: Vec<Chore>,
    /// When all of it may be done, and when it should be.
    pub window: Window,
    /// Expected money lost if it is done on each day of the plan, counted from today.
    pub waiting: Vec<Cents>,
    /// The same by member.
    pub curve: WaitingCurve,
    /// Expected money lost by the day after the plan.
    pub after_plan: Cents,
    /// Work of a pair, setup included.
    pub pair_minutes: Minutes,
    /// Gear out.
    pub gear_out: GearSum,
    /// Gear home.
    pub gear_home: GearSum,
    /// Cautions of its jobs, each once.
    pub cautions: Vec<String>,
    /// The due visit whose put-down calls for this one, with the fewest and most days between.
    pub follows: Option<Follow>,
}

/// A visit that hangs on another one of the same list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Follow {
    /// Place of the first visit in the list.
    pub after: usize,
    /// Fewest days between.
    pub days_min: u32,
    /// Most days between.
    pub days_max: u32,
}

impl DueVisit {
    /// What is done, in a few words: `blow down 26 doubles, lift brood for 6 splits`.
    pub fn what(&self, jobs: &JobBook) -> String {
        let parts: Vec<String> = self
            .chores
            .iter()
            .map(|chore| {
                let name = jobs.jobs.get(&chore.job).map_or(chore.job.as_str(), |job| job.name.as_str());
                format!("{name}: {}", chore.colonies)
            })
            .collect();
        parts.join("; ")
    }

    /// When it may be done, its first visit being planned for `lead_day`: it moves with that visit, and ends the last day
    /// after it that its clock knows. One that hangs on none, or on one with no day, keeps its window.
    pub fn window_after(&self, lead_day: Option<Date>) -> Window {
        let (Some(follow), Some(lead_day)) = (self.follows, lead_day) else { return self.window };
        let from = plus_days(lead_day, i64::from(follow.days_min));
        let best = plus_days(from, days_from(self.window.from, self.window.best));
        Window { from, best, to: Some(plus_days(lead_day, i64::from(follow.days_max))) }
    }

    /// Why, one sentence for each job.
    pub fn reasons(&self) -> Vec<String> {
        self.chores.iter().map(|chore| chore.reason.clone()).collect()
    }
}

/// The visits due at a yard within the plan, the most pressing first.
pub fn due_visits(input: &ChoreInput<'_>) -> Vec<DueVisit> {
    let mut waiting_list = chores(input);
    waiting_list.sort_by_key(|chore| (chore.window.best, chore.window.from));
    let mut groups: Vec<Vec<Chore>> = Vec::new();
    for chore in waiting_list {
        match groups.iter_mut().find(|group| one_trip(input, group, &chore)) {
            Some(group) => group.push(chore),
            None => groups.push(vec![chore]),
        }
    }
    groups.into_iter().map(|group| visit(input, group)).collect()
}

/// The visits that the put-downs among the due visits of a yard will call for within the plan: the look for cells, and
/// the return. `offset` is the place of the first of `due` in the list of all yards.
pub fn follow_ups(input: &ChoreInput<'_>, due: &[DueVisit], offset: usize) -> Vec<DueVisit> {
    let mut more = Vec::new();
    for (at, first) in due.iter().enumerate() {
        for (chore, follow) in put_down_follow_ups(input, &first.chores, first.window.from) {
            let mut visit = visit(input, vec![chore]);
            visit.follows = Some(Follow { after: offset + at, days_min: follow.0, days_max: follow.1 });
            more.push(visit);
        }
    }
    more
}

/// Whether a chore should be done on the trip of the others: everything must still hold on the first day on which all of
/// it may be done, and waiting for that day must cost less than going twice.
fn one_trip(input: &ChoreInput<'_>, group: &[Chore], chore: &Chore) -> bool {
    let all = || group.iter().chain([chore]);
    let Some(together) = all().map(|chore| chore.window.from).max() else { return true };
    if all().filter_map(|chore| chore.window.to).any(|last| last < together) {
        return false;
    }
    let day = |date: Date| usize::try_from(days_from(input.today, date)).unwrap_or(0);
    let on_its_own: i64 = all().map(|chore| chore.waiting.expected_on(day(chore.window.from)).get()).sum();
    let at_once: i64 = all().map(|chore| chore.waiting.expected_on(day(together)).get()).sum();
    at_once - on_its_own <= trip(input.jobs).get()
}

/// What a second trip to the same yard costs, without the work at the colonies: setup, and a share of a run's road.
fn trip(jobs: &JobBook) -> Cents {
    let hours = (jobs.visit.setup_pair_minutes + TRIP_DRIVE_MIN) / 60.0;
    Cents::round_of(hours * 2.0 * jobs.worth.wage_per_hour.amount() + TRIP_ROAD_KM * jobs.worth.road_per_km.amount())
}

fn visit(input: &ChoreInput<'_>, mut group: Vec<Chore>) -> DueVisit {
    let jobs = input.jobs;
    group.sort_by_key(|chore| (order_of_work(chore), chore.window.best));
    let curve = group.iter().fold(WaitingCurve::default(), |sum, chore| sum.and(&chore.waiting));
    let mut waiting = curve.expected();
    let after_plan = waiting.pop().unwrap_or(Cents::ZERO);
    let from = group.iter().map(|chore| chore.window.from).max().unwrap_or(input.today).max(input.today);
    let best = group.iter().map(|chore| chore.window.best).min().unwrap_or(from).max(from);
    let to = group.iter().filter_map(|chore| chore.window.to).min().map(|to| to.max(from));
    let work: Vec<Work<'_>> = group
        .iter()
        .filter_map(|chore| jobs.jobs.get(&chore.job).map(|job| Work { job, colonies: chore.colonies }))
        .collect();
    let colonies: f64 = work.iter().map(|work| work.job.service_pair_minutes(&work.colonies)).sum();
    let (gear_out, gear_home) = gear(jobs, &group, &work);
    let mut cautions: Vec<String> = Vec::new();
    for caution in work.iter().flat_map(|work| &work.job.cautions) {
        if !cautions.contains(caution) {
            cautions.push(caution.clone());
        }
    }
    DueVisit {
        key: key(&input.yard.yard, &group, from),
        yard: input.yard.yard.clone(),
        window: Window { from, best, to },
        waiting,
        after_plan,
        curve,
        pair_minutes: Minutes::ceil_of(jobs.visit.setup_pair_minutes + colonies),
        gear_out,
        gear_home,
        cautions,
        chores: group,
        follows: None,
    }
}

/// Looks come before boxes, boxes before pulls: the order in which a yard is worked.
fn order_of_work(chore: &Chore) -> u8 {
    match chore.job.as_str() {
        "unwanted-cells-check" | "egg-test" | "open-brood-test" | "swarm-cells-check" | "split-check" => 0,
        "pull" => 2,
        "add-boxes" => 3,
        _ => 1,
    }
}

fn key(yard: &YardId, group: &[Chore], from: Date) -> String {
    let lead = group.first().map_or("visit", |chore| chore.job.as_str());
    // A fill clock moves from day to day; the key of a visit should not.
    let day = match group.first().map(|chore| chore.clock) {
        Some(ClockSort::Brood) => group[0].window.from,
        _ => plus_days(from, -i64::from(from.weekday().to_monday_zero_offset())),
    };
    format!("{yard}/{lead}/{day}")
}

/// Gear of a visit: what the job book says, with the boxes of supering and pulling by what the flow brings.
fn gear(jobs: &JobBook, group: &[Chore], work: &[Work<'_>]) -> (GearSum, GearSum) {
    let flowing: Vec<&Chore> = group.iter().filter(|chore| chore.boxes_each > 0.0).collect();
    let fixed: Vec<Work<'_>> =
        work.iter().filter(|work| !flowing.iter().any(|chore| chore.job == work.job.code)).copied().collect();
    let (mut out, mut home) = (jobs.gear_out(&fixed), jobs.gear_home(&fixed));
    for chore in flowing {
        let Some(job) = jobs.jobs.get(&chore.job) else { continue };
        let own = [Work { job, colonies: chore.colonies }];
        let boxes = box_count(chore);
        out = out.and(&with_boxes(jobs, jobs.gear_out(&own), boxes));
        home = home.and(&with_boxes(jobs, jobs.gear_home(&own), boxes));
    }
    (out, home)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a few boxes for each of a few hundred colonies"
)]
fn box_count(chore: &Chore) -> u32 {
    (chore.boxes_each * f64::from(chore.colonies.total()) - 1e-9).ceil().max(0.0) as u32
}

/// Puts the count of honey boxes the flow asks for in place of the one the job book knows.
fn with_boxes(jobs: &JobBook, mut sum: GearSum, boxes: u32) -> GearSum {
    for (gear, count) in &mut sum.in_yards {
        if jobs.gear.get(gear).is_some_and(|gear| gear.holds_deeps > 0.0) {
            *count = boxes;
        }
    }
    sum
}
