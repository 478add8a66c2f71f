//! The device's end of a pseudo-terminal.

use std::fs::File;
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rustix::io::Errno;

use crate::terminal;

/// A device that is plugged in; dropping it pulls the plug.
pub(super) struct FarEnd {
    master: OwnedFd,
    link: PathBuf,
}

impl FarEnd {
    /// Makes a new pseudo-terminal and points `link` at it.
    pub(super) fn plug(link: &Path) -> FarEnd {
        let (master, near) = terminal::open();
        std::os::unix::fs::symlink(near, link).expect("a link");
        FarEnd { master, link: link.to_owned() }
    }

    /// Sends all of `bytes`, as fast as the other end takes them.
    pub(super) async fn send(&self, bytes: &[u8]) {
        let mut rest = bytes;
        while !rest.is_empty() {
            match rustix::io::write(&self.master, rest) {
                Ok(count) => rest = &rest[count..],
                Err(Errno::AGAIN) => tokio::time::sleep(Duration::from_micros(200)).await,
                Err(error) => panic!("the far end cannot send: {error}"),
            }
            tokio::task::yield_now().await;
        }
    }

    /// Opens the near end once more, as a program does that keeps a terminal from hanging up.
    pub(super) fn hold(&self) -> File {
        File::open(&self.link).expect("the near end")
    }
}

impl Drop for FarEnd {
    fn drop(&mut self) {
        std::fs::remove_file(&self.link).expect("the link is there");
    }
}

/// Frames that carry these numbers as current.
pub(super) fn frames(numbers: std::ops::Range<u32>) -> Vec<u8> {
    numbers
        .map(|n| format!("{{\"voltage_v\":52.31,\"current_a\":{n},\"temperature_c\":19.4}}\r\n"))
        .collect::<String>()
        .into_bytes()
}
