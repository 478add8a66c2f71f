//! Use by the months of the boat's zone.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::stored::Dated;
use super::use_views::MonthView;
use crate::health::UseDay;

/// One for each month with a day of use. A day belongs to the month in which it began.
pub(super) fn months(days: &[Dated<UseDay>], zone: &TimeZone) -> Vec<MonthView> {
    let mut months: BTreeMap<String, MonthView> = BTreeMap::new();
    for day in days {
        let Ok(begin) = Timestamp::from_millisecond(day.to.0) else { continue };
        let month = begin.to_zoned_datetime(zone.clone()).strftime("%Y-%m").to_string();
        let view = months.entry(month.clone()).or_insert(MonthView {
            month,
            charge_out_ah: 0.0,
            lowest_soc: None,
            full_days: 0,
        });
        view.charge_out_ah += day.it.charge_out_ah;
        view.lowest_soc = [view.lowest_soc, day.it.lowest_soc].into_iter().flatten().reduce(f64::min);
        view.full_days += u32::from(day.it.full_s > 0.0);
    }
    months.into_values().collect()
}
