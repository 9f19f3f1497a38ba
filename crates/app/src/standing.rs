//! How good a plan is and why it is as it is: its floor, how it fares in the weather to come, why a visit stands where it stands, and what
//! one more of anything would be worth.

use outyard_base::{Cents, Minutes, Trouble};
use outyard_runs::prices::Verdict;
use outyard_runs::{Bound, Effort, Extra, Hindrance, Proof, Reason, gap, prices, reasons};
use serde::Serialize;

use crate::plan::day_of;
use crate::situation::Situation;
use crate::work_out::Worked;

/// How far a plan may be from the best there is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GapView {
    /// What the plan costs.
    pub plan_cents: i64,
    /// What every plan costs at least, proven.
    pub floor_cents: i64,
    /// What a better plan could save at most.
    pub could_save_cents: i64,
    /// The same as a share of the plan's cost.
    pub share: f64,
    /// How the floor was proven.
    pub proof: &'static str,
}

impl GapView {
    /// The gap of a worked morning.
    pub fn of(worked: &Worked, floor: Bound) -> Self {
        let gap = gap(worked.bill.total(), floor);
        Self {
            plan_cents: gap.plan.get(),
            floor_cents: gap.floor.get(),
            could_save_cents: gap.money().get(),
            share: gap.share(),
            proof: match floor.proof {
                Proof::VisitByVisit => "visit by visit",
                Proof::EveryRun { .. } => "every run that could be made",
                Proof::BestRuns => "the cheapest runs, hunted for",
            },
        }
    }

    /// The gap in a sentence.
    pub fn said(&self) -> String {
        format!(
            "No plan of these visits can cost less than {}: this one is within {:.1} % of that ({} at most).",
            Cents(self.floor_cents).whole(),
            self.share * 100.0,
            Cents(self.could_save_cents).whole()
        )
    }
}

/// How the plan fares in the weather that may come.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LivedView {
    /// Members of the ensemble it was lived through.
    pub members: usize,
    /// Plans that were compared.
    pub plans: usize,
    /// Its mean bill.
    pub expected_cents: i64,
    /// Nine members in ten cost no more.
    pub bad_case_cents: i64,
    /// Mean bill of going to the nearest yard that is due.
    pub nearest_due_first_cents: i64,
    /// What choosing by expected money saved against the plan cheapest on paper.
    pub saved_cents: i64,
}

impl LivedView {
    /// Of a worked morning; `None` where there was no ensemble.
    pub fn of(worked: &Worked) -> Option<Self> {
        worked.ahead.as_ref().map(|ahead| Self {
            members: ahead.members,
            plans: ahead.plans,
            expected_cents: ahead.fared.mean.get(),
            bad_case_cents: ahead.fared.bad_case.get(),
            nearest_due_first_cents: ahead.rule_of_thumb.mean.get(),
            saved_cents: ahead.saved.get(),
        })
    }

    /// The same in a sentence.
    pub fn said(&self) -> String {
        format!(
            "Lived through {} courses of the weather it comes to {} on average and {} in a bad case; nearest due first to {} on average.",
            self.members,
            Cents(self.expected_cents).whole(),
            Cents(self.bad_case_cents).whole(),
            Cents(self.nearest_due_first_cents).whole()
        )
    }
}

/// What another day or crew would cost, or what forbids it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OtherView {
    /// The day.
    pub date: String,
    /// The crew; the cheapest one of another day.
    pub crew: Option<String>,
    /// What the bill would rise by; below 0 it would fall.
    pub adds_cents: Option<i64>,
    /// What forbids it.
    pub forbids: Option<String>,
}

/// Why a visit stands where it stands.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WhyView {
    /// The visit.
    pub visit: String,
    /// Its yard.
    pub yard: String,
    /// What is done there.
    pub what: String,
    /// The day it stands on; none when left out.
    pub date: Option<String>,
    /// The crew.
    pub crew: Option<String>,
    /// Lost by waiting to that day, or by leaving it out.
    pub loss_cents: i64,
    /// What leaving it out would add to the bill.
    pub leaving_out_adds_cents: i64,
    /// The cheapest other day.
    pub next_best_day: Option<OtherView>,
    /// The cheapest other crew of the same day.
    pub next_best_crew: Option<OtherView>,
    /// Other days, with the rest of the plan left as it is.
    pub other_days: Vec<OtherView>,
    /// Other crews on the same day.
    pub other_crews: Vec<OtherView>,
}

