//! Errors as problem details (RFC 9457).

use axum::http::header::{CONTENT_TYPE, RETRY_AFTER, WWW_AUTHENTICATE};
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

use super::permit::Needs;
use crate::store;

/// What went wrong, for programs and people. `type` is `about:blank`: the title says what the status means.
#[derive(Debug, Serialize, ToSchema)]
pub struct Problem {
    /// HTTP status.
    status: u16,
    /// What kind of problem.
    title: &'static str,
    /// This one in particular, with what to do.
    detail: String,
    /// Name of the field of the request that, set to true, has it done all the same.
    #[serde(skip_serializing_if = "Option::is_none")]
    insist: Option<&'static str>,
    /// What the request lacks that wants to change something: `pin`, or `local`, to come from the machine itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    needs: Option<Needs>,
    /// How long to wait before asking again, s; the same as the header Retry-After.
    #[serde(skip_serializing_if = "Option::is_none")]
    retry_after_s: Option<u64>,
    /// Of the header WWW-Authenticate.
    #[serde(skip)]
    challenge: Option<&'static str>,
}

/// How to authenticate (RFC 6750), where no PIN came and where it was wrong.
const CHALLENGE: &str = "Bearer realm=\"taffrail\"";
const WRONG_TOKEN: &str = "Bearer realm=\"taffrail\", error=\"invalid_token\"";

impl Problem {
    fn new(status: u16, title: &'static str, detail: impl Into<String>) -> Problem {
        let detail = detail.into();
        Problem { status, title, detail, insist: None, needs: None, retry_after_s: None, challenge: None }
    }

    /// The same, with the field by which somebody may insist.
    #[must_use]
    pub fn unless(self, field: &'static str) -> Problem {
        Problem { insist: Some(field), ..self }
    }

    /// What went wrong, with what to do.
    pub fn detail(&self) -> &str {
        &self.detail
    }

    /// The same, with what the request lacks.
    #[must_use]
    pub(super) fn needing(self, needs: Needs) -> Problem {
        Problem { needs: Some(needs), ..self }
    }

    /// The request asks for something that is not there.
    pub fn not_found(detail: impl Into<String>) -> Problem {
        Problem::new(404, "Not found", detail)
    }

    /// The request cannot be understood.
    pub fn bad_request(detail: impl Into<String>) -> Problem {
        Problem::new(400, "Bad request", detail)
    }

    /// The PIN is missing, or `wrong`.
    pub(super) fn unauthorized(detail: impl Into<String>, wrong: bool) -> Problem {
        let challenge = Some(if wrong { WRONG_TOKEN } else { CHALLENGE });
        Problem { challenge, ..Problem::new(401, "PIN needed", detail) }
    }

    /// It was asked too often.
    pub(super) fn too_many(detail: impl Into<String>, retry_after_s: u64) -> Problem {
        Problem { retry_after_s: Some(retry_after_s), ..Problem::new(429, "Too many tries", detail) }
    }

    /// Whoever asks may not.
    pub fn forbidden(detail: impl Into<String>) -> Problem {
        Problem::new(403, "Forbidden", detail)
    }

    /// It cannot be done as things are.
    pub fn conflict(detail: impl Into<String>) -> Problem {
        Problem::new(409, "Not possible now", detail)
    }

    /// The body is of a kind that is not taken.
    pub fn unsupported(detail: impl Into<String>) -> Problem {
        Problem::new(415, "Unsupported media type", detail)
    }

    /// Somebody who is needed is busy or gone.
    pub fn unavailable(detail: impl Into<String>) -> Problem {
        Problem::new(503, "Not available now", detail)
    }

    /// The store cannot answer now.
    pub fn store(error: &store::Error) -> Problem {
        Problem::new(503, "The store cannot answer", error.to_string())
    }

    /// The answer could not be made.
    pub fn internal(detail: impl Into<String>) -> Problem {
        Problem::new(500, "Internal error", detail)
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let body = serde_json::to_string(&self).unwrap_or_default();
        let mut answer = (status, [(CONTENT_TYPE, "application/problem+json")], body).into_response();
        if let Some(challenge) = self.challenge {
            answer.headers_mut().insert(WWW_AUTHENTICATE, HeaderValue::from_static(challenge));
        }
        if let Some(wait_s) = self.retry_after_s {
            answer.headers_mut().insert(RETRY_AFTER, HeaderValue::from(wait_s));
        }
        answer
    }
}
