//! The progress bar: on a terminal only, and never on stdout.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// A bar for so many bytes, of which `doing` says what is done; shown as the other one is.
pub(crate) fn bytes(doing: &'static str, bytes: u64, quiet: bool) -> ProgressBar {
    let target = if quiet { ProgressDrawTarget::hidden() } else { ProgressDrawTarget::stderr() };
    let bar = ProgressBar::with_draw_target(Some(bytes), target);
    let template = "{msg} {bar:40} {bytes}/{total_bytes}, {bytes_per_sec}, {eta} left";
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style.progress_chars("=> "));
    }
    bar.with_message(doing)
}

/// A bar for so many frames that are drawn and written; shown as the others are.
#[cfg(feature = "rehearse")]
pub(crate) fn drawn(frames: u64) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(frames), ProgressDrawTarget::stderr());
    if let Ok(style) = ProgressStyle::with_template("drawing {bar:40} {pos}/{len} frames, {eta} left") {
        bar.set_style(style.progress_chars("=> "));
    }
    bar
}

/// A bar for `frames` frames; it shows nothing where stderr is no terminal or `quiet` is asked.
pub(crate) fn frames(frames: u64, quiet: bool) -> ProgressBar {
    let target = if quiet { ProgressDrawTarget::hidden() } else { ProgressDrawTarget::stderr() };
    let bar = ProgressBar::with_draw_target(Some(frames), target);
    // The template is a constant: a mistake in it would fall back to the plain style.
    if let Ok(style) = ProgressStyle::with_template("reading {bar:40} {pos}/{len} frames, {eta} left") {
        bar.set_style(style.progress_chars("=> "));
    }
    bar
}
