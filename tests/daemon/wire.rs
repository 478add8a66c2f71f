//! A serial wire that the tests feed: a pseudo-terminal whose near end a program opens as its port.

use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use rustix::io::Errno;

use crate::terminal;

/// The usual frame of the tests.
pub const FRAME: &str = "{\"voltage_v\":51.5,\"current_a\":-8.25,\"temperature_c\":19.5}\n";

/// The device's end of the wire.
pub struct Wire {
    far: OwnedFd,
    port: PathBuf,
}

impl Wire {
    /// A new wire, raw from the start: what is sent before a program opens the port is neither echoed nor edited.
    pub fn lay() -> Wire {
        let (far, port) = terminal::open();
        Wire { far, port }
    }

    /// What a configuration names as the port.
    pub fn port(&self) -> &Path {
        &self.port
    }

    /// Sends all of it, waiting while the wire is full; false if nobody took it for half a minute.
    pub fn send(&self, bytes: &[u8]) -> bool {
        let mut rest = bytes;
        let mut waited_ms = 0;
        while !rest.is_empty() {
            match rustix::io::write(&self.far, rest) {
                Ok(count) => rest = &rest[count..],
                Err(Errno::AGAIN) if waited_ms < 30_000 => {
                    std::thread::sleep(Duration::from_millis(1));
                    waited_ms += 1;
                }
                Err(Errno::AGAIN | Errno::IO) => return false,
                Err(error) => panic!("the far end cannot send: {error}"),
            }
        }
        true
    }

    /// Sends the usual frame at 20 Hz while `work` lasts.
    pub fn feeding<T>(&self, work: impl FnOnce() -> T) -> T {
        let done = AtomicBool::new(false);
        std::thread::scope(|scope| {
            scope.spawn(|| {
                while !done.load(Ordering::Relaxed) {
                    self.send(FRAME.as_bytes());
                    std::thread::sleep(Duration::from_millis(50));
                }
            });
            let result = work();
            done.store(true, Ordering::Relaxed);
            result
        })
    }
}
