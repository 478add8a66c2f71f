//! History at any span, and sums.

use super::*;

fn history(from_ms: i64, to_ms: i64, further: &str) -> String {
    format!("/api/v1/banks/house/history?from_ms={from_ms}&to_ms={to_ms}{further}")
}

/// The times, after checking that they rise and that every column is as long.
fn sound_times(history: &Value) -> Vec<i64> {
    let times: Vec<i64> =
        history["time_ms"].as_array().expect("times").iter().map(|t| t.as_i64().expect("whole")).collect();
    assert!(times.windows(2).all(|pair| pair[0] < pair[1]), "{times:?}");
    for (name, column) in history["channels"].as_object().expect("channels") {
        let edges = if name.starts_with("soc") { ["low", "high"] } else { ["min", "max"] };
        let [low, mean, high] = [edges[0], "mean", edges[1]].map(|part| numbers(&column[part]));
        for part in [&low, &mean, &high] {
            assert_eq!(part.len(), times.len(), "{name}");
        }
        for ((low, mean), high) in low.iter().zip(&mean).zip(&high) {
            assert_eq!((low.is_some(), high.is_some()), (mean.is_some(), mean.is_some()), "{name}");
            let (low, mean, high) = (low.unwrap_or(0.0), mean.unwrap_or(0.0), high.unwrap_or(0.0));
            assert!(low <= mean + 1e-9 && mean <= high + 1e-9, "{name}: {low} {mean} {high}");
        }
    }
    times
}

#[tokio::test]
async fn columns_are_as_long_as_the_times_at_every_span() {
    let boat = Boat::afloat();
    let spans = [(MAY - HOUR, MAY + 3 * HOUR), (MAY, MAY + 2 * HOUR), (MAY + 10_000, MAY + 70_000), (MAY, MAY + 1)];
    for (from, to) in spans {
        for points in [1, 10, 300, 5000] {
            let history = boat.json(&history(from, to, &format!("&points={points}"))).await;
            let times = sound_times(&history);
            assert!(times.len() <= points + 2, "{} of {points}", times.len());
        }
    }
}

#[tokio::test]
async fn a_span_from_before_the_first_sample_shows_what_there_is() {
    let history = Boat::afloat().json(&history(MAY - 24 * HOUR, MAY + 3 * HOUR, "")).await;
    let times = sound_times(&history);
    let step_ms = history["step_ms"].as_i64().expect("whole");
    let channels = history["channels"].as_object().expect("channels");
    let names: Vec<_> = channels.keys().map(String::as_str).collect();
    assert_eq!(names, ["current_a", "power_w", "soc", "temperature_c", "voltage_v"]);
    let known = |name: &str| numbers(&channels[name]["mean"]).into_iter().flatten().count();
    assert!(known("voltage_v") > 30 && known("soc") > 30, "{} {}", known("voltage_v"), known("soc"));
    let current = numbers(&channels["current_a"]["mean"]);
    for (time, mean) in times.iter().zip(current).filter_map(|(time, mean)| Some((time, mean?))) {
        assert!((MAY - step_ms..=MAY + 2 * HOUR).contains(time), "nothing is shown where nothing was: {time}");
        assert!((-6.0..=10.0).contains(&mean), "{mean}");
    }
}

#[tokio::test]
async fn a_span_wholly_before_the_first_sample_is_empty_and_no_error() {
    let history = Boat::afloat().json(&history(MAY - 2 * HOUR, MAY - HOUR, "")).await;
    sound_times(&history);
    for (name, column) in history["channels"].as_object().expect("channels") {
        assert!(numbers(&column["mean"]).iter().all(Option::is_none), "{name}");
    }
}

#[tokio::test]
async fn a_minute_shows_each_sample_with_the_charge_laid_between_the_points_of_its_track() {
    let history = Boat::afloat().json(&history(MAY + HOUR - 30_000, MAY + HOUR + 30_000, "")).await;
    let times = sound_times(&history);
    assert!((59..=61).contains(&times.len()), "{times:?}");
    assert!(times.windows(2).all(|pair| pair[1] - pair[0] == 1000), "{times:?}");
    let voltage = numbers(&history["channels"]["voltage_v"]["mean"]);
    for (time, voltage) in times.iter().zip(voltage) {
        assert_eq!(voltage, Some(if *time <= MAY + HOUR { 51.0 } else { 54.0 }), "{time}");
    }
    let soc = numbers(&history["channels"]["soc"]["mean"]);
    assert!(soc.iter().all(|soc| soc.is_some_and(|soc| (soc - 0.75).abs() < 0.01)), "{soc:?}");
}

