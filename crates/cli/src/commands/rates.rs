//! The outfit's own rates, beside those of the job book.

use outyard_app::rates::{Learnt, Rates};
use outyard_base::Trouble;
use outyard_folder::Desk;
use serde_json::{Value, json};

use crate::reply::{Reply, hang};
use crate::table::{Stand, lay_out};

/// A line of the page: what, its unit, the rate, digits shown.
type Line = (String, &'static str, Learnt, usize);

fn lines(rates: &Rates) -> Vec<Line> {
    let setup = rates.setup.iter().map(|rate| ("setup of a visit".to_owned(), "pair min", *rate, 0));
    let minutes = rates.minutes.iter().map(|own| (format!("{}, {}", own.job, own.kind), "pair min", own.rate, 1));
    let missed = rates.missed.iter().map(|own| (format!("{}, queens missed", own.job), "%", percent(&own.rate), 1));
    let boxes = rates.boxes_a_day.iter().map(|rate| ("boxes pulled by a pair".to_owned(), "a day", *rate, 0));
    setup.chain(minutes).chain(missed).chain(boxes).collect()
}

fn percent(rate: &Learnt) -> Learnt {
    Learnt { default: rate.default * 100.0, own: rate.own.map(|share| share * 100.0), ..*rate }
}

/// `outyard rates`.
pub(crate) fn rates(desk: &Desk) -> Result<Reply, Vec<Trouble>> {
    let situation = desk.situation()?;
    let rates = &situation.rates;
    let all = lines(rates);
    let mut page = String::new();
    if all.is_empty() {
        page.push_str(&hang(
            "",
            "No closed tally tells both minutes and hands yet, so every rate is the job book's. Give --minutes and --hands \
             with `outyard tally`.",
        ));
    } else {
        page.push_str(
            "Own rates beside the job book's; the morning takes the book's until you write yours into jobs.toml\n\n",
        );
        page.push_str(&lay_out(
            &[
                ("rate", Stand::Left),
                ("", Stand::Left),
                ("book", Stand::Right),
                ("own", Stand::Right),
                ("10 to 90 %", Stand::Left),
                ("from", Stand::Right),
                ("since", Stand::Left),
            ],
            all.iter().map(|(what, unit, rate, digits)| {
                vec![
                    what.clone(),
                    (*unit).to_owned(),
                    format!("{:.digits$}", rate.default),
                    format!("{:.digits$}", rate.own.likely),
                    format!("{:.digits$} to {:.digits$}", rate.own.low, rate.own.high),
                    rate.n.to_string(),
                    rate.since.to_string(),
                ]
            }),
        ));
        page.push_str(&format!("\n{} tallies told minutes and hands", rates.visits));
        if rates.silent > 0 {
            page.push_str(&format!(", {} did not", rates.silent));
        }
        if rates.set_aside > 0 {
            page.push_str(&format!(", {} took a multiple or a part of the usual and were set aside", rates.set_aside));
        }
        page.push_str(".\nThe book's rate counts as two visits, or 50 colonies for queens missed.\n");
    }
    let data: Vec<Value> = all
        .iter()
        .map(|(what, unit, rate, _)| {
            json!({
                "rate": what,
                "unit": unit,
                "default": rate.default,
                "own": rate.own.likely,
                "low": rate.own.low,
                "high": rate.own.high,
                "n": rate.n,
                "since": rate.since.to_string(),
            })
        })
        .collect();
    let answer =
        json!({ "rates": data, "tallies": rates.visits, "silent": rates.silent, "set_aside": rates.set_aside });
    Ok(Reply::new(page, answer))
}
