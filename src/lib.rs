//! taffrail
