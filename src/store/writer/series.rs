//! A series as the writer sees it: how it is laid out, its open block, and where its next interval starts.

use super::pending::Pending;
use crate::quantity::{BootNo, Channel, Unit};
use crate::store::block::{Block, Layout};
use crate::store::common;
use crate::store::error::{Error, Result};
use crate::store::record::{SeriesId, SeriesSpec};
use crate::store::summary::Carry;

/// Values beyond this are no measurement; leaving them out keeps every sum finite.
pub(super) const LARGEST: f64 = 1e30;

#[derive(Debug)]
pub(super) struct SeriesState {
    pub(super) name: String,
    pub(super) layout: Layout,
    /// Position of each channel of the spec.
    pub(super) order: Vec<usize>,
    pub(super) boot: Option<BootNo>,
    pub(super) block: Block,
    pub(super) carry: Vec<Carry>,
    pub(super) last_ms: Option<i64>,
}

impl Default for SeriesState {
    fn default() -> Self {
        SeriesState {
            name: String::new(),
            layout: layout_of(&[], 0),
            order: Vec::new(),
            boot: None,
            block: Block::default(),
            carry: vec![None],
            last_ms: None,
        }
    }
}

impl SeriesState {
    pub(super) fn adopt(&mut self, name: &str, layout: Layout, order: Vec<usize>) {
        name.clone_into(&mut self.name);
        self.block.widen(layout.units.len());
        self.carry.resize(layout.units.len() + 1, None);
        self.layout = layout;
        self.order = order;
    }

    pub(super) fn push(&mut self, time_ms: i64, values: &[Option<f64>]) {
        let columns = &mut self.block.columns;
        columns.time_ms.push(time_ms);
        for (&position, value) in self.order.iter().zip(values) {
            let value = value.filter(|v| v.abs() <= LARGEST);
            columns.channels[position].push(value.map_or(f64::NAN, |v| v + 0.0));
        }
        if self.order.len() < columns.channels.len() {
            let rows = columns.time_ms.len();
            for column in &mut columns.channels {
                column.resize(rows, f64::NAN);
            }
        }
        self.last_ms = Some(time_ms);
    }

    /// Moves the open block, if it holds anything, to what waits for the next commit.
    pub(super) fn close_into(&mut self, id: SeriesId, pending: &mut Pending) {
        let block = std::mem::take(&mut self.block);
        self.block.widen(self.layout.units.len());
        if let (Some(boot), Some(closed)) = (self.boot, block.close(&self.layout, &mut self.carry)) {
            pending.closed.push_back((id, boot, closed));
        }
    }
}

pub(in crate::store) fn layout_of(channels: &[String], gap_ms: i64) -> Layout {
    let place = |wanted: &str| channels.iter().position(|name| name == wanted);
    let own_power = place(common::POWER_NAME).is_some();
    Layout {
        units: channels.iter().map(|name| Unit::of_name(name)).collect(),
        power_from: place(Channel::VOLTAGE).zip(place(Channel::CURRENT)).filter(|_| !own_power),
        gap_ms,
    }
}

pub(super) fn refuse_doubles(spec: &SeriesSpec) -> Result<()> {
    if spec.channels.is_empty() {
        return Err(refused(spec, "it has no channels"));
    }
    for (place, channel) in spec.channels.iter().enumerate() {
        if spec.channels[..place].contains(channel) {
            return Err(refused(spec, &format!("it has channel \"{channel}\" twice")));
        }
    }
    Ok(())
}

pub(super) fn refused(spec: &SeriesSpec, cause: &str) -> Error {
    Error::SeriesRefused { series: spec.name.clone(), cause: cause.to_owned() }
}
