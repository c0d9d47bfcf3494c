//! The room page for programs, held to its own description.

use serde_json::Value;

use crate::record::faults;
use crate::support::keeper::Keeper;
use crate::support::root;
use crate::support::server::{Reply, Server, form_key};

struct Desk {
    server: Server,
    document: Value,
    reads: String,
    files: String,
    cookie: String,
    key: String,
}

impl Desk {
    fn new(keeper: &Keeper) -> Self {
        let server = Server::start(&keeper.0);
        let cookie = server.pair(&server.code, "Mara");
        let key = form_key(&server.page("/tank/A1", &cookie));
        let token = |role: &str| {
            let body = format!("key={key}&role={role}");
            let page = server.post_plain("/devices/token", &cookie, &body).text();
            let token = page.split("<code>").nth(1).expect("a token");
            token.split('<').next().unwrap_or_default().to_string()
        };
        let (reads, files) = (token("reads"), token("files"));
        let bearer = format!("Bearer {reads}");
        let reply = server.ask(
            "GET",
            "/api/v1/openapi.json",
            &[("Authorization", &bearer)],
            b"",
        );
        assert_eq!(reply.status, 200, "{}", reply.text());
        let document = serde_json::from_slice(&reply.body).expect("JSON");
        Self {
            server,
            document,
            reads,
            files,
            cookie,
            key,
        }
    }

    /// Asks, and holds the answer to the description of `path`.
    #[track_caller]
    fn ask(
        &self,
        method: &str,
        path: &str,
        address: &str,
        token: &str,
        photo: Option<&[u8]>,
    ) -> (u16, Value) {
        let bearer = format!("Bearer {token}");
        let mut headers = vec![("Authorization", bearer.as_str())];
        if photo.is_some() {
            headers.push(("Content-Type", "image/jpeg"));
        }
        let address = format!("/api/v1{address}");
        let reply = self
            .server
            .ask(method, &address, &headers, photo.unwrap_or_default());
        let value = self.held(method, path, &reply);
        (reply.status, value)
    }

    #[track_caller]
    fn held(&self, method: &str, path: &str, reply: &Reply) -> Value {
        let described = &self.document["paths"][format!("/api/v1{path}")][method.to_lowercase()];
        let response = &described["responses"][reply.status.to_string()];
        assert!(
            response.is_object(),
            "{method} {path}: {} is not listed: {}",
            reply.status,
            reply.text()
        );
        assert_eq!(reply.header("content-type"), "application/json", "{path}");
        let value: Value = serde_json::from_slice(&reply.body).expect("JSON");
        let schema = &response["content"]["application/json"]["schema"];
        let found = faults(&value, schema, &self.document, path);
        assert!(found.is_empty(), "{method} {path}: {found:#?}");
        value
    }
}

fn red() -> Vec<u8> {
    let path = root().join("sample-images/red-clear-to-solid_8-animals.jpg");
    std::fs::read(path).expect("a sample image")
}

