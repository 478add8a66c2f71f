//! What a chemistry's voltage says of its charge, and how far it can be believed. All per cell.

use crate::battery::ocv::OcvCurve;

/// Doubt in the shape of a rest-voltage curve, V a cell, 1 σ each: presets are wrong in their level, in their tilt from
/// empty to full, and in waves along the way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapeDoubt {
    /// Of the whole curve.
    pub level_v: f64,
    /// Of the full end against the empty end.
    pub tilt_v: f64,
    /// Of waves, and how far a wave reaches, in parts of the capacity.
    pub wave_v: f64,
    /// See above.
    pub wave_reach: f64,
    /// Of where the knee at the empty end lies, in parts of the capacity.
    pub knee: f64,
    /// Where the knee begins, state of charge.
    pub knee_below: f64,
}

impl ShapeDoubt {
    /// Covariance of the curve's errors at two states of charge, V² a cell.
    #[must_use]
    pub fn covariance(&self, a: f64, b: f64) -> f64 {
        let wave = (-((a - b) / self.wave_reach).powi(2) / 2.0).exp();
        self.level_v.powi(2) + self.tilt_v.powi(2) * (a - 0.5) * (b - 0.5) + self.wave_v.powi(2) * wave
    }
}

/// Gassing: the current that goes into gas or recombination instead of charge, at 2.23 V and 20 °C, growing with voltage
/// and temperature. Source: Schiffer, Sauer et al., J. Power Sources 168 (2007) 66 (from memory).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gassing {
    /// A per Ah of rated capacity at 2.23 V and 20 °C.
    pub ratio: f64,
    /// Growth with voltage, 1/V.
    pub per_v: f64,
    /// Growth with temperature, 1/K.
    pub per_k: f64,
}

impl Gassing {
    /// Gassing current, A per Ah of rated capacity.
    #[must_use]
    pub fn rate(&self, cell_v: f64, temperature_c: f64) -> f64 {
        self.ratio * (self.per_v * (cell_v - 2.23) + self.per_k * (temperature_c - 20.0)).exp()
    }
}

/// The voltage of a chemistry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VoltagePreset {
    /// Rest voltage against charge.
    pub ocv: OcvCurve,
    /// How far that curve can be wrong.
    pub shape: ShapeDoubt,
    /// Error of the voltage model that comes and goes, V, and for how long it stays, s.
    pub colour_v: f64,
    /// See above.
    pub colour_s: f64,
    /// Part of the doubt of plain counting that no voltage takes away: the curve that corrects the count was learned by the
    /// count, and straight-line algebra is then too sure of both (Julier & Uhlmann, ICRA 2001, on maps and positions).
    pub unlearnable: f64,
    /// Resistance of a cell times its capacity, Ω·Ah, at 25 °C, slow polarisation included.
    pub resistance_ohm_ah: f64,
    /// 1 σ of its natural logarithm.
    pub resistance_ln_std_dev: f64,
    /// Growth of the resistance for each kelvin below 25 °C, ratio.
    pub resistance_per_k: f64,
    /// Growth of diffusion times for each kelvin below 25 °C, ratio.
    pub diffusion_per_k: f64,
    /// Charge put in lifts the voltage for a while after charging stopped, V, decaying over `surface_s`.
    pub surface_v: f64,
    /// See above.
    pub surface_s: f64,
    /// A charger that holds this voltage after a full charge keeps the bank full (float), V.
    pub float_v: f64,
    /// Above this voltage charging says nothing about the charge any more, V.
    pub finishing_v: f64,
    /// Above this state of charge the preset's curve says nothing: its upper knee lies elsewhere in each make.
    pub readable_below: f64,
    /// End of discharge, V.
    pub cut_off_v: f64,
    /// Part of the charge put in that is lost whatever the voltage.
    pub bulk_loss: f64,
    /// Gassing; `None` for sealed chemistry without it.
    pub gassing: Option<Gassing>,
}

/// Knots from [`crate::battery::lead_cell_v`] with the acid's molality falling evenly from 6.5 mol/kg (1.30 at full) to
/// 1.6 mol/kg (1.10 at the end of a 20 h discharge): densities from memory, usual for valve-regulated cells.
const ACID_STARVED: OcvCurve = OcvCurve::from_knots(&[
    (0.0, 1.9555),
    (0.05, 1.9674),
    (0.1, 1.9786),
    (0.2, 1.9997),
    (0.3, 2.0195),
    (0.5, 2.0564),
    (0.7, 2.0906),
    (0.9, 2.1230),
    (1.0, 2.1385),
]);

/// 12 V flooded at 80 °F: 12.65, 12.45, 12.24, 12.06, 11.89 V (read: studylib.net/doc/18054160, "[Source: BCI]").
const ACID_FREE: OcvCurve =
    OcvCurve::from_knots(&[(0.0, 1.9817), (0.25, 2.0100), (0.5, 2.0400), (0.75, 2.0750), (1.0, 2.1083)]);

