//! Errors as problem details (RFC 9457).

use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::ToSchema;

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
}

impl Problem {
    fn new(status: u16, title: &'static str, detail: impl Into<String>) -> Problem {
        Problem { status, title, detail: detail.into(), insist: None }
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

    /// The request asks for something that is not there.
    pub fn not_found(detail: impl Into<String>) -> Problem {
        Problem::new(404, "Not found", detail)
    }

    /// The request cannot be understood.
    pub fn bad_request(detail: impl Into<String>) -> Problem {
        Problem::new(400, "Bad request", detail)
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
        (status, [(CONTENT_TYPE, "application/problem+json")], body).into_response()
    }
}
