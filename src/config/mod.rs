//! The configuration: one TOML file, every mistake in it told at once with its line.

mod bank;
mod branch;
mod device;
mod passages;
mod section;
mod show;

use std::fmt;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use jiff::tz::TimeZone;
use toml::de::DeTable;

pub use device::Device;
pub use section::Problem;

use crate::battery::{Bank, Branch};
use crate::http::Pin;
use crate::passage::Rules;
use crate::reckoning::Method;
use section::{Notebook, Section};

/// Where the page is served unless set otherwise: this machine only.
pub const DEFAULT_LISTEN: &str = "127.0.0.1:7245";
/// Folder of the store unless set otherwise, beside the configuration file.
const DEFAULT_DATA_DIR: &str = "taffrail-data";

/// All settings, complete and checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Config {
    /// Name of the boat, for people.
    pub boat: String,
    /// Address of the page.
    pub listen: SocketAddr,
    /// What whoever changes something must know; without one, changes are taken from the machine itself only.
    pub pin: Option<Pin>,
    /// Folder of the store.
    pub data_dir: PathBuf,
    /// Zone of local days and clock labels, by its IANA name.
    pub zone: String,
    /// The banks.
    pub banks: Vec<Bank>,
    /// How each of them is reckoned, in the same order.
    pub methods: Vec<Method>,
    /// What makes a passage of each of them, in the same order.
    pub passages: Vec<Rules>,
    /// The devices.
    pub devices: Vec<Device>,
    /// The branches of all banks, in the order of the file.
    pub branches: Vec<Branch>,
}

/// A configuration that cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The file cannot be read.
    #[error("cannot read the configuration {path}: {cause}")]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// Why not.
        #[source]
        cause: std::io::Error,
    },
    /// The file has mistakes.
    #[error("{}", Mistakes { path, problems })]
    Mistaken {
        /// The file.
        path: PathBuf,
        /// All of them, in the order of the file.
        problems: Vec<Problem>,
    },
}

struct Mistakes<'a> {
    path: &'a Path,
    problems: &'a [Problem],
}

impl fmt::Display for Mistakes<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.problems.iter().enumerate() {
            let end = if index == 0 { "" } else { "\n" };
            write!(f, "{end}{}:{problem}", self.path.display())?;
        }
        Ok(())
    }
}

impl Config {
    /// Reads and checks a file.
    ///
    /// # Errors
    /// [`Error`], with every mistake.
    pub fn load(path: &Path) -> Result<Config, Error> {
        let text = std::fs::read_to_string(path).map_err(|cause| Error::Unreadable { path: path.to_owned(), cause })?;
        let folder = path.parent().unwrap_or(Path::new(""));
        Config::parse(&text, folder).map_err(|problems| Error::Mistaken { path: path.to_owned(), problems })
    }

    /// Reads and checks a text; a relative `data-dir` is taken from `folder`.
    ///
    /// # Errors
    /// Every mistake, in the order of the text.
    pub fn parse(text: &str, folder: &Path) -> Result<Config, Vec<Problem>> {
        let notebook = Notebook::new(text);
        let (document, syntax) = DeTable::parse_recoverable(text);
        for error in &syntax {
            notebook.note(&error.span().unwrap_or(0..0), "", error.message());
        }
        let root = Section::new(document.get_ref(), "", 0..0, &notebook);
        let config = read(root, folder);
        let problems = notebook.into_problems();
        match config {
            Some(config) if problems.is_empty() => Ok(config),
            _ => Err(problems),
        }
    }

    /// The bank of that name.
    #[must_use]
    pub fn bank(&self, name: &str) -> Option<&Bank> {
        self.banks.iter().find(|bank| bank.name == name)
    }

    /// How the bank of that name is reckoned.
    #[must_use]
    pub fn method(&self, name: &str) -> Method {
        self.place(name).and_then(|place| self.methods.get(place)).copied().unwrap_or(bank::DEFAULT_METHOD)
    }

    /// What makes a passage of the bank of that name; `None` where there is no such bank.
    #[must_use]
    pub fn passage_rules(&self, name: &str) -> Option<Rules> {
        self.place(name).and_then(|place| self.passages.get(place)).copied()
    }

    /// The branches of the bank of that name, in the order of the file.
    #[must_use]
    pub fn branches_of(&self, name: &str) -> Vec<Branch> {
        self.branches.iter().filter(|branch| branch.bank == name).cloned().collect()
    }

    fn place(&self, name: &str) -> Option<usize> {
        self.banks.iter().position(|bank| bank.name == name)
    }
}

