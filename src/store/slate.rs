//! The slate: a small file beside the store that holds what was taken since the last commit.
//!
//! A commit costs a card some hundred kilobytes, most of it the file system's own journal, and nothing older than ten
//! seconds may be lost. So every few seconds the samples that wait are written here instead, all of them anew, into the
//! slot of two that does not hold the latest note: a write that a power cut tears costs that note, never the one before.
//! The file never changes its length, and is written past the page cache where the file system allows it, so that a note
//! costs its own sectors and a time stamp in the journal, nothing else.
//!
//! A note carries the mark of the commit that it follows (table `slate_mark`, drawn anew by each commit). Notes with
//! another mark than that of the last commit, or of the one before, are in the store already. Whoever opens the store takes the valid note into it, and commits.
//!
//! Layout of a slot: 8 bytes of magic, CRC-32 of all that follows, length of the payload (4 bytes), mark (8), sequence
//! number (8), payload; numbers little-endian. Payload: for each stretch the numbers of series and boot, the count, the
//! length of the bytes, and the bytes, packed as a row of the tail.

use std::fs::{File, OpenOptions};
use std::io;
use std::os::unix::fs::{FileExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rustix::fs::OFlags;

use super::beside::{SLATE, folder_of, with_end};
use super::codec::bytes::{Bytes, put};
use super::codec::{self, CodecError};
use super::record::SeriesId;
use crate::quantity::BootNo;

/// Room for a note, bytes: half a day of three channels at 1 Hz, for when the card takes no commit. Only the sectors
/// that a note fills are written.
pub const SLOT_BYTES: usize = 64 << 10;

const MAGIC: &[u8; 8] = b"tafslat1";
const HEADER_BYTES: usize = 32;
/// Memory and offsets fit every file system when aligned on this; lengths on a sector of 512 bytes if it allows that.
const PAGE: usize = 4096;
const SECTOR: usize = 512;

/// Samples of one series and boot that are in no commit yet, packed as a row of the tail.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch {
    /// Their series.
    pub series: SeriesId,
    /// Their boot.
    pub boot: BootNo,
    /// Monotonic milliseconds of the first.
    pub first_mono_ms: i64,
    /// How many.
    pub count: usize,
    /// The samples, as [`codec::encode`] packs them.
    pub data: Arc<[u8]>,
}

/// The latest note of a file, whatever commit it follows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Mark of the commit that it follows.
    pub mark: i64,
    /// Rises with each note.
    pub sequence: u64,
    /// What it holds.
    pub stretches: Vec<Stretch>,
}

/// Where the slate of a store lies.
#[must_use]
pub fn path_of(store: &Path) -> PathBuf {
    with_end(store, SLATE)
}

/// The latest sound note in the bytes of a slate; `None` if neither slot has one.
#[must_use]
pub fn latest_note(file: &[u8]) -> Option<Note> {
    file.chunks(SLOT_BYTES).take(2).filter_map(|slot| read_slot(slot).ok()).max_by_key(|note| note.sequence)
}

fn read_slot(slot: &[u8]) -> Result<Note, CodecError> {
    let mut bytes = Bytes(slot);
    if bytes.take(MAGIC.len())? != MAGIC {
        return Err(CodecError::Nonsense("no note"));
    }
    let crc = u32::from_le_bytes(fixed(&mut bytes)?);
    let content = bytes.0;
    let length = u32::from_le_bytes(fixed(&mut bytes)?);
    let length = usize::try_from(length).map_err(|_| CodecError::Short)?;
    let covered = content.get(..HEADER_BYTES - 12 + length).ok_or(CodecError::Short)?;
    if crc32fast::hash(covered) != crc {
        return Err(CodecError::Checksum);
    }
    let mark = i64::from_le_bytes(fixed(&mut bytes)?);
    let sequence = u64::from_le_bytes(fixed(&mut bytes)?);
    let mut payload = Bytes(bytes.take(length)?);
    let mut stretches = Vec::new();
    while !payload.0.is_empty() {
        stretches.push(take_stretch(&mut payload)?);
    }
    Ok(Note { mark, sequence, stretches })
}

fn take_stretch(payload: &mut Bytes<'_>) -> Result<Stretch, CodecError> {
    let series = SeriesId(payload.signed()?);
    let boot = u32::try_from(payload.number()?).map_err(|_| CodecError::Nonsense("an impossible boot"))?;
    let first_mono_ms = payload.signed()?;
    let count = usize::try_from(payload.number()?).map_err(|_| CodecError::Short)?;
    if count > codec::MAX_COUNT {
        return Err(CodecError::Nonsense("too many samples"));
    }
    Ok(Stretch { series, boot: BootNo(boot), first_mono_ms, count, data: payload.section()?.0.into() })
}

fn fixed<const N: usize>(bytes: &mut Bytes<'_>) -> Result<[u8; N], CodecError> {
    bytes.take(N)?.try_into().map_err(|_| CodecError::Short)
}

