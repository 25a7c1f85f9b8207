//! What is refused, and how.

use crate::client::{Answer, Served, field};
use lostlink::serve::Bounds;

/// A request with other lines in its head.
fn head(served: &Served, first: &str, lines: &[&str]) -> Answer {
    served.say(&format!("{first}\r\n{}\r\nConnection: close\r\n\r\n", lines.join("\r\n")))
}

#[test]
fn hosts_origins_and_methods_from_elsewhere() {
    let served = Served::new(field(), Bounds::default());
    let port = served.port;
    let own = format!("Host: 127.0.0.1:{port}");
    let get = "GET /api/scenario.toml HTTP/1.1";
    for name in ["127.0.0.1", "localhost", "LOCALHOST", "[::1]"] {
        assert_eq!(head(&served, get, &[&format!("Host: {name}:{port}")]).status, 200, "{name}");
    }
    let hosts =
        ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example", "127.0.0.1.evil.example", "0.0.0.0", ""];
    for host in hosts {
        let with_port = if host.contains(":1") || host == "127.0.0.1" { host.into() } else { format!("{host}:{port}") };
        let answer = head(&served, get, &[&format!("Host: {with_port}")]);
        assert_eq!(answer.status, 421, "{with_port}");
        assert!(answer.json()["accepted"].as_str().unwrap().contains(&format!("localhost:{port}")));
    }
    assert_eq!(head(&served, "GET /api/scenario.toml HTTP/1.0", &["X: y"]).status, 421, "no host");
    assert_eq!(head(&served, get, &[&own, "Host: evil.example"]).status, 421, "two hosts");
    let absolute = format!("GET http://evil.example:{port}/api/scenario.toml HTTP/1.1");
    assert_eq!(head(&served, &absolute, &[&own]).status, 421, "an address with a host of its own");
    // Of its own, or none.
    assert_eq!(head(&served, get, &[&own, &format!("Origin: http://127.0.0.1:{port}")]).status, 200);
    assert_eq!(head(&served, get, &[&own, "Sec-Fetch-Site: none"]).status, 200);
    let elsewhere = [
        "Origin: https://evil.example".to_string(),
        "Origin: null".into(),
        format!("Origin: https://127.0.0.1:{port}"),
        "Origin: http://127.0.0.1:1".into(),
        // Another name of this machine is another origin.
        format!("Origin: http://localhost:{port}"),
        "Sec-Fetch-Site: cross-site".into(),
        "Sec-Fetch-Site: same-site".into(),
        "Sec-Fetch-Site: else".into(),
    ];
    for line in elsewhere {
        assert_eq!(head(&served, get, &[&own, &line]).status, 403, "{line}");
    }
    for method in ["POST", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "PROPFIND"] {
        let answer = head(&served, &format!("{method} / HTTP/1.1"), &[&own]);
        assert_eq!((answer.status, answer.header("allow")), (405, Some("get, head")), "{method}");
    }
    let answer = head(&served, "HEAD / HTTP/1.1", &[&own]);
    assert_eq!((answer.status, answer.body.len()), (200, 0));
}

#[test]
fn sizes_and_bodies() {
    let served = Served::new(field(), Bounds::default());
    let own = format!("Host: 127.0.0.1:{}", served.port);
    assert_eq!(served.get(&format!("/?x={}", "a".repeat(2_040))).status, 200);
    assert_eq!(served.get(&format!("/?x={}", "a".repeat(2_045))).status, 414);
    assert!([414, 431].contains(&served.get(&format!("/?x={}", "a".repeat(100_000))).status));
    let body = ["Content-Length: 5", "Transfer-Encoding: chunked", "Content-Length: 99999999999"];
    for line in body {
        assert_eq!(head(&served, "GET / HTTP/1.1", &[&own, line]).status, 413, "{line}");
    }
    assert_eq!(head(&served, "GET / HTTP/1.1", &[&own, "Content-Length: 0"]).status, 200);
    let long = format!("X: {}", "a".repeat(20_000));
    assert_eq!(head(&served, "GET / HTTP/1.1", &[&own, &long]).status, 431);
    let many: Vec<String> = (0..100).map(|index| format!("X-{index}: y")).collect();
    let many: Vec<&str> = std::iter::once(own.as_str()).chain(many.iter().map(String::as_str)).collect();
    assert_eq!(head(&served, "GET / HTTP/1.1", &many).status, 431);
    assert_eq!(served.say("no such thing\r\n\r\n").status, 400);
    assert_eq!(served.get("/").status, 200);
}

