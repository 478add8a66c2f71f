//! What is known beside the charge: what comes out, how long it lasts at a load, what was learned, what corrected it.

use super::*;
use taffrail::clock::When;
use taffrail::quantity::Estimate;
use taffrail::reckoning::{Bound, FixKind, Learned};

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// A bank that draws `load_a` and holds `held_ah` of its 120 Ah.
fn drawing(boat: &Boat, load_a: f64, held_ah: f64) {
    boat.change(|state| {
        let reckoned = &mut state.reckoned;
        reckoned.mean_current_a = Some(-load_a);
        reckoned.held_ah = held_ah;
        reckoned.held_band_ah = Band { low: held_ah - 3.0, high: held_ah + 3.0 };
        reckoned.soc = held_ah / 120.0;
        reckoned.temperature_c = Some(25.0);
    });
}

#[tokio::test]
async fn a_counter_has_learned_nothing_and_says_so() {
    let now = Boat::afloat().json("/api/v1/banks/house/now").await;
    assert!(now.as_object().expect("an object").contains_key("learned"));
    assert!(now["learned"].is_null());
}

#[tokio::test]
async fn each_learned_quantity_has_value_band_unit_and_since_when() {
    let boat = Boat::afloat();
    let estimate = |value, std_dev| Estimate { value, std_dev };
    boat.change(|state| {
        state.reckoned.learned = Some(Learned {
            capacity_ah: estimate(112.0, 1.5),
            charge_efficiency: estimate(0.93, 0.01),
            sensor_offset_a: estimate(-0.04, 0.01),
            resistance_25_ohm: estimate(0.021, 0.002),
            ocv_shift_v: estimate(0.1, 0.05),
        });
        state.learned_since = [Some(When::Past(UtcMs(MAY))), None, Some(When::Running(MonoMs(HOUR))), None, None];
    });
    let now = boat.json("/api/v1/banks/house/now").await;
    let learned = now["learned"].as_array().expect("a list");
    let expected = [
        ("capacity_ah", "Ah", 112.0, 1.5, Some("2026-05-01T00:00:00Z")),
        ("charge_efficiency", "1", 0.93, 0.01, None),
        ("sensor_offset_a", "A", -0.04, 0.01, Some("2026-05-01T01:00:00Z")),
        ("resistance_25_ohm", "Ω", 0.021, 0.002, None),
        ("ocv_shift_v", "V", 0.1, 0.05, None),
    ];
    assert_eq!(learned.len(), expected.len());
    for (shown, (quantity, unit, value, std_dev, since)) in learned.iter().zip(expected) {
        assert_eq!((shown["quantity"].as_str(), shown["unit"].as_str()), (Some(quantity), Some(unit)));
        assert!((number(&shown["value"]) - value).abs() < 1e-12);
        let half = [number(&shown["high"]) - value, value - number(&shown["low"])];
        assert!(half.iter().all(|half| (half - 1.96 * std_dev).abs() < 1e-3 * std_dev), "{quantity}: {half:?}");
        assert_eq!(shown["since"].as_str(), since, "{quantity}");
    }
}

#[tokio::test]
async fn the_last_fix_says_what_it_did() {
    let boat = Boat::afloat();
    boat.change(|state| state.last_fix = Some((FixKind::Hand, When::Past(UtcMs(MAY)), "stated: full".to_owned())));
    let now = boat.json("/api/v1/banks/house/now").await;
    let expected = serde_json::json!({"kind": "hand", "time": "2026-05-01T00:00:00Z", "text": "stated: full"});
    assert_eq!(now["last_fix"], expected);
}

#[tokio::test]
async fn while_charging_what_comes_out_depends_on_the_load_that_follows() {
    let deliverable = &Boat::afloat().json("/api/v1/banks/house/now").await["deliverable"];
    for key in ["load_a", "charge_ah", "low_ah", "high_ah"] {
        assert!(deliverable[key].is_null(), "{key}");
    }
    assert!((number(&deliverable["held_ah"]) - 99.4).abs() < 1.5, "{deliverable}");
    assert!(deliverable["text"].as_str().expect("a text").contains("is charging and holds"));
}

#[tokio::test]
async fn at_rest_the_text_says_how_soon_the_bound_charge_is_back() {
    let boat = Boat::afloat();
    drawing(&boat, 0.0, 30.0);
    let text = boat.json("/api/v1/banks/house/now").await["deliverable"]["text"].clone();
    assert!(text.as_str().expect("a text").contains("depends on the load"), "{text}");
    boat.change(|state| state.reckoned.bound = Bound { charge_ah: 18.0, relax_per_s: 0.001, ..Bound::default() });
    let deliverable = &boat.json("/api/v1/banks/house/now").await["deliverable"];
    assert!((number(&deliverable["bound_ah"]) - 18.0).abs() < 1e-9);
    // ln 2 / 0.001 s = 693 s.
    let text = deliverable["text"].as_str().expect("a text");
    assert!(text.contains("18 Ah of the 30 Ah") && text.contains("12 min"), "{text}");
}

