//! The season drawn: all yards against days, with the flow above and the boxes below.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use outyard_base::days::plus_days;
use outyard_base::ids::in_reading_order;
use outyard_base::{GearCode, Range, YardId};
use serde::Serialize;

use crate::due::ClockSort;
use crate::outlook::{GainView, OutlookParts, StackView, YardView, yard_view};
use crate::pages::gear::{AheadView, ahead_view};
use crate::pages::yards::{RunningView, running_views};
use crate::plan::day_of;
use crate::seasons::{flow_over, gate_day};
use crate::situation::Situation;
use crate::views::{DatesView, RangeView, clock_word};
use crate::work_out::{Worked, shed_gear};

/// A window of a yard.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WindowView {
    /// Names the visit.
    pub visit: String,
    /// What is to be done.
    pub what: String,
    /// Its jobs, by their codes.
    pub jobs: Vec<String>,
    /// First day.
    pub from: String,
    /// Day to plan with.
    pub best: String,
    /// Last day before it costs.
    pub to: Option<String>,
    /// `brood` when a brood clock fixes it, `fill` when it moves with the flow, `season` for the time of year.
    pub clock: &'static str,
    /// Planned day.
    pub planned: Option<String>,
    /// Planned crew.
    pub crew: Option<String>,
}

/// A visit that was closed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ClosedView {
    /// The entry that closed it.
    pub entry: String,
    /// The day.
    pub on: String,
    /// Its jobs, by their codes.
    pub jobs: Vec<String>,
}

/// One yard against days.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct YardSeasonView {
    /// The yard.
    pub yard: String,
    /// What people call it.
    pub name: String,
    /// Colonies, in words.
    pub said: String,
    /// Its windows.
    pub windows: Vec<WindowView>,
    /// Visits closed within the days shown.
    pub closed: Vec<ClosedView>,
    /// Brood clocks that run: fixed dates.
    pub brood: Vec<RunningView>,
    /// Boxes filling: dates that move, with their range.
    pub fill: Vec<StackView>,
    /// When the flow begins there.
    pub flow_begins: DatesView,
    /// When it ends there.
    pub flow_ends: DatesView,
}

/// How many yards the weather lets work on a day.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WorkWeatherView {
    /// The day.
    pub date: String,
    /// What it needs, with the limits.
    pub needs: String,
    /// Jobs that wait for it.
    pub jobs: Vec<String>,
    /// Yards it is open for.
    pub yards_open: usize,
    /// Yards it was held against.
    pub yards: usize,
    /// Share of the members in which it is open, over the yards.
    pub share_open: f64,
}

/// The season.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SeasonView {
    /// This morning.
    pub today: String,
    /// First day drawn.
    pub from: String,
    /// Last day drawn.
    pub to: String,
    /// Yards in reading order.
    pub yards: Vec<YardSeasonView>,
    /// When the flow begins, over all yards.
    pub flow_begins: DatesView,
    /// Gain of a strong colony by day, over all yards and members.
    pub gain_by_day: Vec<GainView>,
    /// Work weather by day and gate, over the days of the plan.
    pub work_weather: Vec<WorkWeatherView>,
    /// Boxes owned against boxes needed, by kind of gear.
    pub boxes: Vec<AheadView>,
}

/// Days drawn before this morning: a round and its brood clocks. Assumed.
const DAYS_BACK: i64 = 35;

/// The season as it stands this morning.
pub fn season_view(situation: &Situation, worked: &Worked, plan_days: usize) -> SeasonView {
    let today = situation.today;
    let ahead = i64::try_from(situation.settings.outlook.days.max(plan_days)).unwrap_or(60);
    let from = plus_days(today, -DAYS_BACK);
    let mut yards: Vec<_> = situation.outfit.kept_yards().map(|(id, _)| id).collect();
    yards.sort_by(|left, right| in_reading_order(left.as_str(), right.as_str()));
    let outlooks: BTreeMap<&YardId, YardView> = worked
        .seasons
        .iter()
        .filter_map(|(id, ahead)| {
            let (yard, stacks) = (worked.yards.get(id)?, worked.stacks.get(id)?);
            Some((id, yard_view(situation, id, &OutlookParts { yard, stacks, ahead, due: &worked.due })))
        })
        .collect();
    let gain_by_day = gain_by_day(worked, &outlooks);
    let mut windows = windows_of(situation, worked);
    SeasonView {
        today: today.to_string(),
        from: from.to_string(),
        to: plus_days(today, ahead).to_string(),
        yards: yards
            .into_iter()
            .filter_map(|id| {
                let outlook = outlooks.get(id)?;
                yard_season(situation, id, outlook, windows.remove(id).unwrap_or_default(), from)
            })
            .collect(),
        flow_begins: DatesView::of(&flow_over(&worked.seasons)),
        gain_by_day,
        work_weather: work_weather(situation, worked, plan_days),
        boxes: gear_wanted(situation, worked)
            .iter()
            .map(|gear| ahead_view(situation, worked, gear, plan_days))
            .collect(),
    }
}

