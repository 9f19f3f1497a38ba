//! The jobs that are due at a yard, one by one, each with its window, its cost of waiting and its reason.

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::range::day_month;
use outyard_base::{Cents, DateRange, JobCode};
use outyard_trade::clocks::{ClockStart, marks};
use outyard_trade::jobbook::JobBook;
use outyard_trade::{Kind, KindCounts};

use super::stack::{Stack, colonies_of, vigour};
use super::waiting::{
    CELLS_SHARE, QUEEN_UP_DAYS, STARVE_SHARE_PER_DAY, VIRGIN_DAYS, WINTER_POINTS_PER_DAY, WaitingCurve, evenly_from,
    no_room, not_put_down,
};
use super::{PutDown, YardSeason, YardToday};

/// Which clock made a chore due.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ClockSort {
    /// The bees' own development: it stands whatever the weather does.
    Brood,
    /// The boxes filling: it moves with every day's gain.
    Fill,
    /// The time of year.
    Season,
}

/// From when to when a chore should be done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Window {
    /// First day on which it may be done.
    pub from: Date,
    /// The day to plan with.
    pub best: Date,
    /// Last day before it costs; `None` when it costs from the first day on.
    pub to: Option<Date>,
}

/// One job due at one yard.
#[derive(Clone, Debug, PartialEq)]
pub struct Chore {
    /// The job.
    pub job: JobCode,
    /// Colonies it is for.
    pub colonies: KindCounts,
    /// Which clock made it due.
    pub clock: ClockSort,
    /// When.
    pub window: Window,
    /// What waiting costs.
    pub waiting: WaitingCurve,
    /// Gear it takes beyond what the job book says for each colony: boxes for what the flow will bring.
    pub boxes_each: f64,
    /// Why, in words with the numbers that matter.
    pub reason: String,
}

/// The day after a put-down on which the return visit is planned, its first and its last day (common practice, no source).
const RETURN: (i64, i64, i64) = (12, 14, 16);
/// Days for which boxes are put on at once: until the crew is back again. Assumed.
const DAYS_TO_NEXT_ROUND: usize = 12;
/// Most boxes put on one colony at once.
const BOXES_AT_ONCE_MAX: f64 = 3.0;
/// Honey above the excluder, in full deeps a colony, from which a pull is worth the trip. Assumed.
const PULL_FROM_DEEPS: f64 = 2.0;
/// Days after a split's best day within which a failed one can still be mended. Assumed.
const SPLIT_LATE_DAYS: f64 = 14.0;
/// Splits that fail when nobody looks (common practice, no source: 15 to 25 %).
const SPLIT_FAILS: f64 = 0.15;

/// Fewer colonies than one in so many of the yard are stragglers. Assumed.
const STRAGGLERS_UNDER: u32 = 4;

/// What chores are worked out from.
#[derive(Clone, Copy, Debug)]
pub struct ChoreInput<'a> {
    /// The job book.
    pub jobs: &'a JobBook,
    /// How the yard stands.
    pub yard: &'a YardToday,
    /// Its season.
    pub season: &'a YardSeason,
    /// What stands above its excluders.
    pub stacks: &'a [Stack],
    /// This morning.
    pub today: Date,
    /// Days of the plan.
    pub days: usize,
    /// The way the outfit puts doubles down.
    pub put_down_by: &'a JobCode,
}

/// All chores of a yard that fall due within the plan or are late already.
pub fn chores(input: &ChoreInput<'_>) -> Vec<Chore> {
    let mut all = Vec::new();
    all.extend(put_down(input));
    for round in &input.yard.put_downs {
        all.extend(cell_look(input, round));
    }
    all.extend(return_visit(input));
    all.extend(pull(input));
    all.extend(split_checks(input));
    all.extend(by_season(input));
    let last = plus_days(input.today, i64::try_from(input.days).unwrap_or(28) - 1);
    all.retain(|chore| chore.window.from <= last && !chore.colonies.is_empty());
    all
}

fn job_code(text: &str) -> JobCode {
    JobCode::new(text).expect("the codes written in this room are short and plain")
}

fn done_since(yard: &YardToday, job: &str, since: Date) -> bool {
    yard.done.iter().any(|done| done.job.as_str() == job && done.on >= since)
}

