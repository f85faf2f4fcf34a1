//! `--open`: the report in the browser.

use super::exit::note;
use crate::units::shown_path;
use std::path::PathBuf;
use std::sync::mpsc::{Sender, channel};
use std::thread::JoinHandle;

/// A thread that opens a page. What gives up the right to write afterwards does not bind it: the browser has
/// files of its own to write.
pub(crate) struct Opener {
    page: Sender<PathBuf>,
    thread: JoinHandle<()>,
}

impl Opener {
    /// Stands ready, before the right to write is given up; `None` where nobody asks for it.
    pub(crate) fn ready(asked: bool) -> Option<Self> {
        let (page, pages) = channel::<PathBuf>();
        let open = move || {
            for page in pages {
                if let Err(e) = open::that_detached(&page) {
                    let (page, why) = (shown_path(&page), crate::units::refusal(&e));
                    note(&format!("warning: {page} was not opened: {why}. Open it by hand."));
                }
            }
        };
        let thread = asked.then(|| std::thread::Builder::new().spawn(open).ok()).flatten()?;
        Some(Self { page, thread })
    }

    /// Opens a page, and returns once the system has it.
    pub(crate) fn open(self, page: PathBuf) {
        let page = std::path::absolute(&page).unwrap_or(page);
        let _ = self.page.send(page);
        drop(self.page);
        let _ = self.thread.join();
    }
}
