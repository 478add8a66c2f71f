//! Packed blocks of hours and days: what they show is what their rows show.

use taffrail::quantity::{BootNo, UtcMs};
use taffrail::store::{History, HistoryQuery, Reader, SeriesId, Writer};

use super::{HOUR, START, Scratch, boot_at, count, open, sample, scratch, shunt};

const DAY: i64 = 24 * HOUR;

/// Ten days of a boot, one sample each six seconds, that begin off the hour.
fn ten_days(writer: &mut Writer, series: SeriesId, boot: BootNo, from_ms: i64) {
    for second in (0..10 * 86_400).step_by(6) {
        let swing = f64::from(second % 5000) / 100.0;
        let values = [52.0, swing - 20.0, f64::NAN];
        writer.append(series, &sample(boot, from_ms + i64::from(second) * 1000, &values)).expect("known series");
    }
    writer.commit().expect("commits");
}

fn charts(scratch: &Scratch, series: SeriesId) -> Vec<History> {
    let reader = Reader::open(&scratch.path).expect("opens");
    let spans = [(0, 30 * DAY), (4 * DAY + HOUR / 3, 13 * DAY), (-DAY, 9 * DAY), (11 * DAY, 12 * DAY)];
    let ask = |(from, to, points)| {
        let channels = Vec::new();
        let query = HistoryQuery { series, channels, from: UtcMs(START + from), to: UtcMs(START + to), points };
        reader.history(&query).expect("sound")
    };
    spans.into_iter().flat_map(|(from, to)| [(from, to, 12), (from, to, 60)]).map(ask).collect()
}

#[test]
fn charts_from_blocks_are_those_from_rows() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let series = writer.series(&shunt(20_000)).expect("a series");
    let first = boot_at(&mut writer, "first", START);
    ten_days(&mut writer, series, first, 1_234_567);
    let second = boot_at(&mut writer, "second", START + 11 * DAY);
    ten_days(&mut writer, series, second, 30_000);
    writer.close().expect("closes");
    // Eight days and the rest of the first boot, eight days of the second; the days of the first boot.
    assert_eq!(count(&scratch.path, "summary_block"), 4);
    let from_blocks = charts(&scratch, series);
    assert!(from_blocks.iter().all(|chart| !chart.time_ms.is_empty()));
    let file = rusqlite::Connection::open(&scratch.path).expect("opens");
    file.execute("DELETE FROM summary_block", []).expect("deletes");
    assert_eq!(charts(&scratch, series), from_blocks);
}

#[test]
fn a_block_that_does_not_decode_costs_nothing() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let series = writer.series(&shunt(20_000)).expect("a series");
    let boot = boot_at(&mut writer, "first", START);
    ten_days(&mut writer, series, boot, 1_234_567);
    writer.close().expect("closes");
    let sound = charts(&scratch, series);
    let file = rusqlite::Connection::open(&scratch.path).expect("opens");
    assert_eq!(file.execute("UPDATE summary_block SET data = x'0011'", []).expect("harms"), 1);
    assert_eq!(charts(&scratch, series), sound);
}

#[test]
fn a_boot_that_goes_on_after_a_later_one_leaves_no_block_stale() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let series = writer.series(&shunt(20_000)).expect("a series");
    let first = boot_at(&mut writer, "first", START);
    ten_days(&mut writer, series, first, 0);
    let second = boot_at(&mut writer, "second", START + 40 * DAY);
    ten_days(&mut writer, series, second, 0);
    ten_days(&mut writer, series, first, 10 * DAY);
    writer.close().expect("closes");
    let from_blocks = charts(&scratch, series);
    let file = rusqlite::Connection::open(&scratch.path).expect("opens");
    assert!(file.execute("DELETE FROM summary_block", []).expect("deletes") > 0);
    assert_eq!(charts(&scratch, series), from_blocks);
}
