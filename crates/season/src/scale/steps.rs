//! Finds visits in a series and says what stayed changed.

use jiff::tz::TimeZone;
use outyard_base::days::days_from;
use outyard_base::range::quantile;
use outyard_base::{Kilograms, Share};

use super::clean::{Series, hours, instant};
use super::{Change, ChangeKind, Night, ScaleRules};

/// Fastest gain of a colony, kg/h, and the most taken for gain in one step however long.
const RISE_KG_PER_H: f64 = 1.2;
const RISE_MOST_KG: f64 = 2.5;

/// How much more a building flow may bring in than on the best of the two days before. Assumed.
const RISE_GROWS: f64 = 2.0;

/// The most taken for gain in one step of [`LONG_STEP_S`] or more, kg.
const LONG_RISE_MOST_KG: f64 = 3.2;

/// Change in one step that is work however much the days around it scatter, kg: less than any flow adds to twice the best of
/// the days before, and more than a hive loses to flight, drying and rain together. Assumed.
const SURE_RISE_KG: f64 = 6.0;
const SURE_FALL_KG: f64 = 3.0;

/// Fastest loss by flight, drying and eating, kg/h, and the most taken for it in one step however long.
const FALL_KG_PER_H: f64 = 0.6;
const FALL_MOST_KG: f64 = 1.2;

/// Most that is taken for gain or loss in a day across a gap, kg/d.
const GAP_RISE_KG_PER_D: f64 = 5.0;
const GAP_FALL_KG_PER_D: f64 = 1.0;

/// Loss from which full boxes were pulled and not empty gear, kg.
const FULL_BOX_KG: f64 = 8.0;

/// Part of feed that must dry off within a week for a box to be taken for feed.
const FEED_DRIES: f64 = 0.1;

/// Net gain of a hive on a day without flow, kg/d: middle of the practice range -0.05 to -0.3.
const USUAL_GAIN_KG_PER_D: f64 = -0.15;

/// Error of a step on the best scale: a tenth of a kilogram, one standard deviation. Assumed.
const STEP_ERROR_KG: f64 = 0.1;

/// Loss that may be a swarm, kg, and how long it takes to leave, s.
const SWARM_KG: core::ops::RangeInclusive<f64> = 0.7..=5.0;
const SWARM_S: core::ops::RangeInclusive<i64> = 300..=3600;

/// A weight within this of nought is that of an empty scale, kg.
const EMPTY_SCALE_KG: f64 = 1.0;

/// Step from which the best gain of the days before is heeded, s.
const LONG_STEP_S: i64 = 3 * 3600;

/// Step from which a jump may stand in two readings: they are means, or the crew was there at one of them, s.
const SMEARS_FROM_S: i64 = 30 * 60;

/// Part of a jump that a neighbour must take back to be the end of the same visit.
const TAKES_BACK: f64 = 0.5;

/// Least part that the smaller of two halves of a jump is of the larger. Assumed.
const HALF_LEAST: f64 = 0.25;

/// How much of the errors of the steps in one visit they have in common. Assumed.
const ERR_TOGETHER: f64 = 0.5;

/// Hours before and after a visit that tell how fast the hive gains that day, s.
const ROUND_S: i64 = 2 * 3600;

/// The step for which `noise_widths` is told, s. With fewer readings a season fewer are far out by chance.
const WIDTHS_STEP_S: i64 = 300;
const WIDTHS_SEASON_S: i64 = 100 * DAY_S;

/// Changes of a long step's neighbours that may themselves be work, on either side, and neighbours needed. Assumed.
const MAY_BE_WORK: usize = 1;
const OTHERS_LEAST: usize = 8;

/// How many times the best of the days around a rise must be, and how much farther off than the days around a change, to be
/// work. Assumed.
const OTHERS_GROW: f64 = 1.75;
const OTHERS_MARGIN_KG: f64 = 1.0;

/// How much more than the best of the two days after the first day of a flow may bring in. Assumed.
const SOON_GROWS: f64 = 1.25;

