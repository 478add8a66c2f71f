//! Passages, ledgers and the health record: what is read, what is asked of the writer, and what is refused.

use super::orders::{JSON, post};
use super::*;
use taffrail::http::RecordDone;
use taffrail::passage::{Found, Summary};
use taffrail::store::{PassageEdit, SurveyBatch, SurveyState};

const PASSAGES: &str = "/api/v1/banks/house/passages";
const MINUTE: i64 = 60_000;

fn at(minute: i64) -> Moment {
    Moment { boot: BootNo(1), mono: MonoMs(minute * MINUTE) }
}

/// What a passage of half an hour at -6 A comes to.
fn summary() -> Summary {
    let soc = |soc| Some(BandedSoc { soc, band: Band { low: soc - 0.02, high: soc + 0.02 } });
    Summary {
        duration_s: Some(1800.0),
        covered_s: 1800.0,
        charge_in_ah: 0.0,
        charge_out_ah: 3.0,
        energy_in_wh: 0.0,
        energy_out_wh: 153.0,
        soc_begin: soc(0.8),
        soc_end: soc(0.775),
        soc_lowest: soc(0.775),
        soc_lowest_at: Some(at(40)),
        reconciled: false,
        voltage_min: None,
        voltage_max: None,
        current_min: None,
        current_max: None,
        power_min: None,
        power_max: None,
        temperature_min: None,
        temperature_max: None,
        above_c5_s: 0.0,
        above_c2_s: 0.0,
        above_1c_s: 0.0,
        deep_excursions: 0,
        mean_load_a: Some(6.0),
        load_95_a: Some(6.0),
        below_reserve_s: 0.0,
        distance_nm: Some(3.0),
    }
}

/// The boat with a passage from minute 10 to 40, and one that goes on since minute 50.
fn sailed() -> Boat {
    let boat = Boat::afloat();
    let mut writer = Writer::open(&boat.dir.path().join("taffrail.sqlite"), Options::default()).expect("opens");
    let batch = SurveyBatch {
        bank: "house".to_owned(),
        state: SurveyState { at: at(119), version: 1, state: "{}".to_owned() },
        findings: Vec::new(),
        passages: vec![Found { begin: at(10), end: Some(at(40)) }, Found { begin: at(50), end: None }],
        events: Vec::new(),
        tests: Vec::new(),
    };
    writer.keep_survey(&batch).expect("kept");
    writer.keep_summary(1, &summary(), false).expect("kept");
    writer.close().expect("room");
    boat
}

#[tokio::test]
async fn passages_come_the_latest_first_with_what_they_came_to() {
    let boat = sailed();
    let all = boat.json(PASSAGES).await;
    let all = all["passages"].as_array().expect("a list");
    assert_eq!(all.iter().map(|one| one["id"].as_i64()).collect::<Vec<_>>(), [Some(2), Some(1)]);
    assert_eq!((&all[0]["going_on"], &all[0]["end"]), (&true.into(), &Value::Null));
    let first = &all[1];
    assert_eq!((&first["begin"], &first["end"]), (&"2026-05-01T00:10:00Z".into(), &"2026-05-01T00:40:00Z".into()));
    assert_eq!((&first["origin"], &first["summary"]["charge_out_ah"]), (&"found".into(), &3.0.into()));
    assert_eq!(first["summary"]["net_wh"], -153.0);
    assert_eq!(first["summary"]["wh_per_nm"], 51.0);
    assert_eq!(first["summary"]["soc_lowest_time"], "2026-05-01T00:40:00Z");
    assert_eq!(first["summary"]["reserve_touched"], false);

    let ids = |answer: Value| answer["passages"].as_array().expect("a list").len();
    assert_eq!(ids(boat.json(&format!("{PASSAGES}?to=2026-05-01T00:50:00Z")).await), 1, "the second begins there");
    assert_eq!(ids(boat.json(&format!("{PASSAGES}?from=2026-05-01T01:00:00Z")).await), 1, "the second goes on");
    assert_eq!(ids(boat.json(&format!("{PASSAGES}?limit=1")).await), 1);
    let detail = boat.get(&format!("{PASSAGES}?from=yesterday")).await.problem(400);
    assert!(detail.contains("from") && detail.contains("RFC 3339"), "{detail}");
}

