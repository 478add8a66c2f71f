//! `taffrail test`: a capacity test, step by step. taffrail switches nothing: people do, and this says when.

use std::fmt::Write as _;
use std::path::PathBuf;

use serde_json::json;

use super::Failure;
use super::change::{Pen, Verb, pen, writer};
use super::paper::{number, percent, print, print_json, wrapped};
use super::when::LocalTimes;
use super::which::{DEFAULT_CONFIG, check_there, zone_of};
use crate::battery::{Bank, Branch, Family};
use crate::config::Config;
use crate::daemon::{DataDir, store_path};
use crate::health::{Aboard, TestBody, rated_hours};
use crate::review::record::{TestView, TrialView, trial};
use crate::store::{Reader, TestState};

/// Arguments of `test`.
#[derive(Debug, clap::Args)]
pub struct TestArguments {
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Check what must be so, start a test, and say what to do
    Start(StartArguments),
    /// Tell how the test stands, what it takes to start one, and what past ones found
    Status(StatusArguments),
    /// Stop the test that is running; it has no result then
    Stop(StopArguments),
}

/// Whose test.
#[derive(Debug, clap::Args)]
struct Of {
    /// Configuration file of the daemon
    #[arg(long, value_name = "FILE", default_value = DEFAULT_CONFIG)]
    config: PathBuf,
    /// The bank; it need not be named where there is only one
    #[arg(long, value_name = "NAME")]
    bank: Option<String>,
}

#[derive(Debug, clap::Args)]
struct StartArguments {
    #[command(flatten)]
    of: Of,
    /// The constant load that will be switched on, A
    #[arg(long, value_name = "AMPERES")]
    load: f64,
    /// Bank voltage at which the test ends, V; that of the chemistry if not given
    #[arg(long, value_name = "VOLTS")]
    cut_off: Option<f64>,
    /// Start although something that must be so is not; the result says so
    #[arg(long)]
    anyway: bool,
}

#[derive(Debug, clap::Args)]
struct StatusArguments {
    #[command(flatten)]
    of: Of,
    /// Print one JSON object instead of text
    #[arg(long)]
    json: bool,
}

#[derive(Debug, clap::Args)]
struct StopArguments {
    #[command(flatten)]
    of: Of,
}

/// Said before anybody switches on a load.
const CAUTION: &str = "Mind: high-current DC can burn and kill; have the load, its cables and fuses sized and checked by \
    somebody who knows. Stay with the test until it has ended, and keep a hand near the switch: taffrail only watches and \
    protects nothing. Charge the bank at once afterwards.";
/// Said of lead too.
const HYDROGEN: &str =
    "Lead gives off hydrogen when it is charged before and after: air the space, no sparks, no flames.";
/// Said of lithium too.
const CUT_OFF: &str =
    "Lithium cells are damaged below their cut-off: the management system must be able to open the circuit.";

/// Runs the command.
pub fn test(arguments: &TestArguments) -> Result<(), Failure> {
    match &arguments.action {
        Action::Start(arguments) => start(arguments),
        Action::Status(arguments) => status(arguments),
        Action::Stop(arguments) => stop(&arguments.of),
    }
}

/// A bank with its configuration.
struct Tested {
    config: Config,
    bank: Bank,
    branches: Vec<Branch>,
    times: LocalTimes,
}

impl Of {
    fn load(&self) -> Result<Tested, Failure> {
        let config = Config::load(&self.config).map_err(|error| Failure::config(&error))?;
        check_there(&store_path(&config.data_dir))?;
        let names: Vec<&str> = config.banks.iter().map(|bank| bank.name.as_str()).collect();
        let bank = match (&self.bank, &config.banks[..]) {
            (None, [only]) => Some(only),
            (None, _) => None,
            (Some(name), _) => config.bank(name),
        };
        let expected = || Failure::input(format!("--bank: expected one of: {}", names.join(", ")));
        let bank = bank.cloned().ok_or_else(expected)?;
        let branches = config.branches.iter().filter(|branch| branch.bank == bank.name).cloned().collect();
        let times = LocalTimes::of(zone_of(&config));
        Ok(Tested { config, bank, branches, times })
    }
}

impl Tested {
    fn reader(&self) -> Result<Reader, Failure> {
        Reader::open(&store_path(&self.config.data_dir)).map_err(|error| Failure::daemon(&error))
    }

    fn trial(&self) -> Result<TrialView, Failure> {
        let aboard = Aboard { bank: &self.bank, branches: &self.branches };
        trial(&self.reader()?, &aboard).map_err(|error| Failure::daemon(&error))
    }

    fn path(&self) -> String {
        format!("banks/{}/test", self.bank.name)
    }
}

