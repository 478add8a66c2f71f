//! The serial port itself. Nothing else knows which crate opens it.

use std::io;
use std::path::Path;
use std::pin::Pin;
use std::task::{Context, Poll};

use tokio::io::{AsyncRead, ReadBuf};
use tokio_serial::{ClearBuffer, DataBits, FlowControl, Parity, SerialPort, SerialStream, StopBits};

/// Most that is discarded at an opening. A terminal's buffers hold far less; the limit only guards against a sender
/// that is faster than the discarding.
const STALE_CAP: usize = 1 << 20;

/// An open serial port, 8 data bits, no parity, 1 stop bit, no flow control, not shared.
#[derive(Debug)]
pub(super) struct Port(SerialStream);

impl Port {
    /// Opens `path`, following links as they point now, and discards what was received before.
    ///
    /// # Errors
    /// What the system says, with `ResourceBusy` where another program holds the port.
    pub(super) fn open(path: &Path, baud: u32) -> io::Result<Port> {
        // Asked first because the system's own words are better than what comes back from below.
        std::fs::metadata(path)?;
        let builder = tokio_serial::new(path.to_string_lossy(), baud)
            .data_bits(DataBits::Eight)
            .parity(Parity::None)
            .stop_bits(StopBits::One)
            .flow_control(FlowControl::None);
        let stream = SerialStream::open(&builder).map_err(|error| match error.kind {
            tokio_serial::ErrorKind::NoDevice => io::Error::new(io::ErrorKind::ResourceBusy, error.description),
            _ => io::Error::from(error),
        })?;
        let mut port = Port(stream);
        port.discard_stale()?;
        Ok(port)
    }

    /// Throws away what waits in the buffers: a line that came before the opening would be stamped too late.
    fn discard_stale(&mut self) -> io::Result<()> {
        self.0.clear(ClearBuffer::Input)?;
        // Clearing leaves what the line discipline has not seen yet; reading takes that too.
        let mut stale = [0; 4096];
        let mut discarded = 0;
        while discarded < STALE_CAP {
            match self.0.try_read(&mut stale) {
                // A port that is gone says so again at the first read of the session.
                Ok(0) => break,
                Ok(count) => discarded += count,
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => break,
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }
}

impl Drop for Port {
    fn drop(&mut self) {
        // Otherwise a pseudo-terminal whose far end stays open would refuse the next opening. A port that was
        // pulled refuses this call; there is nothing left to share then.
        let _ = self.0.set_exclusive(false);
    }
}

impl AsyncRead for Port {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.0).poll_read(context, buffer)
    }
}

/// Says why a port cannot be opened, and what to do about it.
pub(super) fn explain(path: &Path, error: &io::Error) -> String {
    let port = path.display();
    match error.kind() {
        io::ErrorKind::NotFound => {
            format!("{port} does not exist: plug the device in, or name one of /dev/serial/by-id")
        }
        io::ErrorKind::PermissionDenied => format!(
            "{port} may not be opened: add the user that taffrail runs as to the group that `stat -Lc %G {port}` names"
        ),
        io::ErrorKind::ResourceBusy => {
            format!("{port} is in use: end the program that `fuser -v {port}` names")
        }
        _ => format!("{port} cannot be opened as a serial port: {error}"),
    }
}
