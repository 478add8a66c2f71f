//! A pseudo-terminal that stands for a serial port: what is written here arrives byte for byte at the path given out.

use rustix::fs::{Mode, OFlags, fcntl_getfl, fcntl_setfl, open};
use rustix::io::{Errno, write};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use std::io;
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};

/// An open pseudo-terminal. Dropping it is pulling the plug: a reader sees the end of the line.
#[derive(Debug)]
pub struct Pty {
    master: OwnedFd,
    /// Kept open so that the raw settings and unread bytes outlast a reader that closes and opens again.
    _slave: OwnedFd,
    path: PathBuf,
    dropped: u64,
}

impl Pty {
    /// Opens one, raw: nothing is echoed, translated or cooked.
    ///
    /// # Errors
    /// When the system gives no pseudo-terminal.
    pub fn open() -> io::Result<Self> {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
        grantpt(&master)?;
        unlockpt(&master)?;
        let name = ptsname(&master, Vec::new())?;
        let path = PathBuf::from(name.to_str().map_err(io::Error::other)?);
        let slave = open(&path, OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC, Mode::empty())?;
        let mut settings = tcgetattr(&slave)?;
        settings.make_raw();
        tcsetattr(&slave, OptionalActions::Now, &settings)?;
        fcntl_setfl(&master, fcntl_getfl(&master)? | OFlags::NONBLOCK)?;
        Ok(Self { master, _slave: slave, path, dropped: 0 })
    }

    /// The path that a reader opens.
    pub fn slave_path(&self) -> &Path {
        &self.path
    }

    /// Writes the bytes; returns at once. What finds no room because nobody reads is lost and counted, as on a real serial line.
    ///
    /// # Errors
    /// When the pseudo-terminal fails otherwise.
    pub fn write_all(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut rest = bytes;
        while !rest.is_empty() {
            match write(&self.master, rest) {
                Ok(0) | Err(Errno::AGAIN) => {
                    self.dropped += rest.len() as u64;
                    break;
                }
                Ok(written) => rest = &rest[written..],
                Err(Errno::INTR) => (),
                Err(error) => return Err(error.into()),
            }
        }
        Ok(())
    }

    /// Bytes lost so far because nobody read.
    pub fn dropped_bytes(&self) -> u64 {
        self.dropped
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::File;
    use std::io::Read;

    #[test]
    fn every_byte_arrives_as_it_was_written() {
        let mut pty = Pty::open().unwrap();
        let mut port = File::open(pty.slave_path()).unwrap();
        let sent: Vec<u8> = (0..=255).cycle().take(2048).collect();
        pty.write_all(&sent).unwrap();
        let mut received = vec![0; sent.len()];
        port.read_exact(&mut received).unwrap();
        assert_eq!(received, sent);
        assert_eq!(pty.dropped_bytes(), 0);
    }

    #[test]
    fn without_a_reader_writing_returns_and_counts_what_is_lost() {
        let mut pty = Pty::open().unwrap();
        let line = [b'x'; 1000];
        for _ in 0..1000 {
            pty.write_all(&line).unwrap();
        }
        assert!(pty.dropped_bytes() > 500_000, "{}", pty.dropped_bytes());
    }

    #[test]
    fn a_reader_may_close_and_open_again() {
        let mut pty = Pty::open().unwrap();
        for round in 0..3_u8 {
            let mut port = File::open(pty.slave_path()).unwrap();
            pty.write_all(&[round, b'\r', b'\n', 0x03, 0x04]).unwrap();
            let mut received = [0; 5];
            port.read_exact(&mut received).unwrap();
            assert_eq!(received, [round, b'\r', b'\n', 0x03, 0x04]);
        }
    }

    #[test]
    fn dropping_it_ends_the_line_for_the_reader() {
        let pty = Pty::open().unwrap();
        let mut port = File::open(pty.slave_path()).unwrap();
        drop(pty);
        let mut buffer = [0; 16];
        // Linux answers a hung-up terminal with end of file or EIO.
        assert!(matches!(port.read(&mut buffer), Ok(0) | Err(_)));
    }
}
