//! `sim pty`: a device that is played in real time or faster.

use super::pace::Pace;
use super::{Source, not_negative, positive};
use anyhow::{Context, bail};
use clap::{Args, ValueEnum};
use sim::pty::Pty;
use sim::wire::Frame;
use std::io::{Write, stdout};
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
pub struct Options {
    #[command(flatten)]
    source: Source,
    /// A stable path that points to the pseudo-terminal, renewed when it is unplugged and comes back.
    #[arg(long, value_name = "PATH")]
    link: Option<PathBuf>,
    /// Samples for each simulated second.
    #[arg(long, value_name = "HZ", default_value_t = 1.0, value_parser = positive)]
    rate: f64,
    /// Simulated seconds for each real second.
    #[arg(long, value_name = "X", default_value_t = 1.0, value_parser = positive)]
    speed: f64,
    /// Wire format.
    #[arg(long, value_enum, default_value_t = Format::JsonLines)]
    frame: Format,
    /// Stop after so many real seconds; without it only Ctrl-C stops.
    #[arg(long = "for", value_name = "SECONDS", value_parser = not_negative)]
    duration: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    JsonLines,
    Delimited,
}

pub fn run(options: &Options) -> anyhow::Result<()> {
    let mut boat = options.source.boat();
    let mut schedule = options.source.schedule();
    let device = options.source.bank.index();
    let channels = boat.devices()[device].channels;
    let frame = match options.frame {
        Format::JsonLines => Frame::JsonLines,
        Format::Delimited => Frame::comma_separated(channels),
    };
    let mut pty = Some(plug_in(options.link.as_deref())?);
    let mut dropped = 0;
    let (mut values, mut bytes) = (Vec::new(), Vec::new());
    let pace = Pace::begin();
    for number in 1_u64.. {
        let t_s = number as f64 / options.rate;
        let real_s = t_s / options.speed;
        if options.duration.is_some_and(|duration| real_s > duration) {
            break;
        }
        pace.wait_until(real_s);
        boat.advance(1.0 / options.rate);
        boat.read(device, &mut values);
        bytes.clear();
        schedule.spoil_bytes(&mut bytes);
        if schedule.spoil_values(t_s, channels, &mut values) {
            frame.encode(channels, &values, &mut bytes);
        }
        if schedule.is_unplugged(t_s) {
            if let Some(gone) = pty.take() {
                dropped += gone.dropped_bytes();
            }
            continue;
        }
        if pty.is_none() {
            pty = Some(plug_in(options.link.as_deref())?);
        }
        if let Some(port) = &mut pty {
            port.write_all(&bytes).context("writing to the pseudo-terminal")?;
        }
    }
    dropped += pty.map_or(0, |port| port.dropped_bytes());
    if dropped > 0 {
        eprintln!("sim: {dropped} bytes were lost because nobody read them");
    }
    Ok(())
}

/// Opens a pseudo-terminal and tells its path.
fn plug_in(link: Option<&Path>) -> anyhow::Result<Pty> {
    let pty = Pty::open().context("opening a pseudo-terminal")?;
    if let Some(link) = link {
        point(link, pty.slave_path())?;
    }
    writeln!(stdout(), "{}", pty.slave_path().display())?;
    Ok(pty)
}

/// Makes `link` point to `path`, in one step, so that nobody finds it missing.
fn point(link: &Path, path: &Path) -> anyhow::Result<()> {
    if link.symlink_metadata().is_ok_and(|found| !found.is_symlink()) {
        bail!("{} is there already and is no symbolic link", link.display());
    }
    let fresh = link.with_extension("new-link");
    let result = symlink(path, &fresh).and_then(|()| std::fs::rename(&fresh, link));
    result.with_context(|| format!("making the link {}", link.display()))
}
