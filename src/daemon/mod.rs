//! The daemon: wiring of devices, reckoning, store and page, from start to orderly stop.

mod bank_line;
mod clock_task;
mod notices;
mod pipeline;
mod places;
mod prepare;
mod reconcile;
mod records;
mod rereckon;
mod saved;
mod sink;
mod stand_in;
mod store_watch;
mod survey;
mod take_up;

use std::io::IsTerminal;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};
use tokio::sync::{Notify, mpsc, watch};
use tokio::task::JoinSet;
use tokio_util::sync::CancellationToken;

pub use bank_line::{BankLine, SAVE_PAST_EVERY_MS, Taken, track_spec};
pub use prepare::{DataDir, device_series};
pub use reconcile::{Reconciling, catch_up, reconciled_spec};
pub use rereckon::{Ended, Progress, Report, Rereckoning, SAMPLES_PER_COMMIT, Standing, Unread, Watch, Wish, rereckon};
pub use sink::Sink;
pub use survey::{Looked, Shelf, Surveyed, Surveying, start_test, stop_test, survey};

use crate::clock::Clock;
use crate::config::Config;
use crate::http;
use crate::link;
use crate::store::{self, StoreStatus, WriterHandle};
use survey::task::Parts;

/// Samples between the devices and the pipeline: minutes at 1 Hz.
const SAMPLES_AHEAD: usize = 256;
/// Hand orders between the page and the pipeline.
const ORDERS_AHEAD: usize = 16;

/// Why the daemon cannot start or go on.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A bank has no main sensor.
    #[error("bank \"{0}\" has no device with voltage_v and current_a; add a [[device]] with bank = \"{0}\"")]
    NoMainDevice(String),
    /// The folder of the store cannot be used.
    #[error("the data folder {path} cannot be used: {cause}")]
    DataDir {
        /// The folder.
        path: PathBuf,
        /// Why not.
        #[source]
        cause: std::io::Error,
    },
    /// Another daemon works on the same folder.
    #[error("another taffrail works on {0}; stop it first, or name another data-dir")]
    InUse(PathBuf),
    /// The store.
    #[error(transparent)]
    Store(#[from] store::Error),
    /// A restore that was cut off.
    #[error("a restore was cut off and cannot be finished: {0}; nothing is lost, put that right and start again")]
    Copy(#[from] store::CopyError),
    /// The address of the page.
    #[error("cannot listen on {address}: {cause}; set listen to a free address")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// Why not.
        #[source]
        cause: std::io::Error,
    },
    /// The operating system refused something that every daemon needs.
    #[error("{what}: {cause}")]
    System {
        /// What was wanted.
        what: &'static str,
        /// Why not.
        #[source]
        cause: std::io::Error,
    },
}

/// Runs on the computer's own clock until SIGINT or SIGTERM.
///
/// # Errors
/// [`Error`] if it cannot start; trouble with devices or the card afterwards is a state, not an end.
pub fn run_to_end(config: &Config) -> Result<(), Error> {
    let data_dir = DataDir::claim(&config.data_dir)?;
    run_on(config, &Clock::system(), &data_dir, |_| {})
}

/// As [`run_to_end`], with a clock and a claimed folder; `ready` is told the address once the page is served.
///
/// # Errors
/// As [`run_to_end`].
pub fn run_on(config: &Config, clock: &Clock, data_dir: &DataDir, ready: impl FnOnce(SocketAddr)) -> Result<(), Error> {
    start_log();
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|cause| Error::System { what: "cannot start the runtime", cause })?;
    runtime.block_on(async {
        let mut ready = Some(ready);
        let mut address = config.listen;
        // A store that stood in gives way to the one on the card by an orderly stop and a new start.
        while run(config, clock, data_dir, &mut address, &mut ready).await? == End::CardIsBack {}
        Ok(())
    })
}

/// Why a run has ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    Stopped,
    CardIsBack,
}