/// Loss within one step of [`LONG_STEP_S`] or more that no night without flow, flight and drying rain bring together, kg.
const LONG_FALL_MOST_KG: f64 = 2.0;

/// Scatter that even the best scale has, kg.
const LEAST_SCATTER_KG: f64 = 0.005;

const DAY_S: i64 = 86_400;

/// What the weight usually does between two readings, and how surely.
pub(super) struct Expected {
    /// Scatter of that change, kg.
    pub(super) scatter_kg: Vec<f64>,
    /// Weight less all expected changes, kg.
    flat_kg: Vec<f64>,
    /// The same hours of the days around; only for steps of [`LONG_STEP_S`] and more, and with enough days around.
    others: Vec<Option<Others>>,
}

impl Expected {
    /// The middle change of the same hour over the days around each.
    pub(super) fn of(series: &Series, rules: &ScaleRules) -> Self {
        let bins = DAY_S / series.step_s.clamp(3600, DAY_S);
        let slot_of = |index: usize| {
            let local = i64::midpoint(series.local[index - 1], series.local[index]);
            (local.div_euclid(DAY_S), local.rem_euclid(DAY_S) * bins / DAY_S)
        };
        let first_day = slot_of(1).0;
        let last_day = slot_of(series.len() - 1).0;
        let usual = |index: usize| series.span_s(index) <= series.gap_s();
        let place = |day: i64, bin: i64| usize::try_from((day - first_day) * bins + bin).expect("not before the first");
        let mut pools: Vec<Vec<f64>> = vec![Vec::new(); place(last_day, bins)];
        for index in 1..series.len() {
            if usual(index) {
                let (day, bin) = slot_of(index);
                // As if every span were the usual step.
                let rate = (series.kg[index] - series.kg[index - 1]) / hours(series.span_s(index));
                pools[place(day, bin)].push(rate * series.step_h());
            }
        }
        let mut made: Vec<Option<(f64, f64)>> = vec![None; pools.len()];
        let mut around = Vec::new();
        let mut near_kg = Vec::new();
        let mut flat = series.kg[0];
        let mut flat_kg = vec![flat];
        let mut scatter_kg = vec![LEAST_SCATTER_KG];
        let mut others = vec![None];
        for index in 1..series.len() {
            let (day, bin) = slot_of(index);
            let (change, scatter) = *made[place(day, bin)].get_or_insert_with(|| {
                around.clear();
                for near in (day - rules.half_window_days).max(first_day)..=(day + rules.half_window_days).min(last_day)
                {
                    around.extend_from_slice(&pools[place(near, bin)]);
                }
                middle_and_scatter(&mut around)
            });
            let steps = hours(series.span_s(index)) / series.step_h();
            others.push(if series.step_s < LONG_STEP_S {
                None
            } else {
                near_kg.clear();
                for near in (day - rules.half_window_days).max(first_day)..=(day + rules.half_window_days).min(last_day)
                {
                    if near != day {
                        near_kg.extend_from_slice(&pools[place(near, bin)]);
                    }
                }
                Others::of(&mut near_kg, change)
            });
            flat += series.kg[index] - series.kg[index - 1] - change * steps;
            flat_kg.push(flat);
            scatter_kg.push(scatter.max(LEAST_SCATTER_KG) * steps.max(1.0).sqrt());
        }
        Self { scatter_kg, flat_kg, others }
    }

    /// Change up to a reading beyond the expected one, kg.
    fn beyond_kg(&self, index: usize) -> f64 {
        self.flat_kg[index] - self.flat_kg[index - 1]
    }
}

/// What the same hours of the days around show, the one on either side that may be work left aside.
#[derive(Clone, Copy, Debug)]
#[expect(clippy::struct_field_names, reason = "units stand last in a name")]
struct Others {
    /// Middle change, kg.
    middle_kg: f64,
    /// Least change, kg.
    least_kg: f64,
    /// Most, kg.
    most_kg: f64,
}

