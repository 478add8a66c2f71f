//! What the filter remembers between readings, and how it is saved.

use serde::{Deserialize, Serialize};

use super::Normal;
use super::guard::Guard;
use super::watch::{CutOffWatch, RestWatch};
use super::window::Window;
use crate::reckoning::MeanLoad;
use crate::reckoning::full_watch::FullWatch;
use crate::reckoning::gaussian::Saved;
use crate::reckoning::reckoner::Start;

/// Everything that a checkpoint must hold.
#[derive(Debug, Clone)]
pub struct State {
    /// The distribution, up to the last closed window but for the mean, which moves with each reading.
    pub normal: Normal,
    /// The present window.
    pub window: Window,
    /// The rest.
    pub memory: Memory,
}

/// What a checkpoint holds beside the distribution.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Memory {
    /// Whether a fix or a stated start is behind the count.
    pub start_known: bool,
    /// Whether the bank has been seen full.
    pub seen_full: bool,
    /// Net charge drawn since it was full, Ah.
    pub drawn_ah: f64,
    /// Full rule.
    pub full: FullWatch,
    /// Cut-off.
    pub cut_off: CutOffWatch,
    /// Rests.
    pub rest: RestWatch,
    /// Contradictions.
    pub guard: Guard,
    /// Recent mean current.
    pub load: MeanLoad,
    /// Temperature last reported, °C.
    pub temperature_c: Option<f64>,
    /// Current of the last reading, A.
    pub current_a: f64,
    /// How much of the surface charge of the last charging is left, 0..1.
    pub surface: f64,
    /// Seconds in a row that the voltage was far from all expectation.
    pub astray_s: f64,
    /// Suspicions told already, one bit each.
    pub told: u8,
}

impl std::ops::Deref for State {
    type Target = Memory;
    fn deref(&self) -> &Memory {
        &self.memory
    }
}

impl std::ops::DerefMut for State {
    fn deref_mut(&mut self) -> &mut Memory {
        &mut self.memory
    }
}

/// The saved form; its first key tells it from other methods' states.
#[derive(Serialize, Deserialize)]
struct SavedState {
    filter: Saved,
    window: Window,
    memory: Memory,
}

/// How a saved state begins.
const MARK: &str = "{\"filter\":";

impl State {
    /// A state at the start.
    pub fn begin(normal: Normal, start: Start) -> State {
        let memory =
            Memory { start_known: start != Start::Unknown, seen_full: start == Start::Full, ..Memory::default() };
        State { normal, window: Window::open(), memory }
    }

    /// Whether a text is a saved state of a filter.
    pub fn is_saved(text: &str) -> bool {
        text.starts_with(MARK)
    }

    /// As JSON text.
    pub fn save(&self) -> String {
        let saved = SavedState { filter: Saved::from(&self.normal), window: self.window, memory: self.memory };
        serde_json::to_string(&saved).expect("finite numbers always become JSON")
    }

    /// From JSON text.
    pub fn restore(text: &str) -> serde_json::Result<State> {
        let saved: SavedState = serde_json::from_str(text)?;
        let normal = saved
            .filter
            .restore()
            .ok_or_else(|| serde::de::Error::custom("it is the state of a filter with other quantities"))?;
        Ok(State { normal, window: saved.window, memory: saved.memory })
    }

    /// Nobody watched: what needs an unbroken watch begins anew.
    pub fn interrupt(&mut self) {
        self.current_a = 0.0;
        self.load.forget();
        self.full.interrupt();
        self.cut_off.interrupt();
        self.rest.interrupt();
        self.guard.interrupt();
    }
}
