//! `[[branch]]`: one circuit on a bank.

use super::device::Device;
use super::section::Section;
use crate::battery::{Bank, Branch, BranchChannel, Purpose, Role, SensorError};
use crate::quantity::{Channel, Unit};

/// 1 σ of the gain of a branch's sensor where none is set, ratio: clamps and small shunts are worse than the bank's own
/// (assumed).
const GAIN_ERROR: f64 = 0.01;

/// Reads one branch; `None` if something necessary is missing or wrong (noted).
pub fn read(section: &Section<'_>, banks: &[Bank], declared: &[String], devices: &[Device]) -> Option<Branch> {
    let name = section.required("name", section.text("name"), "a short name");
    let bank = section.required("bank", section.text("bank"), "the name of a bank");
    let role = section.required("role", section.word::<Role>("role"), "\"source\" or \"load\"");
    let title = section.text("title");
    let purpose = section.word::<Purpose>("purpose").unwrap_or(Purpose::Other);
    let device = section.text("device");
    let channel = section.text("channel");
    let reversed = section.word::<Direction>("positive").is_some_and(|direction| direction == Direction::Discharge);
    let gain = section.number_in("sensor-gain-error", 0.0, 0.2, "a ratio from 0 to 0.2 (1 σ)");
    let offset_a = section.number_in("sensor-offset-a", 0.0, 100.0, "0 to 100 A (1 σ)");
    let bank = bank?;
    if !declared.contains(&bank) {
        section.complain("bank", format!("is \"{bank}\", expected one of: {}", declared.join(", ")));
    }
    // A bank that is there but has mistakes of its own is no mistake of the branch.
    let described = banks.iter().find(|other| other.name == bank)?;
    let channel = match channel {
        Some(channel) => Some(find_channel(section, (&bank, channel), device, reversed, devices)?),
        None => {
            for key in ["device", "positive", "sensor-gain-error", "sensor-offset-a"] {
                if section.has(key) {
                    section.complain(key, "belongs to a branch with a channel; without one it is computed");
                }
            }
            None
        }
    };
    let name = name?;
    Some(Branch {
        title: title.unwrap_or_else(|| name.clone()),
        name,
        role: role?,
        purpose,
        channel,
        sensor: SensorError {
            gain: gain.unwrap_or(GAIN_ERROR),
            offset_a: offset_a.unwrap_or(described.sensor.offset_a),
        },
        bank,
    })
}

/// What a positive reading of a branch's channel means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Direction {
    Charge,
    Discharge,
}

impl std::str::FromStr for Direction {
    type Err = String;

    fn from_str(word: &str) -> Result<Direction, String> {
        match word {
            "charge" => Ok(Direction::Charge),
            "discharge" => Ok(Direction::Discharge),
            _ => Err("expected \"charge\" or \"discharge\"".to_owned()),
        }
    }
}

fn find_channel(
    section: &Section<'_>,
    (bank, channel): (&str, String),
    device: Option<String>,
    reversed: bool,
    devices: &[Device],
) -> Option<BranchChannel> {
    let read = Channel::try_new(&channel).map_err(|error| section.complain("channel", error.to_string())).ok()?;
    if read.unit() != Unit::Ampere {
        section.complain("channel", format!("is \"{channel}\", expected a current (a name that ends in _a)"));
        return None;
    }
    let on_bank = devices.iter().filter(|other| other.bank == bank);
    let with_channel = on_bank.filter(|other| other.spec.channels.contains(&read));
    let named = with_channel.filter(|other| device.as_ref().is_none_or(|name| *name == other.spec.name));
    let found: Vec<_> = named.collect();
    match found[..] {
        [one] => Some(BranchChannel { device: one.spec.name.clone(), channel, reversed }),
        [] => {
            let by = device.map_or_else(|| "no device".to_owned(), |name| format!("not the device \"{name}\""));
            section.complain(
                "channel",
                format!("is \"{channel}\", expected one that a device of bank \"{bank}\" reports ({by} does)"),
            );
            None
        }
        _ => {
            section.complain("device", format!("is missing: several devices of bank \"{bank}\" report {channel}"));
            None
        }
    }
}
