//! `taffrail reckon`: a recorded trace through a method, row by row.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use super::Failure;
use super::trace::Trace;
use crate::battery::Bank;
use crate::config::Config;
use crate::reckoning::{Method, Outlook, Reckoner, Span, Start, outlook};

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
    let mut reckoner = Reckoner::begin(arguments.method, bank, arguments.start);
    let mut out = open_out(arguments.out.as_deref())?;
    let mut written = writeln!(out, "{HEADER}");
    while written.is_ok() {
        let Some(reading) = trace.next_reading().map_err(Failure::input)? else {
            written = out.flush();
            break;
        };
        reckoner.step(&reading);
        written = write_row(&mut out, reading.t_s, &reckoner);
    }
    match written {
        // Whoever read our output has had enough.
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        written => written.map_err(|error| Failure::machine("cannot write the result", &error)),
    }
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

fn write_row(out: &mut impl Write, t_s: f64, reckoner: &Reckoner) -> io::Result<()> {
    let state = reckoner.report();
    write!(out, "{t_s},{:.6},{:.6},{:.6}", state.soc, state.soc_band.low, state.soc_band.high)?;
    let capacity = state.capacity_band_ah;
    write!(out, ",{:.3},{:.3},{:.3}", state.capacity_ah, capacity.low, capacity.high)?;
    match outlook(reckoner.bank(), &state) {
        Outlook::Falling(lasts) => {
            let Span { likely_s, low_s, high_s } = lasts.empty;
            writeln!(out, ",{likely_s:.0},{low_s:.0},{high_s:.0}")
        }
        Outlook::Rest | Outlook::Rising(_) => writeln!(out, ",,,"),
    }
}