#[tokio::test]
async fn a_hard_run_may_give_nothing_while_a_gentle_load_still_gets_much() {
    let boat = Boat::afloat();
    drawing(&boat, 240.0, 20.0);
    let hard = &boat.json("/api/v1/banks/house/now").await["deliverable"];
    assert!((number(&hard["load_a"]) - 240.0).abs() < 1e-9);
    assert!(number(&hard["charge_ah"]) < 0.6 && (number(&hard["held_ah"]) - 20.0).abs() < 1e-9, "{hard}");
    let text = hard["text"].as_str().expect("a text");
    assert!(text.contains("nothing comes out now") && text.contains("17 %") && text.contains("rest"), "{text}");

    boat.change(|state| state.reckoned.temperature_c = Some(2.0));
    let cold = &boat.json("/api/v1/banks/house/now").await["deliverable"];
    assert!(cold["text"].as_str().expect("a text").contains("warmth"), "{cold}");

    drawing(&boat, 60.0, 60.0);
    let part = &boat.json("/api/v1/banks/house/now").await["deliverable"];
    let (low, likely, high) = (number(&part["low_ah"]), number(&part["charge_ah"]), number(&part["high_ah"]));
    assert!(0.0 < low && low < likely && likely < high && likely < 56.4, "{part}");
    assert!(part["text"].as_str().expect("a text").contains("stays behind"), "{part}");

    drawing(&boat, 3.0, 60.0);
    let gentle = &boat.json("/api/v1/banks/house/now").await["deliverable"];
    assert!(number(&gentle["charge_ah"]) > 57.0, "{gentle}");
    assert!(gentle["text"].as_str().expect("a text").contains("nearly all"), "{gentle}");
}

#[tokio::test]
async fn endurance_at_a_chosen_load_is_a_range_that_shrinks_with_the_load() {
    let boat = Boat::afloat();
    let mut before = f64::INFINITY;
    for load_a in [3.0, 6.0, 20.0, 60.0] {
        let lasts = boat.json(&format!("/api/v1/banks/house/endurance?load_a={load_a}")).await;
        assert!((number(&lasts["load_a"]) - load_a).abs() < 1e-9);
        assert!((number(&lasts["temperature_c"]) - 20.0).abs() < 1e-9);
        for what in ["empty", "reserve"] {
            let [low, likely, high] = ["low_s", "s", "high_s"].map(|end| number(&lasts[format!("{what}_{end}")]));
            assert!(0.0 < low && low < likely && likely < high, "{what}: {low} {likely} {high}");
        }
        let empty_s = number(&lasts["empty_s"]);
        assert!(number(&lasts["reserve_s"]) < empty_s && empty_s < before, "{lasts}");
        // What comes out is the load times the time it lasts.
        assert!((number(&lasts["deliverable_ah"]) - load_a * empty_s / 3600.0).abs() < 1e-6);
        assert!(lasts["text"].as_str().expect("a text").contains("the reserve is reached in"), "{lasts}");
        before = empty_s;
    }
}

#[tokio::test]
async fn below_the_reserve_and_where_nothing_comes_out_endurance_says_so() {
    let boat = Boat::afloat();
    drawing(&boat, 6.0, 30.0);
    let below = boat.json("/api/v1/banks/house/endurance?load_a=6").await;
    assert_eq!(below["reserve_s"], 0.0);
    assert!(below["text"].as_str().expect("a text").contains("below the reserve"), "{below}");
    drawing(&boat, 6.0, 5.0);
    let none = boat.json("/api/v1/banks/house/endurance?load_a=240").await;
    assert_eq!(none["empty_s"], 0.0);
    assert!(none["text"].as_str().expect("a text").contains("nothing comes out now"), "{none}");
}

#[tokio::test]
async fn a_load_that_makes_no_sense_is_refused_by_name() {
    let boat = Boat::afloat();
    for query in
        ["", "?load_a=", "?load_a=0", "?load_a=-20", "?load_a=NaN", "?load_a=inf", "?load_a=much", "?load_a=1e9"]
    {
        let detail = boat.get(&format!("/api/v1/banks/house/endurance{query}")).await.problem(400);
        assert!(detail.contains("load_a") && detail.contains("expected"), "{query}: {detail}");
    }
}
