//! Who calls; the owner comes and goes.

use std::sync::Arc;
use std::time::Instant;

use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::{Extension, Json};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::door::{Caller, Door};
use crate::office::Office;
use crate::problem::{Outcome, Problem, Refusals, Told};
use crate::who::Role;

/// Who calls, as the server knows him.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct MeView {
    /// The device that was let in; none at the office machine itself.
    device: Option<String>,
    /// Whose it is.
    name: String,
    /// What he may do: `owner`, `crew`, `honey-house` or `reader`.
    role: &'static str,
    /// When he is let out by himself, if ever.
    until: Option<String>,
    /// Name of the outfit.
    outfit: String,
    /// The morning it stands at.
    today: String,
    /// Whether phones can reach this server and be paired.
    pairs: bool,
}

/// Who calls.
#[utoipa::path(get, path = "/api/v1/me", tag = "door",
    responses((status = 200, description = "who calls", body = MeView), Refusals))]
pub(crate) async fn me(
    State(office): State<Arc<Office>>,
    Extension(door): Extension<Arc<Door>>,
    Extension(caller): Extension<Caller>,
) -> Outcome<Json<MeView>> {
    let settings = office.desk().settings()?;
    let known = caller.known;
    Ok(Json(MeView {
        name: known.as_ref().map_or_else(|| "office".to_owned(), |known| known.name.clone()),
        role: caller.role.code(),
        until: known.as_ref().and_then(|known| known.until).map(|until| until.to_string()),
        device: known.map(|known| known.device),
        outfit: settings.name,
        today: office.desk().today().to_string(),
        pairs: door.asks(),
    }))
}

/// Someone who was let in.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct LetIn {
    /// The device's own name.
    pub(crate) device: Option<String>,
    /// What it may do: `owner`, `crew`, `honey-house` or `reader`.
    pub(crate) role: &'static str,
    /// When it is let out by itself, if ever.
    pub(crate) until: Option<String>,
}

/// The owner's passphrase.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Passphrase {
    /// As it was set.
    #[schema(max_length = 512)]
    passphrase: String,
}

/// Refuses to listen to another guess so soon.
pub(crate) fn may_guess(door: &Door, caller: &Caller) -> Outcome<()> {
    door.guesses.may(caller.from, Instant::now()).map_err(|wait| {
        Problem::new(
            StatusCode::TOO_MANY_REQUESTS,
            "SRV-019",
            format!("too many wrong guesses; the next is listened to in {} s", wait.as_secs() + 1),
            "wait; a passphrase that is lost is set anew at the office machine with `outyard serve passphrase`",
        )
        .after(wait)
    })
}

/// The owner comes in by his passphrase. At the office machine itself nobody is asked, and nothing changes.
#[utoipa::path(post, path = "/api/v1/login", tag = "door", request_body = Passphrase,
    responses((status = 200, description = "let in; a cookie carries it", body = LetIn), Refusals))]
pub(crate) async fn login(
    Extension(door): Extension<Arc<Door>>,
    Extension(caller): Extension<Caller>,
    Told(told): Told<Passphrase>,
) -> Outcome<Response> {
    if !door.asks() {
        return Ok(Json(LetIn { device: None, role: Role::Owner.code(), until: None }).into_response());
    }
    may_guess(&door, &caller)?;
    let Some(admitted) = door.accounts().log_in(told.passphrase).await? else {
        tracing::warn!(from = %caller.from, "wrong passphrase");
        return Err(Problem::new(
            StatusCode::UNAUTHORIZED,
            "SRV-018",
            "this is not the owner's passphrase",
            "try again; one that is lost is set anew at the office machine with `outyard serve passphrase`",
        ));
    };
    door.guesses.was_right(caller.from);
    tracing::info!(from = %caller.from, device = admitted.known.device, "the owner came in");
    Ok(let_in(admitted))
}

/// The answer to someone who was let in.
pub(crate) fn let_in(admitted: crate::accounts::Admitted) -> Response {
    let known = admitted.known;
    let cookie = Door::cookie(&admitted.token, known.until);
    let view = LetIn {
        device: Some(known.device),
        role: known.role.code(),
        until: known.until.map(|until| until.to_string()),
    };
    ([(header::SET_COOKIE, cookie)], Json(view)).into_response()
}

/// Whoever calls goes, and his device is let out.
#[utoipa::path(post, path = "/api/v1/logout", tag = "door",
    responses((status = 204, description = "gone"), Refusals))]
pub(crate) async fn logout(
    Extension(door): Extension<Arc<Door>>,
    Extension(caller): Extension<Caller>,
) -> Outcome<Response> {
    if let Some(known) = caller.known {
        door.accounts().let_out(&known.device).await?;
        door.somebody_was_let_out();
        tracing::info!(device = known.device, "went");
    }
    Ok((StatusCode::NO_CONTENT, [(header::SET_COOKIE, Door::no_cookie())]).into_response())
}
