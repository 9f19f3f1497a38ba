//! The morning page, runs, replanning, and the sheets of one yard or one day.

use std::collections::BTreeSet;

use jiff::Timestamp;
use jiff::civil::Date;
use outyard_app::day::{DayFit, DayInput, YardSheet, day_fits, yard_sheet};
use outyard_app::plan::day_of;
use outyard_app::replanning::{Change, Mended, mend, running_clocks};
use outyard_app::roads::RoadMap;
use outyard_app::situation::Situation;
use outyard_app::standing::{GapView, LivedView, OtherView, WhyView, WorthView, why, worth};
use outyard_app::told::{PlanToldView, plan_told};
use outyard_app::views::{self, DueView, LoadView, MorningView, RunView, money};
use outyard_app::work_out::{WorkOrder, Worked, floor_of, work_out};
use outyard_base::days::{each_day, read_date};
use outyard_base::range::day_month;
use outyard_base::{ClockTime, Trouble, YardId};
use outyard_book::{Fact, Yard};
use outyard_folder::Desk;
use outyard_runs::Effort;
use outyard_trade::clocks::{ClockStart, DatedMark, dated_marks};
use outyard_trade::jobbook::LoadLine;
use serde::Serialize;
use serde_json::{Value, json};

use crate::args::{Care, DayWords, MorningWords, PlanWords, ReplanWords, RunsWords, YardWords, days};
use crate::progress::Waiting;
use crate::reply::{Reply, count_of, hang};
use crate::table::{Stand, lay_out};

type Answer = Result<Reply, Vec<Trouble>>;

fn one(trouble: Trouble) -> Vec<Trouble> {
    vec![trouble]
}

pub(crate) fn effort(care: Care) -> Effort {
    match care {
        Care::Quick => Effort::QUICK,
        Care::Good => Effort::GOOD,
        Care::Long => Effort::LONG,
    }
}

fn order(situation: &Situation, words: &PlanWords) -> WorkOrder {
    let days = words.days.map_or(situation.settings.outlook.plan_days, |days| days as usize);
    WorkOrder { days, effort: effort(words.care), shut: Vec::new(), crews_out: Vec::new() }
}

/// A situation worked out, with the clock it took shown while it lasts.
pub(crate) fn work(desk: &Desk, words: &PlanWords) -> Result<(Situation, Worked), Vec<Trouble>> {
    let waiting = Waiting::new("looking at yards, weather and scales");
    let situation = looked_at(desk, words)?;
    waiting.say("planning runs");
    let worked = work_out(&situation, &order(&situation, words), &|| false)?;
    Ok((situation, worked))
}

/// All that is known, without what the crews were told when the plan is to be made afresh.
fn looked_at(desk: &Desk, words: &PlanWords) -> Result<Situation, Vec<Trouble>> {
    let mut situation = desk.situation()?;
    if words.afresh {
        situation.outfit.told = None;
    }
    Ok(situation)
}

/// Writes down that the crews are told a plan.
fn tell(desk: &Desk, situation: &Situation, worked: &Worked, change: &Change) -> Result<String, Vec<Trouble>> {
    let told = plan_told(situation, worked, change);
    let (runs, visits) = (told.runs.len(), told.runs.iter().map(|run| run.visits.len()).sum());
    desk.write(&[desk.entry(situation.today, Fact::PlanTold(told))?])?;
    Ok(format!("\nTold: {}, {}. Later mornings start from them.\n", count_of(runs, "run"), count_of(visits, "visit")))
}

/// Tries of one planning when something is priced.
const WORTH_EFFORT: Effort = Effort { tries: 1_000 };

/// The morning with how good its plan is.
#[derive(Serialize)]
struct MorningAnswer<'a> {
    #[serde(flatten)]
    morning: &'a MorningView,
    gap: GapView,
    weather: Option<LivedView>,
}

/// `outyard morning`.
pub(crate) fn morning(words: &MorningWords, desk: &Desk) -> Answer {
    let (situation, worked) = work(desk, &words.plan)?;
    let view = views::morning(&situation, &worked);
    let gap = GapView::of(&worked, floor_of(&worked, floor_work(words.plan.care)));
    let ahead = LivedView::of(&worked);
    let mut page = morning_page(&view) + &standing_page(&gap, ahead.as_ref());
    if words.tell {
        page.push_str(&tell(desk, &situation, &worked, &Change::default())?);
    }
    Ok(Reply::new(page, MorningAnswer { morning: &view, gap, weather: ahead }).with(worked.notes))
}

