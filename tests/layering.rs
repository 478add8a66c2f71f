//! The dependency rule, read off the `use` lines: an arrow may point to the same layer or to one above, never back.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The layers from the pure core to the rim, as `src/lib.rs` lists them.
const LAYERS: [&[&str]; 12] = [
    &["quantity"],
    &["battery"],
    &["reckoning"],
    &["health"],
    &["passage"],
    &["clock"],
    &["link", "store"],
    &["review"],
    &["export"],
    &["http"],
    &["config"],
    &["daemon", "cli"],
];

/// What pure modules must not name: I/O, clocks, logs, and the crates that do them.
const IMPURE: [&str; 10] =
    ["std::fs", "std::io", "std::net", "std::thread", "std::time", "tokio", "tracing", "rusqlite", "rustix", "jiff"];
const PURE: [&str; 5] = ["quantity", "battery", "reckoning", "health", "passage"];

fn source() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

/// Every Rust file below `folder` with its text.
fn files(folder: &Path) -> Vec<(PathBuf, String)> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder of the repository") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            let text = std::fs::read_to_string(&path).expect("UTF-8");
            found.push((path, text));
        }
    }
    found
}

fn layer(module: &str) -> Option<usize> {
    LAYERS.iter().position(|layer| layer.contains(&module))
}

/// Modules of this crate that a text names as `crate::module`, comments left out.
fn named(text: &str) -> Vec<String> {
    let code: String = text.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n");
    let mut modules: Vec<String> = code
        .split("crate::")
        .skip(1)
        .filter_map(|rest| {
            let word: String = rest.chars().take_while(|c| c.is_ascii_lowercase() || *c == '_').collect();
            (!word.is_empty()).then_some(word)
        })
        .collect();
    modules.sort();
    modules.dedup();
    modules
}

fn modules() -> BTreeMap<String, Vec<(PathBuf, String)>> {
    let mut by_module = BTreeMap::new();
    for entry in std::fs::read_dir(source()).expect("src") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            let name = path.file_name().and_then(|n| n.to_str()).expect("a name").to_owned();
            by_module.insert(name, files(&path));
        }
    }
    by_module
}

#[test]
fn every_module_has_its_layer() {
    for module in modules().keys() {
        assert!(layer(module).is_some(), "src/{module} is in no layer: give it one here and in src/lib.rs");
    }
}

#[test]
fn no_arrow_runs_back() {
    let mut arrows = 0;
    for (module, files) in modules() {
        let from = layer(&module).expect("checked above");
        for (path, text) in files {
            for target in named(&text) {
                if let Some(to) = layer(&target) {
                    arrows += 1;
                    assert!(to <= from, "{}: {module} uses {target}, which is below it", path.display());
                }
            }
        }
    }
    assert!(arrows > 50, "the check must see the arrows: {arrows}");
}

#[test]
fn the_pure_core_names_no_input_output_or_clock() {
    for (module, files) in modules().into_iter().filter(|(module, _)| PURE.contains(&module.as_str())) {
        for (path, text) in files {
            for line in text.lines().filter(|line| !line.trim_start().starts_with("//")) {
                let named = IMPURE.iter().find(|name| line.contains(&format!("{name}::")));
                assert_eq!(named, None, "{} in {module}: {line}", path.display());
            }
        }
    }
}

#[test]
fn the_page_reads_the_store_and_never_writes_it() {
    for (path, text) in &modules()["http"] {
        assert!(!text.contains("Writer"), "{}: http knows no writer", path.display());
    }
}

#[test]
fn the_simulator_knows_nothing_of_the_program_it_tests() {
    let sim = Path::new(env!("CARGO_MANIFEST_DIR")).join("sim/src");
    for (path, text) in files(&sim) {
        assert!(!text.contains("taffrail::"), "{}", path.display());
    }
}

#[test]
fn files_stay_readable() {
    for (path, text) in modules().into_values().flatten() {
        let lines = text.lines().count();
        let is_test = path.components().any(|part| part.as_os_str() == "tests") || path.ends_with("tests.rs");
        assert!(is_test || lines <= 400, "{}: {lines} lines, split it", path.display());
    }
}
