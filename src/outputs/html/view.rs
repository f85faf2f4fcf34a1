//! What every part of the page looks at: the audit, who reads it, and where along the run each frame stands.

use super::gallery::Gallery;
use crate::audit::Audit;
use crate::evidence::FrameView;
use crate::outputs::report::Report;
use crate::units::shown;

/// Who reads it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edition {
    /// Who shot it: everything.
    Full,
    /// The client: no folders, no serial numbers.
    Client,
}

/// The audit as one edition shows it.
pub(crate) struct View<'a> {
    /// What is told.
    pub report: &'a Report<'a>,
    /// The audit that it is of.
    pub audit: &'a Audit,
    /// The pictures found.
    pub gallery: &'a Gallery,
    /// How many cameras share the page: 1 mostly.
    pub share: usize,
    edition: Edition,
    /// What stands before each id of this part of the page: nothing where it is the whole.
    ids: String,
    /// Folders below FRAMES as they stand in sentences, each with its last `/`; the longest first.
    folders: Vec<String>,
}

impl<'a> View<'a> {
    /// The view of one edition.
    pub(crate) fn new(report: &'a Report<'a>, gallery: &'a Gallery, edition: Edition) -> Self {
        let audit = report.audit;
        let mut folders: Vec<String> = Vec::new();
        if edition == Edition::Client {
            let frames = &audit.evidence.frames;
            for shot in &frames.card.shots {
                let path = shown(&frames.file_text(&shot.file));
                let folder = path.rfind('/').map_or("", |end| &path[..=end]);
                if !folder.is_empty() && folders.last().is_none_or(|f| f != folder) {
                    folders.push(folder.to_owned());
                }
            }
            folders.sort_by(|a, b| b.len().cmp(&a.len()).then_with(|| a.cmp(b)));
            folders.dedup();
        }
        Self { report, audit, gallery, share: 1, edition, ids: String::new(), folders }
    }

    /// The same as one of `share` parts of a page, with `ids` before each of its ids.
    pub(crate) fn part(self, ids: String, share: usize) -> Self {
        Self { ids, share, ..self }
    }

    /// The ids that name the call: the call itself, and before it the camera where the page holds several.
    pub(crate) fn call_label(&self) -> String {
        let own = self.id("call-word");
        if self.ids.is_empty() { own } else { format!("{} {own}", self.id("name")) }
    }

    /// An id as it stands on the page.
    pub(crate) fn id(&self, id: &str) -> String {
        format!("{}{id}", self.ids)
    }

    /// Text of a file, a plan or a sentence, fit to show; without folders where a client reads it.
    pub(crate) fn words(&self, text: &str) -> String {
        let mut words = shown(text);
        if self.edition == Edition::Client {
            for folder in &self.folders {
                words = words.replace(folder, "");
            }
        }
        words
    }

    /// The name of a frame; empty where there is no such frame.
    pub(crate) fn name(&self, at: usize) -> String {
        let name = self.audit.evidence.frame_if_any(at).map(FrameView::name).unwrap_or_default();
        match self.edition {
            Edition::Full => name,
            Edition::Client => name.rsplit('/').next().unwrap_or(&name).to_owned(),
        }
    }

    /// The time of day of a frame; empty where it has no stamp.
    pub(crate) fn clock(&self, at: usize) -> String {
        let moment = self.audit.evidence.frame_if_any(at).and_then(FrameView::moment);
        moment.map(|moment| moment.clock()).unwrap_or_default()
    }

    /// First and last frame that stand for a span, as text: one name, or two.
    pub(crate) fn span(&self, first: usize, last: usize) -> String {
        if first == last { self.name(first) } else { format!("{} to {}", self.name(first), self.name(last)) }
    }
}
