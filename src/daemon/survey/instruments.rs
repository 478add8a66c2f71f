//! Which stored series and channels say what of a bank.

use super::Surveying;
use crate::battery::BranchChannel;
use crate::daemon::bank_line::track_spec;
use crate::daemon::reconcile::reconciled_spec;
use crate::health::{Lane, monobloc_place};
use crate::quantity::Channel;
use crate::store::{Reader, Result, SeriesInfo, SeriesKind};

/// A series, and what its channels are beside voltage, current and temperature.
#[derive(Debug, Clone)]
pub struct Instrument {
    pub series: SeriesInfo,
    /// Position of each channel that is of interest.
    pub lanes: Vec<(usize, Lane)>,
}

/// All that is known of a bank by measurement, and its reckoned lines.
#[derive(Debug, Clone)]
pub struct Instruments {
    pub main: Instrument,
    /// Positions of voltage, current and temperature.
    pub places: [Option<usize>; 3],
    /// Other devices with something of interest.
    pub others: Vec<Instrument>,
    pub track: Option<SeriesInfo>,
    pub reconciled: Option<SeriesInfo>,
    pub monoblocs: usize,
    /// Branches with a channel of their own.
    pub branches: usize,
}

impl Instruments {
    /// Looks for them; `None` if nothing is stored of the bank's main device.
    pub fn find(reader: &Reader, work: &Surveying) -> Result<Option<Instruments>> {
        let of_bank: Vec<SeriesInfo> =
            reader.all_series()?.into_iter().filter(|series| series.bank == work.bank.name).collect();
        let named = |name: &str| of_bank.iter().find(|series| series.name == name).cloned();
        let devices = || of_bank.iter().filter(|series| series.kind == SeriesKind::Device.as_str());
        let Some(main) = devices().find(|series| series.name == work.main).cloned() else { return Ok(None) };
        let names = || devices().flat_map(|series| series.channels.iter());
        // Where monoblocs and their cells are both measured, the monoblocs speak.
        let cells = !names().any(|name| monobloc_place(name).is_some_and(|(_, is_cell)| !is_cell));
        let monoblocs = names().filter_map(|name| monobloc_place(name).filter(|(_, is_cell)| *is_cell == cells));
        let monoblocs = monoblocs.map(|(place, _)| place + 1).max().unwrap_or(0);
        let mut taken = Vec::new();
        let mut lanes_of = |series: &SeriesInfo| {
            let mut lanes = Vec::new();
            for (position, name) in series.channels.iter().enumerate() {
                let is_other_kind = monobloc_place(name).is_some_and(|(_, is_cell)| is_cell != cells);
                // Of two channels that say the same the first one speaks.
                let by_name = Lane::of_name(name).filter(|lane| !is_other_kind && !says_the_same(&taken, lane));
                taken.extend(by_name);
                lanes.extend(by_name.map(|lane| (position, lane)));
                lanes.extend(work.branch_lanes(&series.name, name).map(|lane| (position, lane)));
            }
            lanes
        };
        let places = [Channel::VOLTAGE, Channel::CURRENT, Channel::TEMPERATURE]
            .map(|name| main.channels.iter().position(|channel| channel == name));
        let main = Instrument { lanes: lanes_of(&main), series: main };
        let others = devices().filter(|series| series.id != main.series.id);
        let others = others.map(|series| Instrument { series: series.clone(), lanes: lanes_of(series) });
        Ok(Some(Instruments {
            places,
            others: others.filter(|other| !other.lanes.is_empty()).collect(),
            track: named(&track_spec(&work.bank.name).name),
            reconciled: named(&reconciled_spec(&work.bank.name).name),
            monoblocs,
            branches: work.branches.iter().filter(|branch| branch.channel.is_some()).count(),
            main,
        }))
    }
}

fn says_the_same(taken: &[Lane], lane: &Lane) -> bool {
    taken.iter().any(|other| other == lane || matches!((other, lane), (Lane::Speed { .. }, Lane::Speed { .. })))
}

impl Surveying {
    /// The branches whose current a channel is.
    fn branch_lanes(&self, device: &str, channel: &str) -> impl Iterator<Item = Lane> {
        let measured = self.branches.iter().filter_map(|branch| branch.channel.as_ref());
        measured.enumerate().filter_map(move |(place, read)| {
            let BranchChannel { device: of, channel: named, reversed } = read;
            (of == device && named == channel).then_some(Lane::Branch { place, reversed: *reversed })
        })
    }
}
