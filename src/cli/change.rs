//! Changes to the health record: by this command itself while no daemon runs, otherwise by the daemon, which is asked
//! through its API so that there is one writer only.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::time::Duration;

use serde_json::Value;

use super::Failure;
use super::survey::look_at;
use crate::config::Config;
use crate::daemon::{self, DataDir};
use crate::http::Pin;
use crate::store::{Options, Writer};

/// How long the daemon may take for an answer: it allows its own tasks 20 s.
const PATIENCE: Duration = Duration::from_secs(30);

/// Who writes.
pub enum Pen {
    /// This command; nobody else works on the data folder until it is dropped.
    Ours(DataDir),
    /// The daemon that works on it.
    Daemon(Daemon),
}

/// A running daemon, by the address of its page.
pub struct Daemon {
    address: SocketAddr,
    pin: Option<Pin>,
    agent: ureq::Agent,
}

/// How a request is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verb {
    /// With a body.
    Post,
    /// With a body.
    Patch,
    /// Without one.
    Delete,
}

/// Finds out who writes to the data folder of a configuration.
pub fn pen(config: &Config) -> Result<Pen, Failure> {
    match DataDir::claim(&config.data_dir) {
        Ok(data_dir) => Ok(Pen::Ours(data_dir)),
        Err(daemon::Error::InUse(_)) => Ok(Pen::Daemon(Daemon::of(config))),
        Err(error) => Err(Failure::daemon(&error)),
    }
}

/// Opens the store of a folder for writing.
pub fn writer(data_dir: &DataDir) -> Result<Writer, Failure> {
    Writer::open(&data_dir.store_path(), Options::default()).map_err(|error| Failure::daemon(&error))
}

/// Looks at what is stored and was not looked at yet, so that what follows from a change is there when the command ends.
pub fn look(config: &Config, data_dir: &DataDir, writer: &mut Writer) -> Result<(), Failure> {
    config.banks.iter().try_for_each(|bank| look_at(config, bank, &data_dir.store_path(), writer).map(drop))
}

impl Daemon {
    fn of(config: &Config) -> Daemon {
        // No proxy stands between a boat's programs, and an answer that says no has words of its own.
        let settings =
            ureq::Agent::config_builder().proxy(None).http_status_as_error(false).timeout_global(Some(PATIENCE));
        Daemon { address: reachable(config.listen), pin: config.pin.clone(), agent: settings.build().into() }
    }

    /// Asks the daemon to change something; its answer.
    pub fn ask(&self, verb: Verb, path: &str, body: &Value) -> Result<Value, Failure> {
        let url = format!("http://{}/api/v1/{path}", self.address);
        let answer = match verb {
            Verb::Post => self.permitted(self.agent.post(&url)).send_json(body),
            Verb::Patch => self.permitted(self.agent.patch(&url)).send_json(body),
            Verb::Delete => self.permitted(self.agent.delete(&url)).call(),
        };
        let mut answer = answer.map_err(|cause| self.silent(&cause))?;
        let status = answer.status();
        let read = answer.body_mut().read_json::<Value>().map_err(|cause| self.silent(&cause))?;
        if status.is_success() {
            return Ok(read);
        }
        let mut detail = read["detail"].as_str().unwrap_or("it said no, and not why").to_owned();
        if let Some(field) = read["insist"].as_str() {
            // Options have the names of fields.
            detail = format!("{}; to have it done all the same, add --{field}", detail.trim_end_matches('.'));
        }
        if read["needs"] == "pin" && read["retry_after_s"].is_null() {
            // The daemon may have been started with another one, or with one where there was none.
            detail.push_str("; see that the daemon was started with this configuration");
        }
        if read["needs"].is_string() {
            return Err(Failure::permission(detail));
        }
        // What was asked for is wrong or not possible, or whoever should do it is not there.
        Err(if status.is_client_error() { Failure::input(detail) } else { Failure::unavailable(detail) })
    }

    fn permitted<B>(&self, request: ureq::RequestBuilder<B>) -> ureq::RequestBuilder<B> {
        match &self.pin {
            Some(pin) => request.header("authorization", pin.authorization()),
            None => request,
        }
    }

    fn silent(&self, cause: &ureq::Error) -> Failure {
        Failure::unavailable(format!(
            "another taffrail works on the data folder, and no daemon answers at {} ({cause}); wait until that command has \
             ended, or see that listen in the configuration is the daemon's",
            self.address
        ))
    }
}

/// Where a server that listens there can be reached from this machine.
fn reachable(listen: SocketAddr) -> SocketAddr {
    let ip = match listen.ip() {
        IpAddr::V4(ip) if ip.is_unspecified() => IpAddr::V4(Ipv4Addr::LOCALHOST),
        IpAddr::V6(ip) if ip.is_unspecified() => IpAddr::V6(Ipv6Addr::LOCALHOST),
        ip => ip,
    };
    SocketAddr::new(ip, listen.port())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_server_for_all_addresses_is_reached_at_this_machine() {
        let reach = |listen: &str| reachable(listen.parse().expect("an address")).to_string();
        let all = ["0.0.0.0:7245", "[::]:7245", "192.168.4.1:80"].map(reach);
        assert_eq!(all, ["127.0.0.1:7245", "[::1]:7245", "192.168.4.1:80"]);
    }
}
