//! What the faces show, as plain data with units in the names. The command line prints it, a browser will draw it; both
//! see the same.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::range::day_month;
use outyard_base::{Cents, DateRange, Range, YardId};
use outyard_runs::{Bill, Run, RunTimes, load, schedule};
use outyard_trade::clocks::{ClockStart, dated_marks};
use outyard_trade::jobbook::GearSum;
use serde::Serialize;

use crate::due::{ClockSort, DueVisit};
use crate::plan::{GateDay, Planned, day_of};
use crate::seasons::flow_over;
use crate::situation::Situation;
use crate::told::PlanToldView;
use crate::work_out::{Worked, shed_gear};

/// An early, a likely and a late date; `null` where it is not within the days looked at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DatesView {
    /// One in ten comes before.
    pub early: Option<String>,
    /// As often before as after.
    pub likely: Option<String>,
    /// One in ten comes after.
    pub late: Option<String>,
    /// The three in words.
    pub said: String,
}

impl DatesView {
    /// From a date range.
    pub fn of(dates: &DateRange) -> Self {
        let text = |date: Option<Date>| date.map(|date| date.to_string());
        Self { early: text(dates.early), likely: text(dates.likely), late: text(dates.late), said: dates.to_string() }
    }
}

/// A low, a likely and a high value.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RangeView {
    /// One in ten falls below.
    pub low: f64,
    /// As many above as below.
    pub likely: f64,
    /// One in ten falls above.
    pub high: f64,
}

impl RangeView {
    /// From a range of numbers.
    pub fn of(range: Range<f64>) -> Self {
        Self { low: range.low, likely: range.likely, high: range.high }
    }
}

/// One line of a load list.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LoadView {
    /// Code of the gear in the job book.
    pub gear: String,
    /// Its name on the list.
    pub said: String,
    /// Without spares.
    pub needed: u32,
    /// To be loaded.
    pub load: u32,
    /// Weight of what is loaded.
    pub weight_kg: f64,
    /// Comes home with the crew.
    pub comes_home: bool,
}

/// A job at a stop.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct JobView {
    /// Code in the job book.
    pub job: String,
    /// Its name.
    pub name: String,
    /// What is done, in one sentence.
    pub does: String,
    /// Colonies, in words.
    pub colonies: String,
    /// Colonies by kind.
    pub counts: BTreeMap<&'static str, u32>,
    /// `brood` clocks stand fixed, `fill` clocks move with the flow, `season` is the time of year.
    pub clock: &'static str,
    /// Why it is due.
    pub reason: String,
}

/// A stop of a run.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StopView {
    /// Names the visit from one morning to the next.
    pub visit: String,
    /// The yard.
    pub yard: String,
    /// What people call it.
    pub name: String,
    /// Gate, key, dog.
    pub gate: String,
    /// Bad road after rain.
    pub wet_road: bool,
    /// Owner of the land.
    pub landowner: String,
    /// Degrees north.
    pub latitude: Option<f64>,
    /// Degrees east.
    pub longitude: Option<f64>,
    /// Truck stops in the yard.
    pub arrive: String,
    /// Work begins.
    pub start: String,
    /// Work ends.
    pub end: String,
    /// Minutes of work.
    pub work_min: i64,
    /// What is done.
    pub jobs: Vec<JobView>,
    /// Gear for this yard, without spares.
    pub gear: Vec<LoadView>,
    /// Hours in which the weather lets it be done.
    pub open_from: Option<String>,
    /// See `open_from`.
    pub open_to: Option<String>,
    /// The reading that decided.
    pub weather: String,
    /// What a day more would cost.
    pub a_day_more_cents: i64,
    /// Brood clocks the visit starts, in words.
    pub starts: Vec<String>,
}

