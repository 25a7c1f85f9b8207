//! Many pages, rude ones, slow ones, and the end.

use crate::client::{FIELD, Served, connect, field, request};
use assert_cmd::cargo::cargo_bin;
use lostlink::live::Live;
use lostlink::scenario::NoFiles;
use lostlink::serve::Bounds;
use serde_json::Value;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// More flights than anybody waits for.
fn endless() -> String {
    FIELD.replace("flights = 80", "flights = 1000000")
}

fn live(text: &str) -> Live {
    Live::open("field.toml", text, &NoFiles).unwrap_or_else(|error| panic!("{error}"))
}

/// A stream of shares, read line by line.
struct Stream(BufReader<TcpStream>);

impl Stream {
    fn new(port: u16, query: &str) -> Stream {
        let mut stream = connect(port);
        stream.write_all(request(port, &format!("/api/shares?{query}")).as_bytes()).unwrap();
        Stream(BufReader::new(stream))
    }

    /// The next line of JSON; `None` at the end.
    fn next(&mut self) -> Option<Value> {
        let mut line = String::new();
        loop {
            line.clear();
            if self.0.read_line(&mut line).unwrap_or(0) == 0 {
                return None;
            }
            if line.starts_with('{') {
                return Some(serde_json::from_str(&line).unwrap());
            }
        }
    }
}

#[test]
fn a_thousand_that_hang_up_leave_it_answering() {
    let served = Served::new(live(&endless()), Bounds { per_s: 1e4, burst: 1e4, ..Bounds::default() });
    for index in 0..1_000 {
        let mut stream = served.connect();
        // Nothing said; half a head; a whole request, hung up on at once; one hung up on while it is answered.
        let whole = served.request(&format!("/api/shares?wind_mps={}&page=p{index}", index % 3));
        let said = match index % 4 {
            0 => "",
            1 => &whole[..whole.len() / 2],
            _ => &whole,
        };
        let _ = stream.write_all(said.as_bytes());
        if index % 40 == 3 {
            let mut some = [0; 16];
            let _ = stream.read(&mut some);
        }
    }
    let start = Instant::now();
    let answer = served.get_patiently("/api/flight?flight=1");
    assert_eq!(answer.status, 200);
    assert_eq!(served.get_patiently("/").status, 200);
    assert!(start.elapsed() < Duration::from_secs(2), "{:?}", start.elapsed());
}

#[test]
fn eight_pages_at_once_have_the_same_numbers() {
    let served = Served::new(field(), Bounds::default());
    let alone = served.shares("wind_mps=5", "alone").pop();
    std::thread::scope(|scope| {
        let pages: Vec<_> = (0..8)
            .map(|page| {
                let served = &served;
                // Four states, two pages on each.
                let query = format!("wind_mps={}", 5 + page % 4);
                scope.spawn(move || {
                    let told = served.get(&format!("/api/flight?{query}"));
                    assert_eq!(told.status, 200);
                    served.shares(&query, &format!("page{page}")).pop()
                })
            })
            .collect();
        let last: Vec<Option<Value>> = pages.into_iter().map(|page| page.join().unwrap()).collect();
        assert!(last.iter().all(|line| line.as_ref().is_some_and(|line| line["done"] == true)));
        assert_eq!((&last[0], &last[4]), (&alone, &alone));
        assert!((0..4).all(|page| last[page] == last[page + 4]));
        assert_ne!(last[0], last[3]);
    });
}

#[test]
fn slow_and_half_open_clients_starve_nobody() {
    let bounds = Bounds { head: Duration::from_millis(300), connections: 40, ..Bounds::default() };
    let served = Served::new(field(), bounds);
    // Silent, half a head, a head that comes byte by byte, and one that asks but does not read.
    let mut idle: Vec<TcpStream> = (0..12).map(|_| served.connect()).collect();
    for (index, stream) in idle.iter_mut().enumerate() {
        if index % 3 == 1 {
            stream.write_all(b"GET /api/start HTTP/1.1\r\nHost: ").unwrap();
        } else if index % 3 == 2 {
            stream.write_all(served.request("/inter-regular.woff2").as_bytes()).unwrap();
        }
    }
    let start = Instant::now();
    assert_eq!(served.get("/api/start").status, 200);
    assert!(served.shares("", "page").last().is_some_and(|line| line["done"] == true));
    assert!(start.elapsed() < Duration::from_secs(2), "{:?}", start.elapsed());
    std::thread::sleep(Duration::from_millis(350));
    // Those that said too little are let go, the slow one too.
    let mut slow = served.connect();
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(2) && slow.write_all(b"G").is_ok() {
        std::thread::sleep(Duration::from_millis(40));
    }
    assert!(begun.elapsed() < Duration::from_millis(1_500), "{:?}", begun.elapsed());
    let begun = Instant::now();
    for (index, stream) in idle.iter_mut().enumerate() {
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        assert!(index % 3 == 2 || all.is_empty() || all.starts_with(b"HTTP/1.1 408"), "{}", all.len());
    }
    assert!(begun.elapsed() < Duration::from_millis(500), "{:?}", begun.elapsed());
}

