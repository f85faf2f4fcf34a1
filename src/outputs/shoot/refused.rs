//! Why there is no plan, for the terminal.

use crate::outputs::text::wrapped;
use crate::plan::shoot::{Clash, Unsolved};

/// Columns of a line.
const WIDTH: usize = 78;

/// What lacks, or what does not agree and what comes of dropping it. No line end after the last line.
pub fn refused(why: &Unsolved) -> String {
    let mut lines = Vec::new();
    match why {
        Unsolved::Absurd(asked) => {
            lines.push("these figures cannot be meant.".to_owned());
            for words in asked {
                hang(&mut lines, "  ", words);
            }
        }
        Unsolved::Under(lacking) => {
            lines.push("more is needed to make a plan.".to_owned());
            for words in lacking {
                hang(&mut lines, "  ", words);
            }
        }
        Unsolved::Over(clashes) => {
            lines.push("these do not agree.".to_owned());
            for clash in clashes {
                tell(&mut lines, clash);
            }
        }
    }
    lines.join("\n")
}

fn hang(lines: &mut Vec<String>, first: &str, words: &str) {
    let indent = first.chars().count();
    for (n, line) in wrapped(words, WIDTH.saturating_sub(indent)).into_iter().enumerate() {
        lines.push(if n == 0 { format!("{first}{line}") } else { format!("{:indent$}{line}", "") });
    }
}

fn tell(lines: &mut Vec<String>, clash: &Clash) {
    hang(lines, "  ", &clash.words);
    // One value alone says in its own words what to leave out.
    if clash.remedies.is_empty() && clash.keys.len() < 2 {
        return;
    }
    if clash.remedies.is_empty() {
        let keys: Vec<_> = clash.keys.iter().map(|k| k.word()).collect();
        hang(lines, "    ", &format!("Drop one of them ({}), or make them agree.", keys.join(", ")));
        return;
    }
    hang(lines, "    ", "Drop one of them, or make them agree:");
    for remedy in &clash.remedies {
        hang(lines, "    - ", remedy);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::shoot::Key;

    #[test]
    fn both_values_and_every_remedy_stand_on_lines_that_fit() {
        let clash = Clash {
            keys: vec![Key::Frames, Key::Clip],
            words: "The clip of 20 s at 25 fps takes 500 frames; you want 400. ".repeat(3),
            remedies: vec![
                "Without the frames: 500 frames.".into(),
                "Without the clip: a clip of 16 s.".into(),
            ],
        };
        let told = refused(&Unsolved::Over(vec![clash.clone()]));
        assert!(told.lines().all(|l| l.chars().count() <= WIDTH), "{told}");
        for words in [
            "500 frames; you want 400",
            "    - Without the frames: 500",
            "    - Without the clip: a clip of 16 s.",
        ] {
            assert!(told.contains(words), "{words}: {told}");
        }
        let bare = refused(&Unsolved::Over(vec![Clash { remedies: Vec::new(), ..clash }]));
        assert!(bare.contains("(frames, clip)"), "{bare}");
        let absurd = refused(&Unsolved::Absurd(vec!["Say its unit. ".repeat(20)]));
        assert!(absurd.starts_with("these figures") && absurd.lines().all(|l| l.chars().count() <= WIDTH));
        let lacking = refused(&Unsolved::Under(vec!["How long? ".repeat(20)]));
        assert!(lacking.lines().all(|l| l.chars().count() <= WIDTH), "{lacking}");
    }
}