/// Doubles to put down and splits to lift brood for, from the day the flow begins.
fn put_down(input: &ChoreInput<'_>) -> Vec<Chore> {
    let ChoreInput { season, yard, jobs, today, days, .. } = *input;
    let Some(first_on) = season.begins.early else { return Vec::new() };
    if season.ends.likely.is_some_and(|end| end <= today) {
        return Vec::new();
    }
    let begun = season.begins.likely.is_some_and(|begins| begins <= today);
    let already: KindCounts = yard.put_downs.iter().map(|round| round.colonies).sum();
    let splits = yard.standing.get(Kind::Split).saturating_sub(already.get(Kind::Split));
    let doubles = yard.standing.get(Kind::Double);
    let jobs_due = [
        (input.put_down_by.clone(), Kind::Double, doubles, jobs.worth.late_put_down_kg_per_day),
        (job_code("brood-lift"), Kind::Split, splits, jobs.worth.late_brood_lift_kg_per_day),
    ];
    let mut chores = Vec::new();
    for (job, kind, count, kg_per_day) in jobs_due {
        if count == 0 {
            continue;
        }
        let waiting = not_put_down(season, count, kg_per_day, &jobs.worth, days);
        let flow = if begun { "the flow is on".to_owned() } else { format!("flow expected {}", season.begins) };
        let reason = format!(
            "{flow}; {count} {} still up at {:.1} kg a day; each day costs {}",
            kind.label(count),
            season.mean_gain(0),
            waiting.a_day_more(if begun { 0 } else { days.saturating_sub(1) }).whole()
        );
        chores.push(Chore {
            job,
            colonies: KindCounts::of(&[(kind, count)]),
            clock: ClockSort::Fill,
            window: Window {
                from: first_on.max(today),
                best: season.begins.likely.unwrap_or(first_on).max(today),
                to: None,
            },
            waiting,
            boxes_each: 0.0,
            reason,
        });
    }
    chores
}

/// Chores that a put-down still to be done will call for, each with the fewest and most days after it. They cost nothing
/// by themselves: their windows hang on the day of the put-down, not on the calendar.
pub(super) fn put_down_follow_ups(input: &ChoreInput<'_>, chores: &[Chore], from: Date) -> Vec<(Chore, (u32, u32))> {
    let put_down: KindCounts = chores
        .iter()
        .filter(|chore| {
            let starts = input.jobs.jobs.get(&chore.job).map(|job| &job.starts);
            starts.is_some_and(|starts| starts.contains(&ClockStart::ExcluderUnderBrood))
        })
        .map(|chore| chore.colonies)
        .sum();
    // A few stragglers are looked at whenever somebody is in the yard; they call for no trip of their own.
    if put_down.total() * STRAGGLERS_UNDER < input.yard.standing.total() {
        return Vec::new();
    }
    let singles = KindCounts::of(&[(Kind::Single, put_down.get(Kind::Double))]);
    let all: KindCounts = put_down.iter().map(|(kind, count)| (worked_as(kind), count)).collect();
    let look = marks(ClockStart::ExcluderUnderBrood).iter().find(|mark| mark.code == "cell-look");
    let mut more = Vec::new();
    let last = plus_days(input.today, i64::try_from(input.days).unwrap_or(28) - 1);
    let days = |from: i64, to: i64| {
        (u32::try_from(from).expect("days after a job"), u32::try_from(to).expect("days after a job"))
    };
    let chore = |job: &str, colonies: KindCounts, first: i64, best: i64, to: i64, boxes_each: f64, why: &str| Chore {
        job: job_code(job),
        colonies,
        clock: ClockSort::Brood,
        window: Window { from: plus_days(from, first), best: plus_days(from, best), to: None },
        waiting: WaitingCurve::certain(input.season.gain.len(), vec![0.0; input.days + 1]),
        boxes_each,
        reason: format!("{why}: days {first} to {to} after the put-down of this plan"),
    };
    if let Some((look, to)) = look.and_then(|look| look.to_day.map(|to| (look, to)))
        && !singles.is_empty()
    {
        let chore =
            chore("unwanted-cells-check", singles, look.from_day, look.best_day, to, 0.0, "look for queen cells");
        more.push((chore, days(look.from_day, to)));
    }
    if !all.is_empty() {
        let (first, best, to) = RETURN;
        more.push((chore("add-boxes", all, first, best, to, 1.0, "return with boxes"), days(first, to)));
    }
    more.retain(|(chore, _)| chore.window.from <= last);
    more
}

