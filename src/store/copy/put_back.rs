//! A copy put back in place of the store, so that a cut at any instant leaves one whole store to start with.
//!
//! 1. The copy is made and checked as any other, as `STORE.partial`. A cut leaves the old store in place.
//! 2. It is renamed to `STORE.restored-WHEN`. From here on the copy is what counts: whoever claims the data folder next
//!    finishes the rest ([`finish_put_back`]), so a start never begins an empty store in between.
//! 3. The old store and what lies beside it (its log above all, which would be taken for the new one's) are renamed to
//!    `STORE.before-restore-WHEN`, kept as they are; the folder is synced.
//! 4. `STORE.restored-WHEN` is renamed to `STORE`; the folder is synced.

use std::path::{Path, PathBuf};

use super::{
    BESIDE, Copied, CopyError, CopyProgress, Partial, copy_and_check, file_error, folder_of, sync_folder, with_end,
};

const RESTORED: &str = ".restored-";
const ASIDE: &str = ".before-restore-";

/// What was put back.
#[derive(Debug, Clone, PartialEq)]
pub struct PutBack {
    /// The copy as it was checked in its new place.
    pub copied: Copied,
    /// Where the store of before lies now, if there was one.
    pub aside: Option<PathBuf>,
}

/// Puts the copy at `from` in the place of `store`, whose folder the caller has claimed. `when` goes into the name of the
/// store of before; `accept_damage` takes a copy of which some pieces cannot be read.
///
/// # Errors
/// [`CopyError`]; the store of before is in place then, or, where a rename failed, put aside beside the complete copy.
pub fn put_back(
    from: &Path,
    store: &Path,
    when: &str,
    accept_damage: bool,
    progress: CopyProgress<'_>,
) -> Result<PutBack, CopyError> {
    if super::same_file(from, store) {
        return Err(CopyError::IsTheStore(from.to_owned()));
    }
    let mut partial = Partial::beside(store, "partial")?;
    let copied = copy_and_check(from, &partial.path, progress)?;
    if let Some(first) = copied.soundness.broken.first().filter(|_| !accept_damage) {
        let count = copied.soundness.broken.len();
        return Err(CopyError::Broken { path: from.to_owned(), count, first: first.clone() });
    }
    own_like(&partial.path, store)?;
    let when = unused(store, when);
    partial.rename(&with_end(store, &format!("{RESTORED}{when}")))?;
    let aside = finish_put_back(store)?;
    Ok(PutBack { copied, aside })
}

/// Finishes what [`put_back`] had begun when it was cut off: from the second step on, as told above. Does nothing where
/// nothing was begun. The caller has claimed the folder. Gives where the store of before lies now, if there was one.
///
/// # Errors
/// [`CopyError::File`].
pub fn finish_put_back(store: &Path) -> Result<Option<PathBuf>, CopyError> {
    let folder = folder_of(store);
    let mut last = None;
    for (restored, when) in restored(store)? {
        let aside = with_end(store, &format!("{ASIDE}{when}"));
        for end in BESIDE.into_iter().chain([""]) {
            let (old, kept) = (with_end(store, end), with_end(&aside, end));
            match std::fs::rename(&old, &kept) {
                Err(cause) if cause.kind() != std::io::ErrorKind::NotFound => {
                    return Err(CopyError::File { path: old, what: "put aside", cause });
                }
                _ => {}
            }
        }
        sync_folder(folder)?;
        std::fs::rename(&restored, store).map_err(file_error(&restored, "put in place"))?;
        sync_folder(folder)?;
        last = aside.exists().then_some(aside);
    }
    Ok(last)
}

/// Complete copies that wait to be put in place, with their times: one at most, but for a person's own doing.
fn restored(store: &Path) -> Result<Vec<(PathBuf, String)>, CopyError> {
    let folder = folder_of(store);
    let Some(name) = store.file_name().and_then(|name| name.to_str()) else { return Ok(Vec::new()) };
    let begins = format!("{name}{RESTORED}");
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(file_error(folder, "look into"))? {
        let entry = entry.map_err(file_error(folder, "look into"))?;
        let own = entry.file_name();
        let when = own.to_str().and_then(|own| own.strip_prefix(&begins));
        if let Some(when) = when.filter(|when| !BESIDE.iter().any(|end| when.ends_with(end))) {
            found.push((entry.path(), when.to_owned()));
        }
    }
    found.sort();
    Ok(found)
}

/// `when`, or with a number behind it where something of that name is kept already.
fn unused(store: &Path, when: &str) -> String {
    let taken = |when: &str| {
        let aside = with_end(store, &format!("{ASIDE}{when}"));
        BESIDE.iter().chain(&[""]).any(|end| with_end(&aside, end).symlink_metadata().is_ok())
    };
    let numbered = (2..).map(|number| format!("{when}-{number}"));
    std::iter::once(when.to_owned()).chain(numbered).find(|when| !taken(when)).expect("numbers do not end")
}

/// Gives a file the owner of the store (of its folder, where there is none): the daemon may run as somebody else than who
/// restores.
fn own_like(path: &Path, store: &Path) -> Result<(), CopyError> {
    use std::os::unix::fs::MetadataExt;
    let folder = folder_of(store);
    let pattern = store.metadata().or_else(|_| folder.metadata()).map_err(file_error(folder, "look at"))?;
    let own = path.metadata().map_err(file_error(path, "look at"))?;
    if (own.uid(), own.gid()) == (pattern.uid(), pattern.gid()) {
        return Ok(());
    }
    std::os::unix::fs::chown(path, Some(pattern.uid()), Some(pattern.gid()))
        .map_err(file_error(path, "give to the owner of the store"))
}
