//! Local days against sums by hand: days of 23, 23.5, 24, 24.5 and 25 hours.

use std::collections::BTreeMap;

use super::*;
use jiff::tz::TimeZone;
use taffrail::store::{Reader, SeriesId};

/// Between samples.
const EVERY: i64 = 30_000;

/// Charge in and out, Ah, energy in and out, Wh, and seconds covered of one day.
type Day = [f64; 5];

/// Five days of samples in a zone: two boots with ten minutes between them, a gap, and an open tail.
struct Stored {
    boat: Boat,
    series: SeriesId,
    span: (i64, i64),
    by_hand: BTreeMap<String, Day>,
}

fn values(utc: i64) -> [f64; 3] {
    let wave = (utc as f64 / 7_000_000.0).sin();
    [52.0 + (wave * 100.0).round() / 100.0, (wave * 2000.0 + 300.0).round() / 100.0, 20.0]
}

/// The parts above and below zero of a line over `seconds`.
fn area(before: f64, after: f64, seconds: f64) -> [f64; 2] {
    // In a hundred strips, so that it does not share the formula that it checks.
    let strip = |i: i32| (before + (after - before) * (f64::from(i) + 0.5) / 100.0) * seconds / 100.0;
    let mut parts = [0.0; 2];
    for area in (0..100).map(strip) {
        parts[usize::from(area < 0.0)] += area.abs();
    }
    parts
}

fn stored(zone: &str, first_day: &str) -> Stored {
    let mut boat = Boat::afloat();
    let path = boat.dir.path().join("days.sqlite");
    let config = Config::parse(CONFIG, boat.dir.path()).expect("no mistakes");
    let mut writer = Writer::open(&path, Options::default()).expect("opens");
    let tz = TimeZone::get(zone).expect("a zone");
    let first: jiff::civil::Date = first_day.parse().expect("a day");
    let from = first.to_zoned_datetime(tz.clone()).expect("a moment").timestamp().as_millisecond() + 5 * HOUR;
    let to = from + 4 * 24 * HOUR;
    let spec = taffrail::store::SeriesSpec { gap_ms: 60_000, ..device_series(&config.devices[0]) };
    let series = writer.series(&spec).expect("fits");
    let restart = from + 50 * HOUR;
    let mut by_hand: BTreeMap<String, Day> = BTreeMap::new();
    let mut before: Option<(i64, [f64; 3])> = None;
    for (name, start, end) in [("one", from, restart), ("two", restart + 600_000, to)] {
        let boot = writer.begin_boot(name, BootKind::Live).expect("noted");
        // Hours of the boot are no hours of UTC.
        let zero = start - 1_234_567;
        let fix = WallReading { mono: MonoMs(0), utc: UtcMs(zero), trust: Trust::Synchronised };
        writer.clock_fix(boot, fix, "first").expect("known boot");
        let mut utc = start;
        while utc < end {
            let hours = (utc - from) / HOUR;
            if (30..32).contains(&hours) {
                utc += EVERY;
                continue;
            }
            let now = values(utc);
            let at = Moment { boot, mono: MonoMs(utc - zero) };
            writer.append(series, &Sample { at, values: now.map(Some).to_vec() }).expect("fits");
            let local = tz.to_offset(jiff::Timestamp::from_millisecond(utc).expect("a time"));
            let date = local.to_datetime(jiff::Timestamp::from_millisecond(utc).expect("a time")).date();
            let day = by_hand.entry(date.to_string()).or_default();
            if let Some((then, was)) = before.filter(|(then, _)| utc - then <= 60_000) {
                let seconds = (utc - then) as f64 / 1000.0;
                let charge = area(was[1], now[1], seconds);
                let energy = area(was[0] * was[1], now[0] * now[1], seconds);
                let moved = [charge[0] / 3600.0, charge[1] / 3600.0, energy[0] / 3600.0, energy[1] / 3600.0, seconds];
                day.iter_mut().zip(moved).for_each(|(sum, part)| *sum += part);
            }
            before = Some((utc, now));
            utc += EVERY;
        }
        writer.commit().expect("room");
    }
    let live = Arc::get_mut(&mut boat.live).expect("nobody else has it");
    zone.clone_into(&mut live.zone);
    live.readers = Readers::new(path, WaitingFeed::default());
    Stored { boat, series, span: (from, to), by_hand }
}

