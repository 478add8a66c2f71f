//! Energy against speed, and the reach that is left.

use super::use_views::{ReachLeftView, ReachView, SpeedBinView};
use crate::battery::Bank;
use crate::passage::{Held, Miles, miles_left};
use crate::quantity::UtcMs;
use crate::review::stretches::soc_at;
use crate::review::values::BandView;
use crate::store::{Reader, Result};

/// What else is known of the bank now.
pub(super) struct Now {
    /// When that is.
    pub(super) time: Option<UtcMs>,
    /// Capacity, Ah.
    pub(super) capacity_ah: f64,
    /// Temperature, °C.
    pub(super) temperature_c: Option<f64>,
    /// Load besides the drive, A.
    pub(super) other_load_a: f64,
}

/// By the minutes under way so far; `None` where none had a speed.
pub(super) fn reach_view(reader: &Reader, bank: &Bank, now: &Now) -> Result<Option<ReachView>> {
    let Some(miles) = miles(reader, &bank.name)? else { return Ok(None) };
    let by_speed = miles.by_speed();
    if by_speed.is_empty() {
        return Ok(None);
    }
    let soc = now.time.map(|time| soc_at(reader, &bank.name, time)).transpose()?.flatten();
    let held = soc.map(|soc| Held {
        soc,
        capacity_ah: now.capacity_ah,
        temperature_c: now.temperature_c,
        other_load_a: now.other_load_a,
    });
    let left = held.map_or_else(Vec::new, |held| miles_left(bank, &held, &by_speed));
    let bins = by_speed.iter().map(|bin| SpeedBinView {
        from_kn: bin.from_kn,
        to_kn: bin.to_kn,
        wh_per_nm: BandView::new(bin.wh_per_nm, bin.spread_wh_per_nm),
        minutes: f64::from(bin.minutes),
    });
    let left = left.iter().map(|left| ReachLeftView { speed_kn: left.speed_kn, low: left.low_nm, high: left.high_nm });
    Ok(Some(ReachView { bins: bins.collect(), left_nm: left.collect() }))
}

/// The watch over miles, as the survey left it: no list has what it keeps.
fn miles(reader: &Reader, bank: &str) -> Result<Option<Miles>> {
    let state = reader.survey(bank)?.and_then(|state| serde_json::from_str::<serde_json::Value>(&state.state).ok());
    let kept = state.and_then(|mut state| state.pointer_mut("/watches/miles").map(serde_json::Value::take));
    Ok(kept.and_then(|kept| serde_json::from_value(kept).ok()))
}
