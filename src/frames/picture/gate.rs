//! Lets only so many threads through at a time.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Condvar, Mutex, PoisonError};

use crate::frames::left::LOOK;

/// Lets only so many through at a time: more whole pictures than processors only wait for each other.
pub(crate) struct Gate {
    free: Mutex<usize>,
    freed: Condvar,
}

/// Opens the gate for the next one, whatever became of the work.
struct Through<'a>(&'a Gate);

impl Drop for Through<'_> {
    fn drop(&mut self) {
        *self.0.free.lock().unwrap_or_else(PoisonError::into_inner) += 1;
        self.0.freed.notify_one();
    }
}

impl Gate {
    /// For `many` at a time.
    pub(crate) fn new(many: usize) -> Self {
        Self { free: Mutex::new(many.max(1)), freed: Condvar::new() }
    }

    /// Does the work when its turn has come; `None`, and nothing done, where `stop` was raised by then.
    pub(crate) fn through<T>(&self, stop: &AtomicBool, work: impl FnOnce() -> T) -> Option<T> {
        let mut free = self.free.lock().unwrap_or_else(PoisonError::into_inner);
        while *free == 0 {
            if stop.load(Ordering::Relaxed) {
                return None;
            }
            free = self.freed.wait_timeout(free, LOOK).unwrap_or_else(PoisonError::into_inner).0;
        }
        *free -= 1;
        drop(free);
        let _through = Through(self);
        (!stop.load(Ordering::Relaxed)).then(work)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicUsize;

    #[test]
    fn the_gate_lets_only_so_many_through() {
        let (gate, go_on) = (Gate::new(2), AtomicBool::new(false));
        let (inside, most) = (AtomicUsize::new(0), AtomicUsize::new(0));
        std::thread::scope(|scope| {
            for _ in 0..8 {
                scope.spawn(|| {
                    gate.through(&go_on, || {
                        most.fetch_max(inside.fetch_add(1, Ordering::SeqCst) + 1, Ordering::SeqCst);
                        std::thread::sleep(std::time::Duration::from_millis(5));
                        inside.fetch_sub(1, Ordering::SeqCst);
                    })
                    .expect("nobody stops");
                });
            }
        });
        assert_eq!((inside.into_inner(), most.into_inner()), (0, 2));
    }

    #[test]
    fn a_stop_and_a_panic_leave_it_open() {
        let (gate, stop) = (Gate::new(1), AtomicBool::new(true));
        assert_eq!(gate.through(&stop, || 1), None);
        stop.store(false, Ordering::Relaxed);
        let failed = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
            gate.through(&stop, || panic!("on purpose"))
        }));
        assert!(failed.is_err());
        assert_eq!(gate.through(&stop, || 2), Some(2));
    }
}
