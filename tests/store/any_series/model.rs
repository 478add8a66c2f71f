//! The list of what was taken, the store beside it, and the two held against each other.

use std::collections::BTreeMap;

use super::*;

/// Values beyond this are no measurement, and become missing.
const LARGEST: f64 = 1e30;
/// What the series of the boat have at first.
const SERIES: [(&str, &[&str], i64); 3] = [
    ("shunt", &["voltage_v", "current_a", "temperature_c"], 10_000),
    ("charger", &["current_a", "mark"], 2_000),
    ("probe", &["temperature_c"], 900_000),
];
/// What they gain one after the other.
const LATER: [&str; 3] = ["later_1", "later_2", "voltage_v"];

/// A sample as the store must give it back.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    boot: BootNo,
    mono: i64,
    values: Vec<Option<f64>>,
}

/// What was taken of one series, and how much of it is safe.
#[derive(Debug, Default)]
pub struct Model {
    rows: Vec<Row>,
    safe: usize,
    channels: Vec<&'static str>,
    gap_ms: i64,
    /// Last moment in each boot.
    last: BTreeMap<BootNo, i64>,
}

impl Model {
    /// Rows in the order in which the store gives them.
    fn in_order(&self) -> Vec<Row> {
        let mut rows = self.rows.clone();
        rows.sort_by_key(|row| (row.boot, row.mono));
        for row in &mut rows {
            row.values.resize(self.channels.len(), None);
        }
        rows
    }

    fn place(&self, channel: &str) -> Option<usize> {
        self.channels.iter().position(|name| *name == channel)
    }
}

/// A boat with its store, and the model of it.
pub struct Boat {
    scratch: Scratch,
    writer: Option<Writer>,
    boots: u32,
    /// Of the computer, or a recorded past; and its number in the store.
    boot: (String, BootKind),
    boot_no: BootNo,
    /// UTC of the beginning of each boot.
    begins: BTreeMap<BootNo, i64>,
    ids: Vec<SeriesId>,
    models: Vec<Model>,
    refused: u64,
}

impl Boat {
    pub fn new() -> Boat {
        let scratch = scratch();
        let models = SERIES.iter().map(|(_, channels, gap_ms)| Model {
            channels: channels.to_vec(),
            gap_ms: *gap_ms,
            ..Model::default()
        });
        let mut boat = Boat {
            writer: Some(open(&scratch.path)),
            scratch,
            boots: 1,
            boot: ("live 1".to_owned(), BootKind::Live),
            boot_no: BootNo(0),
            begins: BTreeMap::new(),
            ids: Vec::new(),
            models: models.collect(),
            refused: 0,
        };
        boat.begin();
        boat
    }

    fn writer(&mut self) -> &mut Writer {
        self.writer.as_mut().expect("open between steps")
    }

    /// What each start does: names its boot and its series, and says what time it is.
    fn begin(&mut self) {
        let (boot, kind) = self.boot.clone();
        let specs: Vec<SeriesSpec> = SERIES
            .iter()
            .zip(&self.models)
            .map(|((name, ..), model)| spec(name, &model.channels, model.gap_ms))
            .collect();
        let writer = self.writer();
        let no = writer.begin_boot(&boot, kind).expect("noted");
        let ids = specs.iter().map(|spec| writer.series(spec).expect("fits")).collect();
        self.ids = ids;
        self.boot_no = no;
        // Boots lie years apart, so that no two of them share a bin.
        let begins = START + i64::from(no.0) * 5 * 366 * 86_400_000 + 1234;
        self.begins.insert(no, begins);
        self.writer().clock_fix(no, wall(0, begins, Trust::Synchronised), "first").expect("known boot");
    }

    pub fn take(&mut self, series: usize, after_ms: i64, value: impl Fn(usize) -> Option<f64>) {
        let place = series % self.ids.len();
        let (id, boot) = (self.ids[place], self.boot_no);
        let model = &mut self.models[place];
        let last = model.last.get(&boot).copied();
        let mono = last.unwrap_or(-3_600_000) + after_ms;
        let values: Vec<Option<f64>> = (0..model.channels.len()).map(value).collect();
        let taken = self
            .writer
            .as_mut()
            .expect("open between steps")
            .append(id, &Sample { at: at(boot, mono), values: values.clone() });
        let later = last.is_none_or(|last| mono > last);
        assert_eq!(taken.expect("fits"), if later { Appended::Taken } else { Appended::Refused });
        if later {
            model.last.insert(boot, mono);
            let kept = values.into_iter().map(|v| v.filter(|v| v.abs() <= LARGEST).map(|v| v + 0.0));
            model.rows.push(Row { boot, mono, values: kept.collect() });
        } else {
            self.refused += 1;
        }
    }