#[tokio::test]
async fn one_passage_comes_with_its_ledger_and_what_has_to_be_said() {
    let boat = sailed();
    let one = boat.json(&format!("{PASSAGES}/1")).await;
    let ledger = &one["ledger"];
    // Half an hour at 6 A and 51 V: 3 Ah and 153 Wh.
    let near = |value: &Value, wanted: f64| (value.as_f64().expect("a number") - wanted).abs() < 1e-6;
    assert!(near(&ledger["charge_out_ah"], 3.0) && near(&ledger["energy_out_wh"], 153.0), "{ledger}");
    assert!(near(&ledger["covered_s"], 1800.0) && near(&ledger["unseen_s"], 0.0), "{ledger}");
    assert_eq!((&ledger["notes"], &ledger["branches"]), (&serde_json::json!([]), &serde_json::json!([])));
    let notes = one["notes"].as_array().expect("a list");
    assert!(notes.iter().any(|note| note.as_str().is_some_and(|note| note.contains("no fix has come since"))));

    let going_on = boat.json(&format!("{PASSAGES}/2")).await;
    assert_eq!((&going_on["ledger"], &going_on["passage"]["summary"]), (&Value::Null, &Value::Null));
    let detail = boat.get(&format!("{PASSAGES}/7")).await.problem(404);
    assert!(detail.contains("no passage 7"), "{detail}");
}

#[tokio::test]
async fn a_ledger_of_any_span_says_what_nobody_saw() {
    let boat = sailed();
    let path = "/api/v1/banks/house/ledger?from=2026-05-01T01:30:00Z&to=2026-05-01T03:30:00Z";
    let ledger = boat.json(path).await;
    // Samples end at 02:00: half an hour at 10 A of two hours. The interval before the sample at the first edge is its.
    assert!((ledger["charge_in_ah"].as_f64().expect("a number") - 5.0).abs() < 0.003, "{ledger}");
    assert!((ledger["unseen_s"].as_f64().expect("a number") - 5400.0).abs() < 1.1, "{ledger}");
    assert!(ledger["notes"][0].as_str().expect("a note").contains("was not read for 90 min"), "{ledger}");
    let empty = boat.json("/api/v1/banks/house/ledger?from=2026-06-01T00:00:00Z&to=2026-06-02T00:00:00Z").await;
    assert_eq!((&empty["charge_in_ah"], &empty["energy_out_wh"]), (&Value::Null, &Value::Null), "not a sum of nothing");
    assert!(empty["notes"][0].as_str().expect("a note").contains("Nothing of the bank was read"));
    let back = "/api/v1/banks/house/ledger?from=2026-05-01T02:00:00Z&to=2026-05-01T01:00:00Z";
    assert!(boat.get(back).await.problem(400).contains("before"));
}

/// Sends a request and answers the order that it becomes; the answer to the page, and what the writer was asked.
async fn edited(request: Request<Body>, reply: Result<i64, &str>) -> (Answer, PassageEdit) {
    let mut boat = sailed();
    let (_, never) = mpsc::channel(1);
    let mut orders = std::mem::replace(&mut boat.record_orders, never);
    let writing = async {
        let Some(RecordOrder::Edit { edit, reply: to }) = orders.recv().await else { panic!("no edit") };
        let reply = reply.map(|id| RecordDone { id, text: edit.done(id) }).map_err(str::to_owned);
        to.send(reply).expect("somebody waits for it");
        edit
    };
    tokio::join!(boat.ask(request), writing)
}

fn sent(method: &str, path: &str, body: &str) -> Request<Body> {
    let request = Request::builder().method(method).uri(path).header("host", "localhost:7245").header(JSON.0, JSON.1);
    request.body(Body::from(body.to_owned())).expect("a request")
}

