//! From what was counted between two ends to a finding: both ends' doubt, the sensor's, and the laws that bring it to the
//! rated hours and 25 °C.

use super::evidence::Evidence;
use super::leg::{Leg, efficiency_below_full, efficiency_between};
use super::rest::Rest;
use crate::battery::{Bank, RateSource};
use crate::health::record::{CapacityFinding, Span, Watched};
use crate::quantity::{Estimate, Moment};

/// How well two discharges to the same cut-off agree, 1 σ, ratio. Read: two 1 A discharges of a 17 Ah unit, 1.6 days and
/// 3 K apart, gave 18.97 and 18.29 Ah (V. Sulzer et al., J. Electrochem. Soc. 166 (2019), the data's own notes): 1.8 % when
/// temperature is allowed for; in use the load and the way there differ too.
const CUT_OFF_REPEATS: f64 = 0.02;
/// How well two capacity tests agree, 1 σ, ratio (assumed: a steady load, a rested bank; half of what ordinary discharges show).
pub const TEST_REPEATS: f64 = 0.01;
/// What a load drops beside the charge it leaves behind, for each A per Ah, ratio (assumed, as the empty fix).
const CUT_OFF_RATE: f64 = 0.06;
/// 1 σ of the correction by a law of temperature, part of it (the published ones differ by more than half of it at 10 °C and slow
/// rates).
const LAW_DOUBT: f64 = 0.5;
/// What the laws of rate and temperature take is less sure the more a bank has lost: they were read on banks as new, and a
/// worn plate may give what is left of it at any rate. Part of the correction for each part of the capacity lost (assumed).
const WORN_DOUBT: f64 = 2.0;
/// 1 σ of a temperature that nobody measures, K, about 20 °C (assumed).
const UNKNOWN_C: (f64, f64) = (20.0, 7.0);

/// A discharge to the cut-off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToCutOff {
    /// Charge drawn since full, Ah.
    pub drawn_ah: f64,
    /// Variance of it that is its own, Ah².
    pub drawn_variance_ah2: f64,
    /// Charge that came in on the way, Ah (≥ 0).
    pub charged_ah: f64,
    /// Time since full, h.
    pub hours_since_full: f64,
    /// Load, A.
    pub load_a: f64,
    /// Load of the last hour, A.
    pub recent_a: f64,
    /// Temperature, °C.
    pub temperature_c: Option<f64>,
}

/// What was measured between two ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The finding, before all findings are combined.
    pub finding: CapacityFinding,
    /// The same as evidence.
    pub evidence: Evidence,
}

impl Measured {
    /// From full to the cut-off: the charge is the capacity at this load and temperature, and the laws say what part of
    /// the capacity at the rated hours and 25 °C that is. The rest is still held, and comes out at a gentler load.
    #[must_use]
    pub fn to_cut_off(bank: &Bank, watched: Watched, span: Span, run: ToCutOff) -> Measured {
        let rated_ah = bank.rated_capacity_ah;
        let hours = run.drawn_ah / run.load_a;
        let (temperature_c, doubt_c) = run.temperature_c.map_or(UNKNOWN_C, |c| (c, 0.0));
        let law = |c: f64| bank.temperature_law.capacity_factor(c, hours);
        let factor = law(temperature_c);
        // The rate is that of the bank as it is now: its load against its own capacity.
        let at_load = |load_a: f64| {
            let mut capacity_ah = run.drawn_ah / factor;
            for _ in 0..20 {
                capacity_ah = run.drawn_ah / (bank.rate_curve.capacity_ratio(load_a / capacity_ah) * factor);
            }
            (bank.rate_curve.capacity_ratio(load_a / capacity_ah), load_a / capacity_ah)
        };
        // What a load leaves behind is told by the last hour of it; a load that changed leaves both possible.
        let ((ratio, rate), (of_all, _)) = (at_load(run.recent_a.max(f64::MIN_POSITIVE)), at_load(run.load_a));
        let fall = ratio * factor;
        let repeats = if watched == Watched::Test { TEST_REPEATS } else { CUT_OFF_REPEATS };
        let lost = (1.0 - run.drawn_ah / fall / rated_ah).clamp(0.0, 1.0);
        let own = [
            WORN_DOUBT * lost * (1.0 - fall),
            bank.full.soc_std_dev,
            repeats * fall,
            CUT_OFF_RATE * rate,
            (ratio - of_all) / 2.0 * factor,
            LAW_DOUBT * (1.0 - factor) * ratio,
            (law(temperature_c + doubt_c) - law(temperature_c - doubt_c)) / 2.0 * ratio,
        ];
        let evidence = Evidence {
            fall,
            fall_variance: own.iter().map(|x| x * x).sum(),
            drawn: run.drawn_ah / rated_ah,
            drawn_variance: run.drawn_variance_ah2 / (rated_ah * rated_ah),
            charged: run.charged_ah / rated_ah,
            topped: 0.0,
            offset_h: run.hours_since_full,
            rate: bank.rate_curve.capacity_ratio_std_dev(rate) * factor,
            rests: Vec::new(),
        };
        let ends = bank.full.soc_std_dev.hypot(repeats) * run.drawn_ah;
        let raw_ah = Estimate { value: run.drawn_ah, std_dev: count_std_dev_ah(bank, &evidence).hypot(ends) };
        let law = format!("{}; {}", rate_law(bank), bank.temperature_law.title());
        let of = Of { watched, span, load_a: run.load_a, temperature_c: run.temperature_c, raw_ah: Some(raw_ah), law };
        Measured::new(bank, evidence, of)
    }