impl Others {
    fn of(changes: &mut [f64], middle_kg: f64) -> Option<Self> {
        changes.sort_by(f64::total_cmp);
        let last = changes.len().checked_sub(1 + MAY_BE_WORK)?;
        (changes.len() >= OTHERS_LEAST).then(|| Self {
            middle_kg,
            least_kg: changes[MAY_BE_WORK],
            most_kg: changes[last],
        })
    }

    /// Rise beyond the middle that other days do not come near, kg.
    fn rise_kg(&self) -> f64 {
        OTHERS_GROW * self.most_kg.max(0.0) + OTHERS_MARGIN_KG - self.middle_kg
    }

    /// Fall beyond the middle that other days do not come near, kg above nought.
    fn fall_kg(&self) -> f64 {
        self.middle_kg - self.least_kg.min(0.0) + OTHERS_MARGIN_KG
    }
}

/// Median and robust standard deviation. Fewer than five values say nothing of the scatter.
fn middle_and_scatter(values: &mut [f64]) -> (f64, f64) {
    if values.is_empty() {
        return (0.0, LEAST_SCATTER_KG);
    }
    values.sort_by(f64::total_cmp);
    let middle = quantile(values, 0.5);
    if values.len() < 5 {
        return (middle, LEAST_SCATTER_KG);
    }
    for value in values.iter_mut() {
        *value = (*value - middle).abs();
    }
    values.sort_by(f64::total_cmp);
    (middle, 1.4826 * quantile(values, 0.5))
}

/// Readings touched by one visit: the last untouched one before it, the first untouched one after it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Visit {
    before: usize,
    after: usize,
    gap: bool,
}

/// Changes between readings that are work or a gap, joined to visits.
pub(super) fn find_visits(series: &Series, expected: &Expected, rules: &ScaleRules) -> Vec<Visit> {
    let mut visits: Vec<Visit> = Vec::new();
    let mut work = vec![false; series.len()];
    for index in 1..series.len() {
        if series.span_s(index) > series.gap_s() {
            visits.push(Visit { before: index - 1, after: index, gap: true });
            continue;
        }
        let lately_kg = rise_lately_kg(series, expected, &work, index);
        work[index] = is_work(series, expected, rules, index, lately_kg)
            || is_half_of_work(series, expected, rules, &work, index);
        if !work[index] {
            continue;
        }
        match visits.last_mut() {
            Some(last) if !last.gap && series.at[index - 1] - series.at[last.after] <= rules.visit_gap.get() * 60 => {
                last.after = index;
            }
            _ => visits.push(Visit { before: index - 1, after: index, gap: false }),
        }
    }
    if series.step_s >= SMEARS_FROM_S {
        for visit in visits.iter_mut().filter(|visit| !visit.gap) {
            widen(series, expected, visit);
        }
        // Two visits that now share a step are one.
        visits.dedup_by(|next, last| {
            let touch = !next.gap && !last.gap && next.before < last.after;
            if touch {
                last.after = next.after;
            }
            touch
        });
    }
    visits
}

/// Greatest gain in the same step of the two days before, for long steps; a flow that builds up may double it.
fn rise_lately_kg(series: &Series, expected: &Expected, work: &[bool], index: usize) -> f64 {
    if series.step_s < LONG_STEP_S {
        return 0.0;
    }
    let steps_a_day = usize::try_from((DAY_S / series.step_s).max(1)).expect("at most 86,400");
    (1..=2)
        .filter_map(|days| index.checked_sub(days * steps_a_day).filter(|before| *before > 0 && !work[*before]))
        .map(|before| expected.beyond_kg(before))
        .fold(0.0, f64::max)
}

/// Greatest gain in the same step of the two days after, as far as they are read, for long steps: a flow that begins goes on.
fn rise_soon_kg(series: &Series, expected: &Expected, index: usize) -> f64 {
    if series.step_s < LONG_STEP_S {
        return 0.0;
    }
    let steps_a_day = usize::try_from((DAY_S / series.step_s).max(1)).expect("at most 86,400");
    (1..=2)
        .map(|days| index + days * steps_a_day)
        .filter(|after| *after < series.len())
        .map(|after| expected.beyond_kg(after))
        .fold(0.0, f64::max)
}