#[tokio::test]
async fn a_mark_by_hand_reaches_the_writer_as_moments_that_were_watched() {
    let body = r#"{"begin": "2026-05-01T00:10:00Z", "end": "2026-05-01T00:20:00Z", "name": "To the island"}"#;
    let (answer, edit) = edited(sent("POST", PASSAGES, body), Ok(5)).await;
    assert_eq!(answer.json(), serde_json::json!({"id": 5, "text": "Passage 5 is marked."}));
    let mark =
        |begin, end| PassageEdit::Mark { bank: "house".to_owned(), begin, end, name: "To the island".to_owned() };
    assert_eq!(edit, mark(at(10), at(20)));
    // Somebody may begin it before the computer was on, and end it after the last sample.
    let body = body.replace("05-01T00:10", "04-30T22:00").replace("05-01T00:20", "05-01T09:00");
    let (_, edit) = edited(sent("POST", PASSAGES, &body), Ok(5)).await;
    assert_eq!(edit, mark(Moment { boot: BootNo(1), mono: MonoMs(1000) }, at(120)));
}

#[tokio::test]
async fn every_change_becomes_the_edit_that_it_says() {
    let one = format!("{PASSAGES}/1");
    let change = |name: Option<&str>, note: Option<&str>, begin, end| PassageEdit::Change {
        id: 1,
        name: name.map(str::to_owned),
        note: note.map(str::to_owned),
        begin,
        end,
    };
    let cases = [
        (sent("PATCH", &one, r#"{"name": "Out"}"#), change(Some("Out"), None, None, None)),
        (sent("PATCH", &one, r#"{"note": ""}"#), change(None, Some(""), None, None)),
        (sent("PATCH", &one, r#"{"end": "2026-05-01T00:45:00Z"}"#), change(None, None, None, Some(at(45)))),
        (sent("POST", &format!("{PASSAGES}/merge"), r#"{"ids": [1, 2]}"#), PassageEdit::Merge { ids: vec![1, 2] }),
        (
            sent("POST", &format!("{one}/split"), r#"{"at": "2026-05-01T00:25:00Z"}"#),
            PassageEdit::Split { id: 1, at: at(25) },
        ),
        (sent("DELETE", &one, ""), PassageEdit::Remove { id: 1 }),
    ];
    for (request, wanted) in cases {
        let (answer, edit) = edited(request, Ok(1)).await;
        assert_eq!((answer.status, edit), (StatusCode::OK, wanted));
    }
    let (answer, _) = edited(sent("DELETE", &one, ""), Err("somebody is writing")).await;
    assert_eq!(answer.problem(409), "somebody is writing");
}

#[tokio::test]
async fn what_cannot_be_is_refused_before_it_reaches_the_writer() {
    let mut boat = sailed();
    let one = format!("{PASSAGES}/1");
    let span = |begin: &str, end: &str| format!(r#"{{"begin": "{begin}", "end": "{end}"}}"#);
    let (early, late) = ("2026-05-01T00:10:00Z", "2026-05-01T00:20:00Z");
    let refused = [
        (sent("POST", PASSAGES, &span(late, early)), 400, "before"),
        (sent("POST", PASSAGES, &span("noon", late)), 400, "begin"),
        (sent("POST", PASSAGES, "{}"), 400, "expected"),
        (sent("POST", PASSAGES, &span("2025-05-01T00:00:00Z", "2025-05-02T00:00:00Z")), 409, "no samples"),
        (sent("PATCH", &one, "{}"), 400, "one or more"),
        (sent("PATCH", &one, r#"{"title": "Out"}"#), 400, "title"),
        (sent("PATCH", &format!("{PASSAGES}/9"), r#"{"name": "Out"}"#), 404, "no passage 9"),
        (sent("POST", &format!("{PASSAGES}/merge"), r#"{"ids": [1]}"#), 400, "two or more"),
        (sent("POST", &format!("{PASSAGES}/merge"), r#"{"ids": [1, 1]}"#), 400, "each once"),
        (sent("POST", &format!("{PASSAGES}/merge"), r#"{"ids": [1, 9]}"#), 404, "no passage 9"),
        (sent("POST", &format!("{one}/split"), r#"{"at": "2020-01-01T00:00:00Z"}"#), 409, "no samples"),
        (sent("DELETE", "/api/v1/banks/drive/passages/1", ""), 404, "\"drive\""),
        (post(PASSAGES, &[], &span(early, late)), 415, "application/json"),
    ];
    for (request, status, said) in refused {
        let what = format!("{} {}", request.method(), request.uri());
        let detail = boat.ask(request).await.problem(status);
        assert!(detail.contains(said), "{what}: {detail}");
    }
    for method in ["POST", "PATCH", "DELETE"] {
        let path = if method == "POST" { PASSAGES } else { &one };
        let mut request = sent(method, path, &span(early, late));
        request.headers_mut().insert("origin", "http://elsewhere.example".parse().expect("a value"));
        boat.ask(request).await.problem(403);
    }
    assert!(boat.record_orders.try_recv().is_err(), "nothing reached the writer");
}

#[tokio::test]
async fn the_record_of_a_young_bank_promises_nothing() {
    let boat = sailed();
    let record = boat.json("/api/v1/banks/house/record").await;
    assert_eq!((&record["bank"], &record["rated_capacity_ah"]), (&"house".into(), &120.0.into()));
    assert_eq!((&record["capacity"]["latest"], &record["fade"]["earned"]), (&Value::Null, &false.into()));
    assert!(record["fade"]["text"].as_str().expect("words").starts_with("Not enough yet"), "{record}");
    assert_eq!(
        (&record["fade"]["forecast"], &record["stress"]["believe"]),
        (&serde_json::json!([]), &"neither".into())
    );
    assert_eq!(record["surveyed_to"], "2026-05-01T01:59:00Z");
    assert!(record["cautions"].as_array().expect("a list").len() >= 3);
    assert!(record["ventilation"]["air_m3_h"].as_f64().expect("lead needs air") > 0.0);
    assert!(boat.get("/api/v1/banks/drive/record").await.problem(404).contains("\"drive\""));
}

#[tokio::test]
async fn a_test_is_started_by_an_order_and_a_refusal_says_how_to_insist() {
    let path = "/api/v1/banks/house/test";
    let view = sailed().json(path).await;
    assert_eq!((&view["running"], &view["past"]), (&Value::Null, &serde_json::json!([])));
    let names: Vec<_> = view["preconditions"].as_array().expect("a list").iter().map(|one| &one["name"]).collect();
    assert_eq!(names, ["full", "rested", "temperature"]);

    let mut boat = sailed();
    let (_, never) = mpsc::channel(1);
    let mut orders = std::mem::replace(&mut boat.record_orders, never);
    let body = r#"{"action": "start", "load_a": 6.0, "cut_off_v": 42.0}"#;
    let writing = async {
        let Some(RecordOrder::StartTest { bank, wish, reply }) = orders.recv().await else { panic!("no test") };
        reply.send(Err("not full".to_owned())).expect("somebody waits for it");
        (bank, wish.load_a, wish.cut_off_v, wish.anyway)
    };
    let (answer, asked) = tokio::join!(boat.ask(sent("POST", path, body)), writing);
    assert_eq!(asked, ("house".to_owned(), 6.0, Some(42.0), false));
    assert_eq!(answer.json()["insist"], "anyway");
    assert_eq!(answer.problem(409), "not full");

    let refused = [
        (r#"{"action": "start"}"#, "load_a"),
        (r#"{"action": "start", "load_a": -6.0}"#, "load_a"),
        (r#"{"action": "start", "load_a": 1e9}"#, "load_a"),
        (r#"{"action": "start", "load_a": 6.0, "cut_off_v": 1e3}"#, "cut_off_v"),
        (r#"{"action": "pause"}"#, "expected"),
        ("{}", "expected"),
    ];
    for (body, said) in refused {
        let detail = boat.ask(sent("POST", path, body)).await.problem(400);
        assert!(detail.contains(said), "{body}: {detail}");
    }
}
