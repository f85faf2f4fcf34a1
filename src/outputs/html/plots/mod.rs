//! Plots along the run: drawn as SVG from columns that keep their smallest and largest value, so that their
//! size does not grow with the frames. Each has a sentence that tells what it shows to those who cannot see
//! it.

pub(crate) mod budget;
mod drawn;
pub(crate) mod exposure;
pub(crate) mod interval;
pub(crate) mod looks;
pub(crate) mod pictures;

use super::view::View;
use drawn::{Plot, UNITS};
use maud::{Markup, html};

/// Room above it for the topmost label, px.
const ABOVE: f64 = 8.0;
/// Room below it for the times, px.
const BELOW: f64 = 22.0;
/// A line of them, px.
const LINE: f64 = 14.0;

/// Every plot along the run that there is something to draw for, in the order of the page.
pub(crate) fn all(view: &View<'_>) -> Vec<Plot> {
    let mut all: Vec<Plot> = interval::plot(view).into_iter().chain(exposure::plot(view)).collect();
    all.extend(exposure::settings(view));
    let looks = [looks::brightness(view), looks::ends(view), looks::flicker(view), looks::sharpness(view)];
    all.extend(looks.into_iter().flatten());
    all
}

/// Room for the times below a plot, px: a second line where they tell days too.
pub(crate) fn below(view: &View<'_>) -> f64 {
    let days = view.report.ticks.iter().any(|tick| tick.day.is_some());
    if days { BELOW + LINE } else { BELOW }
}

/// The times below a plot, and a fine line through it for each, from `top` to `bottom`.
pub(crate) fn time_axis(view: &View<'_>, top: f64, bottom: f64) -> Markup {
    let columns = view.report.axis.columns() as f64;
    let y = bottom + 16.0;
    html! {
        g class="times" data-top=(top) data-bottom=(bottom) {
            @for tick in &view.report.ticks {
                @let share = 100.0 * tick.column / columns;
                @let x = format!("{share:.3}%");
                @let anchor = if share < 1.0 { "start" } else if share > 97.0 { "end" } else { "middle" };
                @let class = if tick.narrow { "" } else { "roomy" };
                @if tick.at.is_some() { line x1=(x) x2=(x) y1=(top) y2=(bottom) {} }
                text x=(x) y=(y) class=(class) text-anchor=(anchor) data-at=[tick.at] { (tick.words) }
                @if let Some(day) = &tick.day {
                    text x=(x) y=(y + LINE) class={ "day " (class) } text-anchor=(anchor) { (day) }
                }
            }
            @for (from, to) in view.report.axis.cuts() {
                @let x = format!("{:.3}%", 50.0 * (from + to) / columns);
                text class="cutmark" x=(x) y=(bottom + 4.0) text-anchor="middle" { "//" }
            }
        }
    }
}

/// Where hours are cut out of the axis, over so many units from the upper edge to the lower.
pub(crate) fn cuts(view: &View<'_>, units: f64) -> Markup {
    html! {
        @for (from, to) in view.report.axis.cuts() {
            @let wide = to - from;
            path class="cut" d=(format!("M{from:.2} 0h{wide:.2}V{units}h-{wide:.2}Z")) {}
        }
    }
}

/// The plot on the page.
pub(crate) fn figure(view: &View<'_>, plot: &Plot) -> Markup {
    let columns = view.report.axis.columns();
    let (mut ticks, decimals) = plot.scale.ticks();
    if plot.own_lines {
        ticks.clear();
    }
    let height = plot.height;
    let y = |value: f64| ABOVE + f64::from(plot.scale.y(value)) / UNITS * height;
    let dense = if columns > 500 { "dense" } else { "sparse" };
    html! {
        figure class={ "plot " (dense) } id={ (view.id("plot-")) (plot.id) } data-told=(plot.told) {
            h3 { (plot.title) " " span class="unit" { (plot.unit) } }
            svg class="chart" width="100%" height=(ABOVE + height + below(view)) role="img"
                aria-labelledby={ (view.id("words-")) (plot.id) } {
                g class="grid" {
                    @for tick in &ticks {
                        line x1="0" x2="100%" y1=(y(*tick)) y2=(y(*tick)) {}
                        text x="-8" y=(y(*tick) + 4.0) text-anchor="end" { (number_fixed(*tick, decimals)) }
                    }
                    @for line in &plot.lines {
                        @let y = y(line.value);
                        line x1="0" x2="100%" y1=(y) y2=(y) {}
                        text x="-8" y=(y + 4.0) text-anchor="end" { (line.label) }
                        @if !line.aside.is_empty() {
                            text class="aside" x="100%" y=(y - 3.0) text-anchor="end" { (line.aside) }
                        }
                    }
                }
                (time_axis(view, ABOVE, ABOVE + height))
                svg class="data" x="0" y=(ABOVE) width="100%" height=(height)
                    viewBox=(format!("0 0 {columns} {UNITS}")) preserveAspectRatio="none" {
                    (cuts(view, UNITS))
                    @for (class, d) in &plot.layers { path class=(class) d=(d) {} }
                }
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
