//! A plan mended after rain, a crew that stays home, or because one visit is wanted on another day: what slides, what
//! stands, what it costs. And the same held against what one more of something would change.

use jiff::civil::Date;
use outyard_base::days::days_from;
use outyard_base::{Cents, Trouble};
use outyard_book::{Outfit, Yard};
use outyard_runs::problem::RunParts;
use outyard_runs::replan::{Replanned, Slide};
use outyard_runs::{Effort, RunProblem, replan};
use outyard_trade::clocks::{ClockStart, DatedMark, dated_marks};
use serde::Serialize;

use crate::plan::{Planned, day_of};
use crate::situation::Situation;
use crate::told::{CHANGES, hold_to};
use crate::views::{RunView, run_views};
use crate::work_out::{WorkOrder, Worked, checked, problem_of};

/// A visit that is wanted on a day, by a crew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wish {
    /// The visit, by its key.
    pub visit: String,
    /// The day.
    pub on: Date,
    /// The crew; whichever is cheapest when none is named.
    pub crew: Option<String>,
}

/// What changed since the plan was told.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Change {
    /// Days on which nobody goes out.
    pub shut: Vec<Date>,
    /// Crews that stay home, and when.
    pub crews_out: Vec<(String, Date)>,
    /// Visits that are wanted elsewhere in the plan.
    pub wishes: Vec<Wish>,
}

/// A plan mended.
#[derive(Clone, Debug)]
pub struct Mended {
    /// The morning with the new plan.
    pub worked: Worked,
    /// What slid and what stood.
    pub replanned: Replanned,
}

/// Mends a worked-out morning after a change.
///
/// # Errors
/// `PLN-002` for a crew nobody knows, `PLN-003` for a wish that names no visit or no day of the plan, and as
/// [`problem_of`] and [`checked`].
pub fn mend(
    situation: &Situation,
    before: &Worked,
    days: usize,
    change: &Change,
    effort: &Effort,
    stop: &dyn Fn() -> bool,
) -> Result<Mended, Vec<Trouble>> {
    for (crew, _) in &change.crews_out {
        known_crew(situation, crew)?;
    }
    let order = WorkOrder { days, effort: *effort, shut: change.shut.clone(), crews_out: change.crews_out.clone() };
    let mut new = problem_of(situation, &order, before)?;
    if !change.wishes.is_empty() {
        let mut parts = new.problem.into_parts();
        for wish in &change.wishes {
            grant(situation, before, wish, &mut parts)?;
        }
        new.problem = RunProblem::new(parts)?;
    }
    let same: Vec<Option<usize>> = (0..before.due.len()).map(Some).collect();
    let replanned = replan(
        &before.planned.problem,
        &before.planned.plan,
        &new.problem,
        &same,
        CHANGES,
        effort,
        situation.settings.outlook.seed,
        stop,
    );
    let mut worked = before.clone();
    worked.planned = Planned { plan: replanned.plan.clone(), ..new };
    checked(&worked.planned)?;
    worked.bill = replanned.bill;
    Ok(Mended { worked, replanned })
}

/// A morning as it stands, for whoever changes nothing.
pub fn unchanged(before: &Worked) -> Mended {
    Mended {
        worked: before.clone(),
        replanned: Replanned {
            plan: before.planned.plan.clone(),
            slid: Vec::new(),
            stayed: (0..before.due.len()).collect(),
            fresh: Vec::new(),
            cost: Cents::ZERO,
            bill: before.bill,
        },
    }
}

/// The place of a crew in the settings.
///
/// # Errors
/// `PLN-002`.
pub fn known_crew(situation: &Situation, crew: &str) -> Result<usize, Vec<Trouble>> {
    let crews = &situation.settings.crews;
    crews.iter().position(|known| known.id.as_str() == crew).ok_or_else(|| {
        let known: Vec<&str> = crews.iter().map(|crew| crew.id.as_str()).collect();
        vec![Trouble::new(
            "PLN-002",
            format!("there is no crew \"{}\"", crew.chars().take(40).collect::<String>()),
            format!("the crews are {}", known.join(", ")),
        )]
    })
}

/// Leaves a visit only the day and the crew it is wanted on. It may still be left out, when it cannot be done there.
fn grant(situation: &Situation, before: &Worked, wish: &Wish, parts: &mut RunParts) -> Result<(), Vec<Trouble>> {
    let refused = |why: String, remedy: &str| vec![Trouble::new("PLN-003", why, remedy)];
    let visit = before.due.iter().position(|due| due.key == wish.visit).ok_or_else(|| {
        refused(
            format!("no visit \"{}\" is due", wish.visit.chars().take(80).collect::<String>()),
            "name it as the runs of this morning do; what was due yesterday may be done or have moved",
        )
    })?;
    let day = usize::try_from(days_from(situation.today, wish.on)).ok().filter(|day| *day < parts.days.len());
    let day = day.ok_or_else(|| {
        refused(format!("{} is not within the plan", wish.on), "name a day from this morning to the last of the plan")
    })?;
    let crew = wish.crew.as_deref().map(|crew| known_crew(situation, crew)).transpose()?;
    hold_to(parts, visit, day, crew);
    Ok(())
}

