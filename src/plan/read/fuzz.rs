//! Nothing that may stand in a plan file, or be typed as a flag, makes the room panic.

use super::super::{Plan, contradictions, derive, forms};
use super::tests::known;
use super::written::{EVERY_KEY, EXAMPLE};
use super::{LARGEST, read};

/// Reads, and asks everything that may be asked of what was read.
fn exercise(text: &str) {
    match read(text, "plan.toml", &known()) {
        Ok(mut plan) => {
            derive(&mut plan);
            let _ = contradictions(&plan);
            assert_eq!(plan.clone().overlaid(Plan::default()), plan);
        }
        Err(errors) => {
            assert!(!errors.errors.is_empty());
            for error in &errors.errors {
                assert!(error.line >= 1 && error.column >= 1);
                assert!(text.get(error.span.clone()).is_some() || text.len() > LARGEST);
            }
            let _ = (errors.to_string(), errors.coloured());
        }
    }
}

proptest::proptest! {
    #[test]
    fn arbitrary_text_never_panics(text in "\\PC*|[\\x00-\\x7f\\u{80}-\\u{300}]{0,200}") {
        exercise(&text);
    }

    #[test]
    fn toml_like_text_never_panics(
        text in "([a-z_\"'.]{0,8}( ?[=:] ?)?[\\[\\]{}\"',0-9a-z./ -]{0,12}\n){0,12}",
    ) {
        exercise(&text);
    }

    #[test]
    fn a_damaged_plan_never_panics(
        cut in 0..1500_usize,
        len in 0..40_usize,
        put in "[\\[\\]{}=\"'#,.0-9a-z\n\r\t -]{0,12}|\\PC{0,4}",
    ) {
        for example in [EXAMPLE, EVERY_KEY] {
            let (mut from, mut to) = (cut.min(example.len()), (cut + len).min(example.len()));
            while !example.is_char_boundary(from) { from -= 1; }
            while !example.is_char_boundary(to) { to += 1; }
            exercise(&format!("{}{put}{}", &example[..from], &example[to..]));
        }
    }

    #[test]
    fn forms_never_panic(text in "\\PC{0,30}|[-+0-9.:/,\"'a-zµ² ]{0,20}") {
        for form in [
            forms::duration, forms::interval, forms::shutter, forms::hours, forms::f_number, forms::iso,
            forms::length, forms::speed, forms::acceleration, forms::frequency, forms::fps, forms::ev,
        ] {
            match form(&text) {
                Ok(value) => assert!(value.is_finite() && value >= 0.0),
                Err(expected) => assert!(expected.starts_with("expected ")),
            }
        }
        let _ = (forms::moment(&text), forms::daily_hours(&text), forms::count(&text));
    }
}
