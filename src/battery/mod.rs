//! battery
