//! The jobs that are due at a yard, one by one, each with its window, its cost of waiting and its reason.

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::range::day_month;
use outyard_base::{DateRange, JobCode};
use outyard_season::colony::ColonyRules;
use outyard_season::colony::stores::HONEY_SUGAR;
use outyard_season::waiting::Cause;
use outyard_trade::clocks::{ClockStart, marks};
use outyard_trade::jobbook::JobBook;
use outyard_trade::{Kind, KindCounts};

use super::stack::{
    BOXES_AT_ONCE_MAX, FIRST_RETURN_DAY, Followed, colonies_of, mites_in_days, queen_unchecked, still_up,
};
use super::waiting::{
    CELLS_SHARE, STARVE_SHARE_PER_DAY, VIRGIN_DAYS, WINTER_POINTS_PER_DAY, WaitingCurve, evenly_from,
};
use super::{PutDown, YardSeason, YardToday, done_since};

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
const RETURN: (i64, i64, i64) = (FIRST_RETURN_DAY, 14, 16);
/// What boxes cure.
const ROOM: [Cause; 3] = [Cause::NoRoom, Cause::Swarm, Cause::PluggedNest];
/// Days over which a reason sums what waiting costs.
const REASON_DAYS: usize = 7;
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
    /// Its colonies and what becomes of them.
    pub stacks: &'a [Followed],
    /// Figures of the colony.
    pub rules: &'a ColonyRules,
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
    let pull = pull(input);
    let waits_for_pull = pull.is_some();
    all.extend(pull);
    all.extend(split_checks(input));
    all.extend(by_season(input, waits_for_pull));
    let last = plus_days(input.today, i64::try_from(input.days).unwrap_or(28) - 1);
    all.retain(|chore| chore.window.from <= last && !chore.colonies.is_empty());
    all
}

/// Days of the plan until a date; nought for one that is past.
fn day_of_plan(today: Date, date: Date) -> usize {
    usize::try_from(days_from(today, date)).unwrap_or(0)
}

/// What waiting costs by the model, for some stacks and causes, from the first day on which the crew can come.
fn by_model<'a>(
    input: &ChoreInput<'_>,
    stacks: impl IntoIterator<Item = &'a Followed>,
    causes: &[Cause],
    from: Date,
) -> WaitingCurve {
    let sum = stacks
        .into_iter()
        .fold(WaitingCurve::default(), |sum, one| sum.and(&WaitingCurve::of_model(&one.ahead.waiting, causes)));
    if sum.is_empty() {
        return WaitingCurve::certain(input.season.gain.len(), vec![0.0; input.days + 1]);
    }
    sum.counted_from(day_of_plan(input.today, from))
}

/// What a week more costs, and what most of it is for.
fn a_week_more(input: &ChoreInput<'_>, stacks: &[&Followed], causes: &[Cause], from: Date) -> String {
    let day = day_of_plan(input.today, from);
    let of = |causes: &[Cause]| by_model(input, stacks.iter().copied(), causes, from).between(day, day + REASON_DAYS);
    let all = of(causes);
    let most = causes.iter().copied().max_by_key(|cause| of(&[*cause]));
    match most.filter(|_| all.get() >= 50) {
        Some(most) => format!("a week more costs {}, most by {}", all.whole(), lost_by(most)),
        None => "a week more costs nothing yet".to_owned(),
    }
}

/// What a cause takes, in words.
fn lost_by(cause: Cause) -> &'static str {
    match cause {
        Cause::NoRoom => "honey that finds no room",
        Cause::Swarm => "swarms",
        Cause::PluggedNest => "winter bees not raised in plugged nests",
        Cause::QueenAbove => "queens above found late",
        Cause::LateTreatment => "winter bees raised among mites",
    }
}

fn job_code(text: &str) -> JobCode {
    JobCode::new(text).expect("the codes written in this room are short and plain")
}

/// Doubles to put down and splits to lift brood for, from the day the flow begins.
fn put_down(input: &ChoreInput<'_>) -> Vec<Chore> {
    let ChoreInput { season, yard, today, .. } = *input;
    let Some(first_on) = season.begins.early else { return Vec::new() };
    if season.ends.likely.is_some_and(|end| end <= today) {
        return Vec::new();
    }
    let begun = season.begins.likely.is_some_and(|begins| begins <= today);
    let up = still_up(yard);
    let from = first_on.max(today);
    let jobs_due = [(input.put_down_by.clone(), Kind::Double), (job_code("brood-lift"), Kind::Split)];
    let mut chores = Vec::new();
    for (job, kind) in jobs_due {
        let stacks: Vec<&Followed> =
            input.stacks.iter().filter(|one| one.stack.day0.is_none() && one.stack.kind == kind).collect();
        let count = up.get(kind);
        if count == 0 {
            continue;
        }
        let flow = if begun { "the flow is on".to_owned() } else { format!("flow expected {}", season.begins) };
        let reason = format!(
            "{flow}; {count} {} still up bring {:.1} kg a day each, {}; {}",
            kind.label(count),
            offered(&stacks),
            nests_full(&soonest(&stacks, |one| one.ahead.refuses)),
            a_week_more(input, &stacks, &ROOM, from)
        );
        chores.push(Chore {
            job,
            colonies: KindCounts::of(&[(kind, count)]),
            clock: ClockSort::Fill,
            window: Window { from, best: season.begins.likely.unwrap_or(first_on).max(today), to: None },
            waiting: by_model(input, stacks, &ROOM, from),
            boxes_each: 0.0,
            reason,
        });
    }
    chores
}

