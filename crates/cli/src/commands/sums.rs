//! The sums an owner does on the tailgate: when boxes fill, which yard first, what rain does to a round, what a comb
//! means, whether the flow is on.

use std::collections::BTreeSet;

use outyard_app::first::{FirstRule, PricedOrder, WaitingYard, best_order, price_order, read_waiting_yards, reasons};
use outyard_app::nights::{GroupNights, read_nights};
use outyard_app::round::{Round, RoundOutcome};
use outyard_base::days::each_day;
use outyard_base::range::day_month;
use outyard_base::{Kilograms, KilogramsPerDay, Trouble};
use outyard_folder::{Desk, column_map, read_file};
use outyard_season::fill::{QUEEN_CHECK_DAY, Room, full_after, gain_that_fills_on, return_by};
use outyard_season::{FlowRule, FlowState, flow_state};
use outyard_trade::jobbook::JobBook;
use outyard_trade::signs::{CombSeen, SignReading, read_sign};
use serde_json::{Value, json};

use crate::args::{FillWords, FirstWords, FlowWords, RoundWords, SignWords};
use crate::reply::{Reply, hang};
use crate::table::{Stand, lay_out};

type Answer = Result<Reply, Vec<Trouble>>;

fn kilograms(flag: &str, number: f64, least: f64, most: f64) -> Result<Kilograms, Vec<Trouble>> {
    if (least..=most).contains(&number) {
        return Ok(Kilograms::of(number));
    }
    Err(vec![Trouble::new(
        "CLI-001",
        format!("--{flag} {number} is outside {least} to {most}"),
        "correct the number; weights are in kilograms",
    )])
}

fn gain_of(flag: &str, number: f64) -> Result<KilogramsPerDay, Vec<Trouble>> {
    kilograms(flag, number, -20.0, 40.0).map(|gain| KilogramsPerDay::of(gain.get()))
}

fn room_of(jobs: &JobBook, boxes: f64, box_kg: Option<f64>) -> Result<Room, Vec<Trouble>> {
    let full = kilograms("box-kg", box_kg.unwrap_or(jobs.worth.full_deep_kg.get()), 1.0, 60.0)?;
    let boxes = kilograms("boxes", boxes, 0.0, 20.0)?.get();
    Ok(Room::new(full * boxes, full))
}

/// `outyard fill`: the hand sum.
pub(crate) fn fill(words: &FillWords, desk: &Desk) -> Answer {
    let jobs = desk.jobs()?;
    let room = room_of(&jobs, words.boxes, words.box_kg)?;
    let gain = gain_of("gain", words.gain)?;
    let full = full_after(&room, gain);
    let back = return_by(full, QUEEN_CHECK_DAY);
    let enough = gain_that_fills_on(&room, 14.0);
    let mut page = format!(
        "Room above the excluder: {:.0} kg at once, {:.0} kg more as the brood above hatches over 21 days.\n",
        room.super_kg, room.upper_box_kg
    );
    match full {
        Some(days) => page.push_str(&format!("At {gain:.1} a colony the boxes are full after {days:.1} days.\n")),
        None => page.push_str(&format!("At {gain:.1} a colony the boxes never fill.\n")),
    }
    if let Some(room_day) = back.for_room {
        page.push_str(&format!("Back by D+{room_day} for room, by D+{} for the queen check", back.for_queen_check));
    } else {
        page.push_str(&format!("Back by D+{} for the queen check", back.for_queen_check));
    }
    page.push_str(&format!(": go on D+{}.\n", back.day()));
    if let Some(day0) = words.put_down {
        let (for_room, for_queen) = back.dates(day0);
        let for_room = for_room.map_or_else(|| "no date".to_owned(), day_month);
        page.push_str(&format!(
            "Put down {}: room until {for_room}, queen check {}.\n",
            day_month(day0),
            day_month(for_queen)
        ));
    }
    if let Some(enough) = enough {
        page.push_str(&format!(
            "With a return after 14 days this room is enough up to {:.2} kg a day; above that put on one box more.\n",
            enough.get()
        ));
    }
    Ok(Reply::new(
        page,
        json!({
            "super_kg": room.super_kg,
            "upper_box_kg": room.upper_box_kg,
            "gain_kg_per_day": gain.get(),
            "full_after_days": full,
            "return_day_for_room": back.for_room,
            "return_day_for_queen_check": back.for_queen_check,
            "return_day": back.day(),
            "return_date": words.put_down.map(|day0| outyard_base::days::plus_days(day0, back.day()).to_string()),
            "enough_for_14_days_up_to_kg_per_day": enough.map(KilogramsPerDay::get),
        }),
    ))
}