    pub fn new_boot(&mut self) {
        self.boots += 1;
        self.boot = (format!("live {}", self.boots), BootKind::Live);
        self.begin();
    }

    pub fn import(&mut self, number: usize) {
        self.boot = (format!("import {number}"), BootKind::Import);
        self.begin();
    }

    pub fn widen(&mut self, series: usize) {
        let place = series % self.ids.len();
        let model = &mut self.models[place];
        if let Some(next) = LATER.iter().find(|name| model.place(name).is_none()) {
            model.channels.push(next);
            let spec = spec(SERIES[place].0, &model.channels, model.gap_ms);
            assert_eq!(self.writer().series(&spec).expect("fits"), self.ids[place]);
        }
    }

    pub fn commit(&mut self) {
        let report = self.writer().commit().expect("room");
        assert_eq!((report.refused, report.lost), (self.refused, 0));
        self.all_is_safe();
    }

    pub fn secure(&mut self) {
        self.writer().secure().expect("room");
        assert_eq!(self.writer().waiting_samples(), 0);
        self.all_is_safe();
    }

    fn all_is_safe(&mut self) {
        self.models.iter_mut().for_each(|model| model.safe = model.rows.len());
    }

    pub fn cut(&mut self) {
        self.writer = None;
        for model in &mut self.models {
            model.rows.truncate(model.safe);
            model.last.clear();
            for row in &model.rows {
                let last = model.last.entry(row.boot).or_insert(row.mono);
                *last = (*last).max(row.mono);
            }
        }
        self.start();
    }

    pub fn restart(&mut self) {
        self.writer.take().expect("open between steps").close().expect("room");
        self.all_is_safe();
        self.start();
    }

    fn start(&mut self) {
        self.writer = Some(open(&self.scratch.path));
        self.refused = 0;
        self.begin();
        self.writer().commit().expect("room");
    }

    /// Holds every series against its model; `window` is the part of it that is summed and charted, too.
    pub fn check(&self, window: (f64, f64)) {
        let reader = Reader::open(&self.scratch.path).expect("opens");
        for (id, model) in self.ids.iter().zip(&self.models) {
            let rows = model.in_order();
            let stored = all_samples(&self.scratch.path, *id);
            assert_eq!(stored.len(), rows.len());
            for (stored, row) in stored.iter().zip(&rows) {
                assert_eq!(
                    (stored.sample.at, bits(&stored.sample.values)),
                    (at(row.boot, row.mono), bits(&row.values))
                );
                assert_eq!(stored.utc.0, self.utc(row));
            }
            if let (Some(first), Some(last)) = (rows.first(), rows.last()) {
                let reach = self.utc(last) - self.utc(first) + 1;
                #[expect(clippy::cast_possible_truncation, reason = "a part of a time that fits")]
                let part = |part: f64| self.utc(first) + (reach as f64 * part) as i64;
                let (from, to) = (part(window.0.min(window.1)), part(window.0.max(window.1)));
                self.check_sums(&reader, *id, model, &rows, (i64::MIN / 4, i64::MAX / 4));
                self.check_sums(&reader, *id, model, &rows, (from, to));
                self.check_chart(&reader, *id, model, &rows, (self.utc(first), self.utc(last) + 1));
                // A window that is small enough for single samples.
                self.check_chart(&reader, *id, model, &rows, (from, from + 1_200_000));
            }
        }
    }

    fn utc(&self, row: &Row) -> i64 {
        self.begins[&row.boot] + row.mono
    }

