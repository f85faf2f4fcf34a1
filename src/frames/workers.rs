//! The threads that read: as many as were asked for, fewer where the system grants no more, and none but this
//! one at the least.

use rayon::{ThreadPool, ThreadPoolBuilder};

/// Threads that work is shared among.
pub(crate) struct Workers(Option<ThreadPool>);

impl Workers {
    /// Starts `threads` of them, or half as many as long as the system refuses (a limit on processes,
    /// setrlimit(2)). Where not even one can be started, this thread does all of the work.
    pub(crate) fn start(threads: usize) -> Self {
        let mut threads = threads.max(1);
        loop {
            match ThreadPoolBuilder::new().num_threads(threads).build() {
                Ok(pool) => return Self(Some(pool)),
                Err(_) if threads > 1 => threads /= 2,
                Err(_) => break,
            }
        }
        // Work that is shared out asks for the pool of its own thread; without one it would try to start
        // threads again. A second call finds this thread in its pool already, which is as good.
        if let Ok(pool) = ThreadPoolBuilder::new().num_threads(1).use_current_thread().build() {
            // It must outlive the thread, which stays in it.
            std::mem::forget(pool);
        }
        Self(None)
    }

    /// Does `work`; what it shares out goes to these threads.
    pub(crate) fn run<R: Send>(&self, work: impl FnOnce() -> R + Send) -> R {
        match &self.0 {
            Some(pool) => pool.install(work),
            None => work(),
        }
    }
}
