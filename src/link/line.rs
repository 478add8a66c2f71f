//! Cuts a stream of bytes into lines, with a hard limit on memory. Sans I/O.

/// Longest line that is taken, in bytes before its newline. A frame of a battery sensor has tens to hundreds of
/// bytes; the limit only guards memory against a line that never ends.
pub const LINE_CAP: usize = 4096;

/// What the splitter found in the stream.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Piece<'a> {
    /// A complete line without its line end (LF or CR LF).
    Line(&'a [u8]),
    /// A line longer than [`LINE_CAP`] was met; all of it is dropped.
    Overlong,
    /// The stream was joined in the middle of a line; that line was dropped.
    Partial,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mode {
    /// Until the first newline after an opening nobody can say whether a line is whole.
    Joining {
        skipped: bool,
    },
    Reading,
    SkippingOverlong,
}

/// Bytes in, complete lines out. The buffer is allocated once and never grows.
#[derive(Debug)]
pub struct LineSplitter {
    buffer: Vec<u8>,
    mode: Mode,
    /// The buffer's content was handed out as a line and is to be cleared at the next call.
    handed_out: bool,
}

impl LineSplitter {
    /// A splitter that joins a stream at an unknown place: everything up to the first newline is dropped.
    #[must_use]
    pub fn new() -> LineSplitter {
        LineSplitter { buffer: Vec::with_capacity(LINE_CAP), mode: Mode::Joining { skipped: false }, handed_out: false }
    }

    /// Forgets what was begun, as after a reopening; says whether an incomplete line was dropped by that.
    pub fn restart(&mut self) -> bool {
        let begun = match self.mode {
            Mode::Joining { skipped } => skipped,
            Mode::Reading => !self.handed_out && !self.buffer.is_empty(),
            Mode::SkippingOverlong => false,
        };
        self.buffer.clear();
        self.handed_out = false;
        self.mode = Mode::Joining { skipped: false };
        begun
    }

    /// Takes bytes off the front of `input` up to and including the next piece; `None` once `input` is used up.
    pub fn next<'a, 'i: 'a>(&'a mut self, input: &mut &'i [u8]) -> Option<Piece<'a>> {
        if self.handed_out {
            self.buffer.clear();
            self.handed_out = false;
        }
        while !input.is_empty() {
            let (part, ended) = take_part(input);
            match self.mode {
                Mode::Joining { skipped } => {
                    let skipped = skipped || !part.is_empty();
                    self.mode = Mode::Joining { skipped };
                    if ended {
                        self.mode = Mode::Reading;
                        if skipped {
                            return Some(Piece::Partial);
                        }
                    }
                }
                Mode::SkippingOverlong if ended => self.mode = Mode::Reading,
                Mode::SkippingOverlong => {}
                Mode::Reading if self.buffer.len() + part.len() > LINE_CAP => {
                    self.buffer.clear();
                    if !ended {
                        self.mode = Mode::SkippingOverlong;
                    }
                    return Some(Piece::Overlong);
                }
                // A line that lies whole in the input is handed out from there, uncopied.
                Mode::Reading if ended && self.buffer.is_empty() => {
                    return Some(Piece::Line(without_cr(part)));
                }
                Mode::Reading => {
                    self.buffer.extend_from_slice(part);
                    if ended {
                        self.handed_out = true;
                        return Some(Piece::Line(without_cr(&self.buffer)));
                    }
                }
            }
        }
        None
    }

    /// Bytes of memory that the splitter holds.
    #[must_use]
    pub fn capacity(&self) -> usize {
        self.buffer.capacity()
    }
}

impl Default for LineSplitter {
    fn default() -> Self {
        LineSplitter::new()
    }
}

/// Splits off everything before the next newline, or all of it; says whether there was a newline.
fn take_part<'a>(input: &mut &'a [u8]) -> (&'a [u8], bool) {
    let whole = *input;
    if let Some(end) = whole.iter().position(|&byte| byte == b'\n') {
        *input = &whole[end + 1..];
        (&whole[..end], true)
    } else {
        *input = &[];
        (whole, false)
    }
}

fn without_cr(mut line: &[u8]) -> &[u8] {
    // Some senders end a line with CR CR LF; no frame ends in a CR of its own.
    while let [head @ .., b'\r'] = line {
        line = head;
    }
    line
}

#[cfg(test)]
mod tests;