pub(crate) fn kg(number: f64) -> String {
    // A little less than nothing is nothing: no page shows a minus before a zero.
    let tenths = (number * 10.0).round() / 10.0 + 0.0;
    format!("{tenths:.1}")
}

fn morning_page(view: &MorningView) -> String {
    let mut page = format!("{}   {}\n{} in {}\n", view.outfit, view.said, view.colonies, count_of(view.yards, "yard"));
    page.push_str(&format!("Flow: {}", view.flow.said));
    if let Some(gain) = &view.gain_today_kg {
        page.push_str(&format!(
            "; a strong colony should gain {} kg today ({} to {})",
            kg(gain.likely),
            kg(gain.low),
            kg(gain.high)
        ));
    }
    page.push('\n');
    if let Some(told) = &view.told {
        page.push_str(&told_page(told));
    }
    page.push_str("\nGo or not today\n");
    page.push_str(&lay_out(
        &[
            ("", Stand::Left),
            ("yards", Stand::Left),
            ("for", Stand::Left),
            ("it needs", Stand::Left),
            ("what decided", Stand::Left),
        ],
        view.gates.iter().map(|gate| {
            let (verdict, needs) = match &gate.hours {
                Some((from, to)) => (format!("GO {from}-{to}"), gate.words.clone()),
                None => ("NOT TODAY".to_owned(), format!("{}. Instead: {}", gate.words, gate.instead)),
            };
            vec![
                verdict,
                format!("{} of {}", gate.yards_open, gate.yards),
                gate.jobs.join(", "),
                needs,
                gate.deciding.clone(),
            ]
        }),
    ));
    if view.today.is_empty() {
        page.push_str("\nNo run today.\n");
    }
    for run in &view.today {
        page.push('\n');
        page.push_str(&run_page(run));
    }
    if !view.today.is_empty() {
        page.push_str("\nMind today\n");
        page.push_str(&cautions(&view.today));
    }
    page.push_str("\nThe days after\n");
    if view.later.is_empty() {
        page.push_str("  Nothing that would be worth a trip is due.\n");
    } else {
        page.push_str(&runs_table(&view.later));
    }
    if !view.left_out.is_empty() {
        page.push_str("\nDue, but after this plan or not worth a trip in it\n");
        page.push_str(&due_table(&view.left_out));
    }
    if !view.stock.is_empty() {
        page.push_str("\nGear against the plan\n");
        page.push_str(&lay_out(
            &[("", Stand::Left), ("ready", Stand::Right), ("plan takes", Stand::Right), ("left", Stand::Right)],
            view.stock.iter().map(|line| {
                vec![line.gear.clone(), line.ready.to_string(), line.wanted.to_string(), line.left.to_string()]
            }),
        ));
    }
    page.push_str(&format!(
        "\nThe plan: {} lost by waiting, {} left for later, {} wages, {} road.\n",
        money(view.bill.waiting_cents),
        money(view.bill.left_out_cents),
        money(view.bill.wages_cents),
        money(view.bill.road_cents)
    ));
    if view.unsettled > 0 {
        page.push_str(&format!(
            "{} visits have two tallies that differ; `outyard gear` shows them and what would settle them.\n",
            view.unsettled
        ));
    }
    if let Some(oldest) = &view.oldest_count {
        page.push_str(&format!("The oldest count of colonies behind this page is of {oldest}.\n"));
    }
    page
}

/// What has come of the plan the crews were told.
fn told_page(told: &PlanToldView) -> String {
    let mut page = hang(
        "",
        &format!(
            "The crews were told on {}: {} as told, {} not.",
            short_date(&told.on),
            count_of(told.stayed, "visit"),
            told.slid.len()
        ),
    );
    let place = |day: Option<&String>, crew: Option<&String>| match (day, crew) {
        (Some(day), Some(crew)) => format!("{} {crew}", short_date(day)),
        _ => "on no run".to_owned(),
    };
    for slide in &told.slid {
        let why = if slide.forced { "had to" } else { "better so" };
        page.push_str(&hang(
            &format!("  {} ", slide.yard),
            &format!(
                "told for {}, now {}, {why}",
                place(slide.from.as_ref(), slide.from_crew.as_ref()),
                place(slide.to.as_ref(), slide.to_crew.as_ref()),
            ),
        ));
    }
    for missed in &told.missed {
        page.push_str(&hang(
            &format!("  {} ", missed.yard),
            &format!("told for {}, not closed", short_date(&missed.on)),
        ));
    }
    let mut laid: Vec<String> = told.nobody_out.iter().map(|on| format!("nobody out on {}", short_date(on))).collect();
    laid.extend(told.stays_home.iter().map(|home| format!("{} stays home on {}", home.crew, short_date(&home.on))));
    if !laid.is_empty() {
        page.push_str(&hang("  Your word: ", &laid.join(", ")));
    }
    page
}

