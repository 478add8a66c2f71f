//! From samples as they arrive to the store, the reckoning and the page.

use std::collections::HashMap;
use std::sync::Arc;

use tokio::sync::mpsc;

use super::bank_line::{BankLine, Sink};
use super::clock_task::ClockState;
use crate::http::{Live, LiveReading};
use crate::link::DeviceSample;
use crate::quantity::Sample;
use crate::store::{SeriesId, WriterHandle};

/// Takes samples one by one.
pub struct Pipeline {
    lines: Vec<BankLine>,
    series: HashMap<String, SeriesId>,
    /// Line of the bank whose main device has this name.
    line_of: HashMap<String, usize>,
    store: WriterHandle,
    live: Arc<Live>,
    clock: ClockState,
}

impl Pipeline {
    /// A pipeline for these banks and devices.
    pub fn new(
        lines: Vec<BankLine>,
        series: HashMap<String, SeriesId>,
        store: WriterHandle,
        live: Arc<Live>,
        clock: ClockState,
    ) -> Pipeline {
        let main = live.devices.iter().filter(|device| device.main);
        let line_of = main
            .filter_map(|device| {
                let line = lines.iter().position(|line| line.bank().name == device.bank)?;
                Some((device.name.clone(), line))
            })
            .collect();
        Pipeline { lines, series, line_of, store, live, clock }
    }

    /// Takes samples until no device is left to send any, then saves each bank's state.
    pub async fn run(mut self, mut arriving: mpsc::Receiver<DeviceSample>) {
        while let Some(DeviceSample { device, sample }) = arriving.recv().await {
            self.take(&device, sample);
        }
        for line in &mut self.lines {
            let _ = line.save(&mut self.store);
        }
    }

    /// What the store cannot take is counted there and shown on the page; the reckoning goes on.
    fn take(&mut self, device: &str, sample: Sample) {
        let Some(&index) = self.line_of.get(device) else {
            if let Some(&series) = self.series.get(device) {
                let _ = self.store.sample(series, &sample);
            }
            return;
        };
        let utc = self.clock.utc(sample.at.mono);
        let line = &mut self.lines[index];
        if let Ok(Some(fix)) = line.take(&sample, utc, &mut self.store) {
            tracing::info!(bank = %line.bank().name, kind = fix.kind.word(), before = fix.before.soc, "fix");
        }
        let trusted = self.clock.is_trusted();
        let reading = LiveReading { mono: sample.at.mono, utc, trusted, values: sample.values };
        self.live.publish(index, line.live(Some(reading)));
    }
}
