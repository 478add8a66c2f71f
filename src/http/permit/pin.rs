//! The PIN, and how it comes with a request: as a bearer token (RFC 6750).

use std::fmt;
use std::ops::RangeInclusive;
use std::str::FromStr;

use axum::http::HeaderMap;
use axum::http::header::AUTHORIZATION;

/// How long a PIN may be. Fewer than four characters are tried out in minutes.
const LENGTHS: RangeInclusive<usize> = 4..=64;

/// What whoever changes something must know.
#[derive(Clone, PartialEq, Eq)]
pub struct Pin(String);

impl Pin {
    /// Whether this is the PIN. It takes as long for a PIN that is nearly right as for one that is all wrong, so that the
    /// time of an answer tells nothing.
    fn is(&self, tried: &[u8]) -> bool {
        let own = self.0.as_bytes();
        let differs = tried.iter().zip(own.iter().cycle()).fold(own.len() ^ tried.len(), |differs, (tried, own)| {
            std::hint::black_box(differs | usize::from(tried ^ own))
        });
        differs == 0
    }

    /// Whether the request brings it; `None` if it brings none at all.
    pub(super) fn comes_with(&self, headers: &HeaderMap) -> Option<bool> {
        let value = headers.get(AUTHORIZATION)?.as_bytes();
        let (scheme, tried) = value.split_at_checked("Bearer ".len())?;
        scheme.eq_ignore_ascii_case(b"Bearer ").then(|| self.is(tried.trim_ascii()))
    }

    /// What a request carries to bring it.
    #[must_use]
    pub fn authorization(&self) -> String {
        format!("Bearer {}", self.0)
    }
}

impl FromStr for Pin {
    /// What was expected. What was given is not repeated: it may be nearly the PIN.
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Pin, Self::Err> {
        // A header carries nothing else safely, and a browser sends nothing else.
        let printable = text.bytes().all(|byte| byte == b' ' || byte.is_ascii_graphic());
        if LENGTHS.contains(&text.len()) && printable && text.trim_ascii() == text {
            Ok(Pin(text.to_owned()))
        } else {
            Err("4 to 64 letters, digits and signs of ASCII, without a space at either end")
        }
    }
}

/// A PIN is shown to nobody, in no log either.
impl fmt::Debug for Pin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Pin(set)")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pin(text: &str) -> Pin {
        text.parse().expect("a PIN")
    }

    fn brought(value: &str) -> Option<bool> {
        let headers = [(AUTHORIZATION, value.parse().expect("a header"))].into_iter().collect();
        pin("4711").comes_with(&headers)
    }

    #[test]
    fn a_pin_has_four_to_sixty_four_characters_that_a_header_carries() {
        let long = "x".repeat(64);
        for good in ["4711", "Ahoy there!", "~!@#", &long] {
            assert!(good.parse::<Pin>().is_ok(), "{good}");
        }
        let too_long = "x".repeat(65);
        for bad in ["", "471", " 4711", "4711 ", "47\t11", "Ahöy", "47\n11", &too_long] {
            assert!(bad.parse::<Pin>().is_err(), "{bad:?}");
        }
    }

    #[test]
    fn only_the_whole_pin_is_the_pin() {
        assert!(pin("4711").is(b"4711"));
        for wrong in ["", "4", "471", "4712", "47110", "47114711", "1174", "4711 "] {
            assert!(!pin("4711").is(wrong.as_bytes()), "{wrong:?}");
        }
    }

    #[test]
    fn it_comes_as_a_bearer_token_and_in_no_other_way() {
        assert_eq!(brought("Bearer 4711"), Some(true));
        assert_eq!(brought("bearer  4711 "), Some(true));
        assert_eq!(brought("Bearer 4712"), Some(false));
        assert_eq!(brought("Bearer "), Some(false));
        for none in ["4711", "Basic NDcxMQ==", "Bearer", "Bearer4711", ""] {
            assert_eq!(brought(none), None, "{none:?}");
        }
        assert_eq!(pin("4711").comes_with(&HeaderMap::new()), None);
        assert_eq!(brought(&pin("4711").authorization()), Some(true));
    }

    #[test]
    fn it_is_not_shown() {
        assert!(!format!("{:?}", pin("4711")).contains("4711"));
    }
}
