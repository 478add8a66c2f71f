//! Files that were exported, read by the engines that people read such files with.
//!
//! DuckDB, pandas and pyarrow come from PyPI, pinned in `requirements.txt`; `tests/run` lays them into
//! `target/export-venv`. Where that is missing the tests that need it print `skipped`.

mod fleet;
mod samples;

use std::path::{Path, PathBuf};
use std::process::Command;

/// The Python that has the engines.
fn python() -> Option<PathBuf> {
    let named = std::env::var_os("TAFFRAIL_EXPORT_PYTHON").map(PathBuf::from);
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/export-venv/bin/python");
    let found = named.or_else(|| own.is_file().then_some(own));
    if found.is_none() {
        eprintln!("skipped: no target/export-venv with DuckDB, pandas and pyarrow; tests/run makes it");
    }
    found
}

/// What `read.py` makes of files.
fn read(python: &Path, arguments: &[&str]) -> serde_json::Value {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/export/read.py");
    let done = Command::new(python).arg("-B").arg(script).args(arguments).output().expect("Python runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    serde_json::from_slice(&done.stdout).expect("JSON")
}

/// Runs `taffrail export` with these arguments; gives what it said on standard error.
fn export(arguments: &[&str]) -> String {
    let done = assert_cmd::Command::cargo_bin("taffrail").expect("built").arg("export").args(arguments).output();
    let done = done.expect("runs");
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(done.status.success(), "{said}");
    said
}
