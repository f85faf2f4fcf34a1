//! Folders as they are found: rubbish among the frames, two cards, files named one by one. Everything is
//! walked and read to the end, each thing told, nothing opened that must not be.

use std::fs;
use std::path::{Path, PathBuf};

use crate::support::skip::{Why, skipped};
use crate::support::writer::{Put, block, jpeg};
use lapseproof::card::{Card, walk};
use lapseproof::evidence::gather;
use lapseproof::frames::{Cell, Damage, FileKind, FileNumber, Frames, PassedOver, read_all};
use lapseproof::plan::Plan;

/// A frame with the given second of its minute.
fn frame(second: u32) -> Vec<u8> {
    let date = format!("2026:05:09 04:10:{second:02}");
    jpeg(
        &block(&[(0x010F, Put::Ascii("ACME"))], &[(0x9003, Put::Ascii(&date)), (0x8827, Put::Short(&[200]))]),
        2000,
    )
}

fn put(folder: &Path, name: &str, bytes: &[u8]) {
    let path = folder.join(name);
    fs::create_dir_all(path.parent().expect("a folder")).expect("a folder can be made");
    fs::write(path, bytes).expect("a file can be written");
}

fn temp() -> tempfile::TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

fn names(card: &Card) -> Vec<String> {
    card.shots.iter().map(|shot| card.text_of(&shot.file)).collect()
}

fn passed(card: &Card, why: PassedOver) -> u64 {
    card.passed_over.iter().find(|(w, _)| *w == why).map_or(0, |(_, count)| *count)
}

fn damage_of<'a>(frames: &'a Frames, name: &str) -> &'a Damage {
    let at = (0..frames.len()).find(|at| frames.path_text(*at).ends_with(name)).expect(name);
    &frames.rows[at].damage
}

#[cfg(unix)] // other systems refuse some of these names
#[test]
fn a_folder_of_rubbish_is_told_to_the_end() {
    let dir = temp();
    let root = dir.path();
    put(root, "IMG_0001.JPG/IMG_0002.JPG", &frame(2));
    put(root, "IMG_0003.JPG", b"");
    put(root, "IMG_0004.JPG", b"dear diary");
    put(root, "IMG_0005.JPG", &[0xFF; 5000]);
    put(root, "IMG_0006.JPG", &frame(6)[..900]);
    put(root, "IMG_0007.NEF", b"");
    put(root, "line\nfeed \u{1b}[2J.jpg", &frame(8));
    put(root, "no extension", &frame(9));
    put(root, "notes.bin", b"no picture");
    put(root, "plan.toml", b"interval = 2");
    let frames = read_all(walk(&[root.to_path_buf()]), Some(2), &|_| ());
    assert_eq!(frames.len(), 8, "{:?}", names(&frames.card));
    assert_eq!(damage_of(&frames, "IMG_0002.JPG"), &Damage::None);
    assert_eq!(damage_of(&frames, "IMG_0003.JPG"), &Damage::Empty);
    assert_eq!(damage_of(&frames, "IMG_0004.JPG"), &Damage::NotAPicture);
    assert_eq!(damage_of(&frames, "IMG_0005.JPG"), &Damage::NotAPicture);
    assert!(matches!(damage_of(&frames, "IMG_0006.JPG"), Damage::CutShort(_)));
    assert_eq!(damage_of(&frames, "IMG_0007.NEF"), &Damage::Empty);
    assert_eq!(damage_of(&frames, "2J.jpg"), &Damage::None);
    assert_eq!(damage_of(&frames, "no extension"), &Damage::None);
    assert_eq!(frames.card.passed_over, [(PassedOver::NotAPicture, 1)]);
    assert!(frames.trouble.is_empty(), "{:?}", frames.trouble);
    let evidence = gather(&Plan::default(), frames);
    assert!((0..evidence.len()).all(|at| !evidence.frame(at).name().contains('\u{1b}')));
}

