//! Tends one port for ever.

mod wait;

use std::io;
use std::path::PathBuf;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncReadExt};
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::{mpsc, watch};
use tokio::time::{sleep, timeout};
use tokio_util::sync::CancellationToken;

use crate::clock::Clock;
use crate::quantity::{BootNo, Moment, MonoMs, Sample};

use super::device::{DeviceSample, DeviceSpec, DeviceStatus, PortState, SpecError};
use super::intake::Intake;
use super::port::{Port, explain};
use super::tally::add;
use wait::BackOff;

/// Longest wait for room downstream before samples are dropped.
const ROOM_WAIT: Duration = Duration::from_secs(1);

/// Bytes taken in one read at most; a terminal gives no more at once.
const CHUNK: usize = 4096;

/// Reads the device of `spec` until `cancel` or until nobody takes samples any more: opens its port, reads, stamps
/// and sends on, and opens again whenever the port has gone. `status` always holds how it fares.
///
/// # Errors
/// [`SpecError`], at once, if the description contradicts itself. Trouble with the port is no error but a state.
pub async fn run(
    spec: DeviceSpec,
    boot: BootNo,
    clock: Clock,
    samples: mpsc::Sender<DeviceSample>,
    status: watch::Sender<DeviceStatus>,
    cancel: CancellationToken,
) -> Result<(), SpecError> {
    let mut tender = Tender::new(&spec, boot, clock, samples, status)?;
    let open = || Port::open(&spec.port, spec.baud);
    let stopped =
        cancel.run_until_cancelled(tender.tend(open)).await.map_or("stopped", |()| "nobody takes its samples");
    tender.enter(PortState::Closed, Some(stopped.to_owned()));
    Ok(())
}

/// How a session with an open port ended.
enum End {
    /// The port went away, for this reason.
    Gone(String),
    /// The receiver of samples is gone.
    Unwanted,
}

/// Everything that outlives a session with the port.
struct Tender {
    device: Arc<str>,
    port: PathBuf,
    quiet_after: Duration,
    room_wait: Duration,
    back_off: BackOff,
    boot: BootNo,
    clock: Clock,
    intake: Intake,
    samples: mpsc::Sender<DeviceSample>,
    /// The last sample found no room in time; until one does, none waits.
    crowded: bool,
    last_sample: Option<MonoMs>,
    status: watch::Sender<DeviceStatus>,
    logged: Option<(PortState, Option<String>)>,
}

impl Tender {
    fn new(
        spec: &DeviceSpec,
        boot: BootNo,
        clock: Clock,
        samples: mpsc::Sender<DeviceSample>,
        status: watch::Sender<DeviceStatus>,
    ) -> Result<Tender, SpecError> {
        let intake = Intake::new(spec)?;
        status.send_replace(DeviceStatus::new(clock.mono(), spec.channels.len()));
        Ok(Tender {
            device: spec.name.as_str().into(),
            port: spec.port.clone(),
            quiet_after: spec.quiet_after()?,
            room_wait: ROOM_WAIT,
            back_off: BackOff::new(),
            boot,
            clock,
            intake,
            samples,
            crowded: false,
            last_sample: None,
            status,
            logged: None,
        })
    }

    /// Opens, reads, closes, waits; returns when samples are unwanted.
    async fn tend<R: AsyncRead + Unpin>(&mut self, mut open: impl FnMut() -> io::Result<R>) {
        loop {
            add(&mut self.intake.tally_mut().attempts, 1);
            let reason = match open() {
                Err(error) => explain(&self.port, &error),
                Ok(port) => match self.read(port).await {
                    End::Gone(reason) => reason,
                    End::Unwanted => return,
                },
            };
            self.enter(self.away(), Some(reason));
            sleep(self.back_off.next()).await;
        }
    }

