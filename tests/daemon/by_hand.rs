//! What people say on the terminal while the daemon runs: it is asked to write it, for it is the one writer.

use super::*;

impl Berth {
    /// Runs a command to its end: exit code, standard output, standard error.
    fn ask(&self, arguments: &[&str]) -> (Option<i32>, String, String) {
        let mut command = self.command(arguments);
        let output = command.stdout(Stdio::piped()).stderr(Stdio::piped()).output().expect("starts");
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
        (output.status.code(), text(output.stdout), text(output.stderr))
    }
}

#[test]
fn a_passage_marked_beside_a_running_daemon_is_written_by_the_daemon() {
    let berth = Berth::new();
    let wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    for mark in 1..=40 {
        assert!(wire.send(frame(mark).as_bytes()));
        std::thread::sleep(Duration::from_millis(50));
    }
    daemon.wait_for_mark(40);
    // From long before the first sample until long after the last: it begins and ends with them.
    let mark = ["passages", "mark", "2020-01-01T00:00:00Z", "2120-01-01T00:00:00Z", "--name", "Out"];
    // Samples can be read once they are safe, which takes some seconds.
    let told = daemon.wait_for("a sample that is safe", |_| {
        let (code, told, error) = berth.ask(&mark);
        assert!(code == Some(0) || error.contains("no samples"), "{error}");
        (code == Some(0)).then_some(told)
    });
    assert_eq!(told, "Passage 1 is marked.\n");
    let (code, listed, error) = berth.ask(&["passages", "--json"]);
    assert_eq!(code, Some(0), "{error}");
    let view: Value = serde_json::from_str(&listed).expect("JSON");
    let one = &view["banks"][0]["passages"][0];
    assert_eq!((&one["id"], &one["name"], &one["origin"]), (&1.into(), &"Out".into(), &"hand".into()));
    let (code, _, error) = berth.ask(&["passages", "split", "1", "2021-01-01T00:00:00Z"]);
    assert_eq!(code, Some(2), "what the daemon refuses is a mistake of input: {error}");
    assert!(error.contains("no samples"), "{error}");
    let (code, _, error) = berth.ask(&["test", "start", "--load", "6"]);
    assert_eq!(code, Some(2), "{error}");
    assert!(error.contains("nothing has been heard of the bank yet") && !error.contains("--anyway"), "{error}");
    let (code, told, error) = berth.ask(&["passages", "remove", "1"]);
    assert_eq!((code, told.as_str()), (Some(0), "Passage 1 is removed and will not be found again.\n"), "{error}");
    daemon.terminate();
    assert_eq!(daemon.end().and_then(|status| status.code()), Some(0));
}

#[test]
fn a_command_brings_the_pin_of_its_configuration_and_one_that_is_wrong_is_refused() {
    let berth = Berth::new();
    let _wire = berth.plug();
    let config = std::fs::read_to_string(berth.path("taffrail.toml")).expect("written");
    let with = |pin: &str| std::fs::write(berth.path("taffrail.toml"), format!("{pin}\n{config}")).expect("writable");
    with("pin = \"Ahoy 4711\"");
    let mut daemon = berth.start();
    let permit = daemon.wait_for("the page", |daemon| daemon.get("/api/v1/permit"));
    assert_eq!((&permit["may"], &permit["needs"]), (&false.into(), &"pin".into()), "{permit}");
    // The daemon looks at what is asked of it, and refuses that: the PIN was right.
    let mark = ["passages", "mark", "2020-01-01T00:00:00Z", "2021-01-01T00:00:00Z"];
    let (code, _, error) = berth.ask(&mark);
    assert!(code == Some(2) && error.contains("no samples"), "{code:?} {error}");
    with("pin = \"Ahoy 4712\"");
    let (code, _, error) = berth.ask(&mark);
    assert_eq!(code, Some(77), "{error}");
    assert!(error.contains("that is not the PIN") && error.contains("started with this configuration"), "{error}");
    with("");
    let (code, _, error) = berth.ask(&mark);
    assert_eq!(code, Some(77), "{error}");
    assert!(error.contains("this needs the PIN"), "{error}");
    let log = std::fs::read_to_string(berth.path("log")).expect("a log");
    assert!(!log.contains("4711"), "{log}");
}
