//! What the room page does not let through: guessing, other names, broken and hostile uploads, paths that lead elsewhere.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use crate::support::keeper::Keeper;
use crate::support::root;
use crate::support::server::{Server, form_key, multipart};

fn red() -> Vec<u8> {
    let path = root().join("sample-images/red-clear-to-solid_8-animals.jpg");
    std::fs::read(path).expect("a sample image")
}

/// Every address that shows or does something.
const ADDRESSES: [&str; 27] = [
    "/",
    "/devices",
    "/tank/A1",
    "/t/A1",
    "/tank/A1/netted",
    "/tank/A1/trend",
    "/tank/A1/trend/coverage.svg",
    "/tank/A1/mix.svg",
    "/tank/A1/sort",
    "/tank/A1/sort/cup/1",
    "/tank/A1/sort/cup/1/orders.jpg",
    "/tank/A1/waiting/0",
    "/tank/A1/waiting/0/rings.jpg",
    "/scoop/1",
    "/scoop/1/rings.jpg",
    "/scoop/1/proof",
    "/scoop/1/animal/1",
    "/scoop/1/animal/1/straight.jpg",
    "/labels",
    "/trail",
    "/errors",
    "/prices",
    "/proofs",
    "/proofs/A1/page.html",
    "/room.book",
    "/nowhere",
    "/pair/..%2Ftrail",
];

const CHANGES: [&str; 15] = [
    "/tank/A1/note",
    "/devices/code",
    "/devices/token",
    "/devices/revoke",
    "/tank/A1/scoop",
    "/tank/A1/file",
    "/tank/A1/sort/start",
    "/tank/A1/sort/cup",
    "/tank/A1/sort/finish",
    "/scoop/1/proof",
    "/scoop/1/animal/1/right",
    "/scoop/1/animal/1/rung",
    "/scoop/1/looked-through",
    "/undo",
    "/redo",
];

#[test]
fn unpaired_foreign_and_keyless_requests_do_nothing() {
    let keeper = Keeper::new("refused-all");
    let server = Server::start(&keeper.0);
    for path in ADDRESSES {
        let reply = server.get(path, "");
        assert_eq!(
            (reply.status, reply.header("location")),
            (303, "/pair"),
            "{path}"
        );
        assert!(!reply.text().contains("R1"), "{path}");
    }
    for path in CHANGES {
        assert_eq!(server.post_plain(path, "", "last=1").status, 401, "{path}");
    }
    let cookie = server.pair(&server.code, "Mara");
    let key = form_key(&server.page("/tank/A1", &cookie));
    let trail = keeper.json("book trail");
    let port = server.host.rsplit(':').next().expect("a port").to_string();
    for path in ADDRESSES {
        for host in [
            format!("rebound.example:{port}"),
            "rebound.example".into(),
            format!("127.0.0.1.example:{port}"),
            format!("localhost:{port}0"),
            String::new(),
        ] {
            let headers = [("Cookie", cookie.as_str()), ("Host", host.as_str())];
            let reply = server.ask("GET", path, &headers, b"");
            // An empty name is refused by the server itself.
            assert!(
                matches!(reply.status, 400 | 421),
                "{path} {host}: {}",
                reply.status
            );
        }
    }
    let good = format!("http://{}", server.host);
    for path in CHANGES {
        let send = |origin: &str, site: &str, body: &str, kind: &str| {
            let mut headers = vec![("Cookie", cookie.as_str()), ("Content-Type", kind)];
            if !origin.is_empty() {
                headers.push(("Origin", origin));
            }
            if !site.is_empty() {
                headers.push(("Sec-Fetch-Site", site));
            }
            server.ask("POST", path, &headers, body.as_bytes()).status
        };
        let plain = "application/x-www-form-urlencoded";
        let body = format!("key={key}");
        for (origin, site) in [
            ("http://elsewhere.example", ""),
            ("null", ""),
            ("", ""),
            (good.as_str(), "cross-site"),
        ] {
            assert_eq!(
                send(origin, site, &body, plain),
                403,
                "{path} {origin} {site}"
            );
        }
        // From the right page, but without the key that its forms bring along.
        let is_upload = path.ends_with("/scoop") || path.ends_with("/cup");
        let (body, kind) = if is_upload {
            (
                "--EDGE\r\nContent-Disposition: form-data; name=\"key\"\r\n\r\nwrong\r\n--EDGE--\r\n",
                "multipart/form-data; boundary=EDGE",
            )
        } else {
            ("key=wrong", plain)
        };
        assert_eq!(send(&good, "same-origin", body, kind), 403, "{path}");
    }
    assert_eq!(trail, keeper.json("book trail"), "nothing was entered");
}

