//! The outlook of one yard as the faces show it: the flow now and ahead, its colonies and their room, the clocks that run,
//! what waiting costs, what would narrow it most, and what it all rests on.

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::range::day_month;
use outyard_base::{KilogramsPerDay, Range, Share, YardId};
use outyard_season::flow_chance::{FlowChain, FlowWatch};
use outyard_season::flow_state::{FlowState, flow_spells, flow_state};
use outyard_trade::KindCounts;
use outyard_trade::clocks::{ClockStart, dated_marks};
use serde::Serialize;

use crate::due::{DueVisit, Followed, StandsBy, YardToday};
use crate::plan::day_of;
use crate::seasons::YardAhead;
use crate::situation::Situation;
use crate::views::{DatesView, RangeView};

/// Days over which the honey is summed whose spread counts are asked to narrow.
const NARROWED_DAYS: usize = 21;
/// Age of a count in a flow from which it is called old (common practice, no source: a week).
const OLD_COUNT_DAYS: i64 = 7;

/// Bloom of one plant.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BloomView {
    /// Code of the plant.
    pub plant: String,
    /// First bloom.
    pub first: DatesView,
    /// End of bloom.
    pub end: DatesView,
    /// Seasons written down for the yard or its group that moved the plant table's thresholds.
    pub records: usize,
    /// Day of this season on which bloom was seen, when it was written down.
    pub seen: Option<String>,
}

/// Gain of a strong colony on one day, and how likely the flow is on.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GainView {
    /// The day.
    pub date: String,
    /// Kilograms.
    pub kg: RangeView,
    /// Share of the members in which the day lies in a flow by the producer's rule.
    pub flow_share: f64,
}

/// The flow as it stands this morning.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FlowNowView {
    /// `on`, `off`, `not-yet`, or `no-nights` when no scale speaks for the yard.
    pub by_rule: &'static str,
    /// Since when it is on or over.
    pub since: Option<String>,
    /// The rule and its answer in words.
    pub said: String,
    /// How likely it is on this morning: by the nights of the scales, else the share of the members.
    pub probability: f64,
    /// The last night read.
    pub last_night: Option<String>,
    /// Its net gain, kg.
    pub last_night_kg: Option<f64>,
    /// Whose nights they are.
    pub nights_of: String,
}

/// Colonies that stand alike.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StackView {
    /// How many of what kind they are, or were when they were put down.
    pub colonies: String,
    /// Day 0 of their brood clocks; `null` while they are not put down.
    pub put_down_on: Option<String>,
    /// Boxes above one of them, in deeps.
    pub boxes: f64,
    /// Honey and drying nectar above in one of them, as honey.
    pub held_kg: f64,
    /// Share of the room above that is taken, brood left aside; `null` while nothing stands above.
    pub full_share: Option<f64>,
    /// What one of them could bring a day over the days of the plan.
    pub brings_kg_per_day: f64,
    /// When there is no more room above.
    pub full: DatesView,
    /// When nectar finds no cell at all, above or in the nest.
    pub refuses: DatesView,
    /// When it is full by the hand sum; `null` while it is not put down.
    pub full_by_hand: Option<DatesView>,
    /// Deeps one of them wants until the crew is back.
    pub wanted_boxes: RangeView,
}

/// A brood clock that still runs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ClockView {
    /// What.
    pub name: &'static str,
    /// Its put-down.
    pub put_down_on: String,
    /// First day.
    pub from: String,
    /// Best day.
    pub best: String,
    /// Last day; `null` when it stays true.
    pub to: Option<String>,
}

/// Money lost by waiting until a day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WaitDayView {
    /// The day.
    pub date: String,
    /// Expected.
    pub expected_cents: i64,
    /// One in ten lies below.
    pub low_cents: i64,
    /// One in ten lies above.
    pub high_cents: i64,
}

/// What waiting costs one due visit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WaitView {
    /// The job that leads it.
    pub job: String,
    /// What is due.
    pub what: String,
    /// First day on which it may be done.
    pub from: String,
    /// Day to plan with.
    pub best: String,
    /// Last day before it costs.
    pub to: Option<String>,
    /// Day by day.
    pub by_day: Vec<WaitDayView>,
    /// Why, with the numbers that matter.
    pub reasons: Vec<String>,
}