fn is_work(series: &Series, expected: &Expected, rules: &ScaleRules, index: usize, lately_kg: f64) -> bool {
    let beyond = expected.beyond_kg(index);
    let span_h = hours(series.span_s(index));
    let rise_most = if series.step_s < LONG_STEP_S { RISE_MOST_KG } else { LONG_RISE_MOST_KG };
    let by_bees = if beyond > 0.0 {
        let goes_on_kg = SOON_GROWS * rise_soon_kg(series, expected, index);
        (RISE_KG_PER_H * span_h).min(rise_most.max(RISE_GROWS * lately_kg).max(goes_on_kg))
    } else {
        (FALL_KG_PER_H * span_h).min(FALL_MOST_KG)
    };
    let change = series.kg[index] - series.kg[index - 1];
    let by_widths = rules.noise_widths * fewer_widths(series.step_s) * expected.scatter_kg[index];
    let by_noise = match expected.others[index] {
        Some(others) if beyond > 0.0 => by_widths.min(others.rise_kg()),
        Some(others) if change < -LONG_FALL_MOST_KG => by_widths.min(others.fall_kg()),
        _ => by_widths,
    };
    let sure = change > SURE_RISE_KG + RISE_GROWS * lately_kg || change < -SURE_FALL_KG;
    let by_noise = if sure { 0.0 } else { by_noise };
    beyond.abs() > by_noise.max(by_bees).max(rules.least_change.get() / 2.0)
}

/// A jump within a mean of half a day shows as two rises or falls in a row, each perhaps too small: together they are what
/// bees cannot do in a day. True for the first of the two; the second is taken in as its neighbour.
fn is_half_of_work(series: &Series, expected: &Expected, rules: &ScaleRules, work: &[bool], index: usize) -> bool {
    if series.step_s < LONG_STEP_S || index + 1 >= series.len() || series.span_s(index + 1) > series.gap_s() {
        return false;
    }
    let (one, other) = (expected.beyond_kg(index), expected.beyond_kg(index + 1));
    let (smaller, larger) = (one.abs().min(other.abs()), one.abs().max(other.abs()));
    if one.signum().total_cmp(&other.signum()).is_ne() || smaller < HALF_LEAST * larger {
        return false;
    }
    let widths = rules.noise_widths * fewer_widths(series.step_s);
    let by_noise = widths * expected.scatter_kg[index].hypot(expected.scatter_kg[index + 1]);
    let by_bees = if one > 0.0 {
        // A flow that begins goes on: before the day after is read, only what no flow brings is work.
        let steps_a_day = usize::try_from((DAY_S / series.step_s).max(1)).expect("at most 86,400");
        let day_after = index + 2..index + 2 + steps_a_day;
        if day_after.end > series.len() {
            return false;
        }
        let soon_kg = day_after.map(|after| expected.beyond_kg(after)).fold(0.0, f64::max);
        let lately_kg = |index: usize| rise_lately_kg(series, expected, work, index);
        LONG_RISE_MOST_KG + RISE_GROWS * lately_kg(index).max(lately_kg(index + 1)).max(soon_kg)
    } else {
        2.0 * FALL_MOST_KG
    };
    (one + other).abs() > by_noise.max(by_bees)
}

/// The largest of n normal errors grows as the root of 2 ln n: readings half a day apart need fewer widths than those of
/// five minutes for as few false alarms in a season.
fn fewer_widths(step_s: i64) -> f64 {
    let readings = |step_s: i64| hours(WIDTHS_SEASON_S) / hours(step_s);
    (readings(step_s.clamp(WIDTHS_STEP_S, DAY_S)).ln() / readings(WIDTHS_STEP_S).ln()).sqrt()
}

