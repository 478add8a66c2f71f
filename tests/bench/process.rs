//! What the kernel counts of a process (`/proc`, proc(5)).

/// Kernel ticks per second; 100 on every Linux architecture that taffrail is built for (`getconf CLK_TCK`).
const TICKS_PER_S: f64 = 100.0;

/// User and system time so far, s: fields 14 and 15 of `stat`.
pub fn cpu_s(pid: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).expect("the daemon runs");
    let after_name = stat.rsplit_once(')').expect("a name in brackets").1;
    let ticks = after_name.split_whitespace().skip(11).take(2);
    ticks.map(|field| field.parse::<f64>().expect("a count")).sum::<f64>() / TICKS_PER_S
}

/// A figure of `status` in MB, such as `VmRSS:`.
pub fn status_mb(pid: u32, key: &str) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).expect("the daemon runs");
    let line = status.lines().find(|line| line.starts_with(key)).expect("the kernel tells it");
    let kib: f64 = line.split_whitespace().nth(1).and_then(|n| n.parse().ok()).expect("a number of kB");
    kib * 1024.0 / 1e6
}
