//! What the page Set-up shows and hands out: bank as described, devices, downloads; notes; and what would happen if.

use super::orders::{JSON, post};
use super::*;
use taffrail::http::RecordDone;
use taffrail::store::Reader;

const HOUSE: &str = "/api/v1/banks/house";

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("a number instead of {value}"))
}

#[tokio::test]
async fn the_description_of_a_bank_is_complete_and_says_what_was_stated() {
    let described = Boat::afloat().json(&format!("{HOUSE}/description")).await;
    assert_eq!((&described["chemistry"], &described["method"]), (&"lead-carbon".into(), &"counter".into()));
    assert_eq!((number(&described["peukert_exponent"]), described["rates"].as_array().map(Vec::len)), (1.08, Some(0)));
    assert_eq!(described["rates_assumed"], false, "the exponent was stated");
    // Preset of lead-carbon for 24 cells and 120 Ah.
    assert!((number(&described["full"]["voltage_v"]) - 56.4).abs() < 1e-9, "{described}");
    assert!((number(&described["full"]["tail_current_a"]) - 3.6).abs() < 1e-9, "{described}");
    Boat::afloat().get("/api/v1/banks/drive/description").await.problem(404);
}

#[tokio::test]
async fn a_device_tells_its_channels_now_and_what_was_wrong_with_its_lines() {
    let boat = Boat::afloat();
    let all = boat.json("/api/v1/devices").await;
    let shunt = &all["devices"][0];
    assert_eq!((&shunt["name"], &shunt["bank"], &shunt["main"]), (&"shunt".into(), &"house".into(), &true.into()));
    assert_eq!((&shunt["port"], &shunt["baud"]), (&"/dev/serial/by-id/some-adapter".into(), &19_200.into()));
    assert_eq!(shunt["channels"][1]["value"], Value::Null, "nothing was heard of it yet");

    let reading = LiveReading { mono: MonoMs(2 * HOUR), values: vec![Some(54.0), Some(10.0), None] };
    boat.live.hear("shunt", reading);
    let all = boat.json("/api/v1/devices").await;
    let channels = all["devices"][0]["channels"].as_array().expect("a list").clone();
    let told: Vec<_> = channels.iter().map(|c| (c["name"].as_str(), c["unit"].as_str(), c["value"].as_f64())).collect();
    assert_eq!(
        told,
        [
            (Some("voltage_v"), Some("V"), Some(54.0)),
            (Some("current_a"), Some("A"), Some(10.0)),
            (Some("temperature_c"), Some("°C"), None)
        ]
    );
}

#[tokio::test]
async fn the_settings_in_effect_can_be_taken_along_and_read_again() {
    let answer = Boat::afloat().get("/api/v1/configuration").await;
    assert_eq!(answer.header("content-type"), "application/toml");
    assert_eq!(
        answer.header("content-disposition"),
        "attachment; filename=\"marigold-settings-2026-05-01.toml\"",
        "of the day aboard"
    );
    let text = String::from_utf8(answer.body).expect("text");
    let again = Config::parse(&text, std::path::Path::new("")).expect("no mistakes");
    let config = Config::parse(CONFIG, std::path::Path::new("")).expect("no mistakes");
    assert_eq!((again.banks, again.devices), (config.banks, config.devices));
}

#[tokio::test]
async fn a_backup_is_the_whole_store_and_leaves_nothing_behind() {
    let boat = Boat::afloat();
    let answer = boat.get("/api/v1/backup").await;
    assert_eq!(answer.status, StatusCode::OK);
    assert_eq!(answer.header("content-length"), answer.body.len().to_string());
    let copy = boat.dir.path().join("taken.sqlite");
    std::fs::write(&copy, &answer.body).expect("written");
    let reader = Reader::open(&copy).expect("a store");
    let series = reader.all_series().expect("reads");
    let sums = reader.sums(series[0].id, UtcMs(MAY), UtcMs(MAY + 3 * HOUR)).expect("reads");
    // An hour at -6 A, an hour at +10 A, less the first second, which no sample ends.
    assert!((sums.charge_out_ah - 6.0).abs() < 0.01 && (sums.charge_in_ah - 10.0).abs() < 0.01, "{sums:?}");
    let mut left: Vec<_> =
        std::fs::read_dir(boat.dir.path()).expect("a folder").flatten().map(|e| e.file_name()).collect();
    left.retain(|name| name.to_string_lossy().starts_with("download"));
    assert!(left.is_empty(), "{left:?}");
}

