//! What the demo daemon costs when idle at 1 Hz: `cargo build --release && cargo run --release --example idle_cost`.
//!
//! Starts `target/release/taffrail demo`, lets it settle, and prints resident memory, share of one core and size of the
//! program, as the kernel counts them (`/proc`). The simulated boat runs in the same process and is part of the figures.

#[path = "process.rs"]
mod process;

use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::time::Duration;

/// Settling time before the measurement, and its length, s.
const SETTLE_S: u64 = 10;
const MEASURE_S: u64 = 60;

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
    let before = process::cpu_s(daemon.id());
    std::thread::sleep(Duration::from_secs(MEASURE_S));
    let share = (process::cpu_s(daemon.id()) - before) / MEASURE_S as f64;
    let memory_mb = process::status_mb(daemon.id(), "VmRSS:");
    let size = std::fs::metadata(binary).map_or(0, |file| file.len());
    println!("demo daemon, two banks at 1 Hz, simulated boat included, {MEASURE_S} s");
    println!("resident memory   {memory_mb:8.1} MB");
    println!("of one core       {:8.2} %", 100.0 * share);
    println!("program           {:8.1} MiB", size as f64 / 1024.0 / 1024.0);
    let _ = Command::new("kill").args(["-INT", &daemon.id().to_string()]).status();
    let _ = daemon.wait();
    let _ = std::fs::remove_dir_all(&folder);
}
