//! The room page as a phone meets it: pairing, a photo sent, its answer, what is refused, and a restart.

use crate::support::keeper::Keeper;
use crate::support::root;
use crate::support::server::{Server, form_key};

fn sample(name: &str) -> Vec<u8> {
    std::fs::read(root().join("sample-images").join(name)).expect("a sample image")
}

fn red() -> Vec<u8> {
    sample("red-clear-to-solid_8-animals.jpg")
}

/// A paired phone on the page of tank A1.
fn paired(server: &Server) -> (String, String) {
    let cookie = server.pair(&server.code, "Mara");
    let key = form_key(&server.page("/tank/A1", &cookie));
    (cookie, key)
}

#[test]
fn a_photo_is_answered_and_filed_and_outlives_a_restart() {
    let keeper = Keeper::new("page-answer");
    let server = Server::start(&keeper.0);
    let (cookie, key) = paired(&server);
    let red = red();
    let sent = server.post_photos(
        "/tank/A1/scoop",
        &cookie,
        &[("key", &key)],
        &[("red.jpg", &red)],
    );
    assert_eq!(sent.status, 303, "{}", sent.text());
    let path = sent.header("location").to_string();
    assert_eq!(path, "/scoop/1");

    // Truth beside the sample image: eight animals of the red line.
    let answer = server.page(&path, &cookie);
    for told in [
        "A1, line R1",
        "8 animals found",
        "Photo: ",
        "Next: ",
        "G5 best",
        "95 % range",
    ] {
        assert!(answer.contains(told), "{told}: {answer}");
    }
    let rings = server.get("/scoop/1/rings.jpg", &cookie);
    assert_eq!(
        (rings.status, &rings.body[..3]),
        (200, &[0xff, 0xd8, 0xff][..])
    );
    let animal = server.page("/scoop/1/animal/3", &cookie);
    assert!(
        animal.contains("coverage") && animal.contains(" to "),
        "{animal}"
    );
    let straight = server.get("/scoop/1/animal/3/straight.jpg", &cookie);
    assert_eq!(
        (straight.status, &straight.body[..3]),
        (200, &[0xff, 0xd8, 0xff][..])
    );
    assert_eq!(server.get("/scoop/1/animal/99", &cookie).status, 404);

    // The command line reads the same scoop, under the device's name.
    let listed = keeper.json("scoop show 1");
    assert_eq!(listed[0]["who"], "Mara", "{}", listed[0]);
    assert_eq!(listed[0]["animals"].as_array().map(Vec::len), Some(8));

    // Sent again after a connection broke off: the same answer, nothing filed twice.
    let again = server.post_photos(
        "/tank/A1/scoop",
        &cookie,
        &[("key", &key)],
        &[("red.jpg", &red)],
    );
    assert_eq!((again.status, again.header("location")), (303, "/scoop/1"));

    // The link on a printed label, in any case.
    let label = server.get("/t/a1", &cookie);
    assert_eq!((label.status, label.header("location")), (303, "/tank/A1"));

    drop(server);
    let server = Server::start(&keeper.0);
    assert!(server.page("/scoop/1", &cookie).contains("8 animals found"));
    assert!(server.page("/", &cookie).contains("A1"));

    // Undo, refused where the page is not the latest.
    let trail = server.page("/trail", &cookie);
    let (key, last) = (
        form_key(&trail),
        trail.split("name=\"last\" value=\"").nth(1).expect("last"),
    );
    let last = last.split('"').next().unwrap_or_default();
    let late = server.post_plain("/undo", &cookie, &format!("key={key}&last=1"));
    assert_eq!(late.header("location"), "/trail?said=newer");
    let undone = server.post_plain("/undo", &cookie, &format!("key={key}&last={last}"));
    assert_eq!(undone.header("location"), "/trail?said=back");
    assert_eq!(server.get("/scoop/1", &cookie).status, 404);
}

