//! Who may change something: with a PIN, without one, from here and from elsewhere.

use super::orders::{JSON, post};
use super::*;
use axum::http::Method;

const ZERO: &str = "/api/v1/banks/house/zero";
const PERMIT: &str = "/api/v1/permit";
const RIGHT: (&str, &str) = ("authorization", "Bearer 4711");
const WRONG: (&str, &str) = ("authorization", "Bearer 4712");

/// The same request by another connection.
fn by(peer: &str, mut request: Request<Body>) -> Request<Body> {
    let peer: SocketAddr = peer.parse().expect("an address");
    request.extensions_mut().insert(ConnectInfo(peer));
    request
}

fn get(path: &str, headers: &[(&str, &str)]) -> Request<Body> {
    let request = headers.iter().fold(Request::get(path), |request, (name, value)| request.header(*name, *value));
    request.body(Body::empty()).expect("a request")
}

/// Each route of the document, as a request could ask for it.
async fn routes(boat: &Boat) -> Vec<(Method, String, Value)> {
    let document = boat.json("/api/v1/openapi.json").await;
    let mut routes = Vec::new();
    for (path, methods) in document["paths"].as_object().expect("paths") {
        let path = path.replace("{name}", "house").replace("{id}", "1");
        assert!(!path.contains('{'), "{path}: a parameter that this test does not know");
        for (method, operation) in methods.as_object().expect("methods") {
            let method = Method::from_bytes(method.to_uppercase().as_bytes()).expect("a method");
            routes.push((method, path.clone(), operation.clone()));
        }
    }
    routes
}

fn request(method: &Method, path: &str, headers: &[(&str, &str)]) -> Request<Body> {
    let mut request = post(path, headers, "{}");
    *request.method_mut() = method.clone();
    request
}

fn untouched(boat: &mut Boat) {
    assert!(boat.orders.try_recv().is_err(), "nothing reached the reckoning");
    assert!(boat.clock_orders.try_recv().is_err(), "nothing reached the clock");
    assert!(boat.record_orders.try_recv().is_err(), "nothing reached the record");
}

#[tokio::test]
async fn every_route_that_is_not_read_only_refuses_without_permission_and_says_so_in_the_document() {
    let (mut open, mut locked) = (Boat::afloat(), Boat::with_pin(Some("4711")));
    let changing: Vec<_> = routes(&open).await.into_iter().filter(|(method, ..)| method != Method::GET).collect();
    assert!(changing.len() >= 9, "fixes, zero, clock, five of passages, test: {}", changing.len());
    for (method, path, operation) in changing {
        let from_elsewhere = by("192.168.4.20:51000", request(&method, &path, &[JSON]));
        let answer = open.ask(from_elsewhere).await;
        let detail = answer.problem(403);
        assert!(detail.contains("set pin in the configuration"), "{method} {path}: {detail}");
        assert_eq!(answer.json()["needs"], "local", "{method} {path}");
        let answer = locked.ask(request(&method, &path, &[JSON])).await;
        assert_eq!(answer.problem(401), "this needs the PIN that is set in the configuration", "{method} {path}");
        assert_eq!(answer.json()["needs"], "pin", "{method} {path}");
        assert_eq!(operation["security"], serde_json::json!([{"pin": []}]), "{method} {path}");
        for status in ["401", "403", "429"] {
            let kind = &operation["responses"][status]["content"]["application/problem+json"]["schema"]["$ref"];
            assert_eq!(kind, "#/components/schemas/Problem", "{method} {path}: {status}");
        }
        let answer = locked.ask(by("192.168.4.20:51000", request(&method, &path, &[RIGHT]))).await;
        // Past the PIN, what has a body must be JSON.
        let past = if method == Method::DELETE { 404 } else { 415 };
        assert_eq!(answer.status.as_u16(), past, "{method} {path}");
    }
    for method in [Method::POST, Method::PUT, Method::PATCH, Method::DELETE, Method::OPTIONS] {
        let answer = locked.ask(request(&method, "/api/v1/what-comes-next", &[JSON])).await;
        answer.problem(401);
    }
    untouched(&mut open);
    untouched(&mut locked);
    let document = open.json("/api/v1/openapi.json").await;
    let scheme = &document["components"]["securitySchemes"]["pin"];
    assert_eq!((&scheme["type"], &scheme["scheme"]), (&"http".into(), &"bearer".into()), "{scheme}");
}

#[tokio::test]
async fn what_is_read_only_needs_no_permission() {
    for boat in [Boat::afloat(), Boat::with_pin(Some("4711"))] {
        for (method, path, _) in routes(&boat).await {
            if method != Method::GET {
                continue;
            }
            let request =
                by("192.168.4.20:51000", get(&path, &[("host", "boat.local"), ("x-forwarded-for", "10.0.0.1")]));
            let answer = router(Arc::clone(&boat.live)).oneshot(request).await.expect("never fails");
            assert!(![401, 403, 429].contains(&answer.status().as_u16()), "{path}: {}", answer.status());
        }
    }
}