/// The one look for unwanted queen cells above, days 7 to 9.
fn cell_look(input: &ChoreInput<'_>, round: &PutDown) -> Option<Chore> {
    let mark = marks(ClockStart::ExcluderUnderBrood).iter().find(|mark| mark.code == "cell-look")?;
    let dated = mark.dated(round.day0);
    let to = dated.to?;
    if done_since(input.yard, "unwanted-cells-check", dated.from) || days_from(to, input.today) > 7 {
        return None;
    }
    // What was a double at the put-down is worked as a single since.
    let colonies = KindCounts::of(&[(Kind::Single, round.colonies.get(Kind::Double))]);
    let count = f64::from(colonies.total());
    let worth = input.jobs.worth.late_queen().amount();
    let per_day = count * CELLS_SHARE * worth / VIRGIN_DAYS;
    let waiting =
        evenly_from(input.season.gain.len(), days_from(input.today, to), per_day, Some(VIRGIN_DAYS), input.days);
    Some(Chore {
        job: job_code("unwanted-cells-check"),
        colonies,
        clock: ClockSort::Brood,
        window: Window { from: dated.from, best: dated.best, to: Some(to) },
        reason: format!(
            "put down {}: cells to be seen {} to {}; a virgin may be loose from {}",
            day_month(round.day0),
            day_month(dated.from),
            day_month(to),
            day_month(plus_days(to, 1))
        ),
        waiting,
        boxes_each: 0.0,
    })
}

/// The return: look where the queen is, and boxes for what the flow will bring.
fn return_visit(input: &ChoreInput<'_>) -> Vec<Chore> {
    let ChoreInput { season, stacks, jobs, today, days, .. } = *input;
    if stacks.is_empty() || season.ends.likely.is_some_and(|end| end <= today) {
        return Vec::new();
    }
    let mut chores = Vec::new();
    let first_return = stacks
        .iter()
        .filter(|stack| {
            stack.kind == Kind::Double && !done_since(input.yard, "open-brood-test", plus_days(stack.day0, 10))
        })
        .map(|stack| stack.day0)
        .min();
    if let Some(day0) = first_return.filter(|day0| days_from(*day0, today) < 30) {
        chores.push(queen_check(input, day0));
    }
    let waiting = stacks
        .iter()
        .map(|stack| no_room(season, stack, &jobs.worth, days))
        .fold(WaitingCurve::default(), |sum, curve| sum.and(&curve));
    let full = full_dates(season, stacks, today);
    let Some(first_full) = full.early else { return chores };
    let fullest = stacks.iter().map(Stack::share_full).fold(0.0, f64::max);
    // Empty boxes on a colony that does not need them yet only cool it: no more are brought before it is two thirds full.
    let in_time = plus_days(first_full, -1).max(today);
    let from = full.likely.map_or(in_time, |likely| plus_days(likely, -5)).min(in_time).max(today);
    let boxes_each = boxes_to_bring(season, stacks, jobs.worth.full_deep_kg.get());
    let per_day = waiting.a_day_more(days.saturating_sub(1));
    let reason = format!(
        "boxes {:.0} % full, full {full}; {} colonies at {:.1} kg a day; once full a day costs about {}",
        fullest * 100.0,
        colonies_of(stacks).total(),
        season.mean_gain(0),
        per_day.max(loss_a_day(season, stacks, jobs)).whole()
    );
    chores.push(Chore {
        job: job_code("add-boxes"),
        colonies: standing_kinds(stacks),
        clock: ClockSort::Fill,
        window: Window { from, best: in_time, to: full.likely.map(|likely| likely.max(today)) },
        waiting,
        boxes_each,
        reason,
    });
    chores
}

/// After the put-down a double is worked as a single.
fn standing_kinds(stacks: &[Stack]) -> KindCounts {
    stacks.iter().map(|stack| KindCounts::of(&[(worked_as(stack.kind), stack.colonies)])).sum()
}

/// The kind a colony is worked as once it was put down.
pub(super) fn worked_as(kind: Kind) -> Kind {
    if kind == Kind::Double { Kind::Single } else { kind }
}

