//! What is there now, what went wrong, and the page itself.

use super::*;

fn near(value: &Value, expected: f64, within: f64) {
    let number = value.as_f64().expect("a number");
    assert!((number - expected).abs() <= within, "{number}, expected {expected} within {within}");
}

#[tokio::test]
async fn the_banks_are_listed_as_described_with_their_first_sample() {
    let banks = Boat::afloat().json("/api/v1/banks").await;
    assert_eq!(banks["boat"], "Marigold");
    assert_eq!(banks["zone"], "Europe/Lisbon");
    assert_eq!(banks["banks"].as_array().map(Vec::len), Some(1));
    let house = &banks["banks"][0];
    assert_eq!(house["name"], "house");
    assert_eq!(house["title"], "House");
    assert_eq!(house["chemistry"], "lead-carbon");
    assert_eq!(house["cells_in_series"], 24);
    near(&house["rated_capacity_ah"], 120.0, 0.0);
    near(&house["reserve"], 0.3, 0.0);
    assert_eq!(house["first_time"], "2026-05-01T00:00:01Z");
    let names: Vec<_> = house["channels"].as_array().expect("channels").iter().map(|c| c["name"].clone()).collect();
    assert_eq!(names, ["voltage_v", "current_a", "temperature_c"]);
    assert_eq!(house["channels"][2]["unit"], "°C");
}

#[tokio::test]
async fn now_gives_the_latest_sample_and_the_reckoning_after_it() {
    let now = Boat::afloat().json("/api/v1/banks/house/now").await;
    assert_eq!(now["time"], "2026-05-01T02:00:00Z");
    assert_eq!(now["time_trusted"], true);
    near(&now["age_s"], 2.0, 1e-9);
    for (key, expected) in [("voltage_v", 54.0), ("current_a", 10.0), ("power_w", 540.0), ("temperature_c", 20.0)] {
        near(&now[key], expected, 1e-9);
    }
    // 80 % less an hour at 6 A (5 %), plus an hour at 10 A (8.3 % less what charging loses).
    near(&now["soc"], 0.83, 0.01);
    let [low, likely, high] = ["soc_low", "soc", "soc_high"].map(|key| now[key].as_f64().expect("a number"));
    assert!(0.0 <= low && low < likely && likely < high && high <= 1.0, "{low} {likely} {high}");
    for key in ["endurance_s", "endurance_low_s", "endurance_high_s", "last_fix"] {
        assert!(now.as_object().expect("an object").contains_key(key), "{key} is there");
        assert!(now[key].is_null(), "{key}: it charges, and no fix was made");
    }
}

