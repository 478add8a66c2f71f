//! What the boat shows of itself: the truth of its banks, and the devices that report on them.

use super::circuit::Circuit;
use crate::battery::Monobloc;

/// What is true of a bank at this moment.
#[derive(Clone, Debug, PartialEq)]
pub struct BankTruth {
    /// "drive" or "house".
    pub name: &'static str,
    /// Charge held / capacity, 0..1.
    pub soc: f64,
    /// Capacity at the 20 h rate and 25 °C at the present age, Ah.
    pub capacity_ah: f64,
    /// Current, A; positive charges.
    pub current_a: f64,
    /// Voltage, V.
    pub voltage_v: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Voltage of each monobloc, V.
    pub monobloc_v: Vec<f64>,
}

impl BankTruth {
    pub(super) fn of<M: Monobloc>(name: &'static str, circuit: &Circuit<M>) -> Self {
        let bank = circuit.bank();
        Self {
            name,
            soc: bank.true_soc(),
            capacity_ah: bank.true_capacity_ah(),
            current_a: bank.current_a(),
            voltage_v: bank.voltage_v(),
            temperature_c: bank.temperature_c(),
            monobloc_v: bank.monobloc_voltages_v().collect(),
        }
    }
}

/// A device that reports on a bank.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Device {
    /// Its name.
    pub name: &'static str,
    /// The bank it is on.
    pub bank: &'static str,
    /// Its channels in the order of [`super::Boat::read`].
    pub channels: &'static [&'static str],
}

/// The devices aboard: the main shunts of both banks in the banks' order, then the shunts of their branches. What stands on the drive bank and what
/// the household draws have none: they are what the others leave.
pub const DEVICES: [Device; 4] = [
    Device {
        name: "drive-shunt",
        bank: "drive",
        channels: &[
            "voltage_v",
            "current_a",
            "temperature_c",
            "monobloc_1_v",
            "monobloc_2_v",
            "monobloc_3_v",
            "monobloc_4_v",
        ],
    },
    Device { name: "house-shunt", bank: "house", channels: &["voltage_v", "current_a", "temperature_c"] },
    Device {
        name: "drive-branches",
        bank: "drive",
        channels: &[
            "motor_a",
            "regeneration_a",
            "generator_a",
            "shore_a",
            "dc_dc_a",
            "motor_temperature_c",
            "shaft_speed_rpm",
            "speed_over_ground_kn",
        ],
    },
    Device { name: "house-branches", bank: "house", channels: &["solar_a", "generator_a", "shore_a", "dc_dc_a"] },
];

impl Device {
    /// Whether it is the main shunt of its bank.
    fn is_main(&self) -> bool {
        self.channels[0] == "voltage_v"
    }

    /// Whether motor temperature, turns of the shaft and speed come after its currents.
    pub(super) fn reports_drive(&self) -> bool {
        self.channels.last() == Some(&"speed_over_ground_kn")
    }
}

/// True values of a circuit in the order of its device's channels, as far as they are its own.
pub fn true_values<M: Monobloc>(circuit: &Circuit<M>, branches: &[&str], device: &Device, values: &mut Vec<f64>) {
    if device.is_main() {
        let bank = circuit.bank();
        values.extend([bank.voltage_v(), bank.current_a(), bank.temperature_c()]);
        values.extend(bank.monobloc_voltages_v());
        values.truncate(device.channels.len());
    } else {
        let measured = |channel: &str| {
            // A channel is named as its branch, in the letters that channels have.
            let place = branches.iter().position(|name| channel.strip_suffix("_a") == Some(&name.replace('-', "_")));
            place.map(|place| circuit.currents_a()[place])
        };
        values.extend(device.channels.iter().filter_map(|channel| measured(channel)));
    }
}
