//! A disk for tests of power cuts and of a card that fails: a file system in memory, mounted through FUSE, that records
//! in which order files were written and synced, and refuses what it is told to refuse.
//!
//! Writes come through the kernel as the program makes them, one request each, and reads are answered from the kernel's
//! cache, so that SQLite can map its `-shm` file as on any disk. What a program writes through such a mapping comes when
//! the kernel likes; it is kept, but neither recorded nor refused: only `-shm` is mapped, and whoever opens the database
//! first after a crash makes that file anew.

mod chance;
mod files;
mod platter;

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard};

pub use chance::Chance;
pub use platter::{Cut, Image, Platter};

/// A folder for images, in memory where there is such a place: a card takes its time to sync.
pub fn shore() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    let made = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() };
    made.expect("a scratch directory")
}

/// Number of a file; a name that is created anew gets a new one.
pub type FileNo = u64;

/// Something that reached the disk, in the order of the record.
#[derive(Debug, Clone)]
pub enum Change {
    Create {
        file: FileNo,
        name: String,
    },
    Write {
        file: FileNo,
        offset: usize,
        data: Arc<[u8]>,
    },
    Resize {
        file: FileNo,
        length: usize,
    },
    /// All that was written to the file before is on the card.
    Sync {
        file: FileNo,
    },
    /// The sync failed: the kernel forgets which pages were not yet written.
    FailedSync {
        file: FileNo,
    },
    Remove {
        name: String,
    },
    Rename {
        from: String,
        to: String,
    },
    /// All names are on the card.
    SyncNames,
}

/// What a fault meets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meets {
    /// Whatever changes a file or a name.
    Changes,
    Syncs,
}

/// The disk refuses.
#[derive(Debug, Clone, Copy)]
pub struct Fault {
    pub meets: Meets,
    /// So many more are let through first.
    pub after: usize,
    /// Until healed; otherwise only one.
    pub lasts: bool,
    pub error: fuser::Errno,
}

/// What the disk holds, and what it has seen.
#[derive(Debug, Default)]
struct State {
    names: std::collections::BTreeMap<String, FileNo>,
    files: std::collections::BTreeMap<FileNo, Vec<u8>>,
    next: FileNo,
    record: Vec<Change>,
    fault: Option<Fault>,
    changes: usize,
    syncs: usize,
    refused: usize,
}

impl State {
    /// Counts what is asked for, and says whether it is refused.
    fn ask(&mut self, meets: Meets) -> Result<(), fuser::Errno> {
        match meets {
            Meets::Changes => self.changes += 1,
            Meets::Syncs => self.syncs += 1,
        }
        let Some(fault) = self.fault.as_mut().filter(|fault| fault.meets == meets) else { return Ok(()) };
        if fault.after > 0 {
            fault.after -= 1;
            return Ok(());
        }
        let Fault { error, lasts, .. } = *fault;
        if !lasts {
            self.fault = None;
        }
        self.refused += 1;
        Err(error)
    }

    /// A card that is read-only for the moment lets nobody open a file to write.
    fn ask_to_open(&mut self) -> Result<(), fuser::Errno> {
        let read_only = |fault: &Fault| fault.lasts && fault.after == 0 && fault.error == fuser::Errno::EROFS;
        match self.fault.filter(read_only) {
            Some(fault) => {
                self.refused += 1;
                Err(fault.error)
            }
            None => Ok(()),
        }
    }
}

/// The disk, mounted. Whatever has files open on it must be dropped before it.
pub struct Disk {
    // Before the folder that it is mounted on.
    _session: fuser::BackgroundSession,
    folder: tempfile::TempDir,
    state: Arc<Mutex<State>>,
}

impl Disk {
    /// An empty disk; `None` (said on standard error) where FUSE is not to be had.
    pub fn mount() -> Option<Disk> {
        Disk::mount_with(&Image::default())
    }

    /// A disk that holds what an earlier one held when its power was cut.
    pub fn mount_with(image: &Image) -> Option<Disk> {
        let mut state = State { next: 2, ..State::default() };
        for (name, content) in &image.files {
            state.names.insert(name.clone(), state.next);
            state.files.insert(state.next, content.clone());
            state.next += 1;
        }
        let state = Arc::new(Mutex::new(state));
        let folder = tempfile::tempdir().expect("a scratch directory");
        let mut options = fuser::Config::default();
        options.mount_options = vec![fuser::MountOption::FSName("recording-disk".to_owned())];
        match fuser::spawn_mount(files::Files(Arc::clone(&state)), folder.path(), &options) {
            Ok(session) => Some(Disk { _session: session, folder, state }),
            Err(error) => {
                eprintln!("skipped: no FUSE here ({error})");
                None
            }
        }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// How long the record is: what was acknowledged by now lies before it.
    pub fn mark(&self) -> usize {
        self.state().record.len()
    }

    pub fn record(&self) -> Vec<Change> {
        self.state().record.clone()
    }

    pub fn refuse(&self, fault: Fault) {
        self.state().fault = Some(fault);
    }

    /// Refuses nothing any more; tells how often it has refused.
    pub fn heal(&self) -> usize {
        let mut state = self.state();
        state.fault = None;
        state.refused
    }

    /// How often the disk has refused.
    pub fn refused(&self) -> usize {
        self.state().refused
    }

    /// How many changes, or syncs, were asked for.
    pub fn asked(&self, meets: Meets) -> usize {
        match meets {
            Meets::Changes => self.state().changes,
            Meets::Syncs => self.state().syncs,
        }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().expect("the disk's thread does not panic")
    }
}

mod tests;
