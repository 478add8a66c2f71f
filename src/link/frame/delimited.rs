//! Fields in a fixed order between separators. There is no quoting: the fields are numbers.

use super::{BadLine, Field, SpecError, read_number};
use crate::quantity::Channel;

#[derive(Debug)]
pub(super) struct Delimited {
    separator: char,
    /// Channel and factor of each field; `None` for one that is not wanted.
    columns: Vec<Option<Column>>,
}

#[derive(Debug, Clone, Copy)]
struct Column {
    channel: usize,
    factor: f64,
}

impl Delimited {
    pub(super) fn new(
        separator: char,
        names: &[Option<String>],
        scale: Option<&[f64]>,
        channels: &[Channel],
    ) -> Result<Delimited, SpecError> {
        let part_of_a_number = separator.is_alphanumeric() || "+-.".contains(separator);
        if part_of_a_number || (separator.is_control() && separator != '\t') {
            return Err(SpecError::Separator(separator));
        }
        if let Some(scale) = scale {
            if scale.len() != names.len() {
                return Err(SpecError::ScaleCount { scale: scale.len(), columns: names.len() });
            }
            if let Some(&factor) = scale.iter().find(|f| !f.is_normal()) {
                return Err(SpecError::ScaleFactor(factor));
            }
        }
        let mut columns: Vec<Option<Column>> = Vec::with_capacity(names.len());
        for (position, name) in names.iter().enumerate() {
            let column = match name {
                None => None,
                Some(name) => {
                    let channel = channels
                        .iter()
                        .position(|channel| channel.name() == name)
                        .ok_or_else(|| SpecError::ColumnUnknown(name.clone()))?;
                    if columns.iter().flatten().any(|c| c.channel == channel) {
                        return Err(SpecError::ColumnTwice(name.clone()));
                    }
                    let factor = scale.map_or(1.0, |scale| scale[position]);
                    Some(Column { channel, factor })
                }
            };
            columns.push(column);
        }
        match (0..channels.len()).find(|&i| !columns.iter().flatten().any(|c| c.channel == i)) {
            Some(index) => Err(SpecError::ChannelWithoutColumn(channels[index].name().to_owned())),
            None => Ok(Delimited { separator, columns }),
        }
    }

    /// Reads `text` into one field per channel; `fields` come in as missing.
    pub(super) fn decode(&self, text: &str, fields: &mut [Field]) -> Result<(), BadLine> {
        if self.separator == ' ' {
            self.place(text.split_ascii_whitespace(), fields)
        } else {
            self.place(text.split(self.separator).map(str::trim), fields)
        }
    }

    fn place<'a>(&self, mut texts: impl Iterator<Item = &'a str>, fields: &mut [Field]) -> Result<(), BadLine> {
        for column in &self.columns {
            let text = texts.next().ok_or(BadLine::FieldCount)?;
            if let Some(Column { channel, factor }) = *column
                && !text.is_empty()
            {
                fields[channel] = match read_number(text).ok_or(BadLine::NotANumber)? {
                    Field::Value(value) if (value * factor).is_finite() => Field::Value(value * factor),
                    _ => Field::Unreadable,
                };
            }
        }
        match texts.next() {
            Some(_) => Err(BadLine::FieldCount),
            None => Ok(()),
        }
    }
}
