//! Every chunk of a series in a boot, one after the other, and the open tail after them.

use rusqlite::{OptionalExtension, params};

use super::summaries::Expected;
use super::{Place, Proof, RESTORE, SET_ASIDE, Stretch, minutes};
use crate::store::block::{POWER, slot};
use crate::store::codec::{self, Columns};
use crate::store::summary::{Carry, MINUTE_MS, by_span, power_of};
use crate::store::writer::layout_of;

/// A row of the table of chunks, beside its bytes.
struct Row {
    last_ms: i64,
    count: i64,
    samples: Result<Columns, String>,
    is_empty: bool,
    /// Whether its summaries are of more samples than it holds.
    is_thinned: bool,
    minutes: Option<Result<Columns, String>>,
}

/// What the chunk before left to go on from.
struct Walk {
    place: Place,
    /// Last moment of the chunk before.
    last_ms: Option<i64>,
    carry: Vec<Carry>,
    /// Whether the chunk before could be read, so that the carry is what the writer had.
    sure: bool,
}

impl Proof<'_> {
    /// Chunks and minutes of a series in a boot, and the hours and days made of them.
    pub(super) fn check_chunks(&mut self, place: Place) -> rusqlite::Result<()> {
        let (series, boot) = (place.0.0, place.1.0);
        let ids: Vec<(i64, i64)> = self
            .connection
            .prepare_cached(
                "SELECT id, first_mono_ms FROM chunk WHERE series = ?1 AND boot = ?2 ORDER BY first_mono_ms",
            )?
            .query_map(params![series, boot], |row| Ok((row.get(0)?, row.get(1)?)))?
            .collect::<rusqlite::Result<_>>()?;
        let mut walk = Walk { place, last_ms: None, carry: Vec::new(), sure: true };
        let mut expected = Expected::new(place);
        for (chunk, first_ms) in ids {
            self.compare_before(&mut expected, first_ms)?;
            let row = match self.read_chunk(chunk) {
                Ok(Some(row)) => row,
                Ok(None) => continue,
                Err(error) => {
                    // Its pages are damaged; how far it reached lies in them too.
                    let stretch = Stretch { place, first_ms, last_ms: first_ms };
                    self.find_at("chunk", stretch, error.to_string(), RESTORE);
                    walk.hole(&mut expected, stretch);
                    continue;
                }
            };
            self.check_chunk(&mut walk, &mut expected, first_ms, row)?;
        }
        self.compare_rest(&mut expected)
    }

    fn read_chunk(&self, chunk: i64) -> rusqlite::Result<Option<Row>> {
        self.connection
            .prepare_cached(
                "SELECT last_mono_ms, count, data, (SELECT data FROM minute_chunk WHERE id = ?1) FROM chunk WHERE id = ?1",
            )?
            .query_row([chunk], |row| {
                let data = row.get_ref(2)?.as_blob()?;
                let minutes = row.get_ref(3)?.as_blob_or_null()?;
                let unpack = |data| codec::decode(data, |_| true).map_err(|cause| cause.to_string());
                Ok(Row {
                    last_ms: row.get(0)?,
                    count: row.get(1)?,
                    samples: unpack(data),
                    is_empty: data.is_empty(),
                    is_thinned: self.thinned.contains(&chunk),
                    minutes: minutes.map(unpack),
                })
            })
            .optional()
    }

    fn check_chunk(
        &mut self,
        walk: &mut Walk,
        expected: &mut Expected,
        first_ms: i64,
        row: Row,
    ) -> rusqlite::Result<()> {
        let stretch = Stretch { place: walk.place, first_ms, last_ms: row.last_ms };
        if walk.last_ms.is_some_and(|last| first_ms <= last) {
            self.find_at("chunk", stretch, "it begins before the chunk before it ends", RESTORE);
        }
        walk.last_ms = Some(row.last_ms.max(walk.last_ms.unwrap_or(i64::MIN)));
        self.reach(walk.place.0, walk.place.1, row.last_ms);
        if let Some(Err(cause)) = &row.minutes {
            self.find_at("minute_chunk", stretch, cause.clone(), "the daemon makes it anew from the samples");
        }
        let samples = match row.samples {
            Ok(samples) => samples,
            Err(cause) => {
                walk.hole(expected, stretch);
                if !(row.is_empty && self.was_set_aside(stretch)?) {
                    self.find_at("chunk", stretch, cause, SET_ASIDE);
                }
                return Ok(());
            }
        };
        self.check_times("chunk", stretch, row.count, Some(row.last_ms), &samples);
        let known = self.series.get(&walk.place.0);
        let gap_ms = known.map_or(0, |known| known.gap_ms);
        let channels = known.map_or(&[][..], |known| known.channels.as_slice());
        let Some(names) = channels.get(..samples.channels.len()) else {
            self.find_at("chunk", stretch, "it has more channels than its series", RESTORE);
            walk.hole(expected, stretch);
            return Ok(());
        };
        // As they were when it was folded: channels that the series got later are not in it.
        let layout = layout_of(names, gap_ms);
        let power = layout.power_from.map(|(v, a)| power_of(&samples, v, a)).unwrap_or_default();
        walk.carry.resize(slot(samples.channels.len() as i64).max(walk.carry.len()), None);
        let stored = (0_i64..).zip(samples.channels.iter().map(Vec::as_slice));
        let mut fine: Vec<minutes::Fine<'_>> = Vec::with_capacity(samples.channels.len() + 1);
        for (channel, values) in std::iter::once((POWER, power.as_slice())).chain(stored) {
            let carry = &mut walk.carry[slot(channel)];
            let made = by_span(&samples.time_ms, values, carry, gap_ms, MINUTE_MS);
            let unit = usize::try_from(channel).ok().and_then(|place| layout.units.get(place));
            expected.add(channel, &made, unit.copied(), walk.sure);
            fine.push((channel, values, made));
        }
        walk.sure = !row.is_thinned;
        if row.is_thinned {
            expected.hole(first_ms, row.last_ms);
        }
        let fault = if row.is_thinned { minutes::fault_of_thinned } else { minutes::fault };
        if let Some(fault) = fault(&samples.time_ms, &fine, row.minutes.as_ref()) {
            self.find_at("minute_chunk", stretch, fault, "sums are right, charts of days are not; restore a copy");
        }
        self.prove(stretch, samples.time_ms.len());
        Ok(())
    }

    /// Whether the samples of a row are the ones that its columns tell.
    fn check_times(&mut self, table: &'static str, stretch: Stretch, count: i64, last: Option<i64>, samples: &Columns) {
        let times = &samples.time_ms;
        let cause = if times.is_empty() {
            "it holds no samples"
        } else if usize::try_from(count) != Ok(times.len()) {
            "it holds another number of samples than its row says"
        } else if times.first() != Some(&stretch.first_ms) {
            "it begins at another moment than its row says"
        } else if last.is_some() && times.last().copied() != last {
            "it ends at another moment than its row says"
        } else if !times.is_sorted_by(|a, b| a < b) {
            "its times do not rise"
        } else {
            return;
        };
        self.find_at(table, stretch, cause, RESTORE);
    }

    fn was_set_aside(&self, Stretch { place, first_ms, .. }: Stretch) -> rusqlite::Result<bool> {
        if !self.connection.table_exists(None::<&str>, "set_aside")? {
            return Ok(false);
        }
        self.connection
            .prepare_cached(
                "SELECT 1 FROM set_aside
                 WHERE source = 'chunk' AND series = ?1 AND boot = ?2 AND first_mono_ms = ?3",
            )?
            .exists(params![place.0.0, place.1.0, first_ms])
    }

    /// The open tail of a series in a boot.
    pub(super) fn check_tail(&mut self, place: Place) -> rusqlite::Result<()> {
        let keys = params![place.0.0, place.1.0];
        let mut last: Option<i64> = self
            .connection
            .prepare_cached("SELECT max(last_mono_ms) FROM chunk WHERE series = ?1 AND boot = ?2")?
            .query_row(keys, |row| row.get(0))?;
        let mut select = self.connection.prepare_cached(
            "SELECT first_mono_ms, count, data FROM tail WHERE series = ?1 AND boot = ?2 ORDER BY first_mono_ms",
        )?;
        let mut rows = select.query(keys)?;
        while let Some(row) = rows.next()? {
            let (first_ms, count): (i64, i64) = (row.get(0)?, row.get(1)?);
            let stretch = Stretch { place, first_ms, last_ms: first_ms };
            if last.is_some_and(|last| first_ms <= last) {
                self.find_at("tail", stretch, "it begins before what comes before it ends", RESTORE);
            }
            let samples = match codec::decode(row.get_ref(2)?.as_blob()?, |_| true) {
                Ok(samples) => samples,
                Err(cause) => {
                    self.reach(place.0, place.1, i64::MAX);
                    self.find_at("tail", stretch, cause.to_string(), SET_ASIDE);
                    continue;
                }
            };
            self.check_times("tail", stretch, count, None, &samples);
            let last_ms = samples.time_ms.last().copied().unwrap_or(first_ms);
            last = last.max(Some(last_ms));
            self.prove(Stretch { last_ms, ..stretch }, samples.time_ms.len());
        }
        Ok(())
    }
}

impl Walk {
    /// Goes on after a piece that cannot be read: what the next interval starts from is not known.
    fn hole(&mut self, expected: &mut Expected, stretch: Stretch) {
        self.carry.fill(None);
        self.sure = false;
        expected.hole(stretch.first_ms, stretch.last_ms);
    }
}