/// A count that would narrow the outlook.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct NarrowsView {
    /// What to count or write down.
    pub count: String,
    /// Share of the spread of the honey of the next three weeks that goes along with it; `null` when no scale of the
    /// group has taught its draws.
    pub share: Option<f64>,
}

/// Something the outlook rests on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DatedText {
    /// What.
    pub said: String,
    /// Of which day.
    pub of: Option<String>,
    /// How many days ago that was.
    pub days_old: Option<i64>,
}

/// The outlook of one yard.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct YardView {
    /// The yard.
    pub yard: String,
    /// What people call it.
    pub name: String,
    /// Its colonies, in words.
    pub standing: String,
    /// The flow this morning.
    pub flow: FlowNowView,
    /// When the flow begins.
    pub flow_begins: DatesView,
    /// When it ends.
    pub flow_ends: DatesView,
    /// Bloom of what grows round it.
    pub bloom: Vec<BloomView>,
    /// Gain of a strong colony by day.
    pub gain_by_day: Vec<GainView>,
    /// Its colonies.
    pub stacks: Vec<StackView>,
    /// Brood clocks that still run.
    pub clocks: Vec<ClockView>,
    /// What waiting costs, visit by visit, the dearest first.
    pub waiting: Vec<WaitView>,
    /// Expected money lost by leaving all of it for a week.
    pub week_cents: i64,
    /// Counts that would narrow it, the best first.
    pub narrows: Vec<NarrowsView>,
    /// Scale colonies against the model: low, likely, high.
    pub scale_factor: RangeView,
    /// What the outlook rests on, and how old that is.
    pub rests_on: Vec<DatedText>,
    /// What the model of the season rests on, in sentences.
    pub based_on: Vec<String>,
}

/// What the outlook of a yard is made from.
#[derive(Clone, Copy, Debug)]
pub struct OutlookParts<'a> {
    /// How the yard stands.
    pub yard: &'a YardToday,
    /// Its colonies and what becomes of them.
    pub stacks: &'a [Followed],
    /// Its season.
    pub ahead: &'a YardAhead,
    /// Visits due at all yards.
    pub due: &'a [DueVisit],
}

/// The outlook of a yard.
pub fn yard_view(situation: &Situation, id: &YardId, parts: &OutlookParts<'_>) -> YardView {
    let OutlookParts { yard, stacks, ahead, due } = *parts;
    let season = &ahead.season;
    let today = situation.today;
    let gain_by_day = gain_by_day(situation, ahead);
    let mut waiting: Vec<(i64, WaitView)> = due
        .iter()
        .filter(|visit| visit.yard == *id && visit.follows.is_none())
        .map(|visit| (visit.curve.between(0, 7).get(), wait_view(situation, visit)))
        .collect();
    waiting.sort_by_key(|(cents, _)| -cents);
    YardView {
        yard: id.as_str().to_owned(),
        name: situation.outfit.yards.get(id).map(|yard| yard.kept.name.clone()).unwrap_or_default(),
        standing: yard.standing.to_string(),
        flow: flow_now(situation, ahead, gain_by_day.first().map_or(0.0, |day| day.flow_share)),
        flow_begins: DatesView::of(&season.begins),
        flow_ends: DatesView::of(&season.ends),
        bloom: ahead
            .bloom
            .iter()
            .map(|bloom| {
                let rests = ahead.bloom_rests.iter().find(|rests| rests.plant == bloom.plant);
                BloomView {
                    plant: bloom.plant.as_str().to_owned(),
                    first: DatesView::of(&bloom.first),
                    end: DatesView::of(&bloom.end),
                    records: rests.map_or(0, |rests| rests.records),
                    seen: rests.and_then(|rests| rests.this_season).map(|date| date.to_string()),
                }
            })
            .collect(),
        gain_by_day,
        stacks: stacks.iter().map(|one| stack_view(situation, ahead, one)).collect(),
        clocks: clocks(yard, today),
        week_cents: waiting.iter().map(|(cents, _)| cents).sum(),
        waiting: waiting.into_iter().map(|(_, view)| view).collect(),
        narrows: narrows(ahead),
        scale_factor: RangeView::of(ahead.factor),
        rests_on: rests_on(situation, parts),
        based_on: season.based_on.clone(),
    }
}

fn share(part: usize, of: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a count of members")]
    let share = part as f64 / of.max(1) as f64;
    share
}