#[test]
fn keys_and_values_are_told_with_what_would_be_accepted() {
    let served = Served::new(field(), Bounds::default());
    let cases = [
        ("start?wind=3", "no key \"wind\"", "wind_mps"),
        ("start?flight=3", "no key \"flight\"", "cut_m"),
        ("start?wind_mps=99", "wind_mps: \"99\"", "0 to 20 m/s"),
        ("start?wind_mps=-1", "wind_mps: \"-1\"", "0 to 20 m/s"),
        ("start?wind_mps=NaN", "wind_mps: \"NaN\"", "0 to 20 m/s"),
        ("start?wind_mps=inf", "wind_mps: \"inf\"", "0 to 20 m/s"),
        ("start?wind_mps=", "wind_mps: \"\"", "0 to 20 m/s"),
        ("start?wind_mps=3&wind_mps=4", "second time", "once"),
        ("start?cut_m=radi", "cut_m: \"radi\"", "radio"),
        ("start?constellations=", "constellations: \"\"", "galileo"),
        ("start?constellations=gps30,gps24", "constellations", "galileo"),
        ("start?constellations=gps30,gps30", "constellations", "galileo"),
        ("start?hour_utc=24", "hour_utc", "0 to 23.75"),
        ("flight?flight=80", "flight: \"80\"", "0 to 79"),
        ("flight?flight=x", "flight: \"x\"", "0 to 79"),
        ("flight?page=a", "no key \"page\"", "cut_m"),
        ("shares?wind_mps=3", "page", "name"),
        ("shares?page=", "page", "letters"),
        ("shares?page=a%2Fb", "page", "letters"),
        ("scenario.toml?file=/etc/passwd", "no key \"file\"", "cut_m"),
    ];
    for (asked, error, accepted) in cases {
        let answer = served.get(&format!("/api/{asked}"));
        let said = answer.json();
        assert_eq!(answer.status, 400, "{asked}");
        assert!(said["error"].as_str().unwrap().contains(error), "{asked}: {said}");
        assert!(said["accepted"].as_str().unwrap().contains(accepted), "{asked}: {said}");
    }
    for path in
        ["/scenarios/club-field.toml", "/../Cargo.toml", "/api", "/api/start/", "/%2e%2e/Cargo.toml", "//etc/passwd"]
    {
        assert_eq!(served.get(path).status, 404, "{path}");
    }
}

#[test]
fn every_answer_is_for_this_page_alone() {
    let served = Served::new(field(), Bounds::default());
    let paths = [
        "/",
        "/live.js",
        "/live.css",
        "/inter-bold.woff2",
        "/api/start",
        "/api/flight?flight=1",
        "/nothing",
        "/api/start?x=1",
    ];
    for path in paths {
        let answer = served.get(path);
        let policy = answer.header("content-security-policy").unwrap_or_else(|| panic!("{path}: {}", answer.head));
        assert!(
            policy.starts_with("default-src 'none'; script-src 'self';") && policy.contains("frame-ancestors 'none'")
        );
        assert!(!policy.contains("unsafe") && !policy.contains("http"), "{policy}");
        let fixed = [
            ("x-content-type-options", "nosniff"),
            ("cache-control", "no-store"),
            ("referrer-policy", "no-referrer"),
            ("cross-origin-resource-policy", "same-origin"),
        ];
        for (name, value) in fixed {
            assert_eq!(answer.header(name), Some(value), "{path}");
        }
        assert!(answer.header("content-type").is_some(), "{path}");
        assert!(answer.header("access-control-allow-origin").is_none() && answer.header("set-cookie").is_none());
    }
    let refused = served.say("GET / HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n");
    assert!(refused.header("content-security-policy").is_some());
    let saved = served.get("/api/scenario.toml?wind_mps=3");
    assert_eq!(saved.header("content-disposition"), Some("attachment; filename=\"a-small-field-changed.toml\""));
}

#[test]
fn too_many_requests_are_turned_away_and_those_from_elsewhere_cost_nothing() {
    let served = Served::new(field(), Bounds { per_s: 5.0, burst: 10.0, ..Bounds::default() });
    for _ in 0..40 {
        let refused = served.say("GET / HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n");
        assert_eq!(refused.status, 421);
    }
    let answers: Vec<u16> = (0..30).map(|_| served.get("/").status).collect();
    assert!(answers[..10].iter().all(|status| *status == 200), "{answers:?}");
    assert!(answers.iter().filter(|status| **status == 429).count() >= 10, "{answers:?}");
    assert_eq!(served.get_patiently("/").status, 200);
}