fn read(root: Section<'_>, folder: &Path) -> Option<Config> {
    let boat = root.text("boat").unwrap_or_else(|| "Unnamed boat".to_owned());
    let listen = read_listen(&root);
    let pin = read_pin(&root);
    let data_dir = root.text("data-dir").unwrap_or_else(|| DEFAULT_DATA_DIR.to_owned());
    let zone = read_zone(&root);
    let declared: Vec<String> = root.tables("bank").iter().filter_map(|section| section.text("name")).collect();
    let (banks, methods, passages) = read_banks(&root);
    let devices = read_devices(&root, &banks, &declared);
    let branches = read_branches(&root, &banks, &declared, &devices);
    root.finish();
    Some(Config {
        boat,
        listen: listen?,
        pin,
        data_dir: folder.join(data_dir),
        zone: zone?,
        banks,
        methods,
        passages,
        devices,
        branches,
    })
}

fn read_listen(root: &Section<'_>) -> Option<SocketAddr> {
    let text = root.text("listen").unwrap_or_else(|| DEFAULT_LISTEN.to_owned());
    let read = text.parse();
    if read.is_err() {
        root.complain("listen", format!("is \"{text}\", expected address:port such as {DEFAULT_LISTEN}"));
    }
    read.ok()
}

fn read_pin(root: &Section<'_>) -> Option<Pin> {
    let read = root.text("pin")?.parse();
    // What is there is not told: it may be nearly the PIN, and this is printed.
    read.map_err(|expected: &str| root.complain("pin", format!("expected {expected}"))).ok()
}

fn read_zone(root: &Section<'_>) -> Option<String> {
    let text = root.text("zone").unwrap_or_else(|| "system".to_owned());
    if text == "system" {
        return Some(TimeZone::system().iana_name().unwrap_or("UTC").to_owned());
    }
    let known = TimeZone::get(&text).is_ok();
    if !known {
        root.complain("zone", format!("is \"{text}\", expected \"system\" or a name such as Europe/Lisbon"));
    }
    known.then_some(text)
}

fn read_banks(root: &Section<'_>) -> (Vec<Bank>, Vec<Method>, Vec<Rules>) {
    let mut banks: Vec<Bank> = Vec::new();
    let (mut methods, mut passages) = (Vec::new(), Vec::new());
    let sections = root.tables("bank");
    if sections.is_empty() {
        root.complain("bank", "is missing, expected at least one [[bank]]");
    }
    for section in sections {
        if let Some((bank, method, rules)) = bank::read(&section) {
            if banks.iter().any(|other| other.name == bank.name) {
                section.complain("name", format!("is \"{}\", as another bank's", bank.name));
            }
            banks.push(bank);
            methods.push(method);
            passages.push(rules);
        }
        section.finish();
    }
    (banks, methods, passages)
}

/// `declared` are the names of all banks of the file, also of those with mistakes.
fn read_devices(root: &Section<'_>, banks: &[Bank], declared: &[String]) -> Vec<Device> {
    let mut devices: Vec<Device> = Vec::new();
    for section in root.tables("device") {
        if let Some(device) = device::read(&section, banks, declared) {
            if devices.iter().any(|other| other.spec.name == device.spec.name) {
                section.complain("name", format!("is \"{}\", as another device's", device.spec.name));
            }
            if devices.iter().any(|other| other.spec.port == device.spec.port) {
                section.complain("port", "is another device's port too");
            }
            if device.is_main() && devices.iter().any(|other| other.is_main() && other.bank == device.bank) {
                section.complain(
                    "bank",
                    format!("bank \"{}\" already has a device with voltage_v and current_a", device.bank),
                );
            }
            devices.push(device);
        }
        section.finish();
    }
    devices
}

fn read_branches(root: &Section<'_>, banks: &[Bank], declared: &[String], devices: &[Device]) -> Vec<Branch> {
    let mut branches: Vec<Branch> = Vec::new();
    for section in root.tables("branch") {
        if let Some(branch) = branch::read(&section, banks, declared, devices) {
            let on_same_bank = || branches.iter().filter(|other| other.bank == branch.bank);
            if on_same_bank().any(|other| other.name == branch.name) {
                section.complain("name", format!("is \"{}\", as another branch's of this bank", branch.name));
            }
            if branch.channel.is_none() && on_same_bank().any(|other| other.channel.is_none()) {
                section.complain("channel", "is missing, as on another branch of this bank: only one can be computed");
            }
            branches.push(branch);
        }
        section.finish();
    }
    branches
}

#[cfg(test)]
mod tests;
