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

/// Step from which readings are taken for means that smear a jump over two of them, s.
const SMEARS_FROM_S: i64 = 3 * 3600;

/// Scatter that even the best scale has, kg.
const LEAST_SCATTER_KG: f64 = 0.005;

const DAY_S: i64 = 86_400;

/// What the weight usually does between two readings, and how surely.
pub(super) struct Expected {
    /// Scatter of that change, kg.
    pub(super) scatter_kg: Vec<f64>,
    /// Weight less all expected changes, kg.
    flat_kg: Vec<f64>,
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
        let mut flat = series.kg[0];
        let mut flat_kg = vec![flat];
        let mut scatter_kg = vec![LEAST_SCATTER_KG];
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
            flat += series.kg[index] - series.kg[index - 1] - change * steps;
            flat_kg.push(flat);
            scatter_kg.push(scatter.max(LEAST_SCATTER_KG) * steps.max(1.0).sqrt());
        }
        Self { scatter_kg, flat_kg }
    }

    /// Change up to a reading beyond the expected one, kg.
    fn beyond_kg(&self, index: usize) -> f64 {
        self.flat_kg[index] - self.flat_kg[index - 1]
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
        work[index] = is_work(series, expected, rules, index, lately_kg);
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
    if series.step_s < SMEARS_FROM_S {
        return 0.0;
    }
    let steps_a_day = usize::try_from((DAY_S / series.step_s).max(1)).expect("at most 86,400");
    (1..=2)
        .filter_map(|days| index.checked_sub(days * steps_a_day).filter(|before| *before > 0 && !work[*before]))
        .map(|before| expected.beyond_kg(before))
        .fold(0.0, f64::max)
}

fn is_work(series: &Series, expected: &Expected, rules: &ScaleRules, index: usize, lately_kg: f64) -> bool {
    let beyond = expected.beyond_kg(index);
    let span_h = hours(series.span_s(index));
    let by_bees = if beyond > 0.0 {
        (RISE_KG_PER_H * span_h).min(RISE_MOST_KG.max(RISE_GROWS * lately_kg))
    } else {
        (FALL_KG_PER_H * span_h).min(FALL_MOST_KG)
    };
    let by_noise = rules.noise_widths * expected.scatter_kg[index];
    beyond.abs() > by_noise.max(by_bees).max(rules.least_change.get() / 2.0)
}

/// A mean over its step shows a jump inside it as two smaller ones: takes in a neighbour that goes the same way.
fn widen(series: &Series, expected: &Expected, visit: &mut Visit) {
    const SAME_WAY_WIDTHS: f64 = 2.0;
    let total = expected.flat_kg[visit.after] - expected.flat_kg[visit.before];
    let same_way = |index: usize| {
        let beyond = expected.beyond_kg(index);
        series.span_s(index) <= series.gap_s()
            && beyond.signum() == total.signum()
            && beyond.abs() > SAME_WAY_WIDTHS * expected.scatter_kg[index]
    };
    if visit.after + 1 < series.len() && same_way(visit.after + 1) {
        visit.after += 1;
    }
    if visit.before > 0 && same_way(visit.before) {
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
    let stays_kg = level(&after) - level(&before);
    // The expected change of each step within the visit is itself uncertain by its scatter.
    let noise_kg = (visit.before + 1..=visit.after).map(|index| expected.scatter_kg[index].powi(2)).sum::<f64>().sqrt();
    let least_kg = rules.least_change.get().max(4.0 * noise_kg);
    let lasts = stays_kg.abs() >= least_kg;
    let kind = if !lasts {
        ChangeKind::WorkThatReturned
    } else if looks_like_swarm(series, expected, visit, stays_kg) {
        ChangeKind::Swarm
    } else {
        kind_by_weight(series, visit, stays_kg)
    };
    let confidence = match kind {
        // How far what is left is from what would have lasted.
        ChangeKind::WorkThatReturned => 1.0 - 0.5 * (stays_kg.abs() / least_kg),
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