/// The slot that a note fills, without what follows it; `None` if it does not fit.
#[must_use]
pub fn pack(note: &Note) -> Option<Vec<u8>> {
    let mut payload = Vec::new();
    for stretch in &note.stretches {
        codec::bytes::put_signed(&mut payload, stretch.series.0);
        put(&mut payload, u64::from(stretch.boot.0));
        codec::bytes::put_signed(&mut payload, stretch.first_mono_ms);
        put(&mut payload, stretch.count as u64);
        put(&mut payload, stretch.data.len() as u64);
        payload.extend_from_slice(&stretch.data);
    }
    let length = u32::try_from(payload.len()).ok().filter(|_| HEADER_BYTES + payload.len() <= SLOT_BYTES)?;
    let mut content = length.to_le_bytes().to_vec();
    content.extend(note.mark.to_le_bytes());
    content.extend(note.sequence.to_le_bytes());
    content.append(&mut payload);
    let mut slot = MAGIC.to_vec();
    slot.extend(crc32fast::hash(&content).to_le_bytes());
    slot.append(&mut content);
    Some(slot)
}

/// A slate that is written.
#[derive(Debug)]
pub(super) struct Slate {
    path: PathBuf,
    file: File,
    /// What a write has to be a multiple of; 1 through the page cache.
    unit: usize,
    sequence: u64,
}

impl Slate {
    /// Opens the slate at `path`, made if it is not there. Its notes stay until they are written over.
    pub(super) fn open(path: &Path) -> io::Result<Slate> {
        let present = match std::fs::read(path) {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
            Err(error) => return Err(error),
        };
        if present.len() < 2 * SLOT_BYTES {
            allocate(path, present.len())?;
        }
        let sequence = latest_note(&present).map_or(0, |note| note.sequence);
        let (file, unit) = match open_file(path, true) {
            Ok(file) => (file, SECTOR),
            // Some file systems know no way past the page cache.
            Err(_) => (open_file(path, false)?, 1),
        };
        Ok(Slate { path: path.to_owned(), file, unit, sequence })
    }

    /// Writes a note that follows the commit of `mark`; when this returns true it is on the card. False if it does not
    /// fit: the note before it stands.
    pub(super) fn write(&mut self, mark: i64, stretches: Vec<Stretch>) -> io::Result<bool> {
        let note = Note { mark, sequence: self.sequence + 1, stretches };
        let Some(slot) = pack(&note) else { return Ok(false) };
        let written = self.put(&slot, note.sequence).and_then(|()| self.file.sync_data());
        // What failed may be there or not, now or after a power cut: the next note goes over it, not over the one before.
        self.sequence += if written.is_ok() { 1 } else { 2 };
        written.map(|()| true)
    }

    /// The same slate after a failed write, opened anew: the card may have become another one meanwhile. The next note
    /// goes where it would have gone, and counts higher than any that is there.
    pub(super) fn opened_anew(self) -> Slate {
        match Slate::open(&self.path) {
            Ok(anew) => {
                let higher = anew.sequence.saturating_sub(self.sequence).next_multiple_of(2);
                Slate { sequence: self.sequence + higher, ..anew }
            }
            Err(_) => self,
        }
    }

    fn put(&mut self, slot: &[u8], sequence: u64) -> io::Result<()> {
        let place = if sequence.is_multiple_of(2) { 0 } else { SLOT_BYTES as u64 };
        loop {
            let length = slot.len().next_multiple_of(self.unit);
            let mut buffer = vec![0_u8; length + PAGE];
            let aligned = buffer.as_ptr().align_offset(PAGE).min(PAGE);
            let bytes = &mut buffer[aligned..aligned + length];
            bytes[..slot.len()].copy_from_slice(slot);
            match self.file.write_all_at(bytes, place) {
                Err(error) if error.kind() == io::ErrorKind::InvalidInput && self.unit > 1 => self.coarser()?,
                written => return written,
            }
        }
    }

    /// Larger sectors, and at last the page cache, where smaller ones are refused.
    fn coarser(&mut self) -> io::Result<()> {
        if self.unit < PAGE {
            self.unit = PAGE;
        } else {
            (self.file, self.unit) = (open_file(&self.path, false)?, 1);
        }
        Ok(())
    }
}

fn open_file(path: &Path, past_the_cache: bool) -> io::Result<File> {
    let flags = if past_the_cache { OFlags::DIRECT } else { OFlags::empty() };
    OpenOptions::new().write(true).custom_flags(flags.bits().cast_signed()).open(path)
}

/// Fills the file up with zeros, so that no later write changes its length or its place on the card.
fn allocate(path: &Path, present: usize) -> io::Result<()> {
    let file = OpenOptions::new().write(true).create(true).truncate(false).open(path)?;
    file.write_all_at(&vec![0; 2 * SLOT_BYTES - present], present as u64)?;
    file.sync_all()?;
    File::open(folder_of(path))?.sync_all()
}

#[cfg(test)]
mod tests;
