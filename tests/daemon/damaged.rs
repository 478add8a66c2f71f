//! The daemon over damage: a piece that cannot be read, a file that is broken at the start, a file that breaks in use.

use super::full_card::{Card, trouble};
use super::*;

/// A few hours of the house bank's shunt, ended an hour ago.
fn stored_hours(berth: &Berth, hours: u32) -> i64 {
    let rows: String = (0..=hours * 3600).map(|s| format!("{s},51.5,-8.{},19.5\n", s % 10)).collect();
    std::fs::write(berth.path("trace.csv"), format!("t_s,voltage_v,current_a,temperature_c\n{rows}"))
        .expect("writable");
    let start = Clock::system().wall().utc.0 / 1000 * 1000 - i64::from(hours + 1) * 3_600_000;
    let time = taffrail::review::rfc3339(UtcMs(start)).expect("a time of our days");
    let arguments = ["import", "--config", "taffrail.toml", "--bank", "house", "--charge", "0.80", "--start", &time];
    let status = berth.command(&arguments).arg("trace.csv").status().expect("starts");
    assert!(status.success(), "{}", std::fs::read_to_string(berth.path("log")).expect("a log"));
    start
}

fn store(berth: &Berth) -> rusqlite::Connection {
    rusqlite::Connection::open(berth.path("data/taffrail.sqlite")).expect("opens")
}

/// The event of that kind, once the daemon tells it.
fn event(daemon: &mut Daemon, kind: &str) -> Value {
    daemon.wait_for(&format!("the event {kind}"), |daemon| {
        let events = answer(daemon, "/api/v1/events")?;
        events["events"].as_array().expect("a list").iter().find(|event| event["kind"] == kind).cloned()
    })
}

/// The answer to a GET; `None` where there is none, as while one file is gone and the next not there yet.
fn answer(daemon: &Daemon, path: &str) -> Option<Value> {
    let mut stream = TcpStream::connect(("127.0.0.1", daemon.port)).ok()?;
    write!(stream, "GET {path} HTTP/1.0\r\nHost: 127.0.0.1\r\n\r\n").ok()?;
    let mut answer = String::new();
    stream.read_to_string(&mut answer).ok()?;
    let (head, body) = answer.split_once("\r\n\r\n")?;
    head.contains(" 200 ").then(|| serde_json::from_str(body).expect("JSON"))
}

fn log(berth: &Berth) -> String {
    std::fs::read_to_string(berth.path("log")).expect("a log")
}

#[test]
fn a_piece_that_cannot_be_read_is_a_gap_is_set_aside_and_told_on_page_and_in_the_log() {
    let berth = Berth::new();
    let start = stored_hours(&berth, 3);
    let broken = "UPDATE chunk SET data = substr(data, 1, 40) WHERE first_mono_ms = 3600000";
    assert_eq!(store(&berth).execute(broken, []).expect("set"), 1);
    let mut daemon = berth.start();
    let path = format!("/api/v1/banks/house/history?from_ms={start}&to_ms={}&points=5000", start + 3 * 3_600_000);
    let history = daemon.wait_for("a history", |daemon| daemon.get(&path));
    assert_eq!(history["unreadable"].as_array().expect("a list").len(), 1, "{}", history["unreadable"]);
    let told = event(&mut daemon, "record-unreadable");
    assert_eq!(told["priority"], "caution");
    assert_eq!((told["bank"].as_str(), told["device"].as_str()), (Some("house"), Some("shunt")));
    assert!(told["text"].as_str().expect("a text").contains("3600 samples from "), "{told}");
    assert!(log(&berth).contains("cannot be read (the checksum does not match)"), "{}", log(&berth));
    let aside: i64 = store(&berth).query_row("SELECT length(data) FROM set_aside", [], |row| row.get(0)).expect("one");
    assert_eq!(aside, 40);
    // The answer stays the same, and nothing is told twice.
    assert_eq!(daemon.get(&path).expect("answers")["unreadable"], history["unreadable"]);
    assert_eq!(event(&mut daemon, "record-unreadable")["count"], 1);
    let verified = berth.command(&["verify"]).status().expect("starts");
    assert_eq!(verified.code(), Some(0), "a store with something set aside is sound, beside its daemon too");
}

#[test]
fn a_store_that_is_broken_at_the_start_is_renamed_and_the_daemon_goes_on_with_a_new_one() {
    let berth = Berth::new();
    std::fs::create_dir(berth.path("data")).expect("writable");
    std::fs::write(berth.path("data/taffrail.sqlite"), [0x5a; 20_000]).expect("writable");
    let wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    let told = event(&mut daemon, "store-begun-anew");
    assert_eq!(told["priority"], "warning");
    let text = told["text"].as_str().expect("a text");
    assert!(text.contains("taffrail.sqlite.broken-1") && text.contains("file is not a database"), "{text}");
    assert!(log(&berth).contains("It is kept as taffrail.sqlite.broken-1"), "{}", log(&berth));
    assert_eq!(std::fs::read(berth.path("data/taffrail.sqlite.broken-1")).expect("kept"), [0x5a; 20_000]);
    daemon.terminate();
    assert!(daemon.end().expect("ends").success());
    assert!(!berth.stored().is_empty());
}