#[test]
fn guessed_codes_stop_all_pairing_and_a_used_code_is_dead() {
    let keeper = Keeper::new("refused-codes");
    let server = Server::start(&keeper.0);
    let cookie = server.pair(&server.code, "Mara");
    assert_eq!(
        server
            .post_plain("/pair", "", &format!("code={}", server.code))
            .status,
        401
    );
    for guess in 0..4 {
        assert_eq!(
            server
                .post_plain("/pair", "", &format!("code={guess:08}"))
                .status,
            401
        );
    }
    let key = form_key(&server.page("/tank/A1", &cookie));
    let page = server.post_plain("/devices/code", &cookie, &format!("key={key}&role=helper"));
    let page = page.text();
    let code = page.split("<p class=\"code\">").nth(1).expect("a code");
    let code = code.split('<').next().unwrap_or_default();
    // Even the right one, after five wrong ones from this address.
    assert_eq!(
        server
            .post_plain("/pair", "", &format!("code={code}"))
            .status,
        429
    );
    assert_eq!(server.get("/", &cookie).status, 200, "paired devices go on");
}

#[test]
fn hostile_uploads_and_paths_are_answered_without_harm() {
    let keeper = Keeper::new("refused-uploads");
    let server = Server::start(&keeper.0);
    let cookie = server.pair(&server.code, "Mara");
    let key = form_key(&server.page("/tank/A1", &cookie));
    let fields = [("key", key.as_str())];
    let send = |name: &str, bytes: &[u8]| {
        server.post_photos("/tank/A1/scoop", &cookie, &fields, &[(name, bytes)])
    };
    let text = std::fs::read(root().join("Cargo.toml")).expect("a file");
    let mut bomb = red();
    bomb.truncate(bomb.len() / 2);
    for (name, bytes) in [
        ("zero.jpg", &b""[..]),
        ("text.jpg", &text),
        ("half.jpg", &bomb),
        ("..", b"x"),
        ("<script>.jpg", b"\xff\xd8\xff"),
    ] {
        let reply = send(name, bytes);
        assert_eq!(reply.status, 422, "{name}: {}", reply.text());
        assert!(
            reply.text().contains("Cure: ") && !reply.text().contains("<script>."),
            "{name}"
        );
    }
    // A form that ends before its photo does.
    let whole = multipart(&fields, &[("a.jpg", &red())]);
    let origin = format!("http://{}", server.host);
    let headers = [
        ("Cookie", cookie.as_str()),
        ("Origin", origin.as_str()),
        ("Content-Type", "multipart/form-data; boundary=EDGE"),
    ];
    let cut = server.ask(
        "POST",
        "/tank/A1/scoop",
        &headers,
        &whole[..whole.len() / 2],
    );
    assert_eq!(cut.status, 400, "{}", cut.text());
    assert!(cut.text().contains("nothing was filed"));
    let nine: Vec<(&str, &[u8])> = vec![("a.jpg", b"x"); 9];
    let many = server.post_photos("/tank/A1/scoop", &cookie, &fields, &nine);
    assert_eq!(many.status, 413);
    for path in [
        "/tank/..%2F..%2Fetc%2Fpasswd",
        "/tank/A1/waiting/..%2F..%2Froom.book",
        "/tank/A1/waiting/%00",
        "/proofs/..%2F..%2Fetc/page.html",
        "/proofs/%2e%2e/page.html",
        "/room.book-devices.json",
        "/../room.book",
        "/scoop/99999999999999999999",
        "/scoop/-1",
        "/tank/A1/sort/cup/99",
        "/tank/A1/sort/cup/0",
    ] {
        let reply = server.get(path, &cookie);
        assert!(
            matches!(reply.status, 400 | 404 | 422),
            "{path}: {}",
            reply.status
        );
        assert!(!reply.text().contains("token_sha256"), "{path}");
    }
    assert!(keeper.json("scoop list").is_empty(), "nothing was filed");
}

