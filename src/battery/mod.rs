//! What a bank is: its description, its chemistry as data, and the laws of rate and temperature. Pure.

mod bank;
mod charging;
mod chemistry;
mod peukert;
mod preset;
mod temperature;

pub use bank::{Bank, BankError, Rate, SensorError};
pub use charging::{EfficiencyCurve, FullRule, compensated_voltage};
pub use chemistry::{Chemistry, Family};
pub use peukert::{RateCurve, RateSource, exponent_from_two_ratings, peukert_hours};
pub use preset::{FullPreset, Preset, Range};
pub use temperature::{CellSizing, TemperatureLaw, iec_60896_at_reference, iec_60896_lambda};
