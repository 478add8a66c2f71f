use super::*;
use crate::link::{DeviceSpec, FrameSpec};
use crate::quantity::Channel;
use std::collections::VecDeque;
use std::pin::Pin;
use std::task::{Context, Poll};
use tokio::io::ReadBuf;

/// What a scripted port does at a read, in turn; after the last it stays quiet.
enum Read {
    Bytes(Vec<u8>),
    Later(u64, Vec<u8>),
    EndOfFile,
    Broken,
}

struct Script {
    reads: VecDeque<Read>,
    waiting: Option<(Pin<Box<tokio::time::Sleep>>, Vec<u8>)>,
}

impl Script {
    fn new(reads: impl IntoIterator<Item = Read>) -> Script {
        Script { reads: reads.into_iter().collect(), waiting: None }
    }
}

impl AsyncRead for Script {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        if self.waiting.is_none() {
            match self.reads.pop_front() {
                None => return Poll::Pending,
                Some(Read::Bytes(bytes)) => buffer.put_slice(&bytes),
                Some(Read::EndOfFile) => {}
                // EIO of Linux, what a pulled port says.
                Some(Read::Broken) => return Poll::Ready(Err(io::Error::from_raw_os_error(5))),
                Some(Read::Later(ms, bytes)) => {
                    self.waiting = Some((Box::pin(sleep(Duration::from_millis(ms))), bytes));
                }
            }
        }
        if let Some((wait, bytes)) = &mut self.waiting {
            std::task::ready!(wait.as_mut().poll(context));
            buffer.put_slice(bytes);
            self.waiting = None;
        }
        Poll::Ready(Ok(()))
    }
}

fn spec(quiet_after_s: f64) -> DeviceSpec {
    DeviceSpec {
        name: "shunt".to_owned(),
        channels: vec![Channel::try_new("voltage_v").expect("a channel name")],
        port: "/nowhere/port".into(),
        baud: 19_200,
        frame: FrameSpec::JsonLines,
        limits: vec![None],
        quiet_after_s,
    }
}

fn frames(numbers: std::ops::Range<u32>) -> Vec<u8> {
    numbers.map(|n| format!("{{\"voltage_v\":{n}}}\n")).collect::<String>().into_bytes()
}

/// A tender, what it sends, and its status.
fn tender(quiet_after_s: f64, room: usize) -> (Tender, mpsc::Receiver<DeviceSample>, watch::Receiver<DeviceStatus>) {
    let clock = Clock::system();
    let (samples, received) = mpsc::channel(room);
    let (status, seen) = watch::channel(DeviceStatus::new(clock.mono(), 1));
    let mut tender = Tender::new(&spec(quiet_after_s), BootNo(1), clock, samples, status).expect("fits");
    tender.room_wait = Duration::from_millis(50);
    (tender, received, seen)
}

fn drain(received: &mut mpsc::Receiver<DeviceSample>) -> Vec<DeviceSample> {
    std::iter::from_fn(|| received.try_recv().ok()).collect()
}

#[tokio::test]
async fn a_port_that_only_gives_end_of_file_is_not_spun_on() {
    let (mut tender, _received, seen) = tender(10.0, 4);
    let open = || Ok(Script::new([Read::EndOfFile]));
    // Attempts are due at 0, 250 and 750 ms, then at 1750.
    assert!(timeout(Duration::from_millis(1200), tender.tend(open)).await.is_err());
    let status = seen.borrow();
    assert_eq!((status.tally.attempts, status.tally.opened), (3, 3));
    assert_eq!(status.state, PortState::Waiting);
    assert_eq!(status.reason.as_deref(), Some("/nowhere/port went away: end of file"));
}