/// Gain and chance of flow, day by day: in each member the nights read go on with the member's own gains.
fn gain_by_day(situation: &Situation, ahead: &YardAhead) -> Vec<GainView> {
    let season = &ahead.season;
    let days = season.gain.first().map_or(0, Vec::len);
    let mut on = vec![0_usize; days];
    let mut nights: Vec<(Date, KilogramsPerDay)> =
        ahead.nights.iter().copied().filter(|night| night.0 < season.first).collect();
    let seen = nights.len();
    for gains in &season.gain {
        nights.truncate(seen);
        nights.extend((0..).zip(gains).map(|(day, gain)| (plus_days(season.first, day), KilogramsPerDay::of(*gain))));
        for spell in flow_spells(&nights, situation.flow_rule()) {
            let day = |date: Date| usize::try_from(days_from(season.first, date)).unwrap_or(0).min(days);
            let end = spell.ended.map_or(days, day);
            on[day(spell.began).min(end)..end].iter_mut().for_each(|count| *count += 1);
        }
    }
    (0..days)
        .filter_map(|day| {
            let sample: Vec<f64> = season.gain.iter().map(|member| member[day]).collect();
            Some(GainView {
                date: day_of(season.first, day).to_string(),
                kg: RangeView::of(Range::of_sample(&sample)?),
                flow_share: share(on[day], season.gain.len()),
            })
        })
        .collect()
}

fn flow_now(situation: &Situation, ahead: &YardAhead, of_members: f64) -> FlowNowView {
    let rule = situation.flow_rule();
    let limit = format!("{:.1} kg, {} days running", rule.threshold.get(), rule.days_running);
    let (by_rule, since, said) = match flow_state(&ahead.nights, rule) {
        _ if ahead.nights.is_empty() => ("no-nights", None, "no scale speaks for this yard".to_owned()),
        FlowState::On { since, .. } => {
            ("on", Some(since), format!("on since {} by the rule ({limit})", day_month(since)))
        }
        FlowState::Off { since, .. } => {
            ("off", Some(since), format!("over since {} by the rule ({limit})", day_month(since)))
        }
        FlowState::NotYet { days_met, .. } => {
            ("not-yet", None, format!("not yet by the rule ({limit}); {days_met} met so far"))
        }
    };
    let mut watch = FlowWatch::new(FlowChain::of_rule(rule));
    for (date, gain) in &ahead.nights {
        watch.take(*date, *gain);
    }
    let last = ahead.nights.last();
    let probability = last.map_or(of_members, |(date, _)| watch.chance_ahead(days_from(*date, situation.today)).get());
    FlowNowView {
        by_rule,
        since: since.map(|date| date.to_string()),
        said,
        probability,
        last_night: last.map(|(date, _)| date.to_string()),
        last_night_kg: last.map(|(_, gain)| gain.get()),
        nights_of: ahead.nights_of.clone(),
    }
}

fn stack_view(situation: &Situation, ahead: &YardAhead, one: &Followed) -> StackView {
    let stack = &one.stack;
    let rules = crate::due::colony_rules(&situation.jobs);
    StackView {
        colonies: KindCounts::of(&[(stack.kind, stack.colonies)]).to_string(),
        put_down_on: stack.day0.map(|day0| day0.to_string()),
        boxes: stack.deeps,
        held_kg: stack.colony.honey_above_kg().max(0.0),
        full_share: (stack.colony.comb.above > 0.0).then(|| stack.colony.share_full_above(&rules)),
        brings_kg_per_day: one.ahead.offered_kg_per_day,
        full: DatesView::of(&one.ahead.full),
        refuses: DatesView::of(&one.ahead.refuses),
        full_by_hand: stack.full_by_hand(&ahead.season, situation.today).map(|dates| DatesView::of(&dates)),
        wanted_boxes: RangeView::of(one.ahead.wanted_deeps),
    }
}

/// Marks of the put-downs that are not past: those that call for a visit, and the days the upper box is clear.
fn clocks(yard: &YardToday, today: Date) -> Vec<ClockView> {
    yard.put_downs
        .iter()
        .flat_map(|round| {
            dated_marks(ClockStart::ExcluderUnderBrood, round.day0)
                .into_iter()
                .filter(|dated| dated.mark.job.is_some() || dated.mark.code.ends_with("-out"))
                .filter(|dated| dated.to.unwrap_or(dated.best) >= today)
                .map(|dated| ClockView {
                    name: dated.mark.name,
                    put_down_on: round.day0.to_string(),
                    from: dated.from.to_string(),
                    best: dated.best.to_string(),
                    to: dated.to.map(|to| to.to_string()),
                })
        })
        .collect()
}

