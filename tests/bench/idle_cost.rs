//! What the demo daemon costs when idle at 1 Hz: `cargo build --release && cargo run --release --example idle_cost`.
//!
//! Starts `target/release/taffrail demo`, lets it settle, and prints resident memory, share of one core and size of the
//! program, as the kernel counts them (`/proc`). The simulated boat runs in the same process and is part of the figures.

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::time::Duration;

/// Settling time before the measurement, and its length, s.
const SETTLE_S: u64 = 10;
const MEASURE_S: u64 = 60;
/// Kernel ticks per second; 100 on every Linux architecture that taffrail is built for (`getconf CLK_TCK`).
const TICKS_PER_S: f64 = 100.0;

#[expect(clippy::print_stdout, reason = "a bench program prints its table")]
#[expect(clippy::cast_precision_loss, reason = "bytes and ticks are far below 2^53")]
fn main() {
    let binary = concat!(env!("CARGO_MANIFEST_DIR"), "/target/release/taffrail");
    let folder = std::env::temp_dir().join(format!("taffrail-idle-{}", std::process::id()));
    let mut daemon = Command::new(binary)
        .args(["demo", "--listen", "127.0.0.1:0", "--data-dir"])
        .arg(&folder)
        .stderr(Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| panic!("{binary}: {error}; build it first with cargo build --release"));
    let log = BufReader::new(daemon.stderr.take().expect("piped"));
    let mut lines = log.lines().map_while(Result::ok);
    lines.find(|line| line.starts_with("The demo boat is at")).expect("the demo starts");
    // The rest of the log is read so that the pipe never fills.
    std::thread::spawn(move || lines.for_each(drop));
    std::thread::sleep(Duration::from_secs(SETTLE_S));
    let before = ticks(daemon.id());
    std::thread::sleep(Duration::from_secs(MEASURE_S));
    let share = (ticks(daemon.id()) - before) / TICKS_PER_S / MEASURE_S as f64;
    let memory_kib = status_kib(daemon.id(), "VmRSS:");
    let size = std::fs::metadata(binary).map_or(0, |file| file.len());
    println!("demo daemon, two banks at 1 Hz, simulated boat included, {MEASURE_S} s");
    println!("resident memory   {:8.1} MiB", memory_kib / 1024.0);
    println!("of one core       {:8.2} %", 100.0 * share);
    println!("program           {:8.1} MiB", size as f64 / 1024.0 / 1024.0);
    let _ = Command::new("kill").args(["-INT", &daemon.id().to_string()]).status();
    let _ = daemon.wait();
    let _ = std::fs::remove_dir_all(&folder);
}

/// User and system time of a process, ticks: fields 14 and 15 of `/proc/PID/stat` (proc(5)).
fn ticks(pid: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).expect("the daemon runs");
    let after_name = stat.rsplit_once(')').expect("a name in brackets").1;
    after_name.split_whitespace().skip(11).take(2).map(|field| field.parse::<f64>().expect("a count")).sum()
}

fn status_kib(pid: u32, key: &str) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).expect("the daemon runs");
    let line = status.lines().find(|line| line.starts_with(key)).expect("the kernel tells it");
    line.split_whitespace().nth(1).and_then(|n| n.parse().ok()).expect("a number of kB")
}