#[tokio::test]
async fn only_the_channels_asked_for_are_given() {
    let boat = Boat::afloat();
    let one = boat.json(&history(MAY, MAY + 2 * HOUR, "&channels=voltage_v")).await;
    assert_eq!(one["channels"].as_object().map(|c| c.keys().cloned().collect()), Some(vec!["voltage_v".to_owned()]));
    let soc = boat.json(&history(MAY, MAY + 2 * HOUR, "&channels=soc")).await;
    assert_eq!(soc["channels"].as_object().map(|c| c.keys().cloned().collect()), Some(vec!["soc".to_owned()]));
    assert!(numbers(&soc["channels"]["soc"]["low"]).iter().any(Option::is_some));
}

#[tokio::test]
async fn fixes_and_events_of_the_span_are_marked() {
    let boat = Boat::afloat();
    let with = boat.json(&history(MAY, MAY + 2 * HOUR, "")).await;
    let mut marks: Vec<_> = with["marks"].as_array().expect("marks").iter().map(|m| m["title"].clone()).collect();
    marks.sort_by_key(ToString::to_string);
    assert_eq!(marks, ["bad-input", "hand"]);
    assert!(with["marks"].as_array().expect("marks").iter().all(|m| m["time_ms"] == MAY + HOUR));
    let without = boat.json(&history(MAY, MAY + HOUR / 2, "")).await;
    assert_eq!(without["marks"].as_array().map(Vec::len), Some(0));
}

#[tokio::test]
async fn sums_are_what_went_in_and_out() {
    let boat = Boat::afloat();
    let sums = boat.json(&format!("/api/v1/banks/house/sums?from_ms={MAY}&to_ms={}", MAY + 2 * HOUR + 1)).await;
    let sum = |key: &str| sums[key].as_f64().expect("a number");
    // One second lies between the two currents, and one is missing before the first sample.
    let expected = [("charge_out_ah", 6.0), ("charge_in_ah", 10.0), ("energy_out_wh", 306.0), ("energy_in_wh", 540.0)];
    for (key, expected) in expected {
        assert!((sum(key) - expected).abs() < expected / 1000.0, "{key}: {}, expected {expected}", sum(key));
    }
    assert!((sum("covered_s") - 7199.0).abs() < 1.5, "{}", sum("covered_s"));
}

#[tokio::test]
async fn a_span_that_makes_no_sense_is_a_bad_request() {
    let boat = Boat::afloat();
    for what in ["history", "sums"] {
        for span in ["from_ms=5&to_ms=5", "from_ms=9&to_ms=5", "from_ms=-1&to_ms=5", "from_ms=0&to_ms=9000000000000000"]
        {
            let detail = boat.get(&format!("/api/v1/banks/house/{what}?{span}")).await.problem(400);
            assert!(detail.contains("from_ms") && detail.contains("expected"), "{detail}");
        }
        for span in ["", "from_ms=0", "from_ms=now&to_ms=later"] {
            let answer = boat.get(&format!("/api/v1/banks/house/{what}?{span}")).await;
            assert_eq!(answer.status, StatusCode::BAD_REQUEST, "{what}?{span}");
        }
    }
}

/// The first hour reconciled: 4 % above the line of the time, once a minute, each point some seconds beside the live one.
fn reconcile_the_first_hour(boat: &Boat) {
    let mut writer = Writer::open(&boat.dir.path().join("taffrail.sqlite"), Options::default()).expect("opens");
    let boot = writer.begin_boot("the first of May", BootKind::Live).expect("the same boot");
    let mut spec = track_spec("house");
    "house-reconciled".clone_into(&mut spec.name);
    spec.channels.truncate(3);
    let series = writer.series(&spec).expect("fits");
    for minute in 0..60 {
        let mono = MonoMs(minute * 60_000 + 7000);
        let soc = 0.84 - 0.05 * mono.seconds_since(MonoMs(0)) / 3600.0;
        let values = [soc, soc - 0.01, soc + 0.01].map(Some).to_vec();
        writer.append(series, &Sample { at: Moment { boot, mono }, values }).expect("taken");
    }
    writer.close().expect("room");
}

/// State of charge of a history by time.
fn socs(history: &Value, name: &str) -> Vec<(i64, f64)> {
    let values = numbers(&history["channels"][name]["mean"]);
    sound_times(history).into_iter().zip(values).filter_map(|(at, soc)| Some((at, soc?))).collect()
}