#[test]
fn every_address_answers_as_described() {
    let keeper = Keeper::new("api");
    keeper.ok("tank add C1 --since 2025-01-01");
    let desk = Desk::new(&keeper);
    let red = red();
    let post = "/tanks/{code}/scoops";
    let (status, filed) = desk.ask(
        "POST",
        post,
        "/tanks/A1/scoops?netted_seconds=60",
        &desk.files,
        Some(&red),
    );
    assert_eq!((status, &filed["scoop"]), (201, &Value::from(1)), "{filed}");
    let (status, again) = desk.ask("POST", post, "/tanks/A1/scoops", &desk.files, Some(&red));
    assert_eq!((status, &again["scoop"]), (200, &Value::from(1)));
    let second = [red.as_slice(), b"2"].concat();
    let (status, open) = desk.ask("POST", post, "/tanks/A1/scoops", &desk.files, Some(&second));
    assert_eq!(
        (status, open["error"]["code"].as_str()),
        (409, Some("ask_same"))
    );
    let (status, second_of) = desk.ask(
        "POST",
        post,
        "/tanks/A1/scoops?which=again&near=1",
        &desk.files,
        Some(&second),
    );
    assert_eq!(
        (status, second_of["second_of"].as_i64()),
        (201, Some(1)),
        "{second_of}"
    );
    for (address, photo, wanted) in [
        ("/tanks/A1/scoops?which=bogus", &red[..], 422),
        ("/tanks/A1/scoops?which=again&near=77", b"x", 404),
        ("/tanks/A1/scoops", b"no photo", 422),
        ("/tanks/nosuch/scoops", b"no photo", 404),
    ] {
        assert_eq!(
            desk.ask("POST", post, address, &desk.files, Some(photo)).0,
            wanted,
            "{address}"
        );
    }
    keeper.ok("scoop correct 1 1=male 2=not-an-animal --looked-through");
    let gets = [
        ("/openapi.json", "/openapi.json", 200),
        ("/tanks", "/tanks", 200),
        ("/tanks/{code}", "/tanks/a1", 200),
        ("/tanks/{code}", "/tanks/nosuch", 404),
        ("/tanks/{code}", "/tanks/%ff", 400),
        ("/tanks/{code}/scoops", "/tanks/A1/scoops", 200),
        ("/tanks/{code}/trend", "/tanks/A1/trend", 200),
        ("/tanks/{code}/trend", "/tanks/C1/trend", 422),
        ("/scoops/{number}", "/scoops/1", 200),
        ("/scoops/{number}", "/scoops/77", 404),
        ("/scoops/{number}", "/scoops/first", 404),
        ("/scoops/{number}/corrections", "/scoops/1/corrections", 200),
        ("/errors", "/errors", 200),
    ];
    for (path, address, wanted) in gets {
        let (status, _) = desk.ask("GET", path, address, &desk.reads, None);
        assert_eq!(status, wanted, "{address}");
    }
    // The description has no other address, so all were asked.
    let paths = desk.document["paths"].as_object().expect("paths");
    for path in paths.keys() {
        let short = path.trim_start_matches("/api/v1");
        assert!(gets.iter().any(|(asked, ..)| *asked == short), "{path}");
    }
    let (_, corrections) = desk.ask("GET", gets[11].0, gets[11].1, &desk.reads, None);
    assert_eq!(corrections.as_array().map(Vec::len), Some(2));
    // The command prints the same object.
    let (_, scoop) = desk.ask("GET", "/scoops/{number}", "/scoops/1", &desk.reads, None);
    assert_eq!(scoop, keeper.json("scoop show 1")[0]);
}

#[test]
fn tokens_are_scoped_locked_out_and_no_cookies() {
    let keeper = Keeper::new("api-tokens");
    let desk = Desk::new(&keeper);
    let post = "/tanks/{code}/scoops";
    assert_eq!(
        desk.ask("POST", post, "/tanks/A1/scoops", &desk.reads, Some(b"x"))
            .0,
        403
    );
    let held = |headers: &[(&str, &str)]| {
        let reply = desk.server.ask("GET", "/api/v1/tanks", headers, b"");
        desk.held("GET", "/tanks", &reply);
        reply
    };
    let bearer = format!("Bearer {}", desk.reads);
    assert_eq!(held(&[("Authorization", &bearer)]).status, 200);
    // A phone's cookie opens nothing here, and a token opens no page.
    let reply = held(&[("Cookie", &desk.cookie)]);
    assert_eq!(
        (reply.status, reply.header("www-authenticate")),
        (401, "Bearer")
    );
    let reply = desk
        .server
        .get("/", &format!("catchcup_room={}", desk.reads));
    assert_eq!(reply.header("location"), "/pair");
    for (name, value, wanted) in [
        ("Origin", "http://elsewhere.example", 403),
        ("Host", "rebound.example", 421),
    ] {
        let reply = held(&[("Authorization", &bearer), (name, value)]);
        assert_eq!(reply.status, wanted, "{name}");
    }
    let plain = |kind: &str, length: Option<&str>, body: &[u8]| {
        let files = format!("Bearer {}", desk.files);
        let mut headers = vec![("Authorization", files.as_str()), ("Content-Type", kind)];
        if let Some(length) = length {
            headers.push(("Content-Length", length));
        }
        let reply = desk
            .server
            .ask("POST", "/api/v1/tanks/A1/scoops", &headers, body);
        desk.held("POST", post, &reply);
        reply.status
    };
    assert_eq!(plain("text/plain", None, b"x"), 415);
    assert_eq!(plain("image/jpeg", Some("999999999"), b"x"), 413);
    assert_eq!(plain("image/jpeg", None, b""), 411);
    // Locked out by the owner.
    let list = desk.server.page("/devices", &desk.cookie);
    let digest = catchcup::book::photo_store::digest(desk.reads.as_bytes());
    assert!(list.contains(&digest) && !list.contains(&desk.reads));
    let body = format!("key={}&device={digest}", desk.key);
    assert_eq!(
        desk.server
            .post_plain("/devices/revoke", &desk.cookie, &body)
            .status,
        303
    );
    assert_eq!(held(&[("Authorization", &bearer)]).status, 401);
    for guess in 0..30 {
        let guess = format!("Bearer {guess:064}");
        held(&[("Authorization", &guess)]);
    }
    assert_eq!(held(&[("Authorization", &bearer)]).status, 429);
}
