//! What is answered: the page, and what it asks for.

use super::data;
use super::guard::{Allowed, Refused, check, seal};
use super::rate::Rate;
use super::work::{Desk, Newest, ended};
use crate::live::{At, FIRST, Live, Refusal, STAGE_FLIGHTS, State};
use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::{Query, Request, State as Of};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::http::{StatusCode, Uri};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::{OwnedSemaphorePermit, mpsc, watch};
use tokio_stream::wrappers::ReceiverStream;

/// Lines held for a page that does not read them, and how long.
const LINES: usize = 2;
const UNREAD: Duration = Duration::from_secs(30);

/// Longest name that a page gives itself.
const PAGE_LETTERS: usize = 64;

/// Files of the page: address, kind, content. All of it is in the program.
const FILES: [(&str, &str, &[u8]); 5] = [
    ("/", "text/html; charset=utf-8", include_bytes!("../../assets/live.html")),
    ("/live.js", "text/javascript; charset=utf-8", include_bytes!("../../assets/live.js")),
    ("/live.css", "text/css; charset=utf-8", include_bytes!("../../assets/live.css")),
    ("/inter-regular.woff2", "font/woff2", include_bytes!("../../assets/fonts/Inter-Regular.woff2")),
    ("/inter-bold.woff2", "font/woff2", include_bytes!("../../assets/fonts/Inter-Bold.woff2")),
];

/// All that answers need.
pub(super) struct Site {
    pub(super) live: Arc<Live>,
    pub(super) desk: Arc<Desk>,
    pub(super) allowed: Allowed,
    pub(super) rate: Rate,
    /// Says when the server ends.
    pub(super) ending: watch::Receiver<bool>,
}

impl From<Refusal> for Refused {
    fn from(refusal: Refusal) -> Refused {
        Refused::new(StatusCode::BAD_REQUEST, refusal.error, refusal.accepted)
    }
}

/// The addresses that are answered.
pub(super) fn router(site: Arc<Site>) -> Router {
    let mut router = Router::new()
        .route("/api/start", get(start))
        .route("/api/flight", get(flight))
        .route("/api/shares", get(shares))
        .route("/api/scenario.toml", get(scenario));
    for (address, kind, content) in FILES {
        router = router.route(address, get(move || async move { ([(CONTENT_TYPE, kind)], content) }));
    }
    router.fallback(nothing).layer(from_fn_with_state(site.clone(), guarded)).with_state(site)
}

async fn nothing() -> Refused {
    Refused::new(StatusCode::NOT_FOUND, "there is nothing here", "/")
}

async fn guarded(Of(site): Of<Arc<Site>>, request: Request, next: Next) -> Response {
    let (head, body) = request.into_parts();
    let late = || Refused::new(StatusCode::TOO_MANY_REQUESTS, "too many requests", "fewer in a second");
    // What comes from elsewhere costs the page none of its own requests.
    let checked =
        check(&head, &site.allowed).and_then(|()| site.rate.takes(Instant::now()).then_some(()).ok_or_else(late));
    let mut response = match checked {
        Ok(()) => next.run(Request::from_parts(head, body)).await,
        Err(refused) => refused.into_response(),
    };
    seal(response.headers_mut());
    response
}

/// What an address asks for.
struct Asked {
    state: State,
    flight: Option<u32>,
    page: Option<String>,
}

/// Reads an address; `own` are the keys that it may have besides those of a state.
fn asked(live: &Live, uri: &Uri, own: &[&str]) -> Result<Asked, Refused> {
    let refuse = |error: String, accepted: String| Refused::new(StatusCode::BAD_REQUEST, error, accepted);
    let Query(pairs) = Query::<Vec<(String, String)>>::try_from_uri(uri)
        .map_err(|error| refuse(error.to_string(), "key=value&key=value".into()))?;
    let (mut flight, mut page) = (None, None);
    let mut rest = Vec::new();
    for (key, value) in &pairs {
        match key.as_str() {
            "flight" if own.contains(&"flight") && flight.is_none() => {
                let flights = live.base().scenario.flights;
                let number = value.parse().ok().filter(|number| *number < flights);
                let accepted = || format!("0 to {}", flights - 1);
                flight = Some(number.ok_or_else(|| refuse(format!("flight: \"{value}\""), accepted()))?);
            }
            "page" if own.contains(&"page") && page.is_none() => {
                let fits = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
                if value.is_empty() || value.len() > PAGE_LETTERS || !value.chars().all(fits) {
                    let accepted = format!("1 to {PAGE_LETTERS} letters, digits, - and _");
                    return Err(refuse("page: not a name".into(), accepted));
                }
                page = Some(value.clone());
            }
            _ => rest.push((key.as_str(), value.as_str())),
        }
    }
    Ok(Asked { state: live.state(rest)?, flight, page })
}

