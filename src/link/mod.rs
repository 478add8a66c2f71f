//! Devices on serial ports: from bytes on a wire to stamped samples.
//!
//! # Life of a port
//! [`run`] tends one device for ever. It opens the port by its configured path, discards what was received before
//! the opening and then everything up to the first newline (nobody can say whether the line joined is whole), and
//! reads. Each line is decoded ([`Decoder`]), each value checked against what is physically possible ([`Limit`]),
//! and what is left is stamped with the monotonic clock on arrival and sent on.
//!
//! A port that was pulled answers each read with an error or with an endless end of file. Both close it at once and
//! before it is opened again, so that the kernel can give the same name to the device when it comes back. The next
//! attempts follow after 0.25 s, then after twice as long each time, up to 5 s; a good sample sets the wait back to
//! the start. No wait looks at wall time.
//!
//! | state | means | left for |
//! |---|---|---|
//! | waiting | no sample yet since the start; the reason says why | live, silent |
//! | live | samples come | silent, closed |
//! | silent | the port is open, no sample for a while (10 s unless set) | live, closed; waiting if none ever came |
//! | closed | samples came, then the port went away; or the daemon stopped | live, silent |
//!
//! Bytes that make no sample are no sign of life: a device that babbles is silent, with a reason that says so.
//! States and reasons are logged once when they change, never per attempt or per line.
//!
//! # What is counted
//! Everything that does not become a sample ([`Tally`]): bad lines by reason, refused values by channel, overlong and
//! partial lines, lost samples. The last bad line and the last refused value are kept for people to read. A line or
//! a value that is refused is never stored as truth. Memory is bounded: a line has at most [`LINE_CAP`] bytes, and
//! the buffer for it never grows.
//!
//! # Why back-pressure
//! Samples leave by a bounded channel. When it is full, the reader waits up to a second for room: a short stall of the
//! store (a commit to a slow card) then costs nothing, because the kernel keeps the bytes meanwhile. A longer stall
//! must not make old bytes look like new ones, since a line is stamped when it is read; so after that second
//! samples are dropped and counted as lost, until there is room again. A gap of known length is better than a false
//! time.
//!
//! # Stamps
//! The stamps of a device rise strictly: a second line in the same millisecond gets the next one, so that (boot,
//! monotonic milliseconds) is a key.

mod device;
mod frame;
mod intake;
mod line;
mod port;
mod probe;
mod replay;
mod run;
mod tally;

pub use device::{DeviceSample, DeviceSpec, DeviceStatus, Limit, MOST_CHANNELS, PortState, SpecError};
pub use frame::{BadLine, Decoder, Field, FrameSpec};
pub use intake::Intake;
pub use line::{LINE_CAP, LineSplitter, Piece};
pub use probe::{ProbeReport, probe};
pub use replay::{Replayed, replay};
pub use run::run;
pub use tally::{BadLines, Refused, Tally};
