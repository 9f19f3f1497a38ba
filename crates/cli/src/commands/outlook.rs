//! The outlook: the whole outfit as a short table, one yard in full.

use outyard_app::outlook::{DatedText, OutlookParts, StackView, WaitView, YardView, yard_view};
use outyard_app::views::{DatesView, RangeView, money};
use outyard_app::work_out::{Found, find_due};
use outyard_base::Trouble;
use outyard_folder::Desk;

use crate::args::OutlookWords;
use crate::commands::plan::{find_yard, kg, short_date};
use crate::progress::Waiting;
use crate::reply::{Reply, hang};
use crate::table::{Stand, lay_out};

/// Days ahead whose cost of waiting is shown.
const WAITED_DAYS: [usize; 4] = [2, 4, 7, 14];
/// Days ahead for which the chance of flow is told.
const FLOW_DAYS: [usize; 3] = [7, 14, 21];
/// Days of gain shown.
const GAIN_DAYS: usize = 14;
/// Counts that would narrow it that are shown.
const COUNTS_SHOWN: usize = 2;

/// `outyard outlook`.
pub(crate) fn outlook(words: &OutlookWords, desk: &Desk) -> Result<Reply, Vec<Trouble>> {
    let waiting = Waiting::new("looking at weather and scales");
    let situation = desk.situation()?;
    let wanted = words.yard.as_ref().or(words.only.as_ref());
    if let Some(id) = wanted {
        find_yard(&situation, id)?;
    }
    let Found { seasons, yards, stacks, due, notes } = find_due(&situation, situation.settings.outlook.plan_days)?;
    let mut outlooks: Vec<YardView> = seasons
        .iter()
        .filter(|(id, _)| wanted.is_none_or(|wanted| wanted == *id))
        .map(|(id, ahead)| {
            let parts = OutlookParts { yard: &yards[id], stacks: &stacks[id], ahead, due: &due };
            yard_view(&situation, id, &parts)
        })
        .collect();
    outlooks.sort_by_key(|view| -view.week_cents);
    drop(waiting);
    let page = match (wanted, outlooks.as_slice()) {
        (Some(_), [only]) => one_yard(only, &situation.today.to_string()),
        _ => all_yards(&outlooks, &situation.today.to_string()),
    };
    let mut all_notes = situation.notes.clone();
    all_notes.extend(notes);
    Ok(Reply::new(page, outlooks).with(all_notes))
}

fn percent(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}

/// The likely date alone, for a narrow column.
fn about(dates: &DatesView) -> String {
    let day = |text: &str| short_date(text)[4..].to_owned();
    match (&dates.early, &dates.likely) {
        (None, _) => "not in sight".to_owned(),
        (Some(early), None) => format!("perhaps {} on", day(early)),
        (_, Some(likely)) => day(likely),
    }
}

fn of_range(range: &RangeView) -> String {
    format!("{} ({} to {})", kg(range.likely), kg(range.low), kg(range.high))
}

fn all_yards(outlooks: &[YardView], today: &str) -> String {
    let mut page = format!("Outlook on {today}, the dearest yard to leave first\n\n");
    page.push_str(&lay_out(
        &[
            ("yard", Stand::Whole),
            ("flow on", Stand::Right),
            ("ends", Stand::Left),
            ("kg a day now", Stand::Left),
            ("boxes", Stand::Left),
            ("a week more costs", Stand::Right),
            ("for", Stand::Left),
        ],
        outlooks.iter().map(|view| {
            let gain = view.gain_by_day.first().map_or_else(String::new, |day| of_range(&day.kg));
            vec![
                view.yard.clone(),
                percent(view.flow.probability),
                about(&view.flow_ends),
                gain,
                boxes_in_short(&view.stacks),
                money(view.week_cents),
                view.waiting.first().filter(|_| view.week_cents > 0).map_or_else(String::new, |wait| wait.job.clone()),
            ]
        }),
    ));
    page.push_str("\nOne yard in full: outyard outlook YARD\n");
    page
}

