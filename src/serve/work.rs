//! Work that takes time: a few at a time, each in its turn, and none for who has gone.

use super::guard::Refused;
use axum::http::StatusCode;
use std::collections::HashMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};

/// Pieces of work done at a time. Each uses all threads where it can; a second one fills the gaps.
const AT_A_TIME: usize = 2;

/// Who is at work or waits for it. Beyond that a request is turned away.
const WAITING: usize = 48;

/// Comes when the server ends.
pub(super) async fn ended(ending: &mut watch::Receiver<bool>) {
    let _ = ending.wait_for(|ends| *ends).await;
}

/// The desk at which work is asked for.
pub(super) struct Desk {
    turns: Arc<Semaphore>,
    places: Arc<Semaphore>,
    pages: Mutex<HashMap<String, Stop>>,
}

/// A flag that stops work.
#[derive(Debug, Clone, Default)]
pub(super) struct Stop(Arc<AtomicBool>);

impl Stop {
    pub(super) fn stop(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    pub(super) fn is_stopped(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }

    pub(super) fn flag(&self) -> &AtomicBool {
        &self.0
    }

    fn is(&self, other: &Stop) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

/// The newest work of a page. When it goes the page has none.
pub(super) struct Newest {
    desk: Arc<Desk>,
    page: String,
    pub(super) stop: Stop,
}

impl Drop for Newest {
    fn drop(&mut self) {
        self.stop.stop();
        let mut pages = self.desk.pages.lock().unwrap_or_else(PoisonError::into_inner);
        if pages.get(&self.page).is_some_and(|newest| newest.is(&self.stop)) {
            pages.remove(&self.page);
        }
    }
}

impl Desk {
    pub(super) fn new() -> Desk {
        Desk {
            turns: Arc::new(Semaphore::new(AT_A_TIME)),
            places: Arc::new(Semaphore::new(WAITING)),
            pages: Mutex::default(),
        }
    }

    /// A place in the queue, kept until the answer is given.
    pub(super) fn place(&self) -> Result<OwnedSemaphorePermit, Refused> {
        self.places.clone().try_acquire_owned().map_err(|_| {
            Refused::new(
                StatusCode::TOO_MANY_REQUESTS,
                "too much is being worked out already",
                "the same a little later",
            )
        })
    }

    /// Stops what the page asked for before, and takes its place.
    pub(super) fn newest(self: &Arc<Desk>, page: &str) -> Newest {
        let stop = Stop::default();
        let mut pages = self.pages.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(older) = pages.insert(page.into(), stop.clone()) {
            older.stop();
        }
        Newest { desk: self.clone(), page: page.into(), stop }
    }

    /// Does a piece of work off the threads that listen, when its turn comes. Dropped while it waits, it is never begun.
    pub(super) async fn work<T: Send + 'static>(
        &self,
        piece: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Refused> {
        let failed = || Refused::new(StatusCode::INTERNAL_SERVER_ERROR, "the work broke off", "another setting");
        let turn = self.turns.clone().acquire_owned().await.map_err(|_| failed())?;
        let done = tokio::task::spawn_blocking(move || {
            let _turn = turn;
            piece()
        });
        done.await.map_err(|_| failed())
    }
}
