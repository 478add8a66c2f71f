//! The daemon as a program: fed through a pseudo-terminal, asked over HTTP, ended by signals.

mod by_hand;
mod copied;
mod damaged;
mod full_card;
mod killed;
mod reconciled;
mod run;
pub mod wire;

use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::PathBuf;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicU16, Ordering};
use std::time::Duration;

use serde_json::Value;
use taffrail::clock::Clock;
use taffrail::quantity::UtcMs;
use taffrail::store::{Reader, SeriesKind, StoredSample};

use wire::Wire;

/// `mark` numbers the frames.
const CONFIG: &str = r#"
boat = "Marigold"
listen = "127.0.0.1:PORT"
data-dir = "data"

[[bank]]
name = "house"
chemistry = "lead-carbon"
cells-in-series = 24
rated-capacity-ah = 120.0
rated-hours = 20.0
peukert-exponent = 1.08
reserve = 0.30
sensor-gain-error = 0.005
sensor-offset-a = 0.05

[[device]]
name = "shunt"
bank = "house"
port = "shunt-port"
baud = 19200
frame = "json-lines"
channels = ["voltage_v", "current_a", "temperature_c", "mark"]
"#;

/// How long a slow machine may take for anything, s. Nothing is asserted of how quick it is.
const PATIENCE_S: i64 = 120;

/// Place of `mark` among the channels.
const MARK: usize = 3;

fn frame(mark: u32) -> String {
    format!("{{\"voltage_v\":51.5,\"current_a\":-8.25,\"temperature_c\":19.5,\"mark\":{mark}}}\n")
}

/// A folder with a configuration, whose daemon is started and ended as often as a test likes.
struct Berth {
    dir: tempfile::TempDir,
    port: u16,
}

impl Berth {
    fn new() -> Berth {
        let berth = Berth { dir: tempfile::tempdir().expect("a scratch directory"), port: free_port() };
        let config = CONFIG.replace("PORT", &berth.port.to_string());
        std::fs::write(berth.path("taffrail.toml"), config).expect("writable");
        berth
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// A new wire at the port that the configuration names.
    fn plug(&self) -> Wire {
        let wire = Wire::lay();
        let link = self.path("shunt-port");
        if link.is_symlink() {
            std::fs::remove_file(&link).expect("ours");
        }
        std::os::unix::fs::symlink(wire.port(), &link).expect("a link");
        wire
    }

    /// The command, with its log in a file.
    fn command(&self, arguments: &[&str]) -> Command {
        let log = std::fs::File::options().create(true).append(true).open(self.path("log")).expect("a log");
        let mut command = Command::new(env!("CARGO_BIN_EXE_taffrail"));
        command.current_dir(self.dir.path()).args(arguments).stdin(Stdio::null()).stdout(Stdio::null()).stderr(log);
        command
    }

    fn start(&self) -> Daemon {
        let child = self.command(&["run", "--config", "taffrail.toml"]).spawn().expect("the program starts");
        Daemon { child, port: self.port, log: self.path("log") }
    }

    /// Every stored sample of the shunt, in the order of the store.
    fn stored(&self) -> Vec<StoredSample> {
        let reader = Reader::open(&self.path("data/taffrail.sqlite")).expect("opens");
        let all = reader.all_series().expect("known series");
        let shunt = all.iter().find(|s| s.kind == SeriesKind::Device.as_str()).expect("a device");
        let samples = reader.samples(shunt.id, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("known series");
        samples.collect::<Result<_, _>>().expect("sound chunks")
    }

    /// Every stored sample of the bank's series of that name; none if there is no such series.
    fn line(&self, name: &str) -> Vec<StoredSample> {
        let reader = Reader::open(&self.path("data/taffrail.sqlite")).expect("opens");
        let all = reader.all_series().expect("known series");
        let Some(series) = all.iter().find(|s| s.name == name) else { return Vec::new() };
        let samples = reader.samples(series.id, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("known series");
        samples.collect::<Result<_, _>>().expect("sound chunks")
    }
}

/// A running daemon; dropped, it is killed.
struct Daemon {
    child: Child,
    port: u16,
    log: PathBuf,
}

impl Daemon {
    /// The answer to a GET; `None` while nobody listens.
    fn get(&self, path: &str) -> Option<Value> {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).ok()?;
        stream.set_read_timeout(Some(Duration::from_secs(30))).expect("not zero");
        write!(stream, "GET {path} HTTP/1.0\r\nHost: 127.0.0.1\r\n\r\n").ok()?;
        let mut answer = String::new();
        stream.read_to_string(&mut answer).ok()?;
        let (head, body) = answer.split_once("\r\n\r\n")?;
        assert!(head.contains(" 200 "), "{path}: {answer}");
        Some(serde_json::from_str(body).expect("JSON"))
    }

    fn now(&self) -> Option<Value> {
        self.get("/api/v1/banks/house/now")
    }

    /// Asks until an answer satisfies; gives up after [`PATIENCE_S`].
    fn wait_for<T>(&mut self, what: &str, mut satisfied: impl FnMut(&Daemon) -> Option<T>) -> T {
        let deadline = Clock::system().mono() + PATIENCE_S * 1000;
        loop {
            if let Some(found) = satisfied(self) {
                return found;
            }
            let ended = self.child.try_wait().expect("our child");
            if ended.is_some() || Clock::system().mono() > deadline {
                let log = std::fs::read_to_string(&self.log).unwrap_or_default();
                panic!("{what}: not within {PATIENCE_S} s; ended: {ended:?}; the log:\n{log}");
            }
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Waits until the latest sample carries this mark or a later one.
    fn wait_for_mark(&mut self, mark: u32) -> Value {
        self.wait_for(&format!("mark {mark}"), |daemon| {
            daemon.now().filter(|now| now["channels"]["mark"].as_f64().is_some_and(|m| m >= f64::from(mark)))
        })
    }

    /// Sends frames marked 0 until one is understood: what comes before the first newline is never taken.
    fn wait_until_it_hears(&mut self, wire: &Wire) {
        self.wait_for("the first sample", |daemon| {
            wire.send(frame(0).as_bytes());
            daemon.now().filter(|now| now["time"].is_string()).map(drop)
        });
    }

    /// SIGTERM, by the shell's own `kill`.
    fn terminate(&self) {
        let sent = Command::new("sh").args(["-c", &format!("kill -TERM {}", self.child.id())]).status();
        assert!(sent.expect("a shell").success());
    }

    /// How it ended, if it does within [`PATIENCE_S`].
    fn end(&mut self) -> Option<ExitStatus> {
        let deadline = Clock::system().mono() + PATIENCE_S * 1000;
        while Clock::system().mono() <= deadline {
            if let Some(status) = self.child.try_wait().expect("our child") {
                return Some(status);
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        None
    }

    /// Kill -9, and wait until it is gone.
    fn kill(mut self) {
        self.child.kill().expect("our child");
        self.child.wait().expect("our child");
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        // It may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A port that nobody listens on, below those that the system gives to outgoing connections: one of these, asking
/// while nobody listens yet, could be given the very port and answer itself.
fn free_port() -> u16 {
    static NEXT: AtomicU16 = AtomicU16::new(0);
    let first = u16::try_from(std::process::id() % 10_000).expect("below 10,000");
    for _ in 0..1000 {
        let port = 20_000 + (first + NEXT.fetch_add(1, Ordering::Relaxed)) % 12_000;
        if TcpListener::bind(("127.0.0.1", port)).is_ok() {
            return port;
        }
    }
    panic!("a thousand ports in a row are taken");
}