/// When nests without boxes take no more, in words.
fn nests_full(dates: &DateRange) -> String {
    match (dates.early, dates.likely) {
        (None, _) => "with room in the nest".to_owned(),
        (Some(early), None) => format!("nests perhaps full from {}", day_month(early)),
        _ => format!("nests full {dates}"),
    }
}

/// What a colony could bring a day over the days of the plan, mean of the stacks, kg.
fn offered(stacks: &[&Followed]) -> f64 {
    let colonies: f64 = stacks.iter().map(|one| f64::from(one.stack.colonies)).sum();
    let kg: f64 = stacks.iter().map(|one| f64::from(one.stack.colonies) * one.ahead.offered_kg_per_day).sum();
    if colonies > 0.0 { kg / colonies } else { 0.0 }
}

/// The dates of the stack that comes first.
fn soonest(stacks: &[&Followed], dates: impl Fn(&Followed) -> DateRange) -> DateRange {
    let in_order = |dates: &DateRange| (dates.likely.is_none(), dates.likely, dates.early.is_none(), dates.early);
    stacks.iter().map(|one| dates(one)).min_by_key(in_order).unwrap_or_default()
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
    let ChoreInput { season, today, .. } = *input;
    let stacks: Vec<&Followed> = input.stacks.iter().filter(|one| one.stack.day0.is_some()).collect();
    if stacks.is_empty() || season.ends.likely.is_some_and(|end| end <= today) {
        return Vec::new();
    }
    let mut chores: Vec<Chore> = queen_check(input, &stacks).into_iter().collect();
    let full = full_dates(&stacks, today);
    let Some(first_full) = full.early else { return chores };
    let fullest = stacks.iter().map(|one| one.stack.colony.share_full_above(input.rules)).fold(0.0, f64::max);
    // Empty boxes on a colony that does not need them yet only cool it: no more are brought before it is two thirds full.
    let in_time = plus_days(first_full, -1).max(today);
    let from = full.likely.map_or(in_time, |likely| plus_days(likely, -5)).min(in_time).max(today);
    let to = full.likely.map(|likely| likely.max(today));
    let reason = format!(
        "boxes {:.0} % full, full {full}; {} colonies bring {:.1} kg a day each; from {} {}",
        fullest * 100.0,
        colonies_of(stacks.iter().copied()).total(),
        offered(&stacks),
        day_month(to.unwrap_or(in_time)),
        a_week_more(input, &stacks, &ROOM, to.unwrap_or(in_time))
    );
    chores.push(Chore {
        job: job_code("add-boxes"),
        colonies: worked_kinds(&stacks),
        clock: ClockSort::Fill,
        window: Window { from, best: in_time, to },
        waiting: by_model(input, stacks.iter().copied(), &ROOM, from),
        boxes_each: boxes_to_bring(&stacks),
        reason,
    });
    chores
}

/// Colonies by the kind they are worked as.
fn worked_kinds(stacks: &[&Followed]) -> KindCounts {
    stacks.iter().map(|one| KindCounts::of(&[(worked_as(one.stack.kind), one.stack.colonies)])).sum()
}

/// The kind a colony is worked as once it was put down.
pub(super) fn worked_as(kind: Kind) -> Kind {
    if kind == Kind::Double { Kind::Single } else { kind }
}

/// One comb from the upper box: is a queen above? For the put-downs nobody has looked at yet.
fn queen_check(input: &ChoreInput<'_>, stacks: &[&Followed]) -> Option<Chore> {
    let unchecked: Vec<&Followed> = stacks
        .iter()
        .filter(|one| {
            let day0 = one.stack.day0.filter(|_| one.stack.kind == Kind::Double);
            day0.is_some_and(|day0| queen_unchecked(input.yard, day0, input.today))
        })
        .copied()
        .collect();
    let day0 = unchecked.iter().filter_map(|one| one.stack.day0).min()?;
    let (from, best, to) = (plus_days(day0, RETURN.0), plus_days(day0, RETURN.1), plus_days(day0, RETURN.2));
    let colonies = worked_kinds(&unchecked);
    let costs = by_model(input, unchecked.iter().copied(), &[Cause::QueenAbove], input.today);
    let late = day_of_plan(input.today, from);
    let missed = unchecked.first().map_or(0.0, |one| one.stack.risks.queen_above);
    Some(Chore {
        job: job_code("open-brood-test"),
        colonies,
        clock: ClockSort::Brood,
        // Open brood above tells from day 10 on, but a crew that goes so early must come back for the boxes.
        window: Window { from, best, to: Some(to) },
        reason: format!(
            "put down {}: return {} ({} to {}), open brood above means a queen is above; about {:.0} in {} colonies; a \
             week late costs {}",
            day_month(day0),
            day_month(best),
            day_month(from),
            day_month(to),
            missed * f64::from(colonies.total()),
            colonies.total(),
            costs.between(late, late + REASON_DAYS).whole()
        ),
        waiting: costs,
        boxes_each: 0.0,
    })
}

