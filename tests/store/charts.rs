//! History and sums against what the samples themselves say.

use taffrail::clock::Trust;
use taffrail::store::{History, HistoryQuery, Integral, Reader, Sums};

use super::*;

/// A day and a half at 1 Hz with a gap of ten minutes, missing temperatures, charge and discharge, and one spike.
struct Day {
    scratch: Scratch,
    series: SeriesId,
    samples: Vec<(i64, [f64; 3])>,
}

const SPIKE_AT: i64 = 50_000;

fn day() -> Day {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    // An odd phase, so that hours of the boot are no hours of UTC.
    let boot = boot_at(&mut writer, "one", START + 1_234_567);
    let series = writer.series(&shunt(10_000)).expect("fits");
    let mut samples = Vec::new();
    for second in 0_i64..36 * 3600 {
        if (20_000..20_600).contains(&second) {
            continue;
        }
        let wave = (second as f64 / 3000.0).sin();
        let current = if second == SPIKE_AT { 400.0 } else { (wave * 2000.0).round() / 100.0 };
        let temperature = if second % 60 < 30 { f64::NAN } else { 20.0 };
        samples.push((second * 1000 + second % 7, [52.0 + (wave * 1000.0).round() / 1000.0, current, temperature]));
    }
    for (mono, values) in &samples {
        writer.append(series, &sample(boot, *mono, values)).expect("fits");
    }
    // Not closed: the last stretch stays in the tail.
    writer.commit().expect("room");
    Day { scratch, series, samples }
}

impl Day {
    fn utc(&self, mono: i64) -> i64 {
        START + 1_234_567 + mono
    }

    fn history(&self, from: i64, to: i64, points: usize) -> History {
        Reader::open(&self.scratch.path)
            .and_then(|reader| {
                reader.history(&HistoryQuery {
                    series: self.series,
                    channels: vec!["current_a".to_owned(), "power_w".to_owned(), "temperature_c".to_owned()],
                    from: UtcMs(from),
                    to: UtcMs(to),
                    points,
                })
            })
            .expect("reads")
    }
}

fn close(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() <= tolerance, "{a} is not {b} within {tolerance}");
}

#[test]
fn bins_of_samples_are_exact() {
    let day = day();
    let (from, to) = (day.utc(49_990_000), day.utc(50_010_000));
    let history = day.history(from, to, 30);
    assert_eq!(history.step_ms, 1000);
    let current = &history.channels[0];
    for (row, start) in history.time_ms.iter().enumerate() {
        let inside: Vec<f64> = day
            .samples
            .iter()
            .filter(|(mono, _)| (*start..start + 1000).contains(&day.utc(*mono)))
            .map(|(_, values)| values[1])
            .collect();
        assert_eq!(current.max[row], inside.iter().copied().reduce(f64::max));
        assert_eq!(current.min[row], inside.iter().copied().reduce(f64::min));
    }
    assert!(current.max.contains(&Some(400.0)));
}

#[test]
fn a_spike_of_a_second_shows_at_every_zoom_and_nowhere_twice() {
    let day = day();
    let end = day.utc(36 * HOUR);
    for (span, points) in
        [(HOUR, 1500), (36 * HOUR, 1500), (36 * HOUR, 60), (40 * 24 * HOUR, 500), (900 * 24 * HOUR, 300)]
    {
        let from = if span == HOUR { day.utc(SPIKE_AT * 1000 - HOUR / 2) } else { end - span };
        let history = day.history(from, from + span, points);
        assert!(history.time_ms.len() <= points, "{} rows", history.time_ms.len());
        let hits = history.channels[0].max.iter().filter(|max| **max == Some(400.0)).count();
        assert_eq!(hits, 1, "step {} ms", history.step_ms);
        assert!(history.time_ms.iter().all(|t| t.rem_euclid(history.step_ms) == 0));
        assert!(history.time_ms.is_sorted());
    }
}

#[test]
fn coarse_bins_say_what_the_samples_say() {
    let day = day();
    // Minutes, hours and days as sources.
    for points in [400, 14, 1] {
        let history = day.history(day.utc(0), day.utc(36 * HOUR), points);
        for (channel, value) in
            [(0, (|v: &[f64; 3]| v[1]) as fn(&[f64; 3]) -> f64), (1, |v| v[0] * v[1]), (2, |v| v[2])]
        {
            let values: Vec<f64> = day.samples.iter().map(|(_, v)| value(v)).filter(|v| !v.is_nan()).collect();
            let column = &history.channels[channel];
            let max = column.max.iter().flatten().copied().reduce(f64::max).expect("some");
            let min = column.min.iter().flatten().copied().reduce(f64::min).expect("some");
            close(max, values.iter().copied().reduce(f64::max).expect("some"), 0.051);
            close(min, values.iter().copied().reduce(f64::min).expect("some"), 0.051);
        }
        if points == 1 {
            let mean = history.channels[0].mean[0].expect("one bin");
            let sum: f64 = day.samples.iter().map(|(_, v)| v[1]).sum();
            close(mean, sum / day.samples.len() as f64, 1e-9);
        }
    }
}

