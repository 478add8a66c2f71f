//! Amounts as people read them.

/// Bytes with their unit, three digits at least: `812 bytes`, `64.2 MB`. Units are decimal, as on a card's label.
pub fn bytes(count: f64) -> String {
    if count < 1000.0 {
        return format!("{count:.0} bytes");
    }
    let mut value = count;
    for unit in ["kB", "MB", "GB"] {
        value /= 1000.0;
        if value < 999.95 {
            return format!("{value:.1} {unit}");
        }
    }
    format!("{:.1} TB", value / 1000.0)
}

/// A number with its thousands apart: `31 557 600`.
pub fn grouped(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_have_a_unit_that_fits() {
        let all = [0.0, 999.0, 1000.0, 64_200_000.0, 999_960.0, 2.5e9, 3.2e13].map(bytes);
        assert_eq!(all, ["0 bytes", "999 bytes", "1.0 kB", "64.2 MB", "1.0 MB", "2.5 GB", "32.0 TB"]);
    }

    #[test]
    fn thousands_stand_apart() {
        assert_eq!([0, 999, 1000, 31_557_600].map(grouped), ["0", "999", "1 000", "31 557 600"]);
    }
}
