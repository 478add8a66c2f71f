//! The time set by hand: what reaches the clock, what comes back, who is refused, and how times already shown follow.

use super::*;
use taffrail::clock::{HandRefused, HandTime, When};
use taffrail::http::ClockSet;
use taffrail::reckoning::FixKind;

const CLOCK: &str = "/api/v1/clock";

fn post(content_type: &str, origin: Option<&str>, body: &str) -> Request<Body> {
    let request = Request::post(CLOCK).header("host", "localhost:7245").header("content-type", content_type);
    let request = origin.into_iter().fold(request, |request, origin| request.header("origin", origin));
    request.body(Body::from(body.to_owned())).expect("a request")
}

/// Sends a time and answers it as the clock would; the answer to the page, and what the clock was told.
async fn stated(body: &str, reply: Result<ClockSet, HandRefused>) -> (Answer, HandTime) {
    let mut boat = Boat::afloat();
    let (_, never) = mpsc::channel(1);
    let mut orders = std::mem::replace(&mut boat.clock_orders, never);
    let clock = async {
        let ClockOrder { stated, reply: to } = orders.recv().await.expect("a time");
        to.send(reply).expect("somebody waits for it");
        stated
    };
    tokio::join!(boat.ask(post("application/json", Some("http://localhost:7245"), body)), clock)
}

#[tokio::test]
async fn a_stated_time_reaches_the_clock_with_its_moment_and_the_answer_says_what_moved() {
    let set = ClockSet { text: "time set by hand".to_owned(), moved_ms: 3_600_000 };
    let (answer, stated) = stated(r#"{"time": "2026-12-01T08:30:00+01:00"}"#, Ok(set)).await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.json(), serde_json::json!({"text": "time set by hand", "moved_ms": 3_600_000}));
    let utc: jiff::Timestamp = "2026-12-01T07:30:00Z".parse().expect("a time");
    let said = HandTime { mono: Standing.mono(), utc: UtcMs(utc.as_millisecond()), even_so: false };
    assert_eq!(stated, said);
}

#[tokio::test]
async fn a_refused_time_says_why_and_one_that_is_behind_the_record_can_be_insisted_on() {
    let body = r#"{"time": "2026-12-01T07:30:00Z", "even_so": true}"#;
    let (answer, told) = stated(body, Err(HandRefused::Synchronised)).await;
    assert!(answer.problem(409).contains("time source"));
    assert!(told.even_so);
    let (answer, _) = stated(body, Err(HandRefused::Impossible)).await;
    assert!(answer.problem(400).contains("check the year"));
    let (answer, _) = stated(body, Err(HandRefused::BehindRecord { recorded: UtcMs(MAY) })).await;
    let detail = answer.problem(409);
    assert!(detail.contains("2026-05-01 00:00 UTC") && detail.contains("check the date"), "{detail}");
    assert_eq!(answer.json()["insist"], "even_so", "a program can tell, too");
}

#[tokio::test]
async fn a_time_that_cannot_be_read_or_comes_from_elsewhere_reaches_no_clock() {
    let mut boat = Boat::afloat();
    for (body, named) in [
        (r#"{"time": "tomorrow"}"#, "RFC 3339"),
        (r#"{"time": "2026-12-01T07:30:00"}"#, "RFC 3339"),
        (r#"{"time": 1796110200}"#, "expected"),
        (r#"{"time": "2026-12-01T07:30:00Z", "zone": "UTC"}"#, "zone"),
        ("", "expected"),
    ] {
        let detail = boat.ask(post("application/json", None, body)).await.problem(400);
        assert!(detail.contains(named), "{body}: {detail}");
    }
    let body = r#"{"time": "2026-12-01T07:30:00Z"}"#;
    boat.ask(post("text/plain", None, body)).await.problem(415);
    boat.ask(post("application/json", Some("http://elsewhere.example"), body)).await.problem(403);
    assert!(boat.clock_orders.try_recv().is_err(), "nothing reached the clock");
    boat.clock_orders.close();
    boat.ask(post("application/json", None, body)).await.problem(503);
}

#[tokio::test]
async fn health_says_how_far_the_clock_is_believed() {
    let boat = Boat::afloat();
    let health = boat.json("/api/v1/health").await;
    assert_eq!(health["clock"], serde_json::json!({"trusted": true, "trust": "synchronised"}));
}

#[tokio::test]
async fn times_of_this_boot_follow_its_clock_and_those_of_earlier_ones_stay() {
    let boat = Boat::afloat();
    boat.change(|state| state.last_fix = Some((FixKind::Hand, When::Running(MonoMs(HOUR)), String::new())));
    let now = boat.json("/api/v1/banks/house/now").await;
    assert_eq!(now["last_fix"]["time"], "2026-05-01T01:00:00Z");
    boat.time.send_replace(Arc::new(placed(Trust::Hand, MAY + 10 * HOUR)));
    let now = boat.json("/api/v1/banks/house/now").await;
    assert_eq!(now["last_fix"]["time"], "2026-05-01T11:00:00Z");
    assert_eq!((&now["time"], &now["time_trusted"]), (&Value::from("2026-05-01T12:00:00Z"), &Value::from(true)));
    assert_eq!(boat.json("/api/v1/health").await["clock"]["trust"], "hand");
    boat.change(|state| state.last_fix = Some((FixKind::Hand, When::Past(UtcMs(MAY)), String::new())));
    boat.time.send_replace(Arc::new(placed(Trust::Untrusted, 0)));
    let now = boat.json("/api/v1/banks/house/now").await;
    assert_eq!(now["last_fix"]["time"], "2026-05-01T00:00:00Z");
    assert_eq!((&now["time"], &now["time_trusted"]), (&Value::from("1970-01-01T02:00:00Z"), &Value::from(false)));
}