#[tokio::test]
async fn a_download_may_be_asked_for_more_after_its_end_and_a_store_is_not_packed_again() {
    use futures_util::StreamExt;
    let boat = Boat::afloat();
    for (path, packed) in [("/api/v1/backup".to_owned(), false), (format!("{HOUSE}/export"), true)] {
        let request = Request::get(&path).header("accept-encoding", "gzip").body(Body::empty()).expect("a request");
        let response = router(Arc::clone(&boat.live)).oneshot(request).await.expect("never fails");
        assert_eq!(response.headers().contains_key("content-encoding"), packed, "{path}");
        assert_eq!(response.headers().contains_key("content-length"), !packed, "{path}");
        let mut pieces = response.into_body().into_data_stream();
        while let Some(piece) = pieces.next().await {
            piece.expect("whole");
        }
        assert!(pieces.next().await.is_none(), "{path}: the end stays the end");
    }
}

#[tokio::test]
async fn only_one_backup_is_made_at_a_time() {
    let boat = Boat::afloat();
    let held = Arc::clone(&boat.live.copying).try_lock_owned().expect("free");
    let detail = boat.get("/api/v1/backup").await.problem(409);
    assert!(detail.contains("already"), "{detail}");
    drop(held);
    assert_eq!(boat.get("/api/v1/backup").await.status, StatusCode::OK);
}

#[tokio::test]
async fn samples_of_a_span_come_as_a_table() {
    let boat = Boat::afloat();
    let span = "from=2026-05-01T00:30:00Z&to=2026-05-01T00:40:00Z";
    let answer = boat.get(&format!("{HOUSE}/export?{span}")).await;
    assert_eq!(answer.header("content-disposition"), "attachment; filename=\"marigold-house-samples-2026-05-01.csv\"");
    let mut rows = csv::Reader::from_reader(&answer.body[..]);
    let place = rows.headers().expect("a header").iter().position(|name| name == "current_a").expect("a column");
    let currents: Vec<String> = rows.records().map(|row| row.expect("a row")[place].to_owned()).collect();
    assert_eq!(currents.len(), 600, "ten minutes at 1 Hz");
    assert!(currents.iter().all(|current| current.parse() == Ok(-6.0)), "{:?}", currents[0]);

    let lines = boat.get(&format!("{HOUSE}/export?what=events&format=json")).await;
    let first = String::from_utf8(lines.body).expect("text").lines().next().map(str::to_owned).expect("an event");
    assert!(first.contains("bad-input"), "{first}");
    let detail = boat.get(&format!("{HOUSE}/export?what=everything")).await.problem(400);
    assert!(detail.contains("expected samples, summary"), "{detail}");
    boat.get(&format!("{HOUSE}/export?from=2026-05-02T00:00:00Z&to=2026-05-01T00:00:00Z")).await.problem(400);
}

