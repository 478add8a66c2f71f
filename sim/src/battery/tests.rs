use super::*;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

fn drive() -> Bank<LeadBlock> {
    drive_bank(&mut ChaCha8Rng::seed_from_u64(1), 25.0)
}
fn house() -> Bank<LithiumCell> {
    house_bank(&mut ChaCha8Rng::seed_from_u64(1), 25.0)
}

#[test]
fn explore() {
    let d = drive();
    println!("C20 {}", d.true_capacity_ah());
    for h in [100.0, 20.0, 10.0, 5.0, 3.0, 1.0, 0.5] {
        let i = 120.0 * match h { 100.0 => 0.01, 20.0 => 0.05, 10.0 => 0.095, 5.0 => 0.18, 3.0 => 0.27, 1.0 => 0.7, _ => 1.3 };
        let c = d.deliverable_ah(i, 25.0);
        println!("lead i {i} c {c} hours {} at 0C {}", c / i, d.deliverable_ah(i, 0.0));
    }
    let mut b = d.clone();
    for s in 0..11 {
        for _ in 0..2880 { b.step(30.0, Request::current(0.0), 25.0); }
        println!("rest soc {:.3} v {:.4}", b.true_soc(), b.voltage_v() / 4.0);
        if s < 10 { for _ in 0..7200 { b.step(1.0, Request::current(-6.0), 25.0); } }
    }
    // charge
    let mut t = 0.0;
    for k in 0..16 {
        for _ in 0..3600 { b.step(1.0, Request { current_a: 24.0, floor_a: 0.0, max_charge_v: 57.6, min_discharge_v: 0.0 }, 25.0); t += 1.0; }
        println!("charge h {} i {:.3} v {:.3} soc {:.4} T {:.2} side {:.3}", k + 1, b.current_a(), b.voltage_v(), b.true_soc(), b.temperature_c(), b.side_ah());
    }
    let _ = t;
    let mut b = d.clone();
    let out = b.drain_ah(96.0, 25.0);
    println!("hard run out {out} v {} soc {}", b.voltage_v(), b.true_soc());
    for k in 0..12 { for _ in 0..1800 { b.step(1.0, Request::current(0.0), 25.0); } println!("rest {} min {:.3}", (k + 1) * 30, b.voltage_v()); }
    println!("C/10 then {}", b.drain_ah(12.0, 25.0));
    let h = house();
    println!("house C20 {}", h.true_capacity_ah());
    for c in [0.05, 0.2, 0.5, 1.0] {
        println!("lfp {c} {} at 0C {}", h.deliverable_ah(280.0 * c, 25.0), h.deliverable_ah(280.0 * c, 0.0));
    }
    let mut b = h.clone();
    for _ in 0..20 { for _ in 0..3600 { b.step(1.0, Request::current(-13.5), 25.0); } println!("lfp soc {:.3} v {:.4}", b.true_soc(), b.voltage_v() / 8.0); }
    for _ in 0..12 { for _ in 0..3600 { b.step(1.0, Request { current_a: 40.0, floor_a: 0.0, max_charge_v: 28.4, min_discharge_v: 0.0 }, 25.0); } println!("lfp ch soc {:.4} v {:.4} i {:.3} {:?}", b.true_soc(), b.voltage_v() / 8.0, b.current_a(), b.monobloc_voltages_v().collect::<Vec<_>>()); }
}

#[test]
fn speed() {
    let mut d = drive();
    let mut h = house();
    let t = std::process::Command::new("date").arg("+%s.%N").output();
    for k in 0..1_814_400 { 
        let phase = k % 86400;
        let (i, j) = if phase < 20000 { (-10.0, -20.0) } else if phase < 60000 { (24.0, 40.0) } else { (-1.0, -3.0) };
        d.step(1.0, Request { current_a: i, floor_a: -1.0, max_charge_v: 57.6, min_discharge_v: 42.0 }, 20.0);
        h.step(1.0, Request { current_a: j, floor_a: -1.0, max_charge_v: 28.2, min_discharge_v: 22.0 }, 20.0);
    }
    let t2 = std::process::Command::new("date").arg("+%s.%N").output();
    println!("{} {} {:?} {:?}", d.true_soc(), h.true_soc(), t, t2);
}
