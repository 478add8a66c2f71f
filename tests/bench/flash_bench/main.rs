//! Prints how much reaches a card in a day at 1 Hz: `cargo run --release --example flash_bench [-- --minutes 10]`.
//!
//! Sectors that reach a loop device with ext4 on it are counted by the kernel, over whole periods of the store's
//! commits, after the first of them; so the file system's own journal is in the figure. Needs the rights to mount;
//! without them it says so and ends.

#[path = "../table.rs"]
mod table;

mod aboard;
mod disk;

use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use clap::Parser;
use disk::Disk;
use table::Goal;

/// Prints the bytes that reach a card in a day at 1 Hz, beside the goals.
#[derive(Debug, Parser)]
struct Arguments {
    /// How long to count, in minutes; whole periods of five minutes are best.
    #[arg(long, default_value_t = 10)]
    minutes: u32,
    /// How long to let the store settle first, in minutes.
    #[arg(long, default_value_t = 6)]
    settle: u32,
    /// Folder for the images; a passing one if not given.
    #[arg(long)]
    directory: Option<PathBuf>,
    /// Store in this folder and count nothing: what this program starts on each mount.
    #[arg(long, hide = true)]
    keep_in: Option<PathBuf>,
}

/// Mounts, with the goals of megabytes a day on each.
const MOUNTS: [(&str, &str, Goal); 2] =
    [("default", "defaults", Goal::new(250.0, 100.0)), ("commit60", "noatime,commit=60", Goal::new(250.0, 50.0))];

type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

fn main() -> Result<()> {
    let arguments = Arguments::parse();
    if let Some(folder) = &arguments.keep_in {
        let status = aboard::keep(folder, (arguments.settle + arguments.minutes) * 60 + 5)?;
        table::say(status.longest_wait.as_millis());
        return status.trouble.map_or(Ok(()), |trouble| Err(trouble.into()));
    }
    let scratch = tempfile::tempdir()?;
    let folder = arguments.directory.clone().unwrap_or_else(|| scratch.path().to_owned());
    std::fs::create_dir_all(&folder)?;
    let mut disks = Vec::new();
    for (name, options, _) in MOUNTS {
        match Disk::mount(&folder, name, options) {
            Ok(disk) => disks.push(disk),
            Err(cause) => {
                table::say(format_args!("skipped: no loop device with ext4 to be had: {cause}"));
                return Ok(());
            }
        }
    }
    let written = count(&arguments, &disks)?;
    table::head(format_args!("flash written at 1 Hz, counted over {} min on ext4", arguments.minutes));
    for ((_, options, goal), (megabytes_a_day, wait_s)) in MOUNTS.into_iter().zip(written) {
        table::row(&format!("mounted with {options}"), megabytes_a_day, "MB a day", goal);
        table::told("  longest that a sample was at risk (at most 10)", wait_s, "s");
    }
    Ok(())
}

/// Megabytes a day on each disk, and the longest that a sample waited there, s.
fn count(arguments: &Arguments, disks: &[Disk]) -> Result<Vec<(f64, f64)>> {
    let keepers: Vec<Child> = disks.iter().map(|disk| keeper(arguments, disk)).collect::<Result<_>>()?;
    let minutes = |minutes: u32| Duration::from_secs(u64::from(minutes) * 60);
    std::thread::sleep(minutes(arguments.settle));
    let before: Vec<f64> = disks.iter().map(Disk::written).collect::<std::result::Result<_, _>>()?;
    std::thread::sleep(minutes(arguments.minutes));
    let after: Vec<f64> = disks.iter().map(Disk::written).collect::<std::result::Result<_, _>>()?;
    let in_window = before.iter().zip(after).map(|(before, after)| after - before);
    let a_day = 1440.0 / f64::from(arguments.minutes) / 1e6;
    let mut figures = Vec::new();
    for (bytes, keeper) in in_window.zip(keepers) {
        let done = keeper.wait_with_output()?;
        if !done.status.success() {
            return Err("the store ended in trouble; see above".into());
        }
        let wait_ms: f64 = String::from_utf8(done.stdout)?.trim().parse()?;
        figures.push((bytes * a_day, wait_ms / 1000.0));
    }
    Ok(figures)
}

fn keeper(arguments: &Arguments, disk: &Disk) -> Result<Child> {
    let (minutes, settle) = (arguments.minutes.to_string(), arguments.settle.to_string());
    let child = Command::new(std::env::current_exe()?)
        .args(["--minutes", &minutes, "--settle", &settle, "--keep-in"])
        .arg(&disk.folder)
        .stdout(Stdio::piped())
        .spawn()?;
    Ok(child)
}
