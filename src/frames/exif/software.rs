//! Is the Software tag (0131) a camera's firmware or an editor?

use crate::frames::Camera;

/// Words that firmware puts beside its number. From a look at some hundred real files; common practice, no
/// source.
const FIRMWARE: [&str; 12] = [
    "version", "firmware", "build", "release", "camera", "digital", "user", "keys", "adapter", "android",
    "phone", "mobile",
];

/// True where `software` holds a word of four or more letters that is no part of the camera's name and none
/// that firmware writes. A word with a digit in it or without a vowel is the name of a build, not of a
/// program.
pub(crate) fn is_editor(software: &str, camera: &Camera) -> bool {
    let own = format!("{} {}", camera.maker, camera.model).to_lowercase();
    let lower = software.to_lowercase();
    lower
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| word.chars().all(char::is_alphabetic) && word.chars().count() >= 4)
        .filter(|word| !word.is_ascii() || word.contains(['a', 'e', 'i', 'o', 'u', 'y']))
        .any(|word| !own.contains(word) && !FIRMWARE.contains(&word))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn firmware_and_editors() {
        let camera =
            Camera { maker: "ACME IMAGING CORP.".into(), model: "Acme Snap 7".into(), serial: String::new() };
        for firmware in [
            "Ver.1.00 ",
            "1.00",
            "Acme Snap Firmware Ver 01.10",
            "Snap Version F.0",
            "v552p-A80",
            "XQZK ver. 0.9",
            "J320FXXU0A",
            "",
        ] {
            assert!(!is_editor(firmware, &camera), "{firmware}");
        }
        for editor in ["Painter 10.2", "Acme Viewer Ver.1.1", "Darkroom Classic (desktop)"] {
            assert!(is_editor(editor, &camera), "{editor}");
        }
        assert!(is_editor("Painter 10.2", &Camera::default()));
    }
}
