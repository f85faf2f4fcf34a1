"""Writes the textured pairs of this folder and what scikit-image says of them: pip install scikit-image.

Each PNG holds two grey pictures side by side. The second is the first with its content moved by the shift named in pairs.csv
(right and down are positive): a crop of the same texture at another place, drawn between its pixels by a cubic spline, with
noise, another gain, another brightness. The third and fourth columns are what phase_cross_correlation finds with
upsample_factor = 100, turned to the same sense (it names the shift that brings the second picture back onto the first).
"""
import numpy as np
import scipy.ndimage as nd
import skimage
import skimage.io
from skimage.registration import phase_cross_correlation

W, H, EDGE = 96, 64, 40
chance = np.random.default_rng(20260509)


def texture(fall):
    """Noise whose amplitude falls with frequency as 1/f^fall."""
    h, w = H + 2 * EDGE, W + 2 * EDGE
    fy, fx = np.fft.fftfreq(h)[:, None], np.fft.fftfreq(w)[None, :]
    f = np.hypot(fy, fx)
    f[0, 0] = 1
    spectrum = np.fft.fft2(chance.normal(size=(h, w))) / f**fall
    spectrum[0, 0] = 0
    out = np.real(np.fft.ifft2(spectrum))
    return out / out.std()


def crop(canvas, dx, dy):
    y, x = np.mgrid[0:H, 0:W].astype(float)
    return nd.map_coordinates(canvas, [y + EDGE - dy, x + EDGE - dx], order=5, mode="reflect")


def codes(picture):
    return np.clip(np.rint(picture), 0, 255).astype(np.uint8)


rows = []
for number, (dx, dy, fall, gain, offset, noise) in enumerate(
    [
        (0, 0, 1.0, 1.0, 0, 1.0),
        (3, -5, 1.0, 1.0, 0, 1.0),
        (-12, 7, 1.0, 1.0, 0, 2.0),
        (0.5, 0.25, 0.8, 1.0, 0, 0.5),
        (2.3, -4.7, 0.8, 1.0, 0, 0.5),
        (-0.13, 3.37, 0.8, 1.15, 8, 0.5),
        (20.4, 0.0, 0.8, 1.0, 0, 1.0),
        (0.0, -0.7, 1.2, 0.87, -6, 0.5),
        (6.8, 6.2, 0.6, 1.15, 0, 2.0),
        (-0.3, -0.4, 0.6, 0.87, 0, 2.0),
    ]
):
    canvas = texture(fall)
    first = codes(120 + 34 * crop(canvas, 0, 0) + noise * chance.normal(size=(H, W)))
    second = codes(120 + offset + 34 * gain * crop(canvas, dx, dy) + noise * chance.normal(size=(H, W)))
    skimage.io.imsave(f"pair{number}.png", np.hstack([first, second]), check_contrast=False)
    found = -phase_cross_correlation(first.astype(float), second.astype(float), upsample_factor=100)[0]
    rows.append(f"pair{number}.png,{dx},{dy},{found[1]:.2f},{found[0]:.2f}")
with open("pairs.csv", "w") as out:
    out.write(f"# scikit-image {skimage.__version__}, numpy {np.__version__}\n")
    out.write("file,true_x_px,true_y_px,scikit_x_px,scikit_y_px\n" + "\n".join(rows) + "\n")