/// `outyard first`: which yard to give boxes to first.
pub(crate) fn first(words: &FirstWords, desk: &Desk) -> Answer {
    let jobs = desk.jobs()?;
    let name = words.file.display().to_string();
    let yards = read_waiting_yards(&name, &read_file(&words.file)?, &column_map(&words.column)?)?;
    let rule = FirstRule {
        box_honey: kilograms("box-kg", words.box_kg.unwrap_or(jobs.worth.full_deep_kg.get()), 1.0, 60.0)?,
        share_lost: jobs.worth.lost_once_full,
        price_per_kg: jobs.worth.honey_per_kg,
    };
    let best = best_order(&yards, &rule);
    let why = reasons(&yards, &best, &rule);
    let mut others = vec![("most colonies first", by_colonies(&yards))];
    if !words.order.is_empty() {
        others.insert(0, ("your order", own_order(&yards, &words.order)?));
    }
    let named =
        |order: &PricedOrder| -> Vec<String> { order.order.iter().map(|at| yards[*at].yard.to_string()).collect() };
    let mut page = format!("Best order, one yard each morning: {}\n", named(&best).join(", "));
    for (morning, reason) in why.iter().enumerate() {
        page.push_str(&hang(&format!("  {}. ", morning + 1), reason));
    }
    let mut rows = vec![("best", best.clone())];
    rows.extend(others.into_iter().map(|(label, order)| (label, price_order(&yards, &order, &rule))));
    page.push('\n');
    page.push_str(&lay_out(
        &[("order", Stand::Left), ("", Stand::Left), ("loses kg", Stand::Right), ("money", Stand::Right)],
        rows.iter().map(|(label, order)| {
            vec![(*label).to_owned(), named(order).join(", "), format!("{:.1}", order.lost.get()), order.money.whole()]
        }),
    ));
    let told = |label: &str, order: &PricedOrder| -> Value {
        json!({ "order": named(order), "said": label, "lost_kg": order.lost.get(), "lost_cents": order.money.get() })
    };
    let full: Vec<Value> = yards
        .iter()
        .map(|yard| json!({ "yard": yard.yard.as_str(), "full_in_days": yard.full_in_days(&rule) }))
        .collect();
    Ok(Reply::new(
        page,
        json!({
            "best": told("best", &best),
            "others": rows[1..].iter().map(|(label, order)| told(label, order)).collect::<Vec<_>>(),
            "yards": full,
            "reasons": why,
        }),
    ))
}

fn by_colonies(yards: &[WaitingYard]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..yards.len()).collect();
    order.sort_by_key(|at| std::cmp::Reverse(yards[*at].colonies));
    order
}

fn own_order(yards: &[WaitingYard], wanted: &[outyard_base::YardId]) -> Result<Vec<usize>, Vec<Trouble>> {
    let order: Vec<usize> = wanted.iter().filter_map(|name| yards.iter().position(|yard| yard.yard == *name)).collect();
    let all: BTreeSet<usize> = order.iter().copied().collect();
    if all.len() == yards.len() && order.len() == wanted.len() {
        return Ok(order);
    }
    let names: Vec<&str> = yards.iter().map(|yard| yard.yard.as_str()).collect();
    Err(vec![Trouble::new(
        "FST-003",
        "the order does not name each yard of the file once",
        format!("name all of them: {}", names.join(",")),
    )])
}