    /// Charge and energy, from the samples one by one.
    fn check_sums(&self, reader: &Reader, id: SeriesId, model: &Model, rows: &[Row], (from, to): (i64, i64)) {
        let sums = reader.sums(id, UtcMs(from), UtcMs(to)).expect("reads");
        let by_hand = |value: &dyn Fn(&Row) -> Option<f64>| {
            let mut before: Option<(BootNo, i64, f64)> = None;
            let mut areas = [0.0_f64; 3];
            for row in rows {
                let Some(now) = value(row) else { continue };
                if let Some((boot, mono, then)) = before.replace((row.boot, row.mono, now))
                    && boot == row.boot
                    && row.mono - mono <= model.gap_ms
                    && (from..to).contains(&self.utc(row))
                {
                    let seconds = (row.mono - mono) as f64 / 1000.0;
                    let (above, below) = under_a_line(then, now);
                    areas[0] += seconds;
                    areas[1] += above * seconds;
                    areas[2] -= below * seconds;
                }
            }
            areas
        };
        let (voltage, current) = (model.place("voltage_v"), model.place("current_a"));
        let [covered_s, charge_in, charge_out] =
            current.map_or([0.0; 3], |current| by_hand(&|row: &Row| row.values[current]));
        let [_, energy_in, energy_out] = voltage.zip(current).map_or([0.0; 3], |(voltage, current)| {
            by_hand(&|row: &Row| Some(row.values[voltage]? * row.values[current]?))
        });
        for (what, stored, by_hand) in [
            ("covered", sums.covered_s, covered_s),
            ("charge in", sums.charge_in_ah * 3600.0, charge_in),
            ("charge out", sums.charge_out_ah * 3600.0, charge_out),
            ("energy in", sums.energy_in_wh * 3600.0, energy_in),
            ("energy out", sums.energy_out_wh * 3600.0, energy_out),
        ] {
            let room = 1e-9 * by_hand.abs() + 1e-9;
            assert!((stored - by_hand).abs() <= room, "{what} of {id:?} in {from}..{to}: {stored}, by hand {by_hand}");
        }
    }

    /// Extremes are never lost, however coarse the chart; and where its bins hold single samples, each is as by hand.
    fn check_chart(&self, reader: &Reader, id: SeriesId, model: &Model, rows: &[Row], (from, to): (i64, i64)) {
        for points in [1, 40, 1500] {
            let channels = model.channels.iter().map(|name| (*name).to_owned()).collect();
            let query = HistoryQuery { series: id, channels, from: UtcMs(from), to: UtcMs(to), points };
            let chart = reader.history(&query).expect("reads");
            let (start, step) = (from.div_euclid(chart.step_ms) * chart.step_ms, chart.step_ms);
            let end = to.div_euclid(step) * step + if to.rem_euclid(step) > 0 { step } else { 0 };
            for (place, channel) in chart.channels.iter().enumerate() {
                let mut bins: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
                for row in rows.iter().filter(|row| (start..end).contains(&self.utc(row))) {
                    let bin = self.utc(row).div_euclid(step) * step;
                    bins.entry(bin).or_default().extend(row.values[place]);
                }
                bins.retain(|_, values| !values.is_empty());
                let all: Vec<f64> = bins.values().flatten().copied().collect();
                let least = channel.min.iter().flatten().copied().reduce(f64::min);
                let most = channel.max.iter().flatten().copied().reduce(f64::max);
                if to - from > 1_200_000 {
                    // All of it is asked for.
                    let by_hand: [Option<f64>; 2] = [f64::min, f64::max].map(|pick| all.iter().copied().reduce(pick));
                    let told = bits(&[least, most]) == bits(&by_hand);
                    assert!(
                        told,
                        "{} of {id:?} at {step} ms: {least:?} to {most:?}, by hand {by_hand:?}",
                        channel.name
                    );
                } else if step < 120_000 {
                    let shown = (0..chart.time_ms.len()).filter(|row| channel.min[*row].is_some());
                    let shown: Vec<usize> = shown.collect();
                    let times: Vec<i64> = shown.iter().map(|row| chart.time_ms[*row]).collect();
                    assert_eq!(times, bins.keys().copied().collect::<Vec<_>>(), "{} at {step} ms", channel.name);
                    for (row, values) in shown.into_iter().zip(bins.values()) {
                        let [least, most] = [f64::min, f64::max].map(|pick| values.iter().copied().reduce(pick));
                        assert_eq!(bits(&[channel.min[row], channel.max[row]]), bits(&[least, most]));
                        let mean = values.iter().sum::<f64>() / values.len() as f64;
                        let size = values.iter().map(|v| v.abs()).sum::<f64>();
                        let told = channel.mean[row].expect("beside a minimum");
                        assert!((told - mean).abs() <= 1e-9 * size, "{told} instead of {mean}");
                    }
                }
            }
        }
    }
}

/// Mean of the parts above and below zero of a straight line from one value to the other.
fn under_a_line(from: f64, to: f64) -> (f64, f64) {
    let (low, high) = (from.min(to), from.max(to));
    if low >= 0.0 {
        (low.midpoint(high), 0.0)
    } else if high <= 0.0 {
        (0.0, low.midpoint(high))
    } else {
        // Two triangles, of which the bases share the whole in the ratio of their heights.
        let base = high / (high - low);
        (high * base / 2.0, low * (1.0 - base) / 2.0)
    }
}

fn bits(values: &[Option<f64>]) -> Vec<Option<u64>> {
    values.iter().map(|value| value.map(f64::to_bits)).collect()
}
