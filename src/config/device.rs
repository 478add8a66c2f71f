//! `[[device]]`: a serial device, its frame and its channels.

use std::path::PathBuf;

use super::section::Section;
use crate::battery::{Bank, Range};
use crate::link::{DeviceSpec, FrameSpec, Limit};
use crate::quantity::{Channel, Unit};

/// A device and the bank that it belongs to.
#[derive(Debug, Clone, PartialEq)]
pub struct Device {
    /// Name of the bank.
    pub bank: String,
    /// How to reach it and what it says.
    pub spec: DeviceSpec,
}

impl Device {
    /// Whether it is the bank's main sensor: it reports both voltage and current.
    #[must_use]
    pub fn is_main(&self) -> bool {
        [Channel::VOLTAGE, Channel::CURRENT].iter().all(|name| self.spec.channels.iter().any(|c| c.name() == *name))
    }
}

/// Reads one device; `None` if something necessary is missing or wrong (noted).
pub fn read(section: &Section<'_>, banks: &[Bank], declared: &[String]) -> Option<Device> {
    let name = section.required("name", section.text("name"), "a short name");
    let bank_name = section.required("bank", section.text("bank"), "the name of a bank");
    let port = section.required("port", section.text("port"), "a path such as /dev/serial/by-id/...");
    let baud = section.whole_in("baud", 50, 4_000_000);
    let baud = if section.has("baud") { baud } else { Some(DEFAULT_BAUD) };
    let quiet_after_s = section.number_in("quiet-after-s", 0.5, 86_400.0, "0.5 to 86400 s");
    let frame_and_channels = read_frame(section);
    let ranges = section.ranges_by_name("ranges");
    let bank = bank_name.and_then(|wanted| find_bank(section, banks, declared, &wanted));
    let (frame, channels) = frame_and_channels?;
    let bank = bank?;
    for (name, ..) in &ranges {
        if !channels.iter().any(|c| c.name() == name) {
            section.complain("ranges", format!("\"{name}\" is not a channel of this device"));
        }
    }
    let limits = channels.iter().map(|channel| limit_of(channel, bank, &ranges)).collect();
    let spec = DeviceSpec {
        name: name?,
        channels,
        port: PathBuf::from(port?),
        baud: baud?,
        frame,
        limits,
        quiet_after_s: quiet_after_s.unwrap_or(DeviceSpec::QUIET_AFTER_S),
    };
    if let Err(error) = spec.check() {
        section.complain("frame", error.to_string());
        return None;
    }
    Some(Device { bank: bank.name.clone(), spec })
}

/// Bits per second where none are stated (the contract's example).
const DEFAULT_BAUD: u32 = 19_200;

/// A bank that is there but has mistakes of its own is no mistake of the device.
fn find_bank<'b>(section: &Section<'_>, banks: &'b [Bank], declared: &[String], wanted: &str) -> Option<&'b Bank> {
    if !declared.iter().any(|name| name == wanted) {
        section.complain("bank", format!("is \"{wanted}\", expected one of: {}", declared.join(", ")));
    }
    banks.iter().find(|bank| bank.name == wanted)
}

fn read_frame(section: &Section<'_>) -> Option<(FrameSpec, Vec<Channel>)> {
    let kind = section.required("frame", section.text("frame"), "\"json-lines\" or \"delimited\"");
    let separator = section.text("separator");
    let columns = section.texts("columns");
    let scale = section.numbers("scale");
    let listed = section.texts("channels");
    match kind?.as_str() {
        "json-lines" => {
            for key in ["separator", "columns", "scale"].into_iter().filter(|key| section.has(key)) {
                section.complain(key, "belongs to frame = \"delimited\"");
            }
            let names = listed.unwrap_or_else(|| USUAL_CHANNELS.map(str::to_owned).to_vec());
            Some((FrameSpec::JsonLines, read_channels(section, "channels", &names)?))
        }
        "delimited" => {
            if section.has("channels") {
                section.complain("channels", "belongs to frame = \"json-lines\"; here columns names them");
            }
            let separator = separator.map_or(Some(','), |text| one_character(section, &text));
            let columns = section.required("columns", columns, "a list of channel names, \"-\" for a field to skip")?;
            let wanted: Vec<_> = columns.iter().filter(|name| *name != "-").cloned().collect();
            let channels = read_channels(section, "columns", &wanted)?;
            let columns = columns.into_iter().map(|name| (name != "-").then_some(name)).collect();
            Some((FrameSpec::Delimited { separator: separator?, columns, scale }, channels))
        }
        other => {
            section.complain("frame", format!("is \"{other}\", expected \"json-lines\" or \"delimited\""));
            None
        }
    }
}

const USUAL_CHANNELS: [&str; 3] = [Channel::VOLTAGE, Channel::CURRENT, Channel::TEMPERATURE];

fn one_character(section: &Section<'_>, text: &str) -> Option<char> {
    let mut letters = text.chars();
    match (letters.next(), letters.next()) {
        (Some(letter), None) => Some(letter),
        _ => {
            section.complain("separator", format!("is \"{text}\", expected one character"));
            None
        }
    }
}

fn read_channels(section: &Section<'_>, key: &str, names: &[String]) -> Option<Vec<Channel>> {
    let read: Vec<_> = names.iter().map(|name| Channel::try_new(name)).collect();
    for error in read.iter().filter_map(|r| r.as_ref().err()) {
        section.complain(key, error.to_string());
    }
    read.into_iter().collect::<Result<_, _>>().ok()
}

/// What is physically possible on a channel: as stated, or by the bank for its own voltage and current, or by the unit.
fn limit_of(channel: &Channel, bank: &Bank, ranges: &[(String, f64, f64)]) -> Option<Limit> {
    if let Some(&(_, low, high)) = ranges.iter().find(|(name, ..)| name == channel.name()) {
        return Some(Limit { low, high });
    }
    let range = match channel.unit() {
        Unit::Volt => bank.plausible_voltage_v,
        Unit::Ampere => bank.plausible_current_a,
        Unit::DegreeCelsius => PLAUSIBLE_C,
        _ => return None,
    };
    Some(Limit { low: range.low, high: range.high })
}

/// Colder than any harbour, hotter than any winding that still has its insulation (assumed).
const PLAUSIBLE_C: Range = Range { low: -60.0, high: 250.0 };
