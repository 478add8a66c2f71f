//! Apache Parquet: times as milliseconds of UTC, everything nullable, compressed with Snappy, in groups of rows of a fixed
//! size so that memory is bounded.

use std::io::Write;
use std::sync::Arc;

use parquet::basic::{Compression, LogicalType, Repetition, TimeUnit, TimestampType, Type as Physical};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::{Type, TypePtr};

use super::Writing;
use crate::export::cell::{Cell, Column, Kind};

/// Rows in a group: about 10 MB of a dozen numbers.
const ROWS: usize = 65_536;

type Out<'w> = Box<dyn Write + Send + 'w>;

/// A Parquet file on its way.
pub struct Parquet<'w> {
    writer: SerializedFileWriter<Out<'w>>,
    columns: Vec<Held>,
    rows: usize,
}

/// What is held of a column until its group is full: the values that are there, and for each row whether one is.
struct Held {
    values: Values,
    present: Vec<i16>,
}

enum Values {
    Text(Vec<ByteArray>),
    Number(Vec<f64>),
    Whole(Vec<i64>),
    Flag(Vec<bool>),
}

impl<'w> Parquet<'w> {
    /// Writes what stands before the rows.
    pub fn begin(columns: &[Column], out: Out<'w>) -> std::io::Result<Parquet<'w>> {
        let properties = WriterProperties::builder().set_compression(Compression::SNAPPY).build();
        let writer =
            SerializedFileWriter::new(out, schema(columns).map_err(refused)?, Arc::new(properties)).map_err(refused)?;
        Ok(Parquet { writer, columns: columns.iter().map(|column| Held::of(column.kind)).collect(), rows: 0 })
    }

    fn write_group(&mut self) -> Result<(), ParquetError> {
        if self.rows == 0 {
            return Ok(());
        }
        let mut group = self.writer.next_row_group()?;
        for held in &mut self.columns {
            held.write(&mut group)?;
        }
        self.rows = 0;
        group.close().map(drop)
    }
}

impl Writing for Parquet<'_> {
    fn row(&mut self, row: &[Cell]) -> std::io::Result<()> {
        self.columns.iter_mut().zip(row).for_each(|(held, cell)| held.take(cell));
        self.rows += 1;
        if self.rows == ROWS { self.write_group().map_err(refused) } else { Ok(()) }
    }

    fn end(mut self: Box<Self>) -> std::io::Result<()> {
        self.write_group().map_err(refused)?;
        self.writer.close().map_err(refused).map(drop)
    }
}

impl Held {
    fn of(kind: Kind) -> Held {
        let values = match kind {
            Kind::Text => Values::Text(Vec::new()),
            Kind::Number => Values::Number(Vec::new()),
            Kind::Whole | Kind::Time => Values::Whole(Vec::new()),
            Kind::Flag => Values::Flag(Vec::new()),
        };
        Held { values, present: Vec::new() }
    }

    /// A cell of another kind than the column's counts as none; tables do not make them.
    fn take(&mut self, cell: &Cell) {
        let present = match (&mut self.values, cell) {
            (Values::Text(values), Cell::Text(text)) => {
                values.push(ByteArray::from(text.as_str()));
                1
            }
            (Values::Number(values), Cell::Number(number)) => {
                values.push(*number);
                1
            }
            (Values::Whole(values), Cell::Whole(number)) => {
                values.push(*number);
                1
            }
            (Values::Whole(values), Cell::Time(time)) => {
                values.push(time.0);
                1
            }
            (Values::Flag(values), Cell::Flag(flag)) => {
                values.push(*flag);
                1
            }
            _ => 0,
        };
        self.present.push(present);
    }

    fn write(&mut self, group: &mut SerializedRowGroupWriter<'_, Out<'_>>) -> Result<(), ParquetError> {
        match &mut self.values {
            Values::Text(values) => write_column::<ByteArrayType>(group, values, &self.present)?,
            Values::Number(values) => write_column::<DoubleType>(group, values, &self.present)?,
            Values::Whole(values) => write_column::<Int64Type>(group, values, &self.present)?,
            Values::Flag(values) => write_column::<BoolType>(group, values, &self.present)?,
        }
        self.present.clear();
        Ok(())
    }
}

fn write_column<T: DataType>(
    group: &mut SerializedRowGroupWriter<'_, Out<'_>>,
    values: &mut Vec<T::T>,
    present: &[i16],
) -> Result<(), ParquetError> {
    let mut column = group.next_column()?.ok_or_else(|| ParquetError::General("there is no such column".to_owned()))?;
    column.typed::<T>().write_batch(values, Some(present), None)?;
    values.clear();
    column.close()
}

fn schema(columns: &[Column]) -> Result<TypePtr, ParquetError> {
    let fields: Result<Vec<TypePtr>, ParquetError> = columns.iter().map(|column| field(column).map(Arc::new)).collect();
    Type::group_type_builder("taffrail").with_fields(fields?).build().map(Arc::new)
}

fn field(column: &Column) -> Result<Type, ParquetError> {
    let (physical, logical) = match column.kind {
        Kind::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        Kind::Number => (Physical::DOUBLE, None),
        Kind::Whole => (Physical::INT64, None),
        Kind::Time => {
            let time = TimestampType { is_adjusted_to_u_t_c: true, unit: TimeUnit::MILLIS };
            (Physical::INT64, Some(LogicalType::Timestamp(time)))
        }
        Kind::Flag => (Physical::BOOLEAN, None),
    };
    Type::primitive_type_builder(&column.name, physical)
        .with_repetition(Repetition::OPTIONAL)
        .with_logical_type(logical)
        .build()
}

/// The library wraps what writing reports; what reached the file is told by its own words.
fn refused(error: ParquetError) -> std::io::Error {
    match error {
        ParquetError::External(cause) => match cause.downcast::<std::io::Error>() {
            Ok(cause) => *cause,
            Err(cause) => std::io::Error::other(cause),
        },
        other => std::io::Error::other(other),
    }
}