#[tokio::test]
async fn what_would_be_at_another_current_is_what_the_endurance_says_and_the_fan_goes_there() {
    let boat = Boat::afloat();
    let what_if = boat.json(&format!("{HOUSE}/outlook?current_a=-20")).await;
    let lasts = boat.json(&format!("{HOUSE}/endurance?load_a=20")).await;
    for (ours, theirs) in
        [("reserve_s", "reserve_s"), ("endurance_low_s", "empty_low_s"), ("endurance_high_s", "empty_high_s")]
    {
        assert_eq!(what_if[ours], lasts[theirs], "{ours}");
    }
    assert!(what_if["full_s"].is_null(), "it would not charge");
    let ahead = what_if["ahead"].as_array().expect("a list");
    let reserve_s = number(&what_if["reserve_s"]);
    let after = ahead.iter().find(|point| number(&point["t_s"]) >= reserve_s).expect("the fan reaches the reserve");
    assert!(number(&after["soc"]) <= 0.3 + 1e-9, "{after}");
    assert_eq!(ahead[0]["soc"], boat.json(&format!("{HOUSE}/now")).await["soc"], "it begins at the present");

    let charging = boat.json(&format!("{HOUSE}/outlook?current_a=30")).await;
    assert!(number(&charging["full_s"]) > 0.0 && charging["endurance_s"].is_null(), "{charging}");
    let last = charging["ahead"].as_array().and_then(|all| all.last()).expect("a point");
    assert!((number(&last["soc"]) - 1.0).abs() < 1e-9, "full at the end");
    for wrong in ["", "?current_a=much", "?current_a=99999", "?current_a=NaN"] {
        let detail = boat.get(&format!("{HOUSE}/outlook{wrong}")).await.problem(400);
        assert!(detail.contains("current_a"), "{detail}");
    }
}

#[tokio::test]
async fn a_note_on_a_span_is_placed_and_handed_to_the_writer() {
    let mut boat = Boat::afloat();
    let (_, never) = mpsc::channel(1);
    let mut orders = std::mem::replace(&mut boat.record_orders, never);
    let body = r#"{"from": "2026-05-01T00:10:00Z", "to": "2026-05-01T00:20:00Z", "text": " kelp in the propeller "}"#;
    let writer = async {
        let Some(RecordOrder::Note { note, reply }) = orders.recv().await else { panic!("a note") };
        reply.send(Ok(RecordDone { id: 7, text: "the note is kept".to_owned() })).expect("somebody waits for it");
        note
    };
    let (answer, note) = tokio::join!(boat.ask(post(&format!("{HOUSE}/notes"), &[JSON], body)), writer);
    assert_eq!(answer.json(), serde_json::json!({"text": "the note is kept"}));
    assert_eq!((note.bank.as_str(), note.text.as_str()), ("house", "kelp in the propeller"));
    assert_eq!((note.from.mono, note.to.mono), (MonoMs(600_000), MonoMs(1_200_000)));
    for wrong in [
        r#"{"from": "2026-05-01T00:10:00Z", "to": "2026-05-01T00:20:00Z", "text": "  "}"#,
        r#"{"from": "2026-05-01T00:30:00Z", "to": "2026-05-01T00:20:00Z", "text": "x"}"#,
    ] {
        boat.ask(post(&format!("{HOUSE}/notes"), &[JSON], wrong)).await.problem(400);
    }
    let nobody = r#"{"from": "2027-05-01T00:10:00Z", "to": "2027-05-01T00:20:00Z", "text": "x"}"#;
    boat.ask(post(&format!("{HOUSE}/notes"), &[JSON], nobody)).await.problem(409);
}

#[test]
fn two_notes_within_an_hour_stay_two() {
    let boat = Boat::afloat();
    let mut writer = Writer::open(&boat.dir.path().join("taffrail.sqlite"), Options::default()).expect("opens");
    let at = |second: i64| Moment { boot: BootNo(1), mono: MonoMs(second * 1000) };
    for (from, to, text) in [(600, 900, "a squall"), (1200, 1200, "another")] {
        let note =
            taffrail::store::NoteRecord { bank: "house".to_owned(), from: at(from), to: at(to), text: text.to_owned() };
        writer.note(&note).expect("kept");
    }
    writer.close().expect("room");
    let reader = Reader::open(&boat.dir.path().join("taffrail.sqlite")).expect("opens");
    let all = reader.events(Some("house"), UtcMs(MAY), UtcMs(MAY + 2 * HOUR), 10).expect("reads");
    let notes: Vec<_> = all.iter().filter(|stored| stored.event.kind == "note").collect();
    let told: Vec<_> = notes.iter().map(|s| (s.event.text.as_str(), s.first.mono, s.event.at.mono, s.count)).collect();
    let of = |text, from: i64, to: i64| (text, MonoMs(from * 1000), MonoMs(to * 1000), 1);
    assert!(told.contains(&of("a squall", 600, 900)) && told.contains(&of("another", 1200, 1200)), "{told:?}");
}
