//! How much something weighs, as the page shows it.

use crate::finding::Severity;
use maud::{Markup, html};

/// The sign of a severity: a shape, so that colour never stands alone. Its word stands beside it.
pub(crate) fn severity(severity: Severity) -> Markup {
    let (class, sign) = match severity {
        Severity::Fault => ("fault", "■"),
        Severity::Caution => ("caution", "▲"),
        Severity::Note => ("note", "○"),
    };
    html! { span class={ "weight " (class) } { span aria-hidden="true" { (sign) } " " (severity.word()) } }
}
