//! A daemon, the wires that feed it and the page's requests.

use std::fmt::Write as _;
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use serde_json::Value;

use super::terminal;

pub type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

const BINARY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/target/release/taffrail");

/// A device of the boat: a wire, and the channels that its frames carry.
pub struct Device {
    far: OwnedFd,
    near: PathBuf,
    name: String,
    channels: Vec<String>,
}

impl Device {
    /// A device on a new wire.
    pub fn new(name: &str, channels: &[&str]) -> Device {
        let (far, near) = terminal::open();
        Device { far, near, name: name.to_owned(), channels: channels.iter().map(|c| (*c).to_owned()).collect() }
    }

    /// Sends a frame; values move with its number. A wire that is full takes none.
    pub fn send(&self, number: u32) {
        let mut line = String::from("{");
        for (place, channel) in (0_u32..).zip(&self.channels) {
            let base = if channel.ends_with("voltage_v") { 51.5 } else { 5.0 + f64::from(place) };
            let _ = write!(line, "\"{channel}\":{:.3},", base + f64::from((number * 7 + place) % 10) / 100.0);
        }
        line.pop();
        line.push_str("}\n");
        let _ = rustix::io::write(&self.far, line.as_bytes());
    }

    fn section(&self) -> String {
        let channels: Vec<String> = self.channels.iter().map(|channel| format!("\"{channel}\"")).collect();
        format!(
            "[[device]]\nname = \"{}\"\nbank = \"house\"\nport = \"{}\"\nbaud = 115200\nframe = \"json-lines\"\n\
             channels = [{}]\n",
            self.name,
            self.near.display(),
            channels.join(", ")
        )
    }
}

/// A running daemon; dropped, it is killed as a power cut would end it.
pub struct Daemon {
    child: Child,
    port: u16,
}

impl Daemon {
    /// Writes a configuration into `folder` and starts the release build on the store in `data`.
    pub fn start(folder: &Path, data: &Path, devices: &[Device]) -> Result<Daemon> {
        let port = TcpListener::bind("127.0.0.1:0")?.local_addr()?.port();
        let mut config = format!(
            "boat = \"Bench\"\nlisten = \"127.0.0.1:{port}\"\ndata-dir = \"{}\"\n[[bank]]\nname = \"house\"\n\
             chemistry = \"lead-carbon\"\ncells-in-series = 24\nrated-capacity-ah = 120.0\nrated-hours = 20.0\n\
             peukert-exponent = 1.08\nreserve = 0.30\nsensor-gain-error = 0.005\nsensor-offset-a = 0.05\n",
            data.display()
        );
        devices.iter().for_each(|device| config.push_str(&device.section()));
        let path = folder.join("taffrail.toml");
        std::fs::write(&path, config)?;
        let log = std::fs::File::options().create(true).append(true).open(folder.join("log"))?;
        let child = Command::new(BINARY)
            .args(["run", "--config"])
            .arg(&path)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(log)
            .spawn()
            .map_err(|error| format!("{BINARY}: {error}; build it first with cargo build --release"))?;
        Ok(Daemon { child, port })
    }

    /// Its number.
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// An answer in JSON; `None` while there is none.
    pub fn ask(&self, path: &str) -> Option<Value> {
        let mut stream = self.request(path).ok()?;
        let mut answer = String::new();
        stream.read_to_string(&mut answer).ok()?;
        serde_json::from_str(answer.split_once("\r\n\r\n")?.1).ok()
    }

    /// Opens the stream of live values, which a thread reads to its end.
    pub fn follow(&self) -> Result<()> {
        let mut stream = self.request("/api/v1/live")?;
        std::thread::spawn(move || {
            let mut read = [0; 4096];
            while stream.read(&mut read).is_ok_and(|count| count > 0) {}
        });
        Ok(())
    }

    /// Ends it in order.
    pub fn stop(mut self) -> Result<()> {
        Command::new("kill").args(["-INT", &self.pid().to_string()]).status()?;
        self.child.wait()?;
        Ok(())
    }

    /// As HTTP/1.0, so that an answer is not cut into parts and ends with the connection.
    fn request(&self, path: &str) -> std::io::Result<TcpStream> {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port))?;
        write!(stream, "GET {path} HTTP/1.0\r\nHost: 127.0.0.1:{}\r\n\r\n", self.port)?;
        Ok(stream)
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        // It may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