async fn run(
    config: &Config,
    clock: &Clock,
    data_dir: &DataDir,
    address: &mut SocketAddr,
    ready: &mut Option<impl FnOnce(SocketAddr)>,
) -> Result<End, Error> {
    let stop = CancellationToken::new();
    stop_on_signals(&stop)?;
    let listener = listen(*address).await?;
    *address = listener.local_addr().unwrap_or(*address);

    let (prepared, away) = stand_in::prepare_somewhere(config, clock, &data_dir.store_path())?;
    let store_path = away.as_ref().map_or_else(|| data_dir.store_path(), |away| away.stand_in.store_path());
    http::forget_copy(&store_path);
    let (store, store_thread) = store::spawn(prepared.writer, clock.clone(), store::Pace::LIVE)?;
    let (clock_state, clock_task) = clock_task::start(clock, prepared.boot, prepared.keeper, store.clone());

    let mut links = JoinSet::new();
    let (samples, arriving) = mpsc::channel(SAMPLES_AHEAD);
    let mut watches = Vec::new();
    for device in &config.devices {
        let (status, seen) = watch::channel(link::DeviceStatus::new(clock.mono(), device.spec.channels.len()));
        links.spawn(link::run(
            device.spec.clone(),
            prepared.boot,
            clock.clone(),
            samples.clone(),
            status,
            stop.clone(),
        ));
        watches.push(prepare::device_watch(device, seen));
    }
    drop(samples);

    let (orders, ordered) = mpsc::channel(ORDERS_AHEAD);
    let (clock_orders, clock_ordered) = mpsc::channel(ORDERS_AHEAD);
    let (record_orders, record_ordered) = mpsc::channel(ORDERS_AHEAD);
    let probe = store.clone();
    let live = Arc::new(http::Live::new(http::LiveParts {
        boat: config.boat.clone(),
        zone: config.zone.clone(),
        pin: config.pin.clone(),
        banks: prepared.lines.iter().map(|line| (line.bank().clone(), line.resting())).collect(),
        branches: config.branches.clone(),
        devices: watches.clone(),
        clock: clock.clone(),
        readers: readers(store_path.clone(), &store),
        store: status_of(probe, away.as_ref()),
        time: clock_state.clone(),
        clock_orders,
        stop: stop.clone(),
        orders,
        record_orders,
        configuration: config.to_string(),
    }));
    let notices = notices::Notices::new(store.clone(), Arc::clone(&live), clock_state.clone(), prepared.boot);
    prepared.notes.iter().for_each(|note| notices.tell(note.clone()));
    let mut tasks = JoinSet::new();
    if let Some(news) = store.news() {
        tasks.spawn(notices::show_news(news, notices.clone(), stop.clone()));
    }
    tasks.spawn(clock_task.run(clock_ordered, stop.clone(), notices.clone()));
    for device in watches {
        tasks.spawn(notices::watch_device(device, notices.clone(), stop.clone()));
    }
    tasks.spawn(store_watch::watch(store.clone(), notices.clone(), stop.clone()));
    let fixed = Arc::new(Notify::new());
    let reconciled = Arc::new(Notify::new());
    let told = (Arc::clone(&fixed), Arc::clone(&reconciled));
    tasks.spawn(reconcile::watch(store_path.clone(), prepared.reconciling, store.clone(), told, stop.clone()));
    let (works, stop_survey) = (prepared.surveying, stop.clone());
    let survey =
        Parts { store_path, works, store: store.clone(), notices: notices.clone(), reconciled, stop: stop_survey };
    tasks.spawn(survey::task::watch(survey, record_ordered));
    let pipeline = pipeline::Pipeline::new(pipeline::Parts {
        lines: prepared.lines,
        series: prepared.series,
        store: store.clone(),
        live: Arc::clone(&live),
        clock: clock_state,
        notices,
        fixed,
    });
    let pipeline = tokio::spawn(pipeline.run(arriving, ordered));
    let page = tokio::spawn(http::serve(listener, live, stop.clone().cancelled_owned()));
    tracing::info!(%address, banks = config.banks.len(), devices = config.devices.len(), "started");
    if let Some(text) = changes_only_here(*address, config.pin.is_some()) {
        tracing::info!("{text}");
    }
    if let Some(ready) = ready.take() {
        ready(*address);
    }
    let stood_in = away.is_some();
    let card = away.map(|away| tokio::spawn(away.wait_for_the_card(clock.boot_id(), stop.clone())));

    stop.cancelled().await;
    tracing::info!("stopping");
    while links.join_next().await.is_some() {}
    // The devices have let go of the channel: the pipeline takes what is left in it, saves its state and ends.
    let _ = pipeline.await;
    while tasks.join_next().await.is_some() {}
    let _ = tokio::time::timeout(Duration::from_secs(2), page).await;
    close_store(&store, store_thread)?;
    let card_is_back = match card {
        Some(waiting) => waiting.await.unwrap_or(false),
        None => false,
    };
    if card_is_back {
        return Ok(End::CardIsBack);
    }
    if stood_in {
        tracing::warn!("stopped; what came since the start is kept in memory, until the next start or a power cut");
    } else {
        tracing::info!("stopped; everything is stored");
    }
    Ok(End::Stopped)
}