#[test]
fn more_connections_than_it_puts_up_with_are_closed() {
    let served = Served::new(field(), Bounds { connections: 4, ..Bounds::default() });
    let held: Vec<TcpStream> = (0..4).map(|_| served.connect()).collect();
    std::thread::sleep(Duration::from_millis(50));
    assert_eq!(served.get("/").status, 0);
    drop(held);
    std::thread::sleep(Duration::from_millis(50));
    assert_eq!(served.get("/").status, 200);
}

#[test]
fn a_newer_request_of_the_page_ends_the_older() {
    let served = Served::new(live(&endless()), Bounds::default());
    let mut older = Stream::new(served.port, "wind_mps=3&page=one");
    let mut other = Stream::new(served.port, "wind_mps=4&page=two");
    assert!(older.next().is_some() && other.next().is_some());
    let start = Instant::now();
    let mut newer = Stream::new(served.port, "wind_mps=5&page=one");
    while older.next().is_some() {}
    assert!(start.elapsed() < Duration::from_millis(700), "{:?}", start.elapsed());
    // Another page is left alone.
    assert!(newer.next().is_some() && other.next().is_some());
}

/// The program itself.
struct Program {
    child: Child,
    port: u16,
}

impl Program {
    fn start(folder: &std::path::Path, text: &str) -> Program {
        std::fs::write(folder.join("field.toml"), text).unwrap();
        let mut child = Command::new(cargo_bin!("lostlink-under-test"))
            .args(["serve", "field.toml"])
            .current_dir(folder)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let port = line
            .split("http://127.0.0.1:")
            .nth(1)
            .and_then(|rest| rest.split('/').next())
            .unwrap_or_else(|| panic!("{line}"));
        Program { port: port.parse().unwrap(), child }
    }

    #[cfg(unix)]
    fn signal(&self, name: &str) {
        let pid = self.child.id().to_string();
        assert!(Command::new("kill").args([name, &pid]).status().unwrap().success());
    }

    /// Ticks of processor time it has used.
    #[cfg(target_os = "linux")]
    fn ticks(&self) -> u64 {
        let stat = std::fs::read_to_string(format!("/proc/{}/stat", self.child.id())).unwrap();
        let fields: Vec<&str> = stat.rsplit(')').next().unwrap().split_whitespace().collect();
        fields[11].parse::<u64>().unwrap() + fields[12].parse::<u64>().unwrap()
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[cfg(unix)]
#[test]
fn it_ends_within_a_second_with_a_stream_open() {
    for name in ["-INT", "-TERM"] {
        let folder = tempfile::tempdir().unwrap();
        let mut program = Program::start(folder.path(), &endless());
        let mut stream = Stream::new(program.port, "wind_mps=6&page=one");
        assert!(stream.next().is_some());
        let start = Instant::now();
        program.signal(name);
        let status = program.child.wait().unwrap();
        assert_eq!(status.code(), Some(0), "{name}");
        assert!(start.elapsed() < Duration::from_secs(1), "{name}: {:?}", start.elapsed());
        while stream.next().is_some() {}
    }
}

/// Processor time is used while somebody listens, and none any more once nobody does.
#[cfg(target_os = "linux")]
#[test]
fn work_stops_when_the_page_goes() {
    let folder = tempfile::tempdir().unwrap();
    let program = Program::start(folder.path(), &endless());
    let used_in = |time: Duration| {
        let before = program.ticks();
        std::thread::sleep(time);
        program.ticks() - before
    };
    let mut stream = Stream::new(program.port, "wind_mps=6&page=one");
    assert!(stream.next().is_some());
    let busy = used_in(Duration::from_millis(300));
    drop(stream);
    std::thread::sleep(Duration::from_millis(150));
    let idle = used_in(Duration::from_millis(600));
    assert!(busy >= 5, "{busy} hundredths of a second while it flies");
    assert!(idle <= 1, "{idle} hundredths of a second after the page has gone, {busy} before");
}

#[test]
fn a_port_that_is_taken_is_told() {
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("field.toml"), FIELD).unwrap();
    let mut command = assert_cmd::Command::new(cargo_bin!("lostlink-under-test"));
    let output = command.args(["serve", "field.toml", "--port", &port]).current_dir(folder.path()).output().unwrap();
    let errors = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(2), "{errors}");
    assert!(errors.contains(&format!("--port {port}")) && errors.contains("accepted: "), "{errors}");
    assert!(output.stdout.is_empty());
}

/// Mistakes in the scenario are told as by every command.
#[test]
fn a_scenario_with_mistakes_is_not_served() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("field.toml"), FIELD.replace("mass_kg = 1.0", "mass_kg = \"heavy\"")).unwrap();
    let mut command = assert_cmd::Command::new(cargo_bin!("lostlink-under-test"));
    let output = command.args(["serve", "field.toml"]).current_dir(folder.path()).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8(output.stderr).unwrap().contains("craft.mass_kg"));
}
