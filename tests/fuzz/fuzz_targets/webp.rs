#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| lapseproof_fuzz::read(b"RIFF\xF0\xFF\0\0WEBP", 0, data));
