//! Text for a terminal of eighty columns.

use std::io::Write as _;

use super::Failure;

/// Width of the text.
pub const COLUMNS: usize = 80;

/// Prints a command's answer.
pub fn print(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        // Whoever read our output has had enough.
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
        written => written.map_err(|error| Failure::machine("cannot write to standard output", &error)),
    }
}

/// Prints one JSON value.
pub fn print_json(value: &impl serde::Serialize) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(value).map_err(|error| Failure::daemon(&error))?;
    print(&(text + "\n"))
}

/// A text in lines of the terminal's width, each after `indent` spaces, and ended. Line breaks in it are kept.
pub fn wrapped(text: &str, indent: usize) -> String {
    let room = COLUMNS.saturating_sub(indent).max(1);
    let mut out = String::new();
    for paragraph in text.lines() {
        let mut line = String::new();
        for word in paragraph.split_whitespace() {
            if !line.is_empty() && line.chars().count() + 1 + word.chars().count() > room {
                put(&mut out, &line, indent);
                line.clear();
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        put(&mut out, &line, indent);
    }
    out
}

fn put(out: &mut String, line: &str, indent: usize) {
    if !line.is_empty() {
        out.extend(std::iter::repeat_n(' ', indent));
    }
    out.push_str(line);
    out.push('\n');
}

/// At most `room` characters of a text on one line; what is cut off is shown to be.
pub fn cut(text: &str, room: usize) -> String {
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    if line.chars().count() <= room {
        return line;
    }
    let kept: String = line.chars().take(room.saturating_sub(1)).collect();
    kept.trim_end().to_owned() + "…"
}

/// A number in a column, or a dash where it is not known.
pub fn number(value: Option<f64>, decimals: usize) -> String {
    value.map_or_else(|| "-".to_owned(), |value| format!("{:.decimals$}", value + 0.0))
}

/// A ratio as per cent in a column, or a dash where it is not known.
pub fn percent(ratio: Option<f64>) -> String {
    ratio.map_or_else(|| "-".to_owned(), |ratio| format!("{:.0} %", 100.0 * ratio))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_to_the_width_and_to_their_indent() {
        let text = "word ".repeat(40);
        let out = wrapped(&text, 4);
        assert!(out.lines().all(|line| line.chars().count() <= COLUMNS && line.starts_with("    word")), "{out}");
        assert_eq!(out.split_whitespace().count(), 40);
        assert_eq!(wrapped("one\n\ntwo", 2), "  one\n\n  two\n");
    }

    #[test]
    fn a_long_name_shows_that_it_is_cut() {
        assert_eq!(cut("To the island", 13), "To the island");
        assert_eq!(cut("To the island\nand back", 12), "To the isla…");
    }

    #[test]
    fn nothing_known_is_a_dash() {
        assert_eq!([number(Some(-0.0), 1), number(None, 1), percent(Some(0.416))], ["0.0", "-", "42 %"]);
    }
}
