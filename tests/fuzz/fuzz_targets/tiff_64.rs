#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| lapseproof_fuzz::read(b"II+\0\x08\0\0\0", 0, data));
