//! Where a request comes from, by its connection and its headers.

use std::net::{IpAddr, SocketAddr};

use axum::extract::{ConnectInfo, Request};
use axum::http::header::{CONTENT_TYPE, FORWARDED, HOST, ORIGIN, VIA};
use axum::http::{HeaderMap, HeaderName};

use super::super::problem::Problem;

/// What a proxy adds; the prefix stands for `-For`, `-Host` and their like.
const BY_PROXY: [HeaderName; 3] = [FORWARDED, VIA, HeaderName::from_static("x-real-ip")];
const BY_PROXY_PREFIX: &str = "x-forwarded-";

/// Why a request is not one of the machine itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Foreign {
    /// It came from another address, or nobody knows from which.
    Peer,
    /// It names another host: a page elsewhere may have its name lead to this machine, and speak in its reader's place.
    Host,
    /// A proxy speaks for somebody else.
    Proxy,
}

/// Whether the request comes from a program on this very machine.
pub fn check_local(request: &Request) -> Result<(), Foreign> {
    let peer = request.extensions().get::<ConnectInfo<SocketAddr>>();
    if !peer.is_some_and(|ConnectInfo(peer)| is_loopback(peer.ip())) {
        return Err(Foreign::Peer);
    }
    let headers = request.headers();
    let by_proxy = |name: &HeaderName| BY_PROXY.contains(name) || name.as_str().starts_with(BY_PROXY_PREFIX);
    if headers.keys().any(by_proxy) {
        return Err(Foreign::Proxy);
    }
    let host = headers.get(HOST).and_then(|host| host.to_str().ok());
    if host.is_some_and(names_loopback) { Ok(()) } else { Err(Foreign::Host) }
}

/// An IPv4 address may come dressed as one of IPv6.
const fn is_loopback(ip: IpAddr) -> bool {
    ip.to_canonical().is_loopback()
}

/// Whether a Host header, with or without its port, names this machine by something that no name server answers for.
fn names_loopback(host: &str) -> bool {
    let name = match host.rsplit_once(':') {
        Some((name, port)) if !port.ends_with(']') && port.bytes().all(|byte| byte.is_ascii_digit()) => name,
        _ => host,
    };
    let bare = name.strip_prefix('[').and_then(|name| name.strip_suffix(']'));
    match bare {
        Some(bare) => bare.parse().is_ok_and(|ip| is_loopback(IpAddr::V6(ip))),
        None => name.eq_ignore_ascii_case("localhost") || name.parse().is_ok_and(|ip| is_loopback(IpAddr::V4(ip))),
    }
}

/// Refuses what a page of somebody else sends.
pub fn check_origin(headers: &HeaderMap) -> Result<(), Problem> {
    let text = |name| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
    // No browser leaves Origin out of a POST; a program that sends none is no page.
    if let Some(origin) = text(ORIGIN)
        && origin.split_once("://").map(|(_, authority)| authority) != text(HOST)
    {
        return Err(Problem::forbidden(format!("a page of {origin} may not give orders here")));
    }
    Ok(())
}

/// Refuses what is no JSON: a form of somebody else's page cannot send that without the browser asking first.
pub fn check_json(headers: &HeaderMap) -> Result<(), Problem> {
    let kind = headers.get(CONTENT_TYPE).and_then(|value| value.to_str().ok());
    let kind = kind.unwrap_or("").split(';').next().unwrap_or("").trim();
    if !kind.eq_ignore_ascii_case("application/json") {
        return Err(Problem::unsupported("Content-Type: expected application/json"));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_host_names_this_machine_only_by_localhost_or_a_loopback_address() {
        let own =
            ["localhost", "LOCALHOST:7245", "127.0.0.1", "127.8.9.1:80", "[::1]", "[::1]:7245", "[::ffff:127.0.0.1]:1"];
        for host in own {
            assert!(names_loopback(host), "{host}");
        }
        let other = [
            "",
            ":7245",
            "boat.local:7245",
            "localhost.example",
            "127.0.0.1.example:7245",
            "192.168.4.1:7245",
            "::1",
            "[::2]:7245",
            "[127.0.0.1]:7245",
            "localhost:evil",
            "evil:7245@localhost",
            "0.0.0.0:7245",
        ];
        for host in other {
            assert!(!names_loopback(host), "{host}");
        }
    }
}
