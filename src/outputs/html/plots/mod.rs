//! Plots along the run: drawn as SVG from columns that keep their smallest and largest value, so that their
//! size does not grow with the frames. Each has a sentence that tells what it shows to those who cannot see
//! it.

pub mod budget;
mod drawn;
pub mod exposure;
pub mod interval;
pub mod looks;

use super::view::View;
use drawn::{Plot, UNITS};
use maud::{Markup, html};

/// Height of a plot's data, px.
const HEIGHT: f64 = 132.0;
/// Room above it for the topmost label, px.
const ABOVE: f64 = 8.0;
/// Room below it for the times, px.
const BELOW: f64 = 22.0;
/// Every plot along the run that there is something to draw for, in the order of the page.
pub fn all(view: &View<'_>) -> Vec<Plot> {
    let all = [
        interval::plot(view),
        exposure::plot(view),
        looks::brightness(view),
        looks::flicker(view),
        looks::sharpness(view),
    ];
    all.into_iter().flatten().collect()
}

/// The times below a plot: places in %, the text, and whether a narrow page shows it.
fn times(view: &View<'_>) -> Vec<(u32, String, bool)> {
    let audit = view.audit;
    let stamp = |at: usize| audit.evidence.frame(at).stamp();
    let columns = view.report.axis.columns();
    let mut found: Vec<(u32, crate::units::CivilTime, bool)> = Vec::new();
    for n in 0..=4_u32 {
        let column = (columns - 1) * n as usize / 4;
        let at = view.report.axis.frame_at(column).and_then(stamp);
        found.extend(at.map(|s| (n * 25, s.at, n % 2 == 0)));
    }
    let days = found.windows(2).any(|w| w[0].1.to_jiff().date() != w[1].1.to_jiff().date());
    let short = found.windows(2).any(|w| w[1].1.seconds_since(w[0].1).abs() < 300.0);
    let told = |at: crate::units::CivilTime| {
        let clock = at.clock();
        let clock = if short { clock.as_str() } else { clock.get(..5).unwrap_or(&clock) };
        if days { format!("{} {clock}", at.to_jiff().strftime("%-d %b")) } else { clock.to_owned() }
    };
    found.into_iter().map(|(percent, at, narrow)| (percent, told(at), narrow)).collect()
}

/// The first and the last of the times below a plot; `None` where nothing is stamped.
pub fn ends(view: &View<'_>) -> Option<(String, String)> {
    let mut all = times(view).into_iter().map(|(_, words, _)| words);
    let first = all.next()?;
    Some((first, all.next_back()?))
}

/// The times below a plot, drawn.
fn time_axis(view: &View<'_>, y: f64) -> Markup {
    html! {
        g class="times" {
            @for (percent, words, narrow) in times(view) {
                text x={ (percent) "%" } y=(y) class=(if narrow { "" } else { "roomy" })
                    text-anchor=(match percent { 0 => "start", 100 => "end", _ => "middle" }) { (words) }
            }
        }
    }
}

/// The plot on the page.
pub fn figure(view: &View<'_>, plot: &Plot) -> Markup {
    let columns = view.report.axis.columns();
    let (ticks, decimals) = plot.scale.ticks();
    let y = |value: f64| ABOVE + f64::from(plot.scale.y(value)) / UNITS * HEIGHT;
    let dense = if columns > 500 { "dense" } else { "sparse" };
    html! {
        figure class={ "plot " (dense) } id={ (view.id("plot-")) (plot.id) } data-told=(plot.told) {
            h3 { (plot.title) " " span class="unit" { (plot.unit) } }
            svg class="chart" width="100%" height=(ABOVE + HEIGHT + BELOW) role="img"
                aria-labelledby={ (view.id("words-")) (plot.id) } {
                g class="grid" {
                    @for tick in &ticks {
                        line x1="0" x2="100%" y1=(y(*tick)) y2=(y(*tick)) {}
                        text x="-8" y=(y(*tick) + 4.0) text-anchor="end" { (number_fixed(*tick, decimals)) }
                    }
                }
                svg class="data" x="0" y=(ABOVE) width="100%" height=(HEIGHT)
                    viewBox=(format!("0 0 {columns} {UNITS}")) preserveAspectRatio="none" {
                    @for (class, d) in &plot.layers { path class=(class) d=(d) {} }
                }
                (time_axis(view, ABOVE + HEIGHT + 16.0))
            }
            figcaption {
                @if !plot.key.is_empty() {
                    ul class="key" {
                        @for (class, words) in &plot.key {
                            li {
                                svg width="26" height="10" viewBox="0 0 26 10" aria-hidden="true" {
                                    path class=(class) d=(if class.starts_with("band") { "M0 \
                                        1H26V9H0Z" } else { "M1 \
                                        5H25" }) {}
                                }
                                " " (words)
                            }
                        }
                    }
                }
                p id={ (view.id("words-")) (plot.id) } { (plot.words) }
            }
        }
    }
}

fn number_fixed(value: f64, decimals: usize) -> String {
    crate::outputs::cells::number(Some(value), decimals).replace('-', "−")
}
