use super::*;
use crate::plan::RigPlan;

fn plan() -> Plan {
    let rig = RigPlan { step_m: Some(0.002), ..RigPlan::default() };
    Plan { interval_s: Some(12.0), frames: Some(12), rig, ..Plan::default() }
}

fn options() -> Options {
    Options { picture: (60, 40), thumbnail: (48, 36), ..Options::default() }
}

fn shoot(into: &Path, faults: &[&str], options: &Options) -> Result<Truth, RehearseError> {
    let faults: Vec<_> = faults.iter().map(|t| Fault::parse(t).expect(t)).collect();
    rehearse(&plan(), &faults, options, into)
}

/// Every file below a folder, with its bytes.
fn contents(folder: &Path) -> Vec<(String, Vec<u8>)> {
    walkdir::WalkDir::new(folder)
        .sort_by_file_name()
        .into_iter()
        .map(|e| e.expect("an entry"))
        .filter(|e| e.file_type().is_file())
        .map(|e| {
            let name = e.path().strip_prefix(folder).expect("below").to_string_lossy().replace('\\', "/");
            (name, fs::read(e.path()).expect("read"))
        })
        .collect()
}

#[test]
fn files_are_pictures_and_the_truth_lies_beside() {
    let folder = tempfile::tempdir().expect("a folder");
    let truth = shoot(folder.path(), &["missing=2@4", "duplicate@9"], &options()).expect("shot");
    let files = contents(folder.path());
    assert_eq!(files.len() as u64, truth.files + 1);
    for (name, bytes) in files.iter().filter(|f| f.0.starts_with("frames/")) {
        let picture = image::load_from_memory(bytes).expect(name);
        assert_eq!((picture.width(), picture.height()), (60, 40));
        let exif = ::exif::Reader::new().read_from_container(&mut std::io::Cursor::new(bytes)).expect(name);
        assert!(exif.get_field(::exif::Tag::DateTimeOriginal, ::exif::In::PRIMARY).is_some());
    }
    let written: Truth =
        serde_json::from_slice(&fs::read(folder.path().join("truth.json")).expect("read")).expect("a truth");
    assert_eq!(written, truth);
    assert!(
        files.iter().any(|f| f.0 == "frames/TIDE0008 (1).JPG"),
        "{:?}",
        files.iter().map(|f| &f.0).collect::<Vec<_>>()
    );
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    let (a, b) = (tempfile::tempdir().expect("a folder"), tempfile::tempdir().expect("a folder"));
    let faults = ["flicker", "damaged=garbage", "jitter", "soft", "tests=1:1"];
    shoot(a.path(), &faults, &options()).expect("shot");
    shoot(b.path(), &faults, &options()).expect("shot");
    assert_eq!(contents(a.path()), contents(b.path()));
    shoot(b.path(), &faults, &Options { seed: 2, ..options() }).expect("shot");
    assert_ne!(contents(a.path()), contents(b.path()));
    shoot(b.path(), &faults, &options()).expect("shot");
    assert_eq!(contents(a.path()), contents(b.path()), "nothing of the other seed is left");
}

#[test]
fn damage_is_as_named() {
    let clean = tempfile::tempdir().expect("a folder");
    shoot(clean.path(), &[], &options()).expect("shot");
    let whole = fs::read(clean.path().join("frames/TIDE0006.JPG")).expect("read");
    for damage in ["empty", "cut", "zeros", "garbage"] {
        let folder = tempfile::tempdir().expect("a folder");
        shoot(folder.path(), &[&format!("damaged={damage}@5")], &options()).expect("shot");
        let bytes = fs::read(folder.path().join("frames/TIDE0006.JPG")).expect("read");
        match damage {
            "empty" => assert!(bytes.is_empty()),
            "cut" => assert!(bytes.len() < whole.len() && whole.starts_with(&bytes)),
            "zeros" => assert!(bytes.len() == whole.len() && bytes.ends_with(&[0; 64])),
            _ => assert!(bytes.len() == whole.len() && !bytes.starts_with(&[0xFF, 0xD8])),
        }
        if damage == "cut" || damage == "zeros" {
            assert!(::exif::Reader::new().read_from_container(&mut std::io::Cursor::new(&bytes)).is_ok());
        }
    }
}

