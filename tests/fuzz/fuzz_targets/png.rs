#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| lapseproof_fuzz::read(b"\x89PNG\r\n\x1A\n", 0, data));
