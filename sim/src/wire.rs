//! Wire formats: how a device writes one sample to its serial line. These encoders are the simulator's own and share no code with any decoder.

use std::io::Write;

/// One column of the delimited format.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Column {
    /// A channel by name.
    Channel(String),
    /// A column that a reader is to skip; 0 is written.
    Skipped,
}

/// A wire format.
#[derive(Clone, Debug, PartialEq)]
pub enum Frame {
    /// One JSON object a line, keys are channels.
    JsonLines,
    /// Values in a fixed order between separators.
    Delimited {
        /// Between values.
        separator: char,
        /// What stands where.
        columns: Vec<Column>,
        /// With it the values are written as whole numbers, each to be multiplied by its scale.
        scale: Option<Vec<f64>>,
    },
}

impl Frame {
    /// The delimited format with a comma and the channels in their order.
    pub fn comma_separated(channels: &[&str]) -> Self {
        let columns = channels.iter().map(|channel| Column::Channel((*channel).to_owned())).collect();
        Self::Delimited { separator: ',', columns, scale: None }
    }

    /// Appends one sample, with its newline, to `out`. `channels` names the `values`; a column without its channel is left empty.
    pub fn encode(&self, channels: &[&str], values: &[f64], out: &mut Vec<u8>) {
        match self {
            Self::JsonLines => encode_json(channels, values, out),
            Self::Delimited { separator, columns, scale } => {
                for (index, column) in columns.iter().enumerate() {
                    if index > 0 {
                        put(out, format_args!("{separator}"));
                    }
                    let value = match column {
                        Column::Skipped => Some(0.0),
                        Column::Channel(name) => {
                            channels.iter().zip(values).find(|(channel, _)| *channel == name).map(|(_, value)| *value)
                        }
                    };
                    match (value, scale.as_ref().and_then(|scale| scale.get(index))) {
                        (Some(value), Some(scale)) => put(out, format_args!("{:.0}", (value / scale).round() + 0.0)),
                        (Some(value), None) => put(out, format_args!("{value}")),
                        (None, _) => (),
                    }
                }
                out.push(b'\n');
            }
        }
    }
}

/// JSON has no word for what is not finite; such a value is written as null.
fn encode_json(channels: &[&str], values: &[f64], out: &mut Vec<u8>) {
    out.push(b'{');
    for (index, (channel, value)) in channels.iter().zip(values).enumerate() {
        let comma = if index > 0 { "," } else { "" };
        if value.is_finite() {
            put(out, format_args!("{comma}\"{channel}\":{value}"));
        } else {
            put(out, format_args!("{comma}\"{channel}\":null"));
        }
    }
    out.extend_from_slice(b"}\n");
}

fn put(out: &mut Vec<u8>, text: std::fmt::Arguments<'_>) {
    out.write_fmt(text).expect("a vector takes any number of bytes");
}

#[cfg(test)]
mod tests {
    use super::*;

    const CHANNELS: [&str; 3] = ["voltage_v", "current_a", "temperature_c"];

    fn encoded(frame: &Frame, values: &[f64]) -> String {
        let mut out = Vec::new();
        frame.encode(&CHANNELS, values, &mut out);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn json_line_is_the_one_in_the_contract() {
        assert_eq!(
            encoded(&Frame::JsonLines, &[52.31, -8.92, 19.4]),
            "{\"voltage_v\":52.31,\"current_a\":-8.92,\"temperature_c\":19.4}\n"
        );
    }

    #[test]
    fn json_lines_read_back_bit_for_bit() {
        for values in [[52.31, -8.92, 19.4], [0.0, 1e-7, -273.15], [1.0 / 3.0, 1e300, 2.0_f64.powi(-40)]] {
            let line = encoded(&Frame::JsonLines, &values);
            let object: serde_json::Map<String, serde_json::Value> = serde_json::from_str(&line).unwrap();
            for (channel, value) in CHANNELS.iter().zip(values) {
                assert_eq!(object[*channel].as_f64().unwrap().to_bits(), value.to_bits());
            }
        }
    }

    #[test]
    fn what_is_not_finite_becomes_null() {
        let line = encoded(&Frame::JsonLines, &[f64::NAN, f64::INFINITY, 1.0]);
        let object: serde_json::Value = serde_json::from_str(&line).unwrap();
        assert!(object["voltage_v"].is_null() && object["current_a"].is_null());
    }

    #[test]
    fn delimited_line_follows_the_order_of_columns_and_scales() {
        let columns = vec![
            Column::Channel("current_a".into()),
            Column::Skipped,
            Column::Channel("voltage_v".into()),
            Column::Channel("absent".into()),
        ];
        let plain = Frame::Delimited { separator: ';', columns: columns.clone(), scale: None };
        assert_eq!(encoded(&plain, &[52.31, -8.92, 19.4]), "-8.92;0;52.31;\n");
        let raw = Frame::Delimited { separator: ',', columns, scale: Some(vec![0.01, 1.0, 0.001, 1.0]) };
        assert_eq!(encoded(&raw, &[52.31, -8.92, 19.4]), "-892,0,52310,\n");
        assert_eq!(encoded(&Frame::comma_separated(&CHANNELS), &[52.31, -8.92, 19.4]), "52.31,-8.92,19.4\n");
    }
}
