//! Replanning after rain, a crew that stays home, or a visit wanted elsewhere; kept when the crews are told.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use outyard_app::replanning::{Change, MendedView, Wish, mend, mended_view, unchanged};
use outyard_app::told::plan_told;
use outyard_book::Fact;
use serde::Deserialize;
use utoipa::ToSchema;

use super::{Answer, as_of, note_views};
use crate::office::Office;
use crate::problem::{Outcome, Refusals, Told, read_day};

/// A crew that stays home on a day.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CrewOut {
    /// The crew.
    #[schema(max_length = 32)]
    crew: String,
    /// The day: year-month-day.
    on: String,
}

/// A visit wanted on a day.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Wanted {
    /// The visit, by its key.
    visit: String,
    /// The day: year-month-day.
    on: String,
    /// The crew; whichever is cheapest when none is named.
    #[serde(default)]
    crew: Option<String>,
}

/// What changed.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ReplanWords {
    /// Days on which nobody goes out: year-month-day.
    #[serde(default)]
    #[schema(max_items = 28)]
    rain: Vec<String>,
    /// Crews that stay home.
    #[serde(default)]
    crews_out: Vec<CrewOut>,
    /// Visits wanted elsewhere.
    #[serde(default)]
    wanted: Vec<Wanted>,
    /// Writes down that the crews are told the plan: later mornings start from it. With nothing changed, the plan as it stands.
    #[serde(default)]
    tell: bool,
}

/// What slides, what stands and what it costs.
#[utoipa::path(post, path = "/api/v1/replan", tag = "plan", request_body = ReplanWords,
    responses((status = 200, description = "the plan mended", body = Answer<MendedView>), Refusals))]
pub(crate) async fn replan(
    State(office): State<Arc<Office>>,
    Told(words): Told<ReplanWords>,
) -> Outcome<Json<Answer<MendedView>>> {
    let change = Change {
        shut: words.rain.iter().map(|day| read_day("rain", day)).collect::<Result<_, _>>()?,
        crews_out: words
            .crews_out
            .into_iter()
            .map(|out| Ok((out.crew, read_day("on", &out.on)?)))
            .collect::<Outcome<_>>()?,
        wishes: words
            .wanted
            .into_iter()
            .map(|wanted| Ok(Wish { on: read_day("on", &wanted.on)?, visit: wanted.visit, crew: wanted.crew }))
            .collect::<Outcome<_>>()?,
    };
    let morning = office.morning().await?;
    let shared = Arc::clone(&office);
    let sum = Arc::clone(&morning);
    let tell = words.tell;
    let (view, told) = office
        .long_sum(move || {
            let before = sum.worked()?;
            let stop = || shared.is_stopped();
            let mended = if tell && change == Change::default() {
                unchanged(before)
            } else {
                mend(&sum.situation, before, sum.days, &change, &shared.effort(), &stop)?
            };
            let told = tell.then(|| plan_told(&sum.situation, &mended.worked, &change));
            Outcome::Ok((mended_view(&sum.situation, before, &mended), told))
        })
        .await??;
    if let Some(told) = told {
        let entry = office.desk().entry(morning.situation.today, Fact::PlanTold(told))?;
        office.append(std::slice::from_ref(&entry)).await?;
    }
    Ok(Json(Answer { answer: view, as_of: as_of(&office, &morning), notes: note_views(morning.notes()) }))
}
