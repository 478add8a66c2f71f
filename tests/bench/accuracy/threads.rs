//! Independent work on two threads.

use std::sync::Mutex;

/// Does the work for each item, two at a time; results in the order of the items.
pub fn two_at_a_time<T: Sync, R: Send>(items: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let queue = Mutex::new(items.iter().enumerate());
    let done = Mutex::new(Vec::with_capacity(items.len()));
    let worker = || {
        loop {
            let Some((at, item)) = queue.lock().expect("no worker panicked").next() else {
                return;
            };
            let result = work(item);
            done.lock().expect("no worker panicked").push((at, result));
        }
    };
    std::thread::scope(|scope| {
        scope.spawn(worker);
        worker();
    });
    let mut done = done.into_inner().expect("no worker panicked");
    done.sort_by_key(|&(at, _)| at);
    done.into_iter().map(|(_, result)| result).collect()
}
