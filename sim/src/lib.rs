//! The simulated boat: the truth that an estimator is judged against, and the devices that a demo reads.
//!
//! It imports nothing from `taffrail`, and its batteries are of a different class than any estimator's: their inner state is concentration, moved by
//! diffusion, and no circuit, well or exponent. Positive current charges a bank; suffixes give units; SoC is a ratio 0..1.
//!
//! | module | what it holds | equations |
//! |---|---|---|
//! | [`battery`] | banks of monoblocs: capacity, state of charge, heat, age | |
//! | `battery::chain` | diffusion along ten control volumes, implicit in time | Fick's second law, finite volumes, backward Euler, Thomas algorithm |
//! | `battery::lead` | acid through positive plate, separator, negative plate, and a slow reservoir | electrode potentials: Bode, Lead-Acid Batteries, Wiley 1977; kinetics: Butler-Volmer with symmetric transfer; gas: Tafel's law; porosity: Bruggeman's exponent |
//! | `battery::lithium` | lithium through a sphere's shells, staging curve, hysteresis | Fick in a sphere; Butler-Volmer; first-order hysteresis in charge moved |
//! | `battery::ageing` | fade by cycles, years, warmth and low charge | linear laws, doubling each 10 K; or as told |
//! | [`boat`] | voyage plan, weather, loads, chargers, the devices aboard | declination: Cooper 1969; clear sky: Haurwitz 1945; weather: first-order autoregression |
//! | [`life`] | ten years with one drive bank: plan, fade, one weak monobloc, what the devices report | age by script; propeller: power with the cube of speed |
//! | [`shunt`] | gain, offset, noise and steps of what is reported | |
//! | [`wire`] | encoders of the wire formats | |
//! | [`fault`] | drop-outs, spikes, garbage, stuck channels, unplugging, clock steps | |
//! | [`pty`] | a pseudo-terminal that stands for a serial port | |
//!
//! The reaction is spread over a plate's volumes by active area and nearness and not by solving the potential in the pores; the cells of a lead monobloc are
//! alike; reversible heat is left out; a bank has one temperature. Parameters are assumed, chosen for plausible behaviour, and fitted to no record.
//!
//! ```
//! let mut boat = sim::boat::Boat::new(7, 1_780_272_000);
//! boat.advance(3600.0);
//! let mut values = Vec::new();
//! boat.read(0, &mut values);
//! assert_eq!(values.len(), boat.devices()[0].channels.len());
//! ```

pub mod battery;
pub mod boat;
pub mod fault;
pub mod life;
pub mod pty;
pub mod shunt;
pub mod wire;
