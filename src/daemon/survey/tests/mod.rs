//! A boat's days, looked at in one go and in many.

mod again;
mod damaged;
mod minutes;
mod order;
mod trials;

use std::ops::Range;
use std::path::PathBuf;

use rusqlite::types::Value;

use super::*;
use crate::clock::{Trust, WallReading};
use crate::daemon::{BankLine, catch_up, device_series, reconciled_spec, store_path, track_spec};
use crate::daemon::{Reconciling, Sink};
use crate::quantity::{BootNo, Moment, MonoMs, Sample, UtcMs};
use crate::reckoning::{Method, Reckoner, Start};
use crate::store::{BootKind, Options, Writer};

const CONFIG: &str = r#"
[[bank]]
name = "drive"
chemistry = "lead-carbon"
method = "counter"
cells-in-series = 24
rated-capacity-ah = 120.0
[[device]]
name = "shunt"
bank = "drive"
port = "/dev/serial/by-id/shunt"
baud = 19200
frame = "delimited"
columns = ["voltage_v", "current_a", "temperature_c"]
[[device]]
name = "branches"
bank = "drive"
port = "/dev/serial/by-id/branches"
baud = 19200
frame = "delimited"
columns = ["motor_a", "monobloc_1_v", "monobloc_2_v", "speed_over_ground_kn"]
[[branch]]
name = "motor"
bank = "drive"
role = "load"
purpose = "drive"
device = "branches"
channel = "motor_a"
"#;

/// 2026-05-01T00:00:00Z.
const MAY: i64 = 1_777_593_600_000;
const SECOND: i64 = 1000;
const HOUR: i64 = 3600;
const DAY: i64 = 24 * HOUR;
/// Seconds between samples.
const RHYTHM: i64 = 10;

/// Voltage, current and what the motor takes at a second of the voyage: a morning and an afternoon under motor, a lunch at
/// anchor, an evening and a night on the charger.
fn seen_at(second: i64) -> (f64, f64, f64) {
    // Nothing is as even as a table.
    let ripple = f64::from(u8::try_from(second.rem_euclid(97)).unwrap_or(0)) / 100.0;
    let morning = f64::from(i32::try_from(second.rem_euclid(DAY) - 8 * HOUR).unwrap_or(0)) / 3600.0;
    match second.rem_euclid(DAY) / 1800 {
        16..24 => (50.0 - 0.3 * morning - ripple, -12.0 - ripple, -11.0 - ripple),
        28..32 => (49.5 - ripple, -10.0 - ripple, -9.0),
        34..46 => (55.5 + ripple, 12.0 - ripple, 0.0),
        46..48 | 0..2 => (57.4, 0.9, 0.0),
        _ => (51.8, -0.3, 0.0),
    }
}

/// A boat with a store.
struct Boat {
    dir: tempfile::TempDir,
    config: Config,
}

/// What a boat lives through at one go.
struct Leg {
    boot: &'static str,
    kind: BootKind,
    /// Second of the voyage at which the boot's monotonic clock was 0.
    began: i64,
    seconds: Range<i64>,
}

const fn leg(boot: &'static str, began: i64, seconds: Range<i64>) -> Leg {
    Leg { boot, kind: BootKind::Live, began, seconds }
}

/// Every row of the record without its number, in the order of its columns.
type Rows = Vec<Vec<String>>;

impl Boat {
    fn new() -> Boat {
        let dir = tempfile::tempdir().expect("a scratch directory");
        let config = Config::parse(CONFIG, dir.path()).expect("no mistakes");
        Boat { dir, config }
    }

    /// A boat that has lived through some legs.
    fn after(legs: &[Leg]) -> Boat {
        let boat = Boat::new();
        legs.iter().for_each(|leg| boat.live(leg));
        boat
    }

    fn path(&self) -> PathBuf {
        store_path(self.dir.path())
    }

    fn open(&self) -> Writer {
        Writer::open(&self.path(), Options::default()).expect("opens")
    }

    fn reader(&self) -> Reader {
        Reader::open(&self.path()).expect("opens")
    }

    fn work(&self) -> Surveying {
        Surveying::of(&self.config, &self.config.banks[0], "shunt".to_owned())
    }