/// One run in full.
pub(crate) fn run_page(run: &RunView) -> String {
    let lunch = run.lunch.as_ref().map_or_else(String::new, |(from, to)| format!(", lunch {from}-{to}"));
    let mut page = hang(
        &format!("CREW {} ", run.crew),
        &format!(
            "({} hands), truck {}: leave {}, home {}{lunch}; {:.0} km, {} min on the road",
            run.hands, run.truck, run.leave, run.home, run.road_km, run.drive_min
        ),
    );
    page.push_str(&lay_out(
        &[("", Stand::Left), ("yard", Stand::Left), ("do", Stand::Left), ("a day more costs", Stand::Right)],
        run.stops.iter().map(|stop| {
            let jobs: Vec<String> = stop.jobs.iter().map(|job| format!("{}: {}", job.name, job.colonies)).collect();
            let name = if stop.name.is_empty() { stop.yard.clone() } else { format!("{} {}", stop.yard, stop.name) };
            let wet = if stop.wet_road { " (wet road)" } else { "" };
            vec![
                format!("{}-{}", stop.start, stop.end),
                format!("{name}{wet}"),
                jobs.join("; "),
                money(stop.a_day_more_cents),
            ]
        }),
    ));
    page.push_str(&hang("  Load: ", &load_words(&run.load)));
    page.push_str(&format!(
        "        {:.0} of {} box places, {:.0} of {:.0} kg; home by weight at most {} full boxes\n",
        run.deck_places, run.deck_places_max, run.weight_kg, run.payload_kg, run.full_boxes_home_max
    ));
    for stop in &run.stops {
        for job in &stop.jobs {
            page.push_str(&hang(&format!("  Why {}: ", stop.yard), &job.reason));
        }
    }
    page
}

/// Cautions of all runs, each once; one that another begins with is left out.
fn cautions(runs: &[RunView]) -> String {
    let mut all: Vec<&String> = Vec::new();
    for caution in runs.iter().flat_map(|run| &run.cautions) {
        if !all.contains(&caution) {
            all.push(caution);
        }
    }
    let mut page = String::new();
    for caution in all.iter().filter(|one| !all.iter().any(|other| other != *one && other.starts_with(one.as_str()))) {
        page.push_str(&hang("  - ", caution));
    }
    page
}

fn load_words(load: &[LoadView]) -> String {
    if load.is_empty() {
        return "nothing but the usual".to_owned();
    }
    let lines: Vec<String> = load
        .iter()
        .map(|line| {
            if line.load == line.needed {
                format!("{} {}", line.load, line.said)
            } else {
                format!("{} {} ({} and spares)", line.load, line.said, line.needed)
            }
        })
        .collect();
    lines.join(", ")
}

pub(crate) fn short_date(text: &str) -> String {
    read_date(text)
        .map_or_else(|_| text.to_owned(), |date| format!("{} {}", &views::weekday(date)[..3], day_month(date)))
}

fn runs_table(runs: &[RunView]) -> String {
    lay_out(
        &[
            ("day", Stand::Left),
            ("crew", Stand::Left),
            ("out", Stand::Left),
            ("yards", Stand::Left),
            ("load", Stand::Left),
        ],
        runs.iter().map(|run| {
            let yards: Vec<&str> = run.stops.iter().map(|stop| stop.yard.as_str()).collect();
            let boxes: Vec<String> = run
                .load
                .iter()
                .filter(|line| !line.comes_home)
                .map(|line| format!("{} {}", line.load, line.said))
                .collect();
            vec![
                short_date(&run.date),
                run.crew.clone(),
                format!("{}-{}", run.leave, run.home),
                yards.join(", "),
                boxes.join(", "),
            ]
        }),
    )
}

fn due_table(due: &[DueView]) -> String {
    lay_out(
        &[
            ("yard", Stand::Left),
            ("what", Stand::Left),
            ("from", Stand::Left),
            ("best", Stand::Left),
            ("to", Stand::Left),
        ],
        due.iter().map(|visit| {
            vec![
                visit.yard.clone(),
                visit.what.clone(),
                short_date(&visit.from),
                short_date(&visit.best),
                visit.to.as_deref().map_or_else(|| "-".to_owned(), short_date),
            ]
        }),
    )
}

