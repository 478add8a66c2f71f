//! How soon the daemon is back after a power cut, with years stored.

use std::path::Path;
use std::time::Duration;

use rustix::fs::{Advice, fadvise};
use taffrail::clock::Clock;

use super::boat::{Daemon, Device, Result};
use super::table::{self, Goal};
use super::{feed, process};

/// The daemon runs so long at first, s, so that a state is saved and samples follow it; then so long between two cuts.
const FIRST_S: u32 = 75;
const BETWEEN_S: u32 = 12;
/// Cuts after which the kernel still has the file in memory, and cuts after which it has not.
const CUTS: [(&str, bool, usize); 2] = [("file in memory", false, 3), ("file not in memory", true, 3)];
/// How often a page asks, and a frame comes while the daemon starts.
const ASK_EACH: Duration = Duration::from_millis(5);

/// Times from the start of the program, s.
#[derive(Debug, Clone, Copy, Default)]
struct Back {
    answer_s: f64,
    live_s: f64,
    cpu_s: f64,
}

/// Runs the daemon on the store in `data`, kills it and starts it again, and prints the slowest of each.
pub fn measure(folder: &Path, data: &Path, clock: &Clock) -> Result<()> {
    let devices = [Device::new("shunt", &["voltage_v", "current_a", "temperature_c"])];
    let daemon = Daemon::start(folder, data, &devices)?;
    feed(&devices, clock, 1, FIRST_S);
    drop(daemon);
    table::head("start after a power cut, the slowest of three");
    for (name, forget, cuts) in CUTS {
        let mut slowest = Back::default();
        for _ in 0..cuts {
            if forget {
                let store = std::fs::File::open(data.join("taffrail.sqlite"))?;
                fadvise(&store, 0, None, Advice::DontNeed)?;
            }
            let back = back(folder, data, &devices, clock)?;
            slowest.answer_s = slowest.answer_s.max(back.answer_s);
            slowest.live_s = slowest.live_s.max(back.live_s);
            slowest.cpu_s = slowest.cpu_s.max(back.cpu_s);
        }
        table::row(&format!("first live values, {name}"), slowest.live_s, "s", Goal::new(1.0, 0.3));
        table::told("  first answer of the page", slowest.answer_s, "s");
        table::told("  processor time until the live values", slowest.cpu_s, "s");
    }
    Ok(())
}

fn back(folder: &Path, data: &Path, devices: &[Device], clock: &Clock) -> Result<Back> {
    let begun = clock.mono();
    let daemon = Daemon::start(folder, data, devices)?;
    let mut back = Back::default();
    let mut number = 0;
    loop {
        devices.iter().for_each(|device| device.send(number));
        number += 1;
        let now = daemon.ask("/api/v1/banks/house/now");
        let passed_s = clock.mono().seconds_since(begun);
        if now.is_some() && back.answer_s <= 0.0 {
            back.answer_s = passed_s;
        }
        if now.is_some_and(|now| now["voltage_v"].is_number()) {
            back.live_s = passed_s;
            back.cpu_s = process::cpu_s(daemon.pid());
            break;
        }
        if passed_s > 60.0 {
            return Err("no live values within a minute".into());
        }
        std::thread::sleep(ASK_EACH);
    }
    feed(devices, clock, 1, BETWEEN_S);
    // Dropped, it is killed.
    drop(daemon);
    Ok(back)
}
