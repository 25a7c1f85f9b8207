//! What is refused before anything is worked out, and what every response carries.

use axum::http::header::{
    AsHeaderName, CACHE_CONTROL, CONNECTION, CONTENT_LENGTH, CONTENT_SECURITY_POLICY, HOST, HeaderName, HeaderValue,
    ORIGIN, REFERRER_POLICY, TRANSFER_ENCODING, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::request::Parts;
use axum::http::{HeaderMap, Method, StatusCode};
use axum::response::{IntoResponse, Response};

/// Longest address that is read, bytes: a state with every control moved takes 200.
pub(super) const ADDRESS_BYTES: usize = 2_048;

/// Scripts, styles and fonts of the page alone, no other place, no frame around it. Figures carry no style of their own.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; font-src 'self'; img-src 'self' \
    data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// The names under which the page may be asked for. Any other leads here from elsewhere: a name that was made to point at the
/// loopback address.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Allowed(Vec<String>);

impl Allowed {
    /// For a port.
    pub fn at(port: u16) -> Allowed {
        let hosts = ["127.0.0.1", "localhost", "[::1]"];
        let mut names: Vec<String> = hosts.iter().map(|host| format!("{host}:{port}")).collect();
        if port == 80 {
            // Browsers leave it out.
            names.extend(hosts.map(String::from));
        }
        Allowed(names)
    }

    fn holds(&self, host: &str) -> bool {
        self.0.iter().any(|name| name.eq_ignore_ascii_case(host))
    }

    fn accepts(&self) -> String {
        self.0.join(", ")
    }
}

/// Why a request is refused.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Refused {
    status: StatusCode,
    error: String,
    accepted: String,
}

impl Refused {
    pub(super) fn new(status: StatusCode, error: impl Into<String>, accepted: impl Into<String>) -> Refused {
        Refused { status, error: error.into(), accepted: accepted.into() }
    }
}

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        let body = serde_json::json!({ "error": self.error, "accepted": self.accepted });
        let mut response = (self.status, axum::Json(body)).into_response();
        if self.status == StatusCode::PAYLOAD_TOO_LARGE {
            // What follows on the connection is not read.
            response.headers_mut().insert(CONNECTION, HeaderValue::from_static("close"));
        }
        if self.status == StatusCode::METHOD_NOT_ALLOWED {
            response.headers_mut().insert("allow", HeaderValue::from_static("GET, HEAD"));
        }
        if self.status == StatusCode::TOO_MANY_REQUESTS {
            response.headers_mut().insert("retry-after", HeaderValue::from_static("1"));
        }
        response
    }
}

/// The one value of a header, as text; an error when there are several or it is none.
fn only(headers: &HeaderMap, name: impl AsHeaderName) -> Result<Option<&str>, ()> {
    let mut values = headers.get_all(name).iter();
    match (values.next(), values.next()) {
        (None, _) => Ok(None),
        (Some(value), None) => value.to_str().map(Some).map_err(drop),
        _ => Err(()),
    }
}

/// Whether a request is refused, by its head alone.
pub(super) fn check(head: &Parts, allowed: &Allowed) -> Result<(), Refused> {
    let host = only(&head.headers, HOST).ok().flatten().filter(|host| allowed.holds(host));
    // An address that names a host itself goes before the header.
    let named = head.uri.authority().is_none_or(|authority| allowed.holds(authority.as_str()));
    let Some(host) = host.filter(|_| named) else {
        let error = "this page is served under another name";
        return Err(Refused::new(StatusCode::MISDIRECTED_REQUEST, error, allowed.accepts()));
    };
    let from = only(&head.headers, ORIGIN);
    let own = match from {
        Ok(None) => true,
        Ok(Some(origin)) => origin.strip_prefix("http://").is_some_and(|origin| origin.eq_ignore_ascii_case(host)),
        Err(()) => false,
    };
    let site = only(&head.headers, HeaderName::from_static("sec-fetch-site"));
    if !own || !matches!(site, Ok(None | Some("same-origin" | "none"))) {
        let error = "asked for by a page from elsewhere";
        return Err(Refused::new(StatusCode::FORBIDDEN, error, "this page itself, or its address typed or bookmarked"));
    }
    if ![Method::GET, Method::HEAD].contains(&head.method) {
        return Err(Refused::new(StatusCode::METHOD_NOT_ALLOWED, format!("method {}", head.method), "GET, HEAD"));
    }
    let length = head.uri.path_and_query().map_or(0, |address| address.as_str().len());
    if length > ADDRESS_BYTES {
        let error = format!("an address of {length} bytes");
        return Err(Refused::new(StatusCode::URI_TOO_LONG, error, format!("at most {ADDRESS_BYTES} bytes")));
    }
    let empty = only(&head.headers, CONTENT_LENGTH).is_ok_and(|length| length.is_none_or(|length| length == "0"));
    if !empty || head.headers.contains_key(TRANSFER_ENCODING) {
        return Err(Refused::new(StatusCode::PAYLOAD_TOO_LARGE, "a request with a body", "a request without one"));
    }
    Ok(())
}

/// Puts on every response that it is for this page alone.
pub(super) fn seal(headers: &mut HeaderMap) {
    let fixed = |text: &'static str| HeaderValue::from_static(text);
    headers.insert(CONTENT_SECURITY_POLICY, fixed(POLICY));
    headers.insert(X_CONTENT_TYPE_OPTIONS, fixed("nosniff"));
    headers.insert(CACHE_CONTROL, fixed("no-store"));
    headers.insert(REFERRER_POLICY, fixed("no-referrer"));
    headers.insert("cross-origin-resource-policy", fixed("same-origin"));
    headers.insert("cross-origin-opener-policy", fixed("same-origin"));
}
