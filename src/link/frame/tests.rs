use super::*;
use proptest::prelude::*;

fn channels(names: &[&str]) -> Vec<Channel> {
    names.iter().map(|name| Channel::try_new(name).expect("a channel name")).collect()
}

fn three() -> Vec<Channel> {
    channels(&["voltage_v", "current_a", "temperature_c"])
}

/// What a line gives: `_` for missing, `!` for unreadable, or the reason why it is bad.
fn outcome(decoder: &mut Decoder, line: &[u8]) -> String {
    match decoder.decode(line) {
        Err(reason) => format!("bad: {reason}"),
        Ok(fields) => {
            let fields: Vec<String> = fields
                .iter()
                .map(|field| match field {
                    Field::Missing => "_".to_owned(),
                    Field::Unreadable => "!".to_owned(),
                    Field::Value(value) => value.to_string(),
                })
                .collect();
            fields.join(" ")
        }
    }
}

fn json(line: &str) -> String {
    let mut decoder = Decoder::new(&FrameSpec::JsonLines, &three()).expect("fits");
    outcome(&mut decoder, line.as_bytes())
}

fn delimited(separator: char, columns: &[&str], scale: Option<&[f64]>) -> FrameSpec {
    FrameSpec::Delimited {
        separator,
        columns: columns.iter().map(|name| (*name != "-").then(|| (*name).to_owned())).collect(),
        scale: scale.map(<[f64]>::to_vec),
    }
}

fn fields(frame: &FrameSpec, line: &str) -> String {
    let mut decoder = Decoder::new(frame, &three()).expect("fits");
    outcome(&mut decoder, line.as_bytes())
}

