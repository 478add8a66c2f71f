//! Newtypes for the quantities that must not be mixed up at an interface.
//!
//! Inside a formula a plain `f64` with a suffixed name is clearer; these stand where values cross a boundary.

use std::fmt;

/// A value that is not a finite number was offered where a quantity is wanted.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{value} is not a finite number of {unit}")]
pub struct NotFinite {
    /// The offending value.
    pub value: f64,
    /// The unit that was wanted.
    pub unit: &'static str,
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// Takes a finite value.
            ///
            /// # Errors
            /// [`NotFinite`] for a NaN or an infinity.
            pub fn try_new(value: f64) -> Result<Self, NotFinite> {
                if value.is_finite() { Ok(Self(value)) } else { Err(NotFinite { value, unit: $unit }) }
            }

            /// The number, in the unit of the type.
            #[must_use]
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, f)?;
                f.write_str(concat!(" ", $unit))
            }
        }
    };
}

quantity!(
    /// Electric potential in volts.
    Volts, "V"
);
quantity!(
    /// Current in amperes; positive charges the bank.
    Amperes, "A"
);
quantity!(
    /// Charge or capacity in ampere-hours.
    AmpereHours, "Ah"
);
quantity!(
    /// Temperature in degrees Celsius.
    Celsius, "°C"
);
quantity!(
    /// Resistance in ohms.
    Ohms, "Ω"
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_finite_is_refused_at_the_edge() {
        assert!(Volts::try_new(f64::NAN).is_err());
        let error = Amperes::try_new(f64::INFINITY).expect_err("infinite");
        assert_eq!(error.to_string(), "inf is not a finite number of A");
        assert_eq!(Volts::try_new(52.31).map(|v| format!("{v:.1}")), Ok("52.3 V".into()));
    }
}