fn queen_check(input: &ChoreInput<'_>, day0: Date) -> Chore {
    let colonies: KindCounts = input
        .stacks
        .iter()
        .filter(|stack| stack.kind == Kind::Double)
        .map(|stack| KindCounts::of(&[(Kind::Single, stack.colonies)]))
        .sum();
    let fails = input.jobs.jobs.get(input.put_down_by).map_or(0.0, |job| job.fails.get());
    let worth = input.jobs.worth.late_queen().amount();
    let best = plus_days(day0, RETURN.1);
    let per_day = f64::from(colonies.total()) * fails * worth / QUEEN_UP_DAYS;
    let waiting = evenly_from(
        input.season.gain.len(),
        days_from(input.today, plus_days(day0, RETURN.0)),
        per_day,
        Some(QUEEN_UP_DAYS),
        input.days,
    );
    Chore {
        job: job_code("open-brood-test"),
        colonies,
        clock: ClockSort::Brood,
        // Open brood above tells from day 10 on, but a crew that goes so early must come back for the boxes.
        window: Window { from: plus_days(day0, RETURN.0), best, to: Some(plus_days(day0, RETURN.2)) },
        reason: format!(
            "put down {}: return {} ({} to {}), open brood above means a queen is above",
            day_month(day0),
            day_month(best),
            day_month(plus_days(day0, RETURN.0)),
            day_month(plus_days(day0, RETURN.2))
        ),
        waiting,
        boxes_each: 0.0,
    }
}

/// When the first of the stacks is full, over the members.
fn full_dates(season: &YardSeason, stacks: &[Stack], today: Date) -> DateRange {
    DateRange::of_members(season.gain.iter().map(|gains| {
        let soonest = stacks.iter().filter_map(|stack| stack.full_in(gains)).fold(f64::INFINITY, f64::min);
        #[expect(clippy::cast_possible_truncation, reason = "bounded by the days of the outlook")]
        soonest.is_finite().then(|| plus_days(today, soonest.floor() as i64))
    }))
}

/// What a day costs when every stack of the yard is full, at this morning's mean gain.
fn loss_a_day(season: &YardSeason, stacks: &[Stack], jobs: &JobBook) -> Cents {
    let kg: f64 =
        stacks.iter().map(|stack| f64::from(stack.colonies) * vigour(stack.kind) * season.mean_gain(0).max(0.0)).sum();
    Cents::round_of(kg * jobs.worth.lost_once_full.get() * jobs.worth.honey_per_kg.amount())
}

/// Boxes to bring for each colony: what one year in ten would bring until the next round, less what still has room.
fn boxes_to_bring(season: &YardSeason, stacks: &[Stack], deep_kg: f64) -> f64 {
    let coming: Vec<f64> =
        season.gain.iter().map(|gains| gains.iter().take(DAYS_TO_NEXT_ROUND).map(|gain| gain.max(0.0)).sum()).collect();
    let much = outyard_base::Range::of_sample(&coming).map_or(0.0, |range| range.high);
    let colonies: f64 = stacks.iter().map(|stack| f64::from(stack.colonies)).sum();
    let wanted: f64 = stacks
        .iter()
        .map(|stack| {
            let short_kg = much * vigour(stack.kind) - stack.free_kg();
            f64::from(stack.colonies) * (short_kg / deep_kg).ceil().clamp(1.0, BOXES_AT_ONCE_MAX)
        })
        .sum();
    if colonies > 0.0 { wanted / colonies } else { 0.0 }
}

/// Full boxes to be pulled, once the brood above is out; the end of the flow presses.
fn pull(input: &ChoreInput<'_>) -> Option<Chore> {
    let ChoreInput { season, stacks, jobs, today, days, .. } = *input;
    let deep = jobs.worth.full_deep_kg.get();
    let ripe: Vec<&Stack> = stacks
        .iter()
        .filter(|stack| days_from(stack.day0, today) >= 21 && stack.now.held_kg >= PULL_FROM_DEEPS * deep)
        .collect();
    if ripe.is_empty() || done_since(input.yard, "pull", plus_days(today, -7)) {
        return None;
    }
    let colonies: KindCounts =
        ripe.iter().map(|stack| KindCounts::of(&[(worked_as(stack.kind), stack.colonies)])).sum();
    let full_boxes: f64 = ripe.iter().map(|stack| f64::from(stack.colonies) * (stack.now.held_kg / deep).floor()).sum();
    let end = season.ends.likely.unwrap_or_else(|| plus_days(today, 60)).max(today);
    let per_day = f64::from(colonies.total()) * WINTER_POINTS_PER_DAY * jobs.worth.winter_loss.amount();
    let waiting = evenly_from(season.gain.len(), days_from(today, plus_days(end, 7)), per_day, None, days);
    Some(Chore {
        job: job_code("pull"),
        colonies,
        clock: ClockSort::Fill,
        window: Window { from: today, best: end, to: Some(plus_days(end, 7)) },
        waiting,
        boxes_each: full_boxes / f64::from(colonies.total().max(1)),
        reason: format!("about {full_boxes:.0} full boxes stand there; flow ends {}", season.ends),
    })
}

