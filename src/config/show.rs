//! The effective settings, as a configuration that could be read again.

use std::fmt::{self, Write};

use super::{Config, Device, passages};
use crate::battery::{Bank, Branch, RateSource};
use crate::link::FrameSpec;
use crate::passage::Rules;
use crate::reckoning::Method;

impl fmt::Display for Config {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "boat = {}", quoted(&self.boat))?;
        writeln!(f, "listen = {}", quoted(&self.listen.to_string()))?;
        // Nobody is to read it over a shoulder, or in what is sent to somebody who helps.
        writeln!(f, "# pin is {}", if self.pin.is_some() { "set" } else { "not set" })?;
        writeln!(f, "data-dir = {}", quoted(&self.data_dir.display().to_string()))?;
        writeln!(f, "zone = {}", quoted(&self.zone))?;
        let handled = self.methods.iter().zip(&self.passages);
        self.banks.iter().zip(handled).try_for_each(|(bank, (method, rules))| show_bank(f, bank, *method, rules))?;
        self.devices.iter().try_for_each(|device| show_device(f, device))?;
        self.branches.iter().try_for_each(|branch| show_branch(f, branch))
    }
}

fn show_bank(f: &mut fmt::Formatter<'_>, bank: &Bank, method: Method, rules: &Rules) -> fmt::Result {
    writeln!(f, "\n[[bank]]")?;
    writeln!(f, "name = {}", quoted(&bank.name))?;
    writeln!(f, "title = {}", quoted(&bank.title))?;
    writeln!(f, "chemistry = {}", quoted(bank.chemistry.word()))?;
    writeln!(f, "cells-in-series = {}", bank.cells_in_series)?;
    writeln!(f, "rated-capacity-ah = {:?}", bank.rated_capacity_ah)?;
    writeln!(f, "rated-hours = {:?}", bank.rated_hours)?;
    match bank.rate_curve.source() {
        // Stated, it would be believed more than one that is assumed.
        RateSource::Exponent(k) if bank.takes_rates_of_preset() => {
            writeln!(f, "# peukert-exponent = {k:?}, assumed for {}", bank.chemistry.word())?;
        }
        RateSource::Exponent(k) => writeln!(f, "peukert-exponent = {k:?}")?,
        RateSource::Table(table) => {
            let entries: Vec<_> =
                table.iter().map(|(h, ah)| format!("{{ hours = {h:?}, capacity-ah = {ah:?} }}")).collect();
            writeln!(f, "rates = [{}]", entries.join(", "))?;
        }
    }
    writeln!(f, "method = {}", quoted(method.word()))?;
    writeln!(f, "reserve = {:?}", bank.reserve)?;
    writeln!(f, "sensor-gain-error = {:?}", bank.sensor.gain)?;
    writeln!(f, "sensor-offset-a = {:?}", bank.sensor.offset_a)?;
    writeln!(f, "standing-load-a = {:?}", bank.standing_load_a)?;
    writeln!(f, "temperature-law = {}  # {}", quoted(bank.temperature_law.word()), bank.temperature_law.title())?;
    writeln!(f, "voltage-range-v = [{:?}, {:?}]", bank.plausible_voltage_v.low, bank.plausible_voltage_v.high)?;
    writeln!(f, "current-range-a = [{:?}, {:?}]", bank.plausible_current_a.low, bank.plausible_current_a.high)?;
    let full = &bank.full;
    writeln!(
        f,
        "full = {{ voltage-v = {:?}, compensation-v-per-k = {:?}, tail-current-a = {:?}, hold-s = {:?} }}",
        full.voltage_v, full.compensation_v_per_k, full.tail_current_a, full.hold_s
    )?;
    passages::show(f, rules)
}

fn show_device(f: &mut fmt::Formatter<'_>, device: &Device) -> fmt::Result {
    let spec = &device.spec;
    writeln!(f, "\n[[device]]")?;
    writeln!(f, "name = {}", quoted(&spec.name))?;
    writeln!(f, "bank = {}", quoted(&device.bank))?;
    writeln!(f, "port = {}", quoted(&spec.port.display().to_string()))?;
    writeln!(f, "baud = {}", spec.baud)?;
    match &spec.frame {
        FrameSpec::JsonLines => {
            let names: Vec<_> = spec.channels.iter().map(|c| quoted(c.name())).collect();
            writeln!(f, "frame = \"json-lines\"\nchannels = [{}]", names.join(", "))?;
        }
        FrameSpec::Delimited { separator, columns, scale } => {
            let names: Vec<_> = columns.iter().map(|c| quoted(c.as_deref().unwrap_or("-"))).collect();
            writeln!(f, "frame = \"delimited\"\nseparator = {}", quoted(&separator.to_string()))?;
            writeln!(f, "columns = [{}]", names.join(", "))?;
            if let Some(scale) = scale {
                writeln!(f, "scale = {scale:?}")?;
            }
        }
    }
    let mut ranges = String::new();
    for (channel, limit) in spec.channels.iter().zip(&spec.limits) {
        if let Some(limit) = limit {
            let comma = if ranges.is_empty() { "" } else { ", " };
            write!(ranges, "{comma}{channel} = [{:?}, {:?}]", limit.low, limit.high)?;
        }
    }
    writeln!(f, "ranges = {{ {ranges} }}")?;
    writeln!(f, "quiet-after-s = {:?}", spec.quiet_after_s)
}

fn show_branch(f: &mut fmt::Formatter<'_>, branch: &Branch) -> fmt::Result {
    writeln!(f, "\n[[branch]]")?;
    writeln!(f, "name = {}", quoted(&branch.name))?;
    writeln!(f, "title = {}", quoted(&branch.title))?;
    writeln!(f, "bank = {}", quoted(&branch.bank))?;
    writeln!(f, "role = {}", quoted(branch.role.word()))?;
    writeln!(f, "purpose = {}", quoted(branch.purpose.word()))?;
    let Some(read) = &branch.channel else {
        return writeln!(f, "# no channel: what the other branches leave of the bank's current");
    };
    writeln!(f, "device = {}", quoted(&read.device))?;
    writeln!(f, "channel = {}", quoted(&read.channel))?;
    writeln!(f, "positive = {}", quoted(if read.reversed { "discharge" } else { "charge" }))?;
    writeln!(f, "sensor-gain-error = {:?}", branch.sensor.gain)?;
    writeln!(f, "sensor-offset-a = {:?}", branch.sensor.offset_a)
}

/// A TOML basic string: what JSON escapes, TOML reads.
fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}
