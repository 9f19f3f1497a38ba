//! What-if beside the plan.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use outyard_app::pages::what_if::{Otherwise, WhatIfView, what_if as compare};
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Answer, as_of, note_views};
use crate::office::Office;
use crate::problem::{Outcome, Problem, Refusals, Told, read_day, read_word};

/// Changes compared at once. Assumed: each is a whole morning worked out.
const COLUMNS_MOST: usize = 6;

/// One thing that could be otherwise.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(tag = "what", rename_all = "kebab-case", deny_unknown_fields)]
pub(crate) enum OtherwiseWords {
    /// Nobody goes out on these days: year-month-day.
    Rain {
        /// The days.
        days: Vec<String>,
    },
    /// A crew has more hands.
    MoreHands {
        /// The crew.
        crew: String,
        /// How many more.
        #[schema(minimum = 1, maximum = 10)]
        hands: u32,
    },
    /// More boxes stand in the shed.
    MoreBoxes {
        /// The gear of the shed.
        gear: String,
        /// How many more.
        #[schema(minimum = 1, maximum = 100_000)]
        count: u32,
    },
    /// Doubles are put down by another job.
    Method {
        /// The job, by its code.
        job: String,
    },
}

/// What to compare.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct WhatIfWords {
    /// Each by itself, beside the plan as it stands.
    #[schema(min_items = 1, max_items = 6)]
    changes: Vec<OtherwiseWords>,
}

fn read(words: OtherwiseWords) -> Outcome<Otherwise> {
    let bounded = |count: u32, most: u32| {
        (1..=most).contains(&count).then_some(count).ok_or_else(|| {
            Problem::new(
                StatusCode::UNPROCESSABLE_ENTITY,
                "PLN-005",
                format!("{count} more is outside 1 to {most}"),
                "correct the number",
            )
        })
    };
    Ok(match words {
        OtherwiseWords::Rain { days } => {
            Otherwise::Rain(days.iter().map(|day| read_day("days", day)).collect::<Result<_, _>>()?)
        }
        OtherwiseWords::MoreHands { crew, hands } => Otherwise::MoreHands { crew, hands: bounded(hands, 10)? },
        OtherwiseWords::MoreBoxes { gear, count } => {
            Otherwise::MoreBoxes { gear: read_word("gear", &gear)?, count: bounded(count, 100_000)? }
        }
        OtherwiseWords::Method { job } => Otherwise::Method(read_word("job", &job)?),
    })
}

/// Costs side by side.
#[utoipa::path(post, path = "/api/v1/what-if", tag = "plan", request_body = WhatIfWords,
    responses((status = 200, description = "costs side by side", body = Answer<WhatIfView>), Refusals))]
pub(crate) async fn what_if(
    State(office): State<Arc<Office>>,
    Told(words): Told<WhatIfWords>,
) -> Outcome<Json<Answer<WhatIfView>>> {
    if !(1..=COLUMNS_MOST).contains(&words.changes.len()) {
        return Err(Problem::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "PLN-005",
            format!("{} changes are outside 1 to {COLUMNS_MOST}", words.changes.len()),
            "compare a few at a time",
        ));
    }
    let changes: Vec<Otherwise> = words.changes.into_iter().map(read).collect::<Result<_, _>>()?;
    let morning = office.morning().await?;
    let shared = Arc::clone(&office);
    let sum = Arc::clone(&morning);
    let view = office
        .long_sum(move || {
            let stop = || shared.is_stopped();
            let view = compare(&sum.situation, sum.worked()?, sum.days, &changes, shared.effort(), &stop)?;
            Outcome::Ok(view)
        })
        .await??;
    Ok(Json(Answer { answer: view, as_of: as_of(&office, &morning), notes: note_views(morning.notes()) }))
}
