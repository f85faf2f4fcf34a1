//! Files of one shot: a raw and the finished pictures written beside it.
//!
//! Source: DCF, CIPA DC-009: files of one folder with the same number and different extensions are one
//! object.

use std::ffi::OsStr;
use std::path::Path;

use super::sniff::kind_by_extension;
use super::{CardFile, FileKind, Shot, natural, numbering};

/// The part a file can play in a shot. In order of which one is read: a raw before the pictures made from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Part {
    /// A camera's raw.
    Raw,
    /// A DNG beside another raw was made from it.
    Dng,
    /// A finished picture of the newer kind.
    Heif,
    /// A finished picture.
    Jpeg,
}

/// The part of a file by its name; `None` where it can play none.
pub(crate) fn part_of(name: &OsStr) -> Option<Part> {
    let extension = Path::new(name).extension()?.to_str()?;
    if extension.eq_ignore_ascii_case("dng") {
        Some(Part::Dng)
    } else if FileKind::is_raw_name(extension) {
        Some(Part::Raw)
    } else {
        match kind_by_extension(extension)? {
            FileKind::Jpeg => Some(Part::Jpeg),
            FileKind::Heif => Some(Part::Heif),
            _ => None,
        }
    }
}

/// The name's stem in lower case: what files of one shot have in common.
pub(crate) fn stem_key(name: &OsStr) -> Vec<u8> {
    Path::new(name).file_stem().unwrap_or_default().as_encoded_bytes().to_ascii_lowercase()
}

/// Puts the files of one folder together into shots, in natural order of name. A part is played once: of two
/// JPEG of the same stem the second is a shot of its own.
pub(crate) fn pair(files: Vec<CardFile>) -> Vec<Shot> {
    let mut keyed: Vec<(Vec<u8>, CardFile)> = files.into_iter().map(|f| (stem_key(&f.name), f)).collect();
    keyed.sort_by(|(a, x), (b, y)| a.cmp(b).then_with(|| natural::names(&x.name, &y.name)));
    let mut shots = Vec::with_capacity(keyed.len());
    let mut group: Vec<CardFile> = Vec::new();
    let mut stem = Vec::new();
    for (key, file) in keyed {
        if key != stem {
            close(&mut group, &mut shots);
            stem = key;
        }
        group.push(file);
    }
    close(&mut group, &mut shots);
    shots.sort_by(|a, b| natural::names(&a.file.name, &b.file.name));
    shots
}

/// Makes the shots of one group of files with the same stem.
fn close(group: &mut Vec<CardFile>, shots: &mut Vec<Shot>) {
    let mut parts: Vec<(Part, CardFile)> = Vec::new();
    for file in group.drain(..) {
        match part_of(&file.name) {
            Some(part) if parts.iter().all(|(taken, _)| *taken != part) => parts.push((part, file)),
            _ => shots.push(shot(file, Vec::new())),
        }
    }
    parts.sort_by_key(|(part, _)| *part);
    let mut parts = parts.into_iter().map(|(_, file)| file);
    if let Some(first) = parts.next() {
        let mut companions: Vec<_> = parts.collect();
        companions.sort_by(|a, b| natural::names(&a.name, &b.name));
        shots.push(shot(first, companions));
    }
}

fn shot(file: CardFile, companions: Vec<CardFile>) -> Shot {
    let number = Path::new(&*file.name).file_stem().and_then(OsStr::to_str).and_then(numbering::file_number);
    Shot { file, companions, number }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn paired(names: &[&str]) -> Vec<String> {
        let files = names
            .iter()
            .map(|name| CardFile {
                folder: 0,
                name: OsStr::new(name).into(),
                bytes: 1,
                kind: FileKind::Unknown,
            })
            .collect();
        pair(files)
            .iter()
            .map(|shot| {
                let all = std::iter::once(&shot.file).chain(&shot.companions);
                all.map(|f| f.name.to_string_lossy().into_owned()).collect::<Vec<_>>().join("+")
            })
            .collect()
    }

    #[test]
    fn raw_and_its_pictures_are_one_shot() {
        assert_eq!(
            paired(&["IMG_0001.JPG", "IMG_0001.CR2", "IMG_0002.jpg", "img_0002.NEF"]),
            ["IMG_0001.CR2+IMG_0001.JPG", "img_0002.NEF+IMG_0002.jpg"]
        );
        assert_eq!(paired(&["A0010001.HIF", "A0010001.JPG"]), ["A0010001.HIF+A0010001.JPG"]);
        assert_eq!(
            paired(&["A0010001.JPG", "A0010001.HIF", "A0010001.ARW"]),
            ["A0010001.ARW+A0010001.HIF+A0010001.JPG"]
        );
        assert_eq!(paired(&["IMG_0001.DNG", "IMG_0001.CR2"]), ["IMG_0001.CR2+IMG_0001.DNG"]);
    }

    #[test]
    fn what_is_no_pair_stays_apart() {
        assert_eq!(paired(&["IMG_0001.JPG", "IMG_0001.jpg"]), ["IMG_0001.JPG", "IMG_0001.jpg"]);
        assert_eq!(paired(&["IMG_0001.JPG", "IMG_0001.jpeg"]), ["IMG_0001.jpeg", "IMG_0001.JPG"]);
        assert_eq!(paired(&["a.png", "a.jpg"]), ["a.jpg", "a.png"]);
        assert_eq!(paired(&["IMG_0001.CR2", "IMG_0001 (1).JPG"]), ["IMG_0001.CR2", "IMG_0001 (1).JPG"]);
        assert_eq!(paired(&[]), Vec::<String>::new());
    }

    #[test]
    fn shots_stand_in_natural_order() {
        assert_eq!(
            paired(&["f10.jpg", "f9.jpg", "f9.nef", "F8.JPG"]),
            ["F8.JPG", "f9.nef+f9.jpg", "f10.jpg"]
        );
    }
}
