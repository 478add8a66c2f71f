use super::*;

#[test]
fn any_seed_gives_three_passages_and_two_calls_at_a_marina_within_three_weeks() {
    for seed in 0..1000 {
        let plan = Plan::new(seed, 1.78e9 + 3571.0 * seed as f64);
        let count =
            |place| plan.stays().iter().filter(|stay| stay.place == place && stay.begin_s < THREE_WEEKS_S).count();
        assert!(count(Place::Passage) >= 3 && count(Place::Marina) >= 3, "seed {seed}");
        for stay in plan.stays() {
            let hours = (stay.end_s - stay.begin_s) / HOUR_S;
            let (least, most) = if stay.place == Place::Passage { (6.0, 30.0) } else { (12.0, 24.0 * 7.0) };
            assert!((least..=most).contains(&hours), "seed {seed}: {stay:?} takes {hours} h");
        }
        for pair in plan.stays().windows(2) {
            assert!((pair[0].end_s - pair[1].begin_s).abs() < 1e-6, "seed {seed}: {pair:?}");
        }
    }
}

#[test]
fn three_weeks_end_under_way_and_the_plan_goes_on() {
    let mut plan = Plan::new(5, 1.78e9);
    let at = |plan: &Plan, elapsed_s: f64| {
        plan.stays().iter().find(|stay| stay.begin_s <= elapsed_s && elapsed_s < stay.end_s).map(|stay| stay.place)
    };
    assert_eq!(at(&plan, THREE_WEEKS_S), Some(Place::Passage));
    for day in 22..200 {
        let elapsed_s = f64::from(day) * DAY_S;
        plan.extend_to(elapsed_s);
        assert!(at(&plan, elapsed_s).is_some(), "day {day}");
    }
    assert!(plan.stays().len() < 12, "what is past is forgotten");
}
