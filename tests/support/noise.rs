//! Seeded chance.

/// Uniform bits by the splitmix64 recurrence (Steele, Lea & Flood 2014), normal numbers by Box and Muller (1958).
#[derive(Debug, Clone)]
pub struct Noise(pub u64);

impl Noise {
    /// Mean 0, 1 σ of 1.
    pub fn normal(&mut self) -> f64 {
        let (radius, turn) = (self.uniform(), self.uniform());
        (-2.0 * radius.ln()).sqrt() * (std::f64::consts::TAU * turn).cos()
    }

    /// Above 0, up to 1.
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        bits ^= bits >> 31;
        (f64::from(u32::try_from(bits >> 32).expect("32 bits")) + 1.0) / (f64::from(u32::MAX) + 1.0)
    }
}