#[tokio::test]
async fn a_pulled_port_is_dropped_before_it_is_opened_again() {
    struct Counted<'a>(Script, &'a std::cell::Cell<u32>);
    impl Drop for Counted<'_> {
        fn drop(&mut self) {
            self.1.set(self.1.get() - 1);
        }
    }
    impl AsyncRead for Counted<'_> {
        fn poll_read(
            mut self: Pin<&mut Self>,
            context: &mut Context<'_>,
            buffer: &mut ReadBuf<'_>,
        ) -> Poll<io::Result<()>> {
            Pin::new(&mut self.0).poll_read(context, buffer)
        }
    }
    let held = std::cell::Cell::new(0);
    let mut opened = 0;
    let (mut tender, mut received, seen) = tender(10.0, 100);
    let tend = tender.tend(|| {
        assert_eq!(held.get(), 0, "the former port is closed");
        held.set(1);
        opened += 1;
        let mut bytes = b"}\n".to_vec();
        bytes.extend(frames(opened..opened + 1));
        bytes.extend(b"{\"volt");
        Ok(Counted(Script::new([Read::Bytes(bytes), Read::Broken]), &held))
    });
    assert!(timeout(Duration::from_millis(900), tend).await.is_err());
    // A good sample each time keeps the wait at its shortest: 0, 250, 500 and 750 ms.
    assert_eq!(opened, 4);
    let values: Vec<_> = drain(&mut received).into_iter().map(|s| s.sample.values[0]).collect();
    assert_eq!(values, [Some(1.0), Some(2.0), Some(3.0), Some(4.0)]);
    let status = seen.borrow();
    assert_eq!(status.state, PortState::Closed);
    assert_eq!(status.tally.partial, 8, "one at each opening, one at each closing");
    assert!(status.reason.as_deref().is_some_and(|r| r.contains("Input/output error")));
}

#[tokio::test]
async fn a_silent_device_is_called_silent_and_live_again_with_the_next_sample() {
    use PortState::{Live, Silent, Waiting};
    let (mut tender, mut received, mut seen) = tender(0.1, 4);
    let script = Script::new([
        Read::Bytes(b"\n{\"voltage_v\":1}\n".to_vec()),
        Read::Later(300, b"{\"voltage_v\":2}\n".to_vec()),
    ]);
    let mut states = Vec::new();
    let watch = async {
        while states.len() < 3 && seen.changed().await.is_ok() {
            let status = seen.borrow_and_update();
            if status.state != Waiting && states.last() != Some(&status.state) {
                states.push(status.state);
            }
        }
    };
    tokio::select! {
        _ = tender.read(script) => {}
        () = watch => {}
        () = sleep(Duration::from_secs(5)) => {}
    }
    assert_eq!(states, [Live, Silent, Live]);
    assert_eq!(drain(&mut received).len(), 2);
}

#[tokio::test]
async fn babble_is_no_sign_of_life_and_the_reason_tells_it_from_silence() {
    for (reads, reason) in [
        (vec![], "nothing came for 0.1 s"),
        (
            (0..12).map(|_| Read::Later(20, b"\x81\x92\n".to_vec())).collect(),
            "bytes, but no sample for 0.1 s: check baud and frame",
        ),
    ] {
        let (mut tender, _received, seen) = tender(0.1, 4);
        assert!(timeout(Duration::from_millis(200), tender.read(Script::new(reads))).await.is_err());
        let status = seen.borrow();
        assert_eq!(status.state, PortState::Silent);
        assert!(status.reason.as_deref().is_some_and(|r| r.contains(reason)), "{:?}", status.reason);
    }
}

#[tokio::test]
async fn a_store_that_stalls_briefly_costs_nothing() {
    let (mut tender, mut received, _seen) = tender(10.0, 2);
    // Far longer than any stall of this test, also on a busy machine.
    tender.room_wait = Duration::from_secs(30);
    let mut bytes = b"\n".to_vec();
    bytes.extend(frames(0..100));
    let slow = async {
        let mut values = Vec::new();
        while values.len() < 100 {
            if values.len().is_multiple_of(25) {
                sleep(Duration::from_millis(20)).await;
            }
            values.extend(received.recv().await.and_then(|s| s.sample.values[0]));
        }
        values
    };
    let values = tokio::select! {
        _ = tender.read(Script::new([Read::Bytes(bytes)])) => Vec::new(),
        () = sleep(Duration::from_secs(60)) => Vec::new(),
        values = slow => values,
    };
    assert_eq!(values, (0..100).map(f64::from).collect::<Vec<_>>());
    assert_eq!(tender.intake.tally().lost, 0);
}