/// Work on the prices behind a floor at most: a morning must not wait long for its proof.
fn floor_work(care: Care) -> u64 {
    match care {
        Care::Quick => 50_000_000,
        Care::Good => 500_000_000,
        Care::Long => 20_000_000_000,
    }
}

/// How good the plan is: its floor, and how it fares in the weather to come.
fn standing_page(gap: &GapView, ahead: Option<&LivedView>) -> String {
    let mut page = hang("", &gap.said());
    if let Some(ahead) = ahead {
        page.push_str(&hang("", &ahead.said()));
    }
    page
}

fn other_words(other: &OtherView) -> (String, String) {
    let crew = other.crew.clone().unwrap_or_default();
    match (other.adds_cents, &other.forbids) {
        (Some(adds), _) if adds < 0 => (crew, format!("{} less", money(-adds))),
        (Some(adds), _) => (crew, format!("{} more", money(adds))),
        (None, forbids) => (crew, forbids.clone().unwrap_or_default()),
    }
}

/// Why one visit stands where it stands.
fn why_page(why: &WhyView) -> String {
    let stands = match (&why.date, &why.crew) {
        (Some(date), Some(crew)) => format!("{} with {crew}", short_date(date)),
        _ => "left for later".to_owned(),
    };
    let mut page = String::from("\n");
    page.push_str(&hang(&format!("Why {}: ", why.yard), &format!("{}: {stands}", why.what)));
    let lost = if why.date.is_some() { "lost by waiting till then" } else { "lost by leaving it out" };
    page.push_str(&format!("  {} {lost}; ", money(why.loss_cents)));
    if why.date.is_some() {
        page.push_str(&format!("leaving it out would cost {} more.\n", money(why.leaving_out_adds_cents)));
    } else {
        page.push_str("no day below would cost less.\n");
    }
    let rows = why.other_crews.iter().chain(&why.other_days).map(|other| {
        let (crew, words) = other_words(other);
        let best = why.next_best_day.as_ref() == Some(other) || why.next_best_crew.as_ref() == Some(other);
        vec![short_date(&other.date), crew, words, if best { "next best" } else { "" }.to_owned()]
    });
    page.push_str(&lay_out(
        &[("instead", Stand::Left), ("crew", Stand::Left), ("costs", Stand::Left), ("", Stand::Left)],
        rows,
    ));
    page
}

/// What one more would be worth; days in a row with one answer share a line.
fn worth_page(worth: &[WorthView]) -> String {
    let mut rows: Vec<(String, String, WorthView)> = Vec::new();
    for one in worth {
        let date = one.date.as_deref().map_or_else(|| "all days".to_owned(), short_date);
        match rows.last_mut() {
            Some((_, last, known))
                if known.one_more == one.one_more
                    && (known.saves_cents, known.verdict) == (one.saves_cents, one.verdict) =>
            {
                *last = date;
            }
            _ => rows.push((date.clone(), date, one.clone())),
        }
    }
    lay_out(
        &[
            ("one more", Stand::Left),
            ("on", Stand::Left),
            ("saves", Stand::Right),
            ("least", Stand::Right),
            ("most", Stand::Right),
            ("", Stand::Left),
        ],
        rows.into_iter().map(|(first, last, one)| {
            let (low, likely, high) = one.saves_cents;
            vec![
                one.one_more,
                if first == last { first } else { format!("{first} to {last}") },
                money(likely),
                money(low),
                money(high),
                one.verdict.to_owned(),
            ]
        }),
    )
}

