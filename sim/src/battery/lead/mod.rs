//! A lead-carbon monobloc (valve-regulated, acid held in a glass mat): acid diffuses through positive plate, separator and negative plate.
//!
//! Ten control volumes: three in the positive plate, four in the separator, three in the negative plate, and beside them a reservoir of acid that
//! mixes only over hours (acid at the edges of the plates and layered by height). The reaction takes acid from each plate in the stoichiometric
//! shares and spreads over a plate's volumes by their remaining active area. All sizes are per cell; the cells of a block are alike.

mod acid;
mod design;
mod reaction;

use super::chain::{Chain, NODES, Profile};
use super::constants::{FARADAY, HOUR_S};
use super::{Ageing, Monobloc, Terminal};
use design::Design;
use reaction::{Gassing, Plate, Reaction};
use serde::{Deserialize, Serialize};
use std::ops::Range;

const POSITIVE: Range<usize> = 0..3;
const SEPARATOR: Range<usize> = 3..7;
const NEGATIVE: Range<usize> = 7..10;

/// Slow coefficients (diffusivity, areas, spread of the reaction) are renewed after this much simulated time, s.
const RENEWAL_S: f64 = 30.0;

/// A monobloc of lead cells in series.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct LeadBlock {
    design: Design,
    /// Acid concentration in each control volume, mol/l.
    acid: Profile,
    /// Acid concentration in the slow reservoir, mol/l.
    reservoir: f64,
    positive: Plate,
    negative: Plate,
    side_ah: f64,
    voltage_v: f64,
    main_a: f64,
    since_renewal_s: f64,
    /// Capacity and resistance of this block beside the age that it shares with its bank.
    apart: [f64; 2],
    chain: Chain,
    reaction: Reaction,
    relaxed: Profile,
    current_a: f64,
}

impl LeadBlock {
    /// A new, full block of `cells` in series for about `capacity_ah` at the 20 h rate; the factors (near 1) are its spread in capacity,
    /// resistance and self-discharge.
    pub fn new(
        cells: u32,
        capacity_ah: f64,
        capacity_factor: f64,
        resistance_factor: f64,
        self_discharge_factor: f64,
    ) -> Self {
        let design = Design::scaled(cells, capacity_ah, capacity_factor, resistance_factor, self_discharge_factor);
        let mut block = Self {
            acid: [design.full_acid; NODES],
            reservoir: design.full_acid,
            positive: Plate::default(),
            negative: Plate::default(),
            side_ah: 0.0,
            voltage_v: 0.0,
            main_a: 0.0,
            since_renewal_s: f64::MAX,
            apart: [1.0; 2],
            chain: Chain::default(),
            reaction: Reaction::default(),
            relaxed: [design.full_acid; NODES],
            current_a: 0.0,
            design,
        };
        block.prepare(1.0, 25.0, &Ageing::new(super::Wear::lead_carbon()));
        block.voltage_v = block.probe(0.0).voltage_v;
        block
    }

    /// Lets this block age apart from its bank: factors on its active material and on its ohmic resistance, beside the bank's own.
    pub fn age_apart(&mut self, material_factor: f64, resistance_factor: f64) {
        self.apart = [material_factor, resistance_factor];
    }

    /// Renews what changes slowly: diffusion operator, active areas, spread of the reaction, ohmic resistance.
    fn renew(&mut self, dt_s: f64, temperature_c: f64, ageing: &Ageing) {
        let [material, resistance] = self.apart;
        let factor = ageing.capacity_factor() * material;
        self.positive.renew(&self.acid[POSITIVE], self.design.positive_ah * factor, false);
        self.negative.renew(&self.acid[NEGATIVE], self.design.negative_ah * factor, true);
        let conductance = self.design.conductance(&self.acid, self.positive.mean_use(), temperature_c);
        self.chain = Chain::factor(dt_s, &self.design.volume_l, &conductance);
        let mean_acid = self.acid[SEPARATOR].iter().sum::<f64>() / 4.0;
        let resistance_ohm =
            self.design.resistance_ohm(mean_acid, temperature_c) * ageing.resistance_factor() * resistance;
        let gassing = Gassing::new(self.design.gas_a, temperature_c);
        self.reaction = Reaction::new(
            self.positive.exchange(self.design.positive_exchange_a, temperature_c),
            self.negative.exchange(self.design.negative_exchange_a, temperature_c),
            resistance_ohm,
            gassing,
            temperature_c,
        );
        for charging in [false, true] {
            let response = self.chain.response(&self.source(charging));
            self.reaction.set_response(charging, response);
        }
        self.since_renewal_s = 0.0;
    }

