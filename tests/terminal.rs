//! The device's end of a pseudo-terminal, as the tests of ports and of the whole program use it.

use std::os::fd::OwnedFd;
use std::path::PathBuf;

use rustix::fs::{OFlags, fcntl_getfl, fcntl_setfl};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

/// A new pseudo-terminal: its far end, which never blocks, and the path of its near end. Raw from the start: what is sent
/// before anybody opens the near end is neither echoed nor edited.
pub fn open() -> (OwnedFd, PathBuf) {
    let far = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).expect("a pseudo-terminal");
    grantpt(&far).expect("granted");
    unlockpt(&far).expect("unlocked");
    let flags = fcntl_getfl(&far).expect("flags");
    fcntl_setfl(&far, flags | OFlags::NONBLOCK).expect("does not block");
    let mut settings = tcgetattr(&far).expect("settings");
    settings.make_raw();
    tcsetattr(&far, OptionalActions::Now, &settings).expect("raw");
    let near = PathBuf::from(ptsname(&far, Vec::new()).expect("a name").into_string().expect("text"));
    (far, near)
}
