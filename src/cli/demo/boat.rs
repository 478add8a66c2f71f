//! The simulated boat: built or taken up, and sailed in real time on a thread of its own.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

use sim::boat::Boat;

use super::super::Failure;
use super::past::Span;
use super::say;
use crate::clock::Clock;
use crate::daemon::store_path;
use crate::quantity::UtcMs;

/// The boat is saved this often, in reports of a second each.
const SAVE_EVERY: u32 = 30;
/// The simulated voyage is drawn so that its three weeks end now, s.
const PAST_S: u32 = 21 * 86_400;
/// Step with which the boat is brought through time that nobody watched, s.
const CATCH_UP_STEP_S: f64 = 10.0;

/// The boat of `folder`, brought up to now; or a new one, whose past `store_past` keeps.
pub fn take_up(
    folder: &Path,
    seed: u64,
    clock: &Clock,
    store_past: impl FnOnce(&mut Boat, Span) -> Result<(), Failure>,
) -> Result<Boat, Failure> {
    let path = folder.join(SAVED);
    let now_s = clock.wall().utc.0.div_euclid(1000);
    match std::fs::read_to_string(&path) {
        Ok(text) => {
            let mut boat: Boat = serde_json::from_str(&text).map_err(|error| {
                Failure::input(format!("{}: {error}; remove the folder to begin anew", path.display()))
            })?;
            say("The demo boat sails on from where it was left.");
            catch_up(&mut boat, now_s);
            Ok(boat)
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            // A start that broke off left a part of a past; the boat was not saved, so it begins anew.
            clear_store(folder)?;
            say("Simulating three weeks aboard (this takes some seconds) ...");
            let start_s = now_s - i64::from(PAST_S);
            let mut boat = Boat::new(seed, start_s);
            store_past(&mut boat, Span { from: UtcMs(1000 * start_s), seconds: PAST_S })?;
            catch_up(&mut boat, clock.wall().utc.0.div_euclid(1000));
            save(&boat, &path)?;
            Ok(boat)
        }
        Err(error) => Err(Failure::machine(path.display(), &error)),
    }
}

/// A boat at sea.
pub struct Sailing {
    stop: Arc<AtomicBool>,
    thread: JoinHandle<Result<(), Failure>>,
}

/// Sails on in real time, a report each second, until stopped.
pub fn sail(
    mut boat: Boat,
    folder: &Path,
    clock: Clock,
    mut report: impl FnMut(&mut Boat) -> std::io::Result<()> + Send + 'static,
) -> Result<Sailing, Failure> {
    let stop = Arc::new(AtomicBool::new(false));
    let path = folder.join(SAVED);
    let stopped = Arc::clone(&stop);
    let work = move || {
        let mut reports = 0_u32;
        let start = clock.mono();
        while !stopped.load(Ordering::Relaxed) {
            boat.advance(1.0);
            report(&mut boat).map_err(|error| Failure::machine("cannot write to a pseudo-terminal", &error))?;
            reports = reports.wrapping_add(1);
            if reports.is_multiple_of(SAVE_EVERY) {
                save(&boat, &path)?;
            }
            let next = start + 1000 * i64::from(reports);
            let wait = u64::try_from(next - clock.mono()).unwrap_or(0);
            std::thread::sleep(Duration::from_millis(wait));
        }
        save(&boat, &path)
    };
    let thread = std::thread::Builder::new()
        .name("boat".to_owned())
        .spawn(work)
        .map_err(|error| Failure::machine("cannot start a thread", &error))?;
    Ok(Sailing { stop, thread })
}

impl Sailing {
    /// Stops and saves.
    pub fn stop(self) -> Result<(), Failure> {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.join().unwrap_or_else(|_| Err(Failure::daemon(&"the simulated boat sank")))
    }
}

const SAVED: &str = "boat.json";

fn catch_up(boat: &mut Boat, now_s: i64) {
    #[expect(clippy::cast_precision_loss, reason = "seconds since 1970 are exact in an f64")]
    let now_s = now_s as f64;
    while boat.utc_s() + CATCH_UP_STEP_S < now_s {
        boat.advance(CATCH_UP_STEP_S);
    }
}

/// Written aside and renamed: a pulled plug leaves the old boat or the new one.
fn save(boat: &Boat, path: &PathBuf) -> Result<(), Failure> {
    let fail = |error: std::io::Error| Failure::machine(path.display(), &error);
    let aside = path.with_extension("json.new");
    let text = serde_json::to_vec(boat).map_err(|error| fail(error.into()))?;
    std::fs::write(&aside, text).map_err(fail)?;
    std::fs::rename(&aside, path).map_err(fail)
}

fn clear_store(folder: &Path) -> Result<(), Failure> {
    for suffix in ["", "-wal", "-shm"] {
        let mut path = store_path(folder).into_os_string();
        path.push(suffix);
        let path = PathBuf::from(path);
        match std::fs::remove_file(&path) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                return Err(Failure::machine(path.display(), &error));
            }
            _ => {}
        }
    }
    Ok(())
}
