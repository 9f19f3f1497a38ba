//! Word of changes, as server-sent events: the book has grown, a new morning is worked out.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::State;
use axum::response::sse::{Event, KeepAlive, Sse};
use tokio_stream::wrappers::WatchStream;
use tokio_stream::{Stream, StreamExt};

use crate::office::{News, Office};
use crate::problem::Refusals;

/// How often a quiet line says that it is still there. Assumed.
const STILL_THERE: Duration = Duration::from_secs(20);

/// Tells at once how things stand, then of every change; a listener that was away is told the newest and misses nothing.
#[utoipa::path(get, path = "/api/v1/events", tag = "server",
    responses((status = 200, description = "events `news`, each with a News as JSON; the id is how far the book has come",
        body = News, content_type = "text/event-stream"), Refusals))]
pub(crate) async fn events(State(office): State<Arc<Office>>) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let news = WatchStream::new(office.listen()).map(Some);
    let stop = WatchStream::new(office.until_stopped()).filter_map(|stopped| stopped.then_some(None));
    let stream = news.merge(stop).map_while(|news: Option<News>| news).map(|news| {
        let data = serde_json::to_string(&news).expect("three numbers");
        Ok(Event::default().event("news").id(news.book.to_string()).data(data))
    });
    Sse::new(stream).keep_alive(KeepAlive::new().interval(STILL_THERE))
}
