//! Walks a TOML document key by key and collects every mistake with its place, instead of stopping at the first.

use std::cell::RefCell;
use std::fmt;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One mistake in a configuration.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1.
    pub column: usize,
    /// The key, with its table: `bank[1].reserve`.
    pub key: String,
    /// What is wrong and what was expected.
    pub text: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Problem { line, column, key, text } = self;
        if key.is_empty() { write!(f, "{line}:{column}: {text}") } else { write!(f, "{line}:{column}: {key}: {text}") }
    }
}

/// Collects problems and turns byte offsets into lines.
pub struct Notebook<'d> {
    source: &'d str,
    problems: RefCell<Vec<Problem>>,
}

impl<'d> Notebook<'d> {
    pub fn new(source: &'d str) -> Notebook<'d> {
        Notebook { source, problems: RefCell::default() }
    }

    pub fn note(&self, at: &Range<usize>, key: &str, text: impl Into<String>) {
        let before = &self.source[..at.start.min(self.source.len())];
        let line = before.matches('\n').count() + 1;
        let column = before.chars().rev().take_while(|&c| c != '\n').count() + 1;
        self.problems.borrow_mut().push(Problem { line, column, key: key.to_owned(), text: text.into() });
    }

    /// All problems, in the order of the file.
    pub fn into_problems(self) -> Vec<Problem> {
        let mut problems = self.problems.into_inner();
        problems.sort_by_key(|p| (p.line, p.column));
        problems.dedup();
        problems
    }
}

/// One table of the document. Keys are taken one by one; what is left at the end was not expected.
pub struct Section<'d> {
    table: &'d DeTable<'d>,
    path: String,
    at: Range<usize>,
    notebook: &'d Notebook<'d>,
    known: RefCell<Vec<&'static str>>,
}

