//! Capacity tests as people start and stop them.

use std::path::Path;

use super::look::State;
use super::{Shelf, Surveying};
use crate::health::{TestBody, TestResult};
use crate::http::{RecordDone, TestWish};
use crate::review;
use crate::store::{Error, Reader, Result, StoredTest, TestState};

/// Starts a capacity test of a bank whose samples have just been looked at.
///
/// # Errors
/// [`Error::Passage`] with the words why not, or what the store reports.
pub fn start_test(store_path: &Path, work: &Surveying, wish: &TestWish, shelf: &mut impl Shelf) -> Result<RecordDone> {
    let reader = Reader::open(store_path)?;
    let (bank, title) = (&work.bank.name, &work.bank.title);
    let tests = reader.tests(bank)?;
    if let Some(running) = tests.iter().find(|test| test.state == TestState::Running) {
        return Err(refused(format!("{title}: capacity test {} is running; stop it before another one", running.id)));
    }
    let aboard = work.aboard();
    let Some((state, latest)) = State::stored(&reader, bank)?.zip(review::standing(&reader, &aboard)?) else {
        return Err(refused(format!(
            "{title}: nothing has been heard of the bank yet; wait a few minutes and try again"
        )));
    };
    let last = tests.iter().find_map(result).map(|result| result.capacity.value);
    let at = state.at();
    let body = TestBody::start(&aboard, at, latest, wish.cut_off_v, last, wish.anyway).map_err(|unmet| {
        let why: Vec<String> = unmet.into_iter().map(|condition| condition.text).collect();
        refused(format!("{title}: {}", why.join(" ")))
    })?;
    let id = shelf.begin_test(bank, at, text_of(&body)?)?;
    let text = format!("{title}: capacity test {id} at {:.1} A. {}", wish.load_a, body.text());
    Ok(RecordDone { id, text })
}

/// Stops the running capacity test of a bank.
///
/// # Errors
/// As [`start_test`].
pub fn stop_test(store_path: &Path, work: &Surveying, shelf: &mut impl Shelf) -> Result<RecordDone> {
    let tests = Reader::open(store_path)?.tests(&work.bank.name)?;
    let title = &work.bank.title;
    let Some(running) = tests.iter().find(|test| test.state == TestState::Running) else {
        return Err(refused(format!("{title}: no capacity test is running")));
    };
    let (id, text) = match serde_json::from_str::<TestBody>(&running.body) {
        Ok(mut body) => {
            body.stop();
            shelf.change_test(running.id, TestState::Stopped, text_of(&body)?)?;
            (running.id, body.words.last().cloned().unwrap_or_default())
        }
        Err(_) => {
            shelf.change_test(running.id, TestState::Stopped, running.body.clone())?;
            (running.id, "What was kept of it cannot be read.".to_owned())
        }
    };
    Ok(RecordDone { id, text: format!("{title}: capacity test {id}: {text}") })
}

fn result(test: &StoredTest) -> Option<TestResult> {
    let ended = test.state == TestState::Ended;
    ended.then(|| serde_json::from_str::<TestBody>(&test.body).ok()?.result).flatten()
}

/// A test's body as the store keeps it.
pub fn text_of(body: &TestBody) -> Result<String> {
    serde_json::to_string(body).map_err(|_| Error::Unkept("a capacity test".to_owned()))
}

fn refused(words: String) -> Error {
    Error::Passage(words)
}