/// Why each visit to a yard stands where it stands, or was left out.
pub fn why(situation: &Situation, worked: &Worked, visit: usize) -> WhyView {
    let reason: Reason = reasons(&worked.planned.problem, &worked.planned.plan, visit);
    let date = |day: usize| day_of(situation.today, day).to_string();
    let crew = |crew: usize| situation.settings.crews[crew].id.as_str().to_owned();
    let due = &worked.due[visit];
    let other_days: Vec<OtherView> = reason
        .alternatives
        .iter()
        .map(|other| OtherView {
            date: date(other.day),
            crew: other.outcome.ok().map(|(who, _)| crew(who)),
            adds_cents: other.outcome.ok().map(|(_, adds)| adds.get()),
            forbids: other.outcome.err().map(|hindrance| said(worked, &hindrance)),
        })
        .collect();
    let other_crews: Vec<OtherView> = reason
        .other_crews
        .iter()
        .map(|other| OtherView {
            date: reason.stands.map_or_else(String::new, |(day, _)| date(day)),
            crew: Some(crew(other.crew)),
            adds_cents: other.outcome.ok().map(Cents::get),
            forbids: other.outcome.err().map(|hindrance| said(worked, &hindrance)),
        })
        .collect();
    let cheapest = |list: &[OtherView]| {
        list.iter().filter(|other| other.adds_cents.is_some()).min_by_key(|other| other.adds_cents).cloned()
    };
    WhyView {
        visit: due.key.clone(),
        yard: due.yard.as_str().to_owned(),
        what: due.what(&situation.jobs),
        date: reason.stands.map(|(day, _)| date(day)),
        crew: reason.stands.map(|(_, who)| crew(who)),
        loss_cents: reason.loss.get(),
        leaving_out_adds_cents: reason.leaving_out_adds.get(),
        next_best_day: cheapest(&other_days),
        next_best_crew: cheapest(&other_crews),
        other_days,
        other_crews,
    }
}

/// A hindrance in words.
fn said(worked: &Worked, hindrance: &Hindrance) -> String {
    match hindrance {
        Hindrance::DayShut => "nobody goes out that day".to_owned(),
        Hindrance::TooEarly => "too early for the job".to_owned(),
        Hindrance::GateShut => "weather gate shut".to_owned(),
        Hindrance::Ties => "too near to or too far from the visit it is tied to".to_owned(),
        Hindrance::GearShort { gear, short } => format!("{short} {} short", worked.planned.gear[*gear]),
        Hindrance::NoCrew => "no crew that may do it works".to_owned(),
        Hindrance::RunFull => "the run has all its stops".to_owned(),
        Hindrance::Apart => "must not share the run".to_owned(),
        Hindrance::TruckFull => "the truck is full".to_owned(),
        Hindrance::GateMissed => "open hours or lunch would be missed".to_owned(),
        Hindrance::ShiftTooLong { over } => format!("{} too long a day", over.spoken()),
    }
}

/// What one more of something is worth from a day on, or on a day.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WorthView {
    /// One more of what.
    pub one_more: String,
    /// The day; none for something that lasts.
    pub date: Option<String>,
    /// Money saved: least, middle and most of several plannings.
    pub saves_cents: (i64, i64, i64),
    /// `saves`, `unsure` or `not worth it`.
    pub verdict: &'static str,
}

/// Seeds with which one more is planned again. Assumed.
const WORTH_SEEDS: u64 = 3;
/// Minutes in the hour that is priced.
const HOUR: Minutes = Minutes(60);

/// What one more piece of each counted kind of gear, a crew, a crew with a truck and an hour would be worth on each day
/// somebody could go out, and one more of each truck. Each is found by planning again with it.
///
/// # Errors
/// As [`prices()`].
pub fn worth(
    situation: &Situation,
    worked: &Worked,
    pieces: i64,
    effort: &Effort,
    stop: &dyn Fn() -> bool,
) -> Result<Vec<WorthView>, Vec<Trouble>> {
    let problem = &worked.planned.problem;
    let crews = &situation.settings.crews;
    let mut asked: Vec<(String, Option<usize>, Extra)> = Vec::new();
    let open: Vec<usize> =
        (0..problem.day_count()).filter(|&day| (0..crews.len()).any(|crew| problem.crew_works(crew, day))).collect();
    for (gear, code) in worked.planned.gear.iter().enumerate().filter(|(_, code)| situation.gear_is_kept(code)) {
        let extra = |day| Extra::Gear { gear, day, count: pieces };
        asked.extend(open.iter().map(|&day| (format!("{pieces} {code}"), Some(day), extra(day))));
    }
    if let Some(first) = crews.first() {
        let like = format!("a crew like {}", first.id);
        asked.extend(
            open.iter().map(|&day| (format!("{like}, with a truck"), Some(day), Extra::CrewWithTruck { like: 0, day })),
        );
    }
    for (crew, rule) in crews.iter().enumerate() {
        let days = open.iter().filter(|&&day| problem.crew_works(crew, day));
        asked.extend(
            days.map(|&day| (format!("an hour for {}", rule.id), Some(day), Extra::Time { crew, day, minutes: HOUR })),
        );
    }
    for (truck, rule) in situation.settings.trucks.iter().enumerate() {
        asked.push((format!("a truck like {}", rule.id), None, Extra::Truck { like: truck }));
    }
    let extras: Vec<Extra> = asked.iter().map(|(_, _, extra)| *extra).collect();
    let seeds: Vec<u64> = (0..WORTH_SEEDS).map(|more| situation.settings.outlook.seed.wrapping_add(more)).collect();
    let found = prices(problem, &worked.planned.plan, &extras, effort, &seeds, stop)?;
    Ok(asked
        .into_iter()
        .zip(found)
        .map(|((one_more, day, _), price)| WorthView {
            one_more,
            date: day.map(|day| day_of(situation.today, day).to_string()),
            saves_cents: (price.worth.low.get(), price.worth.likely.get(), price.worth.high.get()),
            verdict: match price.verdict {
                Verdict::Saves => "saves",
                Verdict::Unsure => "unsure",
                Verdict::NotWorthIt => "not worth it",
            },
        })
        .collect())
}