    /// Between two ends that are both on the scale of the rated hours and 25 °C, full or a rest: charge over fall is the
    /// capacity there, and no law is needed.
    #[must_use]
    pub fn to_rest(bank: &Bank, from: Option<&Rest>, to: &Rest, leg: &Leg, at: Moment) -> Measured {
        let rated_ah = bank.rated_capacity_ah;
        let mut rests = vec![to.end(-1.0)];
        rests.extend(from.map(|rest| rest.end(1.0)));
        let drawn_ah = leg.drawn_ah(bank, efficiency_below_full(bank));
        let evidence = Evidence {
            fall: if from.is_some() { 0.0 } else { 1.0 },
            fall_variance: if from.is_some() { 0.0 } else { bank.full.soc_std_dev.powi(2) },
            drawn: drawn_ah / rated_ah - to.since + from.map_or(0.0, |rest| rest.since),
            drawn_variance: leg.own_variance_ah2(bank) / (rated_ah * rated_ah),
            charged: leg.in_ah / rated_ah,
            topped: 0.0,
            offset_h: leg.hours(),
            rate: 0.0,
            rests,
        };
        let watched = if from.is_some() { Watched::RestToRest } else { Watched::FullToRest };
        Measured::by_rests(bank, watched, Span { from: leg.from, to: at }, leg, evidence)
    }

    /// From full to a rest and up to full again: what the way down and the way up say of the same charge, each as sure as it
    /// is. A sensor's offset makes one of them too long and the other too short.
    #[must_use]
    pub fn both_ways(bank: &Bank, rest: &Rest, down: &Leg, up: &Leg, at: Moment) -> Measured {
        let mut measured = Measured::to_rest(bank, None, rest, down, up.from);
        let (rated_ah, offset) = (bank.rated_capacity_ah, bank.sensor.offset_a / bank.rated_capacity_ah);
        let efficiency = efficiency_between(bank, rest.soc.clamp(0.0, 0.99), 1.0);
        // The middle of the rest's mean lies before the way up begins.
        let rise = -up.drawn_ah(bank, efficiency) / rated_ah - rest.since;
        let rise_variance = up.variance_ah2(bank) / (rated_ah * rated_ah);
        let own_rise_variance = up.own_variance_ah2(bank) / (rated_ah * rated_ah);
        let evidence = &mut measured.evidence;
        let (a, b) = (offset * evidence.offset_h, offset * up.hours());
        let weight = (b * (a + b) + rise_variance) / ((a + b).powi(2) + evidence.drawn_variance + rise_variance);
        let weight = if weight.is_finite() { weight.clamp(0.0, 1.0) } else { 1.0 };
        evidence.drawn = weight * evidence.drawn + (1.0 - weight) * rise;
        evidence.drawn_variance =
            weight * weight * evidence.drawn_variance + (1.0 - weight) * (1.0 - weight) * own_rise_variance;
        evidence.charged *= weight;
        evidence.topped = (1.0 - weight) * up.in_ah / rated_ah;
        evidence.offset_h = weight * evidence.offset_h - (1.0 - weight) * up.hours();
        let evidence = measured.evidence;
        Measured::by_rests(bank, Watched::FullToFull, Span { from: down.from, to: at }, down, evidence)
    }

