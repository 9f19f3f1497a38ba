//! What went wrong, as `application/problem+json` (RFC 9457), with the stable codes of the command line.

use std::time::Duration;

use axum::Json;
use axum::extract::rejection::{JsonRejection, QueryRejection};
use axum::extract::{FromRequest, FromRequestParts, Query, Request};
use axum::http::request::Parts;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use outyard_base::Trouble;
use serde::Serialize;
use serde::de::DeserializeOwned;
use utoipa::{IntoResponses, ToSchema};

/// How long a caller is told to wait when nothing says otherwise. Assumed.
const USUAL_WAIT: Duration = Duration::from_secs(2);

/// Where something wrong stands.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct SpotView {
    /// The file.
    pub(crate) file: Option<String>,
    /// Its line, from 1.
    pub(crate) line: Option<usize>,
    /// Its column.
    pub(crate) column: Option<String>,
}

/// One thing that is wrong.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct TroubleView {
    /// Stable code.
    pub(crate) code: String,
    /// What is wrong.
    pub(crate) cause: String,
    /// What to do.
    pub(crate) remedy: String,
    /// Where.
    pub(crate) place: Option<SpotView>,
}

impl From<&Trouble> for TroubleView {
    fn from(trouble: &Trouble) -> Self {
        Self {
            code: trouble.code.to_owned(),
            cause: trouble.cause.clone(),
            remedy: trouble.remedy.clone(),
            place: trouble.place.as_ref().map(|spot| SpotView {
                file: spot.file.clone(),
                line: spot.line,
                column: spot.column.clone(),
            }),
        }
    }
}

/// A refusal.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct ProblemView {
    /// The sort of problem: the code's paragraph in the list of errors.
    #[serde(rename = "type")]
    pub(crate) sort: String,
    /// What is wrong, of the first.
    pub(crate) title: String,
    /// Status of the answer.
    pub(crate) status: u16,
    /// What to do, of the first.
    pub(crate) detail: String,
    /// All that is wrong, told at once.
    pub(crate) troubles: Vec<TroubleView>,
}

/// Every refusal a route may answer with.
#[derive(IntoResponses)]
#[expect(dead_code, reason = "only its shape is read, by the description of the interface")]
pub(crate) enum Refusals {
    /// The request cannot be read.
    #[response(status = 400, content_type = "application/problem+json")]
    Unreadable(ProblemView),
    /// The server does not know who calls.
    #[response(status = 401, content_type = "application/problem+json")]
    Unknown(ProblemView),
    /// The caller may not.
    #[response(status = 403, content_type = "application/problem+json")]
    Forbidden(ProblemView),
    /// There is no such thing.
    #[response(status = 404, content_type = "application/problem+json")]
    Missing(ProblemView),
    /// The request came too slowly, or took too long.
    #[response(status = 408, content_type = "application/problem+json")]
    TooSlow(ProblemView),
    /// It is there already with other content.
    #[response(status = 409, content_type = "application/problem+json")]
    Conflict(ProblemView),
    /// The request is too large.
    #[response(status = 413, content_type = "application/problem+json")]
    TooLarge(ProblemView),
    /// The request is not JSON.
    #[response(status = 415, content_type = "application/problem+json")]
    NotJson(ProblemView),
    /// Something in it or in the outfit is wrong.
    #[response(status = 422, content_type = "application/problem+json")]
    Wrong(ProblemView),
    /// Too many at once.
    #[response(status = 429, content_type = "application/problem+json")]
    TooMany(ProblemView),
    /// Not yet; try again.
    #[response(status = 503, content_type = "application/problem+json")]
    NotYet(ProblemView),
}

/// A refusal on its way out.
#[derive(Clone, Debug)]
pub(crate) struct Problem {
    status: StatusCode,
    troubles: Vec<Trouble>,
    wait: Option<Duration>,
}

impl Problem {
    /// One trouble with a status of its own.
    pub(crate) fn new(status: StatusCode, code: &'static str, cause: impl Into<String>, remedy: &str) -> Self {
        Self { status, troubles: vec![Trouble::new(code, cause, remedy)], wait: None }
    }

    /// The same, with how long to wait before asking again.
    pub(crate) fn after(self, wait: Duration) -> Self {
        Self { wait: Some(wait), ..self }
    }
}

fn status_of(code: &str) -> StatusCode {
    match code {
        "YRD-005" | "BOK-110" | "CLI-003" | "STL-001" => StatusCode::NOT_FOUND,
        "STO-001" | "CLI-005" => StatusCode::CONFLICT,
        "SRV-020" | "SRV-022" => StatusCode::SERVICE_UNAVAILABLE,
        "STO-009" => StatusCode::PAYLOAD_TOO_LARGE,
        "STO-011" => StatusCode::UNPROCESSABLE_ENTITY,
        code if code.starts_with("STO-") => StatusCode::SERVICE_UNAVAILABLE,
        _ => StatusCode::UNPROCESSABLE_ENTITY,
    }
}

