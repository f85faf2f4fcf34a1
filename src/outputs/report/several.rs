//! What every output says of several cameras in the same words.

use super::call;
use super::counts::Counts;
use crate::audit::{AuditSet, CameraAudit};
use crate::finding::Finding;
use crate::units::{counted, plain};
use crate::verdict::kept_out as kept_out_of;
use std::cmp::Reverse;

/// What a camera is called beside its letter: its model; where another one of the set is of the same model,
/// with the serial number or the folder. Exact text, not yet fit to show.
pub(crate) fn model(set: &AuditSet, at: usize) -> String {
    let plain = |own: &CameraAudit| own.camera.as_ref().map(camera_name).unwrap_or_default();
    let Some(own) = set.cameras.get(at) else { return String::new() };
    let name = plain(own);
    let alone = set.cameras.iter().filter(|c| plain(c) == name).count() < 2;
    let name = if name.is_empty() { "camera not named".to_owned() } else { name };
    let serial = own.camera.as_ref().map(|c| c.serial.as_str()).filter(|s| !s.is_empty());
    match (alone, serial) {
        (true, _) => name,
        (false, Some(serial)) => format!("{name}, no. {serial}"),
        (false, None) => format!("{name}, in {}", place(own)),
    }
}

/// Maker and model, the maker once.
pub(crate) fn camera_name(camera: &crate::evidence::Camera) -> String {
    let (maker, model) = (camera.maker.trim(), camera.model.trim());
    let first = maker.split_whitespace().next().unwrap_or_default();
    let named = !first.is_empty() && model.to_lowercase().starts_with(&first.to_lowercase());
    if maker.is_empty() || named {
        model.to_owned()
    } else {
        format!("{maker} {model}").trim_end().to_owned()
    }
}

/// The folder of a camera, or the name of its root.
fn place(own: &CameraAudit) -> String {
    let (root, folder) = &own.folder;
    let path = own.audit.evidence.frames.card.roots.get(usize::from(*root));
    let root = path.and_then(|p| p.file_name()).map(|n| n.to_string_lossy().into_owned());
    match (root, folder.is_empty()) {
        (Some(root), true) => root,
        (Some(root), false) => format!("{root}/{folder}"),
        (None, true) => "FRAMES".into(),
        (None, false) => folder.clone(),
    }
}

/// A sentence that says which camera it is of.
pub(crate) fn of_camera(own: &CameraAudit, words: &str) -> String {
    format!("Camera {}: {words}", own.letter)
}

/// The findings of all cameras with the index of theirs, weightiest first, then by camera.
pub(crate) fn ranked(set: &AuditSet) -> Vec<(usize, &Finding)> {
    let mut all = Vec::new();
    for (n, own) in set.cameras.iter().enumerate() {
        all.extend(own.audit.findings().into_iter().map(|f| (n, f)));
    }
    all.sort_by_key(|(n, f)| (Reverse(f.severity), *n));
    all
}

/// What the call was made from, where it is not everything for every camera.
pub(crate) fn limited_to(set: &AuditSet) -> Option<&'static str> {
    set.cameras.iter().find_map(|c| call::limited_to(&c.audit))
}

/// What the plan keeps out of the call, for all cameras together.
pub(crate) fn kept_out(set: &AuditSet) -> Option<String> {
    kept_out_of(&set.plan, set.cameras.iter().flat_map(|own| &own.audit.judgements))
}

/// What a camera is about in one line: frames, missing ones, interval.
pub(crate) fn figures(own: &CameraAudit) -> String {
    let counts = Counts::of(&own.audit);
    let mut words = counted(counts.frames, "frame");
    match counts.missing {
        Some(missing) => words.push_str(&format!(", {missing} missing")),
        None => words.push_str(", no steady interval"),
    }
    if let Some(told_s) = own.audit.schedule.told_s() {
        words.push_str(&format!(", every {} s", plain(told_s, 3)));
    }
    words
}

/// What holds the call where no camera by itself does: the weightiest of what they say together.
pub(crate) fn between(set: &AuditSet) -> Option<String> {
    let alone = set.cameras.iter().any(|c| c.audit.verdict.call == set.call());
    set.together.reasons.first().filter(|_| !alone).map(|reason| reason.words.clone())
}

/// Whose call it is, in one sentence.
pub(crate) fn whose_call(set: &AuditSet) -> String {
    let call = set.call();
    let of: Vec<&str> =
        set.cameras.iter().filter(|c| c.audit.verdict.call == call).map(|c| c.letter.as_str()).collect();
    if of.len() == set.cameras.len() {
        return format!(
            "Each of the {} cameras is audited by itself; the call is the same for all.",
            of.len()
        );
    }
    match of.as_slice() {
        [] => "Each camera is clear by itself, but not beside the others.".into(),
        [one] => format!("Because of camera {one}."),
        [most @ .., last] => format!("Because of cameras {} and {last}.", most.join(", ")),
    }
}
