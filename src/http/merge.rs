//! Puts the histories of several series on one time axis.

use crate::store::{History, HistoryChannel};

/// State of charge, stored once a minute, is drawn as a line between two points up to this far apart, ms.
pub const BRIDGED_MS: i64 = 180_000;

/// One axis of times with the columns of several histories on it.
#[derive(Debug, Default)]
pub struct Merged {
    /// Width of a bin.
    pub step_ms: i64,
    /// Where each row begins, rising.
    pub time_ms: Vec<i64>,
    /// The columns, each as long as the times.
    pub channels: Vec<HistoryChannel>,
}

/// Puts `parts` on one axis. Where bins are aligned, rows meet; a row that a part does not have is empty in its columns.
pub fn merge(parts: Vec<History>) -> Merged {
    let mut time_ms: Vec<i64> = parts.iter().flat_map(|part| part.time_ms.iter().copied()).collect();
    time_ms.sort_unstable();
    time_ms.dedup();
    let step_ms = parts.iter().map(|part| part.step_ms).max().unwrap_or(0);
    let channels = parts.into_iter().flat_map(|part| spread(part, &time_ms)).collect();
    Merged { step_ms, time_ms, channels }
}

/// Brings a slow track (one value a minute) onto the times of faster samples: straight lines between neighbours that are
/// not too far apart, nothing elsewhere.
pub fn onto(track: &History, time_ms: &[i64]) -> Vec<HistoryChannel> {
    let column = |values: &[Option<f64>]| -> Vec<Option<f64>> {
        time_ms.iter().map(|&at| between(&track.time_ms, values, at, Some(BRIDGED_MS))).collect()
    };
    track
        .channels
        .iter()
        .map(|channel| HistoryChannel {
            name: channel.name.clone(),
            min: column(&channel.min),
            mean: column(&channel.mean),
            max: column(&channel.max),
        })
        .collect()
}

/// The reconciled line where it covers the time, the live one elsewhere. Both are in bins of one width.
///
/// Between two reconciled points that are not too far apart no live one is left, even where the points do not meet. Where
/// nothing was recorded the live line tells, for it was there all along.
pub fn over(live: &History, reconciled: &History) -> History {
    let covered = |at| between(&reconciled.time_ms, known(reconciled), at, None).is_some();
    let left = live.time_ms.iter().enumerate().filter(|(_, at)| !covered(**at));
    let taken = known(reconciled).iter().enumerate().filter(|(_, value)| value.is_some());
    let mut rows: Vec<(i64, &History, usize)> = left
        .map(|(row, &at)| (at, live, row))
        .chain(taken.map(|(row, _)| (reconciled.time_ms[row], reconciled, row)))
        .collect();
    rows.sort_by_key(|(at, _, _)| *at);
    let channel = |place: usize| {
        let column = |part: fn(&HistoryChannel) -> &Vec<Option<f64>>| {
            rows.iter().map(|(_, from, row)| part(&from.channels[place])[*row]).collect()
        };
        let name = live.channels[place].name.clone();
        HistoryChannel { name, min: column(|c| &c.min), mean: column(|c| &c.mean), max: column(|c| &c.max) }
    };
    History {
        step_ms: live.step_ms,
        time_ms: rows.iter().map(|(at, _, _)| *at).collect(),
        channels: (0..live.channels.len()).map(channel).collect(),
    }
}

/// The values that say whether a row of a line holds anything.
fn known(line: &History) -> &[Option<f64>] {
    line.channels.first().map_or(&[], |channel| &channel.mean)
}

fn spread(part: History, time_ms: &[i64]) -> Vec<HistoryChannel> {
    if part.time_ms.len() == time_ms.len() {
        return part.channels;
    }
    let places: Vec<usize> = part.time_ms.iter().map(|t| time_ms.partition_point(|x| x < t)).collect();
    let column = |values: &[Option<f64>]| {
        let mut spread = vec![None; time_ms.len()];
        for (&place, &value) in places.iter().zip(values) {
            spread[place] = value;
        }
        spread
    };
    part.channels
        .into_iter()
        .map(|channel| HistoryChannel {
            min: column(&channel.min),
            mean: column(&channel.mean),
            max: column(&channel.max),
            name: channel.name,
        })
        .collect()
}

