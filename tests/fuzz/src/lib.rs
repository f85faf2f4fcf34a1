//! What every target does with the bytes it is given.

pub mod manifests;
pub mod plans;
pub mod stamps;

use std::io;

use lapseproof::frames::source::{HEAD_BYTES, ReadAt, Source};
use lapseproof::frames::{Pictures, Want, look_at_source, read_source_for};

/// A file that gives at most 3000 bytes a call.
struct Short(Vec<u8>);

impl ReadAt for Short {
    fn read_some(&self, into: &mut [u8], offset: u64) -> io::Result<usize> {
        let count = into.len().min(3000);
        self.0.read_some(&mut into[..count], offset)
    }
}

/// Reads `data` as a file of the container whose first bytes are `magic`, put where they belong.
///
/// # Panics
/// Where a reader fails, costs more than it may, or says another thing of the same bytes in pieces.
pub fn read(magic: &[u8], at: usize, data: &[u8]) {
    let mut bytes = data.to_vec();
    bytes.resize(bytes.len().max(at + magic.len()), 0);
    bytes[at..at + magic.len()].copy_from_slice(magic);
    let mut source = Source::over(bytes.clone()).expect("memory");
    let whole = read_source_for(&mut source, Want { embedded: true }).expect("memory");
    assert!(!whole.row.damage.words().contains("its reader failed"), "{:?}", whole.row.damage);
    assert!(source.bytes_read() <= 4 * 1024 * 1024 + HEAD_BYTES as u64, "{} bytes", source.bytes_read());
    assert!(whole.embedded.iter().all(|e| e.at + e.len <= bytes.len() as u64), "a stream beyond the end");
    let len = bytes.len() as u64;
    let mut source = Source::of(Box::new(Short(bytes)), len).expect("memory");
    let pieces = read_source_for(&mut source, Want { embedded: true }).expect("memory");
    // The number of calls is bounded too: of a file that needs many, less may be read in pieces.
    assert!(pieces.row == whole.row || source.is_spent(), "{:?} {:?}", pieces.row, whole.row);
}

/// Looks at the picture of `data`, whatever it is: through its thumbnails and previews, at an eighth, and
/// whole. Limits of memory and time are the fuzzer's (`-malloc_limit_mb`, `-rss_limit_mb`, `-timeout`).
///
/// # Panics
/// Where a second look shows another thing.
pub fn look(data: &[u8]) {
    // A decoder's own mistake is caught where it is called, as it is in an audit: only what comes through to
    // here ends the fuzzer.
    static QUIET: std::sync::Once = std::sync::Once::new();
    QUIET.call_once(|| std::panic::set_hook(Box::new(|_| {})));
    for pictures in [Pictures::Thumb, Pictures::Full] {
        let once = || {
            let mut source = Source::over(data.to_vec()).expect("memory");
            look_at_source(&mut source, pictures).expect("memory")
        };
        let (first, second) = (once(), once());
        assert!(first.row == second.row, "{:?} {:?}", first.row, second.row);
        assert!(format!("{:?}", first.look) == format!("{:?}", second.look));
        assert!(!first.stopped, "nobody stopped it");
    }
}
