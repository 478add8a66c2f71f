//! Against values from outside the project; the source stands beside each check.

mod ageing;
mod capacity_test;
mod charging;
mod fade_cells;
mod kalman_vectors;
mod load_steps;
mod model_traces;
mod passages;
mod peukert;
mod rainflow;
mod real_vrla;
mod rest_voltage;
mod sensor_drift;
mod temperature;
mod theil_sen;
mod total_least_squares;
mod two_wells;
mod unit_in_use;
mod ventilation;
mod vrla_findings;