/// `outyard round`: what rain does to a round.
pub(crate) fn round(words: &RoundWords, desk: &Desk) -> Answer {
    let jobs = desk.jobs()?;
    let rain: BTreeSet<_> = words.rain.iter().flat_map(|span| each_day(span.first, span.last)).collect();
    let round = Round {
        yards: words.yards,
        yards_per_day: words.a_day,
        start: words.from,
        rain,
        gain: gain_of("gain", words.gain)?,
        gain_in_rain: gain_of("gain-in-rain", words.gain_in_rain)?,
        room: room_of(&jobs, words.boxes, words.box_kg)?,
    }
    .checked()
    .map_err(|trouble| vec![trouble])?;
    let sum = round.sum();
    let mut page =
        format!("{} yards at {} a day from {}\n\n", round.yards, round.yards_per_day, day_month(round.start));
    let line = |label: &str, outcome: &RoundOutcome| -> Vec<String> {
        vec![
            label.to_owned(),
            day_month(outcome.finish),
            outcome.full_after_days.map_or_else(|| "never".to_owned(), |days| format!("D+{days:.1}")),
            outcome.back.dates(round.start).0.map_or_else(|| "-".to_owned(), day_month),
            outcome.slack_days.map_or_else(|| "-".to_owned(), |days| days.to_string()),
        ]
    };
    page.push_str(&lay_out(
        &[
            ("", Stand::Left),
            ("round ends", Stand::Left),
            ("first yards full", Stand::Left),
            ("latest return", Stand::Left),
            ("clear days between", Stand::Right),
        ],
        [line("as planned", &sum.dry), line("with the rain", &sum.wet)],
    ));
    page.push_str("\nYards by day with the rain\n");
    page.push_str(&lay_out(
        &[("day", Stand::Left), ("yards", Stand::Right)],
        sum.wet.days.iter().map(|(day, yards)| vec![day_month(*day), yards.to_string()]),
    ));
    if let Some((day, held)) = sum.wet.held {
        page.push_str(&format!("\nOn D+{day}, after the rain, a colony of the first yards holds {held:.1}.\n"));
    }
    page.push_str(&format!("\nBrood clocks of the yards put down {}: they do NOT move\n", day_month(round.start)));
    for dated in &sum.wet.clocks {
        page.push_str(&hang("  ", &dated.to_string()));
    }
    let told = |outcome: &RoundOutcome| -> Value {
        let (for_room, for_queen) = outcome.back.dates(round.start);
        json!({
            "days": outcome.days.iter().map(|(day, yards)| json!({ "date": day.to_string(), "yards": yards })).collect::<Vec<_>>(),
            "finish": outcome.finish.to_string(),
            "full_after_days": outcome.full_after_days,
            "latest_return": for_room.map(|date| date.to_string()),
            "queen_check": for_queen.to_string(),
            "clear_days_before_return": outcome.slack_days,
            "held_kg": outcome.held.map(|(day, held)| json!({ "day": day, "kg": held.get() })),
            "clocks": outcome.clocks.iter().map(|dated| json!({
                "code": dated.mark.code,
                "from": dated.from.to_string(),
                "best": dated.best.to_string(),
                "to": dated.to.map(|date| date.to_string()),
            })).collect::<Vec<_>>(),
        })
    };
    Ok(Reply::new(page, json!({ "dry": told(&sum.dry), "wet": told(&sum.wet) })))
}

/// `outyard sign`: the sign reader.
pub(crate) fn sign(words: &SignWords, desk: &Desk) -> Answer {
    let Some(seen) = CombSeen::read(&words.seen) else {
        let signs: Vec<String> =
            CombSeen::ALL.iter().map(|sign| format!("{} ({})", sign.code(), sign.said())).collect();
        return Err(vec![Trouble::new(
            "SGN-001",
            format!("\"{}\" is no sign", words.seen),
            format!("the signs are: {}", signs.join("; ")),
        )]);
    };
    let put_down = match (words.put_down, &words.yard) {
        (Some(day), _) => day,
        (None, yard) => desk.last_put_down(yard.as_ref().expect("clap asks for one of the two"))?,
    };
    let seen_on = words.seen_on.unwrap_or(desk.today());
    let mut page = format!("Put down {put_down}, looked {seen_on}: {}\n\n", seen.said());
    let data = match read_sign(put_down, seen_on, seen) {
        SignReading::Meaning(meaning) => {
            page.push_str(&hang("It means: ", &meaning.means));
            page.push_str("Do\n");
            for (step, text) in meaning.to_do.iter().enumerate() {
                page.push_str(&hang(&format!("  {}. ", step + 1), text));
            }
            if !meaning.next.is_empty() {
                page.push_str("Dates that count now\n");
                for dated in &meaning.next {
                    page.push_str(&hang("  ", &dated.to_string()));
                }
            }
            for caution in &meaning.cautions {
                page.push_str(&hang("Mind: ", caution));
            }
            json!({
                "outcome": "meaning",
                "verdict": meaning.verdict.code(),
                "means": meaning.means,
                "do": meaning.to_do,
                "next": meaning.next.iter().map(|dated| json!({
                    "code": dated.mark.code,
                    "name": dated.mark.name,
                    "from": dated.from.to_string(),
                    "best": dated.best.to_string(),
                    "to": dated.to.map(|date| date.to_string()),
                })).collect::<Vec<_>>(),
                "cautions": meaning.cautions,
            })
        }
        SignReading::Refused(refusal) => {
            page.push_str(&hang("Proves nothing: ", &refusal.why));
            let until = refusal.counts_to.map_or_else(String::new, |to| format!(" to {}", day_month(to)));
            page.push_str(&hang("It counts from ", &format!("{}{until}.", day_month(refusal.counts_from))));
            page.push_str(&hang("Instead: ", &refusal.instead));
            json!({
                "outcome": "refused",
                "why": refusal.why,
                "counts_from": refusal.counts_from.to_string(),
                "counts_to": refusal.counts_to.map(|date| date.to_string()),
                "instead": refusal.instead,
            })
        }
    };
    Ok(Reply::new(page, data))
}