fn wait_view(situation: &Situation, visit: &DueVisit) -> WaitView {
    let expected = visit.curve.expected();
    let by_day = expected
        .iter()
        .enumerate()
        .map(|(day, cents)| {
            let range = visit.curve.range_on(day);
            WaitDayView {
                date: day_of(situation.today, day).to_string(),
                expected_cents: cents.get(),
                low_cents: range.low.get(),
                high_cents: range.high.get(),
            }
        })
        .collect();
    WaitView {
        job: visit.chores.first().map_or_else(String::new, |chore| chore.job.as_str().to_owned()),
        what: visit.what(&situation.jobs),
        from: visit.window.from.to_string(),
        best: visit.window.best.to_string(),
        to: visit.window.to.map(|to| to.to_string()),
        by_day,
        reasons: visit.reasons(),
    }
}

/// Counts that would narrow the honey of the next three weeks, the best first.
fn narrows(ahead: &YardAhead) -> Vec<NarrowsView> {
    let Some(learnt) = &ahead.learnt else {
        let count = "nights of a scale in its group, or how full the boxes are: two lids will do".to_owned();
        return vec![NarrowsView { count, share: None }];
    };
    let honey: Vec<f64> = ahead.season.gain.iter().map(|gains| gains.iter().take(NARROWED_DAYS).sum()).collect();
    learnt
        .narrows_most(&honey)
        .into_iter()
        .filter(|(_, share)| *share > Share::ZERO)
        .map(|(unknown, share)| NarrowsView { count: unknown.count_that_tells(), share: Some(share.get()) })
        .collect()
}

fn rests_on(situation: &Situation, parts: &OutlookParts<'_>) -> Vec<DatedText> {
    let today = situation.today;
    let dated = |said: String, of: Option<Date>| DatedText {
        said,
        of: of.map(|date| date.to_string()),
        days_old: of.map(|date| days_from(date, today)),
    };
    let counted = parts.yard.counted_on;
    let mut rests = vec![dated(
        if counted.is_some() { "colonies counted".to_owned() } else { "colonies never counted".to_owned() },
        counted,
    )];
    for one in parts.stacks {
        let (by, on) = one.stack.stands_by;
        let of = KindCounts::of(&[(one.stack.kind, one.stack.colonies)]);
        let old = days_from(on, today) > OLD_COUNT_DAYS;
        let lids = if old { "; lift two lids" } else { "" };
        rests.push(match by {
            StandsBy::Look => dated(format!("boxes of {of} looked into{lids}"), Some(on)),
            StandsBy::PutDown => dated(format!("boxes of {of} not looked into since the put-down{lids}"), Some(on)),
            StandsBy::Count => dated(format!("{of}: bees and brood as that kind usually has them"), Some(on)),
            StandsBy::Kind => dated(format!("{of}: bees and brood as that kind usually has them; never counted"), None),
        });
    }
    rests.extend(bloom_rests(parts.ahead).into_iter().map(|(said, of)| dated(said, of)));
    if let Some((last, _)) = parts.ahead.nights.last() {
        rests.push(dated(format!("nights of {}, the last", parts.ahead.nights_of), Some(*last)));
    }
    rests
}

/// What the bloom of each plant rests on: what was written down, or the plant table alone.
fn bloom_rests(ahead: &YardAhead) -> Vec<(String, Option<Date>)> {
    let mut rests = Vec::new();
    let mut by_table = Vec::new();
    for bloom in &ahead.bloom {
        match ahead.bloom_rests.iter().find(|rests| rests.plant == bloom.plant) {
            Some(told) => {
                let records = if told.records == 1 { "record" } else { "records" };
                let said = format!("bloom of {} rests on {} {records}, the last", told.plant, told.records);
                rests.push((said, Some(told.last)));
            }
            None => by_table.push(bloom.plant.as_str()),
        }
    }
    if !by_table.is_empty() {
        let said = format!("bloom of {} rests on the plant table, no record", by_table.join(", "));
        rests.push((said, None));
    }
    rests
}
