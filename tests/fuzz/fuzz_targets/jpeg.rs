#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| lapseproof_fuzz::read(b"\xFF\xD8\xFF", 0, data));
