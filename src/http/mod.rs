//! The page and its API, for this machine and the boat's own network. Reads the store through its reader only.
//!
//! Answers are JSON; errors are `application/problem+json` (RFC 9457); live values come as server-sent events.
//! The document of the interface is served at `/api/v1/openapi.json`.

mod banks;
mod branches;
mod clock;
mod days;
mod deliverable;
mod described;
mod devices;
mod downloads;
mod endurance;
mod events;
mod hand;
mod history;
mod learned;
mod live;
mod merge;
mod notes;
mod order;
mod outlook;
mod page;
mod passage_edits;
mod passages;
mod permit;
mod problem;
mod readers;
mod record;
mod record_order;
mod recorded;
mod report;
mod stream;
mod trial;
mod view;
mod words;

use std::future::Future;
use std::net::SocketAddr;
use std::sync::Arc;

use axum::Router;
use axum::http::HeaderValue;
use axum::http::header::{CONTENT_SECURITY_POLICY, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS};
use axum::middleware::from_fn_with_state;
use axum::routing::get;
use tower_http::compression::CompressionLayer;
use tower_http::compression::predicate::{DefaultPredicate, NotForContentType, Predicate};
use tower_http::set_header::SetResponseHeaderLayer;
use utoipa::OpenApi;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub use clock::{ClockOrder, ClockSet};
pub use downloads::forget_copy;
pub use live::{DeviceWatch, Live, LiveBank, LiveParts, LiveReading, StoreProbe};
pub use order::{Order, OrderKind, Ordered};
pub use permit::Pin;
pub use readers::Readers;
pub use record_order::{RecordDone, RecordOrder, RecordReply, TestWish};
pub use report::Reported;
pub use view::EventView;

#[derive(OpenApi)]
#[openapi(info(
    title = "taffrail",
    description = "State of charge with its band, history and events of battery banks. Monitoring only. Positive current \
                   charges the bank; times are UTC; ratios are 0..1."
))]
struct Document;

/// The whole service on its shared state: page, API, who may change something, and the headers that keep the page to
/// itself. Without a PIN it must be served with the address of each peer, as [`serve`] does, or nobody is local.
pub fn router(live: Arc<Live>) -> Router {
    let (api, mut document) = OpenApiRouter::with_openapi(Document::openapi())
        .routes(routes!(banks::list))
        .routes(routes!(banks::now))
        .routes(routes!(branches::carrying))
        .routes(routes!(described::description))
        .routes(routes!(devices::list))
        .routes(routes!(downloads::backup))
        .routes(routes!(downloads::configuration))
        .routes(routes!(downloads::export))
        .routes(routes!(notes::add))
        .routes(routes!(outlook::at))
        .routes(routes!(endurance::endurance))
        .routes(routes!(hand::fix))
        .routes(routes!(hand::zero))
        .routes(routes!(history::history))
        .routes(routes!(history::sums))
        .routes(routes!(days::days))
        .routes(routes!(clock::set))
        .routes(routes!(events::events))
        .routes(routes!(events::health))
        .routes(routes!(passages::list, passage_edits::mark))
        .routes(routes!(passages::one, passage_edits::change, passage_edits::remove))
        .routes(routes!(passage_edits::merge))
        .routes(routes!(passage_edits::split))
        .routes(routes!(passages::span_ledger))
        .routes(routes!(permit::permit))
        .routes(routes!(record::bank_record))
        .routes(routes!(trial::standing, trial::order))
        .routes(routes!(report::health))
        .routes(routes!(report::passage))
        .routes(routes!(stream::live))
        .split_for_parts();
    // A store is packed already; its length tells the browser how far it is.
    let compressed = DefaultPredicate::new().and(NotForContentType::new(downloads::STORE));
    permit::document(&mut document);
    let document = document.to_json().expect("the document is plain data and always becomes JSON");
    let document = get(move || async move { ([("content-type", "application/json")], document) });
    api.route("/api/v1/openapi.json", document)
        .fallback(page::serve)
        .layer(from_fn_with_state(Arc::clone(&live), permit::guard))
        .with_state(live)
        .layer(CompressionLayer::new().gzip(true).compress_when(compressed))
        .layer(header(CONTENT_SECURITY_POLICY, CONTENT_POLICY))
        .layer(header(X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .layer(header(REFERRER_POLICY, "no-referrer"))
}

/// Nothing but our own files; uPlot sets inline styles.
const CONTENT_POLICY: &str = "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
                              frame-ancestors 'none'; base-uri 'none'; form-action 'self'";

fn header(name: axum::http::HeaderName, value: &'static str) -> SetResponseHeaderLayer<HeaderValue> {
    SetResponseHeaderLayer::overriding(name, HeaderValue::from_static(value))
}

/// Serves until `stop` completes; open event streams end with it.
///
/// # Errors
/// If the listener fails.
pub async fn serve(
    listener: tokio::net::TcpListener,
    live: Arc<Live>,
    stop: impl Future<Output = ()> + Send + 'static,
) -> std::io::Result<()> {
    let service = router(live).into_make_service_with_connect_info::<SocketAddr>();
    axum::serve(listener, service).with_graceful_shutdown(stop).await
}
