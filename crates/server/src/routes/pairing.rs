//! Devices are let in: the owner makes a code, the device shows it once.

use std::sync::Arc;

use axum::http::{HeaderMap, StatusCode, Uri, header};
use axum::response::Response;
use axum::{Extension, Json};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::login::{LetIn, let_in, may_guess};
use crate::accounts::{NAME_MOST, READER_DAYS};
use crate::door::{Caller, Door};
use crate::problem::{Outcome, Problem, Refusals, Told};
use crate::who::Role;
use crate::{pairing_address, qr};

/// What a device shows to be let in.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PairTold {
    /// The code, as it was read or typed.
    #[schema(max_length = 80)]
    code: String,
    /// Whose device it is.
    #[schema(min_length = 1, max_length = 60)]
    name: String,
}

fn wrong(why: &str) -> Problem {
    Problem::new(StatusCode::UNPROCESSABLE_ENTITY, "SRV-023", why, "correct it and send it again")
}

/// A name as it is kept: one line, no more than it needs.
pub(crate) fn read_name(name: &str) -> Outcome<String> {
    let name = name.trim();
    if name.is_empty() || name.chars().count() > NAME_MOST || name.chars().any(char::is_control) {
        return Err(wrong("a name has 1 to 60 letters in one line"));
    }
    Ok(name.to_owned())
}

/// Lets a device in by a code of the owner's or a reader's link.
#[utoipa::path(post, path = "/api/v1/pair", tag = "door", request_body = PairTold,
    responses((status = 200, description = "let in; a cookie carries it", body = LetIn), Refusals))]
pub(crate) async fn pair(
    Extension(door): Extension<Arc<Door>>,
    Extension(caller): Extension<Caller>,
    Told(told): Told<PairTold>,
) -> Outcome<Response> {
    if !door.asks() {
        return Err(nobody_pairs());
    }
    let name = read_name(&told.name)?;
    may_guess(&door, &caller)?;
    let Some(admitted) = door.accounts().pair(&told.code, &name).await? else {
        tracing::warn!(from = %caller.from, "wrong code");
        return Err(Problem::new(
            StatusCode::UNAUTHORIZED,
            "SRV-018",
            "this code is none of this office's, was used, or is too old",
            "ask at the office for a new one; each holds ten minutes and once",
        ));
    };
    door.guesses.was_right(caller.from);
    tracing::info!(from = %caller.from, device = admitted.known.device, role = admitted.known.role.code(), "paired");
    Ok(let_in(admitted))
}

fn nobody_pairs() -> Problem {
    Problem::new(
        StatusCode::CONFLICT,
        "SRV-024",
        "this server answers this machine alone, so no phone can be paired with it",
        "start it for the network: outyard serve --listen 0.0.0.0:7340",
    )
}

/// What a code is for.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CodeAsked {
    /// `owner`, `crew`, `honey-house` or `reader`.
    role: String,
    /// For a reader: days until the link ends by itself, 1 to 90; 14 unless said.
    #[schema(minimum = 1, maximum = 90)]
    days: Option<i64>,
    /// For a reader: whom the link is for.
    #[schema(max_length = 60)]
    name: Option<String>,
}

/// A way in.
#[derive(Serialize, ToSchema)]
pub(crate) struct CodeView {
    /// To be typed, or carried by the link.
    code: String,
    /// What the device opens; the code stands behind the `#`, which no browser sends to any server.
    url: String,
    /// The same as a picture for a camera.
    svg: String,
    /// Until when it holds.
    until: String,
}

/// Makes a code that lets one device in once, or a link for readers that ends by itself.
#[utoipa::path(post, path = "/api/v1/pair/codes", tag = "door", request_body = CodeAsked,
    responses((status = 200, description = "the code; it is shown only now", body = CodeView), Refusals))]
pub(crate) async fn codes(
    Extension(door): Extension<Arc<Door>>,
    uri: Uri,
    headers: HeaderMap,
    Told(asked): Told<CodeAsked>,
) -> Outcome<Json<CodeView>> {
    let role = Role::of_code(&asked.role).ok_or_else(|| wrong("a role is owner, crew, honey-house or reader"))?;
    let days = asked.days.unwrap_or(READER_DAYS.0);
    if !(1..=READER_DAYS.1).contains(&days) {
        return Err(wrong("days are 1 to 90"));
    }
    let name = asked.name.as_deref().map(read_name).transpose()?;
    let host = uri.authority().map(|authority| authority.as_str().to_owned());
    let host = host.or_else(|| Some(headers.get(header::HOST)?.to_str().ok()?.to_owned())).unwrap_or_default();
    let origin = door.origin_for(&host).ok_or_else(nobody_pairs)?;
    let made = if role == Role::Reader {
        door.accounts().invite_reader(name.as_deref().unwrap_or("reader"), days).await?
    } else {
        door.accounts().invite(role).await?
    };
    let url = pairing_address(&origin, &made.code);
    Ok(Json(CodeView { svg: qr::picture(&url), url, code: made.code, until: made.until.to_string() }))
}
