//! Listens on the loopback address, and ends when told to.

use super::answers::{Site, router};
use super::guard::Allowed;
use super::rate::Rate;
use super::work::{Desk, ended};
use crate::live::Live;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::future::Future;
use std::io;
use std::net::{Ipv4Addr, TcpListener};
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::sync::{Semaphore, watch};
use tokio::time::{sleep, timeout};

/// Bytes of the head of a request, address included, that are read; and its headers.
const HEAD_BYTES: usize = 16 * 1024;
const HEADERS: usize = 64;

/// Pause after an accept that failed, as when there are no more handles.
const PAUSE: Duration = Duration::from_millis(20);

/// What the server puts up with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Time for the head of a request to come, also the first and the next on an open connection.
    pub head: Duration,
    /// Connections at a time.
    pub connections: usize,
    /// Requests a second, in the long run.
    pub per_s: f64,
    /// Requests at once.
    pub burst: f64,
    /// Time in which answers may end once the server ends.
    pub leave: Duration,
}

impl Default for Bounds {
    fn default() -> Bounds {
        Bounds {
            head: Duration::from_secs(10),
            connections: 128,
            per_s: 200.0,
            burst: 400.0,
            leave: Duration::from_millis(400),
        }
    }
}

/// A server that has its port.
pub struct Server {
    listener: TcpListener,
    live: Arc<Live>,
    bounds: Bounds,
    port: u16,
}

impl Server {
    /// Takes a port on the loopback address, a free one for 0.
    ///
    /// # Errors
    /// A port that is taken, or may not be.
    pub fn bind(live: Live, port: u16, bounds: Bounds) -> io::Result<Server> {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))?;
        listener.set_nonblocking(true)?;
        let port = listener.local_addr()?.port();
        Ok(Server { listener, live: Arc::new(live), bounds, port })
    }

    /// The address of the page.
    pub fn url(&self) -> String {
        format!("http://127.0.0.1:{}/", self.port)
    }

    /// Answers until `end` comes. What is being answered then has a moment to end.
    ///
    /// # Errors
    /// When the system gives no means to listen.
    pub fn run(self, end: impl Future<Output = ()>) -> io::Result<()> {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        let listened = runtime.block_on(self.listen(end));
        // Work that cannot be stopped is left behind.
        runtime.shutdown_background();
        listened
    }

    async fn listen(self, end: impl Future<Output = ()>) -> io::Result<()> {
        let Server { listener, live, bounds, port } = self;
        let listener = tokio::net::TcpListener::from_std(listener)?;
        let (ends, ending) = watch::channel(false);
        let app = router(Arc::new(Site {
            live,
            desk: Arc::new(Desk::new()),
            allowed: Allowed::at(port),
            rate: Rate::new(bounds.per_s, bounds.burst),
            ending: ending.clone(),
        }));
        let most = u32::try_from(bounds.connections).unwrap_or(u32::MAX);
        let open = Arc::new(Semaphore::new(bounds.connections));
        let mut end = pin!(end);
        loop {
            let accepted = tokio::select! {
                biased;
                () = &mut end => break,
                accepted = listener.accept() => accepted,
            };
            let Ok((stream, _)) = accepted else {
                sleep(PAUSE).await;
                continue;
            };
            // One too many is closed at once.
            let Ok(permit) = open.clone().try_acquire_owned() else { continue };
            let (app, ending) = (app.clone(), ending.clone());
            tokio::spawn(async move {
                converse(stream, app, bounds, ending).await;
                drop(permit);
            });
        }
        ends.send_replace(true);
        let _ = timeout(bounds.leave, open.acquire_many(most)).await;
        Ok(())
    }
}

/// One connection from its first request to its last.
async fn converse(stream: TcpStream, app: axum::Router, bounds: Bounds, mut ending: watch::Receiver<bool>) {
    let _ = stream.set_nodelay(true);
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(bounds.head)
        .max_buf_size(HEAD_BYTES)
        .max_headers(HEADERS)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(app));
    let mut connection = pin!(connection);
    tokio::select! {
        _ = connection.as_mut() => {}
        () = ended(&mut ending) => {
            connection.as_mut().graceful_shutdown();
            let _ = timeout(bounds.leave, connection).await;
        }
    }
}

/// Comes when the program is told to end: Ctrl-C, or the system asks it to.
pub async fn told_to_end() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut asked) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => {}
                _ = asked.recv() => {}
            }
            return;
        }
    }
    let _ = tokio::signal::ctrl_c().await;
}