/// Takes in a neighbour that goes the way of the step beside it (a jump within a mean shows as two smaller ones), or that
/// takes it back (a reading made while the boxes stood on the ground).
fn widen(series: &Series, expected: &Expected, visit: &mut Visit) {
    const BEYOND_WIDTHS: f64 = 2.0;
    let belongs = |index: usize, beside: usize| {
        let (beyond, step) = (expected.beyond_kg(index), expected.beyond_kg(beside));
        let large = beyond.abs() > BEYOND_WIDTHS * expected.scatter_kg[index];
        let same_way = beyond.signum().total_cmp(&step.signum()).is_eq();
        let taken_back = (beyond + step).abs() < (1.0 - TAKES_BACK) * step.abs();
        series.span_s(index) <= series.gap_s() && (taken_back || large && same_way)
    };
    if visit.after + 1 < series.len() && belongs(visit.after + 1, visit.after) {
        visit.after += 1;
    }
    if visit.before > 0 && belongs(visit.before, visit.before + 1) {
        visit.before -= 1;
    }
}

/// Says what each visit left behind, and the level without it: (seconds, kg) at every untouched reading.
pub(super) fn settle(
    series: &Series,
    expected: &Expected,
    visits: &[Visit],
    rules: &ScaleRules,
) -> (Vec<Change>, Vec<(i64, f64)>) {
    let visits = join_returned(series, expected, visits, rules);
    let mut changes = Vec::with_capacity(visits.len());
    let mut level = Vec::with_capacity(series.len());
    let mut put_on_kg = 0.0;
    let mut next = 0;
    for (number, visit) in visits.iter().enumerate() {
        level.extend((next..=visit.before).map(|index| (series.at[index], series.kg[index] - put_on_kg)));
        let change = what_stays(series, expected, rules, &visits, number);
        if change.kind.lasts() {
            put_on_kg += change.kg.get();
        }
        if visit.gap && change.kind.lasts() {
            // The gap itself is told as well as the jump across it.
            changes.push(Change { kind: ChangeKind::Gap, confidence: Share::of(0.95), ..change });
        }
        changes.push(change);
        next = visit.after;
    }
    level.extend((next..series.len()).map(|index| (series.at[index], series.kg[index] - put_on_kg)));
    (changes, level)
}

/// Joins two visits of one half day of which the second takes back what the first left: a box stood beside the hive
/// while the crew was elsewhere.
fn join_returned(series: &Series, expected: &Expected, visits: &[Visit], rules: &ScaleRules) -> Vec<Visit> {
    const HALF_DAY_S: i64 = 5 * 3600;
    let mut joined: Vec<Visit> = Vec::with_capacity(visits.len());
    let mut last_stays: Option<f64> = None;
    for (number, visit) in visits.iter().enumerate() {
        let change = what_stays(series, expected, rules, visits, number);
        let stays = (!visit.gap && change.kind.lasts()).then_some(change.kg.get());
        if let (Some(first), Some(second), Some(last)) = (last_stays, stays, joined.last_mut())
            && (first + second).abs() < rules.least_change.get()
            && series.at[visit.after] - series.at[last.before] <= HALF_DAY_S
        {
            last.after = visit.after;
            last_stays = None;
            continue;
        }
        joined.push(*visit);
        last_stays = stays;
    }
    joined
}

/// What one visit of the list left behind.
fn what_stays(series: &Series, expected: &Expected, rules: &ScaleRules, visits: &[Visit], number: usize) -> Change {
    let visit = &visits[number];
    if visit.gap {
        return across_gap(series, visit);
    }
    let earliest = number.checked_sub(1).map_or(0, |last| visits[last].after);
    let latest = visits.get(number + 1).map_or(series.len() - 1, |following| following.before);
    of_visit(series, expected, rules, visit, earliest, latest)
}

fn across_gap(series: &Series, visit: &Visit) -> Change {
    let change_kg = series.kg[visit.after] - series.kg[visit.before];
    let days = hours(series.at[visit.after] - series.at[visit.before]) / 24.0;
    let by_bees = -(1.0 + GAP_FALL_KG_PER_D * days)..=(1.0 + GAP_RISE_KG_PER_D * days);
    let (kind, confidence) = if by_bees.contains(&change_kg) {
        (ChangeKind::Gap, 0.95)
    } else {
        (kind_by_weight(series, visit, change_kg), 0.5)
    };
    Change {
        at: instant(series.at[visit.before]),
        until: instant(series.at[visit.after]),
        kg: Kilograms::of(change_kg),
        kg_error: Kilograms::of(days),
        kind,
        confidence: Share::of(confidence),
    }
}

