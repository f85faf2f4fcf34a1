//! Cameras in words: by the letters they bear on a set.

/// The letter of one camera; empty where there is none of that index.
pub(crate) fn letter<'a>(letters: &[&'a str], at: usize) -> &'a str {
    letters.get(at).copied().unwrap_or_default()
}

/// `camera A`, `cameras A and B`, `cameras A, B and C`; empty for none.
pub(crate) fn list(letters: &[&str], of: &[usize]) -> String {
    let names: Vec<&str> = of.iter().map(|at| letter(letters, *at)).collect();
    match names.as_slice() {
        [] => String::new(),
        [one] => format!("camera {one}"),
        [most @ .., last] => format!("cameras {} and {last}", most.join(", ")),
    }
}

/// The same as it begins a sentence.
pub(crate) fn list_first(letters: &[&str], of: &[usize]) -> String {
    let words = list(letters, of);
    let mut rest = words.chars();
    rest.next().map(|first| format!("{}{}", first.to_uppercase(), rest.as_str())).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cameras_are_listed_by_their_letters() {
        let letters = ["A", "B", "C"];
        assert_eq!(list(&letters, &[]), "");
        assert_eq!(list(&letters, &[1]), "camera B");
        assert_eq!(list_first(&letters, &[0, 2]), "Cameras A and C");
        assert_eq!(list_first(&letters, &[0, 1, 2]), "Cameras A, B and C");
    }
}