/// The value at a time; past the last point the line goes on level for as long as `beyond_ms`.
#[expect(clippy::cast_precision_loss, reason = "differences of a few minutes in milliseconds")]
fn between(times: &[i64], values: &[Option<f64>], at: i64, beyond_ms: Option<i64>) -> Option<f64> {
    let after = times.partition_point(|&t| t < at);
    if times.get(after) == Some(&at) {
        return values[after];
    }
    let (before, after) = (after.checked_sub(1)?, (after < times.len()).then_some(after));
    let Some(after) = after else {
        return values[before].filter(|_| beyond_ms.is_some_and(|beyond_ms| at - times[before] <= beyond_ms));
    };
    let span = times[after] - times[before];
    let (low, high) = (values[before]?, values[after]?);
    (span <= BRIDGED_MS).then(|| low + (high - low) * (at - times[before]) as f64 / span as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reconciled_line_wins_where_it_reaches_and_the_live_one_goes_on_from_there() {
        let live = [(0, 0.80), (60_000, 0.79), (120_000, 0.78), (180_000, 0.90), (240_000, 0.89)];
        let live = history(1000, &live.map(|(at, soc)| (at, Some(soc))), "soc");
        // Its points lie beside the live ones, and it ends between two of them.
        let reconciled = history(1000, &[(5000, Some(0.85)), (65_000, Some(0.86)), (125_000, Some(0.87))], "soc");
        let line = over(&live, &reconciled);
        assert_eq!(line.time_ms, [0, 5000, 65_000, 125_000, 180_000, 240_000]);
        assert_eq!(line.channels[0].mean, [0.80, 0.85, 0.86, 0.87, 0.90, 0.89].map(Some));
    }

    #[test]
    fn a_gap_and_a_run_that_was_never_reconciled_stay_as_they_were() {
        let live = [(0, Some(0.8)), (60_000, Some(0.7)), (120_000, None), (900_000, Some(0.6)), (960_000, Some(0.5))];
        let live = history(60_000, &live, "soc");
        let reconciled = [(0, Some(0.82)), (60_000, Some(0.72)), (120_000, None), (960_000, Some(0.52))];
        let line = over(&live, &history(60_000, &reconciled, "soc"));
        assert_eq!(line.time_ms, [0, 60_000, 120_000, 900_000, 960_000]);
        assert_eq!(line.channels[0].mean, [Some(0.82), Some(0.72), None, Some(0.6), Some(0.52)]);
    }

    fn history(step_ms: i64, rows: &[(i64, Option<f64>)], name: &str) -> History {
        let values: Vec<_> = rows.iter().map(|r| r.1).collect();
        History {
            step_ms,
            time_ms: rows.iter().map(|r| r.0).collect(),
            channels: vec![HistoryChannel {
                name: name.into(),
                min: values.clone(),
                mean: values.clone(),
                max: values,
            }],
        }
    }

    #[test]
    fn rows_meet_where_bins_are_aligned_and_stay_empty_elsewhere() {
        let merged = merge(vec![
            history(60_000, &[(0, Some(1.0)), (60_000, Some(2.0))], "voltage_v"),
            history(60_000, &[(60_000, Some(0.5)), (120_000, Some(0.4))], "soc"),
        ]);
        assert_eq!(merged.time_ms, [0, 60_000, 120_000]);
        assert_eq!(merged.channels[0].mean, [Some(1.0), Some(2.0), None]);
        assert_eq!(merged.channels[1].mean, [None, Some(0.5), Some(0.4)]);
    }

    #[test]
    fn a_slow_track_is_a_line_between_its_points_and_nothing_across_a_gap() {
        let track = history(1000, &[(0, Some(0.8)), (60_000, Some(0.6)), (600_000, Some(0.5))], "soc");
        let line = onto(&track, &[0, 30_000, 60_000, 300_000, 600_000, 700_000, 900_000]);
        let mean = &line[0].mean;
        assert!((mean[1].expect("between two points") - 0.7).abs() < 1e-12);
        assert_eq!((mean[0], mean[3], mean[5], mean[6]), (Some(0.8), None, Some(0.5), None));
    }
}
