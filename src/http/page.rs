//! The page's files, built from `web/` and embedded in the program.

#[cfg(feature = "page")]
pub use embedded::serve;

#[cfg(not(feature = "page"))]
pub use absent::serve;

/// Paths that are the page's own views; the page's router shows the right one.
#[cfg(feature = "page")]
const VIEWS: [&str; 5] = ["", "history", "passages", "health", "setup"];

#[cfg(feature = "page")]
mod embedded {
    use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
    use axum::http::{HeaderMap, StatusCode, Uri};
    use axum::response::{IntoResponse, Response};
    use rust_embed::{EmbeddedFile, RustEmbed};

    use super::super::problem::Problem;

    #[derive(RustEmbed)]
    #[folder = "web/dist/"]
    struct Assets;

    /// A file of the page, the page itself for its views, or a problem.
    pub async fn serve(uri: Uri, headers: HeaderMap) -> Response {
        let path = uri.path().trim_matches('/');
        let name = if super::VIEWS.contains(&path) { "index.html" } else { path };
        match Assets::get(name) {
            Some(file) => answer(name, &file, &headers),
            None => Problem::not_found(format!("there is nothing at {}", uri.path())).into_response(),
        }
    }

    fn answer(name: &str, file: &EmbeddedFile, headers: &HeaderMap) -> Response {
        let hash: String = file.metadata.sha256_hash().iter().take(12).map(|byte| format!("{byte:02x}")).collect();
        let tag = format!("\"{hash}\"");
        if headers.get(IF_NONE_MATCH).is_some_and(|known| known.as_bytes() == tag.as_bytes()) {
            return StatusCode::NOT_MODIFIED.into_response();
        }
        // Files under assets/ carry a hash in their names and never change; the others are asked for each time.
        let cache = if name.starts_with("assets/") { "public, max-age=31536000, immutable" } else { "no-cache" };
        let kind = mime_guess::from_path(name).first_or_octet_stream();
        let head = [(CONTENT_TYPE, kind.to_string()), (CACHE_CONTROL, cache.to_owned()), (ETAG, tag)];
        (head, file.data.to_vec()).into_response()
    }
}

#[cfg(not(feature = "page"))]
mod absent {
    use axum::http::Uri;
    use axum::response::{IntoResponse, Response};

    use super::super::problem::Problem;

    /// This program was built without the page.
    pub async fn serve(uri: Uri) -> Response {
        let text = format!(
            "there is nothing at {}; this program was built without the page, its API is at /api/v1",
            uri.path()
        );
        Problem::not_found(text).into_response()
    }
}
