//! A form that came from a page of this room, with who sent it.

use axum::Extension;
use axum::extract::{Form, FromRequest, FromRequestParts, Request};
use axum::response::{IntoResponse, Response};

use super::access::Visitor;
use super::routes::Fields;

/// What a changing address takes: no form of another page gets as far as its handler.
pub struct OwnForm {
    pub visitor: Visitor,
    pub form: Fields,
}

impl<S: Send + Sync> FromRequest<S> for OwnForm {
    type Rejection = Response;

    async fn from_request(request: Request, state: &S) -> Result<Self, Response> {
        let (mut parts, body) = request.into_parts();
        let Extension(visitor) = Extension::<Visitor>::from_request_parts(&mut parts, state)
            .await
            .map_err(IntoResponse::into_response)?;
        let request = Request::from_parts(parts, body);
        let Form(form) = Form::<Fields>::from_request(request, state)
            .await
            .map_err(IntoResponse::into_response)?;
        visitor
            .check_form(form.get("key").map(String::as_str))
            .map_err(IntoResponse::into_response)?;
        Ok(Self { visitor, form })
    }
}
