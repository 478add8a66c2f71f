//! `taffrail check`: is the configuration right, and what does each channel read now?

use std::io::Write;
use std::path::PathBuf;
use std::time::Duration;

use super::Failure;
use crate::battery::{Branch, Role};
use crate::config::{Config, Device};
use crate::link::{self, ProbeReport};

/// Arguments of `check`.
#[derive(Debug, clap::Args)]
pub struct CheckArguments {
    /// Configuration file
    #[arg(long, value_name = "FILE", default_value = "taffrail.toml")]
    config: PathBuf,
    /// Seconds to wait for each device's first sample
    #[arg(long, value_name = "SECONDS", default_value_t = 5.0, value_parser = seconds)]
    wait: f64,
}

fn seconds(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(s) if (0.1..=3600.0).contains(&s) => Ok(s),
        _ => Err("expected 0.1 to 3600 seconds".into()),
    }
}

/// Runs the command.
pub fn check(arguments: &CheckArguments) -> Result<(), Failure> {
    let config = Config::load(&arguments.config).map_err(|error| Failure::config(&error))?;
    say(&format!("# effective settings of {}\n{config}", arguments.config.display()))?;
    for bank in &config.banks {
        if !config.devices.iter().any(|device| device.bank == bank.name && device.is_main()) {
            say(&format!("# bank \"{}\" has no device with voltage_v and current_a: `run` will not start", bank.name))?;
        }
    }
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|error| Failure::machine("cannot start the runtime", &error))?;
    let mut troubled = Vec::new();
    let mut read = Vec::new();
    for device in &config.devices {
        say(&format!("\n# {}: {} at {} Bd", device.spec.name, device.spec.port.display(), device.spec.baud))?;
        let wait = Duration::from_secs_f64(arguments.wait);
        let report = runtime.block_on(link::probe(&device.spec, wait)).map_err(Failure::input)?;
        if report.problem.is_some() {
            troubled.push(device.spec.name.clone());
        }
        say(&reading(device, &report))?;
        let names = device.spec.channels.iter().map(|channel| (device.spec.name.as_str(), channel.name()));
        read.extend(names.zip(report.values).filter_map(|(name, value)| Some((name, value?))));
    }
    if !config.branches.is_empty() {
        say("\n# branches")?;
    }
    for branch in &config.branches {
        say(&flow(branch, &read))?;
    }
    if troubled.is_empty() {
        Ok(())
    } else {
        Err(Failure::unavailable(format!("not every channel could be read: {}", troubled.join(", "))))
    }
}

fn reading(device: &Device, report: &ProbeReport) -> String {
    let mut lines = Vec::new();
    for (channel, value) in device.spec.channels.iter().zip(&report.values) {
        let unit = channel.unit().symbol();
        lines.push(match value {
            Some(value) => format!("#   {channel} = {value} {unit}"),
            None => format!("#   {channel}: nothing"),
        });
    }
    let further = [
        report.problem.as_ref().map(|text| format!("#   {text}")),
        report.last_bad.as_ref().map(|text| format!("#   last line refused: {text}")),
        report.last_refused.as_ref().map(|text| format!("#   last value refused: {text}")),
    ];
    lines.extend(further.into_iter().flatten());
    lines.join("\n")
}

/// What a branch does now, so that a sensor that was put in the wrong way round shows.
fn flow(branch: &Branch, read: &[((&str, &str), f64)]) -> String {
    let Branch { title, bank, role, channel, .. } = branch;
    let named = format!("#   {title} on bank \"{bank}\", a {}", role.word());
    let Some(channel) = channel else {
        return format!("{named}: what the other branches leave of the bank's current");
    };
    let from = format!("{} of {}", channel.channel, channel.device);
    let Some((_, value)) = read.iter().find(|(name, _)| *name == (&channel.device, &channel.channel)) else {
        return format!("{named}: nothing from {from}");
    };
    let charge_a = if channel.reversed { -value } else { *value };
    let (does, expected) = if charge_a > 0.0 { ("charges", Role::Source) } else { ("draws", Role::Load) };
    let doubt = if *role == expected { "" } else { "; turn `positive` round if that is wrong" };
    format!("{named}: {does} {} A, by {from}{doubt}", charge_a.abs())
}

fn say(text: &str) -> Result<(), Failure> {
    writeln!(std::io::stdout(), "{text}").map_err(|error| Failure::machine("cannot write to standard output", &error))
}
