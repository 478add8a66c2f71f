//! The disk as the kernel sees it: one flat folder of files.

use std::ffi::OsStr;
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use fuser::{
    BsdFileFlags, Errno, FileAttr, FileHandle, FileType, Filesystem, FopenFlags, Generation, INodeNo, LockOwner,
    OpenAccMode, OpenFlags, RenameFlags, ReplyAttr, ReplyCreate, ReplyData, ReplyDirectory, ReplyEmpty, ReplyEntry,
    ReplyOpen, ReplyStatfs, ReplyWrite, Request, TimeOrNow, WriteFlags,
};
use rustix::fs::OFlags;

use super::{Change, FileNo, Meets, State};

/// The kernel may believe what it is told for as long as this: nobody else changes the files.
const FOR_LONG: Duration = Duration::from_secs(86_400);

/// What direct writes must be aligned to.
const SECTOR: usize = 512;

pub struct Files(pub Arc<Mutex<State>>);

impl Files {
    fn state(&self) -> MutexGuard<'_, State> {
        self.0.lock().expect("nobody panics while holding it")
    }
}

fn attributes(file: FileNo, size: usize, kind: FileType) -> FileAttr {
    FileAttr {
        ino: INodeNo(file),
        size: size as u64,
        blocks: size.div_ceil(SECTOR) as u64,
        atime: UNIX_EPOCH,
        mtime: UNIX_EPOCH,
        ctime: UNIX_EPOCH,
        crtime: UNIX_EPOCH,
        kind,
        perm: if kind == FileType::Directory { 0o755 } else { 0o644 },
        nlink: 1,
        uid: 0,
        gid: 0,
        rdev: 0,
        blksize: 4096,
        flags: 0,
    }
}

impl State {
    fn attributes(&self, file: INodeNo) -> Result<FileAttr, Errno> {
        if file == INodeNo::ROOT {
            return Ok(attributes(file.0, 0, FileType::Directory));
        }
        let content = self.files.get(&file.0).ok_or(Errno::ENOENT)?;
        Ok(attributes(file.0, content.len(), FileType::RegularFile))
    }

    fn named(&self, name: &OsStr) -> Result<FileNo, Errno> {
        name.to_str().and_then(|name| self.names.get(name).copied()).ok_or(Errno::ENOENT)
    }

    fn create(&mut self, name: &OsStr) -> Result<FileAttr, Errno> {
        self.ask(Meets::Changes)?;
        let name = name.to_str().ok_or(Errno::EINVAL)?.to_owned();
        let file = self.next;
        self.next += 1;
        self.names.insert(name.clone(), file);
        self.files.insert(file, Vec::new());
        self.record.push(Change::Create { file, name });
        self.attributes(INodeNo(file))
    }

    fn write(&mut self, file: FileNo, offset: usize, data: &[u8], by_mapping: bool) -> Result<(), Errno> {
        if !by_mapping {
            self.ask(Meets::Changes)?;
            self.record.push(Change::Write { file, offset, data: data.into() });
        }
        let content = self.files.get_mut(&file).ok_or(Errno::ENOENT)?;
        if content.len() < offset + data.len() {
            content.resize(offset + data.len(), 0);
        }
        content[offset..offset + data.len()].copy_from_slice(data);
        Ok(())
    }

    fn resize(&mut self, file: FileNo, length: usize) -> Result<(), Errno> {
        self.ask(Meets::Changes)?;
        self.files.get_mut(&file).ok_or(Errno::ENOENT)?.resize(length, 0);
        self.record.push(Change::Resize { file, length });
        Ok(())
    }

    fn sync(&mut self, file: FileNo) -> Result<(), Errno> {
        let asked = self.ask(Meets::Syncs);
        self.record.push(if asked.is_ok() { Change::Sync { file } } else { Change::FailedSync { file } });
        asked
    }

    fn remove(&mut self, name: &OsStr) -> Result<(), Errno> {
        self.named(name)?;
        self.ask(Meets::Changes)?;
        let name = name.to_str().ok_or(Errno::EINVAL)?.to_owned();
        self.names.remove(&name);
        self.record.push(Change::Remove { name });
        Ok(())
    }

    fn rename(&mut self, from: &OsStr, to: &OsStr) -> Result<(), Errno> {
        let file = self.named(from)?;
        self.ask(Meets::Changes)?;
        let [from, to] = [from, to].map(|name| name.to_string_lossy().into_owned());
        self.names.remove(&from);
        self.names.insert(to.clone(), file);
        self.record.push(Change::Rename { from, to });
        Ok(())
    }
}

/// Answers with nothing, or with the error.
fn empty(result: Result<(), Errno>, reply: ReplyEmpty) {
    match result {
        Ok(()) => reply.ok(),
        Err(error) => reply.error(error),
    }
}

fn place(offset: u64) -> usize {
    usize::try_from(offset).expect("no file of a test is that long")
}

impl Filesystem for Files {
    fn lookup(&self, _: &Request, _: INodeNo, name: &OsStr, reply: ReplyEntry) {
        let state = self.state();
        match state.named(name).and_then(|file| state.attributes(INodeNo(file))) {
            Ok(found) => reply.entry(&FOR_LONG, &found, Generation(0)),
            Err(error) => reply.error(error),
        }
    }

    fn getattr(&self, _: &Request, file: INodeNo, _: Option<FileHandle>, reply: ReplyAttr) {
        match self.state().attributes(file) {
            Ok(found) => reply.attr(&FOR_LONG, &found),
            Err(error) => reply.error(error),
        }
    }

