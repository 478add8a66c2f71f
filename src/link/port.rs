//! The serial port itself. Nothing else knows which crate opens it.

use std::io;
use std::path::Path;
use std::pin::Pin;
use std::task::{Context, Poll};

use tokio::io::{AsyncRead, ReadBuf};
use tokio_serial::{ClearBuffer, DataBits, FlowControl, Parity, SerialPort, SerialStream, StopBits};

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
        // A line that came before the opening would be stamped too late.
        stream.clear(ClearBuffer::Input)?;
        Ok(Port(stream))
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_reason_says_which_port_and_what_to_do() {
        let path = Path::new("/dev/ttyX");
        for (kind, step) in [
            (io::ErrorKind::NotFound, "plug the device in"),
            (io::ErrorKind::PermissionDenied, "to the group that `stat -Lc %G /dev/ttyX`"),
            (io::ErrorKind::ResourceBusy, "`fuser -v /dev/ttyX`"),
            (io::ErrorKind::Other, "as a serial port: other error"),
        ] {
            let reason = explain(path, &kind.into());
            assert!(reason.starts_with("/dev/ttyX ") && reason.contains(step), "{reason}");
        }
    }
}