/// `outyard flow`: whether the flow is on.
pub(crate) fn flow(words: &FlowWords, desk: &Desk) -> Answer {
    let mut rule = desk.flow_rule()?;
    if let Some(threshold) = words.threshold {
        rule.threshold = KilogramsPerDay::of(kilograms("threshold", threshold, 0.05, 20.0)?.get());
    }
    if let Some(days) = words.days_running {
        rule.days_running = days;
    }
    let mut notes = Vec::new();
    let groups = if let Some(file) = &words.file {
        read_nights(&file.display().to_string(), &read_file(file)?, &column_map(&words.column)?)?
    } else {
        let situation = desk.situation()?;
        notes.extend(situation.notes.clone());
        situation.nights_by_scale()
    };
    let rows: Vec<(GroupNights, FlowState)> = groups
        .into_iter()
        .map(|group| {
            let state = flow_state(&group.nights, rule);
            (group, state)
        })
        .collect();
    let mut page = format!("Flow: {} days running of at least {:.1}\n\n", rule.days_running, rule.threshold);
    page.push_str(&lay_out(
        &[("", Stand::Left), ("last nights, kg", Stand::Right), ("flow", Stand::Left)],
        rows.iter().map(|(group, state)| {
            let last: Vec<String> =
                group.nights.iter().rev().take(7).rev().map(|(_, gain)| format!("{:.1}", gain.get())).collect();
            vec![group.name.clone(), last.join("  "), flow_words(state)]
        }),
    ));
    let data: Vec<Value> = rows.iter().map(|(group, state)| flow_data(group, state, &rule)).collect();
    Ok(Reply::new(page, data).with(notes))
}

fn flow_words(state: &FlowState) -> String {
    match state {
        FlowState::On { since, known_on } => {
            format!("on since {}, known on the evening of {}", day_month(*since), day_month(*known_on))
        }
        FlowState::NotYet { days_met, look_again: Some(again) } => {
            let met = if *days_met == 1 { "one day met".to_owned() } else { format!("{days_met} days met") };
            format!("not yet, {met}; look again on the evening of {}", day_month(*again))
        }
        FlowState::NotYet { look_again: None, .. } => "no nights read".to_owned(),
        FlowState::Off { since, known_on, began, .. } => format!(
            "over since {}, known on the evening of {}; it began {}",
            day_month(*since),
            day_month(*known_on),
            day_month(*began)
        ),
    }
}

fn flow_data(group: &GroupNights, state: &FlowState, rule: &FlowRule) -> Value {
    let mut data = match state {
        FlowState::On { since, known_on } => {
            json!({ "flow": "on", "since": since.to_string(), "known_on_evening_of": known_on.to_string() })
        }
        FlowState::NotYet { days_met, look_again } => json!({
            "flow": "not-yet",
            "days_met": days_met,
            "look_again_on_evening_of": look_again.map(|date| date.to_string()),
        }),
        FlowState::Off { since, known_on, began, days_met, look_again } => json!({
            "flow": "off",
            "since": since.to_string(),
            "known_on_evening_of": known_on.to_string(),
            "began": began.to_string(),
            "days_met": days_met,
            "look_again_on_evening_of": look_again.to_string(),
        }),
    };
    data["group"] = json!(group.name);
    data["threshold_kg_per_day"] = json!(rule.threshold.get());
    data["nights"] =
        group.nights.iter().map(|(date, gain)| json!({ "date": date.to_string(), "net_kg": gain.get() })).collect();
    data
}