/// A run.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RunView {
    /// The day.
    pub date: String,
    /// The crew.
    pub crew: String,
    /// How many people.
    pub hands: u32,
    /// The truck.
    pub truck: String,
    /// Leaves home.
    pub leave: String,
    /// Is home.
    pub home: String,
    /// Time away.
    pub away_min: i64,
    /// Time on the road.
    pub drive_min: i64,
    /// Road driven.
    pub road_km: f64,
    /// Lunch, from and to.
    pub lunch: Option<(String, String)>,
    /// Fewest minutes left in any weather gate of the run.
    pub gate_left_min: Option<i64>,
    /// Stops in the order they are driven.
    pub stops: Vec<StopView>,
    /// What to load.
    pub load: Vec<LoadView>,
    /// What to bring home.
    pub home_load: Vec<LoadView>,
    /// Places of a deep box taken on the deck.
    pub deck_places: f64,
    /// Places of a deep box there are.
    pub deck_places_max: u32,
    /// Weight carried, at most.
    pub weight_kg: f64,
    /// Payload.
    pub payload_kg: f64,
    /// Full boxes the truck could bring home by weight.
    pub full_boxes_home_max: i64,
    /// Cautions of all its jobs.
    pub cautions: Vec<String>,
}

/// A visit that is due.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DueView {
    /// Names it.
    pub visit: String,
    /// The yard.
    pub yard: String,
    /// What.
    pub what: String,
    /// First day.
    pub from: String,
    /// Day to plan with.
    pub best: String,
    /// Last day before it costs.
    pub to: Option<String>,
    /// Planned day, when it is in the plan.
    pub planned: Option<String>,
    /// Planned crew.
    pub crew: Option<String>,
    /// Expected money lost by each day of the plan.
    pub waiting_cents: Vec<i64>,
    /// Money lost by the last day of the plan: low, likely, high.
    pub waiting_last_day_cents: (i64, i64, i64),
    /// Pair minutes.
    pub pair_minutes: i64,
    /// Why, with the numbers.
    pub reasons: Vec<String>,
}

/// A gate this morning.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GateView {
    /// Codes of the jobs that wait for it.
    pub jobs: Vec<String>,
    /// What it needs, with the limits as they stand.
    pub words: String,
    /// Yards for which it is open today.
    pub yards_open: usize,
    /// Yards it was held against.
    pub yards: usize,
    /// Hours, over the yards it is open for.
    pub hours: Option<(String, String)>,
    /// The reading that decided, of one yard.
    pub deciding: String,
    /// What to do in its place when it is shut.
    pub instead: String,
}

/// Gear against the plan.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StockView {
    /// Gear.
    pub gear: String,
    /// Ready this morning.
    pub ready: i64,
    /// The plan takes, over its days.
    pub wanted: i64,
    /// Left at the end.
    pub left: i64,
}

/// The morning page.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MorningView {
    /// The outfit.
    pub outfit: String,
    /// The morning.
    pub date: String,
    /// Weekday and date in words.
    pub said: String,
    /// Colonies, in words.
    pub colonies: String,
    /// Yards kept.
    pub yards: usize,
    /// When the flow begins, over all yards.
    pub flow: DatesView,
    /// Mean gain of a strong colony today, over the yards.
    pub gain_today_kg: Option<RangeView>,
    /// Gates today.
    pub gates: Vec<GateView>,
    /// Today's runs.
    pub today: Vec<RunView>,
    /// Runs of the days after.
    pub later: Vec<RunView>,
    /// Visits due that the plan leaves out.
    pub left_out: Vec<DueView>,
    /// What has come of the plan the crews were told; none when nothing of it lies ahead.
    pub told: Option<PlanToldView>,
    /// Gear.
    pub stock: Vec<StockView>,
    /// What the plan costs.
    pub bill: BillView,
    /// Visits of two tallies, unsettled.
    pub unsettled: usize,
    /// Oldest count behind the plan.
    pub oldest_count: Option<String>,
}