#[test]
fn a_folder_that_holds_other_things_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("notes.txt"), "mine").expect("written");
    let message = shoot(folder.path(), &[], &options()).expect_err("refused").to_string();
    assert!(message.contains("notes.txt") && message.contains("choose an empty folder"), "{message}");
    assert_eq!(contents(folder.path()).len(), 1);

    let folder = tempfile::tempdir().expect("a folder");
    shoot(folder.path(), &[], &options()).expect("shot");
    fs::write(folder.path().join("frames/keep.JPG"), "mine").expect("written");
    let message = shoot(folder.path(), &[], &options()).expect_err("refused").to_string();
    assert!(message.contains("keep.JPG") && message.contains("move it elsewhere"), "{message}");

    let folder = tempfile::tempdir().expect("a folder");
    fs::create_dir(folder.path().join("frames")).expect("made");
    fs::write(folder.path().join("truth.json"), "{}").expect("written");
    assert!(shoot(folder.path(), &[], &options()).is_err(), "a truth that no rehearsal wrote");

    let file = tempfile::NamedTempFile::new().expect("a file");
    assert!(matches!(shoot(file.path(), &[], &options()), Err(RehearseError::Disk { .. })));
}

#[test]
fn flat_pictures_are_as_bright_as_drawn_ones() {
    let flat = Options { draw: false, ..options() };
    let folder = tempfile::tempdir().expect("a folder");
    shoot(folder.path(), &["jump=+1EV@6"], &flat).expect("shot");
    let grey = |name: &str| {
        let bytes = fs::read(folder.path().join(name)).expect("read");
        image::load_from_memory(&bytes).expect("decoded").to_rgb8().get_pixel(30, 20)[1]
    };
    // One EV up from code 118 is code 161 (IEC 61966-2-1); the daylight swells a little.
    assert!(grey("frames/TIDE0006.JPG").abs_diff(118) < 6);
    assert!(grey("frames/TIDE0007.JPG").abs_diff(161) < 6);
}

#[test]
fn the_thumbnail_has_bars_where_the_shapes_differ() {
    let wide = RgbImage::from_pixel(60, 40, image::Rgb([200; 3]));
    let small = fitted(&wide, (48, 36));
    assert_eq!(
        (small.get_pixel(24, 0)[0], small.get_pixel(24, 18)[0], small.get_pixel(24, 35)[0]),
        (0, 200, 0)
    );
    assert_eq!(fitted(&wide, (48, 32)).get_pixel(24, 0)[0], 200);
}

/// What an audit reads: mean linear luminance of the thumbnail (sRGB after IEC 61966-2-1, BT.709 weights),
/// bars left out.
#[test]
fn thumbnails_are_as_bright_as_the_script_says() {
    let plan = plan();
    let options = Options { picture: (240, 160), thumbnail: (160, 120), ..Options::default() };
    let faults = [Fault::parse("flicker=0.3EV").expect("a fault")];
    let script = script(&plan, &faults, &options).expect("a script");
    let camera = Camera::new(&script, &plan, &options);
    for (index, shot) in script.shots.iter().enumerate() {
        let file = camera.file(index, shot).expect("encoded");
        let exif = ::exif::Reader::new().read_from_container(&mut std::io::Cursor::new(&file)).expect("read");
        let uint = |tag| {
            exif.get_field(tag, ::exif::In::THUMBNAIL).and_then(|f| f.value.get_uint(0)).expect("a field")
                as usize
        };
        let from = uint(::exif::Tag::JPEGInterchangeFormat);
        let bytes =
            exif.buf().get(from..from + uint(::exif::Tag::JPEGInterchangeFormatLength)).expect("bytes");
        let small = image::load_from_memory(bytes).expect("decoded").to_rgb8();
        let linear = |c: u8| {
            let v = f64::from(c) / 255.0;
            if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        };
        // 160 × 107 of picture within 120 lines; the outermost lines are left out too, where the bars bleed.
        let rows = small.enumerate_pixels().filter(|p| (9..111).contains(&p.1));
        let light: Vec<f64> = rows
            .map(|(_, _, p)| 0.2126 * linear(p[0]) + 0.7152 * linear(p[1]) + 0.0722 * linear(p[2]))
            .collect();
        let mean = light.iter().sum::<f64>() / light.len() as f64;
        let off = (mean / 0.18).log2() - shot.brightness_ev();
        assert!(off.abs() < 0.06, "{index}: {off}");
    }
}
