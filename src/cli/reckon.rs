//! `taffrail reckon`: a recorded trace through a method, row by row.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use super::Failure;
use super::trace::Trace;
use crate::battery::Bank;
use crate::config::Config;
use crate::quantity::{Band, Reading};
use crate::reckoning::{Method, Outlook, Reckoned, Reckoner, Span, Start, Traverse, outlook};

/// Arguments of `reckon`.
#[derive(Debug, clap::Args)]
pub struct ReckonArguments {
    /// Configuration file with the bank's description
    #[arg(long, value_name = "FILE")]
    config: PathBuf,
    /// Name of the bank in the configuration
    #[arg(long, value_name = "NAME")]
    bank: String,
    /// How to reckon: filter (what the page shows), or counter (coulomb counting with Peukert and temperature correction)
    #[arg(long, default_value = "filter")]
    method: Method,
    /// What is known of the charge at the first row: full, unknown, or a ratio such as 0.80
    #[arg(long, default_value = "unknown")]
    start: Start,
    /// Reconcile soc, `soc_low` and `soc_high` backwards: each run up to a fix, and what follows the last one up to the
    /// end, is reckoned again with all that was learned in it. The other columns stay as reckoned at the time. Rows
    /// come out run by run
    #[arg(long)]
    smooth: bool,
    /// Where to write the result; standard output if not given
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// CSV with the columns `t_s,voltage_v,current_a,temperature_c`; others are ignored
    #[arg(value_name = "TRACE.csv")]
    trace: PathBuf,
}

const HEADER: &str = "t_s,soc,soc_low,soc_high,capacity_ah,capacity_low_ah,capacity_high_ah,\
                      endurance_s,endurance_low_s,endurance_high_s";

/// Runs the command.
pub fn reckon(arguments: &ReckonArguments) -> Result<(), Failure> {
    let (_, bank) = load_bank(&arguments.config, &arguments.bank)?;
    let mut trace = Trace::open(&arguments.trace).map_err(Failure::input)?;
    let reckoner = Reckoner::begin(arguments.method, bank.clone(), arguments.start);
    let mut rows = if arguments.smooth { Rows::Reconciled(Traverse::begin(reckoner)) } else { Rows::Live(reckoner) };
    let mut out = open_out(arguments.out.as_deref())?;
    let mut written = writeln!(out, "{HEADER}");
    while written.is_ok() {
        let Some(reading) = trace.next_reading().map_err(Failure::input)? else {
            written = rows.finish(&bank, &mut out).and_then(|()| out.flush());
            break;
        };
        written = rows.take(&bank, &reading, &mut out);
    }
    match written {
        // Whoever read our output has had enough.
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        written => written.map_err(|error| Failure::machine("cannot write the result", &error)),
    }
}

/// What becomes rows, and when.
enum Rows {
    /// Each reading at once.
    Live(Reckoner),
    /// Each run when the fix at its end is known; marked by time, s.
    Reconciled(Traverse<f64>),
}

impl Rows {
    fn take(&mut self, bank: &Bank, reading: &Reading, out: &mut impl Write) -> io::Result<()> {
        match self {
            Rows::Live(reckoner) => {
                reckoner.step(reading);
                let state = reckoner.report();
                write_row(out, bank, reading.t_s, &state, (state.soc, state.soc_band))
            }
            Rows::Reconciled(traverse) => {
                let fix = traverse.step(reading);
                traverse.mark(reading.t_s);
                if fix.is_some() { write_run(out, bank, traverse) } else { Ok(()) }
            }
        }
    }

    /// The rows of what follows the last fix.
    fn finish(&mut self, bank: &Bank, out: &mut impl Write) -> io::Result<()> {
        match self {
            Rows::Live(_) => Ok(()),
            Rows::Reconciled(traverse) => write_run(out, bank, traverse),
        }
    }
}

fn write_run(out: &mut impl Write, bank: &Bank, traverse: &mut Traverse<f64>) -> io::Result<()> {
    traverse.close().iter().try_for_each(|row| write_row(out, bank, row.key, &row.live, (row.soc, row.band)))
}

/// A configuration and one of its banks; a mistake anywhere in it is bad input.
pub fn load_bank(path: &Path, name: &str) -> Result<(Config, Bank), Failure> {
    let config = Config::load(path).map_err(Failure::input)?;
    let Some(bank) = config.bank(name).cloned() else {
        let names: Vec<_> = config.banks.iter().map(|bank| bank.name.as_str()).collect();
        let text = format!("{}: no bank is named \"{name}\", expected one of: {}", path.display(), names.join(", "));
        return Err(Failure::input(text));
    };
    Ok((config, bank))
}

fn open_out(path: Option<&Path>) -> Result<Box<dyn Write>, Failure> {
    Ok(match path {
        None => Box::new(BufWriter::new(io::stdout())),
        Some(path) => {
            let file =
                File::create(path).map_err(|e| Failure::machine(format!("cannot write {}", path.display()), &e))?;
            Box::new(BufWriter::new(file))
        }
    })
}

fn write_row(
    out: &mut impl Write,
    bank: &Bank,
    t_s: f64,
    state: &Reckoned,
    (soc, band): (f64, Band),
) -> io::Result<()> {
    write!(out, "{t_s},{soc:.6},{:.6},{:.6}", band.low, band.high)?;
    let capacity = state.capacity_band_ah;
    write!(out, ",{:.3},{:.3},{:.3}", state.capacity_ah, capacity.low, capacity.high)?;
    match outlook(bank, state) {
        Outlook::Falling(lasts) => {
            let Span { likely_s, low_s, high_s } = lasts.empty;
            writeln!(out, ",{likely_s:.0},{low_s:.0},{high_s:.0}")
        }
        Outlook::Rest | Outlook::Rising(_) => writeln!(out, ",,,"),
    }
}