/// Looks the clocks of this year's splits call for.
fn split_checks(input: &ChoreInput<'_>) -> Vec<Chore> {
    let mut chores = Vec::new();
    for done in &input.yard.done {
        let Some(job) = input.jobs.jobs.get(&done.job) else { continue };
        for start in job.starts.iter().filter(|start| still_runs(input, **start)) {
            for mark in marks(*start) {
                let Some(next) = mark.job else { continue };
                let dated = mark.dated(done.on);
                let to = dated.to.unwrap_or_else(|| plus_days(dated.best, 7));
                let passed = days_from(to, input.today) > 14;
                if passed || done_since(input.yard, next, dated.from) || input.jobs.job(next).is_err() {
                    continue;
                }
                let loss = f64::from(done.colonies.total())
                    * SPLIT_FAILS
                    * input.jobs.worth.of_honey(input.jobs.worth.split_not_made_kg).amount();
                chores.push(Chore {
                    job: job_code(next),
                    colonies: input.jobs.job(next).map_or(KindCounts::NONE, |job| job.colonies(&input.yard.standing)),
                    clock: ClockSort::Brood,
                    window: Window { from: dated.from, best: dated.best, to: Some(to) },
                    waiting: evenly_from(
                        input.season.gain.len(),
                        days_from(input.today, to),
                        loss / SPLIT_LATE_DAYS,
                        Some(SPLIT_LATE_DAYS),
                        input.days,
                    ),
                    boxes_each: 0.0,
                    reason: format!("{} on {}: {dated}", job.name, day_month(done.on)),
                });
            }
        }
    }
    chores
}

/// Whether a clock still calls for looks. The put-down has looks of its own, and ends the swarm rounds: it takes the
/// crowding away that they watch for.
fn still_runs(input: &ChoreInput<'_>, start: ClockStart) -> bool {
    match start {
        ClockStart::ExcluderUnderBrood => false,
        ClockStart::SwarmCellsSeenUnclipped | ClockStart::SwarmCellsSeenClipped => {
            let soon = input.season.begins.likely.is_some_and(|begins| days_from(input.today, begins) <= 7);
            input.yard.put_downs.is_empty() && !soon
        }
        _ => true,
    }
}

/// Jobs the time of year calls for.
fn by_season(input: &ChoreInput<'_>) -> Vec<Chore> {
    let ChoreInput { jobs, yard, today, days, season, .. } = *input;
    let winter = jobs.worth.winter_loss.amount();
    let losses = [
        ("mite-wash", WINTER_POINTS_PER_DAY * winter),
        ("treatment-in", WINTER_POINTS_PER_DAY * winter),
        ("feed", STARVE_SHARE_PER_DAY * winter),
        ("wrap", STARVE_SHARE_PER_DAY * winter),
    ];
    let mut chores = Vec::new();
    for (code, each_per_day) in losses {
        let Ok(job) = jobs.job(code) else { continue };
        let Some(window) = job.season else { continue };
        let (from, to) = (window.from.in_year(today.year()), window.to.in_year(today.year()));
        let colonies = job.colonies(&yard.standing);
        if to < from || days_from(to, today) > 30 || done_since(yard, code, plus_days(from, -14)) || colonies.is_empty()
        {
            continue;
        }
        let per_day = f64::from(colonies.total()) * each_per_day;
        chores.push(Chore {
            job: job.code.clone(),
            colonies,
            clock: ClockSort::Season,
            window: Window { from, best: from.max(today), to: Some(to) },
            waiting: evenly_from(season.gain.len(), days_from(today, to), per_day, None, days),
            boxes_each: 0.0,
            reason: format!("{} is due {} to {}", job.name, day_month(from), day_month(to)),
        });
    }
    chores
}
