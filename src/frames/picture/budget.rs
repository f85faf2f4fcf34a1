//! The bytes that all decodes of a process share. A decode waits for its share and is never refused one: what
//! is refused depends on the file alone.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

use super::caps::MOST_TOGETHER;
use crate::frames::left::LOOK;

/// Bytes that are free, and those who wait.
pub(crate) struct Budget {
    free: Mutex<u64>,
    freed: Condvar,
    all: u64,
}

/// The budget of this process.
pub(crate) static BUDGET: Budget = Budget::of(MOST_TOGETHER);

impl Budget {
    /// A budget of `all` bytes.
    pub(crate) const fn of(all: u64) -> Self {
        Self { free: Mutex::new(all), freed: Condvar::new(), all }
    }

    fn free(&self) -> MutexGuard<'_, u64> {
        self.free.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits for `bytes` (all there are, where more are asked). Who holds a share must not take another: all
    /// might wait for each other. `None` where `stop` was raised while it waited.
    pub(crate) fn take(&self, bytes: u64, stop: &AtomicBool) -> Option<Share<'_>> {
        self.take_unless(bytes, || stop.load(Ordering::Relaxed))
    }

    /// As [`take`](Self::take). `stopped` is asked each time that the waiting was interrupted.
    fn take_unless(&self, bytes: u64, stopped: impl Fn() -> bool) -> Option<Share<'_>> {
        let bytes = bytes.min(self.all);
        let mut free = self.free();
        while *free < bytes {
            // A decode that was left behind keeps its share and wakes nobody.
            free = self.freed.wait_timeout(free, LOOK).unwrap_or_else(PoisonError::into_inner).0;
            if stopped() {
                // Others may have been passed over for this one.
                self.freed.notify_all();
                return None;
            }
        }
        *free -= bytes;
        Some(Share { of: self, bytes })
    }
}

/// A share of a budget, given back when it is dropped.
pub(crate) struct Share<'a> {
    of: &'a Budget,
    bytes: u64,
}

impl Share<'_> {
    /// Makes the share `bytes` large, where that needs no waiting; false where it does.
    pub(crate) fn fits(&mut self, bytes: u64) -> bool {
        let bytes = bytes.min(self.of.all);
        let mut free = self.of.free();
        if bytes > self.bytes.saturating_add(*free) {
            return false;
        }
        *free = *free + self.bytes - bytes;
        let less = bytes < self.bytes;
        self.bytes = bytes;
        drop(free);
        if less {
            self.of.freed.notify_all();
        }
        true
    }
}

impl Drop for Share<'_> {
    fn drop(&mut self) {
        *self.of.free() += self.bytes;
        self.of.freed.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicU64;
    use std::time::Duration;

    #[test]
    fn shares_wait_and_never_sum_to_more_than_there_is() {
        let (budget, go_on) = (Budget::of(100), AtomicBool::new(false));
        let (held, most) = (AtomicU64::new(0), AtomicU64::new(0));
        std::thread::scope(|scope| {
            for i in 0..12_u64 {
                let (budget, go_on, held, most) = (&budget, &go_on, &held, &most);
                scope.spawn(move || {
                    let bytes = 20 + 10 * (i % 4);
                    let _share = budget.take(bytes, go_on).expect("nobody stops");
                    most.fetch_max(held.fetch_add(bytes, Ordering::SeqCst) + bytes, Ordering::SeqCst);
                    std::thread::sleep(Duration::from_millis(3));
                    held.fetch_sub(bytes, Ordering::SeqCst);
                });
            }
        });
        assert_eq!(*budget.free(), 100);
        assert!((50..=100).contains(&most.into_inner()));
    }

    #[test]
    fn a_share_grows_only_into_what_is_free() {
        let (budget, go_on) = (Budget::of(100), AtomicBool::new(false));
        let mut share = budget.take(10, &go_on).expect("it is free");
        assert!(share.fits(60));
        let other = budget.take(30, &go_on).expect("it is free");
        assert!(!share.fits(71) && share.fits(70) && share.fits(20));
        drop((share, other));
        // More than there is means all there is.
        assert_eq!(budget.take(1000, &go_on).expect("it is free").bytes, 100);
    }

    /// The stop is raised once the other thread has waited and looked. From then on that one holds the lock
    /// or waits, so that the share which is given back comes after the stop.
    #[test]
    fn who_waits_hears_a_stop() {
        let (budget, stop) = (Budget::of(100), AtomicBool::new(false));
        let all = budget.take(100, &stop).expect("it is free");
        let (looks, looked) = std::sync::mpsc::channel();
        std::thread::scope(|scope| {
            let (budget, stop) = (&budget, &stop);
            let waiting = scope.spawn(move || {
                let stopped = || {
                    let stopped = stop.load(Ordering::SeqCst);
                    looks.send(()).expect("the test listens");
                    stopped
                };
                budget.take_unless(50, stopped).is_none()
            });
            let heard = looked.recv_timeout(Duration::from_secs(60));
            stop.store(true, Ordering::SeqCst);
            drop(all);
            assert!(waiting.join().expect("no panic") && heard.is_ok());
        });
        assert_eq!(*budget.free(), 100);
        assert!(budget.take(100, &stop).is_some(), "what is free is given, whatever is raised");
    }
}
