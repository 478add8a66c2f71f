//! What the power leaves behind when it is cut: every file as it was synced, and of what came after, anything.
//!
//! Synced are the bytes and the length of a file by a sync of the file, its name by a sync of the folder or, as ext4
//! does it, of the file. Of what came after, the kernel may have written any part in any order; sectors are whole.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use super::{Chance, Change, FileNo};

/// What the card writes as a whole.
const SECTOR: usize = 512;

/// What becomes of that which was not synced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cut {
    /// It is lost.
    Nothing,
    /// All of it was written in time.
    Everything,
    /// It was written in order up to some point; what was being written there is torn between sectors.
    Torn,
    /// Some of the writes were made, the others not.
    Some,
    /// Each sector is as any of the writes left it, and the length any that the file has had.
    AnyOrder,
}

impl Cut {
    pub const ALL: [Cut; 5] = [Cut::Nothing, Cut::Everything, Cut::Torn, Cut::Some, Cut::AnyOrder];
}

/// The files that are found after a cut.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Image {
    pub files: BTreeMap<String, Vec<u8>>,
}

impl Image {
    /// Writes the files into a folder.
    pub fn lay(&self, folder: &Path) {
        for (name, content) in &self.files {
            std::fs::write(folder.join(name), content).expect("room for an image");
        }
    }

    /// A number that tells images apart.
    pub fn checksum(&self) -> u64 {
        let mut sums = [crc32fast::Hasher::new(), crc32fast::Hasher::new_with_initial(1)];
        for sum in &mut sums {
            for (name, content) in &self.files {
                sum.update(name.as_bytes());
                sum.update(&content.len().to_le_bytes());
                sum.update(content);
            }
        }
        let [high, low] = sums.map(|sum| u64::from(sum.finalize()));
        high << 32 | low
    }
}

#[derive(Debug, Clone)]
enum Later {
    Write { offset: usize, data: Arc<[u8]> },
    Resize(usize),
}

#[derive(Debug, Clone, Default)]
struct Kept {
    synced: Vec<u8>,
    later: Vec<Later>,
}

#[derive(Debug, Clone)]
enum Naming {
    Create { file: FileNo, name: String },
    Remove { name: String },
    Rename { from: String, to: String },
}

impl Naming {
    fn apply(&self, names: &mut BTreeMap<String, FileNo>) {
        match self {
            Naming::Create { file, name } => {
                names.insert(name.clone(), *file);
            }
            Naming::Remove { name } => {
                names.remove(name);
            }
            Naming::Rename { from, to } => {
                if let Some(file) = names.remove(from) {
                    names.insert(to.clone(), file);
                }
            }
        }
    }

    fn concerns(&self, other: &str) -> bool {
        match self {
            Naming::Create { name, .. } | Naming::Remove { name } => name == other,
            Naming::Rename { from, to } => from == other || to == other,
        }
    }
}

/// The card at some point of a record.
#[derive(Debug, Clone)]
pub struct Platter {
    files: BTreeMap<FileNo, Kept>,
    names: BTreeMap<String, FileNo>,
    later_names: Vec<Naming>,
    chance: Chance,
}

impl Platter {
    /// A card with the files of an image, as [`super::Disk::mount_with`] numbers them; `seed` decides what failed syncs
    /// have written.
    pub fn new(image: &Image, seed: u64) -> Platter {
        let numbered = (2..).zip(&image.files);
        let (names, files) = numbered
            .map(|(file, (name, content))| {
                ((name.clone(), file), (file, Kept { synced: content.clone(), later: Vec::new() }))
            })
            .unzip();
        Platter { files, names, later_names: Vec::new(), chance: Chance(seed) }
    }

    pub fn apply(&mut self, change: &Change) {
        match change {
            Change::Create { file, name } => {
                self.files.insert(*file, Kept::default());
                self.later_names.push(Naming::Create { file: *file, name: name.clone() });
            }
            Change::Write { file, offset, data } => {
                self.later(*file).push(Later::Write { offset: *offset, data: Arc::clone(data) });
            }
            Change::Resize { file, length } => self.later(*file).push(Later::Resize(*length)),
            Change::Sync { file } => {
                if let Some(kept) = self.files.get_mut(file) {
                    kept.sync();
                }
                self.sync_name(*file);
            }
            Change::FailedSync { file } => {
                if let Some(kept) = self.files.get_mut(file) {
                    let written = [Cut::Nothing, Cut::Everything, Cut::AnyOrder][self.chance.below(3)];
                    kept.synced = kept.found(written, &mut self.chance);
                    kept.later.clear();
                }
            }
            Change::Remove { name } => self.later_names.push(Naming::Remove { name: name.clone() }),
            Change::Rename { from, to } => {
                self.later_names.push(Naming::Rename { from: from.clone(), to: to.clone() });
            }
            Change::SyncNames => {
                for naming in self.later_names.drain(..) {
                    naming.apply(&mut self.names);
                }
            }
        }
    }

