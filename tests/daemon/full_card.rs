//! A boat whose card is full for a while.

use std::path::Path;
use std::sync::atomic::AtomicU32;

use super::killed::streaming;
use super::*;

/// A small card, mounted at a folder for as long as this lives.
pub struct Card {
    folder: PathBuf,
}

impl Card {
    /// `None`, and a word about it, where no file system can be mounted.
    pub fn mount(folder: &Path) -> Option<Card> {
        std::fs::create_dir_all(folder).expect("a folder");
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=3m", "taffrail-test-card"])
            .arg(folder)
            .stderr(Stdio::null())
            .status();
        if !mounted.is_ok_and(|status| status.success()) {
            eprintln!("skipped: no file system can be mounted here");
            return None;
        }
        Some(Card { folder: folder.to_owned() })
    }

    fn ballast(&self) -> PathBuf {
        self.folder.join("music")
    }

    /// Fills the card to its last page.
    fn fill(&self) {
        let mut ballast = std::fs::File::create(self.ballast()).expect("room for a name");
        for piece in [vec![7; 4096], vec![7; 1]] {
            while ballast.write_all(&piece).is_ok() {}
        }
    }

    /// Makes the card read-only, as a kernel does that has met an error on it, or writable again.
    pub fn set_read_only(&self, read_only: bool) {
        let how = if read_only { "remount,ro" } else { "remount,rw" };
        let done = Command::new("mount").args(["-o", how]).arg(&self.folder).status();
        assert!(done.is_ok_and(|status| status.success()), "{how}");
    }

    fn make_room(&self) {
        std::fs::remove_file(self.ballast()).expect("ours");
    }
}

impl Drop for Card {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.folder).status();
    }
}

pub fn trouble(daemon: &Daemon) -> Option<String> {
    daemon.now()?["store_trouble"].as_str().map(str::to_owned)
}

/// Marks in the answer of the history from the start of the test on, thinned to so many points; the latest.
fn latest_mark_in_history(daemon: &Daemon) -> Option<f64> {
    let now = Clock::system().wall().utc.0;
    let span = format!("from_ms={}&to_ms={}", now - 600_000, now + 60_000);
    let answer = daemon.get(&format!("/api/v1/banks/house/history?{span}&channels=mark&points=1500"))?;
    let max = answer["channels"]["mark"]["max"].as_array()?;
    max.iter().filter_map(Value::as_f64).next_back()
}

fn kinds_of_events(daemon: &Daemon) -> Vec<String> {
    let events = daemon.get("/api/v1/events").expect("an answer");
    let events = events["events"].as_array().expect("a list");
    events.iter().filter_map(|event| event["kind"].as_str().map(str::to_owned)).collect()
}

#[test]
fn a_full_card_is_said_and_nothing_is_lost_once_there_is_room_again() {
    let berth = Berth::new();
    let Some(card) = Card::mount(&berth.path("data")) else { return };
    let wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    let mark = AtomicU32::new(1);
    streaming(&wire, &mark, || {
        daemon.wait_for_mark(50);
        card.fill();
        // Bad input is an event, which asks for a commit within seconds.
        wire.send(b"{\"voltage_v\": no number}\n");
        let said = daemon.wait_for("trouble", trouble);
        assert!(said.contains("full") && said.contains("room"), "{said}");
        let health = daemon.get("/api/v1/health").expect("an answer");
        assert_eq!(
            (health["status"].as_str(), health["store"]["status"].as_str()),
            (Some("degraded"), Some("trouble"))
        );

        let full_at = mark.load(Ordering::Relaxed);
        daemon.wait_for_mark(full_at + 500);
        daemon.wait_for("history from memory", |daemon| {
            latest_mark_in_history(daemon).filter(|latest| *latest >= f64::from(full_at + 200))
        });
        card.make_room();
        daemon.wait_for("an end of the trouble", |daemon| trouble(daemon).is_none().then_some(()));
        daemon.wait_for("both events", |daemon| {
            let kinds = kinds_of_events(daemon);
            (kinds.iter().any(|kind| kind == "store-trouble") && kinds.iter().any(|kind| kind == "store-writes"))
                .then_some(())
        });
    });
    let last = mark.load(Ordering::Relaxed) - 1;
    daemon.wait_for_mark(last);
    daemon.terminate();
    assert_eq!(daemon.end().expect("it ends").code(), Some(0));
    let marks: Vec<f64> = berth.stored().iter().filter_map(|stored| stored.sample.values[MARK]).collect();
    let heard: Vec<f64> = marks.into_iter().filter(|mark| *mark > 0.0).collect();
    assert_eq!(heard, (1..=last).map(f64::from).collect::<Vec<_>>(), "each once and in order");
}

#[test]
fn a_start_on_a_full_card_works_in_memory_and_goes_over_to_the_card_once_there_is_room() {
    let berth = Berth::new();
    let Some(card) = Card::mount(&berth.path("data")) else { return };
    let wire = berth.plug();
    let mark = AtomicU32::new(1);
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    streaming(&wire, &mark, || daemon.wait_for_mark(50));
    daemon.wait_for_mark(mark.load(Ordering::Relaxed) - 1);
    daemon.terminate();
    assert_eq!(daemon.end().expect("it ends").code(), Some(0));

    card.fill();
    let wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    let begun = mark.load(Ordering::Relaxed);
    let (room_at, back_at) = streaming(&wire, &mark, || {
        let said = daemon.wait_for("trouble", trouble);
        assert!(said.contains("cannot be used") && said.contains("memory"), "{said}");
        daemon.wait_for_mark(begun + 300);
        daemon.wait_for("history from memory", |daemon| {
            latest_mark_in_history(daemon).filter(|latest| *latest >= f64::from(begun + 100))
        });
        let room_at = mark.load(Ordering::Relaxed);
        card.make_room();
        daemon.wait_for("the card in use", |daemon| {
            let health = daemon.get("/api/v1/health")?;
            (health["store"]["status"] == "ok").then_some(())
        });
        let back_at = mark.load(Ordering::Relaxed);
        daemon.wait_for_mark(back_at + 100);
        (room_at, back_at)
    });
    let last = mark.load(Ordering::Relaxed) - 1;
    daemon.wait_for_mark(last);
    daemon.terminate();
    assert_eq!(daemon.end().expect("it ends").code(), Some(0));

    let marks: Vec<f64> = berth.stored().iter().filter_map(|stored| stored.sample.values[MARK]).collect();
    let heard: Vec<f64> = marks.into_iter().filter(|mark| *mark > 0.0).collect();
    assert!(heard.windows(2).all(|pair| pair[0] < pair[1]), "once and in order");
    // While it goes over, the port is closed for a moment.
    let safe = |mark: &f64| *mark < f64::from(room_at) || *mark > f64::from(back_at + 50);
    let expected = (1..=last).map(f64::from).filter(safe);
    assert_eq!(heard.into_iter().filter(safe).collect::<Vec<_>>(), expected.collect::<Vec<_>>());
}
