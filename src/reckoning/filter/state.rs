//! What the filter remembers between readings, and how it is saved.

use serde::{Deserialize, Serialize};

use super::Normal;
use super::guard::Guard;
use super::model::at;
use super::watch::{CutOffWatch, RestWatch};
use super::window::Window;
use crate::reckoning::MeanLoad;
use crate::reckoning::full_watch::FullWatch;
use crate::reckoning::gaussian::{Element, Gaussian, Part, Saved};
use crate::reckoning::terms::Start;

/// Everything that a checkpoint must hold.
#[derive(Debug, Clone)]
pub struct State {
    /// The distribution, up to the last closed window but for the mean, which moves with each reading.
    pub normal: Normal,
    /// The same by counting alone, corrected by full and hand fixes only: charge, offset, capacity, losses.
    pub counted: Gaussian<4>,
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
    /// Whether all that flowed since was seen.
    pub unbroken: bool,
    /// Net charge drawn since it was full, Ah.
    pub drawn_ah: f64,
    /// Full rule.
    pub full: FullWatch,
    /// Whether the bank has been full since it was last drawn upon in earnest.
    pub topped: bool,
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
    /// Seconds since the voltage was last stuck.
    pub unstuck_s: f64,
    /// Seconds in a row that the voltage was far below what is left by count.
    pub low_s: f64,
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
    counted: Saved,
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
        State { counted: counted_of(&normal), normal, window: Window::open(), memory }
    }

    /// Whether a text is a saved state of a filter.
    pub fn is_saved(text: &str) -> bool {
        text.starts_with(MARK)
    }

    /// As JSON text.
    pub fn save(&self) -> String {
        let saved = SavedState {
            filter: Saved::from(&self.normal),
            counted: Saved::from(&self.counted),
            window: self.window,
            memory: self.memory,
        };
        serde_json::to_string(&saved).expect("finite numbers always become JSON")
    }

    /// From JSON text.
    pub fn restore(text: &str) -> serde_json::Result<State> {
        let saved: SavedState = serde_json::from_str(text)?;
        let (Some(normal), Some(counted)) = (saved.filter.restore(), saved.counted.restore()) else {
            return Err(serde::de::Error::custom("it is the state of a filter with other quantities"));
        };
        Ok(State { normal, counted, window: saved.window, memory: saved.memory })
    }

    /// Nobody watched: what needs an unbroken watch begins anew.
    pub fn interrupt(&mut self) {
        self.unbroken = false;
        self.current_a = 0.0;
        self.load.forget();
        self.full.interrupt();
        self.cut_off.interrupt();
        self.rest.interrupt();
        self.guard.interrupt();
    }
}

/// The places that counting alone knows of.
const COUNTED: [usize; 4] = [at::CHARGE, at::OFFSET, at::CAPACITY, at::LOSS];

fn counted_of(normal: &Normal) -> Gaussian<4> {
    Gaussian {
        mean: COUNTED.map(|place| normal.mean[place]),
        covariance: COUNTED.map(|i| COUNTED.map(|j| normal.covariance[i][j])),
    }
}

/// Where counting keeps a quantity of the filter; `None` if it has none.
const fn counted_place(place: usize) -> Option<usize> {
    match place {
        at::CHARGE => Some(0),
        at::OFFSET => Some(1),
        at::CAPACITY => Some(2),
        at::LOSS => Some(3),
        _ => None,
    }
}

impl State {
    /// Moves what counting alone knows as the filter moved; the elements as counting numbers them.
    pub fn spread_counted(&mut self, elements: &[Element], noise: &[Part]) -> Vec<Element> {
        let elements: Vec<Element> = elements
            .iter()
            .filter_map(|&(row, column, value)| Some((counted_place(row)?, counted_place(column)?, value)))
            .collect();
        let noise: Vec<Part> =
            noise.iter().filter_map(|&(place, variance)| Some((counted_place(place)?, variance))).collect();
        self.counted.spread(&elements, &noise);
        elements
    }
}