impl<'d> Section<'d> {
    pub fn new(table: &'d DeTable<'d>, path: &str, at: Range<usize>, notebook: &'d Notebook<'d>) -> Section<'d> {
        Section { table, path: path.to_owned(), at, notebook, known: RefCell::default() }
    }

    /// Notes a problem with a key of this table, at its value if it is there, else at the table.
    pub fn complain(&self, key: &str, text: impl Into<String>) {
        let at = self.table.get(key).map_or_else(|| self.at.clone(), Spanned::span);
        self.notebook.note(&at, &self.full_key(key), text);
    }

    pub fn text(&self, key: &'static str) -> Option<String> {
        self.take(key, "a text in quotes", |v| v.as_str().map(str::to_owned))
    }

    pub fn number(&self, key: &'static str) -> Option<f64> {
        self.take(key, "a number", number_of)
    }

    pub fn numbers(&self, key: &'static str) -> Option<Vec<f64>> {
        self.take(key, "a list of numbers", |v| v.as_array()?.iter().map(|item| number_of(item.get_ref())).collect())
    }

    pub fn texts(&self, key: &'static str) -> Option<Vec<String>> {
        self.take(key, "a list of texts", |v| {
            v.as_array()?.iter().map(|item| item.get_ref().as_str().map(str::to_owned)).collect()
        })
    }

    /// A number inside `low..=high`; anything else is a problem that names `expected`.
    pub fn number_in(&self, key: &'static str, low: f64, high: f64, expected: &str) -> Option<f64> {
        let value = self.number(key)?;
        if (low..=high).contains(&value) {
            Some(value)
        } else {
            self.complain(key, format!("is {value}, expected {expected}"));
            None
        }
    }

    /// A whole number inside `low..=high`.
    pub fn whole_in(&self, key: &'static str, low: u32, high: u32) -> Option<u32> {
        let expected = format!("a whole number from {low} to {high}");
        self.take(key, &expected, |v| {
            let number: i64 = v.as_integer()?.as_str().parse().ok()?;
            u32::try_from(number).ok().filter(|n| (low..=high).contains(n))
        })
    }

    /// A word out of a set, read by its `FromStr`, whose error says what was expected.
    pub fn word<T: std::str::FromStr<Err = String>>(&self, key: &'static str) -> Option<T> {
        let text = self.text(key)?;
        match text.parse() {
            Ok(word) => Some(word),
            Err(expected) => {
                self.complain(key, format!("is \"{}\", expected {expected}", text));
                None
            }
        }
    }

    /// The value, or a problem that it is missing; a key that is there but wrong has been noted already.
    pub fn required<T>(&self, key: &str, found: Option<T>, expected: &str) -> Option<T> {
        if found.is_none() && !self.table.contains_key(key) {
            self.notebook.note(&self.at, &self.full_key(key), format!("is missing, expected {expected}"));
        }
        found
    }

    /// Whether the key is in the file, right or wrong.
    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// A table inside this one.
    pub fn table(&self, key: &'static str) -> Option<Section<'d>> {
        self.know(key);
        let value = self.table.get(key)?;
        match value.get_ref().as_table() {
            Some(table) => Some(Section::new(table, &self.full_key(key), value.span(), self.notebook)),
            None => {
                self.complain(key, "expected a table");
                None
            }
        }
    }

    /// A list of tables: `[[key]]`, or a list of inline tables.
    pub fn tables(&self, key: &'static str) -> Vec<Section<'d>> {
        self.know(key);
        let Some(value) = self.table.get(key) else {
            return Vec::new();
        };
        let Some(items) = value.get_ref().as_array() else {
            self.complain(key, format!("expected a list of tables, each begun by [[{key}]]"));
            return Vec::new();
        };
        let mut sections = Vec::new();
        for (index, item) in items.iter().enumerate() {
            let path = format!("{}[{}]", self.full_key(key), index + 1);
            match item.get_ref().as_table() {
                Some(table) => sections.push(Section::new(table, &path, item.span(), self.notebook)),
                None => self.notebook.note(&item.span(), &path, "expected a table"),
            }
        }
        sections
    }

    /// Pairs of a free key and two numbers, as in `{ monobloc_1_v = [8.0, 16.0] }`.
    pub fn ranges_by_name(&self, key: &'static str) -> Vec<(String, f64, f64)> {
        let Some(inner) = self.table(key) else {
            return Vec::new();
        };
        let mut found = Vec::new();
        for (name, value) in inner.table {
            let pair: Option<Vec<f64>> =
                value.get_ref().as_array().and_then(|items| items.iter().map(|i| number_of(i.get_ref())).collect());
            match pair.as_deref() {
                Some(&[low, high]) if low < high => found.push((name.get_ref().to_string(), low, high)),
                _ => inner.complain(name.get_ref(), "expected [lowest, highest]"),
            }
        }
        found
    }

    /// Notes every key that nobody asked for, with the nearest one that exists.
    pub fn finish(self) {
        let known = self.known.borrow();
        for (name, _) in self.table {
            let name_text: &str = name.get_ref();
            if known.contains(&name_text) {
                continue;
            }
            let begun = known.iter().find(|k| k.starts_with(name_text));
            let nearest = known.iter().min_by_key(|k| distance(k, name_text)).filter(|k| distance(k, name_text) <= 2);
            let hint = match begun.or(nearest) {
                Some(key) => format!("; did you mean {key}?"),
                None => format!("; known here: {}", known.join(", ")),
            };
            self.notebook.note(&name.span(), &self.full_key(name_text), format!("unknown key{hint}"));
        }
    }

    fn take<T>(&self, key: &'static str, expected: &str, read: impl Fn(&DeValue<'d>) -> Option<T>) -> Option<T> {
        self.know(key);
        let value = self.table.get(key)?;
        let read = read(value.get_ref());
        if read.is_none() {
            self.complain(key, format!("expected {expected}"));
        }
        read
    }

    fn know(&self, key: &'static str) {
        let mut known = self.known.borrow_mut();
        if !known.contains(&key) {
            known.push(key);
        }
    }

    fn full_key(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }
}

fn number_of(value: &DeValue<'_>) -> Option<f64> {
    let text = match value {
        DeValue::Float(float) => float.as_str(),
        DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
        _ => return None,
    };
    text.replace('_', "").parse().ok().filter(|n: &f64| n.is_finite())
}

/// Edit distance (Levenshtein), for "did you mean".
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, cb) in b.iter().enumerate() {
            let substitute = diagonal + usize::from(ca != *cb);
            diagonal = row[j + 1];
            row[j + 1] = substitute.min(diagonal + 1).min(row[j] + 1);
        }
    }
    row[b.len()]
}
