//! Natural order of names: runs of digits compare as numbers, letters without regard to case.

use std::cmp::Ordering;
use std::ffi::OsStr;
use std::path::{Component, Path};

use super::numbering::folder_number;

/// Compares two texts so that `IMG_9` comes before `IMG_10`. Texts that differ only in case or in leading
/// zeros are equal here; a caller that needs a total order breaks the tie by the bytes.
fn natural(mut a: &[u8], mut b: &[u8]) -> Ordering {
    loop {
        match (a.first(), b.first()) {
            (None, None) => return Ordering::Equal,
            (None, Some(_)) => return Ordering::Less,
            (Some(_), None) => return Ordering::Greater,
            (Some(x), Some(y)) if x.is_ascii_digit() && y.is_ascii_digit() => {
                let (run_a, rest_a) = digits(a);
                let (run_b, rest_b) = digits(b);
                let order = run_a.len().cmp(&run_b.len()).then_with(|| run_a.cmp(run_b));
                if order != Ordering::Equal {
                    return order;
                }
                (a, b) = (rest_a, rest_b);
            }
            (Some(x), Some(y)) => {
                let order = x.to_ascii_lowercase().cmp(&y.to_ascii_lowercase());
                if order != Ordering::Equal {
                    return order;
                }
                (a, b) = (&a[1..], &b[1..]);
            }
        }
    }
}

/// The run of digits at the head of `text` without its leading zeros, and what follows it.
fn digits(text: &[u8]) -> (&[u8], &[u8]) {
    let end = text.iter().position(|c| !c.is_ascii_digit()).unwrap_or(text.len());
    let (run, rest) = text.split_at(end);
    let zeros = run.iter().position(|c| *c != b'0').unwrap_or(run.len());
    (&run[zeros..], rest)
}

/// Total order of file names: stem, then extension, then the bytes, so that `IMG_0001.JPG` precedes `IMG_0001
/// copy.JPG`.
pub(crate) fn names(a: &OsStr, b: &OsStr) -> Ordering {
    let ((a_stem, a_extension), (b_stem, b_extension)) = (parts(a), parts(b));
    natural(a_stem, b_stem)
        .then_with(|| natural(a_extension, b_extension))
        .then_with(|| a.as_encoded_bytes().cmp(b.as_encoded_bytes()))
}

/// Stem and extension of a file's own name. A dot at its beginning begins no extension.
fn parts(name: &OsStr) -> (&[u8], &[u8]) {
    let bytes = name.as_encoded_bytes();
    match bytes.iter().rposition(|b| *b == b'.') {
        None | Some(0) => (bytes, &[]),
        Some(dot) => (&bytes[..dot], &bytes[dot + 1..]),
    }
}

/// Total order of folders below one root: part by part, DCF folders by their number, others naturally; a
/// folder before those inside it.
pub(crate) fn folders(a: &Path, b: &Path) -> Ordering {
    let mut left = a.components();
    let mut right = b.components();
    loop {
        match (left.next(), right.next()) {
            (None, None) => return Ordering::Equal,
            (None, Some(_)) => return Ordering::Less,
            (Some(_), None) => return Ordering::Greater,
            (Some(x), Some(y)) => {
                let order = part(x, y);
                if order != Ordering::Equal {
                    return order;
                }
            }
        }
    }
}

fn part(a: Component<'_>, b: Component<'_>) -> Ordering {
    let (a, b) = (a.as_os_str(), b.as_os_str());
    let by_number = match (folder_number(a), folder_number(b)) {
        (Some(x), Some(y)) => x.cmp(&y),
        _ => Ordering::Equal,
    };
    by_number
        .then_with(|| natural(a.as_encoded_bytes(), b.as_encoded_bytes()))
        .then_with(|| a.as_encoded_bytes().cmp(b.as_encoded_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn sorted(list: &[&str]) -> Vec<String> {
        let mut list: Vec<_> = list.iter().map(|s| (*s).to_owned()).collect();
        list.sort_by(|a, b| names(OsStr::new(a), OsStr::new(b)));
        list
    }

    #[test]
    fn numbers_in_names_count_as_numbers() {
        assert_eq!(sorted(&["a10.jpg", "a9.jpg", "A1.jpg"]), ["A1.jpg", "a9.jpg", "a10.jpg"]);
        assert_eq!(sorted(&["f-2.png", "f-010.png", "f-1.png"]), ["f-1.png", "f-2.png", "f-010.png"]);
        // A number too long for any integer type.
        let long = "x99999999999999999999999999.jpg";
        assert_eq!(sorted(&[long, "x3.jpg"]), ["x3.jpg", long]);
    }

    #[test]
    fn a_copy_follows_what_it_was_copied_from() {
        assert_eq!(
            sorted(&["IMG_0002.JPG", "IMG_0001 (1).JPG", "IMG_0001.JPG"]),
            ["IMG_0001.JPG", "IMG_0001 (1).JPG", "IMG_0002.JPG"]
        );
    }

    #[test]
    fn folders_by_dcf_number_then_by_name() {
        let mut list = ["DCIM/101ZZZZZ", "DCIM", "DCIM/100AAAAA/x", "DCIM/100AAAAA", "", "DCIM/99"];
        list.sort_by(|a, b| folders(Path::new(a), Path::new(b)));
        assert_eq!(list, ["", "DCIM", "DCIM/99", "DCIM/100AAAAA", "DCIM/100AAAAA/x", "DCIM/101ZZZZZ"]);
    }

    proptest! {
        #[test]
        fn the_order_of_names_is_total(
            a in "[0-9a-cA-C_. ]{0,8}",
            b in "[0-9a-cA-C_. ]{0,8}",
            c in "[0-9a-cA-C_. ]{0,8}",
        ) {
            let (a, b, c) = (OsStr::new(&a), OsStr::new(&b), OsStr::new(&c));
            prop_assert_eq!(names(a, b), names(b, a).reverse());
            prop_assert_eq!(names(a, b) == Ordering::Equal, a == b);
            if names(a, b) != Ordering::Greater && names(b, c) != Ordering::Greater {
                prop_assert!(names(a, c) != Ordering::Greater);
            }
        }
    }
}