#[test]
fn a_slow_phone_holds_nobody_up_and_a_broken_off_one_files_nothing() {
    let keeper = Keeper::new("refused-slow");
    let server = Server::start(&keeper.0);
    let cookie = server.pair(&server.code, "Mara");
    let key = form_key(&server.page("/tank/A1", &cookie));
    let whole = multipart(&[("key", key.as_str())], &[("a.jpg", &red())]);
    let head = format!(
        "POST /tank/A1/scoop HTTP/1.1\r\nHost: {0}\r\nOrigin: http://{0}\r\nCookie: {cookie}\r\n\
         Content-Type: multipart/form-data; boundary=EDGE\r\nContent-Length: {1}\r\n\r\n",
        server.host,
        whole.len()
    );
    // Thirty phones that stop in the middle.
    let slow: Vec<TcpStream> = (0..30)
        .map(|_| {
            let mut stream = TcpStream::connect(&server.host).expect("a connection");
            stream.write_all(head.as_bytes()).expect("the head");
            stream.write_all(&whole[..2000]).expect("a part");
            stream
        })
        .collect();
    let began = Instant::now();
    assert_eq!(server.get("/", &cookie).status, 200);
    assert!(
        began.elapsed() < Duration::from_secs(5),
        "{:?}",
        began.elapsed()
    );
    drop(slow);
    // One that breaks off, then sends all of it: filed once.
    let photos = [("a.jpg", red())];
    let photos: Vec<(&str, &[u8])> = photos
        .iter()
        .map(|(name, bytes)| (*name, bytes.as_slice()))
        .collect();
    let sent = server.post_photos("/tank/A1/scoop", &cookie, &[("key", &key)], &photos);
    assert_eq!(
        (sent.status, sent.header("location")),
        (303, "/scoop/1"),
        "{}",
        sent.text()
    );
    assert_eq!(keeper.json("scoop list").len(), 1);
    // A connection that never ends its head is closed, not kept for ever.
    let mut endless = TcpStream::connect(&server.host).expect("a connection");
    endless
        .write_all(b"GET / HTTP/1.1\r\nHost: x")
        .expect("a part");
    endless
        .set_read_timeout(Some(Duration::from_secs(60)))
        .expect("a limit");
    let mut byte = [0];
    let closed = endless.read(&mut byte);
    assert!(
        matches!(closed, Ok(0)) || byte[0] == b'H',
        "still open after a minute: {closed:?}"
    );
}

#[test]
fn phones_at_once_get_their_own_answers() {
    let keeper = Keeper::new("refused-parallel");
    for tank in 2..=6 {
        keeper.ok(&format!("tank add A{tank} --line R1 --since 2025-01-01"));
    }
    let server = Server::start(&keeper.0);
    let cookie = server.pair(&server.code, "Mara");
    let key = form_key(&server.page("/tank/A1", &cookie));
    let red = red();
    std::thread::scope(|scope| {
        for tank in 1..=6 {
            let (server, cookie, key, red) = (&server, &cookie, &key, &red);
            scope.spawn(move || {
                let own = [red.as_slice(), format!("tank {tank}").as_bytes()].concat();
                let path = format!("/tank/A{tank}/scoop");
                let sent = server.post_photos(&path, cookie, &[("key", key)], &[("a.jpg", &own)]);
                assert_eq!(sent.status, 303, "{}", sent.text());
                let page = server.page(sent.header("location"), cookie);
                assert!(
                    page.contains(&format!("<h1>A{tank}, line R1</h1>")),
                    "A{tank}"
                );
            });
        }
    });
    assert_eq!(keeper.json("scoop list").len(), 6);
}