/// What to say at the start of who may change something, where others may look: without a PIN they may not.
fn changes_only_here(address: SocketAddr, pin_set: bool) -> Option<&'static str> {
    let ip = address.ip().to_canonical();
    if pin_set || ip.is_loopback() {
        None
    } else if ip.is_unspecified() {
        Some(
            "no pin is set: changes are taken from this machine only, at localhost; set pin for changes from elsewhere",
        )
    } else {
        Some("no pin is set, and this address is none of localhost: no changes are taken; set pin for changes")
    }
}

/// How the store fares; one that only stands in is in trouble by that.
fn status_of(store: WriterHandle, away: Option<&stand_in::Away>) -> http::StoreProbe {
    let away = away.map(|away| away.trouble.clone());
    Box::new(move || {
        let status = store.status();
        let trouble = status.trouble.or_else(|| away.clone());
        StoreStatus { trouble, ..status }
    })
}

/// Readers for the page; what they cannot read the store is asked to set aside.
fn readers(store_path: PathBuf, store: &store::WriterHandle) -> http::Readers {
    let writer = store.clone();
    http::Readers::new(store_path, store.feed()).reporting(move |row| {
        // A store that is gone has told so itself.
        let _ = writer.set_aside(row);
    })
}

fn close_store(
    store: &store::WriterHandle,
    thread: std::thread::JoinHandle<store::Result<store::CommitReport>>,
) -> Result<(), Error> {
    store.close()?;
    match thread.join() {
        Ok(closed) => closed.map(drop).map_err(Error::Store),
        Err(_) => Err(Error::Store(store::Error::Stopped)),
    }
}

async fn listen(address: SocketAddr) -> Result<TcpListener, Error> {
    TcpListener::bind(address).await.map_err(|cause| Error::Listen { address, cause })
}

fn stop_on_signals(stop: &CancellationToken) -> Result<(), Error> {
    for kind in [SignalKind::interrupt(), SignalKind::terminate()] {
        let mut signals = signal(kind).map_err(|cause| Error::System { what: "cannot wait for signals", cause })?;
        let stop = stop.clone();
        tokio::spawn(async move {
            if signals.recv().await.is_some() {
                stop.cancel();
            }
        });
    }
    Ok(())
}

fn start_log() {
    let filter = tracing_subscriber::EnvFilter::try_from_default_env()
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("info"));
    // Colours are for terminals, not for the journal.
    let colours = std::io::stderr().is_terminal();
    // A second start in the same process (tests) keeps the first log.
    let _ =
        tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).with_ansi(colours).try_init();
}

/// Path of the store inside a data folder.
#[must_use]
pub fn store_path(data_dir: &Path) -> PathBuf {
    data_dir.join("taffrail.sqlite")
}

#[cfg(test)]
mod tests;
