use super::*;
use crate::quantity::{BootNo, MonoMs};

fn at(minute: i64) -> Moment {
    Moment { boot: BootNo(1), mono: MonoMs(minute * MINUTE_MS) }
}

/// Gives samples minute by minute, and what comes of them.
fn minutes(gap_ms: i64, samples: &[(i64, f64, f64)]) -> Vec<Minute> {
    let mut builder = MinuteBuilder::new(gap_ms, 0, 0, None);
    let of_minute = |sample: &(i64, f64, f64)| sample.0.div_euclid(MINUTE_MS);
    samples.chunk_by(|a, b| of_minute(a) == of_minute(b)).filter_map(|rows| build(&mut builder, rows)).collect()
}

fn build(builder: &mut MinuteBuilder, rows: &[(i64, f64, f64)]) -> Option<Minute> {
    let time_ms: Vec<i64> = rows.iter().map(|row| row.0).collect();
    let voltage_v: Vec<f64> = rows.iter().map(|row| row.1).collect();
    let current_a: Vec<f64> = rows.iter().map(|row| row.2).collect();
    let at = at(rows[0].0.div_euclid(MINUTE_MS));
    let rows = MainRows { time_ms: &time_ms, voltage_v: &voltage_v, current_a: &current_a, temperature_c: &[] };
    builder.main(at.mono.0, &rows);
    builder.close(at, None, None)
}

#[test]
fn the_interval_between_two_samples_belongs_to_the_later_one() {
    let found = minutes(30_000, &[(50_000, 50.0, -6.0), (70_000, 50.0, -6.0), (80_000, 50.0, 3.0)]);
    assert!((found[1].covered_s - 30.0).abs() < 1e-9);
    // 20 s at -6 A; then the line from -6 to 3 A crosses zero after two thirds of 10 s.
    assert!((found[1].charge_out_ah - (120.0 + 20.0) / 3600.0).abs() < 1e-9);
    assert!((found[1].charge_in_ah - 5.0 / 3600.0).abs() < 1e-9);
    assert!((found[1].energy_in_wh - 50.0 * 5.0 / 3600.0).abs() < 1e-9);
    assert_eq!(found[1].unseen_s, Some(0.0));
    let current = found[1].current_a.expect("measured");
    assert_eq!((current.min.at, current.max.at), (MonoMs(70_000), MonoMs(80_000)));
    assert!((current.mean - -135.0 / 30.0).abs() < 1e-9);
}

#[test]
fn nothing_is_summed_over_a_gap_and_what_nobody_saw_is_said() {
    let found = minutes(10_000, &[(0, 50.0, -6.0), (10_000, 50.0, -6.0), (200_000, 50.0, -6.0), (210_000, 50.0, -6.0)]);
    let covered: Vec<f64> = found.iter().map(|minute| minute.covered_s).collect();
    assert!((covered[0] - 10.0).abs() < 1e-9 && (covered[1] - 10.0).abs() < 1e-9, "{covered:?}");
    assert_eq!(found[0].unseen_s, None, "nothing came before");
    assert_eq!(found[1].unseen_s, Some(120.0));
}

#[test]
fn samples_rarer_than_minutes_leave_nothing_unseen() {
    let rare: Vec<_> = (0..5).map(|n| (n * 300_000, 50.0, -12.0)).collect();
    let found = minutes(900_000, &rare);
    assert_eq!(found.len(), 5);
    assert!(found[1..].iter().all(|minute| minute.unseen_s == Some(0.0) && (minute.covered_s - 300.0).abs() < 1e-9));
    let out: f64 = found.iter().map(|minute| minute.charge_out_ah).sum();
    assert!((out - 4.0).abs() < 1e-9, "20 minutes at 12 A: {out}");
}

#[test]
fn a_channel_without_values_is_not_made_up() {
    let found = minutes(10_000, &[(0, f64::NAN, -6.0), (1000, f64::NAN, -6.0)]);
    assert_eq!((found[0].voltage_v, found[0].power_w, found[0].temperature_c), (None, None, None));
    assert!(found[0].energy_out_wh.abs() < 1e-12 && found[0].charge_out_ah > 0.0);
}

#[test]
fn a_builder_that_goes_on_builds_the_same_minutes() {
    let samples: Vec<_> = (0..600_i64).map(|n| (n * 1700, 50.0, (n % 17) as f64 - 8.0)).collect();
    let whole = minutes(10_000, &samples);
    let cut = at(7);
    let mut builder = MinuteBuilder::new(10_000, 0, 0, Some(cut));
    let before: Vec<_> =
        samples.iter().copied().filter(|row| (cut.mono.0 - 10_000..cut.mono.0).contains(&row.0)).collect();
    let columns = |pick: fn(&(i64, f64, f64)) -> f64| before.iter().map(pick).collect::<Vec<f64>>();
    let time_ms: Vec<i64> = before.iter().map(|row| row.0).collect();
    let (voltage_v, current_a) = (columns(|row| row.1), columns(|row| row.2));
    let rows = MainRows { time_ms: &time_ms, voltage_v: &voltage_v, current_a: &current_a, temperature_c: &[] };
    builder.main(cut.mono.0 - MINUTE_MS, &rows);
    builder.leave(at(6));
    let rest: Vec<_> = samples.iter().copied().filter(|row| row.0 >= cut.mono.0).collect();
    let again: Vec<Minute> =
        rest.chunk_by(|a, b| a.0 / MINUTE_MS == b.0 / MINUTE_MS).filter_map(|rows| build(&mut builder, rows)).collect();
    assert_eq!(again, whole[7..]);
}

#[test]
fn other_channels_come_with_their_meaning() {
    let mut builder = MinuteBuilder::new(10_000, 2, 1, None);
    let time_ms = [0, 10_000];
    builder.main(
        0,
        &MainRows { time_ms: &time_ms, voltage_v: &[50.0; 2], current_a: &[0.0; 2], temperature_c: &[20.0; 2] },
    );
    for (name, value) in [("monobloc_2_v", 12.5), ("speed_over_ground_m_s", 1852.0 / 3600.0), ("balancer", 1.0)] {
        builder.lane(Lane::of_name(name).expect("known"), 10_000, &time_ms, &[value; 2]);
    }
    builder.lane(Lane::Branch { place: 0, reversed: true }, 10_000, &time_ms, &[7.0; 2]);
    let minute = builder.close(at(0), None, None).expect("heard");
    assert_eq!(minute.monobloc_v.iter().map(|v| v.map(|v| v.mean)).collect::<Vec<_>>(), [None, Some(12.5)]);
    assert_eq!(minute.branch_a, [Some(-7.0)]);
    assert!((minute.speed_kn.expect("measured") - 1.0).abs() < 1e-12, "a knot is 1852 m an hour");
    assert_eq!(minute.balancing, Some(1.0));
    assert_eq!(minute.temperature_c, Some(20.0));
}

#[test]
fn monoblocs_and_cells_are_known_by_their_numbers() {
    assert_eq!(monobloc_place("monobloc_1_v"), Some((0, false)));
    assert_eq!(monobloc_place("cell_16_v"), Some((15, true)));
    for other in ["monobloc_0_v", "monobloc_v", "cell_x_v", "voltage_v", "monobloc_1_c", "cell_1000_v"] {
        assert_eq!(monobloc_place(other), None, "{other}");
    }
}
