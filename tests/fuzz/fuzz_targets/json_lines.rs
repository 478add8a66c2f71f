#![no_main]

#[expect(dead_code, reason = "each fuzzer runs one target of those that all share")]
#[path = "../targets.rs"]
mod targets;

libfuzzer_sys::fuzz_target!(|data: &[u8]| targets::json_lines(data));
