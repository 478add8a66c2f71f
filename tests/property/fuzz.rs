//! The fuzz targets over their corpus and a bounded number of mutations of it, the same in every run. The fuzzer itself,
//! which finds its own way and has no end, is in `tests/fuzz/`.

#[path = "../fuzz/targets.rs"]
mod targets;

use std::path::{Path, PathBuf};
use std::process::Command;

use targets::{ALL, Target};

/// Mutations of each file of a corpus.
const MUTATIONS: u64 = 1000;
/// Nothing longer is tried.
const LONGEST: usize = 200_000;
/// Address space of the process that tries them, KiB: what [`taffrail::store::codec::MAX_VALUES`] take twice, unpacked and
/// packed again, and the program itself.
const MEMORY_KIB: u64 = 3 << 20;
/// Names the target that a child process of the test is to try.
const CHILD: &str = "TAFFRAIL_FUZZ_TARGET";

fn corpus(target: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus").join(target);
    let entries = std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.expect("an entry").path()).collect();
    files.sort();
    files.into_iter().map(|path| (path.clone(), std::fs::read(path).expect("a file"))).collect()
}

/// Well-mixed numbers, one after the other.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let x = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        x ^ (x >> 31)
    }

    /// Below `end`, which is not zero.
    fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.roll() % end as u64).expect("below a length")
    }

    fn byte(&mut self) -> u8 {
        self.roll().to_le_bytes()[0]
    }
}

/// Bytes that matter to one or other of the formats.
const TELLING: [u8; 16] = [0, 1, 2, 0x7f, 0x80, 0xff, 254, b'\n', b',', b'"', b'{', b'}', b'-', b'9', b'e', b'='];

/// Harms `data` one to four times.
fn mutate(dice: &mut Dice, data: &mut Vec<u8>, other: &[u8]) {
    for _ in 0..=dice.below(4) {
        let at = dice.below(data.len() + 1);
        let length = dice.below(1 + data.len().min(64));
        let end = (at + length).min(data.len());
        match dice.below(8) {
            0 if at < data.len() => data[at] ^= 1 << dice.below(8),
            1 if at < data.len() => data[at] = dice.byte(),
            2 if at < data.len() => data[at] = TELLING[dice.below(TELLING.len())],
            3 => data.truncate(at),
            4 => drop(data.drain(at..end)),
            5 => {
                let again: Vec<u8> = data[at..end].to_vec();
                data.splice(at..at, again);
            }
            6 if !other.is_empty() => {
                let from = dice.below(other.len());
                data.splice(at..end, other[from..(from + length).min(other.len())].iter().copied());
            }
            _ => data.insert(at, TELLING[dice.below(TELLING.len())]),
        }
    }
    data.truncate(LONGEST);
}

fn try_all((name, target): Target) {
    let files = corpus(name);
    assert!(files.len() > 1, "{name} has a corpus");
    for (place, (path, data)) in files.iter().enumerate() {
        target(data);
        let mut dice = Dice(place as u64);
        for round in 0..MUTATIONS {
            let mut harmed = data.clone();
            let other = &files[dice.below(files.len())].1;
            mutate(&mut dice, &mut harmed, other);
            let held = std::panic::catch_unwind(|| target(&harmed));
            assert!(held.is_ok(), "{} in round {round}, as {:?}", path.display(), String::from_utf8_lossy(&harmed));
        }
    }
}

#[test]
fn whatever_is_read_back_is_refused_or_read_and_takes_no_more_memory_than_it_may() {
    if let Ok(wanted) = std::env::var(CHILD) {
        let target = ALL.iter().find(|(name, _)| *name == wanted).expect("a target");
        return try_all(*target);
    }
    let program = std::env::current_exe().expect("this test");
    for (name, _) in ALL {
        // A process of its own, in which too large a demand fails instead of being met.
        let output = Command::new("sh")
            .args(["-c", &format!("ulimit -v {MEMORY_KIB}; exec \"$0\" \"$@\"")])
            .arg(&program)
            .args(["whatever_is_read_back_is_refused", "--test-threads=1"])
            .env(CHILD, name)
            .output()
            .expect("a shell");
        let told = String::from_utf8_lossy(&output.stdout);
        assert!(output.status.success(), "{name}: {told}{}", String::from_utf8_lossy(&output.stderr));
        assert!(told.contains("1 passed"), "{name}: {told}");
    }
}