#[test]
fn the_last_known_charge_comes_over_from_a_file_that_is_broken_in_part() {
    let berth = Berth::new();
    stored_hours(&berth, 2);
    let chunks: i64 = store(&berth)
        .query_row("SELECT rootpage FROM sqlite_schema WHERE name = 'chunk'", [], |row| row.get(0))
        .expect("a table");
    let path = berth.path("data/taffrail.sqlite");
    let mut bytes = std::fs::read(&path).expect("read");
    bytes[usize::try_from(chunks - 1).expect("positive") * 4096..][..4096].fill(0xff);
    std::fs::write(&path, bytes).expect("written");
    let mut daemon = berth.start();
    let told = event(&mut daemon, "store-begun-anew");
    assert!(told["text"].as_str().expect("a text").contains("the last known charge of house"), "{told}");
    let now = daemon.now().expect("answers");
    // 0.80 less two hours at 8.5 A of 120 Ah, and the band of an hour that nobody watched.
    assert_eq!(now["start_known"], true, "{now}");
    let (low, high) = (now["soc_low"].as_f64().expect("known"), now["soc_high"].as_f64().expect("known"));
    assert!(low < 0.66 && high > 0.60 && high - low < 0.5, "{low} {high}");
}

#[test]
fn a_store_that_breaks_in_use_is_begun_anew_and_no_sample_since_is_lost() {
    let berth = Berth::new();
    stored_hours(&berth, 1);
    let wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    let path = berth.path("data/taffrail.sqlite");
    let mut bytes = std::fs::read(&path).expect("read");
    bytes[2 * 4096..].fill(0xff);
    std::fs::write(&path, bytes).expect("written");
    // What the daemon has read already it must read again once somebody else has written.
    let other = store(&berth);
    other.pragma_update(None, "user_version", 3).expect("room");
    drop(other);
    for mark in 1..=20 {
        wire.send(frame(mark).as_bytes());
    }
    daemon.wait_for_mark(20);
    // A record asks for a commit within seconds.
    let order = "{\"soc\":0.7,\"std_dev\":0.02}";
    let request = format!(
        "POST /api/v1/banks/house/fixes HTTP/1.0\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n\
         Content-Length: {}\r\n\r\n{order}",
        order.len()
    );
    let mut stream = TcpStream::connect(("127.0.0.1", berth.port)).expect("listens");
    stream.write_all(request.as_bytes()).expect("sent");
    let mut answer = String::new();
    stream.read_to_string(&mut answer).expect("answered");
    assert!(answer.contains(" 200 "), "{answer}");
    event(&mut daemon, "store-begun-anew");
    assert!(berth.path("data/taffrail.sqlite.broken-1").exists());
    let health = daemon.get("/api/v1/health").expect("answers");
    assert_eq!(health["store"]["status"], "ok", "{health}");
    for mark in 21..=40 {
        wire.send(frame(mark).as_bytes());
    }
    daemon.wait_for_mark(40);
    daemon.terminate();
    assert!(daemon.end().expect("ends").success(), "{}", log(&berth));
    let marks: Vec<f64> =
        berth.stored().iter().filter_map(|s| s.sample.values[MARK]).filter(|mark| *mark > 0.0).collect();
    assert_eq!(marks, (1..=40).map(f64::from).collect::<Vec<_>>());
    let fixes: i64 = store(&berth)
        .query_row("SELECT count(*) FROM fix WHERE kind = 'hand'", [], |row| row.get(0))
        .expect("a number");
    assert_eq!(fixes, 1);
    assert_eq!(berth.command(&["verify"]).status().expect("starts").code(), Some(0));
}

#[test]
fn a_broken_store_that_cannot_be_renamed_is_told_and_begun_anew_once_it_can() {
    let berth = Berth::new();
    let Some(card) = Card::mount(&berth.path("data")) else { return };
    std::fs::write(berth.path("data/taffrail.sqlite"), [0x5a; 20_000]).expect("writable");
    std::fs::write(berth.path("data/lock"), "").expect("writable");
    card.set_read_only(true);
    let wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    let said = daemon.wait_for("trouble", trouble);
    assert!(said.contains("is damaged") && said.contains("could not be renamed"), "{said}");
    wire.send(frame(1).as_bytes());
    daemon.wait_for_mark(1);
    card.set_read_only(false);
    daemon.wait_for("a new store", |_| berth.path("data/taffrail.sqlite.broken-1").exists().then_some(()));
    let told = event(&mut daemon, "store-damage");
    assert!(told["text"].as_str().expect("a text").contains("It is kept as taffrail.sqlite.broken-1"), "{told}");
    daemon.terminate();
    assert!(daemon.end().expect("ends").success(), "{}", log(&berth));
    assert_eq!(std::fs::read(berth.path("data/taffrail.sqlite.broken-1")).expect("kept"), [0x5a; 20_000]);
    let marks: Vec<Option<f64>> = berth.stored().iter().map(|s| s.sample.values[MARK]).collect();
    assert!(marks.contains(&Some(1.0)), "what came meanwhile is in the new store: {marks:?}");
}