    /// Lives through a leg; each begins with a known charge, and what is reconciled is so at its end.
    fn live(&self, leg: &Leg) {
        let mut writer = self.open();
        let boot = writer.begin_boot(leg.boot, leg.kind).expect("noted");
        let utc = UtcMs(MAY + leg.began * SECOND);
        writer
            .clock_fix(boot, WallReading { mono: MonoMs(0), utc, trust: Trust::Synchronised }, "start")
            .expect("known");
        let series: Vec<_> =
            self.config.devices.iter().map(|device| writer.series(&device_series(device)).expect("fits")).collect();
        let track = writer.series(&track_spec("drive")).expect("fits");
        let reconciled = writer.series(&reconciled_spec("drive")).expect("fits");
        let reckoner = Reckoner::begin(Method::Counter, self.config.banks[0].clone(), Start::At(0.9));
        let channels = &self.config.devices[0].spec.channels;
        let mut line = BankLine::new(reckoner, channels, series[0], track).expect("a main device");
        for second in leg.seconds.clone().step_by(usize::try_from(RHYTHM).expect("small")) {
            let (voltage_v, current_a, motor_a) = seen_at(second);
            let at = Moment { boot, mono: MonoMs((second - leg.began) * SECOND) };
            let values = [voltage_v, current_a, 20.0].map(Some).to_vec();
            line.take(&Sample { at, values }, UtcMs(MAY + second * SECOND), &mut writer).expect("stored");
            let speed_kn = if motor_a < 0.0 { 4.0 } else { 0.0 };
            let values = [motor_a, voltage_v / 4.0 + 0.1, voltage_v / 4.0, speed_kn].map(Some).to_vec();
            Sink::sample(&mut writer, series[1], &Sample { at, values }).expect("stored");
        }
        line.save(&mut writer).expect("stored");
        writer.commit().expect("room");
        let work = Reconciling { bank: self.config.banks[0].clone(), main: series[0], reconciled };
        catch_up(&self.path(), &work, &mut writer, &CancellationToken::new()).expect("reads and writes");
        writer.close().expect("room");
    }

    fn survey(&self) -> Surveyed {
        let mut writer = self.open();
        let done = survey(&self.path(), &self.work(), &mut writer, &CancellationToken::new(), &mut |_| {});
        writer.close().expect("room");
        done.expect("reads and writes")
    }

    fn edit(&self, edit: &crate::store::PassageEdit) -> Result<i64> {
        self.open().edit_passage(edit)
    }

    fn rows(&self, sql: &str) -> Rows {
        let file = rusqlite::Connection::open(self.path()).expect("opens");
        let mut select = file.prepare(sql).expect("a query");
        let columns = select.column_count();
        let text = |value: Value| format!("{value:?}");
        let rows = select
            .query_map([], |row| (0..columns).map(|place| row.get(place).map(text)).collect::<rusqlite::Result<_>>())
            .expect("rows");
        rows.collect::<rusqlite::Result<_>>().expect("rows")
    }

    fn passages(&self) -> Rows {
        self.rows(
            "SELECT boot, mono_ms, end_boot, end_mono_ms, origin, removed, name, note, settled, summary FROM passage
             ORDER BY boot, mono_ms, origin",
        )
    }

    /// Everything that a survey makes, with its state.
    fn record(&self) -> [Rows; 4] {
        [
            self.passages(),
            self.rows("SELECT bank, kind, boot, mono_ms, end_boot, end_mono_ms, body FROM finding ORDER BY id"),
            self.rows("SELECT boot, first_mono_ms, bank, kind, text FROM event ORDER BY 1, 2, 4"),
            self.rows("SELECT bank, boot, mono_ms, version, state FROM survey"),
        ]
    }

    /// Begin and end of each passage, hours of the voyage.
    fn hours(&self) -> Vec<(f64, Option<f64>)> {
        let hours = |utc: Option<UtcMs>| (utc.expect("placed").0 - MAY) as f64 / 3_600_000.0;
        let passages = self.reader().passages("drive").expect("reads");
        passages.iter().map(|one| (hours(one.begin_utc), one.end.map(|_| hours(one.end_utc)))).collect()
    }
}

/// Four days in two boots with a pause between.
fn four_days() -> [Leg; 2] {
    [leg("first", 0, 0..2 * DAY - 2 * HOUR), leg("second", 2 * DAY - HOUR, 2 * DAY - HOUR + 60..4 * DAY)]
}

#[test]
fn days_under_motor_are_passages_with_what_they_came_to() {
    let boat = Boat::after(&four_days());
    let done = boat.survey();
    assert!(done.complete && !done.anew && done.notes.is_empty(), "{done:?}");
    let passages = boat.reader().passages("drive").expect("reads");
    let hours = boat.hours();
    assert_eq!(hours.len(), 4, "{hours:?}");
    for (day, (begin, end)) in hours.iter().enumerate() {
        let from = day as f64 * 24.0;
        assert!((begin - (from + 8.0)).abs() < 0.02, "{hours:?}");
        // The last minute under way is that of the last load; the motor is off from 16 h on.
        assert!(end.is_some_and(|end| (end - (from + 16.0)).abs() < 0.02), "{hours:?}");
    }
    for passage in &passages {
        let summary = passage.summary.as_ref().expect("worked out");
        // 4 h at 12.48 A and 2 h at 10.48 A, and the lunch between at 0.3 A.
        assert!((summary.charge_out_ah - (4.0 * 12.48 + 2.0 * 10.48 + 0.6)).abs() < 0.2, "{summary:?}");
        assert!((summary.distance_nm.expect("measured") - 24.0).abs() < 0.05, "{summary:?}");
        assert!(summary.duration_s.is_some_and(|seconds| (seconds - 8.0 * 3600.0).abs() < 120.0), "{summary:?}");
        assert!(summary.soc_lowest.is_some() && summary.covered_s > 7.99 * 3600.0, "{summary:?}");
    }
    let again = boat.survey();
    assert!(again.complete && again.looked_ms == 0, "{again:?}");
}
