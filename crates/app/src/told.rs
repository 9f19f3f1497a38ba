//! The plan the crews were told, and what has come of it: a morning starts from what was told and moves a visit only when the
//! money justifies it, so that nobody's run changes under his hands because another crew closed a yard.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `TOLD_DAYS` | days of runs that are told at once, those a phone takes along | d | 4 | assumed |
//! | - | `OTHER_DAY` | what it is worth not to send a crew on another day than it was told | cents | 2 000 | assumed |
//! | - | `OTHER_CREW` | the same for another crew on the same day | cents | 1 000 | assumed |
//! | - | `WORTH_CHANGING` | a plan that moves what could have stayed must save this part of its bill besides | 1 of | 100 | assumed |

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::{Cents, CrewId, YardId};
use outyard_book::outfit::Dated;
use outyard_book::{PlanTold, StaysHome, ToldRun, WantedVisit};
use outyard_runs::plan::Run;
use outyard_runs::problem::{Gate, RunParts};
use outyard_runs::replan::{ChangeCost, Slide};
use outyard_runs::{Effort, Plan, RunProblem, cost, replan};
use serde::Serialize;

use crate::due::DueVisit;
use crate::plan::day_of;
use crate::replanning::{Change, SlideView, slide_view};
use crate::settings::Settings;
use crate::situation::Situation;
use crate::work_out::Worked;

/// Days of runs that are told at once.
pub const TOLD_DAYS: i64 = 4;
const OTHER_DAY: Cents = Cents(2_000);
const OTHER_CREW: Cents = Cents(1_000);
const WORTH_CHANGING: i64 = 100;

/// What changing what was told is worth.
pub(crate) const CHANGES: ChangeCost = ChangeCost { day: OTHER_DAY, crew: OTHER_CREW };

/// What has come of the plan that was told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SinceTold {
    /// The day it was told.
    pub on: Date,
    /// Visits that stand on their day with their crew.
    pub stayed: usize,
    /// Visits told that stand elsewhere now, or on no run.
    pub slid: Vec<Slide>,
    /// Visits told for a day gone by that are still due, with that day.
    pub missed: Vec<(YardId, Date)>,
}

/// What the owner laid down for the days ahead when he told the plan.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct LaidDown {
    /// Days on which nobody goes out.
    pub(crate) shut: Vec<Date>,
    /// Crews that stay home, and when.
    pub(crate) crews_out: Vec<(String, Date)>,
}

impl LaidDown {
    /// What still holds this morning, and what is added to it.
    pub(crate) fn with(situation: &Situation, shut: &[Date], crews_out: &[(String, Date)]) -> Self {
        let mut all = Self { shut: shut.to_vec(), crews_out: crews_out.to_vec() };
        if let Some(told) = told_to(situation) {
            let ahead = |on: &Date| *on >= situation.today;
            all.shut.extend(told.nobody_out.iter().filter(|on| ahead(on)));
            let crews = &situation.settings.crews;
            let known = |home: &&StaysHome| crews.iter().any(|crew| crew.id == home.crew);
            let home = told.stays_home.iter().filter(|home| ahead(&home.on)).filter(known);
            all.crews_out.extend(home.map(|home| (home.crew.as_str().to_owned(), home.on)));
        }
        all.shut.sort_unstable();
        all.shut.dedup();
        all.crews_out.sort_unstable();
        all.crews_out.dedup();
        all
    }
}

/// The plan told, unless it was told for later than this morning.
fn told_to(situation: &Situation) -> Option<&PlanTold> {
    dated(situation).map(|told| &told.what)
}

fn dated(situation: &Situation) -> Option<&Dated<PlanTold>> {
    situation.outfit.told.as_ref().filter(|told| told.on <= situation.today)
}

/// Visits the owner wants on a day, as far as they are still due and the day is still ahead: the visit, the day, the crew.
pub(crate) fn still_wanted(situation: &Situation, due: &[DueVisit], days: usize) -> Vec<(usize, usize, Option<usize>)> {
    let Some(told) = told_to(situation) else { return Vec::new() };
    let known = Known::of(due);
    told.wanted
        .iter()
        .filter_map(|wanted| {
            let visit = known.find(&wanted.visit)?;
            let day = day_ahead(situation.today, wanted.on, days)?;
            let crew = match &wanted.crew {
                None => None,
                Some(crew) => Some(place_of(&situation.settings, crew)?),
            };
            Some((visit, day, crew))
        })
        .collect()
}

/// Leaves a visit only one day, and one crew if it is named. It may still be left out, when it cannot be done there.
pub(crate) fn hold_to(parts: &mut RunParts, visit: usize, day: usize, crew: Option<usize>) {
    let days = parts.days.len();
    let held = &mut parts.visits[visit];
    let gates: Vec<Gate> = (0..days).map(|other| if other == day { held.gate(other) } else { Gate::Shut }).collect();
    held.gates = gates;
    if let Some(crew) = crew {
        held.crews = Some(vec![crew]);
    }
    // What was told no longer holds for it.
    held.told = None;
}

