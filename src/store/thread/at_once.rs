//! What is written at once, in a transaction of its own, and answered: the health record and what people do to it.

use tokio::sync::oneshot;

use super::{Command, Thread, WriterHandle};
use crate::store::error::{Error, Result};
use crate::store::writer::Writer;

pub(super) type Job = Box<dyn FnOnce(&mut Thread) + Send>;

impl Thread {
    /// What waits is committed first.
    pub(super) fn do_at_once(&mut self, job: Job) {
        // A failure is in the status; the job meets it too.
        let _ = self.make_safe(true);
        job(self);
        self.feed.publish(self.writer.mark(), self.writer.waiting());
    }
}

impl WriterHandle {
    /// Has the writer do something that it writes at once, after what was sent so far is committed. Waits until it is done;
    /// meanwhile other tasks go on. It is done again if the file was found broken meanwhile and a new one begun.
    ///
    /// # Errors
    /// What the work reports, or [`Error::Stopped`].
    pub async fn at_once<T: Send + 'static>(
        &self,
        work: impl FnMut(&mut Writer) -> Result<T> + Send + 'static,
    ) -> Result<T> {
        self.ask(work)?.await.map_err(|_| Error::Stopped)?
    }

    /// [`WriterHandle::at_once`] for threads; it must not be called from an asynchronous task.
    ///
    /// # Errors
    /// As [`WriterHandle::at_once`].
    pub fn at_once_blocking<T: Send + 'static>(
        &self,
        work: impl FnMut(&mut Writer) -> Result<T> + Send + 'static,
    ) -> Result<T> {
        self.ask(work)?.blocking_recv().map_err(|_| Error::Stopped)?
    }

    fn ask<T: Send + 'static>(
        &self,
        work: impl FnMut(&mut Writer) -> Result<T> + Send + 'static,
    ) -> Result<oneshot::Receiver<Result<T>>> {
        let (reply, answer) = oneshot::channel();
        let job = move |thread: &mut Thread| {
            // Whoever asked may have gone meanwhile.
            let _ = reply.send(thread.mending(work));
        };
        self.commands.send(Command::AtOnce(Box::new(job))).map_err(|_| Error::Stopped)?;
        Ok(answer)
    }
}