#[test]
fn several_photos_are_one_scoop_and_questions_wait() {
    let keeper = Keeper::new("page-several");
    keeper.ok("line add B1 --ladder blue --since 2025-01-01");
    keeper.ok("tank add B --line B1 --since 2025-01-01");
    let server = Server::start(&keeper.0);
    let (cookie, key) = paired(&server);
    let red = red();
    // Bytes behind the end of a JPEG change its digest, not its picture.
    let second = [red.as_slice(), b"again"].concat();
    let third = [red.as_slice(), b"once more"].concat();
    let sent = server.post_photos(
        "/tank/A1/scoop",
        &cookie,
        &[("key", &key)],
        &[("1.jpg", &red), ("2.jpg", &second)],
    );
    assert_eq!(
        (sent.status, sent.header("location")),
        (303, "/scoop/1"),
        "{}",
        sent.text()
    );
    assert!(
        server
            .page("/scoop/2", &cookie)
            .contains("another photo of")
    );

    let sent = server.post_photos(
        "/tank/A1/scoop",
        &cookie,
        &[("key", &key)],
        &[("3.jpg", &third)],
    );
    let waits = sent.header("location").to_string();
    assert!(
        waits.contains("ask=same") && waits.contains("near=1"),
        "{waits}"
    );
    let asked = server.page(&waits, &cookie);
    assert!(asked.contains("Not filed yet") && asked.contains("Yes, the same animals"));
    let photo = waits
        .split("/waiting/")
        .nth(1)
        .and_then(|rest| rest.split('?').next());
    let body = format!(
        "key={key}&photo={}&name=3.jpg&which=own",
        photo.expect("its digest")
    );
    let filed = server.post_plain("/tank/A1/file", &cookie, &body);
    assert_eq!(filed.header("location"), "/scoop/3", "{}", filed.text());

    let fourth = [red.as_slice(), b"a fourth"].concat();
    let sent = server.post_photos(
        "/tank/B/scoop",
        &cookie,
        &[("key", &key)],
        &[("4.jpg", &fourth)],
    );
    assert!(
        sent.header("location").contains("ask=tank"),
        "{}",
        sent.header("location")
    );
}

#[test]
fn bad_photos_are_told_with_their_cure() {
    let keeper = Keeper::new("page-bad");
    let server = Server::start(&keeper.0);
    let (cookie, key) = paired(&server);
    let send = |name: &str, bytes: &[u8]| {
        server.post_photos(
            "/tank/A1/scoop",
            &cookie,
            &[("key", &key)],
            &[(name, bytes)],
        )
    };
    let red = red();
    for (name, bytes) in [
        ("a.jpg", &b"no photo"[..]),
        ("b.jpg", &red[..5000]),
        ("c.jpg", b""),
    ] {
        let reply = send(name, bytes);
        assert_eq!(reply.status, 422, "{name}: {}", reply.text());
        assert!(reply.text().contains("Cure: "), "{name}");
    }
    let withheld = send("wood.jpg", &sample("plants-on-wood_withheld.jpg"));
    assert_eq!(withheld.status, 303);
    let page = server.page(withheld.header("location"), &cookie);
    assert!(
        page.contains("shoot again") && page.contains("Cure: "),
        "{page}"
    );
    let outside = server.get("/tank/A1/waiting/..%2F..%2Froom.book", &cookie);
    assert_eq!(outside.status, 404);

    let large = vec![b'x'; (40 << 20) + 10];
    assert_eq!(send("large.jpg", &large).status, 413);
    let origin = format!("http://{}", server.host);
    let headers = [
        ("Cookie", cookie.as_str()),
        ("Origin", origin.as_str()),
        ("Content-Type", "multipart/form-data; boundary=EDGE"),
        ("Content-Length", "400000000"),
    ];
    let reply = server.ask("POST", "/tank/A1/scoop", &headers, b"--EDGE");
    assert_eq!(reply.status, 413);
    assert!(keeper.json("scoop list").is_empty(), "nothing was filed");
}

#[test]
fn who_is_not_paired_sees_the_pairing_page_alone() {
    let keeper = Keeper::new("page-pairing");
    let server = Server::start(&keeper.0);
    for path in [
        "/", "/tank/A1", "/scoop/1", "/trail", "/devices", "/nowhere",
    ] {
        let reply = server.get(path, "catchcup_room=guessed");
        assert_eq!(
            (reply.status, reply.header("location")),
            (303, "/pair"),
            "{path}"
        );
    }
    let pairing = server.page("/pair", "");
    assert!(pairing.contains("can be overheard") && !pairing.contains("A1"));
    for _ in 0..5 {
        assert_eq!(server.post_plain("/pair", "", "code=00000000x").status, 401);
    }
    let stopped = server.post_plain("/pair", "", &format!("code={}", server.code));
    assert_eq!(stopped.status, 429);
}