fn boxes_in_short(stacks: &[StackView]) -> String {
    let down: Vec<&StackView> = stacks.iter().filter(|stack| stack.put_down_on.is_some()).collect();
    // Dates that are not in sight come last.
    let first = down.iter().min_by_key(|stack| (stack.full.likely.is_none(), &stack.full.likely, &stack.full.early));
    let up = if stacks.len() > down.len() { ", some still up" } else { "" };
    match first {
        Some(stack) => {
            format!("{} full, full {}{up}", percent(stack.full_share.unwrap_or(0.0)), about(&stack.full))
        }
        None => "still up".to_owned(),
    }
}

fn one_yard(view: &YardView, today: &str) -> String {
    let mut page = format!("Yard {} {}   {}\n{}\n\n", view.yard, view.name, short_date(today), view.standing);
    page.push_str(&flow_lines(view));
    if !view.stacks.is_empty() {
        page.push_str("\nIts colonies, one of each\n");
        page.push_str(&stack_table(&view.stacks));
    }
    if !view.clocks.is_empty() {
        page.push_str("\nClocks that do not move\n");
        page.push_str(&lay_out(
            &[
                ("", Stand::Left),
                ("put down", Stand::Left),
                ("from", Stand::Left),
                ("best", Stand::Left),
                ("to", Stand::Left),
            ],
            view.clocks.iter().map(|clock| {
                vec![
                    clock.name.to_owned(),
                    short_date(&clock.put_down_on),
                    short_date(&clock.from),
                    short_date(&clock.best),
                    clock.to.as_deref().map_or_else(|| "stays true".to_owned(), short_date),
                ]
            }),
        ));
    }
    page.push_str("\nWhat waiting costs, expected (one year in ten less, one in ten more)\n");
    if view.waiting.is_empty() {
        page.push_str("  Nothing is due within the plan.\n");
    } else {
        page.push_str(&waiting_table(&view.waiting));
        for reason in view.waiting.iter().flat_map(|wait| &wait.reasons) {
            page.push_str(&hang("  Why: ", reason));
        }
    }
    page.push_str("\nGain of a strong colony, kg a day, and how likely the flow is on\n");
    page.push_str(&lay_out(
        &[
            ("day", Stand::Left),
            ("low", Stand::Right),
            ("likely", Stand::Right),
            ("high", Stand::Right),
            ("flow on", Stand::Right),
        ],
        view.gain_by_day.iter().take(GAIN_DAYS).map(|day| {
            vec![short_date(&day.date), kg(day.kg.low), kg(day.kg.likely), kg(day.kg.high), percent(day.flow_share)]
        }),
    ));
    page.push_str("\nBloom\n");
    page.push_str(&lay_out(
        &[("plant", Stand::Left), ("first", Stand::Left), ("over", Stand::Left), ("rests on", Stand::Left)],
        view.bloom.iter().map(|bloom| {
            let rests = match (&bloom.seen, bloom.records) {
                (Some(day), _) => format!("seen {}", &short_date(day)[4..]),
                (None, 0) => "the plant table".to_owned(),
                (None, 1) => "1 record".to_owned(),
                (None, records) => format!("{records} records"),
            };
            vec![bloom.plant.clone(), bloom.first.said.clone(), bloom.end.said.clone(), rests]
        }),
    ));
    page.push_str("\nWhat would narrow it most\n");
    page.push_str(&narrows(view));
    page.push_str("\nIt rests on\n");
    for rests in &view.rests_on {
        page.push_str(&hang("  - ", &dated(rests)));
    }
    for sentence in &view.based_on {
        page.push_str(&hang("  - ", sentence));
    }
    page
}