/// `outyard runs`.
pub(crate) fn runs(words: &RunsWords, desk: &Desk) -> Answer {
    let (situation, worked) = work(desk, &words.plan)?;
    for id in &words.why {
        find_yard(&situation, id)?;
    }
    let waiting = Waiting::new("proving how good the plan is");
    let gap = GapView::of(&worked, floor_of(&worked, floor_work(words.plan.care)));
    let ahead = LivedView::of(&worked);
    let asked = |visit: &usize| words.why.contains(&worked.due[*visit].yard);
    let whys: Vec<WhyView> = (0..worked.due.len()).filter(asked).map(|visit| why(&situation, &worked, visit)).collect();
    let priced = if words.worth {
        waiting.say("planning again with one more");
        worth(&situation, &worked, words.pieces, &WORTH_EFFORT, &|| false)?
    } else {
        Vec::new()
    };
    drop(waiting);
    let runs = views::run_views(&situation, &worked);
    let due: Vec<DueView> = (0..worked.due.len()).map(|visit| views::due_view(&situation, &worked, visit)).collect();
    let mut page = format!("Runs from {}\n\n", situation.today);
    page.push_str(&runs_table(&runs));
    let (own, thumb) = (worked.bill.total(), worked.rule_of_thumb.total());
    page.push_str(&format!(
        "\nAll in all {}, {} less than going to the nearest yard that is due ({}).\n",
        own.whole(),
        (thumb - own).whole(),
        thumb.whole()
    ));
    page.push_str(&standing_page(&gap, ahead.as_ref()));
    for id in words.why.iter().filter(|id| !whys.iter().any(|why| why.yard == id.as_str())) {
        page.push_str(&format!("\nWhy {id}: nothing is due there within this plan.\n"));
    }
    for why in &whys {
        page.push_str(&why_page(why));
    }
    if words.worth {
        page.push_str("\nWhat one more would be worth\n");
        page.push_str(&worth_page(&priced));
    }
    page.push_str("\nWhat each visit would cost on other days\n");
    page.push_str(&waiting_table(&situation, &due));
    let data = json!({
        "runs": runs,
        "due": due,
        "plan_cents": own.get(),
        "nearest_due_first_cents": thumb.get(),
        "gap": gap,
        "weather": ahead,
        "why": whys,
        "worth": priced,
    });
    Ok(Reply::new(page, data).with(worked.notes))
}

fn waiting_table(situation: &Situation, due: &[DueView]) -> String {
    let shown = [0, 2, 4, 7, 10, 13];
    let mut columns: Vec<(String, Stand)> =
        vec![("yard".to_owned(), Stand::Left), ("what".to_owned(), Stand::Left), ("planned".to_owned(), Stand::Left)];
    let last = due.first().map_or(0, |visit| visit.waiting_cents.len());
    let shown: Vec<usize> = shown.into_iter().filter(|day| *day < last).collect();
    columns.extend(shown.iter().map(|day| (day_month(day_of(situation.today, *day)), Stand::Right)));
    let heads: Vec<(&str, Stand)> = columns.iter().map(|(name, stand)| (name.as_str(), *stand)).collect();
    lay_out(
        &heads,
        due.iter().map(|visit| {
            let mut row = vec![
                visit.yard.clone(),
                visit.what.clone(),
                visit.planned.as_deref().map_or_else(|| "later".to_owned(), short_date),
            ];
            row.extend(shown.iter().map(|day| money(visit.waiting_cents[*day])));
            row
        }),
    )
}

/// `outyard replan`.
pub(crate) fn replan_runs(words: &ReplanWords, desk: &Desk) -> Answer {
    let waiting = Waiting::new("looking at yards, weather and scales");
    let situation = looked_at(desk, &words.plan)?;
    let mut order = order(&situation, &words.plan);
    waiting.say("planning as if nothing had happened");
    let before = work_out(&situation, &order, &|| false)?;
    order.shut = words.rain.iter().flat_map(|span| each_day(span.first, span.last)).collect();
    order.crews_out = crews_home(&situation, &words.crew_home)?;
    let change = Change { shut: order.shut, crews_out: order.crews_out, wishes: Vec::new() };
    waiting.say("mending the plan");
    let started = Timestamp::now();
    let Mended { worked: after, replanned: mended } =
        mend(&situation, &before, order.days, &change, &order.effort, &|| false)?;
    let took = Timestamp::now().duration_since(started);
    let place = |place: Option<(usize, usize)>| {
        place.map_or_else(
            || "left for later".to_owned(),
            |(day, crew)| {
                format!(
                    "{} {}",
                    short_date(&day_of(situation.today, day).to_string()),
                    situation.settings.crews[crew].id
                )
            },
        )
    };
    let mut page =
        format!("{} slid, {} stand as they were\n", count_of(mended.slid.len(), "visit"), mended.stayed.len());
    page.push_str(&lay_out(
        &[
            ("yard", Stand::Left),
            ("what", Stand::Left),
            ("was", Stand::Left),
            ("is", Stand::Left),
            ("", Stand::Left),
            ("costs", Stand::Right),
        ],
        mended.slid.iter().map(|slide| {
            vec![
                after.due[slide.visit].yard.to_string(),
                after.due[slide.visit].what(&situation.jobs),
                place(slide.from),
                place(slide.to),
                if slide.forced { "had to" } else { "better so" }.to_owned(),
                slide.cost.whole(),
            ]
        }),
    ));
    page.push_str(&format!("\nHoney and queens lost by the change: {}\n", mended.cost.whole()));
    page.push_str("Brood clocks do not move with the rain:\n");
    page.push_str(&lay_out(
        &[("yard", Stand::Left), ("put down", Stand::Left), ("cells", Stand::Left), ("workers out", Stand::Left)],
        standing_clocks(&situation).into_iter().take(12),
    ));
    page.push_str("\nThe new runs\n");
    page.push_str(&runs_table(&views::run_views(&situation, &after)));
    if words.tell {
        page.push_str(&tell(desk, &situation, &after, &change)?);
    }
    let data = json!({
        "slid": mended.slid.iter().map(|slide| json!({
            "visit": after.due[slide.visit].key,
            "yard": after.due[slide.visit].yard.as_str(),
            "what": after.due[slide.visit].what(&situation.jobs),
            "from": slide.from.map(|(day, _)| day_of(situation.today, day).to_string()),
            "to": slide.to.map(|(day, _)| day_of(situation.today, day).to_string()),
            "forced": slide.forced,
            "cost_cents": slide.cost.get(),
        })).collect::<Vec<_>>(),
        "stayed": mended.stayed.len(),
        "cost_cents": mended.cost.get(),
        "took_ms": took.as_millis(),
        "runs_before": views::run_views(&situation, &before),
        "runs": views::run_views(&situation, &after),
    });
    Ok(Reply::new(page, data).with(before.notes))
}