#[test]
fn an_object_gives_its_channels_in_the_order_of_the_device() {
    assert_eq!(json(r#"{"current_a":-8.92,"voltage_v":52.31,"temperature_c":19.4}"#), "52.31 -8.92 19.4");
    assert_eq!(json(" {\t\"voltage_v\" : 5.2e1 , \"id\":\"x}\\\",{\",\"n\":null}  "), "52 _ _");
    assert_eq!(json(r#"{"voltage\u005fv":52,"deep":[{"voltage_v":[1]},2],"current_a":1}"#), "52 1 _");
}

#[test]
fn a_value_that_is_no_number_is_refused_alone() {
    for odd in [
        "1e400",
        "-1e400",
        "NaN",
        "nan",
        "-nan",
        "inf",
        "-Infinity",
        "--",
        "-",
        "true",
        "\"52.31\"",
        "\"--\"",
        "\"\"",
        "[52.31]",
        "{\"v\":52.31}",
    ] {
        assert_eq!(json(&format!(r#"{{"voltage_v":{odd},"current_a":-8.92}}"#)), "! -8.92 _", "{odd}");
    }
    assert_eq!(json(r#"{"voltage_v":null,"current_a":1}"#), "_ 1 _");
}

#[test]
fn numbers_at_the_edge_of_a_double_are_read() {
    assert_eq!(json(r#"{"voltage_v":1e-400}"#), "0 _ _");
    assert_eq!(json(r#"{"voltage_v":-0.0}"#), "-0 _ _");
    assert_eq!(json(r#"{"voltage_v":52.310000000000000000000000000001}"#), "52.31 _ _");
}

#[test]
fn a_damaged_object_is_refused_whole() {
    for damaged in [
        "",
        "{",
        "}",
        "[]",
        "null",
        "52.31",
        r#""voltage_v":52.31}"#,
        r#"{"voltage_v":52.31"#,
        r#"{"voltage_v":52.31,}"#,
        r#"{"voltage_v":52.31}}"#,
        r#"{"voltage_v":52.31}{"voltage_v":52.32}"#,
        r#"{"voltage_v":}"#,
        r#"{"voltage_v"52.31}"#,
        r#"{"voltage_v:52.31}"#,
        r#"{voltage_v:52.31}"#,
        r#"{"voltage_v":52.31 "current_a":1}"#,
        r#"{"voltage_v":[1}"#,
        r#"{"voltage_v":{"a":]}}"#,
        r#"{"x":"open,"voltage_v":52.31}"#,
    ] {
        assert_eq!(json(damaged), "bad: not one JSON object", "{damaged}");
    }
    for garbled in ["5#.31", "52.3.1", "0x34", "52,31x", "1e", "+", "NULL"] {
        let line = format!(r#"{{"voltage_v":{garbled}}}"#);
        assert!(json(&line).starts_with("bad: "), "{line}");
    }
    assert_eq!(json(r#"{"voltage_v":5#.31}"#), "bad: a field is not a number");
}

#[test]
fn lines_that_cannot_be_attributed_are_refused_whole() {
    assert_eq!(json(r#"{"voltage_v":52.31,"voltage_v":52.32}"#), "bad: a channel occurs twice");
    assert_eq!(json("{}"), "bad: names no channel of this device");
    assert_eq!(json(r#"{"speed":3,"speed":4}"#), "bad: names no channel of this device");
    let mut decoder = Decoder::new(&FrameSpec::JsonLines, &three()).expect("fits");
    assert_eq!(outcome(&mut decoder, b"{\"x\":\"\xff\",\"voltage_v\":52.31}"), "bad: not UTF-8 text");
}

#[test]
fn a_bad_line_leaves_nothing_behind_for_the_next() {
    let mut decoder = Decoder::new(&FrameSpec::JsonLines, &three()).expect("fits");
    assert!(outcome(&mut decoder, br#"{"voltage_v":1,"current_a":x}"#).starts_with("bad"));
    assert_eq!(outcome(&mut decoder, br#"{"current_a":2}"#), "_ 2 _");
}

#[test]
fn depth_costs_no_stack() {
    let mut line = r#"{"x":"#.to_owned();
    line.push_str(&"[".repeat(2000));
    line.push_str(&"]".repeat(2000));
    assert_eq!(json(&format!(r#"{line},"voltage_v":52}}"#)), "52 _ _");
    assert_eq!(json(&"[".repeat(4000)), "bad: not one JSON object");
    assert_eq!(json(&format!("{{\"voltage_v\":{}", "{\"a\":".repeat(700))), "bad: not one JSON object");
}

#[test]
fn columns_are_read_by_position_and_scaled() {
    let columns = ["voltage_v", "current_a", "-", "temperature_c"];
    let plain = delimited(',', &columns, None);
    assert_eq!(fields(&plain, "52.31,-8.92,ok,19.4"), "52.31 -8.92 19.4");
    assert_eq!(fields(&plain, " 52.31 , -8.92 ,, "), "52.31 -8.92 _");
    let scaled = delimited(',', &columns, Some(&[0.001, 0.01, 1.0, 0.1]));
    assert_eq!(fields(&scaled, "52310,-892,7,194"), "52.31 -8.92 19.400000000000002");
    assert_eq!(fields(&scaled, "1e310,NaN,7,-"), "! ! !");
    let huge = delimited(',', &columns, Some(&[1e300, 1.0, 1.0, 1.0]));
    assert_eq!(fields(&huge, "1e300,1,,"), "! 1 _");
}

#[test]
fn each_usual_separator_works() {
    for (separator, line) in [
        (',', "52.31,-8.92,19.4"),
        (';', "52.31; -8.92;19.4 "),
        ('\t', "52.31\t-8.92\t19.4"),
        (' ', "  52.31   -8.92\t19.4 "),
        ('|', "52.31|-8.92|19.4"),
    ] {
        let frame = delimited(separator, &["voltage_v", "current_a", "temperature_c"], None);
        assert_eq!(fields(&frame, line), "52.31 -8.92 19.4", "{separator:?}");
    }
    let tabs = delimited('\t', &["voltage_v", "current_a", "temperature_c"], None);
    assert_eq!(fields(&tabs, "\t-8.92\t"), "_ -8.92 _");
}

#[test]
fn a_line_with_other_than_its_columns_is_bad() {
    let frame = delimited(',', &["voltage_v", "current_a", "temperature_c"], None);
    for line in ["52.31", "52.31,-8.92", "52.31,-8.92,19.4,", "1,2,3,4"] {
        assert_eq!(fields(&frame, line), "bad: not as many fields as columns", "{line}");
    }
    for line in ["5#.31,1,2", "\"52.31\",1,2", "1,0x2,3", "true,1,2", "1,2,n/a"] {
        assert_eq!(fields(&frame, line), "bad: a field is not a number", "{line}");
    }
}

#[test]
fn a_frame_that_does_not_fit_its_channels_is_refused_with_the_reason() {
    let all = ["voltage_v", "current_a", "temperature_c"];
    for (frame, reason) in [
        (delimited('5', &all, None), "'5' cannot separate"),
        (delimited('.', &all, None), "'.' cannot separate"),
        (delimited('\n', &all, None), "'\\n' cannot separate"),
        (delimited(',', &["voltage_v", "current_a", "speed"], None), "column \"speed\""),
        (delimited(',', &["voltage_v", "voltage_v"], None), "\"voltage_v\" is listed twice"),
        (delimited(',', &all[..2], None), "channel \"temperature_c\" has no column"),
        (delimited(',', &all, Some(&[1.0])), "1 factors in scale for 3 columns"),
        (delimited(',', &all, Some(&[1.0, 0.0, 1.0])), "0 in scale"),
        (delimited(',', &all, Some(&[1.0, f64::NAN, 1.0])), "NaN in scale"),
    ] {
        let error = Decoder::new(&frame, &three()).expect_err("does not fit");
        assert!(error.to_string().contains(reason), "{error}");
    }
}

fn leaf() -> impl Strategy<Value = serde_json::Value> {
    prop_oneof![
        any::<f64>().prop_filter("finite", |v| v.is_finite()).prop_map(Into::into),
        any::<i64>().prop_map(Into::into),
        any::<bool>().prop_map(Into::into),
        any::<String>().prop_map(Into::into),
        Just(serde_json::Value::Null),
        prop::collection::vec(any::<u8>(), 0..4).prop_map(Into::into),
        prop::collection::hash_map(any::<String>(), any::<i32>(), 0..3)
            .prop_map(|map| serde_json::to_value(map).expect("string keys")),
    ]
}

proptest! {
    #[test]
    fn whatever_a_json_library_writes_is_read_as_it_says(
        known in prop::option::of(leaf()),
        others in prop::collection::hash_map(any::<String>(), leaf(), 0..6),
        pretty in any::<bool>(),
    ) {
        let mut object: serde_json::Map<String, serde_json::Value> = others.into_iter().collect();
        object.remove("voltage_v");
        if let Some(value) = &known {
            object.insert("voltage_v".to_owned(), value.clone());
        }
        let text = if pretty {
            serde_json::to_string_pretty(&object)
        } else {
            serde_json::to_string(&object)
        }.expect("writes");
        let mut decoder = Decoder::new(&FrameSpec::JsonLines, &channels(&["voltage_v"])).expect("fits");
        let read = decoder.decode(text.as_bytes()).map(|fields| fields[0]);
        let expected = match known {
            None => Err(BadLine::NoChannel),
            Some(serde_json::Value::Null) => Ok(Field::Missing),
            Some(value) => Ok(value.as_f64().map_or(Field::Unreadable, Field::Value)),
        };
        prop_assert_eq!(read, expected, "{}", text);
    }

    #[test]
    fn no_bytes_make_a_decoder_panic_and_every_value_is_finite(
        line in prop_oneof![
            prop::collection::vec(any::<u8>(), 0..200),
            r#"[{}\[\]",:a-z_ 0-9.eE\\+-]{0,80}"#.prop_map(String::into_bytes),
            r#"\{"voltage_v":[ -~]{0,20}(,"current_a":[ -~]{0,20})?\}"#.prop_map(String::into_bytes),
        ],
    ) {
        let columns = delimited(',', &["voltage_v", "current_a", "temperature_c"], Some(&[1e300, 1.0, 2.0]));
        for frame in [FrameSpec::JsonLines, columns] {
            let mut decoder = Decoder::new(&frame, &three()).expect("fits");
            if let Ok(fields) = decoder.decode(&line) {
                prop_assert_eq!(fields.len(), 3);
                for field in fields {
                    prop_assert!(!matches!(field, Field::Value(value) if !value.is_finite()));
                }
            }
        }
    }

    #[test]
    fn a_number_comes_through_both_formats_to_the_last_bit(value in any::<f64>().prop_filter("finite", |v| v.is_finite())) {
        let one = channels(&["voltage_v"]);
        let mut json = Decoder::new(&FrameSpec::JsonLines, &one).expect("fits");
        let mut column = Decoder::new(&delimited(',', &["voltage_v"], None), &one).expect("fits");
        let expected = [Field::Value(value)];
        prop_assert_eq!(json.decode(format!("{{\"voltage_v\":{value:e}}}").as_bytes()), Ok(&expected[..]));
        prop_assert_eq!(column.decode(value.to_string().as_bytes()), Ok(&expected[..]));
    }
}