fn of_visit(
    series: &Series,
    expected: &Expected,
    rules: &ScaleRules,
    visit: &Visit,
    earliest: usize,
    latest: usize,
) -> Change {
    let window_s = rules.level_window.get() * 60;
    let (before_at, after_at) = (series.at[visit.before], series.at[visit.after]);
    let before: Vec<usize> =
        (earliest..=visit.before).rev().take_while(|index| before_at - series.at[*index] <= window_s).collect();
    let after: Vec<usize> =
        (visit.after..=latest).take_while(|index| series.at[*index] - after_at <= window_s).collect();
    let level = |indices: &[usize]| {
        let mut levels: Vec<f64> = indices.iter().map(|index| expected.flat_kg[*index]).collect();
        levels.sort_by(f64::total_cmp);
        quantile(&levels, 0.5)
    };
    let gained_kg = day_rate(series, expected, (earliest, latest), visit) * hours(after_at - before_at);
    let stays_kg = level(&after) - level(&before) - gained_kg;
    // The expected change of each step within the visit is itself uncertain by its scatter, and the steps of one day err
    // together.
    let scatter = || (visit.before + 1..=visit.after).map(|index| expected.scatter_kg[index]);
    let alone: f64 = scatter().map(|kg| kg * kg).sum();
    let together = scatter().sum::<f64>().powi(2);
    let noise_kg = ((1.0 - ERR_TOGETHER) * alone + ERR_TOGETHER * together).sqrt();
    let least_kg = rules.least_change.get().max((4.0 * noise_kg).min(by_others(expected, visit, stays_kg)));
    let lasts = stays_kg.abs() >= least_kg;
    let nothing = |index: usize| series.kg[index].abs() < EMPTY_SCALE_KG;
    let lost = !nothing(visit.before) && visit.after - visit.before > 1;
    let kind = if !lasts && lost && (visit.before + 1..visit.after).all(nothing) {
        // The scale showed nothing for a while and then the hive again: nobody lifts a whole hive off and on.
        ChangeKind::Fault
    } else if !lasts {
        ChangeKind::WorkThatReturned
    } else if looks_like_swarm(series, expected, visit, stays_kg) {
        ChangeKind::Swarm
    } else {
        kind_by_weight(series, visit, stays_kg)
    };
    let confidence = match kind {
        // How far what is left is from what would have lasted.
        ChangeKind::WorkThatReturned | ChangeKind::Fault => 1.0 - 0.5 * (stays_kg.abs() / least_kg),
        ChangeKind::Swarm => 0.5,
        _ => 1.0 - 0.5 * (least_kg / stays_kg.abs()),
    };
    // With nothing read after the visit it may still be going on.
    let confidence = if after.len() < 2 && visit.after + 1 == series.len() { confidence.min(0.3) } else { confidence };
    Change {
        at: instant(before_at),
        until: instant(after_at),
        kg: Kilograms::of(if lasts { stays_kg } else { 0.0 }),
        kg_error: Kilograms::of(noise_kg.hypot(STEP_ERROR_KG)),
        kind,
        confidence: Share::of(confidence.clamp(0.0, 0.95)),
    }
}

/// The most that what stays after a visit may be by the gains of other days, kg.
fn by_others(expected: &Expected, visit: &Visit, stays_kg: f64) -> f64 {
    let bound = |index: usize| {
        let others = expected.others[index]?;
        Some(if stays_kg > 0.0 { others.rise_kg() } else { others.fall_kg() })
    };
    let all: Option<f64> = (visit.before + 1..=visit.after).map(bound).sum();
    // The margin counts once.
    #[expect(clippy::cast_precision_loss, reason = "steps of one visit")]
    let again_kg = (visit.after - visit.before - 1) as f64 * OTHERS_MARGIN_KG;
    all.map_or(f64::INFINITY, |kg| (kg - again_kg).max(0.0))
}

