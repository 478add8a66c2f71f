//! The two banks of the motor-sailer Marigold, each monobloc a little different from the next.

use super::{Ageing, Bank, BankSpec, LeadBlock, LithiumCell, ThermalMass, Wear};
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

/// 1 with a spread (1 sigma), bound at three sigma so that no monobloc is absurd.
fn near_one(rng: &mut impl Rng, sigma: f64) -> f64 {
    let deviation: f64 = StandardNormal.sample(rng);
    1.0 + sigma * deviation.clamp(-3.0, 3.0)
}

/// The 48 V drive bank: four lead-carbon monoblocs of six cells, 120 Ah at 20 h, full.
pub fn drive_bank(rng: &mut impl Rng, temperature_c: f64) -> Bank<LeadBlock> {
    aged_drive_bank(rng, temperature_c, Ageing::new(Wear::lead_carbon()))
}

/// The drive bank under another law of ageing.
pub fn aged_drive_bank(rng: &mut impl Rng, temperature_c: f64, ageing: Ageing) -> Bank<LeadBlock> {
    let blocks = (0..4)
        .map(|_| LeadBlock::new(6, 120.0, near_one(rng, 0.01), near_one(rng, 0.05), near_one(rng, 0.15)))
        .collect();
    // Four cases of about 35 kg at 0.9 kJ/(kg K), in a ventilated locker (assumed).
    let thermal = ThermalMass::new(temperature_c, 126e3, 7.0);
    let spec = BankSpec { rated_capacity_ah: 120.0, empty_v: 42.0, monobloc_max_v: 15.6, monobloc_min_v: 9.9 };
    Bank::new(spec, blocks, thermal, ageing)
}

/// The 25.6 V house bank: eight lithium iron phosphate cells, 280 Ah, nearly full.
pub fn house_bank(rng: &mut impl Rng, temperature_c: f64) -> Bank<LithiumCell> {
    let cells = (0..8)
        .map(|_| {
            let missing = 0.01 * near_one(rng, 0.15);
            LithiumCell::new(284.0 * near_one(rng, 0.005), near_one(rng, 0.05), near_one(rng, 0.2), missing)
        })
        .collect();
    // Eight cells of about 5.4 kg at 1 kJ/(kg K), in a closed box (assumed).
    let thermal = ThermalMass::new(temperature_c, 43e3, 2.5);
    let spec = BankSpec { rated_capacity_ah: 280.0, empty_v: 20.8, monobloc_max_v: 3.65, monobloc_min_v: 2.5 };
    Bank::new(spec, cells, thermal, Ageing::new(Wear::lithium_iron_phosphate()))
}
