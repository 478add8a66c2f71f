//! Against values from outside the project; the source stands beside each check.

mod charging;
mod kalman_vectors;
mod model_traces;
mod passages;
mod peukert;
mod real_vrla;
mod rest_voltage;
mod sensor_drift;
mod temperature;
mod two_wells;
