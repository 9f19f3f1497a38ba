//! What a phone takes along for days without signal: today's runs and the next, each yard's sheet, the words it needs to
//! close a visit, and what each comb means on each of the days it may be away.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_trade::signs::{CombSeen, SignReading, read_sign};
use serde::Serialize;

use crate::pages::outfit::{
    CrewView, GearRuleView, JobRuleView, KindView, crew_views, gear_rule_views, job_rule_view, kind_views,
};
use crate::pages::yards::{RunningView, YardLine, running_views, yard_lines};
use crate::situation::Situation;
use crate::told::TOLD_DAYS;
use crate::views::{RunView, run_views};
use crate::work_out::Worked;

/// Days a phone may be away from the office, for which signs are worked out. Assumed.
const DAYS_AWAY: i64 = 7;
/// Days after a put-down within which a comb is still read (assumed: the last sign that changes is day 45).
const SIGNS_RUN_DAYS: i64 = 60;

/// What a comb means, from a day to a day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SignSpanView {
    /// First day it is seen.
    pub from: String,
    /// Last day.
    pub to: String,
    /// `meaning`, or `refused` when the sign proves nothing on those days.
    pub outcome: &'static str,
    /// What it comes to, in one word; none when refused.
    pub verdict: Option<&'static str>,
    /// What it means, or why it proves nothing.
    pub means: String,
    /// What to do, in order; what to look for in its place when refused.
    pub to_do: Vec<String>,
    /// What else it could be.
    pub cautions: Vec<String>,
    /// First day the sign counts, when refused.
    pub counts_from: Option<String>,
}

/// One sign.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SignView {
    /// Its code.
    pub sign: &'static str,
    /// In words.
    pub said: &'static str,
    /// Looked for above or below the excluder.
    pub above: bool,
    /// What it means, day by day.
    pub spans: Vec<SignSpanView>,
}

/// The signs of a put-down.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SignTableView {
    /// Day 0.
    pub put_down_on: String,
    /// Every sign there is.
    pub signs: Vec<SignView>,
}

/// One yard of the pack.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PackYardView {
    /// How it stands.
    pub stands: YardLine,
    /// Clocks that run.
    pub running: Vec<RunningView>,
}

/// All a phone takes along.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PackView {
    /// The outfit.
    pub outfit: String,
    /// The morning it stands at.
    pub date: String,
    /// Runs of today and the next days.
    pub runs: Vec<RunView>,
    /// Every yard kept.
    pub yards: Vec<PackYardView>,
    /// Jobs of the job book.
    pub jobs: Vec<JobRuleView>,
    /// Gear of the job book.
    pub gear: Vec<GearRuleView>,
    /// Kinds of colony.
    pub kinds: Vec<KindView>,
    /// Crews.
    pub crews: Vec<CrewView>,
    /// Trucks, by name.
    pub trucks: Vec<String>,
    /// What combs mean, for every put-down that still runs.
    pub signs: Vec<SignTableView>,
    /// First day the pack no longer answers for.
    pub stale_from: String,
}

/// What a phone takes along this morning.
pub fn pack_view(situation: &Situation, worked: &Worked) -> PackView {
    let today = situation.today;
    let last = plus_days(today, TOLD_DAYS - 1).to_string();
    let running: BTreeMap<&str, Vec<RunningView>> =
        situation.outfit.kept_yards().map(|(id, yard)| (id.as_str(), running_views(yard, today))).collect();
    let put_downs: BTreeSet<Date> = situation
        .outfit
        .kept_yards()
        .flat_map(|(_, yard)| yard.put_down.keys().copied())
        .filter(|day0| (0..=SIGNS_RUN_DAYS).contains(&days_from(*day0, today)))
        .chain((0..TOLD_DAYS).map(|day| plus_days(today, day)))
        .collect();
    PackView {
        outfit: situation.settings.name.clone(),
        date: today.to_string(),
        runs: run_views(situation, worked).into_iter().filter(|run| run.date <= last).collect(),
        yards: yard_lines(situation)
            .into_iter()
            .map(|stands| PackYardView {
                running: running.get(stands.yard.as_str()).cloned().unwrap_or_default(),
                stands,
            })
            .collect(),
        jobs: situation.jobs.jobs.values().map(|job| job_rule_view(&situation.jobs, job)).collect(),
        gear: gear_rule_views(&situation.jobs),
        kinds: kind_views(),
        crews: crew_views(&situation.settings),
        trucks: situation.settings.trucks.iter().map(|truck| truck.id.as_str().to_owned()).collect(),
        signs: put_downs.into_iter().map(|day0| sign_table(day0, today)).collect(),
        stale_from: plus_days(today, DAYS_AWAY).to_string(),
    }
}

/// What each comb means on each of the next days; days that say the same are one span.
pub fn sign_table(put_down: Date, today: Date) -> SignTableView {
    let signs = CombSeen::ALL
        .into_iter()
        .map(|seen| {
            let mut spans: Vec<SignSpanView> = Vec::new();
            for ahead in 0..DAYS_AWAY {
                let span = sign_on(put_down, plus_days(today, ahead), seen);
                match spans.last_mut() {
                    Some(last) if says_the_same(last, &span) => last.to = span.to,
                    _ => spans.push(span),
                }
            }
            SignView { sign: seen.code(), said: seen.said(), above: matches!(seen, CombSeen::Above(_)), spans }
        })
        .collect();
    SignTableView { put_down_on: put_down.to_string(), signs }
}

fn says_the_same(one: &SignSpanView, other: &SignSpanView) -> bool {
    let undated = |span: &SignSpanView| SignSpanView { from: String::new(), to: String::new(), ..span.clone() };
    undated(one) == undated(other)
}

fn sign_on(put_down: Date, seen_on: Date, seen: CombSeen) -> SignSpanView {
    let day = seen_on.to_string();
    match read_sign(put_down, seen_on, seen) {
        SignReading::Meaning(meaning) => SignSpanView {
            from: day.clone(),
            to: day,
            outcome: "meaning",
            verdict: Some(meaning.verdict.code()),
            means: meaning.means,
            to_do: meaning.to_do,
            cautions: meaning.cautions.iter().map(|caution| (*caution).to_owned()).collect(),
            counts_from: None,
        },
        SignReading::Refused(refusal) => SignSpanView {
            from: day.clone(),
            to: day,
            outcome: "refused",
            verdict: None,
            means: refusal.why,
            to_do: vec![refusal.instead],
            cautions: Vec::new(),
            counts_from: Some(refusal.counts_from.to_string()),
        },
    }
}
