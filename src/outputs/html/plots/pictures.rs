//! Pictures beside the plots: small ones below the time axis, and the first and the last frame of the run,
//! which a script lays over each other.

use crate::outputs::html::gallery::{Picture, THUMBS, shape};
use crate::outputs::html::view::View;
use maud::{Markup, html};
use std::fmt::Write as _;

/// Units across the lines from the axis to the pictures.
const ACROSS: f64 = 1000.0;
/// Units from their upper to their lower end.
const DOWN: u32 = 10;

/// The frames of the run that have a picture, evenly in time: position and column.
fn evenly(view: &View<'_>) -> Vec<(usize, usize)> {
    let (evidence, axis) = (&view.audit.evidence, &view.report.axis);
    let good = |at: &usize| evidence.frame_if_any(*at).is_some_and(|frame| frame.stands());
    let all: Vec<(usize, usize)> =
        view.gallery.small.keys().filter(|at| good(at)).map(|at| (*at, axis.of(*at))).collect();
    let (Some((_, first)), Some((_, last))) = (all.first(), all.last()) else { return Vec::new() };
    let steps = THUMBS - 1;
    let mut chosen: Vec<(usize, usize)> = (0..=steps)
        .filter_map(|n| {
            let due = first + last.saturating_sub(*first) * n / steps;
            all.iter().min_by_key(|(_, column)| column.abs_diff(due)).copied()
        })
        .collect();
    chosen.dedup();
    chosen
}

/// Small pictures evenly in time, each with a line from its place on the axis; nothing without pictures.
pub(crate) fn thumbs(view: &View<'_>) -> Markup {
    let chosen = evenly(view);
    let columns = view.report.axis.columns() as f64;
    let mut lines = String::new();
    for (n, (_, column)) in chosen.iter().enumerate() {
        let from = (*column as f64 + 0.5) / columns * ACROSS;
        let to = (n as f64 + 0.5) / chosen.len() as f64 * ACROSS;
        // Writing to a string cannot fail.
        let _ = write!(lines, "M{from:.1} 0L{to:.1} {DOWN}");
    }
    html! {
        @if !chosen.is_empty() {
            div class={ "thumbs " (shape(view.audit)) } {
                svg class="leaders" width="100%" height="16" viewBox=(format!("0 0 {ACROSS} {DOWN}"))
                    preserveAspectRatio="none" aria-hidden="true" { path d=(lines) {} }
                ol {
                    @for (at, _) in &chosen {
                        @if let Some(picture) = view.gallery.small.get(at) {
                            li { (image(view, *at, picture)) span { (view.clock(*at)) } }
                        }
                    }
                }
            }
        }
    }
}

fn image(view: &View<'_>, at: usize, picture: &Picture) -> Markup {
    html! {
        img src=(picture.data()) width=(picture.width) height=(picture.height) decoding="async"
            alt={ "Frame " (view.name(at)) };
    }
}

/// The first and the last frame of the run beside each other; nothing where there are not two pictures of
/// one size.
pub(crate) fn first_and_last(view: &View<'_>) -> Markup {
    let stands = |at: usize| view.audit.evidence.frame_if_any(at).is_some_and(|frame| frame.stands());
    let mut pictures = view.gallery.large.iter().filter(|(at, _)| stands(**at));
    let ends = pictures.next().zip(pictures.next_back());
    html! {
        @if let Some((first, last)) = ends {
            @if (first.1.width, first.1.height) == (last.1.width, last.1.height) {
                figure class="first-last" id=(view.id("first-last")) {
                    h3 { "First and last frame" }
                    p class="fine" {
                        "What moved between the two shows drift or a head that sags. A soft or milky last \
                         frame shows dew or lost focus."
                    }
                    div class={ "pair " (shape(view.audit)) } {
                        @for (words, (at, picture)) in [("First", first), ("Last", last)] {
                            div {
                                (image(view, *at, picture))
                                p { b { (words) } " " (view.name(*at)) " " span { (view.clock(*at)) } }
                            }
                        }
                    }
                    div class="fade" {}
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::html::gallery::Gallery;
    use crate::outputs::html::view::Edition;
    use crate::outputs::report::Report;
    use crate::outputs::sample;

    fn gallery(sizes: &[(usize, u32)]) -> Gallery {
        let picture = |width| Picture { width, height: 10, jpeg: vec![1] };
        let all = sizes.iter().map(|(at, width)| (*at, picture(*width)));
        Gallery { small: all.clone().collect(), large: all.collect() }
    }

    #[test]
    fn pictures_stand_below_their_times() {
        let audit = sample::audit();
        let report = Report::of(&audit);
        let gallery = gallery(&[(0, 9), (1, 9), (2, 9), (3, 9), (4, 9)]);
        let view = View::new(&report, &gallery, Edition::Full);
        // The test shot is none of the run. After the hole comes the frame in column 5.
        assert_eq!(evenly(&view), [(1, 0), (2, 1), (3, 2), (4, 5)]);
        let text = thumbs(&view).into_string();
        assert_eq!(text.matches("<img").count(), 4);
        assert!(text.contains("04:11:00") && text.contains("M71.4 0L125.0 10"), "{text}");
    }

    #[test]
    fn only_two_pictures_of_one_size_are_laid_over_each_other() {
        let audit = sample::audit();
        let report = Report::of(&audit);
        for (sizes, images) in
            [(vec![(1, 9), (2, 9), (4, 9)], 2), (vec![(1, 9), (4, 5)], 0), (vec![(1, 9)], 0), (vec![], 0)]
        {
            let gallery = gallery(&sizes);
            let view = View::new(&report, &gallery, Edition::Full);
            let text = first_and_last(&view).into_string();
            assert_eq!(text.matches("<img").count(), images, "{sizes:?}");
        }
    }
}
