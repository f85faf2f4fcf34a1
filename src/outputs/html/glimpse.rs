//! A sequence at a glance, for the index of a survey: one of its pictures, and its run as a strip.

use super::gallery::{Gallery, shape};
use super::strip;
use crate::audit::Audit;
use crate::outputs::report::axis::Axis;
use crate::outputs::report::story::Story;
use crate::outputs::report::{lanes, shown};
use crate::units::shown as fit;
use maud::{Markup, html};

/// Columns of the strip: as wide as a phone, so that a survey of many sequences stays small.
const COLUMNS: usize = 360;

/// What the index shows of a sequence beside its words.
pub struct Glimpse {
    /// A picture from the middle of the run; `None` where there is none.
    pub(in crate::outputs) picture: Option<Markup>,
    /// What happened in one sentence, or what there is.
    pub(in crate::outputs) sentence: String,
    /// The run from its start to its end.
    pub(in crate::outputs) strip: Markup,
}

impl Glimpse {
    /// Of an audit, with the pictures that were found for its report.
    pub fn of(audit: &Audit, gallery: &Gallery) -> Self {
        let axis = Axis::new(audit, COLUMNS);
        let sheet = shown::sheet(audit);
        let near = |nth: &usize| nth.abs_diff(sheet.len() / 2);
        let middle = (0..sheet.len()).filter(|nth| gallery.small.contains_key(&sheet[*nth])).min_by_key(near);
        let picture = middle.and_then(|nth| Some((sheet[nth], gallery.small.get(&sheet[nth])?)));
        let picture = picture.map(|(at, picture)| {
            let name = fit(&audit.evidence.frames.path_text(at));
            html! {
                div class={ "thumb " (shape(audit)) } {
                    img src=(picture.data()) width=(picture.width) height=(picture.height)
                        alt={ "Frame " (name) };
                }
            }
        });
        let sentence = fit(&Story::of(audit).sentence);
        Self { picture, sentence, strip: strip::bar(&lanes::lanes(audit, &axis), axis.columns(), &html! {}) }
    }
}
