//! Plans as they are written, for the tests.

/// The example of the plan file, as the project's documents show it.
pub(super) const EXAMPLE: &str = r#"name = "Harbour basin, falling tide"
interval = "12 s"                 # a number is seconds; text takes units: "500 ms", "1 min 30 s"
frames = 601                      # or run = "2 h": frames = floor(run / interval) + 1
start = 2026-05-09T04:10:00+02:00
counted_from = "open"             # what the timer counts the interval from: shutter "open" (default) or "close"
bracket = 1                       # exposures taken in each slot

[exposure]
mode = "locked"                   # locked | ramped | automatic
shutter = "1/60"                  # ramped: ["1/500", "4 s"]; also 0.5, "0.5 s", "2 s"
aperture = 8.0
iso = 200
max_step = 0.34                   # EV between neighbouring frames
busy = "0.4 s"                    # after the shutter closes, until the camera can fire again
dark_frame = false                # in-camera dark-frame subtraction: busy for as long again

[rig]
travel = "900 mm"
step = "1.5 mm"                   # 600 moves
speed = "20 mm/s"
settle = "0.5 s"

[delivery]
fps = 25
length = "20 s"

[[part]]                          # what changes on purpose
from = 2026-05-09T05:00:00+02:00
interval = "6 s"

[[accepted]]                      # a finding that was seen and agreed to
check = "missing-slot"
at = "2026-05-09T04:31:12"
reason = "lorry; agreed with the client"

[tolerance.missing-slot]          # each check's limits can be overridden here, by key
caution = 1
"#;

/// A plan in which every key is written.
pub(super) const EVERY_KEY: &str = r#"
name = "Every key"
interval = 12
frames = 0x259
run = "2 h"
start = "2026-05-09 04:10"
counted_from = "close"
bracket = 3
first = "TIDE0012.JPG"
last = "TIDE0612.JPG"
active = ["07:00-19:00", "22:00-02:00"]
light = "mains"
mains_hz = "50 Hz"

[exposure]
mode = "ramped"
shutter = ["1/500", 4]
aperture = ["f/8", 2.8]
iso = "ISO 200"
max_step = "1/3 EV"
busy = 1e-1
dark_frame = true

[rig]
kind = "continuous"
direction = "right"
travel = "90 cm"
step = "1.5 mm"
speed = "2 cm/s"
acceleration = "200 mm/s²"
settle = 0
trigger_lag = "50 ms"
waits = true
battery_hours = 9.5
distance = "2 m"
focal_length = "24 mm"
pixel_pitch = "5.97 µm"
hours_range = ["4 h", 10]
temperature = -5
interval_range = ["1 s", "1 h"]
interval_step = "1 s"
step_range = ["0.1 mm", "5 cm"]
speed_range = ["1 mm/s", "4 cm/s"]
wait = "11.5 s"
wait_increment = 0.5
step_increment = "0.1 mm"
sensor_diagonal = "43.3 mm"
declination = "-16.7°"
star_trail = "2 px"
pan = "36 °/h"

[card]
size = "64 GB"
frame_size = "25 MB"
file_system = "fat32"

[delivery]
fps = "24000/1001"
length = "0:20"
patch_up_to = 2
title = "Falling tide"
scenario = "One tide.\nFrom the quay."
contact = ["Studio Example", "desk@studio.example"]

[[part]]
from = 300
interval = "6 s"
mode = "automatic"
shutter = 0.5
aperture = 11
iso = [200, 1600]
max_step = 0
direction = "left"
note = "ND filter"

[[part]]
from = 2026-05-09T05:40:00
note = "zoom"

[[accepted]]
check = "short-run"
at = 2026-05-09T04:31:12
file = "TIDE0100.JPG"
count = 3
reason = "agreed"

[tolerance]
short-run = { caution = 2.5, share_fault = -1 }
"#;
