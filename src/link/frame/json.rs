//! One JSON object a line.
//!
//! A scanner of its own, because a general parser refuses the whole line for a bare `nan` or a `1e400` in one
//! channel. It cuts the object into keys and value texts; what is nested inside a value is left to `serde_json`.

use serde::de::IgnoredAny;

use super::{BadLine, Field, read_number};
use crate::quantity::Channel;

/// A value as it stands in the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Token<'a> {
    /// A number, `true`, `false`, `null`, or what a careless sender writes in their place.
    Bare(&'a str),
    /// A string, a list or an object.
    Other,
}

/// Reads `text` into one field per channel; `fields` come in as missing.
pub(super) fn decode(text: &str, channels: &[Channel], fields: &mut [Field]) -> Result<(), BadLine> {
    let mut scanner = Scanner::begin(text)?;
    // Bits suffice to see a repeated key: a spec has at most 128 channels.
    let mut seen = 0_u128;
    while let Some((key, token)) = scanner.pair()? {
        let Some(index) = channel_of(key, channels) else {
            continue;
        };
        let bit = 1 << index;
        if seen & bit != 0 {
            return Err(BadLine::Twice);
        }
        seen |= bit;
        fields[index] = match token {
            Token::Bare("null") => Field::Missing,
            Token::Bare("true" | "false") | Token::Other => Field::Unreadable,
            Token::Bare(number) => read_number(number).ok_or(BadLine::NotANumber)?,
        };
    }
    if seen == 0 { Err(BadLine::NoChannel) } else { Ok(()) }
}

/// Finds the channel of a key as it stands between its quotes.
fn channel_of(key: &str, channels: &[Channel]) -> Option<usize> {
    let position = |name: &str| channels.iter().position(|channel| channel.name() == name);
    if key.contains('\\') {
        // Rare: only then is the key written with escapes and must be copied to be read.
        serde_json::from_str::<String>(&format!("\"{key}\"")).ok().and_then(|name| position(&name))
    } else {
        position(key)
    }
}

struct Scanner<'a> {
    rest: &'a str,
    first: bool,
}

impl<'a> Scanner<'a> {
    fn begin(text: &'a str) -> Result<Scanner<'a>, BadLine> {
        let rest = blank(text).strip_prefix('{').ok_or(BadLine::NotJson)?;
        Ok(Scanner { rest, first: true })
    }

    /// The next key and value; `None` after the closing brace, which must end the line.
    fn pair(&mut self) -> Result<Option<(&'a str, Token<'a>)>, BadLine> {
        let mut rest = blank(self.rest);
        if let Some(after) = rest.strip_prefix('}') {
            self.rest = after;
            return if blank(after).is_empty() { Ok(None) } else { Err(BadLine::NotJson) };
        }
        if !self.first {
            rest = blank(rest.strip_prefix(',').ok_or(BadLine::NotJson)?);
        }
        self.first = false;
        let (key, rest) = string(rest)?;
        let rest = blank(rest).strip_prefix(':').ok_or(BadLine::NotJson)?;
        let (token, rest) = value(blank(rest))?;
        self.rest = rest;
        Ok(Some((key, token)))
    }
}

/// Cuts off leading white space as JSON knows it.
fn blank(text: &str) -> &str {
    text.trim_start_matches([' ', '\t', '\r', '\n'])
}

/// A string at the front, without its quotes, and what follows.
fn string(text: &str) -> Result<(&str, &str), BadLine> {
    let inner = text.strip_prefix('"').ok_or(BadLine::NotJson)?;
    let mut escaped = false;
    for (index, byte) in inner.bytes().enumerate() {
        match byte {
            _ if escaped => escaped = false,
            b'\\' => escaped = true,
            b'"' => return Ok((&inner[..index], &inner[index + 1..])),
            _ => {}
        }
    }
    Err(BadLine::NotJson)
}

/// A value at the front, and what follows.
fn value(text: &str) -> Result<(Token<'_>, &str), BadLine> {
    match text.bytes().next() {
        Some(b'"') => string(text).map(|(_, rest)| (Token::Other, rest)),
        Some(b'{' | b'[') => nested(text).map(|rest| (Token::Other, rest)),
        _ => {
            let end = text.find([',', '}', ' ', '\t', '\r', '\n']).ok_or(BadLine::NotJson)?;
            let (bare, rest) = text.split_at(end);
            if bare.is_empty() { Err(BadLine::NotJson) } else { Ok((Token::Bare(bare), rest)) }
        }
    }
}

/// Skips a list or an object at the front. Depth costs no stack: `serde_json` skips a value without recursion, and
/// the cap on a line bounds the heap that it uses for that.
fn nested(text: &str) -> Result<&str, BadLine> {
    let mut values = serde_json::Deserializer::from_str(text).into_iter::<IgnoredAny>();
    match values.next() {
        Some(Ok(IgnoredAny)) => Ok(&text[values.byte_offset()..]),
        _ => Err(BadLine::NotJson),
    }
}
