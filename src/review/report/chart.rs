//! Drawn curves: SVG within the page, in the colours of the chart by day, with words for those who cannot see it.

use std::fmt::Write;

use jiff::tz::TimeZone;
use maud::{Markup, PreEscaped, html};

use super::axis::{time_marks, value_marks, value_words};

const WIDTH: f64 = 700.0;
const LEFT: f64 = 52.0;
const RIGHT: f64 = 14.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = 24.0;

/// A point of a line: time, ms of UTC, and value; a value that is not finite breaks the line.
pub type Point = (i64, f64);
/// A point of a band: time, lower and upper edge.
pub type Edges = (i64, f64, f64);

/// A chart over time, on its way.
pub struct Chart<'z> {
    zone: &'z TimeZone,
    height: f64,
    from_ms: i64,
    to_ms: i64,
    low: f64,
    high: f64,
    drawn: String,
}

impl<'z> Chart<'z> {
    /// An empty chart of a span and a range of values, of which neither may be empty.
    pub fn new((from_ms, to_ms): (i64, i64), (low, high): (f64, f64), height: f64, zone: &'z TimeZone) -> Chart<'z> {
        let high = if high > low { high } else { low + 1.0 };
        Chart { zone, height, from_ms, to_ms: to_ms.max(from_ms + 1), low, high, drawn: String::new() }
    }

    /// All below a value is tinted, as water too shallow for the boat.
    pub fn shoal(&mut self, below: f64) {
        let top = self.y(below.clamp(self.low, self.high));
        let bottom = self.y(self.low);
        let width = WIDTH - LEFT - RIGHT;
        self.put(format_args!(
            "<rect class=\"shoal\" x=\"{LEFT}\" y=\"{top:.1}\" width=\"{width:.1}\" height=\"{:.1}\"/>",
            bottom - top
        ));
    }

    /// A band between two edges, drawn with this class (`band` or `fan`).
    pub fn band(&mut self, class: &str, edges: &[Edges]) {
        for run in edges.split(|(_, low, high)| !(low.is_finite() && high.is_finite())).filter(|run| run.len() > 1) {
            let there = run.iter().map(|(at, _, high)| (*at, *high));
            let back = run.iter().rev().map(|(at, low, _)| (*at, *low));
            let path = self.path(there.chain(back));
            self.put(format_args!("<path class=\"{class}\" d=\"{path}Z\"/>"));
        }
    }

    /// A line, drawn with this class (`trace`, `ahead` or `second`).
    pub fn line(&mut self, class: &str, points: &[Point]) {
        for run in points.split(|(_, value)| !value.is_finite()).filter(|run| !run.is_empty()) {
            let path = self.path(run.iter().copied());
            self.put(format_args!("<path class=\"{class}\" d=\"{path}\"/>"));
        }
    }

    /// A point with its error; hollow where it was not believed.
    pub fn dot(&mut self, (at, low, high): Edges, value: f64, believed: bool) {
        let (x, y, top, bottom) = (self.x(at), self.y(value), self.y(high), self.y(low));
        let class = if believed { "dot" } else { "doubt" };
        self.put(format_args!(
            "<path class=\"error\" d=\"M{x:.1} {top:.1}V{bottom:.1}\"/><circle class=\"{class}\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"2.6\"/>"
        ));
    }

    /// A value marked across the chart, with its words at the right.
    pub fn level(&mut self, value: f64, words: &str) {
        if !(self.low..=self.high).contains(&value) {
            return;
        }
        let y = self.y(value);
        let (left, right) = (LEFT, WIDTH - RIGHT);
        let words = html! { (words) }.into_string();
        self.put(format_args!(
            "<path class=\"level\" d=\"M{left} {y:.1}H{right}\"/><text class=\"note\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{words}</text>",
            right - 4.0,
            y - 4.0
        ));
    }

    /// The chart with its title, its unit, and what it shows in words.
    pub fn finish(self, title: &str, unit: &str, description: &str) -> Markup {
        let (width, height) = (WIDTH, self.height);
        let axes = self.axes();
        html! {
            figure {
                figcaption { (title) ", " (unit) }
                svg viewBox=(format!("0 0 {width} {height}")) role="img" aria-label=(format!("{title}. {description}")) {
                    (PreEscaped(self.drawn))
                    (PreEscaped(axes))
                }
            }
        }
    }

    fn axes(&self) -> String {
        let mut axes = String::new();
        let marks = value_marks(self.low, self.high);
        let (left, right, bottom) = (LEFT, WIDTH - RIGHT, self.height - BOTTOM);
        for value in &marks {
            let y = self.y(*value);
            let words = value_words(*value, &marks);
            // Writing to a text never fails.
            let _ = write!(
                axes,
                "<path class=\"grid\" d=\"M{left} {y:.1}H{right}\"/><text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{words}</text>",
                left - 6.0,
                y + 4.0
            );
        }
        for (at, words) in time_marks(self.from_ms, self.to_ms, self.zone) {
            let x = self.x(at);
            let _ = write!(
                axes,
                "<path class=\"tick\" d=\"M{x:.1} {bottom}v4\"/><text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{words}</text>",
                bottom + 17.0
            );
        }
        let _ = write!(axes, "<path class=\"axis\" d=\"M{left} {bottom}H{right}\"/>");
        axes
    }

    fn path(&self, points: impl Iterator<Item = Point>) -> String {
        let mut path = String::new();
        for (at, value) in points {
            let command = if path.is_empty() { 'M' } else { 'L' };
            let _ = write!(path, "{command}{:.1} {:.1}", self.x(at), self.y(value));
        }
        path
    }

    #[expect(clippy::cast_precision_loss, reason = "milliseconds of centuries are exact in an f64")]
    fn x(&self, at: i64) -> f64 {
        let part = (at - self.from_ms) as f64 / (self.to_ms - self.from_ms) as f64;
        LEFT + part.clamp(0.0, 1.0) * (WIDTH - LEFT - RIGHT)
    }

    fn y(&self, value: f64) -> f64 {
        let part = ((value - self.low) / (self.high - self.low)).clamp(-0.02, 1.02);
        (self.height - BOTTOM) - part * (self.height - BOTTOM - TOP)
    }

    fn put(&mut self, drawn: std::fmt::Arguments<'_>) {
        let _ = self.drawn.write_fmt(drawn);
    }
}

/// Bars side by side, each with its words below; `None` where all are nought.
pub fn bars(title: &str, unit: &str, parts: &[(String, f64)]) -> Option<Markup> {
    let most = parts.iter().map(|(_, value)| *value).fold(0.0, f64::max);
    if most <= 0.0 {
        return None;
    }
    let height = 130.0;
    let (floor, room) = (height - BOTTOM, height - BOTTOM - TOP - 12.0);
    let step = (WIDTH - LEFT - RIGHT) / parts.len() as f64;
    let mut drawn = String::new();
    for (at, (words, value)) in parts.iter().enumerate() {
        let x = LEFT + at as f64 * step;
        let tall = room * value / most;
        // Half a cycle is told from none.
        let whole = *value >= 10.0 || (value - value.round()).abs() < 0.05;
        let amount = if whole { format!("{value:.0}") } else { format!("{value:.1}") };
        let words = html! { (words) }.into_string();
        let _ = write!(
            drawn,
            "<rect class=\"bar\" x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{tall:.1}\"/>\
             <text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{amount}</text>\
             <text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{words}</text>",
            x + 0.12 * step,
            floor - tall,
            0.76 * step,
            x + 0.5 * step,
            floor - tall - 4.0,
            x + 0.5 * step,
            floor + 16.0
        );
    }
    let told: Vec<_> = parts.iter().map(|(words, value)| format!("{words}: {value:.1}")).collect();
    Some(html! {
        figure {
            figcaption { (title) ", " (unit) }
            svg viewBox=(format!("0 0 {WIDTH} {height}")) role="img" aria-label=(format!("{title}, {unit}. {}", told.join("; "))) {
                (PreEscaped(drawn))
            }
        }
    })
}

/// The range that holds all values, with a little room; `None` if there is no finite one.
pub fn range_of(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    let finite = values.filter(|value| value.is_finite());
    let (low, high) =
        finite.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
    let room = (0.06 * (high - low)).max(1e-6 * high.abs()).max(1e-9);
    (low <= high).then_some((low - room, high + room))
}
