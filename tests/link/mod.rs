//! Devices on pseudo-terminals and recorded logs.