/// How much faster than usual the hive gains in the hours round a visit, kg/h; nought where they tell too little.
fn day_rate(series: &Series, expected: &Expected, (earliest, latest): (usize, usize), visit: &Visit) -> f64 {
    let (before_at, after_at) = (series.at[visit.before], series.at[visit.after]);
    let first = (earliest..=visit.before).find(|index| before_at - series.at[*index] <= ROUND_S);
    let last = (visit.after..=latest).rev().find(|index| series.at[*index] - after_at <= ROUND_S);
    let rate = |from: usize, to: usize| {
        let span_s = series.at[to] - series.at[from];
        (span_s >= ROUND_S / 2).then(|| (expected.flat_kg[to] - expected.flat_kg[from]) / hours(span_s))
    };
    match (first.and_then(|first| rate(first, visit.before)), last.and_then(|last| rate(visit.after, last))) {
        (Some(before), Some(after)) => f64::midpoint(before, after),
        (Some(one), None) | (None, Some(one)) => 0.5 * one,
        (None, None) => 0.0,
    }
}

fn kind_by_weight(series: &Series, visit: &Visit, stays_kg: f64) -> ChangeKind {
    let empty = |index: usize| series.kg[index].abs() < EMPTY_SCALE_KG;
    let large = stays_kg.abs() > 5.0 * EMPTY_SCALE_KG;
    if large && (empty(visit.before) || empty(visit.after)) {
        ChangeKind::Rezero
    } else if stays_kg > 0.0 {
        ChangeKind::BoxOn
    } else if stays_kg <= -FULL_BOX_KG {
        ChangeKind::Pull
    } else {
        ChangeKind::BoxOff
    }
}

/// A swarm leaves by day, within the hour, in several steps all downward; gear comes off in one.
fn looks_like_swarm(series: &Series, expected: &Expected, visit: &Visit, stays_kg: f64) -> bool {
    let span_s = series.at[visit.after] - series.at[visit.before];
    let hour = series.local[visit.before].rem_euclid(DAY_S) / 3600;
    let by_day = (8..18).contains(&hour);
    if !by_day || !SWARM_KG.contains(&-stays_kg) || !SWARM_S.contains(&span_s) {
        return false;
    }
    let steps: Vec<f64> = (visit.before + 1..=visit.after).map(|index| expected.beyond_kg(index)).collect();
    let all_down = steps.iter().all(|step| *step < 0.05 * -stays_kg);
    let largest = steps.iter().fold(0.0_f64, |largest, step| largest.max(-step));
    steps.len() >= 2 && all_down && largest < 0.75 * -stays_kg
}

/// A box on after which the hive dries faster than before is feed.
pub(super) fn tell_feed(changes: &mut [Change], nights: &[Night], tz: &TimeZone) {
    const WEEK: i64 = 7;
    const LEAST_NIGHTS: usize = 4;
    for change in changes.iter_mut().filter(|change| change.kind == ChangeKind::BoxOn) {
        let day = tz.to_datetime(change.at).date();
        let gains = |from: i64, to: i64| -> Vec<f64> {
            nights
                .iter()
                .filter(|night| (from..=to).contains(&days_from(day, night.date)))
                .map(|night| night.net_gain.get())
                .collect()
        };
        let (before, after) = (gains(-WEEK, -1), gains(1, WEEK));
        if before.len() < LEAST_NIGHTS || after.len() < LEAST_NIGHTS {
            continue;
        }
        #[expect(clippy::cast_precision_loss, reason = "a week of nights")]
        let mean = |gains: &[f64]| gains.iter().sum::<f64>() / gains.len() as f64;
        // The end of a flow is no drying: only a loss beyond that of a hive without flow counts.
        let usual = mean(&before).min(USUAL_GAIN_KG_PER_D);
        #[expect(clippy::cast_precision_loss, reason = "a week")]
        let dried_kg = (usual - mean(&after)) * WEEK as f64;
        if dried_kg > FEED_DRIES * change.kg.get() {
            change.kind = ChangeKind::Feed;
            change.confidence = Share::of(change.confidence.get().min(0.7));
        }
    }
}