fn flow_lines(view: &YardView) -> String {
    let flow = &view.flow;
    let by = if flow.last_night.is_some() {
        format!("by the nights of {}", flow.nights_of)
    } else {
        "by bloom and weather".to_owned()
    };
    let mut lines =
        hang("Flow:  ", &format!("{}; {} likely on this morning {by}", flow.said, percent(flow.probability)));
    let ahead: Vec<String> = FLOW_DAYS
        .iter()
        .filter_map(|days| Some(format!("{} in {days} days", percent(view.gain_by_day.get(*days)?.flow_share))))
        .collect();
    let begins = if flow.by_rule == "on" { String::new() } else { format!("begins {}, ", view.flow_begins.said) };
    lines.push_str(&hang("Ahead: ", &format!("{begins}ends {}; on: {}", view.flow_ends.said, ahead.join(", "))));
    if let Some(today) = view.gain_by_day.first() {
        let last = flow.last_night.as_ref().zip(flow.last_night_kg).map_or_else(String::new, |(night, gained)| {
            format!("; the last night read, {}, was {} kg", short_date(night), kg(gained))
        });
        lines
            .push_str(&hang("Gain:  ", &format!("a strong colony should gain {} kg today{last}", of_range(&today.kg))));
    }
    lines
}

fn stack_table(stacks: &[StackView]) -> String {
    lay_out(
        &[
            ("", Stand::Left),
            ("put down", Stand::Left),
            ("boxes", Stand::Right),
            ("holds kg", Stand::Right),
            ("brings kg a day", Stand::Right),
            ("full", Stand::Right),
            ("no more room above", Stand::Left),
            ("by hand", Stand::Left),
        ],
        stacks.iter().map(|stack| {
            let up = stack.put_down_on.is_none();
            vec![
                stack.colonies.clone(),
                stack.put_down_on.as_deref().map_or_else(|| "not yet".to_owned(), short_date),
                format!("{:.1}", stack.boxes),
                kg(stack.held_kg),
                kg(stack.brings_kg_per_day),
                stack.full_share.map_or_else(|| "-".to_owned(), percent),
                if up { format!("nest: {}", stack.refuses.said) } else { stack.full.said.clone() },
                stack.full_by_hand.as_ref().map_or_else(|| "-".to_owned(), about),
            ]
        }),
    )
}

fn waiting_table(waiting: &[WaitView]) -> String {
    let last = waiting.first().map_or(0, |wait| wait.by_day.len());
    let shown: Vec<usize> = WAITED_DAYS.into_iter().filter(|day| *day < last).collect();
    let mut columns = vec![("what".to_owned(), Stand::Left), ("from".to_owned(), Stand::Left)];
    columns.extend(shown.iter().map(|day| (short_date(&waiting[0].by_day[*day].date), Stand::Right)));
    let heads: Vec<(&str, Stand)> = columns.iter().map(|(name, stand)| (name.as_str(), *stand)).collect();
    lay_out(
        &heads,
        waiting.iter().map(|wait| {
            let mut row = vec![wait.what.clone(), short_date(&wait.from)[4..].to_owned()];
            row.extend(shown.iter().map(|day| {
                let day = &wait.by_day[*day];
                if day.high_cents == day.low_cents {
                    money(day.expected_cents)
                } else {
                    format!("{} ({} to {})", money(day.expected_cents), money(day.low_cents), money(day.high_cents))
                }
            }));
            row
        }),
    )
}

fn narrows(view: &YardView) -> String {
    let mut lines = String::new();
    for one in view.narrows.iter().take(COUNTS_SHOWN) {
        let worth = one.share.map_or_else(
            || "no scale has taught this group yet, so how much is not known".to_owned(),
            |share| format!("about {} of the spread in the honey of the next three weeks hangs on it", percent(share)),
        );
        lines.push_str(&hang("  - ", &format!("{}: {worth}", one.count)));
    }
    if lines.is_empty() {
        lines.push_str("  No one count: the weather of the next three weeks decides.\n");
    }
    lines
}

fn dated(rests: &DatedText) -> String {
    match (&rests.of, rests.days_old) {
        (Some(of), Some(0)) => format!("{}: {}, today", rests.said, short_date(of)),
        (Some(of), Some(1)) => format!("{}: {}, yesterday", rests.said, short_date(of)),
        (Some(of), Some(days)) => format!("{}: {}, {days} days ago", rests.said, short_date(of)),
        _ => rests.said.clone(),
    }
}
