//! From samples as they arrive to the store, the reckoning and the page.

use std::collections::HashMap;
use std::sync::Arc;

use tokio::sync::mpsc;

use super::bank_line::{BankLine, Taken};
use super::clock_task::ClockState;
use super::notices::Notices;
use super::sink::Sink;
use crate::http::{Live, LiveReading, Order, OrderKind, Ordered};
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
    notices: Notices,
}

impl Pipeline {
    /// A pipeline for these banks and devices.
    pub fn new(
        lines: Vec<BankLine>,
        series: HashMap<String, SeriesId>,
        store: WriterHandle,
        live: Arc<Live>,
        clock: ClockState,
        notices: Notices,
    ) -> Pipeline {
        let main = live.devices.iter().filter(|device| device.main);
        let line_of = main
            .filter_map(|device| {
                let line = lines.iter().position(|line| line.bank().name == device.bank)?;
                Some((device.name.clone(), line))
            })
            .collect();
        Pipeline { lines, series, line_of, store, live, clock, notices }
    }

    /// Takes samples and hand orders until no device is left to send any, then saves each bank's state.
    pub async fn run(mut self, mut arriving: mpsc::Receiver<DeviceSample>, mut orders: mpsc::Receiver<Order>) {
        loop {
            tokio::select! {
                arrived = arriving.recv() => match arrived {
                    Some(DeviceSample { device, sample }) => self.take(&device, sample),
                    None => break,
                },
                Some(order) = orders.recv() => self.obey(order),
            }
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
        let Taken { fix, event } = line.take(&sample, utc, &mut self.store).unwrap_or_default();
        if let Some(fix) = fix {
            tracing::info!(bank = %line.bank().name, kind = fix.kind.word(), before = fix.before.soc, "fix");
        }
        if let Some(event) = event {
            tracing::warn!(bank = %line.bank().name, kind = event.kind, "the readings contradict the configuration");
            self.notices.show(&event);
        }
        let trusted = self.clock.is_trusted();
        let reading = LiveReading { mono: sample.at.mono, utc, trusted, values: sample.values };
        self.live.publish(index, line.live(Some(reading)));
    }
    /// Does what somebody aboard asks, shows the state after it, and answers.
    fn obey(&mut self, order: Order) {
        let Some(line) = self.lines.get_mut(order.bank) else { return };
        let done = match order.kind {
            OrderKind::Fix { soc, std_dev } => {
                let utc = self.clock.utc(self.live.clock.mono());
                line.fix_by_hand(soc, std_dev, utc, &mut self.store)
            }
            OrderKind::Zero => line.zero_by_hand(&mut self.store).map(|event| {
                self.notices.show(&event);
                event.text
            }),
        };
        tracing::info!(bank = %line.bank().name, order = ?order.kind, ?done, "hand order");
        if done.is_ok() {
            let reading = self.live.latest(order.bank).reading.clone();
            self.live.publish(order.bank, line.live(reading));
        }
        // Whoever asked may have gone meanwhile.
        let _ = order.reply.send(done.map(|text| Ordered { text }));
    }
}
