use super::*;
use proptest::prelude::*;

fn bits(columns: &[Vec<f64>]) -> Vec<Vec<Option<u64>>> {
    columns.iter().map(|c| c.iter().map(|v| (!v.is_nan()).then(|| v.to_bits())).collect()).collect()
}

fn there_and_back(time_ms: &[i64], channels: &[Vec<f64>]) -> Columns {
    let slices: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
    decode(&encode(time_ms, &slices), |_| true).expect("what was just encoded")
}

/// Decimals as a device prints them, and now and then anything that a double can be.
fn value() -> impl Strategy<Value = f64> {
    prop_oneof![
        8 => (-60_000_i32..60_000, 0_usize..4).prop_map(|(n, k)| f64::from(n) / TENS[k]),
        1 => Just(f64::NAN),
        1 => prop::num::f64::NORMAL | prop::num::f64::SUBNORMAL | prop::num::f64::ZERO,
        1 => prop_oneof![Just(f64::MAX), Just(f64::MIN), Just(f64::MIN_POSITIVE), Just(EXACT), Just(-0.0)],
    ]
}

/// Whole channels of decimals, of constants, of anything.
fn channel(count: usize) -> impl Strategy<Value = Vec<f64>> {
    prop_oneof![
        prop::collection::vec((-60_000_i32..60_000).prop_map(|n| f64::from(n) / 1000.0), count),
        prop::collection::vec(value(), count),
        value().prop_map(move |v| vec![v; count]),
    ]
}

fn columns() -> impl Strategy<Value = (Vec<i64>, Vec<Vec<f64>>)> {
    (1_usize..300, 0_usize..4).prop_flat_map(|(count, channels)| {
        (
            (any::<i32>(), prop::collection::vec(prop_oneof![Just(1000_i64), 1_i64..5000], count)).prop_map(
                |(start, steps)| {
                    steps
                        .iter()
                        .scan(i64::from(start), |t, step| {
                            *t += step;
                            Some(*t)
                        })
                        .collect()
                },
            ),
            prop::collection::vec(channel(count), channels),
        )
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn what_goes_in_comes_out_bit_for_bit((time_ms, channels) in columns()) {
        let back = there_and_back(&time_ms, &channels);
        prop_assert_eq!(&back.time_ms, &time_ms);
        prop_assert_eq!(bits(&back.channels), bits(&channels));
    }

    #[test]
    fn damaged_bytes_give_an_error((time_ms, channels) in columns(), at in any::<prop::sample::Index>(), flip in 1_u8..) {
        let slices: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
        let mut data = encode(&time_ms, &slices);
        let at = at.index(data.len());
        data[at] ^= flip;
        prop_assert!(decode(&data, |_| true).is_err());
        prop_assert!(decode(&data[..at], |_| true).is_err());
    }

    /// The checksum is put right again, so that the content itself is what must not panic.
    #[test]
    fn nonsense_under_a_right_checksum_does_not_panic(
        (time_ms, channels) in columns(),
        harm in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
    ) {
        let slices: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
        let mut data = encode(&time_ms, &slices);
        data.truncate(data.len() - 4);
        for (at, byte) in harm {
            let at = at.index(data.len());
            data[at] = byte;
        }
        let crc = crc32fast::hash(&data);
        data.extend(crc.to_le_bytes());
        if let Ok(columns) = decode(&data, |_| true) {
            prop_assert!(columns.channels.iter().all(|c| c.len() == columns.time_ms.len()));
        }
    }

    #[test]
    fn random_bytes_do_not_panic(mut data in prop::collection::vec(any::<u8>(), 0..200)) {
        data.insert(0, VERSION);
        let crc = crc32fast::hash(&data);
        data.extend(crc.to_le_bytes());
        if let Ok(columns) = decode(&data, |_| true) {
            prop_assert!(columns.time_ms.len() <= MAX_COUNT);
        }
    }
}

#[test]
fn a_channel_that_is_not_wanted_is_skipped() {
    let data = encode(&[1, 2, 3], &[&[1.5, 2.5, 3.5], &[7.0, f64::NAN, 9.0]]);
    let columns = decode(&data, |position| position == 1).expect("sound");
    assert!(columns.channels[0].is_empty());
    assert_eq!(bits(&columns.channels)[1], bits(&[vec![7.0, f64::NAN, 9.0]])[0]);
}

#[test]
fn regular_times_and_constants_cost_a_few_bytes() {
    let time_ms: Vec<i64> = (0..3600).map(|s| 7_200_000 + s * 1000).collect();
    let constant = vec![52.31; 3600];
    assert!(encode(&time_ms, &[&constant]).len() < 30);
}

#[test]
fn a_fine_value_among_large_ones_keeps_both() {
    let values = vec![9_007_199_254_740_991.0, 0.000_001, -1e300];
    assert_eq!(bits(&there_and_back(&[1, 2, 3], std::slice::from_ref(&values)).channels), bits(&[values]));
}

#[test]
fn a_chunk_of_a_later_version_is_refused() {
    let mut data = encode(&[1], &[&[1.0]]);
    data.truncate(data.len() - 4);
    data[0] = VERSION + 1;
    let crc = crc32fast::hash(&data);
    data.extend(crc.to_le_bytes());
    assert_eq!(decode(&data, |_| true), Err(CodecError::Version(VERSION + 1)));
}

/// An hour of samples is packed as in version 1, which differs in what few numbers become.
#[test]
fn a_chunk_of_the_first_version_is_read() {
    let time_ms: Vec<i64> = (0..3600).map(|s| s * 1000 + s % 7).collect();
    let values: Vec<f64> = (0..3600).map(|s| f64::from(52_000 + s * s % 13) / 1000.0).collect();
    let mut data = encode(&time_ms, &[&values]);
    data.truncate(data.len() - 4);
    data[0] = FIRST_VERSION;
    let crc = crc32fast::hash(&data);
    data.extend(crc.to_le_bytes());
    let back = decode(&data, |_| true).expect("sound");
    assert_eq!((back.time_ms, back.channels), (time_ms, vec![values]));
}

#[test]
fn buffers_that_held_another_chunk_hold_the_next_one_alone() {
    let long = encode(&[1, 2, 3, 4], &[&[1.0, 2.0, 3.0, 4.0], &[0.1, f64::NAN, 0.3, 0.4]]);
    let short = encode(&[5, 6], &[&[f64::NAN, 0.5]]);
    let (mut unpacker, mut columns) = (Unpacker::default(), Columns::default());
    unpacker.unpack(&long, |_| true, &mut columns).expect("sound");
    unpacker.unpack(&short, |_| true, &mut columns).expect("sound");
    assert_eq!(columns.time_ms, [5, 6]);
    assert_eq!(bits(&columns.channels), bits(&[vec![f64::NAN, 0.5]]));
}

#[test]
fn too_many_samples_are_refused_before_memory_is_taken() {
    let mut data = vec![VERSION];
    put(&mut data, u64::MAX);
    put(&mut data, 1);
    let crc = crc32fast::hash(&data);
    data.extend(crc.to_le_bytes());
    assert_eq!(decode(&data, |_| true), Err(CodecError::Nonsense("too many samples")));
}
