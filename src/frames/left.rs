//! Work that nobody waits for any more once it is stopped: it goes on, by itself, and ends with the program.

use std::panic::resume_unwind;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

/// How often an interruption is looked for while something is waited for.
pub(crate) const LOOK: Duration = Duration::from_millis(50);

/// The stack of a thread that works, bytes: that of a main thread on most systems.
const STACK: usize = 8 << 20;

/// Does `work` on a thread of its own and returns what it made; `None` where `stop` is raised meanwhile: the
/// work is then left behind. It is given a flag that is raised at that moment, to end early where it can.
///
/// Where no thread can be started the work is done here, and is given `stop` itself. A panic of the work is
/// handed on.
pub fn unless_stopped<T: Send + 'static>(
    stop: &AtomicBool,
    work: impl FnOnce(&AtomicBool) -> T + Send + 'static,
) -> Option<T> {
    // Where no thread can be started the work is taken back.
    let work = Arc::new(Mutex::new(Some(work)));
    let left = Arc::new(AtomicBool::new(false));
    let (done, waiting) = mpsc::sync_channel(1);
    let on_thread = {
        let (work, left) = (Arc::clone(&work), Arc::clone(&left));
        move || {
            let work = work.lock().unwrap_or_else(PoisonError::into_inner).take();
            // Nobody waits any more where the program was stopped.
            let _ = done.send(work.map(|work| work(&left)));
        }
    };
    let Ok(thread) = thread::Builder::new().stack_size(STACK).spawn(on_thread) else {
        let work = work.lock().unwrap_or_else(PoisonError::into_inner).take();
        return work.map(|work| work(stop));
    };
    loop {
        match waiting.recv_timeout(LOOK) {
            Ok(made) => return made,
            Err(RecvTimeoutError::Timeout) if stop.load(Ordering::Relaxed) => {
                left.store(true, Ordering::Relaxed);
                return None;
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => match thread.join() {
                Err(panic) => resume_unwind(panic),
                Ok(()) => return None,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Instant;

    #[test]
    fn work_is_done_unless_an_interruption_comes() {
        let stop = Arc::new(AtomicBool::new(false));
        assert_eq!(unless_stopped(&stop, |_| 7), Some(7));
        let later = Arc::clone(&stop);
        thread::spawn(move || {
            thread::sleep(Duration::from_millis(20));
            later.store(true, Ordering::Relaxed);
        });
        let (began, heard) = (Instant::now(), Arc::new(AtomicBool::new(false)));
        let of_work = Arc::clone(&heard);
        let work = move |left: &AtomicBool| {
            while !left.load(Ordering::Relaxed) && began.elapsed() < Duration::from_secs(20) {
                thread::sleep(Duration::from_millis(5));
            }
            of_work.store(left.load(Ordering::Relaxed), Ordering::Relaxed);
        };
        assert_eq!(unless_stopped(&stop, work), None);
        assert!(began.elapsed() < Duration::from_secs(1), "{:?}", began.elapsed());
        while !heard.load(Ordering::Relaxed) {
            assert!(began.elapsed() < Duration::from_secs(20), "the work was not told");
        }
    }

    #[test]
    fn a_panic_is_handed_on() {
        let stop = AtomicBool::new(false);
        let told = std::panic::catch_unwind(|| unless_stopped(&stop, |_| -> u8 { panic!("on purpose") }));
        assert!(told.is_err());
    }
}
