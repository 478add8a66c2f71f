//! sim
pub mod battery;
pub mod boat;
pub mod fault;
pub mod pty;
pub mod shunt;
pub mod wire;
