//! Decodes one line into the channels of a device. Sans I/O; takes nothing but the line.
//!
//! What a line may hold, in both formats:
//!
//! | in the line | outcome |
//! |---|---|
//! | a finite number | the channel's value |
//! | `null`, an empty field, a channel not named | nothing reported, not counted |
//! | `nan`, `inf`, `1e400`, only dashes (`--`) | the value is refused and counted, the other channels stand |
//! | a text, `true`, a list or an object where a number is wanted | likewise |
//! | anything else where a number is wanted (`5#.31`) | the line was damaged on its way: it is bad |
//! | bytes that are not UTF-8, broken JSON, a wrong number of fields | the line is bad |
//! | the same channel twice | the line is bad: neither value can be preferred |
//! | no channel of this device | the line is bad |
//!
//! A bare `nan` is no JSON, but it is what much firmware prints when one probe has fallen off; the other channels
//! must not be lost for it. Keys and columns that are no channel are ignored, whatever they hold.

mod delimited;
mod json;

use crate::quantity::Channel;

use super::SpecError;
use delimited::Delimited;

/// How a device lays out a line.
#[derive(Debug, Clone, PartialEq)]
pub enum FrameSpec {
    /// One JSON object a line; keys are channels.
    JsonLines,
    /// Fields in a fixed order.
    Delimited {
        /// Stands between two fields. A space stands for any run of blanks.
        separator: char,
        /// The channel of each field; `None` for a field that is not wanted.
        columns: Vec<Option<String>>,
        /// Factor for each field, by which the number is multiplied to give the channel's SI unit.
        scale: Option<Vec<f64>>,
    },
}

impl FrameSpec {
    /// The word in the configuration.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            FrameSpec::JsonLines => "json-lines",
            FrameSpec::Delimited { .. } => "delimited",
        }
    }
}

/// What a line says about one channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Field {
    /// Nothing.
    Missing,
    /// A finite value in the channel's unit.
    Value(f64),
    /// Something that cannot be a measured value.
    Unreadable,
}

/// Why a whole line is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum BadLine {
    /// Bytes that are not UTF-8.
    #[error("not UTF-8 text")]
    NotText,
    /// Not one JSON object.
    #[error("not one JSON object")]
    NotJson,
    /// A field that holds neither a number nor one of the usual signs for none.
    #[error("a field is not a number")]
    NotANumber,
    /// More or fewer fields than columns.
    #[error("not as many fields as columns")]
    FieldCount,
    /// A channel that occurs twice.
    #[error("a channel occurs twice")]
    Twice,
    /// None of the device's channels.
    #[error("names no channel of this device")]
    NoChannel,
    /// Channels, but no value that could be kept.
    #[error("no channel has a usable value")]
    NoValue,
}

impl BadLine {
    /// Every reason, in the order in which they are counted and shown.
    pub const ALL: [BadLine; 7] = [
        BadLine::NotText,
        BadLine::NotJson,
        BadLine::NotANumber,
        BadLine::FieldCount,
        BadLine::Twice,
        BadLine::NoChannel,
        BadLine::NoValue,
    ];
}

#[derive(Debug)]
enum Format {
    Json(Vec<Channel>),
    Delimited(Delimited),
}

/// Reads lines of one device.
#[derive(Debug)]
pub struct Decoder {
    format: Format,
    fields: Vec<Field>,
}

impl Decoder {
    /// A decoder of `frame` for `channels`.
    ///
    /// # Errors
    /// [`SpecError`] if columns, scale and channels do not fit each other.
    pub fn new(frame: &FrameSpec, channels: &[Channel]) -> Result<Decoder, SpecError> {
        let format = match frame {
            FrameSpec::JsonLines => Format::Json(channels.to_vec()),
            FrameSpec::Delimited { separator, columns, scale } => {
                Format::Delimited(Delimited::new(*separator, columns, scale.as_deref(), channels)?)
            }
        };
        Ok(Decoder { format, fields: vec![Field::Missing; channels.len()] })
    }

    /// Reads a line without its line end; one field per channel, in the order of the channels.
    ///
    /// # Errors
    /// [`BadLine`] if the line as a whole cannot be believed.
    pub fn decode(&mut self, line: &[u8]) -> Result<&[Field], BadLine> {
        let text = str::from_utf8(line).map_err(|_| BadLine::NotText)?;
        self.fields.fill(Field::Missing);
        match &self.format {
            Format::Json(channels) => json::decode(text, channels, &mut self.fields)?,
            Format::Delimited(delimited) => delimited.decode(text, &mut self.fields)?,
        }
        Ok(&self.fields)
    }
}

/// Reads what stands where a number is wanted; `None` if it is no number and no usual sign for none.
fn read_number(text: &str) -> Option<Field> {
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Some(Field::Value(value)),
        // Rust reads "nan" and "inf" in any case, and what is too large as infinite.
        Ok(_) => Some(Field::Unreadable),
        Err(_) if !text.is_empty() && text.bytes().all(|byte| byte == b'-') => Some(Field::Unreadable),
        Err(_) => None,
    }
}

#[cfg(test)]
mod tests;
