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
}

impl Problem {
    /// The request asks for something that is not there.
    pub fn not_found(detail: impl Into<String>) -> Problem {
        Problem { status: 404, title: "Not found", detail: detail.into() }
    }

    /// The request cannot be understood.
    pub fn bad_request(detail: impl Into<String>) -> Problem {
        Problem { status: 400, title: "Bad request", detail: detail.into() }
    }

    /// Whoever asks may not.
    pub fn forbidden(detail: impl Into<String>) -> Problem {
        Problem { status: 403, title: "Forbidden", detail: detail.into() }
    }

    /// It cannot be done as things are.
    pub fn conflict(detail: impl Into<String>) -> Problem {
        Problem { status: 409, title: "Not possible now", detail: detail.into() }
    }

    /// The body is of a kind that is not taken.
    pub fn unsupported(detail: impl Into<String>) -> Problem {
        Problem { status: 415, title: "Unsupported media type", detail: detail.into() }
    }

    /// Somebody who is needed is busy or gone.
    pub fn unavailable(detail: impl Into<String>) -> Problem {
        Problem { status: 503, title: "Not available now", detail: detail.into() }
    }

    /// The store cannot answer now.
    pub fn store(error: &store::Error) -> Problem {
        Problem { status: 503, title: "The store cannot answer", detail: error.to_string() }
    }

    /// The answer could not be made.
    pub fn internal(detail: impl Into<String>) -> Problem {
        Problem { status: 500, title: "Internal error", detail: detail.into() }
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let body = serde_json::to_string(&self).unwrap_or_default();
        (status, [(CONTENT_TYPE, "application/problem+json")], body).into_response()
    }
}