#[tokio::test]
async fn samples_without_room_are_lost_and_counted_after_one_wait() {
    let (mut tender, mut received, seen) = tender(10.0, 3);
    let mut bytes = b"\n".to_vec();
    bytes.extend(frames(0..100));
    let session = tender.read(Script::new([Read::Bytes(bytes), Read::Later(100, frames(100..102))]));
    let reader = async {
        // One wait of 50 ms for all 97, not one for each.
        sleep(Duration::from_millis(90)).await;
        let first = drain(&mut received);
        sleep(Duration::from_millis(150)).await;
        (first, drain(&mut received))
    };
    let (first, second) = tokio::select! {
        _ = session => (Vec::new(), Vec::new()),
        both = reader => both,
    };
    let values = |samples: &[DeviceSample]| samples.iter().map(|s| s.sample.values[0]).collect::<Vec<_>>();
    assert_eq!(values(&first), [Some(0.0), Some(1.0), Some(2.0)]);
    assert_eq!(values(&second), [Some(100.0), Some(101.0)]);
    let tally = seen.borrow().tally.clone();
    assert_eq!((tally.samples, tally.lost), (102, 97));
}

#[tokio::test]
async fn stamps_rise_strictly_within_a_read() {
    let (mut tender, mut received, _seen) = tender(10.0, 100);
    let mut bytes = b"\n".to_vec();
    bytes.extend(frames(0..50));
    let session = tender.read(Script::new([Read::Bytes(bytes)]));
    assert!(timeout(Duration::from_millis(50), session).await.is_err());
    let stamps: Vec<_> = drain(&mut received).iter().map(|s| s.sample.at).collect();
    assert_eq!(stamps.len(), 50);
    assert!(stamps.is_sorted_by(|a, b| a.mono < b.mono), "{stamps:?}");
}

#[tokio::test]
async fn it_ends_when_nobody_takes_its_samples() {
    let (mut tender, received, _seen) = tender(10.0, 4);
    drop(received);
    let open = || Ok(Script::new([Read::Bytes(b"\n{\"voltage_v\":1}\n".to_vec())]));
    assert!(timeout(Duration::from_secs(5), tender.tend(open)).await.is_ok());
}

#[tokio::test]
async fn changes_of_state_are_noted_for_the_log_once() {
    let (mut tender, _received, _seen) = tender(10.0, 4);
    let log = Log::default();
    let _guard = tracing::subscriber::set_default(tracing_subscriber::fmt().with_writer(log.clone()).finish());
    let mut attempt = 0;
    let tend = tender.tend(|| {
        attempt += 1;
        if attempt < 3 {
            Err(io::Error::from(io::ErrorKind::NotFound))
        } else {
            let mut bytes = b"\n".to_vec();
            bytes.extend(frames(0..3));
            bytes.extend(b"bad\nbad\n");
            Ok(Script::new([Read::Bytes(bytes.clone()), Read::Bytes(bytes), Read::EndOfFile]))
        }
    });
    assert!(timeout(Duration::from_millis(900), tend).await.is_err());
    let text = log.text();
    let lines: Vec<_> = text.lines().collect();
    assert_eq!(lines.len(), 3, "{text}");
    assert!(lines[0].contains("Waiting") && lines[0].contains("does not exist"));
    assert!(lines[1].contains("Live"));
    assert!(lines[2].contains("Closed") && lines[2].contains("end of file"));
}

/// Keeps what is logged.
#[derive(Clone, Default)]
struct Log(Arc<std::sync::Mutex<Vec<u8>>>);

impl Log {
    fn text(&self) -> String {
        String::from_utf8(self.0.lock().expect("not poisoned").clone()).expect("text")
    }
}

impl io::Write for Log {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.lock().expect("not poisoned").extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl tracing_subscriber::fmt::MakeWriter<'_> for Log {
    type Writer = Log;

    fn make_writer(&self) -> Log {
        self.clone()
    }
}
