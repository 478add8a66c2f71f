//! Tables of figures.

use maud::{Markup, html};

/// Rows of a name and its figure, in two columns where there is room.
pub fn pairs(rows: &[(&str, String)]) -> Markup {
    let half = rows.len().div_ceil(2);
    html! {
        div.pair {
            @for part in rows.chunks(half.max(1)) {
                table {
                    @for (name, figure) in part { tr { th scope="row" { (name) } td.n { (figure) } } }
                }
            }
        }
    }
}

/// A table with a head; the first column is text, the others are figures.
pub fn table(caption: &str, head: &[&str], rows: &[Vec<String>]) -> Markup {
    html! {
        div.wide {
            table {
                @if !caption.is_empty() { caption { (caption) } }
                thead { tr { @for (at, name) in head.iter().enumerate() { th scope="col" class=[(at > 0).then_some("n")] { (name) } } } }
                tbody {
                    @for row in rows {
                        tr { @for (at, cell) in row.iter().enumerate() { td class=[(at > 0).then_some("n")] { (cell) } } }
                    }
                }
            }
        }
    }
}