#[tokio::test]
async fn the_reconciled_line_is_shown_where_there_is_one_and_the_line_of_the_time_where_it_is_asked_for() {
    let boat = Boat::afloat();
    reconcile_the_first_hour(&boat);
    let ends = MAY + 59 * 60_000 + 7000;
    for points in [30, 130, 5000] {
        let ask = |line: &str| history(MAY, MAY + 2 * HOUR, &format!("&points={points}{line}"));
        let live = boat.json(&ask("&line=live")).await;
        assert!(live["reconciled_until_ms"].is_null());
        for line in ["", "&line=reconciled", "&line=both"] {
            let shown = boat.json(&ask(line)).await;
            assert_eq!(shown["reconciled_until_ms"], ends, "{line}");
            let step_ms = shown["step_ms"].as_i64().expect("whole");
            let at_the_time = socs(&live, "soc");
            for (at, soc) in socs(&shown, "soc") {
                let i = at_the_time.partition_point(|(t, _)| *t < at).min(at_the_time.len() - 1);
                let above = soc - at_the_time[i].1;
                // Where the two lines meet, the bin or the straight line between them leads from one to the other.
                let (first, last) = (MAY + step_ms.max(120_000), ends - step_ms.max(120_000));
                if first < at && at < last {
                    assert!((above - 0.04).abs() < 0.012, "{points}{line}: {above} above at {at}");
                } else if at > ends + step_ms.max(120_000) {
                    assert!(above.abs() < 0.012, "{points}{line}: {above} above at {at}");
                }
            }
        }
        let both = boat.json(&ask("&line=both")).await;
        let (shown, expected) = (socs(&both, "soc_live"), socs(&live, "soc"));
        assert!(expected.iter().all(|point| shown.contains(point)), "{points}: the line of the time is as it was");
        assert!(!live["channels"].as_object().expect("channels").contains_key("soc_live"));
    }
}

#[tokio::test]
async fn before_anything_is_reconciled_both_lines_are_that_of_the_time() {
    let boat = Boat::afloat();
    let both = boat.json(&history(MAY, MAY + 2 * HOUR, "&line=both&channels=soc")).await;
    assert!(both["reconciled_until_ms"].is_null());
    assert!(socs(&both, "soc").len() > 30);
    assert_eq!(socs(&both, "soc"), socs(&both, "soc_live"));
    let answer = boat.get(&history(MAY, MAY + HOUR, "&line=straight")).await;
    assert_eq!(answer.status, StatusCode::BAD_REQUEST);
}

#[tokio::test]
async fn a_span_after_the_reconciled_part_says_that_none_of_it_is() {
    let boat = Boat::afloat();
    reconcile_the_first_hour(&boat);
    let later = boat.json(&history(MAY + HOUR + 600_000, MAY + 2 * HOUR, "")).await;
    assert!(later["reconciled_until_ms"].is_null());
    let earlier = boat.json(&history(MAY, MAY + HOUR / 2, "")).await;
    assert_eq!(earlier["reconciled_until_ms"], MAY + 59 * 60_000 + 7000, "it reaches beyond the span");
}

#[tokio::test]
async fn what_cannot_be_read_is_named_in_history_and_sums_and_is_a_gap() {
    let boat = Boat::afloat();
    let all = history(MAY, MAY + 2 * HOUR, "&points=5000");
    let sums = format!("/api/v1/banks/house/sums?from_ms={}&to_ms={}", MAY + 60_000, MAY + 2 * HOUR);
    assert_eq!(boat.json(&all).await["unreadable"], serde_json::json!([]));
    assert_eq!(boat.json(&sums).await["unreadable"], serde_json::json!([]));
    let changed = rusqlite::Connection::open(boat.dir.path().join("taffrail.sqlite"))
        .and_then(|c| {
            c.execute(
                "UPDATE chunk SET data = substr(data, 2) WHERE first_mono_ms < 10000
                    AND series = (SELECT id FROM series WHERE kind = 'device')",
                [],
            )
        })
        .expect("a store");
    assert_eq!(changed, 1);
    let history = boat.json(&all).await;
    let named = &history["unreadable"][0];
    assert_eq!((named["series"].as_str(), named["from"].as_str()), (Some("shunt"), Some("2026-05-01T00:00:01Z")));
    assert_eq!(named["to"].as_str(), Some("2026-05-01T00:59:59Z"));
    assert!(named["cause"].as_str().expect("a text").contains("checksum"), "{named}");
    assert_eq!(history["unreadable"].as_array().expect("a list").len(), 1);
    let times = sound_times(&history);
    let voltage = numbers(&history["channels"]["voltage_v"]["mean"]);
    let shown = times.iter().zip(voltage).filter(|(_, value)| value.is_some());
    assert!(shown.map(|(at, _)| *at).all(|at| at >= MAY + HOUR));
    assert_eq!(boat.json(&sums).await["unreadable"].as_array().expect("a list").len(), 1);
    // Charts of days and more do not need it.
    let far = format!("/api/v1/banks/house/history?from_ms={}&to_ms={}&points=10", MAY - 240 * HOUR, MAY + 240 * HOUR);
    assert_eq!(boat.json(&far).await["unreadable"], serde_json::json!([]));
}