fn standing_clocks(situation: &Situation) -> Vec<Vec<String>> {
    situation
        .outfit
        .kept_yards()
        .filter_map(|(id, yard)| yard.last_put_down().map(|(day0, _)| (id, day0)))
        .map(|(id, day0)| {
            let find = |code: &str| {
                dated_marks(ClockStart::ExcluderUnderBrood, day0)
                    .into_iter()
                    .find(|dated| dated.mark.code == code)
                    .map_or_else(String::new, |dated| match dated.to {
                        Some(to) => format!("{} to {}", day_month(dated.from), day_month(to)),
                        None => day_month(dated.from),
                    })
            };
            vec![id.to_string(), day_month(day0), find("cell-look"), find("workers-out")]
        })
        .collect()
}

fn crews_home(situation: &Situation, words: &[String]) -> Result<Vec<(String, Date)>, Vec<Trouble>> {
    let mut out = Vec::new();
    for word in words {
        let bad = |why: String| {
            let crews: Vec<&str> = situation.settings.crews.iter().map(|crew| crew.id.as_str()).collect();
            one(Trouble::new(
                "CLI-006",
                format!("--crew-home {word}: {why}"),
                format!("write it as CREW@2026-07-06; the crews are {}", crews.join(", ")),
            ))
        };
        let (crew, span) = word.split_once('@').ok_or_else(|| bad("no day is named".to_owned()))?;
        if !situation.settings.crews.iter().any(|known| known.id.as_str() == crew) {
            return Err(bad("there is no such crew".to_owned()));
        }
        let span = days(span).map_err(bad)?;
        out.extend(each_day(span.first, span.last).map(|date| (crew.to_owned(), date)));
    }
    Ok(out)
}

pub(crate) fn find_yard<'a>(situation: &'a Situation, yard: &YardId) -> Result<&'a Yard, Vec<Trouble>> {
    situation.outfit.yards.get(yard).filter(|yard| yard.given_up.is_none()).ok_or_else(|| {
        one(Trouble::new(
            "YRD-005",
            format!("the book knows of no yard {yard}"),
            "correct its name, or import it; `outyard yards` lists them",
        ))
    })
}

fn marks_data(marks: &[DatedMark]) -> Vec<Value> {
    marks
        .iter()
        .map(|dated| {
            json!({
                "code": dated.mark.code,
                "name": dated.mark.name,
                "from": dated.from.to_string(),
                "best": dated.best.to_string(),
                "to": dated.to.map(|date| date.to_string()),
            })
        })
        .collect()
}

fn load_data(load: &[LoadLine]) -> Vec<Value> {
    load.iter()
        .map(|line| {
            json!({
                "gear": line.gear.as_str(),
                "said": line.said,
                "needed": line.needed,
                "load": line.load,
                "weight_kg": line.weight.get(),
            })
        })
        .collect()
}

