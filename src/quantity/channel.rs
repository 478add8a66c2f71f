//! Channels: named quantities of a device; the name's suffix says the unit.

use std::fmt;

/// Unit of a channel, told by the suffix of its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Unit {
    /// `_v`
    Volt,
    /// `_a`
    Ampere,
    /// `_w`
    Watt,
    /// `_c`
    DegreeCelsius,
    /// `_ohm`
    Ohm,
    /// `_ah`
    AmpereHour,
    /// `_wh`
    WattHour,
    /// `_s`
    Second,
    /// `_rpm`
    RevolutionPerMinute,
    /// `_hz`
    Hertz,
    /// `_kn`
    Knot,
    /// `_m_s`
    MetrePerSecond,
    /// `_nm`
    NauticalMile,
    /// no known suffix: a bare ratio or a count
    One,
}

impl Unit {
    /// Reads the unit off a channel's name.
    #[must_use]
    pub fn of_name(name: &str) -> Unit {
        if name.ends_with("_m_s") {
            return Unit::MetrePerSecond;
        }
        match name.rsplit_once('_').map(|(_, suffix)| suffix) {
            Some("v") => Unit::Volt,
            Some("a") => Unit::Ampere,
            Some("w") => Unit::Watt,
            Some("c") => Unit::DegreeCelsius,
            Some("ohm") => Unit::Ohm,
            Some("ah") => Unit::AmpereHour,
            Some("wh") => Unit::WattHour,
            Some("s") => Unit::Second,
            Some("rpm") => Unit::RevolutionPerMinute,
            Some("hz") => Unit::Hertz,
            Some("kn") => Unit::Knot,
            Some("nm") => Unit::NauticalMile,
            _ => Unit::One,
        }
    }

    /// The symbol as the SI brochure prints it; `1` for a bare ratio. Revolutions per minute as ISO 80000-3, and knot and
    /// nautical mile, for which nothing is agreed, as the 8th edition of the brochure lists them (all three from memory).
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Unit::Volt => "V",
            Unit::Ampere => "A",
            Unit::Watt => "W",
            Unit::DegreeCelsius => "°C",
            Unit::Ohm => "Ω",
            Unit::AmpereHour => "Ah",
            Unit::WattHour => "Wh",
            Unit::Second => "s",
            Unit::RevolutionPerMinute => "r/min",
            Unit::Hertz => "Hz",
            Unit::Knot => "kn",
            Unit::MetrePerSecond => "m/s",
            Unit::NauticalMile => "NM",
            Unit::One => "1",
        }
    }
}

/// The name of a measured quantity, such as `voltage_v` or `monobloc_3_v`.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Channel(String);

/// A text that cannot name a channel.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{0}\" cannot name a channel: use lower-case letters, digits and underscores, a letter first, at most 48, with the unit as suffix (_v _a _w _c _ohm _ah _wh _s _rpm _hz _kn _m_s _nm)"
)]
pub struct ChannelError(pub String);

impl Channel {
    /// Voltage at the bank's terminals.
    pub const VOLTAGE: &'static str = "voltage_v";
    /// Current through the main sensor, positive charges.
    pub const CURRENT: &'static str = "current_a";
    /// Temperature of the bank.
    pub const TEMPERATURE: &'static str = "temperature_c";

    /// Checks and takes a name.
    ///
    /// # Errors
    /// [`ChannelError`] if the text is no channel name.
    pub fn try_new(name: &str) -> Result<Self, ChannelError> {
        let mut letters = name.chars();
        let first = letters.next().is_some_and(|c| c.is_ascii_lowercase());
        let rest = letters.all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
        if first && rest && name.len() <= 48 {
            Ok(Channel(name.to_owned()))
        } else {
            Err(ChannelError(name.to_owned()))
        }
    }

    /// The name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.0
    }

    /// The unit told by the suffix.
    #[must_use]
    pub fn unit(&self) -> Unit {
        Unit::of_name(&self.0)
    }
}

impl fmt::Display for Channel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_suffix_says_the_unit() {
        assert_eq!(Unit::of_name("monobloc_3_v").symbol(), "V");
        assert_eq!(Unit::of_name("insulation_ohm").symbol(), "Ω");
        assert_eq!(Unit::of_name("soc").symbol(), "1");
        assert_eq!(Unit::of_name("shaft_speed_rpm").symbol(), "r/min");
        assert_eq!(Unit::of_name("speed_over_ground_kn").symbol(), "kn");
        assert_eq!(Unit::of_name("speed_over_ground_m_s").symbol(), "m/s");
        assert_eq!(Unit::of_name("time_to_go_s").symbol(), "s");
        assert_eq!(Unit::of_name("shore_hz").symbol(), "Hz");
        assert_eq!(Unit::of_name("log_nm").symbol(), "NM");
    }

    #[test]
    fn names_that_would_break_columns_are_refused() {
        for bad in ["", "Voltage_v", "9_v", "a b", "é_v", "x;y"] {
            assert!(Channel::try_new(bad).is_err(), "{bad}");
        }
        assert!(Channel::try_new("shaft_speed_rpm").is_ok());
    }
}
