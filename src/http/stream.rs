//! Live values as server-sent events (WHATWG HTML, section 9.2).

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::State;
use axum::response::Sse;
use axum::response::sse::{Event, KeepAlive};
use futures_util::stream::{self, Stream, StreamExt};
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::RecvError;

use super::live::{Feed, Live};
use super::view::NowView;

/// A comment this often keeps proxies and sleepy radios from closing the line.
const KEEP_ALIVE: Duration = Duration::from_secs(15);

/// Live values: `event: now` with one bank's state for each of its samples, `event: notice` with an event.
#[utoipa::path(get, path = "/api/v1/live", responses((status = 200, content_type = "text/event-stream", body = String, description = "event: now, data: NowView; event: notice, data: EventView")))]
pub async fn live(State(live): State<Arc<Live>>) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let audience = live.listen();
    let first: Vec<_> = (0..live.banks.len())
        .filter_map(|index| serde_json::to_string(&NowView::new(&live, index, &live.latest(index))).ok())
        .map(|data| Ok(Event::default().event("now").data(data)))
        .collect();
    // The stream ends with the daemon, so that its orderly stop need not wait for clients.
    let stop = live.stop.clone();
    let rest = stream::unfold((audience, stop), |(mut audience, stop)| async move {
        let feed = stop.run_until_cancelled(next(&mut audience)).await.flatten()?;
        let event = Event::default().event(feed.event).data(&feed.data);
        Some((Ok(event), (audience, stop)))
    });
    // A stream is asked again after its end, by what sends it.
    Sse::new(stream::iter(first).chain(rest).fuse()).keep_alive(KeepAlive::new().interval(KEEP_ALIVE))
}

/// The next message; a client that lagged behind goes on with the oldest that is left.
async fn next(audience: &mut Receiver<Arc<Feed>>) -> Option<Arc<Feed>> {
    loop {
        match audience.recv().await {
            Ok(feed) => return Some(feed),
            Err(RecvError::Lagged(_)) => {}
            Err(RecvError::Closed) => return None,
        }
    }
}
