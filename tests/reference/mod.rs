//! Against values from outside the project; the source stands beside each check.

mod capacity_test;
mod charging;
mod kalman_vectors;
mod model_traces;
mod peukert;
mod real_vrla;
mod rest_voltage;
mod sensor_drift;
mod temperature;
mod total_least_squares;
mod two_wells;
mod vrla_findings;
