//! What is around every report: who it is about, how it looks, and what to mind.

use jiff::tz::TimeZone;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::words::local;
use crate::quantity::UtcMs;
use crate::review::record::CAUTIONS;

/// What a report says of itself.
#[derive(Debug, Clone, Copy)]
pub struct About<'a> {
    /// Name of the boat.
    pub boat: &'a str,
    /// Name of the bank for people.
    pub bank: &'a str,
    /// The bank in a line: chemistry, rating.
    pub rating: &'a str,
    /// The zone whose clock times it shows.
    pub zone: &'a TimeZone,
    /// When it was made.
    pub made: UtcMs,
}

/// For the screen and for A4. Colours are those of the page by day.
const STYLE: &str = "
:root{color-scheme:light}
*{box-sizing:border-box}
body{margin:0 auto;padding:1.5rem;max-width:50rem;background:#fbfaf6;color:#14293a;
 font:400 15px/1.4 'Barlow Semi Condensed','Arial Narrow','Liberation Sans Narrow',system-ui,sans-serif;
 font-variant-numeric:tabular-nums}
h1{margin:0;font-size:1.7rem;font-weight:600;line-height:1.15}
h2{margin:1.6rem 0 .5rem;font-size:1.15rem;font-weight:600;border-top:1px solid #14293a;padding-top:.5rem;break-after:avoid}
h3{margin:1rem 0 .2rem;font-size:1rem;font-weight:600;break-after:avoid}
p{margin:.35rem 0;max-width:44rem}
.lead{font-size:1.1rem}
.mute,figcaption,caption{color:#4d5d68}
caption{text-align:left;padding-bottom:.2rem}
table{border-collapse:collapse;width:100%;margin:.4rem 0 .8rem}
th{font-weight:500;text-align:left;color:#4d5d68}
td,th{padding:.18rem .7rem .18rem 0;vertical-align:top;border-bottom:1px solid #d3d9da}
td.n,th.n{text-align:right}
tr,figure,.advice,.pair{break-inside:avoid}
figcaption{break-after:avoid}
thead{display:table-header-group}
figure{margin:.6rem 0 1rem}
svg{display:block;width:100%;height:auto;background:#fff;border:1px solid #d3d9da}
svg text{font:12px 'Barlow Semi Condensed','Arial Narrow','Liberation Sans Narrow',system-ui,sans-serif;fill:#4d5d68}
svg text.note{fill:#a8205c}
.shoal{fill:#d8e9ee}.band{fill:#b4cad8}.fan{fill:#cbdbe5}.bar{fill:#b9d0de}
.trace,.ahead,.second,.grid,.axis,.tick,.level,.error{fill:none;stroke:#14293a;stroke-width:1.4;stroke-linejoin:round}
.ahead{stroke-dasharray:5 4}.second{stroke:#1c5478}
.grid{stroke:#d3d9da;stroke-width:.6}.axis,.tick{stroke-width:.8}
.level{stroke:#a8205c;stroke-width:1;stroke-dasharray:2 3}
.error{stroke:#4d5d68;stroke-width:.9}.dot{fill:#14293a}.doubt{fill:#fff;stroke:#4d5d68;stroke-width:1}
.advice{margin:.7rem 0;padding-left:.8rem;border-left:3px solid #a8205c}
.advice.note{border-color:#d3d9da}
.advice h3{margin:0}
.pair{display:grid;grid-template-columns:1fr 1fr;gap:0 2rem;align-items:start}
footer{break-inside:avoid;margin-top:1.6rem;border-top:1px solid #14293a;padding-top:.5rem;font-size:.9rem}
@media (max-width:40rem){.pair{grid-template-columns:1fr}body{padding:1rem}.wide{overflow-x:auto}}
@page{size:A4;margin:16mm 15mm 18mm;@bottom-right{content:counter(page) ' / ' counter(pages);font-size:9pt;color:#4d5d68}}
@media print{body{background:#fff;max-width:none;padding:0;font-size:10.5pt;line-height:1.3}h2{margin-top:1.1rem}
 td,th{padding-block:.08rem}p{break-inside:avoid}figure{margin:.4rem 0 .6rem}a{color:inherit;text-decoration:none}
 *{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
";

/// A whole report.
pub fn page(about: &About<'_>, title: &str, under: &str, body: &Markup) -> String {
    let made = local(about.made.0, about.zone);
    let zone = about.zone.iana_name().unwrap_or("local time");
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " · " (about.bank) " · " (about.boat) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    p.mute { (about.boat) " · " (about.bank) " · " (about.rating) }
                    h1 { (title) }
                    p.lead { (under) }
                }
                main { (body) }
                footer {
                    @for caution in CAUTIONS { p { (caution) } }
                    p.mute {
                        "Made by taffrail " (env!("CARGO_PKG_VERSION")) " on " (made) ". Times are those of " (zone)
                        ". Positive current charges the bank. Bands hold the truth 95 % of the time, unless said otherwise."
                    }
                }
            }
        }
    }
    .into_string()
}

/// Sentences that have to be said beside figures.
pub fn notes(notes: &[String]) -> Markup {
    html! { @for note in notes { p.mute { (note) } } }
}
