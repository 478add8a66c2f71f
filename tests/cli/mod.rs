//! The commands as a person types them: what they print, and how they end.

mod backup;
mod check;
mod events;
mod health;
mod import;
mod info;
mod passages;
mod reckon;
mod rereckon;
mod restore;
mod verify;

use std::path::PathBuf;
use std::process::Output;

/// A folder with a configuration in it.
struct Desk {
    dir: tempfile::TempDir,
}

/// The house bank of the motor-sailer Marigold.
const BANK: &str = r#"
data-dir = "data"

[[bank]]
name = "house"
chemistry = "lead-carbon"
cells-in-series = 24
rated-capacity-ah = 120.0
rated-hours = 20.0
peukert-exponent = 1.08
reserve = 0.30
sensor-gain-error = 0.005
sensor-offset-a = 0.05
"#;

const SHUNT: &str = r#"
[[device]]
name = "shunt"
bank = "house"
port = "shunt-port"
baud = 19200
frame = "json-lines"
"#;

/// An hour of a steady load, sampled each ten minutes.
const STEADY_LOAD: &str = "t_s,voltage_v,current_a,temperature_c\n\
    0,51.2,-6,20\n600,51.1,-6,20\n1200,51.1,-6,20\n1800,51.0,-6,20\n2400,51.0,-6,20\n3000,50.9,-6,20\n3600,50.9,-6,20\n";

impl Desk {
    fn new() -> Desk {
        let desk = Desk { dir: tempfile::tempdir().expect("a scratch directory") };
        desk.write("taffrail.toml", BANK);
        desk
    }

    /// A desk whose configuration also has a shunt at this port.
    fn with_shunt(port: &std::path::Path) -> Desk {
        let desk = Desk::new();
        let shunt = SHUNT.replace("shunt-port", port.to_str().expect("text"));
        desk.write("taffrail.toml", &format!("{BANK}{shunt}"));
        desk
    }

    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path(name), text).expect("a writable scratch directory");
    }

    /// Runs a command in the folder.
    fn run(&self, arguments: &[&str]) -> Output {
        assert_cmd::Command::new(env!("CARGO_BIN_EXE_taffrail"))
            .current_dir(self.dir.path())
            .args(arguments)
            .timeout(std::time::Duration::from_secs(30))
            .output()
            .expect("the program starts")
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("text")
}

#[test]
fn every_command_explains_itself() {
    let desk = Desk::new();
    let all = desk.run(&["--help"]);
    assert!(all.status.success());
    let commands = [
        "run", "check", "demo", "reckon", "import", "rereckon", "verify", "backup", "restore", "info", "passages",
        "health", "events", "test",
    ];
    for command in commands {
        assert!(text(&all.stdout).contains(command), "{command} is in the list");
        let help = desk.run(&[command, "--help"]);
        assert_eq!(help.status.code(), Some(0), "{command}");
        let told = text(&help.stdout);
        assert!(told.contains(&format!("Usage: taffrail {command}")), "{told}");
        assert!(help.stderr.is_empty(), "{command}: {}", text(&help.stderr));
    }
}

#[test]
fn an_unknown_command_is_a_mistake_of_usage() {
    assert_eq!(Desk::new().run(&["sail"]).status.code(), Some(2));
}
