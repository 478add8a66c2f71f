//! The fade forecast on lithium iron phosphate cells that were cycled to their end.
//!
//! K. A. Severson et al., Nature Energy 4 (2019) 383, and P. M. Attia et al., Nature 578 (2020) 397; as collected by C. Strange et al.
//! (CC BY 4.0). 124 cells, capacity at each cycle over the nominal 1.1 Ah. The end is 80 % of nominal: the first set ends at
//! 79.5 % of it, so that 80 % of the initial capacity is not reached there.
//!
//! The shapes that the prior holds likely were learned from these cells, so each set is judged by what the other one taught:
//! nothing of a cell's own set is in its forecast.

use std::collections::BTreeMap;

use taffrail::battery::Range;
use taffrail::health::fade::{Crossing, Forecast, Point, Population, Prior, Terms, fade};
use taffrail::quantity::Estimate;

use crate::support::{read_columns, shared_data};

/// A cycler's capacity, 1 σ over the nominal capacity (common practice, no source).
const CYCLER_STD_DEV: f64 = 0.001;
const END: f64 = 0.80;

const fn estimate(value: f64, std_dev: f64) -> Estimate {
    Estimate { value, std_dev }
}

/// Learned from the second set only (`generator/fade_shapes.py`).
const OF_ATTIA: Population = Population {
    bend: estimate(1.00, 0.34),
    ln_scale: estimate(-5.39, 1.46),
    knee_at: estimate(0.050, 0.010),
    ln_ratio: estimate(1.11, 0.45),
};
/// Learned from the first set only.
const OF_SEVERSON: Population = Population {
    bend: estimate(0.57, 0.41),
    ln_scale: estimate(-5.53, 1.42),
    knee_at: estimate(0.054, 0.014),
    ln_ratio: estimate(1.35, 0.62),
};
const SETS: [(&str, Population); 2] =
    [("severson_2019_lfp_all_cycles.csv.gz", OF_ATTIA), ("attia_2020_lfp_all_cycles.csv.gz", OF_SEVERSON)];

struct Cell {
    points: Vec<Point>,
    /// Cycle at which the median of three falls below the end.
    end: f64,
}

fn cells(file: &str) -> Option<Vec<Cell>> {
    let path = shared_data("lfp_fade_a123_severson_attia")?.join(file);
    let mut by_cell: BTreeMap<u32, Vec<Point>> = BTreeMap::new();
    for [cell, cycle, percent] in read_columns(&path, ["cell", "cycle", "capacity_pct_of_1p1Ah"]) {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small number")]
        let cell = cell.expect("a cell") as u32;
        let ratio = percent.expect("a capacity") / 100.0;
        by_cell.entry(cell).or_default().push(Point { x: cycle.expect("a cycle"), ratio, std_dev: CYCLER_STD_DEV });
    }
    let cell = |points: Vec<Point>| {
        let ended = points.windows(3).find(|three| {
            let mut ratios: Vec<f64> = three.iter().map(|p| p.ratio).collect();
            ratios.sort_by(f64::total_cmp);
            ratios[1] < END
        });
        let end = ended.map_or(points[points.len() - 1].x, |three| three[1].x);
        Cell { points, end }
    };
    Some(by_cell.into_values().map(cell).collect())
}

/// What came of forecasts, each over the life that it was made for.
#[derive(Default)]
struct Score {
    errors: Vec<f64>,
    widths: Vec<f64>,
    in_90: f64,
    in_95: f64,
    /// Not earned yet.
    silent: f64,
}

impl Score {
    fn add(&mut self, cell: &Cell, prior: Prior) {
        let seen: Vec<Point> = cell.points.iter().copied().filter(|p| p.x <= 0.6 * cell.end).collect();
        let terms = Terms { threshold: END, least_span: 50.0, prior, life: None };
        let Ok(Crossing::Ahead(forecast) | Crossing::Passed(forecast)) = fade(&seen, &terms).crossing else {
            self.silent += 1.0;
            return;
        };
        let Forecast { likely, range_90, band } = forecast;
        let holds = |range: Range| f64::from(u8::from(range.low <= cell.end && cell.end <= range.high));
        self.errors.push((likely - cell.end).abs() / cell.end);
        self.widths.push((range_90.high - range_90.low) / cell.end);
        self.in_90 += holds(range_90);
        self.in_95 += holds(Range { low: band.low, high: band.high });
    }

    /// Median error, share in the 90 % range, median width of it, in words and as numbers.
    fn tell(&mut self, what: &str) -> (String, [f64; 3]) {
        let all = f64::from(u32::try_from(self.errors.len()).expect("few")) + self.silent;
        let middle = |values: &mut Vec<f64>| {
            values.sort_by(f64::total_cmp);
            values[values.len() / 2]
        };
        let (error, width, in_90) = (middle(&mut self.errors), middle(&mut self.widths), self.in_90 / all);
        let text = format!(
            "{what}: {all} cells, median error {error:.3} of life; in the 90 % range {in_90:.3}, in the 95 % range {:.3}; \
             median width of the 90 % range {width:.2} lives; silent {}",
            self.in_95 / all,
            self.silent
        );
        (text, [error, in_90, width])
    }
}

#[test]
fn from_sixty_percent_of_life_the_end_lies_in_the_range_of_the_other_sets_prior() {
    let mut usual = Score::default();
    let (mut learned, mut anything) = (Score::default(), Score::default());
    for (file, population) in SETS {
        let Some(cells) = cells(file) else { return };
        let mut of_set = Score::default();
        for (i, cell) in cells.iter().enumerate() {
            let prior = Prior { seen: Prior::USUAL.seen, population };
            usual.add(cell, prior);
            of_set.add(cell, prior);
            // Either part of the prior alone, on every eighth cell, to see what each does.
            if i % 8 == 0 {
                learned.add(cell, Prior { seen: 1.0, population });
                anything.add(cell, Prior { seen: 0.0, population });
            }
        }
        println!("{}", of_set.tell(file).0);
    }
    let (text, [error, coverage, width]) = usual.tell("even odds, learned from the other set");
    println!("{text}");
    println!("{}", learned.tell("only the population of the other set").0);
    println!("{}", anything.tell("nothing learned").0);
    assert!(usual.errors.len() >= 120, "few are left without a forecast");
    assert!(coverage >= 0.85, "{coverage}");
    assert!(error <= 0.25 && width <= 1.3, "{error} {width}");
}

/// Over a whole life the knee is found, at a loss of some percent (D. Fermín-Cueto et al., Energy and AI 1 (2020) 100006, find it in
/// these cells around 90 to 97 % of nominal; from memory).
#[test]
fn whole_lives_have_a_knee() {
    let Some(cells) = cells(SETS[0].0) else { return };
    let (mut found, mut all) = (0, 0);
    for cell in cells.iter().step_by(8) {
        let whole: Vec<Point> = cell.points.iter().copied().filter(|p| p.x <= cell.end).collect();
        let terms = Terms { threshold: END, least_span: 50.0, prior: Prior::USUAL, life: None };
        all += 1;
        let Some(knee) = fade(&whole, &terms).knee else { continue };
        assert!(knee.after.value < 2.0 * knee.before.value, "{knee:?}");
        assert!((0.45..0.95).contains(&(knee.x / cell.end)), "{knee:?} of {}", cell.end);
        found += 1;
    }
    println!("{found} of {all} whole lives have a knee");
    assert_eq!(found, all);
}
