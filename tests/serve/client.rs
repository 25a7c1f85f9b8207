//! A server in a thread of its own, and a client that writes what it likes.

use lostlink::live::Live;
use lostlink::scenario::{Folder, NoFiles};
use lostlink::serve::{Bounds, Server};
use serde_json::Value;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::thread::JoinHandle;
use std::time::Duration;

/// A field on which flights are short.
pub const FIELD: &str = r#"
title = "A small field"
about = "Invented, for tests."
invented = true
seed = 5
flights = 80

[site]
extent_m = [-200, -200, 200, 200]
home_m = [0, 0]

[[site.zone]]
name = "footpath"
kind = "people"
line_m = [[-200, 50], [200, 50]]
width_m = 4
people = 4

[weather]
wind_mps = { normal = [4, 1] }   # the day's forecast

[craft]
mass_kg = 1.0

[path]
waypoints_m = [[0, 20, 30], [80, 60, 30], [-60, 60, 30]]

[loss.cut]
any_time = true   # whatever the radio does

[[policy]]
name = "land"
[[policy.action]]
land = {}

[[policy]]
name = "home"
[[policy.action]]
return = { height = { up_m = 40 } }   # over the trees

[[condition]]
name = "calm"
set = { "weather.wind_mps" = 1.0 }
"#;

/// The text of a shipped scenario with another number of flights.
pub fn shipped(name: &str, flights: u32) -> String {
    let path = Path::new(env!("LOSTLINK_ROOT")).join("scenarios").join(name);
    let text = std::fs::read_to_string(path).unwrap();
    let line = text.lines().find(|line| line.starts_with("flights = "));
    match line {
        Some(line) => text.replace(line, &format!("flights = {flights}")),
        None => text.replacen("seed = ", &format!("flights = {flights}\nseed = "), 1),
    }
}

/// The scenario's controls; files are those of the shipped ones.
pub fn live(text: &str) -> Live {
    let folder = Folder(Path::new(env!("LOSTLINK_ROOT")).join("scenarios"));
    Live::open("test.toml", text, &folder).unwrap_or_else(|error| panic!("{error}"))
}

/// One that names no file.
pub fn field() -> Live {
    Live::open("field.toml", FIELD, &NoFiles).unwrap_or_else(|error| panic!("{error}"))
}

/// A server at work; it ends when this goes.
pub struct Served {
    pub port: u16,
    end: Option<tokio::sync::oneshot::Sender<()>>,
    thread: Option<JoinHandle<std::io::Result<()>>>,
}

impl Served {
    pub fn new(live: Live, bounds: Bounds) -> Served {
        let server = Server::bind(live, 0, bounds).unwrap();
        let url = server.url();
        let port = url.trim_end_matches('/').rsplit(':').next().unwrap().parse().unwrap();
        let (end, ended) = tokio::sync::oneshot::channel();
        let thread = std::thread::spawn(move || {
            server.run(async {
                let _ = ended.await;
            })
        });
        Served { port, end: Some(end), thread: Some(thread) }
    }

    pub fn connect(&self) -> TcpStream {
        connect(self.port)
    }

    /// What a browser sends for this page.
    pub fn request(&self, path: &str) -> String {
        request(self.port, path)
    }

    /// Asks for an address and reads the whole answer.
    pub fn get(&self, path: &str) -> Answer {
        self.say(&self.request(path))
    }

    /// Says something and reads the whole answer.
    pub fn say(&self, words: &str) -> Answer {
        let mut stream = self.connect();
        // Who is refused early may find the door shut.
        let _ = stream.write_all(words.as_bytes());
        Answer::read(&mut stream)
    }

    /// Asks for an address, and again while it is told to come later.
    pub fn get_patiently(&self, path: &str) -> Answer {
        for _ in 0..40 {
            let answer = self.get(path);
            if answer.status != 429 {
                return answer;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        panic!("told to come later for two seconds");
    }

    /// The lines of the shares of a state.
    pub fn shares(&self, query: &str, page: &str) -> Vec<Value> {
        self.get(&format!("/api/shares?{query}{}page={page}", if query.is_empty() { "" } else { "&" })).lines()
    }

    /// Ends the server, and says how long that took.
    pub fn end(&mut self) -> Duration {
        let start = std::time::Instant::now();
        if let (Some(end), Some(thread)) = (self.end.take(), self.thread.take()) {
            let _ = end.send(());
            thread.join().expect("no panic").expect("no error");
        }
        start.elapsed()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.end();
    }
}

pub fn connect(port: u16) -> TcpStream {
    let stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    stream
}

pub fn request(port: u16, path: &str) -> String {
    format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nSec-Fetch-Site: same-origin\r\nConnection: close\r\n\r\n")
}

/// An answer.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
}

impl Answer {
    fn read(stream: &mut TcpStream) -> Answer {
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        let at = bytes.windows(4).position(|four| four == b"\r\n\r\n").unwrap_or(bytes.len());
        let head = String::from_utf8_lossy(&bytes[..at]).to_lowercase();
        let status = head.split(' ').nth(1).and_then(|code| code.parse().ok()).unwrap_or(0);
        let rest = bytes.get(at + 4..).unwrap_or_default();
        let body = if head.contains("transfer-encoding: chunked") { whole(rest) } else { rest.to_vec() };
        Answer { status, head, body }
    }

    pub fn text(&self) -> String {
        String::from_utf8(self.body.clone()).unwrap()
    }

    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|error| panic!("{error}: {}", self.text()))
    }

    pub fn lines(&self) -> Vec<Value> {
        self.text().lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    }

    pub fn header(&self, name: &str) -> Option<&str> {
        self.head.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(": "))
    }
}

/// A body that comes in pieces, as far as it came.
fn whole(mut rest: &[u8]) -> Vec<u8> {
    let mut body = Vec::new();
    while let Some(at) = rest.windows(2).position(|two| two == b"\r\n") {
        let size = std::str::from_utf8(&rest[..at]).ok().and_then(|size| usize::from_str_radix(size, 16).ok());
        let Some(piece) = size.and_then(|size| rest.get(at + 2..at + 2 + size)) else { break };
        body.extend_from_slice(piece);
        rest = rest.get(at + 4 + piece.len()..).unwrap_or_default();
    }
    body
}