#[tokio::test]
async fn without_a_pin_only_the_machine_itself_may() {
    let mut boat = Boat::afloat();
    boat.orders.close();
    let ask = |peer: &str, host: &str, further: &[(&str, &str)]| {
        let headers: Vec<_> = [JSON].into_iter().chain(further.iter().copied()).collect();
        let mut request = by(peer, post(ZERO, &headers, ""));
        request.headers_mut().insert("host", host.parse().expect("a host"));
        request
    };
    for peer in ["127.0.0.1:40000", "127.3.2.1:40000", "[::1]:40000", "[::ffff:127.0.0.1]:40000"] {
        // The reckoning is gone: it was asked, so permission was given.
        boat.ask(ask(peer, "localhost:7245", &[])).await.problem(503);
        boat.ask(ask(peer, "[::1]:7245", &[])).await.problem(503);
    }
    for peer in ["192.168.4.20:40000", "10.0.0.1:40000", "[fe80::1]:40000", "[::ffff:192.168.4.20]:40000"] {
        assert!(boat.ask(ask(peer, "localhost:7245", &[])).await.problem(403).contains("another address"));
    }
    for host in ["boat.local:7245", "rebound.example:7245", "192.168.4.1:7245", "localhost.example"] {
        let answer = boat.ask(ask("127.0.0.1:40000", host, &[])).await;
        assert!(answer.problem(403).contains("another name"), "{host}");
        assert_eq!(answer.json()["needs"], "local");
    }
    for header in ["forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via"] {
        let through = ask("127.0.0.1:40000", "localhost:7245", &[(header, "127.0.0.1")]);
        assert!(boat.ask(through).await.problem(403).contains("a proxy"), "{header}");
    }
    let nowhere = router(Arc::clone(&boat.live)).oneshot(post(ZERO, &[JSON], "")).await.expect("never fails");
    assert_eq!(nowhere.status(), StatusCode::FORBIDDEN, "a connection that nobody knows of is not local");
    let no_host =
        by("127.0.0.1:40000", Request::post(ZERO).header(JSON.0, JSON.1).body(Body::empty()).expect("a request"));
    boat.ask(no_host).await.problem(403);
}

#[tokio::test]
async fn with_a_pin_it_is_asked_for_everywhere_and_taken_from_everywhere() {
    let mut boat = Boat::with_pin(Some("4711"));
    boat.orders.close();
    let answer = boat.ask(post(ZERO, &[JSON], "")).await;
    assert_eq!(answer.problem(401), "this needs the PIN that is set in the configuration");
    assert_eq!(answer.header("www-authenticate"), "Bearer realm=\"taffrail\"");
    let answer = boat.ask(post(ZERO, &[JSON, WRONG], "")).await;
    assert_eq!(answer.problem(401), "that is not the PIN that is set in the configuration");
    assert_eq!(answer.header("www-authenticate"), "Bearer realm=\"taffrail\", error=\"invalid_token\"");
    assert_eq!(answer.json()["needs"], "pin");
    for peer in ["127.0.0.1:40000", "192.168.4.20:40000"] {
        // The reckoning is gone: it was asked, so permission was given.
        boat.ask(by(peer, post(ZERO, &[JSON, RIGHT, ("x-forwarded-for", "10.0.0.1")], ""))).await.problem(503);
    }
    // The PIN does not make a page of somebody else, or a form, welcome.
    boat.ask(post(ZERO, &[JSON, RIGHT, ("origin", "http://elsewhere.example")], "")).await.problem(403);
    boat.ask(post(ZERO, &[("content-type", "text/plain"), RIGHT], "")).await.problem(415);
}

#[tokio::test]
async fn after_five_wrong_pins_none_is_taken_for_a_while_not_even_the_right_one() {
    let mut boat = Boat::with_pin(Some("4711"));
    for tried in 1..=5 {
        // Half of them ask only whether it is right.
        let request = if tried % 2 == 0 { get(PERMIT, &[WRONG]) } else { post(ZERO, &[JSON, WRONG], "") };
        boat.ask(request).await.problem(401);
    }
    for request in [post(ZERO, &[JSON, RIGHT], ""), post(ZERO, &[JSON, WRONG], ""), get(PERMIT, &[RIGHT])] {
        let answer = boat.ask(request).await;
        assert_eq!(answer.problem(429), "5 wrong PINs within a minute: none is taken for another 60 s");
        assert_eq!(answer.header("retry-after"), "60");
        assert_eq!((&answer.json()["needs"], &answer.json()["retry_after_s"]), (&"pin".into(), &60.into()));
    }
    boat.ask(post(ZERO, &[JSON], "")).await.problem(401);
    untouched(&mut boat);
}

#[tokio::test]
async fn a_client_can_ask_what_it_may_and_whether_a_pin_is_right() {
    let (open, locked) = (Boat::afloat(), Boat::with_pin(Some("4711")));
    let here = open.ask(get(PERMIT, &[("host", "localhost:7245")])).await.json();
    let told = serde_json::json!({"may": true, "needs": null, "pin_set": false, "text": "changes are taken"});
    assert_eq!(here, told);
    let there = open.ask(by("192.168.4.20:40000", get(PERMIT, &[("host", "192.168.4.1:7245")]))).await.json();
    assert_eq!((&there["may"], &there["needs"], &there["pin_set"]), (&false.into(), &"local".into(), &false.into()));
    assert!(there["text"].as_str().expect("a text").contains("set pin"), "{there}");
    let asked = locked.json(PERMIT).await;
    assert_eq!((&asked["may"], &asked["needs"], &asked["pin_set"]), (&false.into(), &"pin".into(), &true.into()));
    let right = locked.ask(get(PERMIT, &[RIGHT])).await.json();
    assert_eq!((&right["may"], &right["needs"], &right["pin_set"]), (&true.into(), &Value::Null, &true.into()));
    locked.ask(get(PERMIT, &[WRONG])).await.problem(401);
}