impl Stored {
    async fn days(&self, from: &str, to: &str) -> Vec<Value> {
        let days = self.boat.json(&format!("/api/v1/banks/house/days?from={from}&to={to}")).await;
        assert_eq!(days["zone"], self.boat.live.zone);
        days["days"].as_array().expect("days").clone()
    }
}

fn sums(day: &Value) -> Day {
    ["charge_in_ah", "charge_out_ah", "energy_in_wh", "energy_out_wh", "covered_s"]
        .map(|name| day[name].as_f64().expect("a number"))
}

fn close(a: f64, b: f64, what: &str) {
    assert!((a - b).abs() <= 1e-4 * a.abs().max(1.0), "{what}: {a} is not {b}");
}

/// (zone, first day, the day on which the clocks change, its hours)
const CHANGES: [(&str, &str, &str, f64); 4] = [
    ("Europe/Amsterdam", "2027-03-26", "2027-03-28", 23.0),
    ("Europe/Amsterdam", "2027-10-29", "2027-10-31", 25.0),
    ("Australia/Lord_Howe", "2027-04-02", "2027-04-04", 24.5),
    ("Australia/Lord_Howe", "2027-10-01", "2027-10-03", 23.5),
];

#[tokio::test]
async fn each_local_day_has_what_its_clocks_showed_and_the_days_add_up() {
    for (zone, first, change, hours) in CHANGES {
        let stored = stored(zone, first);
        let last = stored.by_hand.keys().next_back().expect("days").clone();
        let days = stored.days(first, &last).await;
        assert_eq!(days.len(), 5, "{zone}");
        let mut total: Day = [0.0; 5];
        for day in &days {
            let date = day["date"].as_str().expect("a date");
            let expected = if date == change { hours } else { 24.0 };
            assert_eq!(day["length_s"], Value::from(3600.0 * expected), "{zone} {date}");
            for ((got, by_hand), sum) in sums(day).into_iter().zip(stored.by_hand[date]).zip(&mut total) {
                close(got, by_hand, &format!("{zone} {date}"));
                *sum += got;
            }
        }
        let (from, to) = stored.span;
        let whole = stored.boat.json(&format!("/api/v1/banks/house/sums?from_ms={from}&to_ms={to}")).await;
        for (days, whole) in total.into_iter().zip(sums(&whole)) {
            close(days, whole, zone);
        }
    }
}

#[test]
fn stretches_between_any_edges_say_what_the_samples_say() {
    let stored = stored("Europe/Amsterdam", "2027-03-26");
    let reader = Reader::open(&stored.boat.dir.path().join("days.sqlite")).expect("opens");
    let (from, to) = stored.span;
    let whole = reader.sums(stored.series, UtcMs(from), UtcMs(to)).expect("reads");
    // Odd edges, doubled ones, and ones within the same hour, beyond both ends.
    let mut edges = vec![from - HOUR, from - HOUR];
    edges.extend((0..150).map(|i| from + i * 2_311_117 + (i % 3) * 1000));
    edges.extend([to - 5000, to - 5000, to, to + HOUR]);
    let utc: Vec<UtcMs> = edges.iter().copied().map(UtcMs).collect();
    let cells = reader.between(stored.series, &["current_a", "temperature_c"], &utc).expect("reads");
    let mut covered = 0.0;
    let mut count = 0;
    for (stretch, pair) in utc.windows(2).enumerate() {
        let alone = reader.sums(stored.series, pair[0], pair[1]).expect("reads");
        let cell = &cells[0][stretch];
        assert!((cell.positive / 3600.0 - alone.charge_in_ah).abs() < 1e-9, "{stretch}");
        assert!((0.0 - cell.negative / 3600.0 - alone.charge_out_ah).abs() < 1e-9, "{stretch}");
        assert!((cell.covered_s - alone.covered_s).abs() < 1e-6, "{stretch}");
        let samples = reader.samples(stored.series, pair[0], pair[1]).expect("reads");
        let currents: Vec<f64> = samples.filter_map(|sample| sample.expect("sound").sample.values[1]).collect();
        assert_eq!(cell.count, currents.len() as i64, "{stretch}");
        if !currents.is_empty() {
            let least = currents.iter().copied().fold(f64::INFINITY, f64::min);
            let most = currents.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            assert!((cell.min - least).abs() < 1e-9 && (cell.max - most).abs() < 1e-9, "{stretch}");
        }
        assert_eq!(cells[1][stretch].count, cell.count);
        (covered, count) = (covered + cell.covered_s, count + cell.count);
    }
    assert!((covered - whole.covered_s).abs() < 1e-6);
    assert_eq!(count, reader.samples(stored.series, UtcMs(from), UtcMs(to)).expect("reads").count() as i64);
    assert!(reader.between(stored.series, &["current_a"], &utc[..1]).expect("reads")[0].is_empty());
}

