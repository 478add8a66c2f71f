//! Hand orders: what reaches the reckoning, what comes back, and who is refused.

use super::*;
use taffrail::http::{OrderKind, Ordered};

pub const JSON: (&str, &str) = ("content-type", "application/json");
const FIXES: &str = "/api/v1/banks/house/fixes";
const ZERO: &str = "/api/v1/banks/house/zero";

pub fn post(path: &str, headers: &[(&str, &str)], body: &str) -> Request<Body> {
    let request = Request::post(path).header("host", "localhost:7245");
    let request = headers.iter().fold(request, |request, (name, value)| request.header(*name, *value));
    request.body(Body::from(body.to_owned())).expect("a request")
}

/// Sends an order and answers it as the reckoning would; the answer to the page, and what the reckoning was asked.
async fn ordered(path: &str, body: &str, reply: Result<&str, &str>) -> (Answer, usize, OrderKind) {
    let mut boat = Boat::afloat();
    let (_, never) = mpsc::channel(1);
    let mut orders = std::mem::replace(&mut boat.orders, never);
    let reckoning = async {
        let Order { bank, kind, reply: to } = orders.recv().await.expect("an order");
        let reply = reply.map(|text| Ordered { text: text.to_owned() }).map_err(str::to_owned);
        to.send(reply).expect("somebody waits for it");
        (bank, kind)
    };
    let (answer, (bank, kind)) = tokio::join!(boat.ask(post(path, &[JSON], body)), reckoning);
    (answer, bank, kind)
}

#[tokio::test]
async fn a_hand_fix_reaches_the_reckoning_and_its_answer_comes_back() {
    let (answer, bank, kind) = ordered(FIXES, r#"{"soc": 1.0, "std_dev": 0.01}"#, Ok("reckoned 83 %, now 100 %")).await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.json(), serde_json::json!({"text": "reckoned 83 %, now 100 %"}));
    assert_eq!((bank, kind), (0, OrderKind::Fix { soc: 1.0, std_dev: 0.01 }));
    let (_, _, kind) = ordered(FIXES, r#"{"soc": 0}"#, Ok("")).await;
    assert_eq!(kind, OrderKind::Fix { soc: 0.0, std_dev: 0.02 }, "the usual doubt");
}

#[tokio::test]
async fn a_hand_zero_needs_no_words() {
    for body in ["", "{}"] {
        let (answer, _, kind) = ordered(ZERO, body, Ok("the sensor reads 0.04 A at rest")).await;
        assert_eq!((answer.status, kind), (StatusCode::OK, OrderKind::Zero));
        assert_eq!(answer.json()["text"], "the sensor reads 0.04 A at rest");
    }
}

#[tokio::test]
async fn an_order_that_is_not_possible_is_a_conflict_with_its_reason() {
    let (answer, _, _) = ordered(ZERO, "", Err("the counter learns no offset")).await;
    assert_eq!(answer.problem(409), "the counter learns no offset");
}

#[tokio::test]
async fn a_reckoning_that_is_gone_or_busy_is_not_waited_for() {
    let mut boat = Boat::afloat();
    // The one place in the queue is taken.
    let (reply, _) = tokio::sync::oneshot::channel();
    boat.live.orders.try_send(Order { bank: 0, kind: OrderKind::Zero, reply }).expect("room for one");
    boat.ask(post(ZERO, &[JSON], "")).await.problem(503);
    boat.orders.close();
    let detail = boat.ask(post(ZERO, &[JSON], "")).await.problem(503);
    assert!(detail.contains("no orders now"), "{detail}");
}

#[tokio::test]
async fn an_order_that_the_reckoning_drops_is_told_as_unanswered() {
    let mut boat = Boat::afloat();
    let (_, never) = mpsc::channel(1);
    let mut orders = std::mem::replace(&mut boat.orders, never);
    let (answer, ()) = tokio::join!(boat.ask(post(ZERO, &[JSON], "")), async { drop(orders.recv().await) });
    assert!(answer.problem(503).contains("did not answer"));
}

#[tokio::test]
async fn a_fix_that_makes_no_sense_is_refused_by_field() {
    let mut boat = Boat::afloat();
    let bad = [
        (r#"{"soc": 1.2}"#, "soc"),
        (r#"{"soc": -0.1}"#, "soc"),
        (r#"{"soc": 80}"#, "soc"),
        (r#"{"soc": "full"}"#, "expected"),
        (r#"{"soc": null}"#, "expected"),
        (r#"{"std_dev": 0.02}"#, "soc"),
        (r#"{"soc": 0.8, "std_dev": 0.0}"#, "std_dev"),
        (r#"{"soc": 0.8, "std_dev": 0.3}"#, "std_dev"),
        (r#"{"soc": 0.8, "sigma": 0.02}"#, "sigma"),
        (r#"{"soc": 0.8"#, "expected"),
        ("", "expected"),
        ("[]", "expected"),
    ];
    for (body, named) in bad {
        let detail = boat.ask(post(FIXES, &[JSON], body)).await.problem(400);
        assert!(detail.contains(named) && detail.contains("expected"), "{body}: {detail}");
    }
    boat.ask(post(ZERO, &[JSON], r#"{"offset_a": 0.1}"#)).await.problem(400);
    assert!(boat.orders.try_recv().is_err(), "nothing reached the reckoning");
}

#[tokio::test]
async fn only_json_from_the_page_itself_is_taken() {
    let mut boat = Boat::afloat();
    let body = r#"{"soc": 1.0}"#;
    for path in [FIXES, ZERO] {
        for kind in ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", "application/jsonx", ""]
        {
            let detail = boat.ask(post(path, &[("content-type", kind)], body)).await.problem(415);
            assert!(detail.contains("application/json"), "{detail}");
        }
        boat.ask(post(path, &[], body)).await.problem(415);
        let foreign = [
            "http://elsewhere.example",
            "http://localhost:80",
            "http://localhost",
            "null",
            "",
            "https://evil.localhost:7245",
        ];
        for origin in foreign {
            let detail = boat.ask(post(path, &[JSON, ("origin", origin)], body)).await.problem(403);
            assert!(detail.contains("may not"), "{origin}: {detail}");
        }
    }
    assert!(boat.orders.try_recv().is_err(), "nothing reached the reckoning");
    // The page's own origin is none of those: the order goes on to the reckoning.
    let own =
        post(ZERO, &[("content-type", "application/json; charset=utf-8"), ("origin", "http://localhost:7245")], "");
    let (_, never) = mpsc::channel(1);
    let mut orders = std::mem::replace(&mut boat.orders, never);
    let (answer, kind) = tokio::join!(boat.ask(own), async { orders.recv().await.map(|order| order.kind) });
    assert_eq!(kind, Some(OrderKind::Zero));
    answer.problem(503);
}

#[tokio::test]
async fn an_order_to_an_unknown_bank_names_those_there_are() {
    let boat = Boat::afloat();
    for path in ["/api/v1/banks/drive/fixes", "/api/v1/banks/drive/zero"] {
        let detail = boat.ask(post(path, &[JSON], r#"{"soc": 1.0}"#)).await.problem(404);
        assert!(detail.contains("\"drive\"") && detail.contains("house"), "{detail}");
    }
    let answer = boat.get(FIXES).await;
    assert_eq!(answer.status, StatusCode::METHOD_NOT_ALLOWED);
}
