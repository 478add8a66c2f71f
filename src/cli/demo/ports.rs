//! The boat's devices, each on a pseudo-terminal behind a stable path.

use std::path::{Path, PathBuf};

use sim::boat::Boat;
use sim::pty::Pty;
use sim::wire::Frame;

use super::super::Failure;

/// The ports of all devices of the demo's boat.
pub struct Ports {
    ports: Vec<Port>,
    values: Vec<f64>,
    line: Vec<u8>,
}

struct Port {
    device: &'static str,
    channels: &'static [&'static str],
    pty: Pty,
    link: PathBuf,
    frame: Frame,
}

impl Ports {
    /// Opens one for each device, linked from `folder`.
    pub fn open(folder: &Path) -> Result<Ports, Failure> {
        let mut ports = Vec::new();
        for (index, device) in sim::boat::DEVICES.iter().enumerate() {
            let pty = Pty::open().map_err(|error| Failure::machine("cannot open a pseudo-terminal", &error))?;
            let link = folder.join(format!("{}.port", device.name));
            link_to(pty.slave_path(), &link)
                .map_err(|error| Failure::machine(format!("cannot link {}", link.display()), &error))?;
            // One device speaks each format, as in the demo's configuration.
            let frame = if index == 0 { Frame::JsonLines } else { Frame::comma_separated(device.channels) };
            ports.push(Port { device: device.name, channels: device.channels, pty, link, frame });
        }
        Ok(Ports { ports, values: Vec::new(), line: Vec::new() })
    }

    /// The path at which a device is found.
    pub fn path(&self, device: &str) -> PathBuf {
        self.ports.iter().find(|port| port.device == device).map(|port| port.link.clone()).unwrap_or_default()
    }

    /// Has every device say what it reads now.
    pub fn report(&mut self, boat: &mut Boat) -> std::io::Result<()> {
        for (index, port) in self.ports.iter_mut().enumerate() {
            boat.read(index, &mut self.values);
            self.line.clear();
            port.frame.encode(port.channels, &self.values, &mut self.line);
            port.pty.write_all(&self.line)?;
        }
        Ok(())
    }
}

impl Drop for Ports {
    fn drop(&mut self) {
        for port in &self.ports {
            // A link that is gone already is as good as removed.
            let _ = std::fs::remove_file(&port.link);
        }
    }
}

fn link_to(target: &Path, link: &Path) -> std::io::Result<()> {
    match std::fs::remove_file(link) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    std::os::unix::fs::symlink(target, link)
}
