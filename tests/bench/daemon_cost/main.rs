//! Prints what the daemon costs, and how soon it is back after a power cut: build the release first, then
//! `cargo run --release --example daemon_cost [-- --store DIR]`.
//!
//! The daemon is a process of its own, fed through pseudo-terminals; memory and processor time are the kernel's counts of
//! it alone. DIR is a folder whose `taffrail.sqlite` has the years that `store_bench` makes; the daemon writes to it.

#[path = "../process.rs"]
mod process;
#[path = "../table.rs"]
mod table;
#[path = "../../terminal.rs"]
mod terminal;

mod boat;
mod restart;

use std::path::{Path, PathBuf};
use std::time::Duration;

use boat::{Daemon, Device, Result};
use clap::{Parser, ValueEnum};
use rusqlite::Connection;
use table::Goal;
use taffrail::clock::Clock;

/// Prints memory and processor time of the daemon, and how soon it is back, beside their goals.
#[derive(Debug, Parser)]
struct Arguments {
    /// How long to measure each load, in minutes.
    #[arg(long, default_value_t = 5)]
    minutes: u32,
    /// Folder of a store of many years; without it the start is not measured.
    #[arg(long)]
    store: Option<PathBuf>,
    /// Only this part; may be repeated.
    #[arg(long)]
    only: Vec<Part>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Part {
    /// One bank at 1 Hz, five pages open.
    Idle,
    /// Twenty channels at 10 Hz.
    Many,
    /// A start after a power cut.
    Start,
}

/// Let a daemon settle for so long before it is measured, s.
const SETTLE_S: u32 = 20;

/// Pages that follow the live values.
const PAGES: usize = 5;

fn main() -> Result<()> {
    let arguments = Arguments::parse();
    let wanted = |part| arguments.only.is_empty() || arguments.only.contains(&part);
    let scratch = tempfile::tempdir()?;
    let clock = Clock::system();
    if wanted(Part::Idle) {
        idle(&scratch.path().join("idle"), &clock, arguments.minutes)?;
    }
    if wanted(Part::Many) {
        many(&scratch.path().join("many"), &clock, arguments.minutes)?;
    }
    match arguments.store.as_deref().filter(|_| wanted(Part::Start)) {
        Some(store) => restart::measure(scratch.path(), store, &clock)?,
        None => table::say("\nskipped: a start after a power cut, for want of --store"),
    }
    Ok(())
}

fn idle(folder: &Path, clock: &Clock, minutes: u32) -> Result<()> {
    std::fs::create_dir_all(folder)?;
    let devices = [Device::new("shunt", &["voltage_v", "current_a", "temperature_c"])];
    let daemon = Daemon::start(folder, &folder.join("data"), &devices)?;
    feed(&devices, clock, 1, SETTLE_S);
    for _ in 0..PAGES {
        daemon.follow()?;
    }
    let (cpu, _) = measured(&daemon, &devices, clock, 1, minutes);
    table::head(format_args!("daemon, 1 Hz, one bank, five page clients, {minutes} min"));
    table::row("resident memory", process::status_mb(daemon.pid(), "VmRSS:"), "MB", Goal::new(20.0, 8.0));
    table::told("  of it, not from files", process::status_mb(daemon.pid(), "RssAnon:"), "MB");
    table::row("of one core", cpu, "%", Goal::new(0.2, 0.03));
    daemon.stop()
}

fn many(folder: &Path, clock: &Clock, minutes: u32) -> Result<()> {
    std::fs::create_dir_all(folder)?;
    let devices = [
        Device::new("shunt", &["voltage_v", "current_a", "temperature_c", "solar_a", "shore_a"]),
        Device::new("panel", &["bow_a", "stern_a", "galley_a", "lights_a", "pumps_a"]),
        Device::new("strings", &["first_v", "second_v", "third_v", "fourth_v", "fifth_v"]),
        Device::new("cases", &["first_c", "second_c", "third_c", "fourth_c", "fifth_c"]),
    ];
    let daemon = Daemon::start(folder, &folder.join("data"), &devices)?;
    let before = feed(&devices, clock, 10, SETTLE_S);
    let (cpu, sent) = measured(&daemon, &devices, clock, 10, minutes);
    // What is on the wire arrives.
    std::thread::sleep(Duration::from_secs(2));
    let health = daemon.ask("/api/v1/health").ok_or("the daemon answers")?;
    daemon.stop()?;
    let sent = (before + sent) * devices.len();
    let stored = stored(&folder.join("data/taffrail.sqlite"))?;
    table::head(format_args!("20 channels of four devices at 10 Hz, {minutes} min"));
    table::row("of one core", cpu, "%", Goal::new(5.0, 2.0));
    table::told("frames sent", sent as f64, "");
    table::told("frames sent and not stored", sent as f64 - stored, "must be 0");
    table::say(format_args!("store, as the daemon tells it: {}", health["store"]));
    Ok(())
}

/// Share of one core that the daemon takes, %, while frames are sent; and how many were sent to each device.
fn measured(daemon: &Daemon, devices: &[Device], clock: &Clock, rate: u32, minutes: u32) -> (f64, usize) {
    let (begun, before) = (clock.mono(), process::cpu_s(daemon.pid()));
    let sent = feed(devices, clock, rate, minutes * 60);
    let used = process::cpu_s(daemon.pid()) - before;
    (100.0 * used / clock.mono().seconds_since(begun), sent)
}

/// Sends `rate` frames a second for some seconds; gives how many to each device.
fn feed(devices: &[Device], clock: &Clock, rate: u32, seconds: u32) -> usize {
    let begun = clock.mono();
    for number in 0..rate * seconds {
        devices.iter().for_each(|device| device.send(number));
        let next_ms = begun + i64::from(number + 1) * 1000 / i64::from(rate) - clock.mono();
        std::thread::sleep(Duration::from_millis(u64::try_from(next_ms).unwrap_or(0)));
    }
    (rate * seconds) as usize
}

/// Samples of all devices in a closed store.
fn stored(store: &Path) -> Result<f64> {
    let sql = "SELECT 1.0 * (SELECT total(count) FROM chunk JOIN series ON series.id = series WHERE kind = 'device')
        + (SELECT total(count) FROM tail JOIN series ON series.id = series WHERE kind = 'device')";
    Ok(Connection::open(store)?.query_row(sql, [], |row| row.get(0))?)
}