impl From<Vec<Trouble>> for Problem {
    fn from(troubles: Vec<Trouble>) -> Self {
        let status = troubles.first().map_or(StatusCode::UNPROCESSABLE_ENTITY, |first| status_of(first.code));
        Self { status, troubles, wait: None }
    }
}

impl From<Trouble> for Problem {
    fn from(trouble: Trouble) -> Self {
        vec![trouble].into()
    }
}

impl From<outyard_app::ports::StoreError> for Problem {
    fn from(error: outyard_app::ports::StoreError) -> Self {
        Trouble::from(error).into()
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let first = self.troubles.first();
        let view = ProblemView {
            sort: first.map_or_else(|| "about:blank".to_owned(), |first| format!("urn:outyard:{}", first.code)),
            title: first.map(|first| first.cause.clone()).unwrap_or_default(),
            status: self.status.as_u16(),
            detail: first.map(|first| first.remedy.clone()).unwrap_or_default(),
            troubles: self.troubles.iter().map(TroubleView::from).collect(),
        };
        let mut response = (self.status, Json(view)).into_response();
        let headers = response.headers_mut();
        headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("application/problem+json"));
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
        let later = matches!(self.status, StatusCode::SERVICE_UNAVAILABLE | StatusCode::TOO_MANY_REQUESTS);
        if let Some(wait) = self.wait.or(later.then_some(USUAL_WAIT)) {
            headers.insert(header::RETRY_AFTER, HeaderValue::from(wait.as_secs().max(1)));
        }
        response
    }
}

/// What a route answers.
pub(crate) type Outcome<T> = Result<T, Problem>;

/// A JSON body; what cannot be read is a [`Problem`].
#[derive(Debug)]
pub(crate) struct Told<T>(pub(crate) T);

impl<S: Send + Sync, T: DeserializeOwned> FromRequest<S> for Told<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &S) -> Result<Self, Problem> {
        match Json::<T>::from_request(request, state).await {
            Ok(Json(value)) => Ok(Self(value)),
            Err(JsonRejection::MissingJsonContentType(_)) => Err(Problem::new(
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "SRV-001",
                "the body is not said to be JSON",
                "send it with content-type: application/json",
            )),
            Err(error) if error.status() == StatusCode::PAYLOAD_TOO_LARGE => Err(too_large()),
            Err(error) => Err(Problem::new(
                StatusCode::BAD_REQUEST,
                "SRV-001",
                format!("the body cannot be read: {}", error.body_text()),
                "send what the description of the interface asks for",
            )),
        }
    }
}

/// The refusal of a body that is too large.
pub(crate) fn too_large() -> Problem {
    Problem::new(
        StatusCode::PAYLOAD_TOO_LARGE,
        "SRV-002",
        "the request is larger than this route takes",
        "send less at once: entries in several batches, photos made smaller",
    )
}

/// What was asked in the address; what cannot be read is a [`Problem`].
#[derive(Debug)]
pub(crate) struct Asked<T>(pub(crate) T);

impl<S: Send + Sync, T: DeserializeOwned> FromRequestParts<S> for Asked<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Problem> {
        Query::<T>::from_request_parts(parts, state).await.map(|Query(value)| Self(value)).map_err(
            |error: QueryRejection| {
                Problem::new(
                    StatusCode::BAD_REQUEST,
                    "SRV-003",
                    format!("the question cannot be read: {}", error.body_text()),
                    "ask as the description of the interface says",
                )
            },
        )
    }
}

/// A name in the address, as a type of its own.
///
/// # Errors
/// A [`Problem`] that says what cannot be read.
pub(crate) fn read_word<T: std::str::FromStr>(what: &str, text: &str) -> Result<T, Problem>
where
    T::Err: std::fmt::Display,
{
    text.parse().map_err(|error: T::Err| {
        Problem::new(
            StatusCode::BAD_REQUEST,
            "SRV-003",
            format!("{what}: {error}"),
            "ask as the description of the interface says",
        )
    })
}

/// A day in a request.
///
/// # Errors
/// A [`Problem`] that says what cannot be read.
pub(crate) fn read_day(what: &str, text: &str) -> Result<jiff::civil::Date, Problem> {
    outyard_base::days::read_date(text).map_err(|trouble| {
        Problem::new(StatusCode::BAD_REQUEST, "SRV-003", format!("{what}: {}", trouble.cause), &trouble.remedy)
    })
}