#[tokio::test]
async fn events_come_latest_first_and_no_more_than_asked() {
    let boat = Boat::afloat();
    let events = boat.json("/api/v1/events").await;
    let event = &events["events"][0];
    assert_eq!(event["kind"], "bad-input");
    assert_eq!(event["priority"], "caution");
    assert_eq!(event["bank"], "house");
    assert_eq!(event["device"], "shunt");
    assert_eq!(event["time"], "2026-05-01T01:00:00Z");
    assert_eq!(event["count"], 1);
    assert_eq!(boat.json("/api/v1/events?limit=1").await["events"].as_array().map(Vec::len), Some(1));
    assert_eq!(boat.get("/api/v1/events?limit=many").await.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn health_tells_of_store_clock_and_devices() {
    let health = Boat::afloat().json("/api/v1/health").await;
    assert_eq!(health["status"], "degraded", "the shunt has sent nothing yet");
    assert_eq!(health["devices"][0]["state"], "waiting");
    assert_eq!(health["store"]["status"], "ok");
    assert!(health["store"]["bytes"].as_u64().expect("a number") > 10_000);
    assert_eq!(health["clock"]["trusted"], true);
}

#[tokio::test]
async fn the_document_of_the_interface_lists_every_path() {
    let document = Boat::afloat().json("/api/v1/openapi.json").await;
    let mut paths: Vec<_> = document["paths"].as_object().expect("paths").keys().map(String::as_str).collect();
    paths.sort_unstable();
    let expected = [
        "/api/v1/backup",
        "/api/v1/banks",
        "/api/v1/banks/{name}/branches",
        "/api/v1/banks/{name}/days",
        "/api/v1/banks/{name}/description",
        "/api/v1/banks/{name}/endurance",
        "/api/v1/banks/{name}/export",
        "/api/v1/banks/{name}/fixes",
        "/api/v1/banks/{name}/history",
        "/api/v1/banks/{name}/ledger",
        "/api/v1/banks/{name}/notes",
        "/api/v1/banks/{name}/now",
        "/api/v1/banks/{name}/outlook",
        "/api/v1/banks/{name}/passages",
        "/api/v1/banks/{name}/passages/merge",
        "/api/v1/banks/{name}/passages/{id}",
        "/api/v1/banks/{name}/passages/{id}/report",
        "/api/v1/banks/{name}/passages/{id}/split",
        "/api/v1/banks/{name}/record",
        "/api/v1/banks/{name}/record/report",
        "/api/v1/banks/{name}/sums",
        "/api/v1/banks/{name}/test",
        "/api/v1/banks/{name}/zero",
        "/api/v1/clock",
        "/api/v1/configuration",
        "/api/v1/devices",
        "/api/v1/events",
        "/api/v1/health",
        "/api/v1/live",
        "/api/v1/permit",
    ];
    assert_eq!(paths, expected);
}

#[tokio::test]
async fn an_unknown_bank_is_a_problem_that_names_those_there_are() {
    let boat = Boat::afloat();
    for path in ["now", "endurance?load_a=5", "history?from_ms=0&to_ms=1", "sums?from_ms=0&to_ms=1"] {
        let detail = boat.get(&format!("/api/v1/banks/drive/{path}")).await.problem(404);
        assert!(detail.contains("\"drive\"") && detail.contains("house"), "{detail}");
    }
}

#[tokio::test]
async fn an_unknown_path_is_a_problem() {
    let boat = Boat::afloat();
    for path in ["/nothing", "/api/v1/nothing", "/assets/nothing.js", "/../Cargo.toml"] {
        assert!(boat.get(path).await.problem(404).contains(path), "{path}");
    }
}

#[tokio::test]
async fn every_answer_keeps_the_page_to_itself() {
    let boat = Boat::afloat();
    for path in ["/", "/api/v1/banks", "/api/v1/banks/drive/now", "/nothing"] {
        let answer = boat.get(path).await;
        let policy = answer.header("content-security-policy");
        for part in ["default-src 'self'", "frame-ancestors 'none'", "base-uri 'none'"] {
            assert!(policy.contains(part), "{path}: {policy}");
        }
        assert!(!policy.contains("http:") && !policy.contains('*'), "{path}: {policy}");
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(answer.header("referrer-policy"), "no-referrer", "{path}");
    }
}

#[cfg(feature = "page")]
#[tokio::test]
async fn the_page_is_served_for_its_views_and_its_files_are_there() {
    let boat = Boat::afloat();
    let page = boat.get("/").await;
    assert_eq!(page.status, StatusCode::OK);
    assert_eq!(page.header("content-type"), "text/html");
    assert_eq!(page.header("cache-control"), "no-cache");
    assert_eq!(boat.get("/history").await.body, page.body);
    let html = String::from_utf8(page.body).expect("text");
    let scripts: Vec<&str> = html.split("src=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    assert!(!scripts.is_empty(), "{html}");
    for script in scripts {
        let file = boat.get(&format!("/{}", script.trim_start_matches(['.', '/']))).await;
        assert_eq!(file.status, StatusCode::OK, "{script}");
        assert!(file.header("content-type").contains("javascript"), "{script}");
    }
}

#[cfg(feature = "page")]
#[tokio::test]
async fn what_lets_the_page_be_installed_is_served_as_browsers_ask_for_it() {
    let boat = Boat::afloat();
    for (path, kind) in [
        ("/sw.js", "text/javascript"),
        ("/manifest.webmanifest", "application/manifest+json"),
        ("/icon.svg", "image/svg+xml"),
        ("/icon-192.png", "image/png"),
        ("/icon-512.png", "image/png"),
    ] {
        let file = boat.get(path).await;
        assert_eq!(file.status, StatusCode::OK, "{path}");
        assert_eq!(file.header("content-type"), kind, "{path}");
        // A browser that kept an old worker would go on with an old page.
        assert_eq!(file.header("cache-control"), "no-cache", "{path}");
    }
}

#[cfg(feature = "page")]
#[tokio::test]
async fn the_worker_keeps_files_that_are_there_and_nothing_measured() {
    let boat = Boat::afloat();
    let worker = String::from_utf8(boat.get("/sw.js").await.body).expect("text");
    let list = |name: &str| -> Vec<String> {
        let start = format!("const {name} = ");
        let line = worker.lines().find_map(|line| line.strip_prefix(&start)).expect("a list");
        serde_json::from_str(line.trim_end_matches(';')).expect("JSON")
    };
    let files = list("FILES");
    assert!(files.len() > 6, "{files:?}");
    for path in files.iter().chain(&list("VIEWS")) {
        assert!(!path.starts_with("/api"), "{path}");
        assert_eq!(boat.get(path).await.status, StatusCode::OK, "{path}");
    }
}