fn json(bytes: Vec<u8>) -> Response {
    ([(CONTENT_TYPE, "application/json")], bytes).into_response()
}

/// Does a piece of work on a state and gives it as JSON.
async fn told<T: serde::Serialize>(
    site: Arc<Site>,
    state: State,
    piece: impl FnOnce(&Live, &At) -> T + Send + 'static,
) -> Result<Response, Refused> {
    let _place = site.desk.place()?;
    let live = site.live.clone();
    let broke = |error: serde_json::Error| Refused::new(StatusCode::INTERNAL_SERVER_ERROR, error.to_string(), "");
    let bytes = site.desk.work(move || -> Result<Vec<u8>, Refused> {
        let at = live.at(&state)?;
        serde_json::to_vec(&piece(&live, &at)).map_err(broke)
    });
    Ok(json(bytes.await??))
}

async fn start(Of(site): Of<Arc<Site>>, uri: Uri) -> Result<Response, Refused> {
    let asked = asked(&site.live, &uri, &[])?;
    told(site, asked.state, data::start).await
}

async fn flight(Of(site): Of<Arc<Site>>, uri: Uri) -> Result<Response, Refused> {
    let asked = asked(&site.live, &uri, &["flight"])?;
    told(site, asked.state, move |_, at| data::flight(&at.told(asked.flight))).await
}

async fn scenario(Of(site): Of<Arc<Site>>, uri: Uri) -> Result<Response, Refused> {
    let asked = asked(&site.live, &uri, &[])?;
    let _place = site.desk.place()?;
    let name = data::file_name(&site.live.base().scenario.title, &asked.state);
    let live = site.live.clone();
    let text = site.desk.work(move || live.text(&asked.state)).await??;
    let headers = [
        (CONTENT_TYPE, "application/toml".to_string()),
        (CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")),
    ];
    Ok((headers, text).into_response())
}

async fn shares(Of(site): Of<Arc<Site>>, uri: Uri) -> Result<Response, Refused> {
    let asked = asked(&site.live, &uri, &["page"])?;
    let Some(page) = asked.page else {
        return Err(Refused::new(StatusCode::BAD_REQUEST, "page: missing", "a name of the page's own"));
    };
    let place = site.desk.place()?;
    let newest = site.desk.newest(&page);
    let (live, stop) = (site.live.clone(), newest.stop.clone());
    // A state that was left while it waited makes no world.
    let made = site.desk.work(move || (!stop.is_stopped()).then(|| live.at(&asked.state)).transpose()).await??;
    let (lines, read) = mpsc::channel(LINES);
    if let Some(at) = made {
        tokio::spawn(refine(site, at, newest, place, lines));
    }
    Ok(([(CONTENT_TYPE, "application/x-ndjson")], Body::from_stream(ReceiverStream::new(read))).into_response())
}

/// The next number of flights at which a page hears something: each twice the one before.
fn next_goal(flown: u32) -> u32 {
    let mut goal = FIRST;
    while goal <= flown {
        goal = goal.saturating_mul(2);
    }
    goal
}

/// Flies on in stages and gives a line for each, until all is flown or nobody wants it any more.
async fn refine(
    site: Arc<Site>,
    at: Arc<At>,
    newest: Newest,
    _place: OwnedSemaphorePermit,
    lines: mpsc::Sender<Result<Bytes, Infallible>>,
) {
    let mut ending = site.ending.clone();
    let mut goal = FIRST.min(at.flights());
    while !newest.stop.is_stopped() {
        let (now, stop) = (at.clone(), newest.stop.clone());
        let piece = site.desk.work(move || {
            let flown = now.fly_on(goal, STAGE_FLIGHTS, stop.flag());
            (flown >= goal && !stop.is_stopped()).then(|| now.standing())
        });
        // What is dropped here is stopped with `newest`.
        let standing = tokio::select! {
            biased;
            () = ended(&mut ending) => return,
            () = lines.closed() => return,
            standing = piece => standing,
        };
        let Ok(standing) = standing else { return };
        let Some(standing) = standing else { continue };
        goal = next_goal(standing.flights).min(standing.of);
        let Ok(mut line) = serde_json::to_vec(&standing) else { return };
        line.push(b'\n');
        let sent = tokio::time::timeout(UNREAD, lines.send(Ok(line.into()))).await;
        if !matches!(sent, Ok(Ok(()))) || standing.done {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stages_double() {
        let all: Vec<u32> = [0, 7, 8, 15, 16, 1_000].map(next_goal).into();
        assert_eq!(all, [8, 8, 16, 16, 32, 1_024]);
        assert_eq!(next_goal(u32::MAX - 1), u32::MAX);
    }
}