#[test]
fn other_sites_other_names_and_helpers_are_refused() {
    let keeper = Keeper::new("page-refused");
    let server = Server::start(&keeper.0);
    let (owner, key) = paired(&server);
    let port = server.host.rsplit(':').next().expect("a port").to_string();

    let rebound = format!("rebound.example:{port}");
    let headers = [("Cookie", owner.as_str()), ("Host", rebound.as_str())];
    assert_eq!(server.ask("GET", "/", &headers, b"").status, 421);

    let body = format!("key={key}&last=1");
    for origin in ["http://elsewhere.example", "null", ""] {
        let mut headers = vec![
            ("Cookie", owner.as_str()),
            ("Content-Type", "application/x-www-form-urlencoded"),
        ];
        if !origin.is_empty() {
            headers.push(("Origin", origin));
        }
        let reply = server.ask("POST", "/undo", &headers, body.as_bytes());
        assert_eq!(reply.status, 403, "{origin}");
    }
    assert_eq!(
        server
            .post_plain("/undo", &owner, "key=guessed&last=1")
            .status,
        403
    );
    let red = red();
    let foreign = server.post_photos(
        "/tank/A1/scoop",
        &owner,
        &[("key", "guessed")],
        &[("a.jpg", &red)],
    );
    assert_eq!(foreign.status, 403);

    let page = server.post_plain("/devices/code", &owner, &format!("key={key}&role=helper"));
    let page = page.text();
    let code = page.split("<p class=\"code\">").nth(1).expect("a code");
    let helper = server.pair(code.split('<').next().unwrap_or_default(), "Ivo");
    assert_eq!(server.get("/devices", &helper).status, 403);
    let helpers_key = form_key(&server.page("/tank/A1", &helper));
    let reply = server.post_plain(
        "/devices/code",
        &helper,
        &format!("key={helpers_key}&role=owner"),
    );
    assert_eq!(reply.status, 403);

    // Locked out by the owner: the helper sees the pairing page again.
    let list = server.page("/devices", &owner);
    let digests = list.split("name=\"device\" value=\"").skip(1);
    let digest = digests.last().and_then(|rest| rest.split('"').next());
    let body = format!("key={key}&device={}", digest.expect("a device"));
    assert_eq!(
        server.post_plain("/devices/revoke", &owner, &body).status,
        303
    );
    assert_eq!(server.get("/", &helper).header("location"), "/pair");
    assert_eq!(server.get("/", &owner).status, 200);

    // No token stands in the list of devices.
    let kept =
        std::fs::read_to_string(keeper.0.0.join("room.book-devices.json")).expect("the list");
    let token = owner.split('=').nth(1).expect("a token");
    assert!(kept.contains("Mara") && !kept.contains(token));
}

#[test]
fn pages_can_be_used_by_all() {
    let keeper = Keeper::new("page-access");
    keeper.ok("tank add C1 --place \"<b>left\" --since 2025-01-01");
    let server = Server::start(&keeper.0);
    let (cookie, key) = paired(&server);
    let red = red();
    server.post_photos(
        "/tank/A1/scoop",
        &cookie,
        &[("key", &key)],
        &[("<i>.jpg", &red)],
    );
    let netted = server.get("/tank/A1/netted", &cookie);
    let timed = netted.header("location").to_string();
    assert!(server.page(&timed, &cookie).contains("role=\"timer\""));
    let paths = [
        "/pair",
        "/",
        "/tank/A1",
        "/tank/C1",
        &timed,
        "/scoop/1",
        "/scoop/1/animal/1",
        "/trail",
        "/labels",
        "/devices",
    ];
    for path in paths {
        let reply = server.get(path, &cookie);
        let page = reply.text();
        assert_eq!(reply.status, 200, "{path}");
        assert!(
            page.contains("<html lang=\"en\">") && page.contains("width=device-width"),
            "{path}"
        );
        assert_eq!(page.matches("<h1").count(), 1, "{path}");
        for raw in ["<b>", "<i>", "style=", "onclick", "<script>"] {
            assert!(!page.contains(raw), "{path}: {raw}");
        }
        for input in page
            .split("<input")
            .skip(1)
            .map(|rest| rest.split('>').next().unwrap_or_default())
        {
            let id = input
                .split("id=\"")
                .nth(1)
                .and_then(|rest| rest.split('"').next());
            let labelled = id.is_some_and(|id| page.contains(&format!(" for=\"{id}\"")));
            assert!(
                labelled || input.contains("type=\"hidden\""),
                "{path}: {input}"
            );
        }
        for image in page.split("<img").skip(1) {
            assert!(
                image.split('>').next().unwrap_or_default().contains("alt="),
                "{path}"
            );
        }
        let policy = reply.header("content-security-policy");
        assert!(
            policy.contains("default-src 'none'") && !policy.contains("unsafe"),
            "{path}"
        );
        assert_eq!(reply.header("x-content-type-options"), "nosniff");
    }
}