fn load_list(load: &[LoadLine]) -> String {
    lay_out(
        &[("load", Stand::Right), ("", Stand::Left), ("needed", Stand::Right), ("kg", Stand::Right)],
        load.iter().map(|line| {
            vec![line.load.to_string(), line.said.clone(), line.needed.to_string(), format!("{:.0}", line.weight.get())]
        }),
    )
}

/// `outyard yard`.
pub(crate) fn yard(words: &YardWords, desk: &Desk) -> Answer {
    let situation = desk.situation()?;
    let yard = find_yard(&situation, &words.yard)?;
    let today = situation.today;
    let mut page = format!("Yard {} {}   {}\n", words.yard, yard.kept.name, day_month(today));
    let counted =
        yard.counted_on.map_or_else(|| "never counted".to_owned(), |date| format!("counted {}", day_month(date)));
    page.push_str(&format!("{} ({counted})\n", yard.colonies));
    for (label, text) in [("Gate: ", &yard.kept.gate), ("Land: ", &yard.kept.landowner)] {
        if !text.is_empty() {
            page.push_str(&hang(label, text));
        }
    }
    if yard.kept.wet_road {
        page.push_str("The road is bad after rain.\n");
    }
    let running = running_clocks(yard, today);
    for (day0, marks) in &running {
        page.push_str(&format!("\nPut down {}: clocks that do not move\n", day_month(*day0)));
        page.push_str(&clock_table(marks));
    }
    let by = words.by.as_ref().unwrap_or(&situation.settings.put_down_by);
    let sheet = yard_sheet(&situation.jobs, &words.yard, &yard.colonies, by, words.hands, today);
    let sheet_data = match sheet {
        Ok(sheet) => {
            page.push_str(&sheet_page(&situation, &sheet));
            sheet_data(&sheet)
        }
        Err(trouble) if trouble.code == "DAY-001" && !running.is_empty() => Value::Null,
        Err(trouble) => return Err(one(trouble)),
    };
    let data = json!({
        "yard": words.yard.as_str(),
        "date": today.to_string(),
        "colonies": yard.colonies.iter().map(|(kind, count)| (kind.code().to_owned(), json!(count))).collect::<serde_json::Map<_, _>>(),
        "counted_on": yard.counted_on.map(|date| date.to_string()),
        "put_down": sheet_data,
        "running": running.iter().map(|(day0, marks)| json!({ "put_down_on": day0.to_string(), "clocks": marks_data(marks) })).collect::<Vec<_>>(),
    });
    Ok(Reply::new(page, data).with(situation.notes.clone()))
}

fn clock_table(marks: &[DatedMark]) -> String {
    lay_out(
        &[("", Stand::Left), ("from", Stand::Left), ("best", Stand::Left), ("to", Stand::Left)],
        marks.iter().map(|dated| {
            vec![
                dated.mark.name.to_owned(),
                day_month(dated.from),
                day_month(dated.best),
                dated.to.map_or_else(|| "stays true".to_owned(), day_month),
            ]
        }),
    )
}

fn sheet_page(situation: &Situation, sheet: &YardSheet) -> String {
    let mut page = format!("\nTo put down: {} ({} min)\n", sheet.minutes.spoken(), sheet.minutes.get());
    for (job, colonies) in &sheet.jobs {
        let job = &situation.jobs.jobs[job];
        page.push_str(&hang("  ", &format!("{}: {colonies}. {}", job.name, job.does)));
    }
    page.push_str("\nLoad for this yard\n");
    page.push_str(&load_list(&sheet.load));
    page.push_str("\nIf it is done today\n");
    page.push_str(&clock_table(&sheet.clocks));
    for caution in &sheet.cautions {
        page.push_str(&hang("Mind: ", caution));
    }
    page
}

fn sheet_data(sheet: &YardSheet) -> Value {
    json!({
        "minutes": sheet.minutes.get(),
        "jobs": sheet.jobs.iter().map(|(job, colonies)| json!({ "job": job.as_str(), "colonies": colonies.to_string() })).collect::<Vec<_>>(),
        "load": load_data(&sheet.load),
        "clocks": marks_data(&sheet.clocks),
        "cautions": sheet.cautions,
    })
}