/// What a plan costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BillView {
    /// Lost by waiting.
    pub waiting_cents: i64,
    /// Lost by what is left out, with its work still to be done.
    pub left_out_cents: i64,
    /// Wages, overtime included.
    pub wages_cents: i64,
    /// Driving.
    pub road_cents: i64,
}

impl BillView {
    /// From a plan's bill.
    pub fn of(bill: &Bill) -> Self {
        Self {
            waiting_cents: bill.waiting.get(),
            left_out_cents: bill.skip.get(),
            wages_cents: (bill.wage + bill.overtime).get(),
            road_cents: bill.road.get(),
        }
    }
}

fn kinds(counts: &outyard_trade::KindCounts) -> BTreeMap<&'static str, u32> {
    counts.iter().map(|(kind, count)| (kind.code(), count)).collect()
}

/// The word for a sort of clock.
pub fn clock_word(clock: ClockSort) -> &'static str {
    match clock {
        ClockSort::Brood => "brood",
        ClockSort::Fill => "fill",
        ClockSort::Season => "season",
    }
}

/// Lines of a load list: what stays in yards takes its spares, what the crew carries comes home.
pub fn load_lines(situation: &Situation, sum: &GearSum, spares: bool) -> Vec<LoadView> {
    let jobs = &situation.jobs;
    jobs.load_list(sum)
        .into_iter()
        .map(|line| {
            let count = if spares { line.load } else { line.needed };
            let each_kg = jobs.gear.get(&line.gear).map_or(0.0, |gear| gear.weight.get());
            LoadView {
                comes_home: sum.with_crew.contains_key(&line.gear),
                gear: line.gear.as_str().to_owned(),
                said: line.said,
                needed: line.needed,
                load: count,
                weight_kg: each_kg * f64::from(count),
            }
        })
        .collect()
}

/// The jobs of a visit.
pub fn job_views(situation: &Situation, due: &DueVisit) -> Vec<JobView> {
    due.chores
        .iter()
        .map(|chore| {
            let job = situation.jobs.jobs.get(&chore.job);
            JobView {
                job: chore.job.as_str().to_owned(),
                name: job.map_or_else(|| chore.job.as_str().to_owned(), |job| job.name.clone()),
                does: job.map(|job| job.does.clone()).unwrap_or_default(),
                colonies: chore.colonies.to_string(),
                counts: kinds(&chore.colonies),
                clock: clock_word(chore.clock),
                reason: chore.reason.clone(),
            }
        })
        .collect()
}

/// The brood clocks a visit starts when it is done on a day, in words: those that call for a visit, and the days the
/// upper box is clear.
pub fn clocks_started(situation: &Situation, due: &DueVisit, date: Date) -> Vec<String> {
    let mut starts: Vec<ClockStart> = due
        .chores
        .iter()
        .filter_map(|chore| situation.jobs.jobs.get(&chore.job))
        .flat_map(|job| job.starts.iter().copied())
        .collect();
    starts.sort_unstable();
    starts.dedup();
    starts
        .into_iter()
        .flat_map(|start| dated_marks(start, date))
        .filter(|dated| dated.mark.job.is_some() || dated.mark.code.ends_with("-out"))
        .map(|dated| dated.to_string())
        .collect()
}

