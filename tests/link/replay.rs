//! Recorded logs and what they must give: `NAME.log` beside `NAME.expected`.
//!
//! A stuck channel (`stuck`) passes here: that a value repeats is no fault of the wire.
//! With `TAFFRAIL_BLESS=1` the expectations are written anew; the difference is to be reviewed.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use taffrail::link::{BadLine, DeviceSpec, FrameSpec, replay};
use taffrail::quantity::{BootNo, Moment, MonoMs};

use super::spec;

/// Logs whose name begins with `columns` come from a device that sends fields in a fixed order, in thousandths,
/// hundredths and tenths.
fn spec_of(log: &Path) -> DeviceSpec {
    let mut spec = spec("/nowhere".as_ref());
    let name = log.file_name().and_then(|name| name.to_str()).expect("text");
    if name.starts_with("columns") {
        let column = |name: &str| Some(name.to_owned());
        spec.frame = FrameSpec::Delimited {
            separator: ',',
            columns: vec![column("voltage_v"), column("current_a"), None, column("temperature_c")],
            scale: Some(vec![0.001, 0.01, 1.0, 0.1]),
        };
    }
    spec
}

/// Everything that a replay gives, as text.
fn outcome(log: &Path) -> String {
    let spec = spec_of(log);
    let bytes = std::fs::read(log).expect("a log");
    let mut text = String::new();
    let mut second = 0;
    let stamp = || {
        second += 1;
        Moment { boot: BootNo(1), mono: MonoMs(second * 1000) }
    };
    let replayed = replay(&spec, &bytes, stamp, |sample| {
        write!(text, "{}", sample.at.mono.0).expect("text");
        for value in sample.values {
            match value {
                Some(value) => write!(text, " {value:.6}"),
                None => write!(text, " -"),
            }
            .expect("text");
        }
        text.push('\n');
    })
    .expect("a sound description");
    let tally = &replayed.tally;
    writeln!(
        text,
        "bytes {} lines {} blank {} samples {} overlong {} partial {}",
        tally.bytes, tally.lines, tally.blank, tally.samples, tally.overlong, tally.partial
    )
    .expect("text");
    for reason in BadLine::ALL {
        if tally.bad.of(reason) > 0 {
            writeln!(text, "bad: {reason}: {}", tally.bad.of(reason)).expect("text");
        }
    }
    for (channel, refused) in spec.channels.iter().zip(&tally.refused) {
        writeln!(text, "refused: {channel}: {} unreadable, {} out of range", refused.unreadable, refused.out_of_range)
            .expect("text");
    }
    for (what, last) in [("bad", replayed.last_bad), ("refused", replayed.last_refused)] {
        if let Some(last) = last {
            writeln!(text, "last {what}: {last}").expect("text");
        }
    }
    text
}

#[test]
fn recorded_logs_give_what_they_gave_before() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/link");
    let mut logs: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the fixtures")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|extension| extension == "log"))
        .collect();
    logs.sort();
    assert!(logs.len() >= 7, "{} logs", logs.len());
    for log in logs {
        let expected = log.with_extension("expected");
        let outcome = outcome(&log);
        if std::env::var_os("TAFFRAIL_BLESS").is_some() {
            std::fs::write(&expected, &outcome).expect("writes");
        }
        let wanted = std::fs::read_to_string(&expected).expect("an expectation");
        assert_eq!(outcome, wanted, "{}", log.display());
    }
}
