//! Ctrl-C: the first one stops the reading, and what was read is reported; the second one ends the program where it stands.

use signal_hook::consts::SIGINT;
use signal_hook::flag;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// A flag that the first interruption raises. Where the system does not let it be registered, an interruption ends the
/// program as it does by default.
pub fn stop_flag() -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    // In this order: the flag is looked at before it is raised, so that only a second signal finds it up. Other signals end the
    // program as ever: who sends them does not wait for a report.
    if flag::register_conditional_default(SIGINT, Arc::clone(&stop)).is_ok() {
        let _ = flag::register(SIGINT, Arc::clone(&stop));
    }
    stop
}
