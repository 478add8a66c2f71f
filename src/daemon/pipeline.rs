//! From samples as they arrive to the store, the reckoning and the page.

use std::collections::HashMap;
use std::sync::Arc;

use tokio::sync::{Notify, mpsc};

use super::bank_line::{BankLine, Taken};
use super::notices::Notices;
use super::sink::Sink;
use crate::clock::ClockState;
use crate::http::{Live, LiveReading, Order, OrderKind, Ordered};
use crate::link::DeviceSample;
use crate::quantity::Sample;
use crate::store::{SeriesId, WriterHandle};

/// Takes samples one by one.
pub struct Pipeline {
    /// Line of the bank whose main device has this name.
    line_of: HashMap<String, usize>,
    parts: Parts,
}

/// What a pipeline works with.
pub struct Parts {
    pub lines: Vec<BankLine>,
    /// Series of each device by its name.
    pub series: HashMap<String, SeriesId>,
    pub store: WriterHandle,
    pub live: Arc<Live>,
    pub clock: ClockState,
    pub notices: Notices,
    /// Told of each fix.
    pub fixed: Arc<Notify>,
}

impl Pipeline {
    /// A pipeline for these banks and devices.
    pub fn new(parts: Parts) -> Pipeline {
        let main = parts.live.devices.iter().filter(|device| device.main);
        let line_of = main
            .filter_map(|device| {
                let line = parts.lines.iter().position(|line| line.bank().name == device.bank)?;
                Some((device.name.clone(), line))
            })
            .collect();
        Pipeline { line_of, parts }
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
        for line in &mut self.parts.lines {
            let _ = line.save(&mut self.parts.store);
        }
    }

    /// What the store cannot take is counted there and shown on the page; the reckoning goes on.
    fn take(&mut self, device: &str, sample: Sample) {
        let Parts { lines, series, store, live, clock, notices, fixed } = &mut self.parts;
        live.hear(device, LiveReading { mono: sample.at.mono, values: sample.values.clone() });
        let Some(&index) = self.line_of.get(device) else {
            if let Some(&series) = series.get(device) {
                let _ = store.sample(series, &sample);
            }
            return;
        };
        let utc = clock.utc(sample.at.mono);
        let line = &mut lines[index];
        let Taken { fix, event } = line.take(&sample, utc, store).unwrap_or_default();
        if let Some(fix) = fix {
            tracing::info!(bank = %line.bank().name, kind = fix.kind.word(), before = fix.before.soc, "fix");
            fixed.notify_one();
        }
        if let Some(event) = event {
            tracing::warn!(bank = %line.bank().name, kind = event.kind, "the readings contradict the configuration");
            notices.show(&event);
        }
        let reading = LiveReading { mono: sample.at.mono, values: sample.values };
        live.publish(index, line.live(Some(reading)));
    }

    /// Does what somebody aboard asks, shows the state after it, and answers.
    fn obey(&mut self, order: Order) {
        let Parts { lines, store, live, clock, notices, fixed, .. } = &mut self.parts;
        let Some(line) = lines.get_mut(order.bank) else { return };
        let done = match order.kind {
            OrderKind::Fix { soc, std_dev } => {
                line.fix_by_hand(soc, std_dev, clock.utc(live.clock.mono()), store).inspect(|_| fixed.notify_one())
            }
            OrderKind::Zero => line.zero_by_hand(store).map(|event| {
                notices.show(&event);
                event.text
            }),
        };
        tracing::info!(bank = %line.bank().name, order = ?order.kind, ?done, "hand order");
        if done.is_ok() {
            let reading = live.latest(order.bank).reading.clone();
            live.publish(order.bank, line.live(reading));
        }
        // Whoever asked may have gone meanwhile.
        let _ = order.reply.send(done.map(|text| Ordered { text }));
    }
}