#[test]
fn a_gap_is_one_row_without_values() {
    let day = day();
    for points in [1500, 100] {
        let history = day.history(day.utc(19_000_000), day.utc(22_000_000), points);
        let gaps: Vec<i64> = (history.time_ms.iter().zip(&history.channels[0].mean))
            .filter(|(_, mean)| mean.is_none())
            .map(|(time, _)| *time)
            .collect();
        assert_eq!(gaps.len(), 1, "step {}", history.step_ms);
        assert!((day.utc(19_990_000)..day.utc(20_610_000)).contains(&gaps[0]));
    }
}

fn straight(day: &Day, from: i64, to: i64, value: fn(&[f64; 3]) -> f64) -> Integral {
    let mut total = Integral::default();
    for pair in day.samples.windows(2) {
        let [(before_ms, before), (at_ms, at)] = [&pair[0], &pair[1]];
        if at_ms - before_ms > 10_000 || !(from..to).contains(at_ms) {
            continue;
        }
        let seconds = (at_ms - before_ms) as f64 / 1000.0;
        total.covered_s += seconds;
        // A thousand thin slices instead of the formula.
        for slice in 0..1000 {
            let part = (f64::from(slice) + 0.5) / 1000.0;
            let value = value(before) * (1.0 - part) + value(at) * part;
            *(if value > 0.0 { &mut total.positive } else { &mut total.negative }) += value * seconds / 1000.0;
        }
    }
    total
}

#[test]
fn sums_are_exact_to_the_sample_at_both_ends() {
    let day = day();
    let reader = Reader::open(&day.scratch.path).expect("opens");
    let odd = 3 * HOUR + 777_777;
    for (from, to) in
        [(odd, odd + 60_000), (odd, odd + 9 * HOUR), (odd, 30 * HOUR + 1), (0, 36 * HOUR), (35 * HOUR + 5, 36 * HOUR)]
    {
        let sums = reader.sums(day.series, UtcMs(day.utc(from)), UtcMs(day.utc(to))).expect("reads");
        let charge = straight(&day, from, to, |v| v[1]);
        // The power of a sample is the product of its values, straight lines between samples.
        let energy = straight(&day, from, to, |v| v[0] * v[1]);
        close(sums.covered_s, charge.covered_s, 1e-6);
        close(sums.charge_in_ah, charge.positive / 3600.0, 1e-5);
        close(sums.charge_out_ah, -charge.negative / 3600.0, 1e-5);
        close(sums.energy_in_wh, energy.positive / 3600.0, 1e-3);
        close(sums.energy_out_wh, -energy.negative / 3600.0, 1e-3);
    }
}

#[test]
fn neighbouring_sums_add_up_to_their_whole() {
    let day = day();
    let reader = Reader::open(&day.scratch.path).expect("opens");
    let sums = |from: i64, to: i64| reader.sums(day.series, UtcMs(day.utc(from)), UtcMs(day.utc(to))).expect("reads");
    let edges = [0, 12_345, HOUR, 20_300_000, 27 * HOUR + 1, 36 * HOUR];
    let parts: Vec<Sums> = edges.windows(2).map(|w| sums(w[0], w[1])).collect();
    let whole = sums(0, 36 * HOUR);
    close(parts.iter().map(|s| s.charge_in_ah).sum(), whole.charge_in_ah, 1e-9);
    close(parts.iter().map(|s| s.covered_s).sum(), whole.covered_s, 1e-6);
}

#[test]
fn hour_and_day_summaries_equal_the_samples() {
    let day = day();
    let file = rusqlite::Connection::open(&day.scratch.path).expect("opens");
    for (table, span) in [("hour_summary", HOUR), ("day_summary", 24 * HOUR)] {
        let mut select = file
            .prepare(&format!(
                "SELECT start_mono_ms, count, covered_s, min, max, mean, positive, negative FROM {table}
                 WHERE channel = 1 ORDER BY start_mono_ms"
            ))
            .expect("a table");
        let mut rows = select.query([]).expect("rows");
        let mut seen = 0;
        while let Some(row) = rows.next().expect("a row") {
            let start: i64 = row.get(0).expect("start");
            let stored: Vec<f64> = (2..8).map(|column| row.get(column).expect("a number")).collect();
            // The last hour is still in the tail.
            let inside = |mono: i64| (start..start + span).contains(&mono) && mono < 35 * HOUR;
            let values: Vec<f64> = day.samples.iter().filter(|(mono, _)| inside(*mono)).map(|(_, v)| v[1]).collect();
            assert_eq!(row.get::<_, i64>(1).expect("count"), values.len() as i64);
            let integral = straight(&day, start, (start + span).min(35 * HOUR), |v| v[1]);
            close(stored[0], integral.covered_s, 1e-6);
            close(stored[1], values.iter().copied().fold(f64::INFINITY, f64::min), 0.0);
            close(stored[2], values.iter().copied().fold(f64::NEG_INFINITY, f64::max), 0.0);
            close(stored[3], values.iter().sum::<f64>() / values.len() as f64, 1e-9);
            close(stored[4], integral.positive, 0.02);
            close(stored[5], integral.negative, 0.02);
            seen += 1;
        }
        assert_eq!(seen, if span == HOUR { 35 } else { 2 });
    }
}

