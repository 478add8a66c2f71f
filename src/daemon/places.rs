//! Where a device's samples hold what the reckoning needs.

use crate::quantity::{Channel, MonoMs, Reading, Sample};

/// Places of the channels that the reckoning needs in the samples of the main device.
#[derive(Debug, Clone, Copy)]
pub struct Places {
    voltage: usize,
    current: usize,
    temperature: Option<usize>,
}

impl Places {
    /// Places among channels of these names; `None` if voltage or current is not among them.
    pub fn among<'a>(channels: impl Iterator<Item = &'a str> + Clone) -> Option<Places> {
        let place = |name: &str| channels.clone().position(|channel| channel == name);
        Some(Places {
            voltage: place(Channel::VOLTAGE)?,
            current: place(Channel::CURRENT)?,
            temperature: place(Channel::TEMPERATURE),
        })
    }

    /// The reading of a sample; `None` without voltage or current.
    pub fn reading(&self, sample: &Sample) -> Option<Reading> {
        let value = |place: usize| sample.values.get(place).copied().flatten();
        Some(Reading {
            t_s: sample.at.mono.seconds_since(MonoMs(0)),
            voltage_v: value(self.voltage)?,
            current_a: value(self.current)?,
            temperature_c: self.temperature.and_then(value),
        })
    }
}
