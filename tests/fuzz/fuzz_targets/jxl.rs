#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| lapseproof_fuzz::read(b"\0\0\0\x0CJXL \r\n\x87\n", 0, data));