#[test]
fn boots_that_overlap_in_utc_are_both_shown() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for (name, volts) in [("one", 50.0), ("two", 60.0)] {
        let boot = boot_at(&mut writer, name, START);
        for second in 0..100 {
            writer.append(series, &sample(boot, second * 1000, &[volts, 1.0, 20.0])).expect("fits");
        }
    }
    writer.commit().expect("room");
    let reader = Reader::open(&scratch.path).expect("opens");
    let history = reader
        .history(&HistoryQuery {
            series,
            channels: vec!["voltage_v".to_owned()],
            from: UtcMs(START),
            to: UtcMs(START + 100_000),
            points: 200,
        })
        .expect("reads");
    assert_eq!(history.time_ms.len(), 100);
    assert!(history.channels[0].min.iter().all(|v| *v == Some(50.0)));
    assert!(history.channels[0].max.iter().all(|v| *v == Some(60.0)));
    assert_eq!(all_samples(&scratch.path, series).len(), 200);
}

#[test]
fn a_clock_stepped_back_and_forth_neither_loses_nor_doubles_in_sums() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for (mono, utc) in [(5 * HOUR / 2, START + HOUR), (11 * HOUR / 3, START + 90 * HOUR)] {
        writer.clock_fix(boot, wall(mono, utc, Trust::Synchronised), "step").expect("known");
    }
    for second in 0..5 * 3600 {
        writer.append(series, &sample(boot, second * 1000, &[50.0, 10.0, 20.0])).expect("fits");
    }
    writer.commit().expect("room");
    let reader = Reader::open(&scratch.path).expect("opens");
    let mut total = 0.0;
    for hour in -2..100 {
        let from = START + hour * HOUR;
        total += reader.sums(series, UtcMs(from), UtcMs(from + HOUR)).expect("reads").charge_in_ah;
    }
    close(total, 10.0 * (5.0 * 3600.0 - 1.0) / 3600.0, 1e-9);
    assert_eq!(all_samples(&scratch.path, series).len(), 5 * 3600);
}

#[test]
fn a_slow_series_has_no_minutes_and_is_charted_from_its_samples() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&spec("reckoned", &["soc", "soc_low"], 150_000)).expect("fits");
    for minute in 0..3000 {
        let soc = 1.0 - f64::from(minute) / 7000.0;
        writer.append(series, &sample(boot, i64::from(minute) * 60_000, &[soc, soc - 0.01])).expect("fits");
    }
    writer.commit().expect("room");
    assert_eq!(count(&scratch.path, "minute_chunk"), 0);
    assert!(count(&scratch.path, "chunk") >= 4);
    let reader = Reader::open(&scratch.path).expect("opens");
    let query = |hours: i64, points| HistoryQuery {
        series,
        channels: vec!["soc".to_owned()],
        from: UtcMs(START),
        to: UtcMs(START + hours * HOUR),
        points,
    };
    let fine = reader.history(&query(10, 10_000)).expect("reads");
    assert_eq!(fine.time_ms.len(), 600, "no gaps between the minutes of a slow series");
    let coarse = reader.history(&query(50, 200)).expect("reads");
    assert_eq!(coarse.step_ms, HOUR / 4);
    assert_eq!(coarse.channels[0].max[0], Some(1.0));
    assert!(coarse.channels[0].mean.iter().all(Option::is_some));
}

#[test]
fn what_is_not_there_is_said() {
    let day = day();
    let reader = Reader::open(&day.scratch.path).expect("opens");
    let mut query = HistoryQuery {
        series: day.series,
        channels: vec!["speed".to_owned()],
        from: UtcMs(0),
        to: UtcMs(1),
        points: 5,
    };
    assert!(reader.history(&query).expect_err("no such channel").to_string().contains("speed"));
    query.channels.clear();
    assert!(reader.history(&query).expect("reads").time_ms.is_empty());
    query.series = SeriesId(9);
    assert!(reader.history(&query).is_err());
    let info = &reader.all_series().expect("reads")[0];
    assert_eq!((info.bank.as_str(), info.has_power, info.channels.len()), ("house", true, 3));
}
