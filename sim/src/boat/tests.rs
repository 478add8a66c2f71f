use super::*;

#[test]
fn explore_voyage() {
    let mut boat = Boat::new(7, 1_782_000_000 - 21 * 86400);
    for s in 0..(22 * 86400) {
        boat.advance(1.0);
        if s % 3600 == 0 {
            let [d, h] = boat.banks();
            println!("{:.3} {:?} {:.1}h D {:.3} {:.2}A {:.2}V {:.1}C | H {:.3} {:.1}A {:.2}V {:.1}C gen {:?} air {:.1} {:?}", boat.elapsed_s / 86400.0, boat.place(), sky::solar_hour(boat.utc_s()), d.soc, d.current_a, d.voltage_v, d.temperature_c, h.soc, h.current_a, h.voltage_v, h.temperature_c, boat.generator.until_soc, boat.sky.air_c(), boat.agenda.drive);
        }
    }
}
