//! A file system of its own on a loop device, as a card would have it.

use std::path::{Path, PathBuf};
use std::process::Command;

/// Large enough that `mkfs.ext4` gives it the journal of a card: smaller ones flatter the figure.
const IMAGE_BYTES: u64 = 1 << 30;

/// A mounted image; all of it goes when this is dropped.
pub struct Disk {
    /// Where it is mounted.
    pub folder: PathBuf,
    device: String,
}

impl Disk {
    /// Makes an image in a folder, an ext4 with blocks of 4 KiB on it, and mounts it with these options.
    ///
    /// # Errors
    /// What the system refused, in words: loop devices need rights that a container may not have.
    pub fn mount(folder: &Path, name: &str, options: &str) -> Result<Disk, String> {
        let image = folder.join(format!("{name}.img"));
        let file = std::fs::File::create(&image).map_err(|error| format!("{}: {error}", image.display()))?;
        file.set_len(IMAGE_BYTES).map_err(|error| format!("{}: {error}", image.display()))?;
        let image = image.display().to_string();
        run("mkfs.ext4", &["-q", "-F", "-b", "4096", "-E", "lazy_itable_init=0,lazy_journal_init=0", &image])?;
        let device = run("losetup", &["--find", "--show", &image])?.trim().to_owned();
        let disk = Disk { folder: folder.join(name), device };
        std::fs::create_dir_all(&disk.folder).map_err(|error| format!("{}: {error}", disk.folder.display()))?;
        run("mount", &["-o", options, &disk.device, &disk.folder.display().to_string()])?;
        Ok(disk)
    }

    /// Bytes written to the device so far: the seventh field of its `stat`, sectors of 512 bytes.
    pub fn written(&self) -> Result<f64, String> {
        let name = self.device.trim_start_matches("/dev/");
        let path = format!("/sys/block/{name}/stat");
        let stat = std::fs::read_to_string(&path).map_err(|error| format!("{path}: {error}"))?;
        let sectors = stat.split_whitespace().nth(6).and_then(|field| field.parse::<f64>().ok());
        sectors.map(|sectors| sectors * 512.0).ok_or(format!("{path}: no count of written sectors"))
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        // Whatever fails here is cleaned up by the next restart.
        let _ = run("umount", &[&self.folder.display().to_string()]);
        let _ = run("losetup", &["--detach", &self.device]);
    }
}

fn run(program: &str, arguments: &[&str]) -> Result<String, String> {
    let done = Command::new(program).args(arguments).output().map_err(|error| format!("{program}: {error}"))?;
    if done.status.success() {
        Ok(String::from_utf8_lossy(&done.stdout).into_owned())
    } else {
        Err(format!("{program}: {}", String::from_utf8_lossy(&done.stderr).trim()))
    }
}