    /// What is found if the power goes here.
    pub fn image(&self, cut: Cut, chance: &mut Chance) -> Image {
        let mut names = self.names.clone();
        let until = match cut {
            Cut::Nothing => 0,
            Cut::Torn => chance.below(self.later_names.len() + 1),
            _ => self.later_names.len(),
        };
        for naming in &self.later_names[..until] {
            if !matches!(cut, Cut::Some | Cut::AnyOrder) || chance.coin() {
                naming.apply(&mut names);
            }
        }
        let files = names.into_iter().map(|(name, file)| (name, self.files[&file].found(cut, chance)));
        Image { files: files.collect() }
    }

    fn later(&mut self, file: FileNo) -> &mut Vec<Later> {
        &mut self.files.entry(file).or_default().later
    }

    /// The name that a file has now, with all that was done to that name before.
    fn sync_name(&mut self, file: FileNo) {
        let mut now = self.names.clone();
        self.later_names.iter().for_each(|naming| naming.apply(&mut now));
        let Some((name, _)) = now.into_iter().find(|(_, named)| *named == file) else { return };
        let (of_it, others) = self.later_names.drain(..).partition(|naming| naming.concerns(&name));
        self.later_names = others;
        let of_it: Vec<Naming> = of_it;
        of_it.iter().for_each(|naming| naming.apply(&mut self.names));
    }
}

impl Kept {
    fn sync(&mut self) {
        for later in std::mem::take(&mut self.later) {
            later.apply(&mut self.synced);
        }
    }

    fn found(&self, cut: Cut, chance: &mut Chance) -> Vec<u8> {
        let mut content = self.synced.clone();
        match cut {
            Cut::Nothing => {}
            Cut::Everything => self.later.iter().for_each(|later| later.apply(&mut content)),
            Cut::Some => {
                self.later.iter().filter(|_| chance.coin()).for_each(|later| later.apply(&mut content));
            }
            Cut::Torn => {
                let until = chance.below(self.later.len() + 1);
                self.later[..until].iter().for_each(|later| later.apply(&mut content));
                if let Some(later) = self.later.get(until) {
                    later.apply_torn(&mut content, chance);
                }
            }
            Cut::AnyOrder => return self.in_any_order(chance),
        }
        content
    }

    fn in_any_order(&self, chance: &mut Chance) -> Vec<u8> {
        let mut now = self.synced.clone();
        let mut lengths = vec![now.len()];
        // Each sector by number, as it was after each change that met it.
        let mut versions: BTreeMap<usize, Vec<Vec<u8>>> = BTreeMap::new();
        for later in &self.later {
            let before = now.len();
            later.apply(&mut now);
            lengths.push(now.len());
            let (from, to) = match later {
                Later::Write { offset, data } => (*offset, offset + data.len()),
                Later::Resize(length) => (before.min(*length), before.max(*length)),
            };
            for sector in from / SECTOR..to.div_ceil(SECTOR) {
                let at = (sector * SECTOR).min(now.len())..((sector + 1) * SECTOR).min(now.len());
                versions.entry(sector).or_default().push(now[at].to_vec());
            }
        }
        let mut content = self.synced.clone();
        content.resize(lengths[chance.below(lengths.len())], 0);
        for (sector, versions) in versions {
            let Some(version) = versions.get(chance.below(versions.len() + 1)) else { continue };
            let from = (sector * SECTOR).min(content.len());
            let to = (from + version.len()).min(content.len());
            content[from..to].copy_from_slice(&version[..to - from]);
        }
        content
    }
}

impl Later {
    fn apply(&self, content: &mut Vec<u8>) {
        match self {
            Later::Write { offset, data } => write(content, *offset, data),
            Later::Resize(length) => content.resize(*length, 0),
        }
    }

    /// Some sectors of the write are made, the others not.
    fn apply_torn(&self, content: &mut Vec<u8>, chance: &mut Chance) {
        let Later::Write { offset, data } = self else { return };
        let mut from = 0;
        while from < data.len() {
            let to = (SECTOR - (offset + from) % SECTOR + from).min(data.len());
            if chance.coin() {
                write(content, offset + from, &data[from..to]);
            }
            from = to;
        }
    }
}

fn write(content: &mut Vec<u8>, offset: usize, data: &[u8]) {
    if content.len() < offset + data.len() {
        content.resize(offset + data.len(), 0);
    }
    content[offset..offset + data.len()].copy_from_slice(data);
}
