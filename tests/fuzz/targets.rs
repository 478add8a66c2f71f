//! What is fed with arbitrary bytes: everything that is read back from a file or comes from a wire. A target panics where
//! its promise is broken. Shared by the fuzzer (`tests/fuzz/`) and the bounded run among the tests (`tests/property/fuzz.rs`).

use std::path::Path;

use taffrail::battery::{Bank, Chemistry};
use taffrail::cli::Trace;
use taffrail::config::Config;
use taffrail::link::{DeviceSpec, FrameSpec, Intake, LINE_CAP, Limit};
use taffrail::quantity::{Channel, Reading};
use taffrail::reckoning::{Reckoner, TimeOff};
use taffrail::store::codec::{self, CodecError, Columns};
use taffrail::store::slate;

/// A target by its name, which its folder of the corpus has, too.
pub type Target = (&'static str, fn(&[u8]));

/// All of them.
pub const ALL: [Target; 7] = [
    ("chunk", chunk),
    ("slate", slate_file),
    ("trace", trace),
    ("config", config),
    ("state", state),
    ("json_lines", json_lines),
    ("delimited", delimited),
];

/// A chunk, a chunk of minutes, or a row of the tail. Fuzzed bytes rarely have a right checksum: both the bytes and the
/// bytes with one are tried.
pub fn chunk(data: &[u8]) {
    if let Err(error) = decoded(data) {
        let mended = with_checksum(data);
        if error == CodecError::Checksum {
            let _ = decoded(&mended);
        }
    }
}

/// `data` with its last four bytes made the checksum of the others.
fn with_checksum(data: &[u8]) -> Vec<u8> {
    let content = &data[..data.len().saturating_sub(4)];
    let mut mended = content.to_vec();
    mended.extend(crc32fast::hash(content).to_le_bytes());
    mended
}

fn decoded(data: &[u8]) -> Result<(), CodecError> {
    let columns = codec::decode(data, |_| true)?;
    let count = columns.time_ms.len();
    assert!(count <= codec::MAX_COUNT && columns.channels.len() <= codec::MAX_CHANNELS);
    assert!(columns.channels.iter().all(|channel| channel.len() == count), "every channel is as long as the times");
    let slices: Vec<&[f64]> = columns.channels.iter().map(Vec::as_slice).collect();
    let again = codec::decode(&codec::encode(&columns.time_ms, &slices), |_| true).expect("just packed");
    assert_eq!(bits(&again), bits(&columns), "what unpacks packs again");
    let times = codec::decode(data, |_| false).expect("less is asked for");
    assert_eq!(times.time_ms, columns.time_ms);
    Ok(())
}

fn bits(columns: &Columns) -> (Vec<i64>, Vec<Vec<u64>>) {
    // Whatever it is that stands for nothing, it stands for nothing.
    let bits = |value: &f64| if value.is_nan() { f64::NAN.to_bits() } else { value.to_bits() };
    (columns.time_ms.clone(), columns.channels.iter().map(|channel| channel.iter().map(bits).collect()).collect())
}

/// The slate beside a store, as it is and with a right checksum in its first slot.
pub fn slate_file(data: &[u8]) {
    note(data);
    if let Some(mended) = with_slot_checksum(data) {
        note(&mended);
    }
}

/// Magic, checksum of all that follows, length of the payload, and so on, as the slate's documentation tells.
fn with_slot_checksum(data: &[u8]) -> Option<Vec<u8>> {
    let mut mended = data.to_vec();
    let length = u32::from_le_bytes(data.get(12..16)?.try_into().ok()?);
    let covered = data.get(12..32_usize.checked_add(usize::try_from(length).ok()?)?)?;
    mended[..8].copy_from_slice(b"tafslat1");
    mended[8..12].copy_from_slice(&crc32fast::hash(covered).to_le_bytes());
    Some(mended)
}

fn note(file: &[u8]) {
    let Some(note) = slate::latest_note(file) else { return };
    for stretch in &note.stretches {
        assert!(stretch.count <= codec::MAX_COUNT);
        // As a start takes them up.
        let _ = codec::decode(&stretch.data, |_| true);
    }
    if let Some(slot) = slate::pack(&note) {
        assert_eq!(slate::latest_note(&slot).as_ref(), Some(&note), "what is read can be written again");
    }
}

/// A recorded trace.
pub fn trace(data: &[u8]) {
    let Ok(readings) = readings(data) else { return };
    assert!(readings.windows(2).all(|pair| pair[0].t_s < pair[1].t_s), "times rise");
    let mut text = String::from("t_s,voltage_v,current_a,temperature_c\n");
    for Reading { t_s, voltage_v, current_a, temperature_c } in &readings {
        assert!([*t_s, *voltage_v, *current_a].iter().all(|value| value.is_finite()));
        let temperature_c = temperature_c.map(|value| value.to_string()).unwrap_or_default();
        text.push_str(&format!("{t_s},{voltage_v},{current_a},{temperature_c}\n"));
    }
    assert_eq!(self::readings(text.as_bytes()).expect("a trace"), readings, "what is read can be written again");
}

/// All rows, or what is wrong in words.
fn readings(data: &[u8]) -> Result<Vec<Reading>, String> {
    let told = |error: taffrail::cli::TraceError| error.to_string();
    let mut trace = Trace::read(Path::new("any.csv"), data).map_err(told)?;
    let mut readings = Vec::new();
    while let Some(reading) = trace.next_reading().map_err(told)? {
        readings.push(reading);
    }
    Ok(readings)
}

/// A configuration.
pub fn config(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let folder = Path::new("/boat");
    match Config::parse(text, folder) {
        Ok(config) => {
            let shown = config.to_string();
            match Config::parse(&shown, folder) {
                Ok(again) => assert_eq!(again, config, "the effective settings are these settings"),
                Err(problems) => panic!("the effective settings are none: {problems:?}\n{shown}"),
            }
        }
        Err(problems) => {
            assert!(!problems.is_empty());
            problems.iter().for_each(|problem| assert!(!problem.to_string().is_empty()));
        }
    }
}

/// The saved state of a reckoning, by either method.
pub fn state(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let bank = Bank::new("drive", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("possible");
    let off = TimeOff::Known { seconds: 0.0 };
    let Ok(mut reckoner) = Reckoner::resume(bank.clone(), text, off) else { return };
    let _ = reckoner.report();
    for (t_s, current_a) in [(1e9, -5.0), (1e9 + 1.0, -5.0), (1e9 + 61.0, 20.0)] {
        reckoner.step(&Reading { t_s, voltage_v: 51.0, current_a, temperature_c: Some(20.0) });
        let _ = reckoner.report();
    }
    let _ = Reckoner::resume(bank, &reckoner.save(), off);
}

/// Lines of a device that sends JSON.
pub fn json_lines(data: &[u8]) {
    lines(data, FrameSpec::JsonLines);
}

/// Lines of a device that sends fields.
pub fn delimited(data: &[u8]) {
    let columns = ["voltage_v", "current_a", "-", "temperature_c"];
    let columns = columns.iter().map(|name| (*name != "-").then(|| (*name).to_owned())).collect();
    lines(data, FrameSpec::Delimited { separator: ',', columns, scale: Some(vec![0.001, 0.01, 1.0, 0.1]) });
}

fn lines(data: &[u8], frame: FrameSpec) {
    let channel = |name: &&str| Channel::try_new(name).expect("a name");
    let limit = Limit { low: -10_000.0, high: 10_000.0 };
    let spec = DeviceSpec {
        name: "shunt".to_owned(),
        channels: ["voltage_v", "current_a", "temperature_c"].iter().map(channel).collect(),
        port: "/dev/null".into(),
        baud: 19_200,
        frame,
        limits: vec![Some(limit); 3],
        quiet_after_s: 10.0,
    };
    let mut intake = Intake::new(&spec).expect("fits itself");
    // As it comes off a wire: in pieces.
    let mut whole = 0;
    for mut piece in data.chunks(61) {
        while let Some(values) = intake.next_values(&mut piece) {
            whole += 1;
            assert_eq!(values.len(), 3);
            let mut present = values.iter().flatten();
            assert!(present.clone().next().is_some(), "a sample has a value");
            assert!(present.all(|value| value.abs() <= 10_000.0), "{values:?}");
        }
        assert!(piece.is_empty(), "everything is taken");
    }
    assert!(whole <= data.iter().filter(|byte| **byte == b'\n').count(), "no more samples than lines");
    assert!(intake.last_bad().is_none_or(|text| text.len() <= 4 * LINE_CAP));
}
