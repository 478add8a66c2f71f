//! What the document of the interface says of permission: the same of each route that changes something.

use utoipa::openapi::content::ContentBuilder;
use utoipa::openapi::path::Operation;
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityRequirement, SecurityScheme};
use utoipa::openapi::{OpenApi, Ref, Response, ResponseBuilder};

/// Name of the scheme within the document.
const SCHEME: &str = "pin";

/// Adds the scheme, and to each route that is not read only that it needs the PIN, and how it refuses.
pub fn tell(document: &mut OpenApi) {
    let scheme = HttpBuilder::new()
        .scheme(HttpAuthScheme::Bearer)
        .description(Some(
            "The `pin` of the configuration. Without one, changes are taken from the machine itself only, and without it.",
        ))
        .build();
    let parts = document.components.get_or_insert_default();
    parts.security_schemes.insert(SCHEME.to_owned(), SecurityScheme::Http(scheme).into());
    for path in document.paths.paths.values_mut() {
        let changing = [&mut path.post, &mut path.put, &mut path.patch, &mut path.delete];
        changing.into_iter().filter_map(Option::as_mut).for_each(guarded);
        // Asked with a PIN, it says whether that is right.
        if let Some(asked) = path.get.as_mut().filter(|get| get.operation_id.as_deref() == Some("permit")) {
            asked.security = Some(vec![SecurityRequirement::default(), SecurityRequirement::new(SCHEME, NO_SCOPES)]);
        }
    }
}

const NO_SCOPES: [&str; 0] = [];

fn guarded(operation: &mut Operation) {
    operation.security = Some(vec![SecurityRequirement::new(SCHEME, NO_SCOPES)]);
    let refusals = [
        ("401", "No PIN came with it, or a wrong one; `needs` is `pin`."),
        (
            "403",
            "A page of somebody else sent it; or no PIN is set and it came from elsewhere, then `needs` is `local`.",
        ),
        ("429", "Too many wrong PINs: none is taken for `retry_after_s`, which Retry-After says too."),
    ];
    for (status, text) in refusals {
        operation.responses.responses.insert(status.to_owned(), problem(text).into());
    }
}

fn problem(text: &str) -> Response {
    let schema = Ref::from_schema_name("Problem");
    let content = ContentBuilder::new().schema(Some(schema)).build();
    ResponseBuilder::new().description(text).content("application/problem+json", content).build()
}