/// `outyard day`.
pub(crate) fn day(words: &DayWords, desk: &Desk) -> Answer {
    let situation = desk.situation()?;
    let settings = &situation.settings;
    let crew = match &words.crew {
        None => settings.crews.first(),
        Some(name) => settings.crews.iter().find(|crew| crew.id.as_str() == name),
    }
    .ok_or_else(|| {
        let crews: Vec<&str> = settings.crews.iter().map(|crew| crew.id.as_str()).collect();
        one(Trouble::new("CLI-006", "there is no such crew", format!("the crews are {}", crews.join(", "))))
    })?;
    let truck = settings
        .trucks
        .iter()
        .find(|truck| truck.id == crew.truck)
        .expect("the settings let no crew through without its truck");
    let mut seen: BTreeSet<&YardId> = BTreeSet::new();
    let by = words.by.as_ref().unwrap_or(&settings.put_down_by);
    let mut sheets = Vec::new();
    for id in &words.yards {
        if !seen.insert(id) {
            return Err(one(Trouble::new("CLI-007", format!("yard {id} is named twice"), "name each yard once")));
        }
        let yard = find_yard(&situation, id)?;
        sheets.push(yard_sheet(&situation.jobs, id, &yard.colonies, by, crew.hands, situation.today).map_err(one)?);
    }
    let roads = RoadMap::new(settings, &situation.drives, &situation.roads, words.yards.clone(), &situation.places())?;
    let job = situation.jobs.job(by.as_str()).map_err(one)?;
    let gate = situation.jobs.gate_of(job);
    let gate = words.gate.unwrap_or((gate.from, gate.to));
    let fit = day_fits(
        &DayInput { settings, jobs: &situation.jobs, roads: &roads, crew, truck, gate },
        &words.yards,
        sheets,
    )?;
    let full_home = views::full_boxes_home(&situation, truck.payload);
    let page = day_page(&situation, words, &fit, gate, full_home);
    let data = json!({
        "fits": fit.why_not.is_none(),
        "why_not": fit.why_not,
        "crew": crew.id.as_str(),
        "leave": fit.times.as_ref().map(|times| times.leave.to_string()),
        "home": fit.times.as_ref().map(|times| times.home.to_string()),
        "lunch": fit.times.as_ref().and_then(|times| times.lunch).map(|lunch| json!({ "from": lunch.from.to_string(), "to": lunch.to.to_string() })),
        "window_left_min": fit.times.as_ref().and_then(outyard_runs::RunTimes::gate_left).map(outyard_base::Minutes::get),
        "stops": words.yards.iter().enumerate().map(|(at, id)| json!({
            "yard": id.as_str(),
            "minutes": fit.sheets[at].minutes.get(),
            "start": fit.times.as_ref().map(|times| times.stops[at].start.to_string()),
            "end": fit.times.as_ref().map(|times| times.stops[at].end.to_string()),
        })).collect::<Vec<_>>(),
        "load": load_data(&fit.load),
        "one_load": fit.one_load,
        "deck_places_max": truck.deeps_empty,
        "full_boxes_home_max": full_home,
    });
    Ok(Reply::new(page, data).with(situation.notes.clone()))
}

fn day_page(
    situation: &Situation,
    words: &DayWords,
    fit: &DayFit,
    gate: (ClockTime, ClockTime),
    full_home: i64,
) -> String {
    let verdict = fit.why_not.as_ref().map_or_else(|| "It fits".to_owned(), |why| format!("It does not fit: {why}"));
    let mut page = format!("{} on {}. {verdict}.\n\n", count_of(words.yards.len(), "yard"), day_month(situation.today));
    if let Some(times) = &fit.times {
        let mut rows = vec![vec![times.leave.to_string(), String::new(), "leave home".to_owned()]];
        for (at, stop) in times.stops.iter().enumerate() {
            if let Some(lunch) = times.lunch.filter(|lunch| lunch.after_stops == at) {
                rows.push(vec![lunch.from.to_string(), lunch.to.to_string(), "lunch".to_owned()]);
            }
            let minutes = fit.sheets[at].minutes;
            rows.push(vec![
                stop.start.to_string(),
                stop.end.to_string(),
                format!("yard {}, {} min", words.yards[at], minutes.get()),
            ]);
        }
        rows.push(vec![times.home.to_string(), String::new(), "home".to_owned()]);
        page.push_str(&lay_out(&[("from", Stand::Left), ("to", Stand::Left), ("", Stand::Left)], rows));
        if let Some(left) = times.gate_left() {
            page.push_str(&format!("\nHours {}-{}: {} min of them left.\n", gate.0, gate.1, left.get()));
        }
    }
    page.push_str("\nLoad\n");
    page.push_str(&load_list(&fit.load));
    page.push_str(&format!(
        "\n{} Home by weight at most {full_home} full boxes.\n",
        if fit.one_load { "One load." } else { "More than one load." }
    ));
    page
}
