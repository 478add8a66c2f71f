//! `taffrail rereckon`: the stored samples again, and new results in the place of the old.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

use sim::boat::Boat;
use taffrail::daemon::DataDir;
use taffrail::quantity::UtcMs;
use taffrail::store::{Anchor, Checkpoint, FixRecord, Reader, SeriesKind, StoredSample};

use super::*;

/// Rows are this far apart, s.
const STEP_S: u32 = 60;

/// What the simulated boat's first shunt says.
fn sim_trace(rows: u32) -> String {
    let mut boat = Boat::new(1, 1_780_272_000);
    let mut values = Vec::new();
    let lines = (1..=rows).map(|row| {
        boat.advance(f64::from(STEP_S));
        boat.read(0, &mut values);
        format!("{},{:.3},{:.2},{:.1}\n", row * STEP_S, values[0], values[1], values[2])
    });
    std::iter::once("t_s,voltage_v,current_a,temperature_c\n".to_owned()).chain(lines).collect()
}

fn import(desk: &Desk, trace: &str, charge: &str) {
    let start = ["--start", "2026-05-01T00:00:00Z", "--charge", charge, trace];
    let mut arguments = vec!["import", "--config", "taffrail.toml", "--bank", "house"];
    arguments.extend(start);
    let output = desk.run(&arguments);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
}

fn again(desk: &Desk, more: &[&str]) -> Output {
    let mut arguments = vec!["rereckon", "--config", "taffrail.toml"];
    arguments.extend(more);
    desk.run(&arguments)
}

/// Everything that was reckoned: points of each series, fixes and anchors.
type Results = (Vec<(String, Vec<StoredSample>)>, Vec<FixRecord>, Vec<Anchor>, Option<Checkpoint>);

fn results(desk: &Desk) -> Results {
    let path = desk.path("data/taffrail.sqlite");
    let reader = Reader::open(&path).expect("a store");
    let (from, to) = (UtcMs(i64::MIN), UtcMs(i64::MAX));
    let all = reader.all_series().expect("known series");
    let mut points: Vec<_> = all
        .iter()
        .filter(|series| series.kind == SeriesKind::Reckoning.as_str() && series.bank == "house")
        .map(|series| {
            let samples = reader.samples(series.id, from, to).expect("known series");
            (series.name.clone(), samples.collect::<Result<Vec<_>, _>>().expect("sound chunks"))
        })
        .collect();
    points.sort_by(|a, b| a.0.cmp(&b.0));
    let fixes = reader.fixes("house", from, to, 1000).expect("reads").into_iter().map(|stored| stored.fix).collect();
    let anchors = reader.anchors("house").expect("reads").into_iter().map(|stored| stored.anchor).collect();
    let writer = taffrail::store::Writer::open(&path, taffrail::store::Options::default()).expect("opens");
    (points, fixes, anchors, writer.load_checkpoint("house").expect("reads"))
}

#[test]
fn the_same_program_finds_the_same_in_an_imported_trace_again() {
    let desk = Desk::new();
    desk.write("trace.csv", &sim_trace(6 * 1440));
    import(&desk, "trace.csv", "0.90");
    let before = results(&desk);
    assert!(!before.1.is_empty() && before.0.iter().all(|(_, points)| !points.is_empty()), "there is a fix");
    let output = again(&desk, &["--start", "0.90"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(results(&desk) == before, "bit for bit");
    let told = text(&output.stdout);
    assert_eq!(told.lines().count(), 1, "{told}");
    assert!(told.starts_with(&format!("house: {} samples reckoned again; fixes ", 6 * 1440)), "{told}");
    let progress = text(&output.stderr);
    assert!(progress.lines().count() >= 9 && progress.lines().all(|l| l.starts_with("house: ")), "{progress}");
    assert!(progress.ends_with("house: 100 %, 0 s left\n"), "{progress}");
}

#[test]
fn a_corrected_description_changes_what_the_closing_line_says() {
    let desk = Desk::new();
    desk.write("trace.csv", STEADY_LOAD);
    import(&desk, "trace.csv", "full");
    desk.write("taffrail.toml", &BANK.replace("rated-capacity-ah = 120.0", "rated-capacity-ah = 60.0"));
    let output = again(&desk, &["--bank", "house", "--start", "full"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let told = text(&output.stdout);
    assert!(told.contains("charge 95.") && told.contains("before, 90.") && told.contains("120.0 Ah before"), "{told}");
    assert!(told.contains(" 60."), "{told}");
}

#[test]
fn it_is_refused_while_another_taffrail_works_on_the_folder() {
    let desk = Desk::new();
    desk.write("trace.csv", STEADY_LOAD);
    import(&desk, "trace.csv", "full");
    let claimed = DataDir::claim(&desk.path("data")).expect("free");
    let output = again(&desk, &[]);
    assert_eq!(output.status.code(), Some(70));
    assert!(text(&output.stderr).contains("stop it first"), "{}", text(&output.stderr));
    drop(claimed);
    assert_eq!(again(&desk, &[]).status.code(), Some(0));
}

#[test]
fn wrong_input_ends_with_2_and_one_line_that_says_what_is_wrong() {
    let desk = Desk::new();
    let wrong = |more: &[&str], told: &str| {
        let output = again(&desk, more);
        assert_eq!(output.status.code(), Some(2), "{more:?}");
        assert!(text(&output.stderr).contains(told), "{more:?}: {}", text(&output.stderr));
    };
    wrong(&[], "there is no store to reckon again");
    assert!(!desk.path("data").exists(), "nothing was made");
    desk.write("trace.csv", STEADY_LOAD);
    import(&desk, "trace.csv", "full");
    wrong(&["--bank", "drive"], "no bank is named \"drive\"");
    wrong(&["--start", "brimful"], "expected full, unknown, or a ratio");
    wrong(&["--from", "yesterday"], "--from");
    wrong(&["--from", "2027-01-01T00:00:00Z"], "no samples are stored to reckon again from 2027-01-01T00:00:00Z on");
    desk.write("taffrail.toml", &BANK.replace("cells-in-series", "cells"));
    wrong(&[], "cells");
}

#[test]
fn a_killed_program_leaves_the_old_results_or_the_new_and_the_next_run_completes_them() {
    let desk = Desk::new();
    desk.write("trace.csv", &sim_trace(4 * 1440));
    import(&desk, "trace.csv", "0.90");
    let old = results(&desk);
    desk.write("taffrail.toml", &BANK.replace("rated-capacity-ah = 120.0", "rated-capacity-ah = 90.0"));
    let mut killed = Vec::new();
    for lines in [1, 5, 9] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_taffrail"))
            .current_dir(desk.dir.path())
            .args(["rereckon", "--config", "taffrail.toml"])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let progress = BufReader::new(child.stderr.take().expect("piped"));
        assert_eq!(progress.lines().take(lines).count(), lines);
        child.kill().expect("ours");
        child.wait().expect("ours");
        killed.push(results(&desk));
    }
    let output = again(&desk, &[]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let new = results(&desk);
    assert!(new != old);
    assert!(killed.iter().all(|left| *left == old || *left == new), "never a mixture");
}
