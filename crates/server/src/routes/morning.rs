//! The morning page, and the runs of the plan.

use std::sync::Arc;

use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use outyard_app::views::{DueView, MorningView, RunView, due_view, morning as morning_view, run_views};
use outyard_base::days::plus_days;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::{Answer, OnDay, answer};
use crate::office::Office;
use crate::problem::{Asked, Outcome, Refusals};

/// This morning: runs today, go or no-go, loads, reasons, the days after, gear.
#[utoipa::path(get, path = "/api/v1/morning", tag = "plan", params(OnDay),
    responses((status = 200, description = "the morning", body = Answer<MorningView>),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn morning(
    State(office): State<Arc<Office>>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    let morning = day.morning(&office).await?;
    answer(&office, &morning, &headers, || Ok(morning_view(&morning.situation, morning.worked()?)))
}

/// Which runs are asked for.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub(crate) struct RunDays {
    /// The morning to stand at, instead of today: year-month-day.
    on: Option<String>,
    /// Only the first days of the plan.
    #[param(minimum = 1, maximum = 28)]
    days: Option<u8>,
}

/// Runs and what each visit would cost on other days.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RunsView {
    /// The runs.
    runs: Vec<RunView>,
    /// All visits due.
    due: Vec<DueView>,
    /// The whole bill of the plan.
    plan_cents: i64,
    /// The bill of going to the nearest yard that is due.
    nearest_due_first_cents: i64,
}

/// Runs for the next days, crew by crew.
#[utoipa::path(get, path = "/api/v1/runs", tag = "plan", params(RunDays),
    responses((status = 200, description = "the runs", body = Answer<RunsView>),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn runs(
    State(office): State<Arc<Office>>,
    Asked(asked): Asked<RunDays>,
    headers: HeaderMap,
) -> Outcome<Response> {
    let morning = OnDay { on: asked.on }.morning(&office).await?;
    // The tag names the morning; the days asked for are part of the address.
    answer(&office, &morning, &headers, || {
        let worked = morning.worked()?;
        let mut runs = run_views(&morning.situation, worked);
        if let Some(days) = asked.days {
            let first_after = plus_days(morning.situation.today, i64::from(days)).to_string();
            runs.retain(|run| run.date < first_after);
        }
        Ok(RunsView {
            runs,
            due: (0..worked.due.len()).map(|visit| due_view(&morning.situation, worked, visit)).collect(),
            plan_cents: worked.bill.total().get(),
            nearest_due_first_cents: worked.rule_of_thumb.total().get(),
        })
    })
}
