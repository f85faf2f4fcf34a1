//! Mutations of every built file and of the real ones, drawn by a fixed generator: no reader panics, hangs or
//! costs more than it may. The same of pictures, each of which is decoded too. `LAPSEPROOF_MUTATIONS=200000
//! cargo test --release --test suite mutations::` tries more of them. `tests/fuzz/` looks further.

use lapseproof::frames::source::{HEAD_BYTES, Source};
use lapseproof::frames::{Pictures, Want, look_at_source, read_source_for};

/// A generator of numbers (Marsaglia's xorshift, 2003), the same on every machine.
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, limit: usize) -> usize {
        (self.next() >> 11) as usize % limit.max(1)
    }
}

fn seeds() -> Vec<Vec<u8>> {
    let mut out: Vec<Vec<u8>> =
        crate::support::containers::all().into_iter().map(|(_, bytes)| bytes).collect();
    if let Some(real) = crate::support::real() {
        let mut files: Vec<_> = std::fs::read_dir(real.join("files"))
            .expect("a folder")
            .filter_map(|e| Some(e.ok()?.path()))
            .collect();
        files.sort();
        out.extend(files.iter().filter_map(|path| std::fs::read(path).ok()).filter(|b| b.len() < 110_000));
    }
    out
}

/// One to eight changes, most of them in the first kilobytes.
fn mutate(bytes: &mut Vec<u8>, numbers: &mut Numbers) {
    for _ in 0..1 + numbers.below(8) {
        let reach = [64, 512, 4096, bytes.len()][numbers.below(4)].min(bytes.len());
        let at = numbers.below(reach);
        let Some(byte) = bytes.get_mut(at) else { return };
        match numbers.below(7) {
            0 => *byte ^= 1 << numbers.below(8),
            1 => *byte = numbers.next() as u8,
            2 => *byte = [0, 1, 0x7F, 0x80, 0xFF][numbers.below(5)],
            3 => {
                // A number of 16 or 32 bits: small, near the file's length, or at its end.
                let number = [
                    numbers.below(64),
                    bytes.len().wrapping_sub(numbers.below(64)),
                    usize::MAX,
                    numbers.below(bytes.len()),
                ][numbers.below(4)] as u32;
                let all = if numbers.below(2) == 0 { number.to_le_bytes() } else { number.to_be_bytes() };
                for (place, byte) in bytes[at..].iter_mut().zip(&all[..2 + 2 * numbers.below(2)]) {
                    *place = *byte;
                }
            }
            4 => {
                // A piece of the file stands in another place.
                let len = 1 + numbers.below(24);
                let from = numbers.below(reach);
                let piece: Vec<u8> = bytes[from..].iter().take(len).copied().collect();
                for (place, byte) in bytes[at..].iter_mut().zip(piece) {
                    *place = byte;
                }
            }
            5 => bytes.truncate(at),
            _ => _ = bytes.splice(at..at, vec![numbers.next() as u8; 1 + numbers.below(40)]),
        }
    }
}

fn rounds(few: usize) -> usize {
    std::env::var("LAPSEPROOF_MUTATIONS").ok().and_then(|n| n.parse().ok()).unwrap_or(few)
}

/// Small pictures of every kind that is decoded, drawn, and files that declare more than is decoded.
fn pictures() -> Vec<Vec<u8>> {
    let mut out: Vec<Vec<u8>> = crate::support::bombs::all().into_iter().map(|(_, bytes, _)| bytes).collect();
    let drawn = image::RgbImage::from_fn(200, 150, |x, y| image::Rgb([x as u8, y as u8, (x * y / 99) as u8]));
    let drawn = image::DynamicImage::from(drawn);
    use image::ImageFormat::{Jpeg, Png, Tiff, WebP};
    for picture in [drawn.to_luma8().into(), drawn.to_rgba8().into(), drawn.to_rgb16().into(), drawn] {
        for format in [Jpeg, Png, Tiff, WebP] {
            let mut file = std::io::Cursor::new(Vec::new());
            // Not every format holds every kind of pixel.
            if image::DynamicImage::write_to(&picture, &mut file, format).is_ok() {
                out.push(file.into_inner());
            }
        }
    }
    if let Some(attack) = crate::support::attack() {
        let files = std::fs::read_dir(attack).expect("a folder").filter_map(|e| Some(e.ok()?.path()));
        let mut files: Vec<_> = files.filter(|p| p.extension().is_some_and(|e| e != "md")).collect();
        files.sort();
        out.extend(files.iter().filter_map(|path| std::fs::read(path).ok()));
    }
    if let Some(real) = crate::support::real() {
        let files =
            std::fs::read_dir(real.join("files")).expect("a folder").filter_map(|e| Some(e.ok()?.path()));
        let mut files: Vec<_> = files.collect();
        files.sort();
        out.extend(files.iter().filter_map(|path| std::fs::read(path).ok()).filter(|b| b.len() < 500_000));
    }
    out
}

#[test]
fn mutated_pictures_are_looked_at_or_left_alone() {
    let rounds = rounds(300);
    let seeds = pictures();
    let mut numbers = Numbers(0xD1B5_4A32_D192_ED03);
    let (mut slowest, mut seen, mut refused) = (std::time::Duration::ZERO, 0, 0);
    for round in 0..rounds {
        let mut bytes = seeds[round % seeds.len()].clone();
        mutate(&mut bytes, &mut numbers);
        for pictures in [Pictures::Thumb, Pictures::Full] {
            let started = std::time::Instant::now();
            let mut source = Source::over(bytes.clone()).expect("memory");
            let read = look_at_source(&mut source, pictures).expect("memory");
            seen += usize::from(read.look.is_some());
            refused += usize::from(read.row.not_seen().is_some());
            if started.elapsed() > slowest {
                slowest = started.elapsed();
                println!("round {round}, {pictures:?}: {slowest:?}, {} bytes, {:?}", bytes.len(), read.kind);
            }
        }
    }
    println!("{rounds} files looked at twice: {seen} seen, {refused} refused, the slowest in {slowest:?}");
    assert!(seen > rounds / 10 && refused > rounds / 10, "{seen} {refused} of {rounds}");
}

#[test]
fn mutated_files_are_read_to_the_end() {
    let rounds = rounds(4000);
    let seeds = seeds();
    let mut numbers = Numbers(0x9E37_79B9_7F4A_7C15);
    for round in 0..rounds {
        let mut bytes = seeds[round % seeds.len()].clone();
        mutate(&mut bytes, &mut numbers);
        let len = bytes.len() as u64;
        let mut source = Source::over(bytes).expect("memory");
        let read = read_source_for(&mut source, Want { embedded: true }).expect("memory");
        assert!(
            !read.row.damage.words().contains("its reader failed"),
            "round {round}: {:?}",
            read.row.damage
        );
        assert!(
            source.bytes_read() <= 4 * 1024 * 1024 + HEAD_BYTES as u64,
            "round {round}: {}",
            source.bytes_read()
        );
        assert!(read.embedded.iter().all(|e| e.at + e.len <= len), "round {round}");
    }
}