/// When the first of the stacks is full, over the members.
fn full_dates(stacks: &[&Followed], today: Date) -> DateRange {
    let members = stacks.first().map_or(0, |one| one.ahead.full_in_days.len());
    DateRange::of_members((0..members).map(|member| {
        let soonest = stacks.iter().filter_map(|one| one.ahead.full_in_days[member]).fold(f64::INFINITY, f64::min);
        #[expect(clippy::cast_possible_truncation, reason = "bounded by the days of the outlook")]
        soonest.is_finite().then(|| plus_days(today, soonest.floor() as i64))
    }))
}

/// Boxes to bring for each colony: what it wants in one year of ten until the crew is back.
fn boxes_to_bring(stacks: &[&Followed]) -> f64 {
    let colonies: f64 = stacks.iter().map(|one| f64::from(one.stack.colonies)).sum();
    let wanted: f64 = stacks
        .iter()
        .map(|one| f64::from(one.stack.colonies) * one.ahead.wanted_deeps.high.ceil().clamp(1.0, BOXES_AT_ONCE_MAX))
        .sum();
    if colonies > 0.0 { wanted / colonies } else { 0.0 }
}

/// Full boxes to be pulled, once the brood above is out; the end of the flow presses, and the treatment waits for it.
fn pull(input: &ChoreInput<'_>) -> Option<Chore> {
    let ChoreInput { season, jobs, today, .. } = *input;
    let deep = jobs.worth.full_deep_kg.get();
    let ripe_kg = |one: &Followed| one.stack.colony.above.stores.ripe_sugar_kg / HONEY_SUGAR;
    let ripe: Vec<&Followed> = input
        .stacks
        .iter()
        .filter(|one| one.stack.day0.is_some_and(|day0| days_from(day0, today) >= 21))
        .filter(|one| ripe_kg(one) >= PULL_FROM_DEEPS * deep)
        .collect();
    if ripe.is_empty() || done_since(input.yard, "pull", plus_days(today, -7)) {
        return None;
    }
    let colonies = worked_kinds(&ripe);
    let full_boxes: f64 = ripe.iter().map(|one| f64::from(one.stack.colonies) * (ripe_kg(one) / deep).floor()).sum();
    let end = season.ends.likely.unwrap_or_else(|| plus_days(today, 60)).max(today);
    let waiting = by_model(input, ripe.iter().copied(), &[Cause::LateTreatment], today);
    let mut reason = format!("about {full_boxes:.0} full boxes stand there; flow ends {}", season.ends);
    if waiting.expected_on(input.days).get() > 0 {
        reason.push_str(&format!("; the treatment waits for it: {}", treatment_costs(input, &waiting)));
    }
    Some(Chore {
        job: job_code("pull"),
        colonies,
        clock: ClockSort::Fill,
        window: Window { from: today, best: end, to: Some(plus_days(end, 7)) },
        waiting,
        boxes_each: full_boxes / f64::from(colonies.total().max(1)),
        reason,
    })
}

/// From when a late treatment costs, and how much a week of it.
fn treatment_costs(input: &ChoreInput<'_>, waiting: &WaitingCurve) -> String {
    let from = mites_in_days(input.jobs, input.yard, input.today).unwrap_or(0).max(0);
    let day = usize::try_from(from).unwrap_or(0);
    format!(
        "from {} on winter bees are raised among mites, a week of it costs {}",
        day_month(plus_days(input.today, from)),
        waiting.between(day, day + REASON_DAYS).whole()
    )
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

/// Jobs the time of year calls for. A treatment that waits for a pull has its cost there.
fn by_season(input: &ChoreInput<'_>, waits_for_pull: bool) -> Vec<Chore> {
    let ChoreInput { jobs, yard, today, days, season, .. } = *input;
    let winter = jobs.worth.winter_loss.amount();
    let losses = [
        ("mite-wash", WINTER_POINTS_PER_DAY * winter),
        ("treatment-in", 0.0),
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
        let mut reason = format!("{} is due {} to {}", job.name, day_month(from), day_month(to));
        let mut waiting = evenly_from(season.gain.len(), days_from(today, to), per_day, None, days);
        if code == "treatment-in" && !waits_for_pull {
            waiting = by_model(input, input.stacks, &[Cause::LateTreatment], from.max(today));
            reason.push_str(&format!("; {}", treatment_costs(input, &waiting)));
        }
        chores.push(Chore {
            job: job.code.clone(),
            colonies,
            clock: ClockSort::Season,
            window: Window { from, best: from.max(today), to: Some(to) },
            waiting,
            boxes_each: 0.0,
            reason,
        });
    }
    chores
}
