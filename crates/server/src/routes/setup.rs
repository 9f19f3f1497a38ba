//! An outfit made from the page, where the folder has none yet.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use outyard_app::settings::{Beginning, first_settings};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::office::Office;
use crate::problem::{Outcome, Problem, Refusals, Told};

/// Crews an outfit is begun with at most; more are written into its settings.
const CREWS_MOST: usize = 12;

/// What an outfit is begun with.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct BeginWords {
    /// Its name, as its papers carry it.
    #[schema(max_length = 120)]
    name: String,
    /// Home base, degrees north.
    #[schema(minimum = -90, maximum = 90)]
    latitude: f64,
    /// Home base, degrees east; west is negative.
    #[schema(minimum = -180, maximum = 180)]
    longitude: f64,
    /// Home above the sea, m.
    #[serde(default)]
    elevation_m: f64,
    /// The outfit's clock, such as America/Winnipeg.
    #[schema(max_length = 60)]
    zone: String,
    /// Crews, by how many hands each has.
    #[schema(min_items = 1, max_items = 12)]
    crew_hands: Vec<u32>,
}

/// What became of it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Begun {
    /// The outfit.
    name: String,
}

/// Makes the outfit, where there is none yet.
#[utoipa::path(post, path = "/api/v1/outfit", tag = "outfit", request_body = BeginWords,
    responses((status = 200, description = "made", body = Begun), Refusals))]
pub(crate) async fn begin(State(office): State<Arc<Office>>, Told(words): Told<BeginWords>) -> Outcome<Json<Begun>> {
    if !(1..=CREWS_MOST).contains(&words.crew_hands.len()) || words.name.chars().count() > 120 {
        return Err(Problem::new(
            axum::http::StatusCode::UNPROCESSABLE_ENTITY,
            "SRV-029",
            format!("an outfit begins with 1 to {CREWS_MOST} crews and a name of at most 120 letters"),
            "correct it; more crews are written into outfit.toml",
        ));
    }
    let text = first_settings(&Beginning {
        name: words.name.clone(),
        latitude: words.latitude,
        longitude: words.longitude,
        elevation_m: words.elevation_m,
        zone: words.zone,
        crew_hands: words.crew_hands,
    });
    office.begin(&text).await?;
    Ok(Json(Begun { name: words.name }))
}
