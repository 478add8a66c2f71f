//! Start, work, bad input, and an orderly stop.

use super::*;

fn marks(samples: &[StoredSample]) -> Vec<f64> {
    samples.iter().map(|s| s.sample.values[MARK].expect("every frame has a mark")).collect()
}

#[test]
fn what_was_fed_is_shown_and_after_a_stop_stored_once_in_order() {
    let berth = Berth::new();
    let wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    for mark in 1..=40 {
        assert!(wire.send(frame(mark).as_bytes()));
        std::thread::sleep(Duration::from_millis(50));
    }
    let now = daemon.wait_for_mark(40);
    assert_eq!(now["voltage_v"], 51.5);
    assert_eq!(now["current_a"], -8.25);
    assert_eq!(now["temperature_c"], 19.5);
    assert_eq!(now["device"]["state"], "live");
    daemon.terminate();
    let status = daemon.end().expect("it ends");
    assert_eq!(status.code(), Some(0));
    let stored = berth.stored();
    assert!(stored.windows(2).all(|pair| pair[0].sample.at.mono < pair[1].sample.at.mono));
    let fed: Vec<f64> = marks(&stored).into_iter().filter(|mark| *mark > 0.0).collect();
    assert_eq!(fed, (1..=40).map(f64::from).collect::<Vec<_>>());
}

#[test]
fn a_stop_in_the_midst_of_a_stream_loses_nothing_that_was_shown() {
    let berth = Berth::new();
    let wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    let mut mark = 0;
    while mark < 200 {
        mark += 1;
        wire.send(frame(mark).as_bytes());
        if mark == 100 {
            daemon.wait_for_mark(100);
            daemon.terminate();
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    assert_eq!(daemon.end().and_then(|status| status.code()), Some(0));
    let fed: Vec<f64> = marks(&berth.stored()).into_iter().filter(|mark| *mark > 0.0).collect();
    assert!(fed.len() >= 100, "{}", fed.len());
    assert_eq!(fed, (1..).take(fed.len()).map(f64::from).collect::<Vec<_>>());
}

#[test]
fn a_second_daemon_on_the_same_folder_is_refused() {
    let berth = Berth::new();
    let _wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_for("the page", Daemon::now);
    let second = berth.command(&["run", "--config", "taffrail.toml"]).stderr(Stdio::piped()).output().expect("starts");
    assert_eq!(second.status.code(), Some(70));
    let told = String::from_utf8(second.stderr).expect("text");
    assert!(told.contains("another taffrail works on") && told.contains("data-dir"), "{told}");
    assert!(daemon.now().is_some(), "the first goes on");
}

#[test]
fn garbage_on_the_wire_becomes_an_event_and_the_daemon_lives_on() {
    let berth = Berth::new();
    let wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    // Bytes of a linear congruential generator (constants of Knuth's MMIX); any would do.
    let mut state = 1_u64;
    let noise = std::iter::repeat_with(|| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        state.to_be_bytes()[0]
    });
    let mut garbage: Vec<u8> = noise.take(50_000).collect();
    garbage.extend(b"\n{\"voltage_v\":1e400,\"current_a\":NaN}\n--\n");
    garbage.extend(vec![b'7'; 100_000]);
    garbage.push(b'\n');
    assert!(wire.send(&garbage), "it is taken off the wire");
    let event = daemon.wait_for("an event", |daemon| {
        let events = daemon.get("/api/v1/events")?;
        events["events"].as_array()?.iter().find(|event| event["kind"] == "bad-input").cloned()
    });
    assert_eq!(event["device"], "shunt");
    assert!(event["text"].as_str().expect("a text").contains("could not be read"), "{event}");
    for mark in 1..=5 {
        wire.send(frame(mark).as_bytes());
    }
    let now = daemon.wait_for_mark(5);
    assert_eq!(now["device"]["state"], "live");
    assert_eq!(now["voltage_v"], 51.5);
    let health = daemon.get("/api/v1/health").expect("it answers");
    assert!(health["devices"][0]["bad_lines"].as_u64().expect("a number") > 10, "{health}");
}