/// The mean of two published tables, which differ by 20 to 40 mV on the plateau: pseudo rest voltage at C/32, room
/// temperature (read: Sunil, Pattipati & Balasingam, IEEE Trans. Instrum. Meas. 2025), and a hobbyist's table (read: github
/// davidmcq137/JetiLuaDFM); below 1 % the first alone.
const IRON_PHOSPHATE: OcvCurve = OcvCurve::from_knots(&[
    (0.0, 2.0102),
    (0.0033, 2.4177),
    (0.01, 2.788),
    (0.0267, 2.953),
    (0.0534, 3.103),
    (0.0885, 3.174),
    (0.139, 3.202),
    (0.312, 3.259),
    (0.527, 3.287),
    (0.742, 3.308),
    (0.957, 3.334),
    (0.985, 3.43),
    (1.0, 3.594),
]);

/// From memory, usual for cells charged to 4.2 V.
const NICKEL_MANGANESE_COBALT: OcvCurve = OcvCurve::from_knots(&[
    (0.0, 3.00),
    (0.05, 3.40),
    (0.1, 3.50),
    (0.2, 3.58),
    (0.3, 3.63),
    (0.4, 3.67),
    (0.5, 3.73),
    (0.6, 3.82),
    (0.7, 3.92),
    (0.8, 4.02),
    (0.9, 4.10),
    (1.0, 4.20),
]);

/// Valve-regulated lead.
pub const SEALED_LEAD: VoltagePreset = VoltagePreset {
    ocv: ACID_STARVED,
    // Published lead curves differ by 15 mV a cell in level and by 30 to 60 mV at the empty end (compare BCI, the SG + 0.84
    // rule and Bode's formula); waves are assumed.
    shape: ShapeDoubt { level_v: 0.020, tilt_v: 0.050, wave_v: 0.010, wave_reach: 0.25, knee: 0.05, knee_below: 0.4 },
    // About 10 mV a cell over hours (assumed; order of the errors that published filters report).
    colour_v: 0.005,
    colour_s: 2.0 * 3600.0,
    unlearnable: 0.05,
    // 4 to 5 mΩ for a 12 V block of 100 Ah (memory), half as much again for slow polarisation (assumed).
    resistance_ohm_ah: 0.11,
    resistance_ln_std_dev: 0.4,
    // Acid and kinetics: a third more at 0 °C (memory).
    resistance_per_k: 0.013,
    // Diffusion of sulphuric acid, about 2 % a kelvin (memory: activation energy 15 to 18 kJ/mol).
    diffusion_per_k: 0.02,
    // Surface charge: 6 h and more to leave at rest (read: rvsystems.net, lists.ettus.com); size assumed.
    surface_v: 0.030,
    surface_s: 1.5 * 3600.0,
    // Charging above 2.25 V a cell is limited by the charger and by gassing, not by the charge held (common practice).
    finishing_v: 2.25,
    // Float is 2.25 V a cell at 25 °C (read: encyclopedia text, gel 13.05 V to AGM 13.6 V); 50 mV less for warmth and cable.
    float_v: 2.15,
    readable_below: 1.1,
    // 1.75 V a cell (common practice, no source).
    cut_off_v: 1.75,
    // Above 95 % at low states of charge (read: Stevens & Corey, 25th IEEE PVSC, 1996), 98 % over all for thin plates (read:
    // abstract on spiral cells); most of what is lost is gas, below.
    bulk_loss: 0.008,
    gassing: Some(Gassing { ratio: 0.000_2, per_v: 11.0, per_k: 0.06 }),
};

/// Vented lead.
pub const VENTED_LEAD: VoltagePreset = VoltagePreset { ocv: ACID_FREE, bulk_loss: 0.02, ..SEALED_LEAD };

/// Iron phosphate.
pub const LFP: VoltagePreset = VoltagePreset {
    ocv: IRON_PHOSPHATE,
    // Two published tables differ by 20 to 30 mV on the plateau, and its steps lie elsewhere in each cell.
    shape: ShapeDoubt { level_v: 0.016, tilt_v: 0.010, wave_v: 0.012, wave_reach: 0.10, knee: 0.045, knee_below: 0.5 },
    // Hysteresis of 10 to 30 mV that depends on the path (Roscher et al. 2011; Dreyer et al. 2010): half of it each way.
    colour_v: 0.004,
    colour_s: 24.0 * 3600.0,
    // Assumed: a plateau that rises by a millivolt a per cent is a poor map.
    unlearnable: 0.18,
    // 0.3 to 0.4 mΩ for a cell of 280 Ah (memory), slow polarisation included.
    resistance_ohm_ah: 0.10,
    resistance_ln_std_dev: 0.5,
    // A factor of 1.8 at 0 °C (memory).
    resistance_per_k: 0.024,
    diffusion_per_k: 0.024,
    surface_v: 0.010,
    surface_s: 3600.0,
    finishing_v: 3.42,
    // Above any rest voltage but that of the last per cent (see the curve).
    float_v: 3.37,
    readable_below: 0.95,
    // Usual lower limit of data sheets (memory).
    cut_off_v: 2.5,
    // Above 99 % (read: Batteries 5 (2019) 57).
    bulk_loss: 0.002,
    gassing: None,
};

/// Nickel manganese cobalt oxide.
pub const NMC: VoltagePreset = VoltagePreset {
    ocv: NICKEL_MANGANESE_COBALT,
    shape: ShapeDoubt { level_v: 0.020, tilt_v: 0.030, wave_v: 0.015, wave_reach: 0.2, knee: 0.02, knee_below: 0.2 },
    finishing_v: 4.25,
    float_v: 4.1,
    readable_below: 1.1,
    cut_off_v: 3.0,
    ..LFP
};
