//! Of two files that differ, which one is a sound picture: the reader of frames judges both.

use super::answer::Comparison;
use super::found::{Decodes, Found};
use super::tree::Tree;
use crate::card::Below;
use crate::frames::source::Source;
use crate::frames::{Damage, FileKind, Pictures, look_at_source};
use std::sync::atomic::{AtomicBool, Ordering};

/// Most pairs of one copy that are looked at: a copy that is wholly other is not decoded from end to end.
const MOST: usize = 32;

/// Looks at the files that differ, until `stop` is raised.
pub(crate) fn look(told: &mut Comparison, stop: &AtomicBool) {
    let Some((card, copies)) = told.trees.split_first() else { return };
    for (copy, of_copy) in copies.iter().zip(&mut told.copies) {
        let mut left = MOST;
        for (i, found) in of_copy.found.iter_mut().enumerate() {
            let Found::Differs { file, decodes, .. } = found else { continue };
            if left == 0 || stop.load(Ordering::Relaxed) {
                break;
            }
            left -= 1;
            let (of_card, of_copy) = (is_sound(card, i), is_sound(copy, *file));
            *decodes = match (of_card, of_copy) {
                (Some(true), Some(false)) => Some(Decodes::CardOnly),
                (Some(false), Some(true)) => Some(Decodes::CopyOnly),
                (Some(true), Some(true)) => Some(Decodes::Both),
                (Some(false), Some(false)) => Some(Decodes::Neither),
                _ => None,
            };
        }
    }
}

/// True where it is a picture that was decoded whole, false where it is a damaged one; `None` for all else,
/// such as a raw whose picture is not decoded here.
fn is_sound(tree: &Tree, file: usize) -> Option<bool> {
    let file = tree.files.get(file)?;
    let extension = file.path.extension().and_then(|e| e.to_str());
    extension.and_then(crate::card::kind_by_extension)?;
    let (opened, length) = Below::open(&tree.root).ok()?.file(&file.path).ok()?;
    let mut source = Source::of(Box::new(opened), length).ok()?;
    let read = look_at_source(&mut source, Pictures::Full).ok()?;
    // Only these are decoded to their last byte.
    let whole = matches!(read.kind, Some(FileKind::Jpeg | FileKind::Png | FileKind::Webp));
    match read.row.damage {
        Damage::None => (whole && read.look.is_some()).then_some(true),
        Damage::NotRead(_) | Damage::NotTried => None,
        _ => Some(false),
    }
}
