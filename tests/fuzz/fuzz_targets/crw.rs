#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| lapseproof_fuzz::read(b"II\x1A\0\0\0HEAPCCDR", 0, data));
