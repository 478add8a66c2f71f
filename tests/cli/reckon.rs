//! `taffrail reckon`: the contract for outside checks.

use super::*;

const HEADER: &str = "t_s,soc,soc_low,soc_high,capacity_ah,capacity_low_ah,capacity_high_ah,\
                      endurance_s,endurance_low_s,endurance_high_s";

fn reckon(desk: &Desk, further: &[&str]) -> Output {
    let mut arguments = vec!["reckon", "--config", "taffrail.toml", "--bank", "house"];
    arguments.extend(further);
    desk.run(&arguments)
}

/// The rows below the header, as the fields that they are made of.
fn rows(output: &Output) -> Vec<Vec<String>> {
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    table(&text(&output.stdout))
}

fn table(csv: &str) -> Vec<Vec<String>> {
    let mut lines = csv.lines();
    assert_eq!(lines.next(), Some(HEADER));
    lines.map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

fn number(field: &str) -> f64 {
    field.parse().unwrap_or_else(|_| panic!("\"{field}\" is no number"))
}

/// (low, likely, high) of the state of charge in a row.
fn soc(row: &[String]) -> [f64; 3] {
    [number(&row[2]), number(&row[1]), number(&row[3])]
}

/// Reckons a trace that has a mistake in it, and gives the one line that is said of it.
fn refusal(trace: &str) -> String {
    let desk = Desk::new();
    desk.write("trace.csv", trace);
    one_line(&reckon(&desk, &["trace.csv"]))
}

fn one_line(output: &Output) -> String {
    let told = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{told}");
    assert_eq!(told.lines().count(), 1, "{told}");
    told
}

#[test]
fn each_row_of_the_trace_gives_one_row_with_its_time() {
    let desk = Desk::new();
    desk.write("trace.csv", STEADY_LOAD);
    let rows = rows(&reckon(&desk, &["--start", "full", "trace.csv"]));
    let times: Vec<f64> = rows.iter().map(|row| number(&row[0])).collect();
    assert_eq!(times, [0.0, 600.0, 1200.0, 1800.0, 2400.0, 3000.0, 3600.0]);
    for row in &rows {
        assert_eq!(row.len(), 10, "{row:?}");
        let [low, likely, high] = soc(row);
        assert!(0.0 <= low && low <= likely && likely <= high && high <= 1.0, "{row:?}");
        let [capacity, low, high] = [4, 5, 6].map(|i| number(&row[i]));
        assert!(0.0 < low && low <= capacity && capacity <= high, "{row:?}");
    }
    // One hour at the 20 h rate of 120 Ah takes a twentieth of it.
    assert!((soc(&rows[6])[1] - 0.95).abs() < 0.005, "{:?}", rows[6]);
}

#[test]
fn further_columns_and_their_order_do_not_matter() {
    let desk = Desk::new();
    desk.write("plain.csv", STEADY_LOAD);
    let shuffled: String = STEADY_LOAD
        .lines()
        .map(|line| {
            let fields: Vec<_> = line.split(',').collect();
            format!("{},note,{},{},x,{}\n", fields[3], fields[2], fields[0], fields[1])
        })
        .collect();
    desk.write("shuffled.csv", &shuffled);
    let plain = reckon(&desk, &["--start", "0.80", "plain.csv"]);
    let shuffled = reckon(&desk, &["--start", "0.80", "shuffled.csv"]);
    assert_eq!(rows(&plain).len(), 7);
    assert_eq!(text(&plain.stdout), text(&shuffled.stdout));
}

#[test]
fn temperature_may_be_empty_or_absent() {
    let desk = Desk::new();
    desk.write("empty.csv", &STEADY_LOAD.replace(",20\n", ",\n"));
    desk.write("absent.csv", &STEADY_LOAD.replace(",20\n", "\n").replace(",temperature_c", ""));
    let empty = reckon(&desk, &["empty.csv"]);
    assert_eq!(rows(&empty).len(), 7);
    assert_eq!(text(&empty.stdout), text(&reckon(&desk, &["absent.csv"]).stdout));
}

#[test]
fn the_result_goes_to_the_named_file_instead() {
    let desk = Desk::new();
    desk.write("trace.csv", STEADY_LOAD);
    let to_file = reckon(&desk, &["--out", "result.csv", "trace.csv"]);
    assert_eq!(to_file.status.code(), Some(0));
    assert!(to_file.stdout.is_empty());
    let written = std::fs::read_to_string(desk.path("result.csv")).expect("written");
    assert_eq!(table(&written).len(), 7);
    assert_eq!(written, text(&reckon(&desk, &["trace.csv"]).stdout));
}

#[test]
fn the_start_sets_the_first_row() {
    let desk = Desk::new();
    desk.write("trace.csv", STEADY_LOAD);
    let first = |start: &str| soc(&rows(&reckon(&desk, &["--start", start, "trace.csv"]))[0]);
    let [low, _, high] = first("unknown");
    assert!(low < 1e-9 && high > 1.0 - 1e-9, "nothing is known: {low}..{high}");
    let [low, likely, high] = first("full");
    assert!(likely > 0.99 && high > 0.99 && low > 0.9, "full: {low}..{likely}..{high}");
    let [low, likely, high] = first("0.80");
    assert!((likely - 0.8).abs() < 0.005, "as said: {likely}");
    assert!(low > 0.5 && low < 0.8 && high > 0.8, "as said, with a doubt: {low}..{high}");
}

/// A trace of a load, a charge that ends full, and a load again, sampled each minute.
fn through_a_full_charge() -> String {
    let mut trace = "t_s,voltage_v,current_a,temperature_c\n".to_owned();
    for minute in 0..240 {
        let (voltage_v, current_a) = match minute {
            0..60 => (50.5, -12.0),
            60..120 => (55.0, 12.0),
            120..180 => (57.2, 1.5),
            _ => (50.8, -6.0),
        };
        trace.push_str(&format!("{},{voltage_v},{current_a},20\n", minute * 60));
    }
    trace
}

#[test]
fn smoothed_rows_are_those_of_the_trace_and_only_the_charge_is_reconciled() {
    let desk = Desk::new();
    desk.write("trace.csv", &through_a_full_charge());
    for method in ["filter", "counter"] {
        let arguments = ["--method", method, "--start", "0.80", "trace.csv"];
        let live = rows(&reckon(&desk, &arguments));
        let smoothed = rows(&reckon(&desk, &[&["--smooth"][..], &arguments].concat()));
        assert_eq!(live.len(), 240);
        assert_eq!(smoothed.len(), 240);
        for (live, smoothed) in live.iter().zip(&smoothed) {
            assert_eq!(live[0], smoothed[0]);
            assert_eq!(live[4..], smoothed[4..], "capacity and endurance stay as they were at the time");
            let [low, likely, high] = soc(smoothed);
            assert!(0.0 <= low && low <= likely && likely <= high && high <= 1.0, "{smoothed:?}");
        }
        // The full fix, with the greatest step, is the end of a run: there the charge stays, and the step is no greater.
        let [live, smoothed] = [live, smoothed].map(|rows| rows.iter().map(|row| soc(row)[1]).collect::<Vec<_>>());
        let step = |line: &[f64], row: usize| (line[row] - line[row - 1]).abs();
        let full = (1..240).max_by(|&a, &b| step(&live, a).total_cmp(&step(&live, b))).expect("rows");
        assert!((120..180).contains(&full), "{full}");
        // The filter's way and the count's both end at the fix, each as near to it as its own doubt has it.
        assert!((smoothed[full] - live[full]).abs() < 1e-3, "{} for {}", smoothed[full], live[full]);
        assert!(step(&smoothed, full) <= step(&live, full), "{method}");
    }
}

#[test]
fn without_a_start_nothing_is_known() {
    let desk = Desk::new();
    desk.write("trace.csv", STEADY_LOAD);
    let unsaid = reckon(&desk, &["trace.csv"]);
    assert_eq!(rows(&unsaid), rows(&reckon(&desk, &["--start", "unknown", "trace.csv"])));
}

#[test]
fn endurance_is_a_range_under_load_and_empty_while_charging() {
    let desk = Desk::new();
    desk.write("load.csv", STEADY_LOAD);
    let under_load = rows(&reckon(&desk, &["--start", "0.80", "load.csv"]));
    let [likely, low, high] = [7, 8, 9].map(|i| number(&under_load[6][i]));
    assert!(low < likely && likely < high, "{low}..{likely}..{high}");
    // About 90 Ah at 6 A.
    assert!((12.0..18.0).contains(&(likely / 3600.0)), "{likely} s");
    desk.write("charge.csv", &STEADY_LOAD.replace(",-6,", ",6,"));
    for row in rows(&reckon(&desk, &["--start", "0.50", "charge.csv"])) {
        assert_eq!(row[7..], ["", "", ""], "{row:?}");
    }
}

#[test]
fn a_row_that_cannot_be_used_is_told_with_its_file_line_field_and_what_was_expected() {
    let cases = [
        ("0,51.2,-6,20\n600,51.1,six,20\n", ["trace.csv:3", "current_a", "\"six\"", "expected a number"]),
        ("0,51.2,-6,20\n600,NaN,-6,20\n", ["trace.csv:3", "voltage_v", "\"NaN\"", "expected a number"]),
        ("0,51.2,-6,warm\n", ["trace.csv:2", "temperature_c", "\"warm\"", "expected a number"]),
        ("0,1e400,-6,20\n", ["trace.csv:2", "voltage_v", "\"1e400\"", "expected a number"]),
        ("0,51.2,,20\n", ["trace.csv:2", "current_a", "\"\"", "expected a number"]),
        ("0,51.2\n", ["trace.csv:2", "current_a", "\"\"", "expected a number"]),
        ("0,51.2,-6,20\n5,51,-6,20\n4,51,-6,20\n", ["trace.csv:4", "t_s", "is 4", "expected more than"]),
        ("0,51.2,-6,20\n0,51,-6,20\n", ["trace.csv:3", "t_s", "is 0", "expected more than"]),
    ];
    for (body, parts) in cases {
        let told = refusal(&format!("t_s,voltage_v,current_a,temperature_c\n{body}"));
        for part in parts {
            assert!(told.contains(part), "{part} in\n{told}of\n{body}");
        }
    }
}

#[test]
fn a_missing_column_is_told_with_those_expected() {
    let told = refusal("t_s,volts,current_a\n0,51.2,-6\n");
    for part in ["trace.csv:1", "voltage_v", "expected t_s,voltage_v,current_a,temperature_c"] {
        assert!(told.contains(part), "{part} in\n{told}");
    }
}

#[test]
fn a_missing_trace_is_told_by_name() {
    let told = one_line(&reckon(&Desk::new(), &["nowhere.csv"]));
    assert!(told.contains("nowhere.csv"), "{told}");
}

#[test]
fn an_unknown_bank_is_told_with_those_that_there_are() {
    let desk = Desk::new();
    desk.write("trace.csv", STEADY_LOAD);
    let told = one_line(&desk.run(&["reckon", "--config", "taffrail.toml", "--bank", "drive", "trace.csv"]));
    for part in ["taffrail.toml", "\"drive\"", "expected one of: house"] {
        assert!(told.contains(part), "{part} in\n{told}");
    }
}