/// The plan of a morning that follows on what was told: as few changes as the money justifies. `None` when nothing that was told
/// lies ahead.
pub(crate) fn follow_on(
    situation: &Situation,
    due: &[DueVisit],
    problem: &RunProblem,
    effort: Effort,
    stop: &dyn Fn() -> bool,
) -> Option<(Plan, SinceTold)> {
    let told = dated(situation)?;
    let known = Known::of(due);
    let visits_of = |run: &ToldRun| -> Vec<usize> { run.visits.iter().filter_map(|key| known.find(key)).collect() };
    let mut runs: Vec<Run> = Vec::new();
    let mut missed = Vec::new();
    let mut seen = BTreeSet::new();
    for run in &told.what.runs {
        let mut stops = visits_of(run);
        stops.retain(|stop| seen.insert(*stop));
        if run.on < situation.today {
            missed.extend(stops.iter().map(|stop| (due[*stop].yard.clone(), run.on)));
            continue;
        }
        let Some(day) = day_ahead(situation.today, run.on, problem.day_count()) else { continue };
        let Some(crew) = place_of(&situation.settings, &run.crew) else { continue };
        let trucks = &situation.settings.trucks;
        let Some(truck) = trucks.iter().position(|truck| truck.id == run.truck) else { continue };
        if !stops.is_empty() && !runs.iter().any(|other| other.day == day && other.crew == crew) {
            runs.push(Run { day, crew, truck, stops });
        }
    }
    if runs.is_empty() && missed.is_empty() {
        return None;
    }
    let before = Plan { runs };
    let was_told = before.assignments(due.len());
    let search = Search { problem, before: &before, effort, seed: situation.settings.outlook.seed, stop };
    // Once with all that was told held where it was told, as far as its hours are open, and once free to move it.
    let held = search.held(&was_told)?;
    let free = search.over(problem, CHANGES);
    let charges: Cents = was_told.iter().zip(free.assignments(due.len())).map(|(told, now)| charge(*told, now)).sum();
    let (held_bill, free_bill) = (cost(problem, &held)?.total(), cost(problem, &free)?.total());
    let worth_it = free_bill + charges + Cents(free_bill.get() / WORTH_CHANGING) < held_bill;
    let could_stay = held.assignments(due.len());
    let plan = if worth_it { free } else { held };
    let now = plan.assignments(due.len());
    let mut since = SinceTold { on: told.on, stayed: 0, slid: Vec::new(), missed };
    let loss = |visit: usize, place: Option<(usize, usize)>| {
        let due = &problem.parts().visits[visit];
        place.map_or(due.skip, |(day, _)| due.waiting[day])
    };
    for (visit, from) in was_told.iter().enumerate().filter(|(_, from)| from.is_some()) {
        if now[visit] == *from {
            since.stayed += 1;
            continue;
        }
        since.slid.push(Slide {
            visit,
            from: *from,
            to: now[visit],
            forced: could_stay[visit] != *from,
            cost: loss(visit, now[visit]) - loss(visit, *from),
        });
    }
    since.slid.sort_by_key(|slide| (slide.from, slide.visit));
    Some((plan, since))
}

/// What it costs, on paper, to move a visit from where it was told.
fn charge(told: Option<(usize, usize)>, now: Option<(usize, usize)>) -> Cents {
    match (told, now) {
        (None, _) => Cents::ZERO,
        (Some(told), Some(now)) if told == now => Cents::ZERO,
        (Some((day, _)), Some((other, _))) if day == other => OTHER_CREW,
        _ => OTHER_DAY,
    }
}

/// A search that begins with what was told.
struct Search<'a> {
    problem: &'a RunProblem,
    before: &'a Plan,
    effort: Effort,
    seed: u64,
    stop: &'a dyn Fn() -> bool,
}

impl Search<'_> {
    fn over(&self, problem: &RunProblem, change: ChangeCost) -> Plan {
        let same: Vec<Option<usize>> = (0..problem.visit_count()).map(Some).collect();
        replan(problem, self.before, problem, &same, change, &self.effort, self.seed, self.stop).plan
    }

    /// With each visit told held to its day and crew, unless its hours are shut there.
    fn held(&self, was_told: &[Option<(usize, usize)>]) -> Option<Plan> {
        let mut parts = self.problem.parts().clone();
        for (visit, place) in was_told.iter().enumerate() {
            let Some((day, crew)) = *place else { continue };
            let may = parts.visits[visit].crews.as_ref().is_none_or(|crews| crews.contains(&crew));
            let out = parts.crews[crew].days_off.contains(&day) || parts.days[day].usable_permille == 0;
            if may && !out && parts.visits[visit].gate(day) != Gate::Shut {
                hold_to(&mut parts, visit, day, Some(crew));
            }
        }
        let held = RunProblem::new(parts).ok()?;
        Some(self.over(&held, ChangeCost { day: Cents::ZERO, crew: Cents::ZERO }))
    }
}

