//! Builds the page from `web/` with npm when its sources changed, so that it can be embedded.

use std::path::Path;
use std::process::Command;

/// What the page is made from.
const SOURCES: [&str; 8] =
    ["index.html", "package.json", "package-lock.json", "plugins", "public", "src", "tsconfig.json", "vite.config.ts"];

fn main() {
    for source in SOURCES {
        println!("cargo:rerun-if-changed=web/{source}");
    }
    println!("cargo:rerun-if-changed=web/dist/index.html");
    if std::env::var_os("CARGO_FEATURE_PAGE").is_none() {
        return;
    }
    let web = Path::new("web");
    if needs_packages(web) {
        npm(web, &["ci", "--no-audit", "--no-fund"]);
    }
    npm(web, &["run", "build"]);
}

/// Whether the packages are missing or older than the lock file.
fn needs_packages(web: &Path) -> bool {
    let modified = |path: &str| std::fs::metadata(web.join(path)).and_then(|m| m.modified()).ok();
    // npm leaves this file when it has installed everything.
    modified("node_modules/.package-lock.json") < modified("package-lock.json")
}

fn npm(web: &Path, arguments: &[&str]) {
    let run = Command::new("npm").args(arguments).current_dir(web).output();
    let help = "the page is built with Node.js 20 or later and npm: install them, or build a daemon without the page by \
                `cargo build --no-default-features`";
    match run {
        Err(error) => panic!("cannot run npm ({error}); {help}"),
        Ok(output) if !output.status.success() => panic!(
            "`npm {}` in web/ failed:\n{}{}\n{help}",
            arguments.join(" "),
            String::from_utf8_lossy(&output.stdout),
            String::from_utf8_lossy(&output.stderr)
        ),
        Ok(_) => {}
    }
}