#[cfg(unix)]
#[test]
fn what_is_no_file_is_never_opened() {
    use std::os::unix::ffi::OsStrExt;
    use std::os::unix::fs::{PermissionsExt, symlink};

    let dir = temp();
    let root = dir.path();
    put(root, "IMG_0001.JPG", &frame(1));
    put(root, "sub/IMG_0002.JPG", &frame(2));
    symlink(root, root.join("sub/loop")).expect("a link");
    symlink("IMG_0001.JPG", root.join("IMG_0009.JPG")).expect("a link");
    symlink("nowhere", root.join("IMG_0010.JPG")).expect("a link");
    let fifo = std::process::Command::new("mkfifo").arg(root.join("IMG_0011.JPG")).status();
    let _socket = std::os::unix::net::UnixListener::bind(root.join("IMG_0012.JPG")).expect("a socket");
    let odd = std::ffi::OsStr::from_bytes(b"IMG_\xFF\xFE.jpg");
    fs::write(root.join(odd), frame(3)).expect("a name that is no UTF-8");
    put(root, "IMG_0013.JPG", &frame(13));
    fs::set_permissions(root.join("IMG_0013.JPG"), fs::Permissions::from_mode(0o000)).expect("permissions");

    let card = walk(&[root.to_path_buf()]);
    let fifos = u64::from(fifo.is_ok_and(|s| s.success()));
    assert_eq!(passed(&card, PassedOver::NotAFile), 4 + fifos);
    assert_eq!(names(&card), ["IMG_0001.JPG", "IMG_0013.JPG", "IMG_\\xFF\\xFE.jpg", "sub/IMG_0002.JPG"]);
    let frames = read_all(card, Some(2), &|_| ());
    assert_eq!(frames.rows[2].damage, Damage::None);
    if fs::File::open(root.join("IMG_0013.JPG")).is_ok() {
        skipped(Why::Unable, "this user may read every file");
        return;
    }
    assert_eq!(frames.rows[1].damage, Damage::NotRead("permission denied".into()));
    assert_eq!(frames.trouble.len(), 1);
    assert_eq!(
        (frames.trouble[0].path.as_str(), frames.trouble[0].what.as_str()),
        ("IMG_0013.JPG", "permission denied")
    );
}