/// Gear of the shed the due visits ask for, and what the ledger counts as boxes.
pub fn gear_wanted(situation: &Situation, worked: &Worked) -> Vec<GearCode> {
    let mut wanted: Vec<GearCode> = worked
        .due
        .iter()
        .flat_map(|due| due.gear_out.in_yards.keys())
        .map(|gear| shed_gear(&situation.jobs, gear).clone())
        .collect();
    wanted.extend(situation.outfit.ledger.gear.keys().filter(|gear| situation.holds_deeps(gear) > 0.0).cloned());
    wanted.sort();
    wanted.dedup();
    wanted
}

fn yard_season(
    situation: &Situation,
    id: &YardId,
    outlook: &YardView,
    windows: Vec<WindowView>,
    from: Date,
) -> Option<YardSeasonView> {
    let yard = situation.outfit.yards.get(id)?;
    Some(YardSeasonView {
        yard: id.as_str().to_owned(),
        name: yard.kept.name.clone(),
        said: yard.colonies.to_string(),
        windows,
        closed: yard
            .visits
            .iter()
            .filter(|visit| visit.on >= from)
            .map(|visit| ClosedView {
                entry: visit.entry.to_string(),
                on: visit.on.to_string(),
                jobs: visit.tally.jobs.iter().map(|line| line.job.as_str().to_owned()).collect(),
            })
            .collect(),
        brood: running_views(yard, situation.today),
        fill: outlook.stacks.clone(),
        flow_begins: outlook.flow_begins.clone(),
        flow_ends: outlook.flow_ends.clone(),
    })
}

/// Windows of the visits that are due, by yard.
fn windows_of(situation: &Situation, worked: &Worked) -> BTreeMap<YardId, Vec<WindowView>> {
    let places = worked.planned.plan.assignments(worked.due.len());
    let mut windows: BTreeMap<YardId, Vec<WindowView>> = BTreeMap::new();
    for (due, place) in worked.due.iter().zip(places) {
        windows.entry(due.yard.clone()).or_default().push(WindowView {
            visit: due.key.clone(),
            what: due.what(&situation.jobs),
            jobs: due.chores.iter().map(|chore| chore.job.as_str().to_owned()).collect(),
            from: due.window.from.to_string(),
            best: due.window.best.to_string(),
            to: due.window.to.map(|to| to.to_string()),
            clock: clock_word(due.chores.iter().map(|chore| chore.clock).min().unwrap_or(ClockSort::Season)),
            planned: place.map(|(day, _)| day_of(situation.today, day).to_string()),
            crew: place.map(|(_, crew)| situation.settings.crews[crew].id.as_str().to_owned()),
        });
    }
    windows
}

/// Gain of all yards and members by day; the chance of flow is the mean of the yards'.
fn gain_by_day(worked: &Worked, outlooks: &BTreeMap<&YardId, YardView>) -> Vec<GainView> {
    let days = worked.seasons.values().filter_map(|ahead| ahead.season.gain.first().map(Vec::len)).min().unwrap_or(0);
    let first = worked.seasons.values().next().map(|ahead| ahead.season.first);
    let Some(first) = first else { return Vec::new() };
    (0..days)
        .filter_map(|day| {
            let sample: Vec<f64> = worked
                .seasons
                .values()
                .flat_map(|ahead| ahead.season.gain.iter().filter_map(move |gains| gains.get(day).copied()))
                .collect();
            let kg = RangeView::of(Range::of_sample(&sample)?);
            let shares = outlooks.values().filter_map(|outlook| outlook.gain_by_day.get(day));
            let shares: f64 = shares.map(|day| day.flow_share).sum();
            #[expect(clippy::cast_precision_loss, reason = "a count of yards")]
            let flow_share = shares / outlooks.len().max(1) as f64;
            Some(GainView { date: day_of(first, day).to_string(), kg, flow_share })
        })
        .collect()
}

/// Gates of the jobs that are due, by day, over the yards in which they are due.
fn work_weather(situation: &Situation, worked: &Worked, days: usize) -> Vec<WorkWeatherView> {
    let mut wanted: BTreeMap<&str, (BTreeSet<&YardId>, Vec<&str>)> = BTreeMap::new();
    for due in &worked.due {
        for job in due.chores.iter().filter_map(|chore| situation.jobs.jobs.get(&chore.job)) {
            let (yards, jobs) = wanted.entry(job.gate.as_str()).or_default();
            yards.insert(&due.yard);
            if !jobs.contains(&job.code.as_str()) {
                jobs.push(job.code.as_str());
            }
        }
    }
    let mut all = Vec::new();
    for (code, (yards, jobs)) in &wanted {
        let Some(gate) = situation.jobs.gates.get(*code) else { continue };
        for day in 0..days {
            let of_yards: Vec<_> = yards
                .iter()
                .filter_map(|yard| worked.seasons.get(*yard))
                .map(|ahead| gate_day(situation, ahead, gate, day))
                .collect();
            #[expect(clippy::cast_precision_loss, reason = "a count of yards")]
            let share_open = of_yards.iter().map(|gate| gate.share_open).sum::<f64>() / of_yards.len().max(1) as f64;
            all.push(WorkWeatherView {
                date: day_of(situation.today, day).to_string(),
                needs: gate.limits(),
                jobs: jobs.iter().map(|job| (*job).to_owned()).collect(),
                yards_open: of_yards.iter().filter(|gate| gate.open.is_some()).count(),
                yards: of_yards.len(),
                share_open,
            });
        }
    }
    all.sort_by(|left, right| left.date.cmp(&right.date));
    all
}
