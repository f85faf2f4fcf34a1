//! Exit codes, failures, and words that reach a terminal, a file or nobody at all.

use crate::units::refusal;
use std::fmt;
use std::io::{self, Write};
use std::process::ExitCode;
use std::sync::Mutex;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// Nothing at or above `--fail-on`: 0.
    Quiet,
    /// Something is: 1.
    Found,
    /// The work could not be done, or not completely: 2.
    Failed,
}

impl Outcome {
    /// The graver of two: what was left undone goes before what was found.
    pub(crate) fn or(self, other: Self) -> Self {
        match (self, other) {
            (Self::Failed, _) | (_, Self::Failed) => Self::Failed,
            (Self::Found, _) | (_, Self::Found) => Self::Found,
            (Self::Quiet, Self::Quiet) => Self::Quiet,
        }
    }

    /// The exit code of the contract.
    pub(crate) fn code(self) -> ExitCode {
        ExitCode::from(match self {
            Self::Quiet => 0,
            Self::Found => 1,
            Self::Failed => 2,
        })
    }
}

/// Why a command could not do its work, in words that name the place and the remedy.
#[derive(Debug)]
pub(crate) struct Failure(String);

impl Failure {
    /// With these words.
    pub(crate) fn new(words: impl Into<String>) -> Self {
        Self(words.into())
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A line to stderr. Where nobody reads it, it is lost, and that is all.
pub(crate) fn note(words: &str) {
    let _ = writeln!(anstream::stderr(), "{words}");
}

/// A result to stdout, without colours where nobody could see them. A reader that has gone away is no
/// failure; a full disk behind a redirection is.
///
/// # Errors
/// Where stdout does not take it for another reason than a closed pipe.
pub(crate) fn tell(text: &str) -> Result<(), Failure> {
    let mut out = anstream::stdout().lock();
    told(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
}

/// A result to stdout, written piece by piece as it is.
///
/// # Errors
/// As for [`tell`].
pub(crate) fn tell_with(write: impl FnOnce(&mut dyn Write) -> io::Result<()>) -> Result<(), Failure> {
    let mut out = io::BufWriter::new(io::stdout().lock());
    told(write(&mut out).and_then(|()| out.flush()))
}

fn told(result: io::Result<()>) -> Result<(), Failure> {
    match result {
        Err(e) if !is_gone(&e) => Err(Failure::new(format!(
            "the result cannot be written to stdout ({}). Look at where it is sent",
            refusal(&e)
        ))),
        _ => Ok(()),
    }
}

/// True where nobody reads any more. Windows has a word of its own for a pipe that nobody holds at its other
/// end (winerror.h, ERROR_PIPE_NOT_CONNECTED, from memory).
fn is_gone(error: &io::Error) -> bool {
    let nobody = cfg!(windows) && error.raw_os_error() == Some(233);
    error.kind() == io::ErrorKind::BrokenPipe || nobody
}

/// Where the last panic happened and what it said.
static LAST_PANIC: Mutex<String> = Mutex::new(String::new());

/// Keeps panics off the terminal. The message is kept for [`last_panic`].
pub(crate) fn quiet_panics() {
    std::panic::set_hook(Box::new(|info| {
        let what = info.payload();
        let words = what
            .downcast_ref::<String>()
            .map(String::as_str)
            .or_else(|| what.downcast_ref::<&str>().copied())
            .unwrap_or("no message");
        let place = info.location().map(|l| format!(" at {}:{}", l.file(), l.line())).unwrap_or_default();
        if let Ok(mut last) = LAST_PANIC.lock() {
            *last = crate::units::shown(&format!("{words}{place}"));
        }
    }));
}

/// What the last panic said.
pub(crate) fn last_panic() -> String {
    LAST_PANIC.lock().map(|last| last.clone()).unwrap_or_default()
}
