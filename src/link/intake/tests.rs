use super::*;
use crate::link::FrameSpec;
use proptest::prelude::*;

fn spec() -> DeviceSpec {
    DeviceSpec {
        name: "shunt".to_owned(),
        channels: ["voltage_v", "current_a"].map(|name| Channel::try_new(name).expect("a channel name")).to_vec(),
        port: "/nowhere".into(),
        baud: 19_200,
        frame: FrameSpec::JsonLines,
        limits: vec![Some(Limit { low: 0.0, high: 80.0 }), None],
        quiet_after_s: DeviceSpec::QUIET_AFTER_S,
    }
}

fn samples(intake: &mut Intake, mut bytes: &[u8]) -> Vec<Vec<Option<f64>>> {
    let mut samples = Vec::new();
    while let Some(values) = intake.next_values(&mut bytes) {
        samples.push(values.to_vec());
    }
    samples
}

#[test]
fn a_value_out_of_its_limit_is_refused_and_counted_and_the_rest_of_the_line_stands() {
    let mut intake = Intake::new(&spec()).expect("fits");
    let log = b"\n{\"voltage_v\":80,\"current_a\":1e9}\n{\"voltage_v\":80.1,\"current_a\":1}\n{\"voltage_v\":-1,\"current_a\":nan}\n";
    assert_eq!(samples(&mut intake, log), [vec![Some(80.0), Some(1e9)], vec![None, Some(1.0)]]);
    let tally = intake.tally();
    assert_eq!((tally.refused[0].out_of_range, tally.refused[0].unreadable), (2, 0));
    assert_eq!((tally.refused[1].out_of_range, tally.refused[1].unreadable), (0, 1));
    assert_eq!(tally.refused_total(), 3);
    assert_eq!(tally.bad.of(BadLine::NoValue), 1);
    assert_eq!((tally.lines, tally.samples, tally.bytes), (3, 2, log.len() as u64));
}

#[test]
fn what_was_refused_is_kept_printable_and_short() {
    let mut intake = Intake::new(&spec()).expect("fits");
    samples(&mut intake, b"\n{\"voltage_v\":999,\"current_a\":1}\n\x1b[2J\xff\"\n");
    assert_eq!(intake.last_refused(), Some("voltage_v: 999 is not within 0 to 80"));
    assert_eq!(intake.last_bad(), Some("not UTF-8 text: \\x1b[2J\\xff\""));
    let mut long = vec![b'x'; 4000];
    long.push(b'\n');
    samples(&mut intake, &long);
    let shown = intake.last_bad().expect("refused");
    assert!(shown.ends_with("x…") && shown.len() < 120, "{shown}");
}

#[test]
fn blank_lines_are_neither_bad_nor_samples() {
    let mut intake = Intake::new(&spec()).expect("fits");
    assert!(samples(&mut intake, b"\n\n \t\r\n\r\n").is_empty());
    let tally = intake.tally();
    assert_eq!((tally.lines, tally.blank, tally.bad.total()), (3, 3, 0));
}

#[test]
fn a_contradictory_description_is_refused_with_the_reason() {
    let channel = |name: &str| Channel::try_new(name).expect("a channel name");
    type Spoil = fn(&mut DeviceSpec);
    let checks: [(Spoil, &str); 9] = [
        (|s| s.channels.clear(), "1 to 128 channels, not 0"),
        (|s| s.channels[1] = s.channels[0].clone(), "\"voltage_v\" is listed twice"),
        (|s| s.limits.truncate(1), "1 limits for 2 channels"),
        (|s| s.limits[0] = Some(Limit { low: 5.0, high: 5.0 }), "from 5 to 5"),
        (|s| s.limits[0] = Some(Limit { low: f64::NAN, high: 5.0 }), "from NaN to 5"),
        (|s| s.baud = 0, "baud 0"),
        (|s| s.quiet_after_s = 0.0, "quiet-after-s is 0"),
        (|s| s.quiet_after_s = f64::NAN, "quiet-after-s is NaN"),
        (|s| s.quiet_after_s = 1e300, "quiet-after-s is 1"),
    ];
    for (spoil, reason) in checks {
        let mut spoilt = spec();
        spoil(&mut spoilt);
        let error = spoilt.check().expect_err(reason);
        assert!(error.to_string().contains(reason), "{error}");
    }
    let mut many = spec();
    many.channels = (0..129).map(|i| channel(format!("c{i}_v").as_str())).collect();
    assert_eq!(many.check(), Err(SpecError::ChannelCount(129)));
    assert_eq!(spec().check(), Ok(()));
}

proptest! {
    #[test]
    fn every_byte_and_every_line_is_accounted_for(
        reads in prop::collection::vec(
            prop_oneof![
                prop::collection::vec(any::<u8>(), 0..300),
                Just(b"{\"voltage_v\":52.31,\"current_a\":-8.92}\r\n".to_vec()),
                Just(vec![b'z'; 3000]),
                Just(b"\n".to_vec()),
            ],
            0..20,
        ),
    ) {
        let mut intake = Intake::new(&spec()).expect("fits");
        let mut taken = 0;
        for read in &reads {
            taken += samples(&mut intake, read).len() as u64;
        }
        intake.restart();
        let all: Vec<u8> = reads.concat();
        let newlines = all.iter().filter(|&&byte| byte == b'\n').count() as u64;
        let tally = intake.tally();
        prop_assert_eq!(tally.bytes, all.len() as u64);
        prop_assert_eq!(tally.samples, taken);
        prop_assert_eq!(tally.lines, tally.blank + tally.samples + tally.bad.total());
        // The newline that ended the joining is no line; an overlong or partial piece may lack its newline.
        prop_assert!(tally.lines + 1 + tally.overlong + tally.partial >= newlines);
        prop_assert!(tally.lines <= newlines);
    }
}
