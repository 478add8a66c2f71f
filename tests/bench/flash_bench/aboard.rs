//! What the daemon hands to its store in a day at 1 Hz, handed to the real thread of the store by the real clock.

use std::path::Path;
use std::time::Duration;

use taffrail::clock::Clock;
use taffrail::quantity::{Channel, Moment, Sample};
use taffrail::store::{
    BootKind, Checkpoint, Options, Pace, SeriesId, SeriesKind, SeriesSpec, StoreStatus, Writer, WriterHandle, spawn,
};

type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

const BANK: &str = "house";
/// The saved state of a bank is about so long.
const STATE_BYTES: usize = 15_000;

/// Stores samples of three channels each second, the reckoned track and the saved state each minute, for so many
/// seconds. Gives how the store fared at the end.
pub fn keep(folder: &Path, seconds: u32) -> Result<StoreStatus> {
    let clock = Clock::system();
    let mut writer = Writer::open(&folder.join("taffrail.sqlite"), Options::default())?;
    let boot = writer.begin_boot(&clock.boot_id(), BootKind::Live)?;
    let wall = clock.wall();
    writer.clock_fix(boot, wall, "first")?;
    let device = writer.series(&spec("shunt", SeriesKind::Device, &["voltage_v", "current_a", "temperature_c"]))?;
    let track = ["soc", "soc_low", "soc_high", "capacity_ah"];
    let track = writer.series(&spec("house-reckoning", SeriesKind::Reckoning, &track))?;
    let (store, thread) = spawn(writer, clock.clone(), Pace::LIVE)?;
    let begun = clock.mono();
    let mut noise = Noise(7);
    for second in 0..i64::from(seconds) {
        let at = Moment { boot, mono: clock.mono() };
        let values = [52_000 + noise.step(), -800 + noise.step(), 200 + noise.step()];
        let scaled = values.iter().zip([1000.0, 100.0, 10.0]).map(|(steps, scale)| Some(*steps as f64 / scale));
        store.append(device, Sample { at, values: scaled.collect() })?;
        if second % 60 == 0 {
            each_minute(&store, track, at, second)?;
        }
        let next_ms = begun + (second + 1) * 1000 - clock.mono();
        std::thread::sleep(Duration::from_millis(u64::try_from(next_ms).unwrap_or(0)));
    }
    let status = store.status();
    store.close()?;
    thread.join().map_err(|_| "the store's thread broke off")??;
    Ok(status)
}

fn each_minute(store: &WriterHandle, track: SeriesId, at: Moment, second: i64) -> Result<()> {
    let soc = 0.8 - second as f64 * 1e-5;
    store.append(track, Sample { at, values: [soc, soc - 0.02, soc + 0.02, 118.0].map(Some).to_vec() })?;
    // No two states are alike: digits of the second all through it.
    let mut state = String::with_capacity(STATE_BYTES + 32);
    let mut noise = Noise(second.unsigned_abs() + 1);
    while state.len() < STATE_BYTES {
        noise.step();
        state.push_str(&format!("{:.17},", noise.0 as f64 / u64::MAX as f64));
    }
    Ok(store.checkpoint(Checkpoint { bank: BANK.to_owned(), at, version: 1, state })?)
}

fn spec(name: &str, kind: SeriesKind, channels: &[&str]) -> SeriesSpec {
    let channels = channels.iter().filter_map(|name| Channel::try_new(name).ok()).collect();
    let gap_ms = if kind == SeriesKind::Device { 10_000 } else { 180_000 };
    SeriesSpec { name: name.to_owned(), kind, bank: BANK.to_owned(), channels, gap_ms }
}

/// Whole steps around zero, by Knuth's multiplier (MMIX).
struct Noise(u64);

impl Noise {
    fn step(&mut self) -> i64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        i64::from((self.0 >> 62) as u32) - 1
    }
}