#[tokio::test]
async fn a_day_says_its_lowest_and_highest_charge_and_an_empty_one_says_so() {
    let boat = Boat::afloat();
    let days = boat.json("/api/v1/banks/house/days?from=2026-04-30&to=2026-05-02").await;
    assert_eq!(days["zone"], "Europe/Lisbon");
    let days = days["days"].as_array().expect("days");
    let dates: Vec<&Value> = days.iter().map(|day| &day["date"]).collect();
    assert_eq!(dates, ["2026-04-30", "2026-05-01", "2026-05-02"]);
    assert_eq!(days[1]["start"], "2026-04-30T23:00:00Z", "an hour ahead of UTC in summer");
    let charge = |day: &Value| ["soc_min", "soc_max"].map(|name| day[name].as_f64());
    assert_eq!((charge(&days[0]), charge(&days[2])), ([None; 2], [None; 2]));
    assert_eq!((&days[0]["covered_s"], &days[0]["charge_out_ah"]), (&Value::from(0.0), &Value::from(0.0)));
    let [low, high] = charge(&days[1]).map(|value| value.expect("recorded"));
    // From 80 %, six hours' worth of the twenty-hour rate and a little out, then ten in.
    assert!((0.74..0.76).contains(&low) && (0.80..0.84).contains(&high), "{low} to {high}");
    let [charge_in, charge_out, ..] = sums(&days[1]);
    // All but the second in which the current turns, and the first sample.
    assert!((charge_in - 10.0).abs() < 0.005 && (charge_out - 6.0).abs() < 0.005, "{charge_in} {charge_out}");
}

#[tokio::test]
async fn days_that_cannot_be_answered_are_refused_in_words() {
    let boat = Boat::afloat();
    let ask = |from: &str, to: &str| format!("/api/v1/banks/house/days?from={from}&to={to}");
    for (from, to, named) in [
        ("2026-05-02", "2026-05-01", "before"),
        ("2026-01-01", "2027-02-05", "400 days"),
        ("0001-01-01", "9999-12-31", "400 days"),
        ("2026-02-30", "2026-03-01", "from"),
        ("2026-02-01", "today", "to"),
    ] {
        let detail = boat.get(&ask(from, to)).await.problem(400);
        assert!(detail.contains(named), "{from} to {to}: {detail}");
    }
    let most = boat.json(&ask("2026-01-01", "2027-02-04")).await;
    assert_eq!(most["days"].as_array().map(Vec::len), Some(400));
    boat.get("/api/v1/banks/drive/days?from=2026-05-01&to=2026-05-01").await.problem(404);
}

#[tokio::test]
async fn a_day_that_the_date_line_took_is_none() {
    let mut boat = Boat::afloat();
    "Pacific/Apia".clone_into(&mut Arc::get_mut(&mut boat.live).expect("nobody else has it").zone);
    let days = boat.json("/api/v1/banks/house/days?from=2011-12-29&to=2011-12-31").await;
    let dates: Vec<&Value> = days["days"].as_array().expect("days").iter().map(|day| &day["date"]).collect();
    assert_eq!(dates, ["2011-12-29", "2011-12-31"]);
}
