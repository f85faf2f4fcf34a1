//! Ctrl-C: the first one stops the reading, and what was read is reported; the second one ends the program
//! where it stands.

use signal_hook::consts::SIGINT;
use signal_hook::flag;
use std::panic::resume_unwind;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

/// A flag that the first interruption raises. Where the system does not let it be registered, an interruption
/// ends the program as it does by default.
pub fn stop_flag() -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    // In this order: the flag is looked at before it is raised, so that only a second signal finds it up.
    // Other signals end the program as ever: who sends them does not wait for a report.
    if flag::register_conditional_default(SIGINT, Arc::clone(&stop)).is_ok() {
        let _ = flag::register(SIGINT, Arc::clone(&stop));
    }
    stop
}

/// How often an interruption is looked for while something is reckoned.
const LOOK: Duration = Duration::from_millis(50);

/// The stack of a thread that reckons, bytes: that of a main thread on most systems.
const STACK: usize = 8 << 20;

/// Does `work`, which itself knows no interruption, and returns what it made; `None` where `stop` is raised
/// meanwhile: the work is then left behind, to end with the program. One that was raised before is heard
/// already, and does not count.
pub fn unless_stopped<T: Send + 'static>(
    stop: &AtomicBool,
    work: impl FnOnce() -> T + Send + 'static,
) -> Option<T> {
    if stop.load(Ordering::Relaxed) {
        return Some(work());
    }
    // Where no thread can be started the work is taken back.
    let work = Arc::new(Mutex::new(Some(work)));
    let (done, waiting) = mpsc::sync_channel(1);
    let on_thread = {
        let work = Arc::clone(&work);
        move || {
            let work = work.lock().unwrap_or_else(PoisonError::into_inner).take();
            // Nobody waits any more where the program was stopped.
            let _ = done.send(work.map(|work| work()));
        }
    };
    let Ok(thread) = thread::Builder::new().stack_size(STACK).spawn(on_thread) else {
        let work = work.lock().unwrap_or_else(PoisonError::into_inner).take();
        return work.map(|work| work());
    };
    loop {
        match waiting.recv_timeout(LOOK) {
            Ok(made) => return made,
            Err(RecvTimeoutError::Timeout) if stop.load(Ordering::Relaxed) => return None,
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
        assert_eq!(unless_stopped(&stop, || 7), Some(7));
        let later = Arc::clone(&stop);
        thread::spawn(move || {
            thread::sleep(Duration::from_millis(20));
            later.store(true, Ordering::Relaxed);
        });
        let began = Instant::now();
        let work = || {
            thread::sleep(Duration::from_secs(20));
            7
        };
        assert_eq!(unless_stopped(&stop, work), None);
        assert!(began.elapsed() < Duration::from_secs(1), "{:?}", began.elapsed());
        assert_eq!(unless_stopped(&stop, || 7), Some(7), "one that was heard before");
    }

    #[test]
    fn a_panic_is_handed_on() {
        let stop = AtomicBool::new(false);
        let told = std::panic::catch_unwind(|| unless_stopped(&stop, || -> u8 { panic!("on purpose") }));
        assert!(told.is_err());
    }
}
