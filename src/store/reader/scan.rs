//! Finding the stretches of a series, and walking over its chunks and its tail.

use std::collections::BTreeMap;

use rusqlite::{OptionalExtension, params};

use super::Reader;
use super::skipped::{Place, is_damage};
use crate::quantity::{BootNo, Channel, Moment, MonoMs, MonoRange, UtcMs};
use crate::store::block::POWER;
use crate::store::codec::CodecError;
use crate::store::common::{self, POWER_NAME};
use crate::store::error::{Error, Result};
use crate::store::record::{SeriesId, SeriesInfo};
use crate::store::unreadable::Source;

/// Where the samples of a series lie in one boot.
#[derive(Debug, Clone, Copy)]
pub(super) struct Extent {
    pub(super) boot: BootNo,
    /// First and last moment in chunks.
    pub(super) folded: Option<(i64, i64)>,
    /// First moment in the tail.
    pub(super) tail_from: Option<i64>,
}

impl Extent {
    pub(super) fn first(&self) -> Moment {
        let first = self.folded.map(|(first, _)| first);
        common::moment(self.boot.0, first.into_iter().chain(self.tail_from).min().unwrap_or(0))
    }

    /// End of what there may be, not included; a tail is open.
    fn end_ms(&self) -> i64 {
        match (self.tail_from, self.folded) {
            (Some(_), _) => i64::MAX,
            (None, Some((_, last))) => last + 1,
            (None, None) => i64::MIN,
        }
    }
}

/// A stretch of one boot with constant offset to UTC, in which the series may have samples.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece {
    pub(super) range: MonoRange,
    pub(super) extent: Extent,
}

/// A channel that was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Wanted {
    pub(super) name: String,
    /// Position; [`POWER`] for the derived one.
    pub(super) channel: i64,
}

/// Which of a series' channels to unpack, and where voltage and current are.
#[derive(Debug, Clone)]
pub(super) struct Selection {
    pub(super) wanted: Vec<Wanted>,
    pub(super) power_from: Option<(usize, usize)>,
}

impl Selection {
    /// Channels by name; all by position, power last, if none is named.
    pub(super) fn of(info: &SeriesInfo, names: &[String]) -> Result<Selection> {
        let derived = info.has_power.then_some((POWER_NAME, POWER));
        let known: Vec<(&str, i64)> = (info.channels.iter().map(String::as_str)).zip(0_i64..).chain(derived).collect();
        let find = |name: &String| -> Result<Wanted> {
            let found = known.iter().find(|(known, _)| known == name);
            let (name, channel) =
                found.ok_or_else(|| Error::UnknownChannel { series: info.id.0, channel: name.clone() })?;
            Ok(Wanted { name: (*name).to_owned(), channel: *channel })
        };
        let wanted: Vec<Wanted> = if names.is_empty() {
            let all = known.iter().map(|(name, channel)| Wanted { name: (*name).to_owned(), channel: *channel });
            all.collect()
        } else {
            names.iter().map(find).collect::<Result<_>>()?
        };
        let place = |wanted: &str| info.channels.iter().position(|name| name == wanted);
        let power = wanted.iter().any(|w| w.channel == POWER);
        Ok(Selection { wanted, power_from: place(Channel::VOLTAGE).zip(place(Channel::CURRENT)).filter(|_| power) })
    }

    /// Whether the channel at a position is to be unpacked.
    pub(super) fn needs(&self, position: usize) -> bool {
        self.wanted.iter().any(|w| usize::try_from(w.channel) == Ok(position))
            || self.power_from.is_some_and(|(v, a)| position == v || position == a)
    }
}

