//! reckoning
