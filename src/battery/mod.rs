//! What a bank is: its description, its chemistry as data, and the laws of rate and temperature. Pure.

mod bank;
mod branch;
mod charging;
mod chemistry;
mod ocv;
mod peukert;
mod preset;
mod temperature;
mod two_well;

pub(crate) use bank::tidy;
pub use bank::{Bank, BankError, Rate, SensorError};
pub use branch::{Branch, BranchChannel, Purpose, Role};
pub use charging::{EfficiencyCurve, FullRule, compensated_voltage};
pub use chemistry::{Chemistry, Family};
pub use ocv::{OcvCurve, lead_cell_v};
pub use peukert::{RateCurve, RateSource, exponent_from_two_ratings, peukert_hours};
pub use preset::{FullPreset, Gassing, Preset, Range, ShapeDoubt, VoltagePreset};
pub use temperature::{CellSizing, TemperatureLaw, TimeAdjustment, iec_60896_at_reference, iec_60896_lambda};
pub use two_well::TwoWell;