/// A run of the plan with its times, stops and loads.
pub fn run_view(situation: &Situation, worked: &Worked, run: &Run) -> RunView {
    let planned = &worked.planned;
    let times = schedule(&planned.problem, run).expect("the checker let this run through");
    let date = day_of(situation.today, run.day);
    let crew = &situation.settings.crews[run.crew];
    let truck = &situation.settings.trucks[run.truck];
    let mut out = GearSum::default();
    let mut home = GearSum::default();
    let mut cautions: Vec<String> = Vec::new();
    for &visit in &run.stops {
        let due = &worked.due[visit];
        out = out.and(&due.gear_out);
        home = home.and(&GearSum { in_yards: due.gear_home.in_yards.clone(), with_crew: BTreeMap::new() });
        for caution in &due.cautions {
            if !cautions.contains(caution) {
                cautions.push(caution.clone());
            }
        }
    }
    let carried = load(&planned.problem, run);
    let stops = at_one_stop(
        times.stops.iter().map(|stop| stop_view(situation, worked, run, date, &times, stop.visit)).collect(),
    );
    RunView {
        date: date.to_string(),
        crew: crew.id.as_str().to_owned(),
        hands: crew.hands,
        truck: truck.id.as_str().to_owned(),
        leave: times.leave.to_string(),
        home: times.home.to_string(),
        away_min: times.away().get(),
        drive_min: times.drive.get(),
        road_km: km(times.metres),
        lunch: times.lunch.map(|lunch| (lunch.from.to_string(), lunch.to.to_string())),
        gate_left_min: times.gate_left().map(outyard_base::Minutes::get),
        stops,
        load: load_lines(situation, &out, true),
        home_load: load_lines(situation, &home, false),
        deck_places: units(carried.volume_most),
        deck_places_max: truck.deeps_empty,
        weight_kg: carried.grams_most.kilograms().get(),
        payload_kg: truck.payload.kilograms().get(),
        full_boxes_home_max: full_boxes_home(situation, truck.payload),
        cautions,
    }
}

/// Visits to one yard that follow each other on a run are one stop to whoever drives it.
fn at_one_stop(visits: Vec<StopView>) -> Vec<StopView> {
    let mut stops: Vec<StopView> = Vec::new();
    for visit in visits {
        match stops.last_mut() {
            Some(stop) if stop.yard == visit.yard => {
                stop.end = visit.end;
                stop.work_min += visit.work_min;
                stop.jobs.extend(visit.jobs);
                stop.a_day_more_cents += visit.a_day_more_cents;
                for line in visit.gear {
                    match stop.gear.iter_mut().find(|known| known.gear == line.gear) {
                        Some(known) => {
                            known.needed += line.needed;
                            known.load += line.load;
                            known.weight_kg += line.weight_kg;
                        }
                        None => stop.gear.push(line),
                    }
                }
                for mark in visit.starts {
                    if !stop.starts.contains(&mark) {
                        stop.starts.push(mark);
                    }
                }
            }
            _ => stops.push(visit),
        }
    }
    stops
}

#[expect(clippy::cast_precision_loss, reason = "metres of one run")]
fn km(metres: i64) -> f64 {
    metres as f64 / 1000.0
}

#[expect(clippy::cast_precision_loss, reason = "volume units of one deck")]
fn units(volume: i64) -> f64 {
    volume as f64 / 100.0
}

/// Full boxes a payload carries, by the heaviest gear of the job book that counts as a honey box.
pub fn full_boxes_home(situation: &Situation, payload: outyard_base::Grams) -> i64 {
    let heaviest = situation
        .jobs
        .gear
        .values()
        .filter(|gear| gear.holds_deeps > 0.0)
        .map(|gear| outyard_base::Grams::ceil_of(gear.weight).get())
        .max()
        .unwrap_or(1);
    payload.get() / heaviest.max(1)
}