    fn by_rests(bank: &Bank, watched: Watched, span: Span, leg: &Leg, evidence: Evidence) -> Measured {
        let (load_a, temperature_c) = (leg.load_a(), leg.temperature_c());
        let of = Of { watched, span, load_a, temperature_c, raw_ah: None, law: NO_LAW.to_owned() };
        Measured::new(bank, evidence, of)
    }

    fn new(bank: &Bank, evidence: Evidence, of: Of) -> Measured {
        let charge_ah = evidence.drawn * bank.rated_capacity_ah;
        let soc_fall = evidence.fall_by_preset(bank);
        let count_ah = count_std_dev_ah(bank, &evidence);
        let rated_ah = charge_ah / soc_fall.value;
        let std_dev = (count_ah / charge_ah).hypot(soc_fall.std_dev / soc_fall.value) * rated_ah;
        let rated_ah = Estimate { value: rated_ah, std_dev };
        let raw_ah = of.raw_ah.unwrap_or(rated_ah);
        let finding = CapacityFinding {
            watched: of.watched,
            span: of.span,
            charge_ah,
            soc_fall,
            load_a: of.load_a,
            hours: raw_ah.value / of.load_a,
            temperature_c: of.temperature_c,
            raw_ah,
            rated_ah,
            law: of.law,
            combined_ah: None,
            corrected_ah: None,
            onward: None,
            believed: true,
        };
        Measured { finding, evidence }
    }

    /// 1 σ of the capacity that it tells by itself, ratio.
    #[must_use]
    pub fn doubt(&self) -> f64 {
        self.finding.rated_ah.std_dev / self.finding.rated_ah.value
    }

    /// 1 σ of the charge as counted, Ah.
    #[must_use]
    pub fn count_std_dev_ah(&self, bank: &Bank) -> f64 {
        count_std_dev_ah(bank, &self.evidence)
    }

    /// Part of the sensor's offset in the variance that is this finding's own: what is wrong with the curve or the rate is
    /// left out, other findings tell of it.
    #[must_use]
    pub fn of_offset(&self, bank: &Bank) -> f64 {
        let Evidence { drawn, drawn_variance, fall_variance, offset_h, .. } = self.evidence;
        let losses = (self.evidence.losses_std_dev(bank) / drawn).powi(2);
        let offset = (bank.sensor.offset_a / bank.rated_capacity_ah * offset_h / drawn).powi(2);
        let other = fall_variance / self.finding.soc_fall.value.powi(2) + drawn_variance / (drawn * drawn) + losses;
        offset / (offset + other)
    }
}

/// What a finding says beside its evidence.
struct Of {
    watched: Watched,
    span: Span,
    load_a: f64,
    temperature_c: Option<f64>,
    raw_ah: Option<Estimate>,
    law: String,
}

const NO_LAW: &str = "no law: full and rest belong to the rated hours and 25 °C";

/// 1 σ of the charge as counted, Ah: offset by time, gain by charge, losses by what came in, and what is its own.
fn count_std_dev_ah(bank: &Bank, evidence: &Evidence) -> f64 {
    let drawn_ah = evidence.drawn * bank.rated_capacity_ah;
    let own_ah = evidence.drawn_variance.sqrt() * bank.rated_capacity_ah;
    let losses_ah = evidence.losses_std_dev(bank) * bank.rated_capacity_ah;
    own_ah.hypot(losses_ah).hypot(bank.sensor.offset_a * evidence.offset_h).hypot(bank.sensor.gain * drawn_ah)
}

/// By which law a capacity at another rate is brought to the rated hours.
fn rate_law(bank: &Bank) -> String {
    match bank.rate_curve.source() {
        RateSource::Exponent(exponent) => {
            format!("Peukert exponent {exponent:.3} from the {} h rate", bank.rated_hours)
        }
        RateSource::Table(_) => format!("described capacities against rate from the {} h rate", bank.rated_hours),
    }
}