fn start(arguments: &StartArguments) -> Result<(), Failure> {
    let tested = arguments.of.load()?;
    if !(arguments.load.is_finite() && arguments.load > 0.0) {
        return Err(Failure::input("--load: expected the amperes of a load, such as 6.0"));
    }
    let Pen::Daemon(daemon) = pen(&tested.config)? else {
        return Err(Failure::unavailable(
            "no daemon works on the data folder: start it first, for it is the one that reads the samples of a test"
                .to_owned(),
        ));
    };
    let bank = &tested.bank;
    let hours = rated_hours(bank, arguments.load);
    let mut out = wrapped(CAUTION, 0);
    out.push_str(&wrapped(if bank.chemistry.family() == Family::Lead { HYDROGEN } else { CUT_OFF }, 0));
    out.push('\n');
    out.push_str(&conditions(&tested.trial()?));
    print(&out)?;
    let wish = json!({
        "action": "start", "load_a": arguments.load, "cut_off_v": arguments.cut_off, "anyway": arguments.anyway,
    });
    let answer = daemon.ask(Verb::Post, &tested.path(), &wish)?;
    let mut out = String::from("\n");
    out.push_str(&wrapped(answer["text"].as_str().unwrap_or("The test is started."), 0));
    let by = format!("By the rating this load lasts about {hours:.1} h. `taffrail test status` tells how it stands.");
    out.push_str(&wrapped(&by, 0));
    print(&out)
}

fn status(arguments: &StatusArguments) -> Result<(), Failure> {
    let tested = arguments.of.load()?;
    let view = tested.trial()?;
    if arguments.json { print_json(&view) } else { print(&text(&tested, &view)) }
}

fn stop(of: &Of) -> Result<(), Failure> {
    let tested = of.load()?;
    let text = match pen(&tested.config)? {
        Pen::Daemon(daemon) => {
            let answer = daemon.ask(Verb::Post, &tested.path(), &json!({"action": "stop"}))?;
            answer["text"].as_str().unwrap_or("The test is stopped.").to_owned()
        }
        Pen::Ours(data_dir) => stop_here(&tested, &data_dir)?,
    };
    print(&wrapped(&text, 0))
}

/// Stops a test that a daemon left running when it ended.
fn stop_here(tested: &Tested, data_dir: &DataDir) -> Result<String, Failure> {
    let tests = tested.reader()?.tests(&tested.bank.name).map_err(|error| Failure::daemon(&error))?;
    let Some(running) = tests.into_iter().find(|test| test.state == TestState::Running) else {
        return Err(Failure::input(format!("no capacity test of bank \"{}\" is running", tested.bank.name)));
    };
    let mut body: TestBody = serde_json::from_str(&running.body).map_err(|error| Failure::daemon(&error))?;
    body.stop();
    let kept = serde_json::to_string(&body).map_err(|error| Failure::daemon(&error))?;
    let mut writer = writer(data_dir)?;
    let changed = writer.change_test(running.id, TestState::Stopped, &kept).map_err(|error| Failure::daemon(&error));
    let closed = writer.close().map_err(|error| Failure::daemon(&error));
    changed?;
    closed?;
    Ok(body.words.last().cloned().unwrap_or_else(|| "The test is stopped.".to_owned()))
}

fn conditions(view: &TrialView) -> String {
    let mut out = String::new();
    for one in &view.preconditions {
        let mark = match (one.met, one.needed) {
            (true, _) => "yes",
            (false, true) => "no ",
            (false, false) => "but",
        };
        out.push_str(&wrapped(&format!("{mark}  {}", one.text), 2));
    }
    out
}

fn text(tested: &Tested, view: &TrialView) -> String {
    let mut out = format!("{}: capacity test, times of {}\n", tested.bank.name, tested.times.zone_name());
    match &view.running {
        Some(running) => {
            out.push_str("\nRunning\n");
            out.push_str(&one(running, &tested.times));
            let volts = (number(running.voltage_v, 2), number(running.cut_off_v, 2));
            let _ = writeln!(out, "  {} V now, ends at {} V", volts.0, volts.1);
        }
        None => {
            out.push_str("\nNone is running. Before one is started:\n");
            let told = conditions(view);
            out.push_str(if told.is_empty() { "  nothing is stored of this bank yet\n" } else { &told });
        }
    }
    if !view.past.is_empty() {
        out.push_str("\nPast\n");
        view.past.iter().for_each(|test| out.push_str(&one(test, &tested.times)));
    }
    out.push_str("\nNext\n");
    if let Some(due) = &view.due.time {
        let _ = writeln!(out, "  {}", tested.times.day(Some(due)));
    }
    out + &wrapped(&view.due.text, 2)
}

fn one(test: &TestView, times: &LocalTimes) -> String {
    let capacity = test.capacity.map(|capacity| capacity.value);
    let mut out = wrapped(
        &format!(
            "{}  {}: {} A for {} h, {} Ah, {} of the rating{}",
            times.minute(test.start.as_deref()),
            test.state,
            number(test.load_a, 1),
            number(test.hours, 1),
            number(test.charge_ah, 1),
            percent(capacity),
            test.verdict.as_ref().map_or_else(String::new, |verdict| format!(", {verdict}")),
        ),
        2,
    );
    out.push_str(&wrapped(&test.text, 4));
    out
}
