//! Killed while it writes, a hundred times on the same file.

use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};
use std::time::Duration;

use taffrail::quantity::MonoMs;
use taffrail::store::{BootKind, Checkpoint};

use super::*;

const FILE: &str = "TAFFRAIL_TEST_CRASH_FILE";
const BOOT: &str = "TAFFRAIL_TEST_CRASH_BOOT";
/// Samples in a commit, and their distance: ten commits are an hour, so that hours close all the time.
const BATCH: i64 = 60;
const RHYTHM: i64 = 6000;

fn values(mono: i64) -> [f64; 3] {
    let n = (mono / RHYTHM) as f64;
    [50.0 + n % 97.0 / 1000.0, (n % 41.0 - 20.0) / 100.0, 20.0]
}

/// Runs in a process of its own, which the test below kills: writes for ever, telling after each commit.
#[test]
#[ignore = "the other half of killed_a_hundred_times_the_store_keeps_every_acknowledged_batch, which runs it"]
fn a_process_that_writes_until_it_is_killed() {
    let path = PathBuf::from(std::env::var_os(FILE).expect("run by the other half"));
    let boot_id = std::env::var(BOOT).expect("run by the other half");
    let mut writer = open(&path);
    let before = writer.begin_boot(&boot_id, BootKind::Live).expect("noted");
    let boot = boot_at(&mut writer, &boot_id, START + i64::from(before.0) * 1000 * HOUR);
    let series = writer.series(&shunt(60_000)).expect("fits");
    let last = writer.last_moment(series).expect("reads");
    let mut mono = last.filter(|at| at.boot == boot).map_or(0, |at| at.mono.0);
    loop {
        for _ in 0..BATCH {
            mono += RHYTHM;
            writer.append(series, &sample(boot, mono, &values(mono))).expect("fits");
        }
        let checkpoint = Checkpoint {
            bank: "house".to_owned(),
            at: at(boot, mono),
            version: 1,
            state: format!("{{\"seen_ms\":{mono}}}"),
        };
        writer.checkpoint(checkpoint).expect("known boot");
        writer.commit().expect("room");
        let mut out = std::io::stdout().lock();
        writeln!(out, "committed {} {mono}", boot.0).and_then(|()| out.flush()).expect("the parent listens");
    }
}

/// Starts the writing half, kills it some time after its first commit, and gives the last commit it told of.
fn write_and_kill(path: &Path, boot_id: &str, after: Duration) -> (u32, i64) {
    let mut child = Command::new(std::env::current_exe().expect("this test"))
        .args(["--exact", "store::crash::a_process_that_writes_until_it_is_killed", "--ignored", "--nocapture"])
        .env(FILE, path)
        .env(BOOT, boot_id)
        .stdout(Stdio::piped())
        .stderr(Stdio::inherit())
        .spawn()
        .expect("starts");
    let out = child.stdout.take().expect("piped");
    let (first, told) = std::sync::mpsc::channel();
    let listening = std::thread::spawn(move || {
        let mut last = None;
        for line in BufReader::new(out).lines().map_while(Result::ok) {
            // The harness may print its own words before the first one on the same line.
            if let Some((_, commit)) = line.split_once("committed ") {
                let (boot, mono) = commit.split_once(' ').expect("two numbers");
                last = Some((boot.parse().expect("a boot"), mono.parse().expect("a time")));
                let _ = first.send(());
            }
        }
        last
    });
    told.recv().expect("it commits before it ends");
    std::thread::sleep(after);
    child.kill().expect("it runs");
    child.wait().expect("it ends");
    listening.join().expect("it listens").expect("at least one commit")
}

/// Every sample of every boot is there once, in whole batches; gives the last moment.
fn check_all(path: &Path, series: SeriesId) -> Moment {
    let mut expected = at(BootNo(0), 0);
    for stored in all_samples(path, series) {
        let now = stored.sample.at;
        if now.boot != expected.boot {
            assert_eq!(expected.mono.0 % (BATCH * RHYTHM), 0, "whole batches");
            expected = at(now.boot, 0);
        }
        expected.mono = MonoMs(expected.mono.0 + RHYTHM);
        assert_eq!(now, expected, "once and in order");
        assert_eq!(stored.sample.values, values(now.mono.0).map(Some).to_vec());
    }
    expected
}

#[test]
fn killed_a_hundred_times_the_store_keeps_every_acknowledged_batch() {
    let scratch = scratch();
    let mut acknowledged = Vec::new();
    for round in 0..100_u64 {
        let boot_id = format!("boot-{}", round / 10);
        let after = Duration::from_millis(round * 37 % 61);
        let told = write_and_kill(&scratch.path, &boot_id, after);
        acknowledged.push(told);

        // A kill leaves the log behind: the next to open takes it up.
        let file = rusqlite::Connection::open(&scratch.path).expect("opens");
        let sound: String = file.query_row("PRAGMA integrity_check", [], |row| row.get(0)).expect("checks");
        assert_eq!(sound, "ok", "round {round}");
        drop(file);
        let writer = open(&scratch.path);
        let series = SeriesId(1);
        let last = writer.last_moment(series).expect("reads").expect("some");
        assert_eq!(last.mono.0 % (BATCH * RHYTHM), 0, "whole batches");
        assert!((last.boot.0, last.mono.0) >= told, "round {round}: {told:?} was acknowledged, {last:?} is there");
        let checkpoint = writer.load_checkpoint("house").expect("reads").expect("some");
        assert_eq!(checkpoint.at, last, "round {round}: the checkpoint belongs to the last sample");
        assert_eq!(checkpoint.state, format!("{{\"seen_ms\":{}}}", last.mono.0));
        drop(writer);
        if round % 10 == 9 {
            assert_eq!(check_all(&scratch.path, series), last);
        }
    }
    let stored = all_samples(&scratch.path, SeriesId(1)).len();
    println!(
        "{} kills, {stored} samples in {} chunks and {} rows of the tail, {} boots",
        acknowledged.len(),
        count(&scratch.path, "chunk"),
        count(&scratch.path, "tail"),
        count(&scratch.path, "boot"),
    );
    assert_eq!(count(&scratch.path, "boot"), 10);
    let of_earlier_boots = "(SELECT 1 FROM tail WHERE boot < 10)";
    assert_eq!(count(&scratch.path, of_earlier_boots), 0, "a new boot folds the tail of the one before");
}
