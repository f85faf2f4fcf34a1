//! Ctrl-C: the first one stops the reading, and what was read is reported; the second one ends the program
//! where it stands.

use crate::frames;
use signal_hook::consts::SIGINT;
use signal_hook::flag;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// A flag that the first interruption raises. Where the system does not let it be registered, an interruption
/// ends the program as it does by default.
pub(crate) fn stop_flag() -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    // In this order: the flag is looked at before it is raised, so that only a second signal finds it up.
    // Other signals end the program as ever: who sends them does not wait for a report.
    if flag::register_conditional_default(SIGINT, Arc::clone(&stop)).is_ok() {
        let _ = flag::register(SIGINT, Arc::clone(&stop));
    }
    stop
}

/// Does `work`, which itself knows no interruption, and returns what it made; `None` where `stop` is raised
/// meanwhile. One that was raised before is heard already, and does not count.
pub(crate) fn unless_stopped<T: Send + 'static>(
    stop: &AtomicBool,
    work: impl FnOnce() -> T + Send + 'static,
) -> Option<T> {
    match stop.load(Ordering::Relaxed) {
        true => Some(work()),
        false => frames::unless_stopped(stop, |_| work()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_that_was_heard_before_does_not_count() {
        for before in [false, true] {
            assert_eq!(unless_stopped(&AtomicBool::new(before), || 7), Some(7));
        }
    }
}
