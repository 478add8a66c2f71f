//! Damage met while the store is in use: rows set aside, a broken file begun anew, and both told.

use std::sync::PoisonError;

use tokio::sync::mpsc::UnboundedReceiver;

use super::{Command, Thread, WriterHandle};
use crate::quantity::Moment;
use crate::store::error::{Error, Result};
use crate::store::record::EventRecord;
use crate::store::unreadable::Unreadable;
use crate::store::writer::{CommitReport, Writer};

/// Events about damage that the store met; they are stored already.
pub type News = UnboundedReceiver<EventRecord>;

impl Thread {
    /// A card that takes nothing now is no fault of the row: whoever reads it next asks again.
    pub(super) fn set_aside(&mut self, row: &Unreadable) -> Result<()> {
        let done = self.writer.set_aside(row);
        self.tell_found();
        match done {
            Err(error) if !error.is_transient() => Err(error),
            _ => Ok(()),
        }
    }

    /// Stores and tells the damage that the writer has met.
    pub(super) fn tell_found(&mut self) {
        let Some(boot) = self.writer.live_boot() else { return };
        for found in self.writer.take_found() {
            let event = found.event(Moment { boot, mono: self.clock.mono() });
            tracing::warn!(kind = event.kind, "{}", event.text);
            if self.writer.event(event.clone()).is_ok() {
                self.oldest.get_or_insert(self.clock.mono());
            }
            // Nobody may be listening.
            let _ = self.news.send(event);
        }
    }

    /// Commits while a broken file can still be begun anew, and closes.
    pub(super) fn close(mut self) -> Result<CommitReport> {
        // What cannot be written now is tried again when closing, and noted down if that fails too.
        let before = self.write(true).unwrap_or_default();
        let closed = self.writer.close()?;
        let (samples, chunks) = (before.samples + closed.samples, before.chunks + closed.chunks);
        Ok(CommitReport { samples, chunks, ..closed })
    }

    /// Commits or secures. A file found broken in doing so is renamed, a new one begun, and everything committed there.
    pub(super) fn write(&mut self, commit: bool) -> Result<CommitReport> {
        self.mending(|writer| if commit { writer.commit() } else { writer.secure() })
    }

    /// Does something; again, if the file was found broken in doing so, once a new one is begun.
    pub(super) fn mending<T>(&mut self, mut work: impl FnMut(&mut Writer) -> Result<T>) -> Result<T> {
        let result = work(&mut self.writer);
        let Err(Error::Damaged { cause, .. }) = &result else { return result };
        self.writer.begin_anew(cause)?;
        self.tell_found();
        work(&mut self.writer)
    }
}

impl WriterHandle {
    /// What the store tells of damage that it meets, from its start on; to be taken once.
    #[must_use]
    pub fn news(&self) -> Option<News> {
        self.news.lock().unwrap_or_else(PoisonError::into_inner).take()
    }

    /// Has a row set aside that a reader could not read, after another look at it.
    ///
    /// # Errors
    /// As [`WriterHandle::append`].
    pub fn set_aside(&self, row: Unreadable) -> Result<()> {
        self.send(Command::SetAside(row))
    }
}