fn stop_view(
    situation: &Situation,
    worked: &Worked,
    run: &Run,
    date: Date,
    times: &RunTimes,
    visit: usize,
) -> StopView {
    let due = &worked.due[visit];
    let kept = situation.outfit.yards.get(&due.yard).map(|yard| &yard.kept);
    let stop = times.stops.iter().find(|stop| stop.visit == visit).expect("the visit is on this run");
    let gate: &GateDay = &worked.gates[visit][run.day];
    let all_day = gate.open.is_some_and(|(from, to)| from.minutes().get() == 0 && to.minutes().get() >= 1440);
    let open = gate.open.filter(|_| !all_day);
    StopView {
        visit: due.key.clone(),
        yard: due.yard.as_str().to_owned(),
        name: kept.map(|kept| kept.name.clone()).unwrap_or_default(),
        gate: kept.map(|kept| kept.gate.clone()).unwrap_or_default(),
        wet_road: kept.is_some_and(|kept| kept.wet_road),
        landowner: kept.map(|kept| kept.landowner.clone()).unwrap_or_default(),
        latitude: kept.and_then(|kept| kept.place).map(outyard_base::Place::latitude),
        longitude: kept.and_then(|kept| kept.place).map(outyard_base::Place::longitude),
        arrive: stop.arrive.to_string(),
        start: stop.start.to_string(),
        end: stop.end.to_string(),
        work_min: (stop.end - stop.start).get(),
        jobs: job_views(situation, due),
        gear: load_lines(situation, &due.gear_out, false).into_iter().filter(|line| !line.comes_home).collect(),
        open_from: open.map(|open| open.0.to_string()),
        open_to: open.map(|open| open.1.to_string()),
        weather: gate.deciding.clone(),
        a_day_more_cents: due.curve.a_day_more(run.day).get(),
        starts: clocks_started(situation, due, date),
    }
}

/// A due visit with its place in the plan.
pub fn due_view(situation: &Situation, worked: &Worked, visit: usize) -> DueView {
    let due = &worked.due[visit];
    let planned: &Planned = &worked.planned;
    let places = planned.plan.assignments(worked.due.len());
    let place = places[visit];
    let lead_day = due.follows.and_then(|follow| places[follow.after]).map(|(day, _)| day_of(situation.today, day));
    let window = due.window_after(lead_day);
    let last = due.waiting.len().saturating_sub(1);
    let range = due.curve.range_on(last);
    DueView {
        visit: due.key.clone(),
        yard: due.yard.as_str().to_owned(),
        what: due.what(&situation.jobs),
        from: window.from.to_string(),
        best: window.best.to_string(),
        to: window.to.map(|to| to.to_string()),
        planned: place.map(|(day, _)| day_of(situation.today, day).to_string()),
        crew: place.map(|(_, crew)| situation.settings.crews[crew].id.as_str().to_owned()),
        waiting_cents: due.waiting.iter().map(|cents| cents.get()).collect(),
        waiting_last_day_cents: (range.low.get(), range.likely.get(), range.high.get()),
        pair_minutes: due.pair_minutes.get(),
        reasons: due.reasons(),
    }
}

/// The runs of a plan, day by day.
pub fn run_views(situation: &Situation, worked: &Worked) -> Vec<RunView> {
    worked.planned.plan.runs.iter().map(|run| run_view(situation, worked, run)).collect()
}

/// The morning page.
pub fn morning(situation: &Situation, worked: &Worked) -> MorningView {
    let runs = run_views(situation, worked);
    let date = situation.today.to_string();
    let (today, later) = runs.into_iter().partition(|run| run.date == date);
    let places = worked.planned.plan.assignments(worked.due.len());
    // A visit that a put-down calls for is no news before that put-down stands in the plan.
    let called_for = |visit: usize| worked.due[visit].follows.is_none_or(|follow| places[follow.after].is_some());
    let left_out = (0..worked.due.len())
        .filter(|visit| places[*visit].is_none() && called_for(*visit))
        .map(|visit| due_view(situation, worked, visit))
        .collect();
    MorningView {
        outfit: situation.settings.name.clone(),
        said: format!("{} {}", weekday(situation.today), day_month(situation.today)),
        date,
        colonies: situation.outfit.colonies().to_string(),
        yards: situation.outfit.kept_yards().count(),
        flow: DatesView::of(&flow_over(&worked.seasons)),
        gain_today_kg: gain_today(worked),
        gates: gates_today(situation, worked),
        today,
        later,
        left_out,
        told: PlanToldView::of(situation, worked),
        stock: stock_view(situation, worked),
        bill: BillView::of(&worked.bill),
        unsettled: situation.outfit.conflicts.len(),
        oldest_count: situation
            .outfit
            .kept_yards()
            .filter_map(|(_, yard)| yard.counted_on)
            .min()
            .map(|date| date.to_string()),
    }
}

