//! Who may change something.
//!
//! Whatever is not read only passes [`guard`] before it reaches its route, so that no route can forget it. A page of
//! somebody else changes nothing, and what has a body is JSON. With a PIN set, the request must bring it. Without one, it
//! must come from the machine itself: whoever has a program running there could write to the store anyway.

mod document;
mod pin;
mod sender;
mod tries;

use std::sync::{Arc, Mutex, PoisonError};

use axum::Json;
use axum::extract::{Request, State};
use axum::http::Method;
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

pub use document::tell as document;
pub use pin::Pin;

use super::live::Live;
use super::problem::Problem;
use crate::quantity::MonoMs;
use sender::{Foreign, check_json, check_local, check_origin};
use tries::{MOST, Tries};

/// Knows the PIN, and who tried what.
#[derive(Debug)]
pub struct Permit {
    pin: Option<Pin>,
    tries: Mutex<Tries>,
}

/// What a request lacks that wants to change something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Needs {
    /// The PIN.
    Pin,
    /// To come from the machine itself.
    Local,
}

/// Why a request may not change anything.
enum Refusal {
    NoPin,
    WrongPin,
    TooMany { wait_s: u64 },
    NotLocal(Foreign),
}

/// Whether whoever asks may change something.
#[derive(Debug, Serialize, ToSchema)]
pub struct PermitView {
    /// Whether this very request could have.
    may: bool,
    /// What it lacked: `pin`, or `local` where no PIN is set and it came from elsewhere; null where it may.
    needs: Option<Needs>,
    /// Whether a PIN is set.
    pin_set: bool,
    /// The same for people.
    text: String,
}

impl Permit {
    /// For a PIN, or for none.
    #[must_use]
    pub fn new(pin: Option<Pin>) -> Permit {
        Permit { pin, tries: Mutex::default() }
    }

    fn judge(&self, request: &Request, now: MonoMs) -> Result<(), Refusal> {
        let Some(pin) = &self.pin else {
            return check_local(request).map_err(Refusal::NotLocal);
        };
        // One after the other, or many at once would be more tries than are allowed.
        let mut tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(right) = pin.comes_with(request.headers()) else { return Err(Refusal::NoPin) };
        // The right one waits too: whoever tries them out could tell it from the others otherwise.
        if let Some(wait_s) = tries.wait_s(now) {
            return Err(Refusal::TooMany { wait_s });
        }
        if right {
            return Ok(());
        }
        tries.wrong(now);
        if let Some(wait_s) = tries.wait_s(now) {
            tracing::warn!("{MOST} wrong PINs within a minute; none is taken for {wait_s} s");
        }
        Err(Refusal::WrongPin)
    }
}

impl Refusal {
    const fn needs(&self) -> Needs {
        match self {
            Refusal::NoPin | Refusal::WrongPin | Refusal::TooMany { .. } => Needs::Pin,
            Refusal::NotLocal(_) => Needs::Local,
        }
    }

    fn text(&self) -> String {
        let why = match self {
            Refusal::NoPin => return "this needs the PIN that is set in the configuration".to_owned(),
            Refusal::WrongPin => return "that is not the PIN that is set in the configuration".to_owned(),
            Refusal::TooMany { wait_s } => {
                return format!("{MOST} wrong PINs within a minute: none is taken for another {wait_s} s");
            }
            Refusal::NotLocal(Foreign::Peer) => "this came from another address",
            Refusal::NotLocal(Foreign::Host) => {
                "this came by another name than localhost or a loopback address such as 127.0.0.1"
            }
            Refusal::NotLocal(Foreign::Proxy) => "this came through a proxy",
        };
        format!(
            "without a PIN, changes are taken only from the machine that taffrail runs on, and {why}; to change something \
             from elsewhere, set pin in the configuration and start taffrail again"
        )
    }
}

impl From<Refusal> for Problem {
    fn from(refusal: Refusal) -> Problem {
        let text = refusal.text();
        let problem = match refusal {
            Refusal::NoPin => Problem::unauthorized(text, false),
            Refusal::WrongPin => Problem::unauthorized(text, true),
            Refusal::TooMany { wait_s } => Problem::too_many(text, wait_s),
            Refusal::NotLocal(_) => Problem::forbidden(text),
        };
        problem.needing(refusal.needs())
    }
}

/// Lets through what is read only, and of the rest what may change something.
pub async fn guard(State(live): State<Arc<Live>>, request: Request, next: Next) -> Response {
    match check(&live, &request) {
        Ok(()) => next.run(request).await,
        Err(refused) => refused.into_response(),
    }
}

fn check(live: &Live, request: &Request) -> Result<(), Problem> {
    let method = request.method();
    if method == Method::GET || method == Method::HEAD {
        return Ok(());
    }
    check_origin(request.headers())?;
    live.permit.judge(request, live.clock.mono())?;
    // No form can be a DELETE, and it has no body.
    if method == Method::DELETE { Ok(()) } else { check_json(request.headers()) }
}

/// Whether this client may change something; with a PIN, whether it is the right one.
#[utoipa::path(get, path = "/api/v1/permit", responses((status = 200, body = PermitView), (status = 401, description = "A wrong PIN came with it", body = Problem, content_type = "application/problem+json"), (status = 429, description = "Too many wrong PINs", body = Problem, content_type = "application/problem+json")))]
pub async fn permit(State(live): State<Arc<Live>>, request: Request) -> Result<Json<PermitView>, Problem> {
    let permit = &live.permit;
    let (may, needs, text) = match permit.judge(&request, live.clock.mono()) {
        Ok(()) => (true, None, "changes are taken".to_owned()),
        Err(refused @ (Refusal::WrongPin | Refusal::TooMany { .. })) => return Err(refused.into()),
        Err(refused) => (false, Some(refused.needs()), refused.text()),
    };
    Ok(Json(PermitView { may, needs, pin_set: permit.pin.is_some(), text }))
}