impl Reader {
    /// Every boot in which the series has samples.
    pub(super) fn extents(&self, id: SeriesId) -> Result<Vec<Extent>> {
        let read = || -> rusqlite::Result<Vec<Extent>> {
            let mut extents: BTreeMap<BootNo, Extent> = BTreeMap::new();
            let mut spans = self
                .connection
                .prepare_cached("SELECT boot, first_mono_ms, last_mono_ms FROM span WHERE series = ?1")?;
            let mut rows = spans.query([id.0])?;
            while let Some(row) = rows.next()? {
                let boot = BootNo(row.get(0)?);
                let folded = Some((row.get(1)?, row.get(2)?));
                extents.insert(boot, Extent { boot, folded, tail_from: None });
            }
            let mut tails = self
                .connection
                .prepare_cached("SELECT boot, min(first_mono_ms) FROM every_tail WHERE series = ?1 GROUP BY boot")?;
            let mut rows = tails.query([id.0])?;
            while let Some(row) = rows.next()? {
                let boot = BootNo(row.get(0)?);
                let folded = extents.get(&boot).and_then(|extent| extent.folded);
                let tail_from = row.get(1)?;
                extents.insert(boot, Extent { boot, folded, tail_from });
            }
            Ok(extents.into_values().collect())
        };
        read().map_err(self.err("read where the series lies"))
    }

    /// Where the series has samples in one boot.
    pub(super) fn extent_of(&self, id: SeriesId, boot: BootNo) -> Result<Option<Extent>> {
        let keys = params![id.0, boot.0];
        let read = || -> rusqlite::Result<Option<Extent>> {
            let folded = self
                .connection
                .prepare_cached("SELECT first_mono_ms, last_mono_ms FROM span WHERE series = ?1 AND boot = ?2")?
                .query_row(keys, |row| Ok((row.get(0)?, row.get(1)?)))
                .optional()?;
            let tail_from: Option<i64> = self
                .connection
                .prepare_cached("SELECT min(first_mono_ms) FROM every_tail WHERE series = ?1 AND boot = ?2")?
                .query_row(keys, |row| row.get(0))?;
            let any = folded.is_some() || tail_from.is_some();
            Ok(any.then_some(Extent { boot, folded, tail_from }))
        };
        read().map_err(self.err("read where the series lies"))
    }

    /// The stretches between two times, in the order of boot and monotonic time.
    pub(super) fn pieces(&self, id: SeriesId, from: UtcMs, to: UtcMs) -> Result<Vec<Piece>> {
        let extents: BTreeMap<BootNo, Extent> =
            self.extents(id)?.into_iter().map(|extent| (extent.boot, extent)).collect();
        let ranges = self.timeline()?.ranges(from, to);
        self.note_set_aside(id, &ranges)?;
        Ok(ranges
            .into_iter()
            .filter_map(|range| {
                let extent = *extents.get(&range.boot)?;
                let from = range.from.max(extent.first().mono);
                let to = range.to.min(MonoMs(extent.end_ms()));
                (from < to).then_some(Piece { range: MonoRange { from, to, ..range }, extent })
            })
            .collect())
    }

