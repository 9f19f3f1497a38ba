//! Word of changes, as server-sent events: the book has grown, a new morning is worked out.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::Extension;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use tokio_stream::wrappers::{ReceiverStream, WatchStream};
use tokio_stream::{Stream, StreamExt};

use crate::door::{Caller, Door};
use crate::office::{News, Office};
use crate::problem::{Outcome, Problem, Refusals};

/// How often a quiet line says that it is still there. Assumed.
const STILL_THERE: Duration = Duration::from_secs(20);

/// Longest one line is kept open: then the listener asks again, and is asked again who he is. Assumed.
const LONGEST: Duration = Duration::from_mins(30);

/// Tells at once how things stand, then of every change; a listener that was away is told the newest and misses nothing.
#[utoipa::path(get, path = "/api/v1/events", tag = "server",
    responses((status = 200, description = "events `news`, each with a News as JSON; the id is how far the book has come",
        body = News, content_type = "text/event-stream"), Refusals))]
pub(crate) async fn events(
    State(office): State<Arc<Office>>,
    Extension(door): Extension<Arc<Door>>,
    Extension(caller): Extension<Caller>,
) -> Outcome<Sse<impl Stream<Item = Result<Event, Infallible>>>> {
    let Some(place) = door.listener(&caller) else {
        return Err(Problem::new(
            StatusCode::TOO_MANY_REQUESTS,
            "SRV-013",
            "too many listen at once",
            "close pages that are not looked at",
        )
        .after(STILL_THERE));
    };
    let news = WatchStream::new(office.listen()).map(Some);
    let stop = WatchStream::new(office.until_stopped()).filter_map(|stopped| stopped.then_some(None));
    let let_out = WatchStream::from_changes(door.until_let_out()).map(|_| None);
    let too_long = after(LONGEST);
    let stream =
        news.merge(stop).merge(let_out).merge(too_long).map_while(|news: Option<News>| news).map(move |news| {
            // The place is held as long as the line is.
            let _held = &place;
            let data = serde_json::to_string(&news).expect("three numbers");
            Ok(Event::default().event("news").id(news.book.to_string()).data(data))
        });
    Ok(Sse::new(stream).keep_alive(KeepAlive::new().interval(STILL_THERE)))
}

fn after(wait: Duration) -> impl Stream<Item = Option<News>> {
    let (tell, told) = tokio::sync::mpsc::channel(1);
    tokio::spawn(async move {
        tokio::select! {
            () = tokio::time::sleep(wait) => drop(tell.send(None).await),
            () = tell.closed() => {}
        }
    });
    ReceiverStream::new(told)
}
