//! Devices on pseudo-terminals and recorded logs.

mod far_end;
mod flood;
mod live;
mod probe;
mod pull;
mod replay;

use std::path::{Path, PathBuf};
use std::time::Duration;

use taffrail::clock::Clock;
use taffrail::link::{DeviceSample, DeviceSpec, DeviceStatus, FrameSpec, Limit, PortState, SpecError, run};
use taffrail::quantity::{BootNo, Channel};
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;
use tokio_util::sync::CancellationToken;

/// Longest that a test waits for anything before it fails.
const PATIENCE: Duration = Duration::from_secs(20);

/// A device on `port` that sends `voltage_v`, `current_a` and `temperature_c` as JSON lines.
fn spec(port: &Path) -> DeviceSpec {
    DeviceSpec {
        name: "shunt".to_owned(),
        channels: ["voltage_v", "current_a", "temperature_c"]
            .map(|name| Channel::try_new(name).expect("a channel name"))
            .to_vec(),
        port: port.to_owned(),
        baud: 19_200,
        frame: FrameSpec::JsonLines,
        limits: vec![Some(Limit { low: 0.0, high: 80.0 }), None, Some(Limit { low: -50.0, high: 100.0 })],
        quiet_after_s: 10.0,
    }
}

/// A port that is tended, and what a daemon would see of it.
struct Tended {
    samples: mpsc::Receiver<DeviceSample>,
    status: watch::Receiver<DeviceStatus>,
    cancel: CancellationToken,
    task: JoinHandle<Result<(), SpecError>>,
}

impl Tended {
    fn start(spec: DeviceSpec, room: usize) -> Tended {
        let clock = Clock::system();
        let (to_samples, samples) = mpsc::channel(room);
        let (to_status, status) = watch::channel(DeviceStatus::new(clock.mono(), 3));
        let cancel = CancellationToken::new();
        let task = tokio::spawn(run(spec, BootNo(7), clock, to_samples, to_status, cancel.clone()));
        Tended { samples, status, cancel, task }
    }

    /// Waits until the status is as wanted, and returns it.
    async fn until(&mut self, what: &str, wanted: impl Fn(&DeviceStatus) -> bool) -> DeviceStatus {
        let status = self.status.clone();
        match tokio::time::timeout(PATIENCE, self.status.wait_for(|s| wanted(s))).await {
            Ok(reached) => reached.expect("it runs").clone(),
            Err(_) => panic!("waited in vain for {what}: {:?}", status.borrow()),
        }
    }

    async fn until_state(&mut self, state: PortState) -> DeviceStatus {
        self.until(&format!("{state:?}"), |s| s.state == state).await
    }

    async fn until_opened(&mut self, times: u64) {
        self.until("an opening", |s| s.tally.opened == times).await;
    }

    async fn next(&mut self) -> DeviceSample {
        tokio::time::timeout(PATIENCE, self.samples.recv()).await.expect("a sample in time").expect("it runs")
    }

    async fn stop(self) -> DeviceStatus {
        self.cancel.cancel();
        tokio::time::timeout(PATIENCE, self.task)
            .await
            .expect("stops in time")
            .expect("no panic")
            .expect("a sound description");
        self.status.borrow().clone()
    }
}

/// A directory with a path in it that leads to the device, as those in `/dev/serial/by-id` do.
fn stable_path() -> (tempfile::TempDir, PathBuf) {
    let directory = tempfile::tempdir().expect("a directory");
    let path = directory.path().join("usb-shunt");
    (directory, path)
}