    /// Acid set free in each volume by one ampere of charging, mol/s.
    fn source(&self, charging: bool) -> Profile {
        let mut source = [0.0; NODES];
        let plates = [
            (POSITIVE, &self.positive, design::POSITIVE_SHARE),
            (NEGATIVE, &self.negative, 1.0 - design::POSITIVE_SHARE),
        ];
        for (range, plate, share) in plates {
            for (value, part) in source[range].iter_mut().zip(plate.spread(charging)) {
                *value = share * part / FARADAY;
            }
        }
        source
    }

    /// Mixes the reservoir with the middle of the separator, which takes hours.
    fn mix_reservoir(&mut self, dt_s: f64) {
        let middle = SEPARATOR.start + 1;
        let moved = self.design.mixing_l_per_s * dt_s * (self.acid[middle] - self.reservoir);
        self.acid[middle] -= moved / self.design.volume_l[middle];
        self.reservoir += moved / self.design.reservoir_l;
    }
}

impl Monobloc for LeadBlock {
    fn prepare(&mut self, dt_s: f64, temperature_c: f64, ageing: &Ageing) {
        self.since_renewal_s += dt_s;
        let same_step = (self.chain.dt_s() - dt_s).abs() < 1e-9;
        if self.since_renewal_s >= RENEWAL_S || !same_step {
            self.renew(dt_s, temperature_c, ageing);
        }
        self.relaxed = self.chain.relax(&self.acid);
        let positive = self.positive.probe(&self.relaxed[POSITIVE]);
        let negative = self.negative.probe(&self.relaxed[NEGATIVE]);
        let (up, up_slope) = acid::positive_potential(positive);
        let (un, un_slope) = acid::negative_potential(negative);
        let slope_at = |charging: bool| {
            let response = self.reaction.response(charging);
            up_slope * self.positive.probe(&response[POSITIVE]) - un_slope * self.negative.probe(&response[NEGATIVE])
        };
        let slopes = [slope_at(false), slope_at(true)];
        self.reaction.set_equilibrium(up - un, slopes);
    }

    fn probe(&mut self, current_a: f64) -> Terminal {
        let solved = self.reaction.solve(current_a, self.main_a);
        self.current_a = current_a;
        self.main_a = solved.main_a;
        let cells = f64::from(self.design.cells);
        self.voltage_v = cells * solved.voltage_v;
        Terminal { voltage_v: self.voltage_v, slope_ohm: cells * solved.slope_ohm }
    }

    fn commit(&mut self, dt_s: f64) -> f64 {
        let main_a = self.main_a;
        let response = self.reaction.response(main_a > 0.0);
        for ((acid, relaxed), gain) in self.acid.iter_mut().zip(&self.relaxed).zip(response) {
            *acid = relaxed + main_a * gain;
        }
        let moved_ah = main_a * dt_s / HOUR_S;
        self.positive.charge(moved_ah);
        self.negative.charge(moved_ah);
        self.side_ah += (self.current_a - main_a) * dt_s / HOUR_S;
        self.mix_reservoir(dt_s);
        let cells = f64::from(self.design.cells);
        self.current_a * self.voltage_v - main_a * cells * self.reaction.equilibrium_v(main_a)
    }

    fn discharged_ah(&self) -> f64 {
        self.positive.sulphate_ah()
    }

    fn side_ah(&self) -> f64 {
        self.side_ah
    }

    fn voltage_v(&self) -> f64 {
        self.voltage_v
    }

    fn fill(&mut self) {
        self.acid = [self.design.full_acid; NODES];
        self.reservoir = self.design.full_acid;
        self.positive = Plate::default();
        self.negative = Plate::default();
        self.main_a = 0.0;
        self.since_renewal_s = f64::MAX;
    }
}