/// The day of the week, written out.
pub fn weekday(date: Date) -> &'static str {
    weekday_word(date.weekday())
}

/// A day of the week, written out.
pub fn weekday_word(day: jiff::civil::Weekday) -> &'static str {
    use jiff::civil::Weekday;
    match day {
        Weekday::Monday => "Monday",
        Weekday::Tuesday => "Tuesday",
        Weekday::Wednesday => "Wednesday",
        Weekday::Thursday => "Thursday",
        Weekday::Friday => "Friday",
        Weekday::Saturday => "Saturday",
        Weekday::Sunday => "Sunday",
    }
}

fn gain_today(worked: &Worked) -> Option<RangeView> {
    let sample: Vec<f64> = worked
        .seasons
        .values()
        .flat_map(|ahead| ahead.season.gain.iter().filter_map(|gains| gains.first().copied()))
        .collect();
    Range::of_sample(&sample).map(RangeView::of)
}

fn gates_today(situation: &Situation, worked: &Worked) -> Vec<GateView> {
    let mut by_gate: BTreeMap<&str, BTreeMap<&YardId, GateDay>> = BTreeMap::new();
    let mut jobs_of: BTreeMap<&str, std::collections::BTreeSet<&str>> = BTreeMap::new();
    for due in &worked.due {
        for chore in &due.chores {
            let Some(job) = situation.jobs.jobs.get(&chore.job) else { continue };
            jobs_of.entry(job.gate.as_str()).or_default().insert(job.code.as_str());
            let gates = by_gate.entry(job.gate.as_str()).or_default();
            if !gates.contains_key(&due.yard) {
                let gate = situation.jobs.gate_of(job);
                gates.insert(&due.yard, crate::seasons::gate_day(situation, &worked.seasons[&due.yard], gate, 0));
            }
        }
    }
    by_gate
        .into_iter()
        .filter_map(|(code, yards)| {
            let gate = situation.jobs.gates.get(code)?;
            let open: Vec<&GateDay> = yards.values().filter(|day| day.open.is_some()).collect();
            let from = open.iter().filter_map(|day| day.open.map(|open| open.0)).min();
            let to = open.iter().filter_map(|day| day.open.map(|open| open.1)).max();
            // Said by a yard on the side of the majority.
            let mostly_open = open.len() * 2 >= yards.len();
            let deciding = yards
                .values()
                .find(|day| day.open.is_some() == mostly_open)
                .map(|day| day.deciding.clone())
                .unwrap_or_default();
            Some(GateView {
                jobs: jobs_of[code].iter().map(|job| (*job).to_owned()).collect(),
                words: gate.limits(),
                yards_open: open.len(),
                yards: yards.len(),
                hours: from.zip(to).map(|(from, to)| (from.to_string(), to.to_string())),
                deciding,
                instead: gate.instead.clone(),
            })
        })
        .collect()
}

fn stock_view(situation: &Situation, worked: &Worked) -> Vec<StockView> {
    let mut wanted: BTreeMap<String, i64> = BTreeMap::new();
    for run in &worked.planned.plan.runs {
        for &visit in &run.stops {
            for (gear, count) in &worked.due[visit].gear_out.in_yards {
                *wanted.entry(shed_gear(&situation.jobs, gear).as_str().to_owned()).or_default() += i64::from(*count);
            }
        }
    }
    wanted
        .into_iter()
        .filter_map(|(gear, wanted)| {
            let code = outyard_base::GearCode::new(&gear).ok()?;
            situation.gear_is_kept(&code).then(|| {
                let ready = situation.ready_to_go(&code);
                StockView { gear, ready, wanted, left: ready - wanted }
            })
        })
        .collect()
}

/// Money in words of a page.
pub fn money(cents: i64) -> String {
    Cents(cents).whole()
}