/// What is to be written down when the crews are told this plan, with what the owner changed for it.
pub fn plan_told(situation: &Situation, worked: &Worked, change: &Change) -> PlanTold {
    let today = situation.today;
    let until = plus_days(today, TOLD_DAYS - 1);
    let mut runs: Vec<ToldRun> = worked
        .planned
        .plan
        .runs
        .iter()
        .map(|run| ToldRun {
            on: day_of(today, run.day),
            crew: situation.settings.crews[run.crew].id.clone(),
            truck: situation.settings.trucks[run.truck].id.clone(),
            visits: run.stops.iter().map(|stop| worked.due[*stop].key.clone()).collect(),
        })
        .filter(|run| run.on <= until)
        .collect();
    runs.sort_by(|left, right| (left.on, &left.crew).cmp(&(right.on, &right.crew)));
    let laid = LaidDown::with(situation, &change.shut, &change.crews_out);
    let stays_home = laid
        .crews_out
        .iter()
        .filter_map(|(crew, on)| Some(StaysHome { crew: CrewId::new(crew).ok()?, on: *on }))
        .collect();
    let fresh: Vec<WantedVisit> = change
        .wishes
        .iter()
        .map(|wish| WantedVisit {
            visit: wish.visit.clone(),
            on: wish.on,
            crew: wish.crew.as_deref().and_then(|crew| CrewId::new(crew).ok()),
        })
        .collect();
    let before = told_to(situation).map_or(&[][..], |told| &told.wanted);
    let known = Known::of(&worked.due);
    let wanted = before
        .iter()
        .filter(|old| old.on >= today)
        .filter(|old| {
            known.find(&old.visit).is_some_and(|at| fresh.iter().all(|new| known.find(&new.visit) != Some(at)))
        })
        .cloned()
        .chain(fresh.iter().cloned())
        .collect();
    PlanTold { runs, nobody_out: laid.shut, stays_home, wanted }
}

/// What has come of the plan that was told, for the faces.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlanToldView {
    /// The day it was told.
    pub on: String,
    /// Visits that stand as told.
    pub stayed: usize,
    /// Visits that do not.
    pub slid: Vec<SlideView>,
    /// Visits told for a day gone by, and still due.
    pub missed: Vec<MissedView>,
    /// Days on which nobody goes out, by the owner's word.
    pub nobody_out: Vec<String>,
    /// Crews that stay home, by the owner's word.
    pub stays_home: Vec<StaysHomeView>,
}

/// A visit told and not made.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MissedView {
    /// The yard.
    pub yard: String,
    /// The day it was told for.
    pub on: String,
}

/// A crew that stays home.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StaysHomeView {
    /// The crew.
    pub crew: String,
    /// The day.
    pub on: String,
}

impl PlanToldView {
    /// Of a morning; none when nothing that was told lies ahead.
    pub fn of(situation: &Situation, worked: &Worked) -> Option<Self> {
        let since = worked.told.as_ref()?;
        let laid = LaidDown::with(situation, &[], &[]);
        Some(Self {
            on: since.on.to_string(),
            stayed: since.stayed,
            slid: since.slid.iter().map(|slide| slide_view(situation, worked, slide)).collect(),
            missed: since
                .missed
                .iter()
                .map(|(yard, on)| MissedView { yard: yard.as_str().to_owned(), on: on.to_string() })
                .collect(),
            nobody_out: laid.shut.iter().map(Date::to_string).collect(),
            stays_home: laid
                .crews_out
                .into_iter()
                .map(|(crew, on)| StaysHomeView { crew, on: on.to_string() })
                .collect(),
        })
    }
}

/// Finds due visits by the keys they had on an earlier morning.
struct Known<'a> {
    by_key: BTreeMap<&'a str, usize>,
    /// By yard and leading job: none when there are several.
    by_job: BTreeMap<&'a str, Option<usize>>,
}

impl<'a> Known<'a> {
    fn of(due: &'a [DueVisit]) -> Self {
        let mut by_job: BTreeMap<&str, Option<usize>> = BTreeMap::new();
        for (at, visit) in due.iter().enumerate() {
            by_job.entry(without_day(&visit.key)).and_modify(|one| *one = None).or_insert(Some(at));
        }
        Self { by_key: due.iter().enumerate().map(|(at, visit)| (visit.key.as_str(), at)).collect(), by_job }
    }

    /// A window that opens later, or has been open since last week, gives the same visit another key: then yard and job tell
    /// which one it is, if there is but one.
    fn find(&self, key: &str) -> Option<usize> {
        self.by_key.get(key).copied().or_else(|| self.by_job.get(without_day(key)).copied().flatten())
    }
}

fn without_day(key: &str) -> &str {
    key.rsplit_once('/').map_or(key, |(yard_and_job, _)| yard_and_job)
}

fn day_ahead(today: Date, on: Date, days: usize) -> Option<usize> {
    usize::try_from(days_from(today, on)).ok().filter(|day| *day < days)
}

fn place_of(settings: &Settings, crew: &CrewId) -> Option<usize> {
    settings.crews.iter().position(|known| known.id == *crew)
}