    /// Gives each chunk that may reach into `from_ms..to_ms` to `visit`: its samples, or its minutes if `minutes`
    /// and there are any (`true` beside the bytes tells which). What cannot be read is noted and left out; for minutes
    /// that cannot, the samples stand in.
    pub(super) fn each_chunk(
        &self,
        id: SeriesId,
        boot: BootNo,
        (from_ms, to_ms): (i64, i64),
        minutes: bool,
        mut visit: impl FnMut(&[u8], bool) -> Decoded<()>,
    ) -> Result<()> {
        let err = self.err("read its chunks");
        let mut select = self
            .connection
            .prepare_cached(
                "SELECT c.id, c.first_mono_ms, m.data, CASE WHEN m.data IS NULL THEN c.data END
                 FROM chunk c LEFT JOIN minute_chunk m ON ?5 AND m.id = c.id
                 WHERE c.series = ?1 AND c.boot = ?2 AND c.first_mono_ms < ?4
                    AND c.first_mono_ms >= coalesce((SELECT max(first_mono_ms) FROM chunk
                        WHERE series = ?1 AND boot = ?2 AND first_mono_ms <= ?3), ?3)
                 ORDER BY c.first_mono_ms",
            )
            .map_err(&err)?;
        let mut rows = select.query(params![id.0, boot.0, from_ms, to_ms, minutes]).map_err(&err)?;
        let mut after_ms = None;
        loop {
            let row = match rows.next().map_err(&err) {
                Ok(Some(row)) => row,
                Ok(None) => return Ok(()),
                Err(error) if is_damage(&error) => break,
                Err(error) => return Err(error),
            };
            let integer = |column| row.get::<_, i64>(column).map_err(&err);
            // Its last moment lies in the row itself, which minutes are read without.
            let first_ms = integer(1)?;
            let place = Place { series: id, boot, first_ms, last_ms: first_ms };
            let blob = |column| {
                let value = row.get_ref(column).map_err(&err)?;
                value.as_blob_or_null().map_err(|e| err(e.into()))
            };
            let packed = Packed { minutes: blob(2)?, samples: blob(3)? };
            self.visit_chunk(integer(0)?, place, packed, &mut visit)?;
            after_ms = Some(place.first_ms);
        }
        // Somewhere on the way the pages themselves are damaged: the rest row by row, so that only what lies there is left
        // out.
        drop(rows);
        self.each_chunk_singly(
            id,
            boot,
            (after_ms.map_or(from_ms, |ms| ms + 1), to_ms),
            after_ms.is_some(),
            &mut |row| {
                let minutes_first = if minutes { self.minutes_of(row)? } else { None };
                let samples = match minutes_first {
                    Some(_) => None,
                    None => self.samples_of(row)?,
                };
                let packed = Packed { minutes: minutes_first.as_deref(), samples: samples.as_deref() };
                match packed {
                    Packed { minutes: None, samples: None } => Ok(()),
                    packed => self.visit_chunk(row.0, row.1, packed, &mut visit),
                }
            },
        )
    }

    fn visit_chunk(
        &self,
        chunk: i64,
        place: Place,
        packed: Packed<'_>,
        visit: &mut impl FnMut(&[u8], bool) -> Decoded<()>,
    ) -> Result<()> {
        let kept;
        let samples = match packed.minutes {
            Some(minutes) => {
                let Err(cause) = visit(minutes, true) else { return Ok(()) };
                let last_ms = self.chunk_end(chunk)?.max(place.last_ms);
                self.skip(Source::MinuteChunk, Place { last_ms, ..place }, minutes, cause.to_string());
                kept = self.samples_of((chunk, place))?;
                kept.as_deref()
            }
            None => packed.samples,
        };
        let Some(samples) = samples else { return Ok(()) };
        if let Err(cause) = visit(samples, false) {
            let last_ms = self.chunk_end(chunk)?.max(place.last_ms);
            self.skip(Source::Chunk, Place { last_ms, ..place }, samples, cause.to_string());
        }
        Ok(())
    }

    /// Gives each row of the open tail to `visit`; what cannot be read is noted and left out.
    pub(super) fn each_tail(
        &self,
        id: SeriesId,
        boot: BootNo,
        mut visit: impl FnMut(&[u8]) -> Decoded<()>,
    ) -> Result<()> {
        let err = self.err("read the open tail");
        let mut select = self
            .connection
            .prepare_cached(
                "SELECT first_mono_ms, data FROM every_tail WHERE series = ?1 AND boot = ?2 ORDER BY first_mono_ms",
            )
            .map_err(&err)?;
        let mut rows = select.query(params![id.0, boot.0]).map_err(&err)?;
        while let Some(row) = rows.next().map_err(&err)? {
            let data = row.get_ref(1).map_err(&err)?;
            let data = data.as_blob().map_err(|e| err(e.into()))?;
            if let Err(cause) = visit(data) {
                let first_ms = row.get(0).map_err(&err)?;
                let last_ms = self.tail_end(id, boot, first_ms)?;
                self.skip(Source::Tail, Place { series: id, boot, first_ms, last_ms }, data, cause.to_string());
            }
        }
        Ok(())
    }
}

/// What a chunk was read as.
struct Packed<'a> {
    minutes: Option<&'a [u8]>,
    samples: Option<&'a [u8]>,
}

type Decoded<T> = std::result::Result<T, CodecError>;