    /// One session with an open port, which is closed on return.
    async fn read(&mut self, mut port: impl AsyncRead + Unpin) -> End {
        add(&mut self.intake.tally_mut().opened, 1);
        self.publish(|status| status.reason = None);
        let mut chunk = vec![0; CHUNK];
        let mut quiet = pin!(sleep(self.quiet_after));
        let mut silent = false;
        let mut heard = self.intake.tally().bytes;
        let end = loop {
            let read = tokio::select! {
                read = port.read(&mut chunk) => read,
                () = &mut quiet, if !silent => {
                    silent = true;
                    self.enter(PortState::Silent, Some(self.why_silent(heard)));
                    continue;
                }
            };
            match read {
                Ok(0) => {
                    break End::Gone(format!("{} went away: end of file", self.port.display()));
                }
                Ok(count) => match self.take(&chunk[..count]).await {
                    Ok(0) => {}
                    Ok(_) => {
                        silent = false;
                        heard = self.intake.tally().bytes;
                        quiet.set(sleep(self.quiet_after));
                    }
                    Err(end) => break end,
                },
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => {
                    break End::Gone(format!("{} went away: {error}", self.port.display()));
                }
            }
        };
        self.intake.restart();
        end
    }

    /// Takes bytes that have just arrived; says how many samples they gave.
    async fn take(&mut self, bytes: &[u8]) -> Result<usize, End> {
        let arrived = self.clock.mono();
        let mut rest = bytes;
        let mut count = 0;
        while let Some(values) = self.intake.next_values(&mut rest) {
            let values = values.to_vec();
            let mono = self.last_sample.map_or(arrived, |last| arrived.max(last + 1));
            let at = Moment { boot: self.boot, mono };
            self.last_sample = Some(mono);
            count += 1;
            self.deliver(Sample { at, values }).await?;
        }
        if count > 0 {
            self.back_off.reset();
            self.enter(PortState::Live, None);
        } else {
            self.publish(|_| {});
        }
        Ok(count)
    }

    /// Sends a sample on; waits a while for room, then counts it as lost.
    async fn deliver(&mut self, sample: Sample) -> Result<(), End> {
        let device = Arc::clone(&self.device);
        let sent = match self.samples.try_send(DeviceSample { device, sample }) {
            Ok(()) => true,
            Err(TrySendError::Closed(_)) => return Err(End::Unwanted),
            Err(TrySendError::Full(_)) if self.crowded => false,
            Err(TrySendError::Full(sample)) => match timeout(self.room_wait, self.samples.send(sample)).await {
                Ok(Ok(())) => true,
                Ok(Err(_)) => return Err(End::Unwanted),
                Err(_) => false,
            },
        };
        self.crowded = !sent;
        if !sent {
            add(&mut self.intake.tally_mut().lost, 1);
        }
        Ok(())
    }

    /// The state of a device whose port is not open.
    fn away(&self) -> PortState {
        match self.last_sample {
            None => PortState::Waiting,
            Some(_) => PortState::Closed,
        }
    }

    /// Tells a device that says nothing from one that cannot be understood; `heard` is the count of bytes when it
    /// was understood last.
    fn why_silent(&self, heard: u64) -> String {
        let quiet_s = self.quiet_after.as_secs_f64();
        match self.intake.tally().bytes.saturating_sub(heard) {
            0 => {
                format!("nothing came for {quiet_s} s: check the device's power and its data line")
            }
            bytes => format!("{bytes} bytes, but no sample for {quiet_s} s: check baud and frame"),
        }
    }

    /// Changes the state where it differs, and logs it where it differs from what was logged last.
    fn enter(&mut self, state: PortState, reason: Option<String>) {
        let now = self.clock.mono();
        let entered = (state, reason);
        if self.logged.as_ref() != Some(&entered) {
            let (state, reason) = &entered;
            let reason = reason.as_deref().unwrap_or_default();
            tracing::info!(device = %self.device, ?state, reason, "port changed");
            self.logged = Some(entered.clone());
        }
        let (state, reason) = entered;
        self.publish(|status| {
            if status.state != state {
                status.since = now;
            }
            status.state = state;
            status.reason = reason;
        });
    }

    /// Brings the status up to date, with `change` on top.
    fn publish(&mut self, change: impl FnOnce(&mut DeviceStatus)) {
        let (intake, last_sample) = (&self.intake, self.last_sample);
        self.status.send_modify(|status| {
            status.last_sample = last_sample;
            status.tally.clone_from(intake.tally());
            update(&mut status.last_bad, intake.last_bad());
            update(&mut status.last_refused, intake.last_refused());
            change(status);
        });
    }
}

/// Copies a text where it changed, which is seldom.
fn update(shown: &mut Option<String>, latest: Option<&str>) {
    if shown.as_deref() != latest {
        *shown = latest.map(str::to_owned);
    }
}

#[cfg(test)]
mod tests;
