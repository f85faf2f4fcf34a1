use super::*;

fn view() -> View {
    View {
        hour: 12.0,
        elapsed_s: 0.0,
        carriage_mm: 0.0,
        brightness_ev: 0.0,
        iso: 100.0,
        blur_px: 0.0,
        askew_px: 0.0,
        lorry: None,
        shot: 0,
    }
}

/// Mean linear luminance of the codes: sRGB after IEC 61966-2-1, BT.709 weights.
fn mean(picture: &RgbImage) -> f64 {
    let linear = |c: u8| {
        let v = f64::from(c) / 255.0;
        if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
    };
    let sum: f64 =
        picture.pixels().map(|p| 0.2126 * linear(p[0]) + 0.7152 * linear(p[1]) + 0.0722 * linear(p[2])).sum();
    sum / f64::from(picture.width() * picture.height())
}

#[test]
fn brightness_is_what_was_asked_at_every_hour() {
    let scene = Scene::new(5, (120, 80));
    for hour in [0.0, 5.5, 6.5, 12.0, 18.3, 21.0] {
        for ev in [-2.0, -0.5, 0.0, 0.4] {
            let picture = scene.draw(&View { hour, brightness_ev: ev, ..view() });
            let got = (mean(&picture) / MIDDLE_GREY).log2();
            assert!((got - ev).abs() < 0.03, "{hour} {ev}: {got}");
        }
    }
    assert!(((mean(&scene.flat(0.0)) / MIDDLE_GREY).log2()).abs() < 0.02);
}

#[test]
fn what_goes_on_is_seen() {
    let scene = Scene::new(5, (120, 80));
    let still = scene.draw(&view());
    assert_eq!(still, scene.draw(&view()));
    for other in [
        View { shot: 1, ..view() },
        View { elapsed_s: 600.0, ..view() },
        View { carriage_mm: 40.0, ..view() },
        View { hour: 22.0, ..view() },
        View { blur_px: 3.0, ..view() },
        View { askew_px: 2.0, ..view() },
        View { lorry: Some(0.5), ..view() },
    ] {
        assert_ne!(still, scene.draw(&other), "{other:?}");
    }
    assert_ne!(still, Scene::new(6, (120, 80)).draw(&view()));
}

/// Sum of squared differences of neighbouring greens: fine detail, which a blur takes away.
#[test]
fn a_blur_takes_the_detail() {
    let scene = Scene::new(5, (120, 80));
    let detail = |p: &RgbImage| {
        (1..120).flat_map(|x| (0..80).map(move |y| (x, y))).fold(0.0, |sum, (x, y)| {
            sum + (f64::from(p.get_pixel(x, y)[1]) - f64::from(p.get_pixel(x - 1, y)[1])).powi(2)
        })
    };
    assert!(detail(&scene.draw(&View { blur_px: 3.0, ..view() })) < 0.7 * detail(&scene.draw(&view())));
}

/// Published codes of middle values (IEC 61966-2-1).
#[test]
fn codes() {
    assert_eq!((code(0.0), code(0.18), code(0.5), code(1.0), code(7.0)), (0, 118, 188, 255, 255));
}
