//! `taffrail demo`: a simulated boat, its past stored, its present on real pseudo-terminals.

mod boat;
mod past;
mod ports;

use std::io::Write;
use std::net::SocketAddr;
use std::path::PathBuf;

use super::Failure;
use crate::clock::{Clock, SystemClock, TimeSource, Trust, WallReading};
use crate::config::{Config, DEFAULT_LISTEN};
use crate::daemon::{self, DataDir};
use crate::quantity::MonoMs;

/// Arguments of `demo`.
#[derive(Debug, clap::Args)]
pub struct DemoArguments {
    /// Address of the page
    #[arg(long, value_name = "ADDRESS:PORT", default_value = DEFAULT_LISTEN)]
    listen: SocketAddr,
    /// Folder for the demo's store; started again on the same folder, the boat sails on
    #[arg(long, value_name = "DIR")]
    data_dir: Option<PathBuf>,
    /// Which of the possible voyages is simulated
    #[arg(long, value_name = "N", default_value_t = 7)]
    seed: u64,
}

/// Runs the command.
pub fn demo(arguments: &DemoArguments) -> Result<(), Failure> {
    let folder = arguments.data_dir.clone().unwrap_or_else(|| std::env::temp_dir().join("taffrail-demo"));
    let data_dir = DataDir::claim(&folder).map_err(|error| Failure::daemon(&error))?;
    // Better told now than after weeks have been simulated.
    if let Err(cause) = std::net::TcpListener::bind(arguments.listen) {
        return Err(Failure::daemon(&daemon::Error::Listen { address: arguments.listen, cause }));
    }
    let clock = Clock::new(DemoClock);
    let mut ports = ports::Ports::open(&folder)?;
    let config = configuration(arguments, &folder, &ports)?;
    let boat = boat::take_up(&folder, arguments.seed, &clock, |boat, span| {
        past::store(&config, &data_dir.store_path(), boat, span)
    })?;
    let sailing = boat::sail(boat, &folder, clock.clone(), move |boat| ports.report(boat))?;
    let done = daemon::run_on(&config, &clock, &data_dir, |address| {
        say(&format!("The demo boat is at http://{address} (store: {}). Ctrl-C ends it.", folder.display()));
    });
    sailing.stop()?;
    done.map_err(|error| Failure::daemon(&error))
}

/// The computer's clock, believed: a simulated boat has no other time.
struct DemoClock;

impl TimeSource for DemoClock {
    fn mono(&self) -> MonoMs {
        SystemClock.mono()
    }

    fn wall(&self) -> WallReading {
        WallReading { trust: Trust::Synchronised, ..SystemClock.wall() }
    }

    fn boot_id(&self) -> String {
        SystemClock.boot_id()
    }
}

fn configuration(arguments: &DemoArguments, folder: &std::path::Path, ports: &ports::Ports) -> Result<Config, Failure> {
    let mut text = include_str!("demo/demo.toml").replace("{listen}", &arguments.listen.to_string());
    for device in sim::boat::DEVICES {
        text = text.replace(&format!("{{{}}}", device.name), &ports.path(device.name).display().to_string());
    }
    let mut config = Config::parse(&text, folder).map_err(|problems| {
        let told: Vec<_> = problems.iter().map(ToString::to_string).collect();
        Failure::input(format!("the demo's own configuration: {}", told.join("; ")))
    })?;
    config.data_dir = folder.to_owned();
    Ok(config)
}

/// Tells the person at the terminal.
fn say(text: &str) {
    // A closed standard error is no reason to end.
    let _ = writeln!(std::io::stderr(), "{text}");
}