/// A visit that changed its place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SlideView {
    /// Names the visit.
    pub visit: String,
    /// The yard.
    pub yard: String,
    /// Day before; none when it was left out.
    pub from: Option<String>,
    /// Crew before.
    pub from_crew: Option<String>,
    /// Day now; none when it is left out.
    pub to: Option<String>,
    /// Crew now.
    pub to_crew: Option<String>,
    /// It could not have stayed.
    pub forced: bool,
    /// Change in money lost by waiting, for this visit alone.
    pub cost_cents: i64,
}

/// Brood clocks of a yard that do not move with the plan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FixedView {
    /// The yard.
    pub yard: String,
    /// Day 0 of its clocks.
    pub put_down_on: String,
    /// The look for queen cells, in words.
    pub cells: DayOrDays,
    /// The last worker brood has hatched above.
    pub workers_out: DayOrDays,
}

/// A first and, if there is one, a last day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DayOrDays {
    /// First day.
    pub from: Option<String>,
    /// Last day; none when it stays true.
    pub to: Option<String>,
}

/// A mended plan, for the faces.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MendedView {
    /// What moved.
    pub slid: Vec<SlideView>,
    /// Visits that stand as they were.
    pub stayed: usize,
    /// Honey and queens lost by the change.
    pub cost_cents: i64,
    /// The whole bill before.
    pub bill_before_cents: i64,
    /// The whole bill now.
    pub bill_cents: i64,
    /// Clocks that the change does not move.
    pub fixed: Vec<FixedView>,
    /// The runs before.
    pub runs_before: Vec<RunView>,
    /// The runs now.
    pub runs: Vec<RunView>,
}

/// A mended plan as the faces show it.
pub fn mended_view(situation: &Situation, before: &Worked, mended: &Mended) -> MendedView {
    MendedView {
        slid: mended.replanned.slid.iter().map(|slide| slide_view(situation, &mended.worked, slide)).collect(),
        stayed: mended.replanned.stayed.len(),
        cost_cents: mended.replanned.cost.get(),
        bill_before_cents: before.bill.total().get(),
        bill_cents: mended.worked.bill.total().get(),
        fixed: fixed_views(&situation.outfit),
        runs_before: run_views(situation, before),
        runs: run_views(situation, &mended.worked),
    }
}

/// A visit that changed its place, as the faces show it.
pub(crate) fn slide_view(situation: &Situation, worked: &Worked, slide: &Slide) -> SlideView {
    let date = |place: Option<(usize, usize)>| place.map(|(day, _)| day_of(situation.today, day).to_string());
    let crew =
        |place: Option<(usize, usize)>| place.map(|(_, crew)| situation.settings.crews[crew].id.as_str().to_owned());
    SlideView {
        visit: worked.due[slide.visit].key.clone(),
        yard: worked.due[slide.visit].yard.as_str().to_owned(),
        from: date(slide.from),
        from_crew: crew(slide.from),
        to: date(slide.to),
        to_crew: crew(slide.to),
        forced: slide.forced,
        cost_cents: slide.cost.get(),
    }
}

/// The clocks of all put-downs that still run.
fn fixed_views(outfit: &Outfit) -> Vec<FixedView> {
    outfit
        .kept_yards()
        .filter_map(|(id, yard)| yard.last_put_down().map(|(day0, _)| (id, day0)))
        .map(|(id, day0)| {
            let marks = dated_marks(ClockStart::ExcluderUnderBrood, day0);
            let days = |code: &str| {
                let dated = marks.iter().find(|dated| dated.mark.code == code);
                DayOrDays {
                    from: dated.map(|dated| dated.from.to_string()),
                    to: dated.and_then(|dated| dated.to).map(|to| to.to_string()),
                }
            };
            FixedView {
                yard: id.as_str().to_owned(),
                put_down_on: day0.to_string(),
                cells: days("cell-look"),
                workers_out: days("workers-out"),
            }
        })
        .collect()
}

/// Put-downs of a yard whose clocks still run, the latest first: its day 0 and its marks.
pub fn running_clocks(yard: &Yard, today: Date) -> Vec<(Date, Vec<DatedMark>)> {
    /// Days after a put-down past which none of its clocks calls for anything (assumed: the last mark is day 45).
    const CLOCKS_RUN_DAYS: i64 = 60;
    yard.put_down
        .keys()
        .rev()
        .filter(|day0| days_from(**day0, today) <= CLOCKS_RUN_DAYS)
        .map(|day0| (*day0, dated_marks(ClockStart::ExcluderUnderBrood, *day0)))
        .collect()
}