#[test]
fn a_file_that_went_away_is_trouble() {
    let dir = temp();
    put(dir.path(), "IMG_0001.JPG", &frame(1));
    put(dir.path(), "IMG_0002.JPG", &frame(2));
    let card = walk(&[dir.path().to_path_buf()]);
    fs::remove_file(dir.path().join("IMG_0001.JPG")).expect("removed");
    let frames = read_all(card, None, &|_| ());
    assert_eq!(frames.rows[0].damage, Damage::NotRead("it is not there".into()));
    assert_eq!(frames.trouble.len(), 1);
    assert_eq!(frames.rows[1].damage, Damage::None);
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_not_be_entered_is_trouble() {
    use std::os::unix::fs::PermissionsExt;
    let dir = temp();
    put(dir.path(), "open/IMG_0001.JPG", &frame(1));
    put(dir.path(), "shut/IMG_0002.JPG", &frame(2));
    let shut = dir.path().join("shut");
    fs::set_permissions(&shut, fs::Permissions::from_mode(0o000)).expect("permissions");
    let may_enter = fs::read_dir(&shut).is_ok();
    let card = walk(&[dir.path().to_path_buf()]);
    fs::set_permissions(&shut, fs::Permissions::from_mode(0o700)).expect("permissions");
    if may_enter {
        skipped(Why::Unable, "this user may enter every folder");
        return;
    }
    assert_eq!(names(&card), ["open/IMG_0001.JPG"]);
    assert_eq!(card.trouble.len(), 1);
    assert_eq!((card.trouble[0].path.as_str(), card.trouble[0].what.as_str()), ("shut", "permission denied"));
}

#[test]
fn a_place_that_is_not_there_is_trouble() {
    let dir = temp();
    let card = walk(&[dir.path().join("gone")]);
    assert!(card.shots.is_empty());
    assert_eq!(card.trouble.len(), 1);
    assert_eq!(card.trouble[0].what, "it is not there");
}

#[test]
fn a_card_is_walked_in_its_order_and_its_book_keeping_passed_over() {
    let dir = temp();
    let root = dir.path();
    put(root, "DCIM/100ACMEA/IMG_9998.JPG", &frame(1));
    put(root, "DCIM/100ACMEA/IMG_9999.JPG", &frame(2));
    put(root, "DCIM/101ACMEA/IMG_0002.JPG", &frame(4));
    put(root, "DCIM/101ACMEA/IMG_0001.JPG", &frame(3));
    put(root, "DCIM/101ACMEA/IMG_0001.X3F", b"FOVb");
    put(root, "DCIM/101ACMEA/._IMG_0001.JPG", b"fork");
    put(root, "DCIM/101ACMEA/IMG_0001.XMP", b"<x/>");
    put(root, "DCIM/101ACMEA/MVI_0003.MOV", b"moving");
    put(root, "DCIM/101ACMEA/MVI_0003.THM", &frame(3));
    put(root, "DCIM/.hidden/IMG_0001.JPG", &frame(3));
    put(root, "MISC/AUTPRINT.MRK", b"order");
    put(root, "PRIVATE/clips/C0001.JPG", &frame(3));
    let frames = read_all(walk(&[root.to_path_buf()]), Some(3), &|_| ());
    let card = &frames.card;
    assert_eq!(
        names(card),
        [
            "DCIM/100ACMEA/IMG_9998.JPG",
            "DCIM/100ACMEA/IMG_9999.JPG",
            "DCIM/101ACMEA/IMG_0001.X3F",
            "DCIM/101ACMEA/IMG_0002.JPG"
        ]
    );
    assert_eq!(card.folders.iter().map(|f| f.number).collect::<Vec<_>>(), [Some(100), Some(101)]);
    let named = walk(&[root.join("DCIM/101ACMEA")]);
    assert_eq!(named.folders[0].number, Some(101));
    assert_eq!(card.shots[1].number, Some(FileNumber { value: 9999, digits: 4 }));
    assert_eq!(
        card.passed_over,
        [
            (PassedOver::ResourceFork, 1),
            (PassedOver::Hidden, 1),
            (PassedOver::Sidecar, 1),
            (PassedOver::Video, 1),
            (PassedOver::Thumbnail, 1),
            (PassedOver::Housekeeping, 2),
        ]
    );
    // A raw that cannot be read yet takes its stamp from the picture beside it, and is not called damaged.
    assert_eq!(card.shots[2].file.kind, FileKind::Other);
    assert_eq!(card.shots[2].companions.len(), 1);
    assert_eq!(frames.rows[2].damage, Damage::None);
    assert_eq!(frames.rows[2].stamp.known().map(|s| s.at.clock()), Some("04:10:03".into()));
    assert_eq!(frames.rows[2].camera, Cell::Known(0));
}

#[test]
fn files_named_one_by_one_and_places_named_twice() {
    let dir = temp();
    let root = dir.path();
    for second in 1..=3 {
        put(root, &format!("a/IMG_000{second}.JPG"), &frame(second));
    }
    put(root, "b/IMG_0004.JPG", &frame(4));
    let at = |name: &str| root.join(name);
    let card = walk(&[at("a/IMG_0003.JPG"), at("b"), at("a/IMG_0001.JPG"), at("a/IMG_0003.JPG")]);
    assert_eq!(names(&card), ["IMG_0001.JPG", "IMG_0003.JPG", "IMG_0004.JPG"]);
    assert_eq!(card.roots, [at("a"), at("b")]);
    let paths: Vec<PathBuf> = card.shots.iter().map(|s| card.path_of(&s.file)).collect();
    assert_eq!(paths, [at("a/IMG_0001.JPG"), at("a/IMG_0003.JPG"), at("b/IMG_0004.JPG")]);
    let card = walk(&[at("a"), root.to_path_buf(), at("b/IMG_0004.JPG"), root.to_path_buf()]);
    assert_eq!(card.shots.len(), 4, "{:?}", names(&card));
    assert_eq!(card.roots, [root]);
}

#[test]
fn the_same_table_on_one_thread_and_on_eight() {
    let dir = temp();
    for i in 0..300_u32 {
        let bytes = if i % 37 == 5 { Vec::new() } else { frame(i % 60) };
        put(dir.path(), &format!("DCIM/{}ACMEA/IMG_{i:04}.JPG", 100 + i / 100), &bytes);
    }
    let card = walk(&[dir.path().to_path_buf()]);
    assert_eq!(card, walk(&[dir.path().to_path_buf()]));
    let done = std::sync::atomic::AtomicU64::new(0);
    let count = |n| _ = done.fetch_add(n, std::sync::atomic::Ordering::Relaxed);
    let one = read_all(card.clone(), Some(1), &count);
    assert_eq!(done.into_inner(), 300);
    let eight = read_all(card, Some(8), &|_| ());
    assert_eq!(one.rows, eight.rows);
    assert_eq!((&one.card, &one.cameras, &one.trouble), (&eight.card, &eight.cameras, &eight.trouble));
}

#[test]
fn a_million_frames_of_records_stay_small() {
    use lapseproof::frames::{Row, Shot};
    // A row, a shot and the heap of a name of 12 bytes (16 with the allocator's own): 1,000,000 of them under
    // 300 MB.
    let each = size_of::<Row>() + size_of::<Shot>() + 32;
    assert!(each <= 300, "{} + {}", size_of::<Row>(), size_of::<Shot>());
}

/// Sequences of a real camera: every frame read, in order, none damaged.
#[test]
fn real_sequences_are_read_whole() {
    let Some(real) = crate::support::real() else { return };
    for (name, count) in [("aerial-2s", 75), ("aerial-4s", 167), ("aerial-10s", 55)] {
        let frames = read_all(walk(&[real.join("sequences").join(name)]), None, &|_| ());
        assert_eq!(frames.len(), count, "{name}");
        assert_eq!(frames.cameras.len(), 1, "{name}: {:?}", frames.cameras);
        for at in 0..count {
            let row = &frames.rows[at];
            assert_eq!(row.damage, Damage::None, "{}", frames.path_text(at));
            assert!(
                row.stamp.as_known().is_some() && row.exposure_s.as_known().is_some(),
                "{}",
                frames.path_text(at)
            );
            assert!(frames.card.shots[at].number.is_some(), "{}", frames.path_text(at));
            assert!(!row.edited, "{}", frames.path_text(at));
        }
        let mut prints: Vec<_> = frames.rows.iter().map(|r| r.print).collect();
        prints.sort_unstable();
        prints.dedup();
        assert_eq!(prints.len(), count, "{name}");
    }
}

/// However a file is spelled, it is one file; two names of one folder's list are two.
#[test]
fn a_file_that_is_named_in_two_ways_is_found_once() {
    let dir = tempfile::tempdir().expect("a temporary folder");
    let root = dir.path();
    put(root, "weir/IMG_0001.JPG", &frame(1));
    put(root, "weir/IMG_0002.JPG", &frame(2));
    let mut spelled = vec![
        root.join("weir/IMG_0001.JPG"),
        root.join("weir/./IMG_0001.JPG"),
        root.join("weir/../weir/IMG_0001.JPG"),
        root.join("weir/IMG_0002.JPG"),
    ];
    if cfg!(windows) {
        spelled.push(root.join("WEIR\\img_0001.jpg"));
        spelled.push(format!("{}.", root.join("weir\\IMG_0001.JPG").display()).into());
    }
    let card = walk(&spelled);
    let names: Vec<_> = card.shots.iter().map(|shot| shot.file.name.to_string_lossy().into_owned()).collect();
    assert_eq!(names, ["IMG_0001.JPG", "IMG_0002.JPG"]);
}