    fn setattr(
        &self,
        _: &Request,
        file: INodeNo,
        _mode: Option<u32>,
        _uid: Option<u32>,
        _gid: Option<u32>,
        size: Option<u64>,
        _atime: Option<TimeOrNow>,
        _mtime: Option<TimeOrNow>,
        _ctime: Option<SystemTime>,
        _: Option<FileHandle>,
        _crtime: Option<SystemTime>,
        _chgtime: Option<SystemTime>,
        _bkuptime: Option<SystemTime>,
        _: Option<BsdFileFlags>,
        reply: ReplyAttr,
    ) {
        let mut state = self.state();
        let resized = size.map_or(Ok(()), |size| state.resize(file.0, place(size)));
        match resized.and_then(|()| state.attributes(file)) {
            Ok(found) => reply.attr(&FOR_LONG, &found),
            Err(error) => reply.error(error),
        }
    }

    fn unlink(&self, _: &Request, _: INodeNo, name: &OsStr, reply: ReplyEmpty) {
        empty(self.state().remove(name), reply);
    }

    fn rename(&self, _: &Request, _: INodeNo, from: &OsStr, _: INodeNo, to: &OsStr, _: RenameFlags, reply: ReplyEmpty) {
        empty(self.state().rename(from, to), reply);
    }

    fn open(&self, _: &Request, _: INodeNo, flags: OpenFlags, reply: ReplyOpen) {
        let to_read = flags.acc_mode() == OpenAccMode::O_RDONLY;
        match if to_read { Ok(()) } else { self.state().ask_to_open() } {
            Ok(()) => reply.opened(FileHandle(0), FopenFlags::FOPEN_KEEP_CACHE),
            Err(error) => reply.error(error),
        }
    }

    fn create(&self, _: &Request, _: INodeNo, name: &OsStr, _: u32, _: u32, _: i32, reply: ReplyCreate) {
        match self.state().create(name) {
            Ok(made) => {
                reply.created(&FOR_LONG, &made, Generation(0), FileHandle(0), FopenFlags::FOPEN_KEEP_CACHE);
            }
            Err(error) => reply.error(error),
        }
    }

    fn read(
        &self,
        _: &Request,
        file: INodeNo,
        _: FileHandle,
        offset: u64,
        size: u32,
        _: OpenFlags,
        _: Option<LockOwner>,
        reply: ReplyData,
    ) {
        match self.state().files.get(&file.0) {
            Some(content) => {
                let from = place(offset).min(content.len());
                reply.data(&content[from..(from + size as usize).min(content.len())]);
            }
            None => reply.error(Errno::ENOENT),
        }
    }

    fn write(
        &self,
        _: &Request,
        file: INodeNo,
        _: FileHandle,
        offset: u64,
        data: &[u8],
        how: WriteFlags,
        flags: OpenFlags,
        _: Option<LockOwner>,
        reply: ReplyWrite,
    ) {
        let by_mapping = how.contains(WriteFlags::FUSE_WRITE_CACHE);
        let direct = OFlags::from_bits_retain(flags.0.cast_unsigned()).contains(OFlags::DIRECT);
        if direct && !by_mapping && (!place(offset).is_multiple_of(SECTOR) || !data.len().is_multiple_of(SECTOR)) {
            return reply.error(Errno::EINVAL);
        }
        match self.state().write(file.0, place(offset), data, by_mapping) {
            Ok(()) => reply.written(u32::try_from(data.len()).expect("a request is at most 16 MiB")),
            Err(error) => reply.error(error),
        }
    }

    fn fallocate(
        &self,
        _: &Request,
        file: INodeNo,
        _: FileHandle,
        offset: u64,
        length: u64,
        mode: i32,
        reply: ReplyEmpty,
    ) {
        if mode != 0 {
            return reply.error(Errno::EOPNOTSUPP);
        }
        let mut state = self.state();
        let end = place(offset + length);
        let long_enough = state.files.get(&file.0).is_some_and(|content| content.len() >= end);
        empty(if long_enough { Ok(()) } else { state.resize(file.0, end) }, reply);
    }

    fn flush(&self, _: &Request, _: INodeNo, _: FileHandle, _: LockOwner, reply: ReplyEmpty) {
        reply.ok();
    }

    fn fsync(&self, _: &Request, file: INodeNo, _: FileHandle, _only_data: bool, reply: ReplyEmpty) {
        empty(self.state().sync(file.0), reply);
    }

    fn fsyncdir(&self, _: &Request, _: INodeNo, _: FileHandle, _only_data: bool, reply: ReplyEmpty) {
        let mut state = self.state();
        let asked = state.ask(Meets::Syncs);
        if asked.is_ok() {
            state.record.push(Change::SyncNames);
        }
        empty(asked, reply);
    }

    fn readdir(&self, _: &Request, folder: INodeNo, _: FileHandle, offset: u64, mut reply: ReplyDirectory) {
        let state = self.state();
        let own = [(folder.0, FileType::Directory, "."), (folder.0, FileType::Directory, "..")];
        let files = state.names.iter().map(|(name, file)| (*file, FileType::RegularFile, name.as_str()));
        for (next, (file, kind, name)) in (1..).zip(own.into_iter().chain(files)).skip(place(offset)) {
            if reply.add(INodeNo(file), next, kind, name) {
                break;
            }
        }
        reply.ok();
    }

    fn statfs(&self, _: &Request, _: INodeNo, reply: ReplyStatfs) {
        const BLOCKS: u64 = 1 << 20;
        reply.statfs(BLOCKS, BLOCKS, BLOCKS, BLOCKS, BLOCKS, 4096, 255, 4096);
    }
}
