//! One look at a device, for whoever sets it up.

use std::io;
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncReadExt};

use super::device::{DeviceSpec, SpecError};
use super::intake::Intake;
use super::port::{Port, explain};
use super::tally::Tally;

/// What a look at a device found.
#[derive(Debug, Clone, PartialEq)]
pub struct ProbeReport {
    /// The latest value of each channel, in the order of the channels; `None` where none came.
    pub values: Vec<Option<f64>>,
    /// Why some or all values are missing; `None` if every channel has one.
    pub problem: Option<String>,
    /// What was counted.
    pub tally: Tally,
    /// The last line that was refused, with the reason.
    pub last_bad: Option<String>,
    /// The last value that was refused, with its channel and the reason.
    pub last_refused: Option<String>,
}

/// Opens the port and reads until every channel has given a value, at most for `wait`.
///
/// # Errors
/// [`SpecError`] if the description contradicts itself. A port that cannot be opened is no error but a report.
pub async fn probe(spec: &DeviceSpec, wait: Duration) -> Result<ProbeReport, SpecError> {
    let mut intake = Intake::new(spec)?;
    let mut values = vec![None; spec.channels.len()];
    let problem = match Port::open(&spec.port, spec.baud) {
        Err(error) => Some(explain(&spec.port, &error)),
        Ok(mut port) => {
            let look = look(&mut port, &mut intake, &mut values);
            let ended = tokio::time::timeout(wait, look).await;
            what_is_missing(spec, &intake, &values, ended.ok().and_then(Result::err))
        }
    };
    Ok(ProbeReport {
        values,
        problem,
        tally: intake.tally().clone(),
        last_bad: intake.last_bad().map(str::to_owned),
        last_refused: intake.last_refused().map(str::to_owned),
    })
}

async fn look(port: &mut (impl AsyncRead + Unpin), intake: &mut Intake, latest: &mut [Option<f64>]) -> io::Result<()> {
    let mut chunk = vec![0; 4096];
    while latest.contains(&None) {
        let count = port.read(&mut chunk).await?;
        if count == 0 {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        let mut rest = &chunk[..count];
        while let Some(values) = intake.next_values(&mut rest) {
            for (latest, value) in latest.iter_mut().zip(values) {
                *latest = value.or(*latest);
            }
        }
    }
    Ok(())
}

fn what_is_missing(
    spec: &DeviceSpec,
    intake: &Intake,
    values: &[Option<f64>],
    broken: Option<io::Error>,
) -> Option<String> {
    let tally = intake.tally();
    let port = spec.port.display();
    let missing: Vec<&str> = (spec.channels.iter().zip(values))
        .filter(|(_, value)| value.is_none())
        .map(|(channel, _)| channel.name())
        .collect();
    if missing.is_empty() {
        return None;
    }
    let what = if let Some(error) = broken {
        format!("{port} went away: {error}")
    } else if tally.bytes == 0 {
        format!("nothing came from {port}: check that the device is powered and its data line connected")
    } else if tally.samples > 0 {
        format!("no value for {}", missing.join(", "))
    } else if tally.lines == 0 {
        format!("{} bytes came from {port}, but no complete line: check baud (now {})", tally.bytes, spec.baud)
    } else {
        format!(
            "{} bytes came from {port}, but no line could be read: check baud (now {}) and frame",
            tally.bytes, spec.baud
        )
    };
    let hint = intake.last_refused().or(intake.last_bad());
    Some(match hint {
        Some(hint) => format!("{what}; last refused: {hint}"),
        None => what,
    })
}
