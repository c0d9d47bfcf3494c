//! The day's work on the room page: corrections with undo, trend, sorting cup by cup, prices, proofs.

use crate::support::keeper::Keeper;
use crate::support::root;
use crate::support::server::{Reply, Server, form_key};

fn sample(name: &str) -> Vec<u8> {
    std::fs::read(root().join("sample-images").join(name)).expect("a sample image")
}

pub fn red() -> Vec<u8> {
    sample("red-clear-to-solid_8-animals.jpg")
}

/// A paired owner with a filed scoop of tank A1.
pub struct Phone {
    server: Server,
    cookie: String,
    key: String,
}

impl Phone {
    pub fn new(keeper: &Keeper) -> Self {
        let server = Server::start(&keeper.0);
        let cookie = server.pair(&server.code, "Mara");
        let key = form_key(&server.page("/tank/A1", &cookie));
        Self {
            server,
            cookie,
            key,
        }
    }

    pub fn page(&self, path: &str) -> String {
        self.server.page(path, &self.cookie)
    }

    /// Posts a form; where it leads.
    #[track_caller]
    pub fn post(&self, path: &str, fields: &str) -> String {
        let reply = self.answer(path, fields);
        assert_eq!(reply.status, 303, "{path} {fields}: {}", reply.text());
        reply.header("location").to_string()
    }

    /// The answer to a form, whatever it is.
    pub fn answer(&self, path: &str, fields: &str) -> Reply {
        let body = format!("key={}&{fields}", self.key);
        self.server.post_plain(path, &self.cookie, &body)
    }

    /// The answer to a plain request, whatever it is.
    pub fn reply(&self, path: &str) -> Reply {
        self.server.get(path, &self.cookie)
    }

    /// Posts a form that makes no sense.
    #[track_caller]
    fn refused(&self, path: &str, fields: &str) {
        let reply = self.answer(path, fields);
        assert_eq!(reply.status, 422, "{path} {fields}: {}", reply.text());
    }

    #[track_caller]
    pub fn send(&self, path: &str, fields: &[(&str, &str)], photo: &[u8]) -> String {
        let all = [&[("key", self.key.as_str())], fields].concat();
        let reply = self
            .server
            .post_photos(path, &self.cookie, &all, &[("red.jpg", photo)]);
        assert_eq!(reply.status, 303, "{path}: {}", reply.text());
        reply.header("location").to_string()
    }

    /// Takes back what was done last.
    pub fn undo(&self) {
        let trail = self.page("/trail");
        let last = trail
            .split("name=\"last\" value=\"")
            .nth(1)
            .expect("an entry");
        let last = last.split('"').next().unwrap_or_default();
        assert_eq!(
            self.post("/undo", &format!("last={last}")),
            "/trail?said=back"
        );
    }
}

#[test]
fn what_the_program_got_wrong_stands_beside_the_measurement() {
    let keeper = Keeper::new("page-right");
    let phone = Phone::new(&keeper);
    assert_eq!(phone.send("/tank/A1/scoop", &[], &red()), "/scoop/1");
    let before = keeper.json("scoop show 1");
    for (no, right) in [
        (1, "not_animal=yes"),
        (2, "two_animals=yes"),
        (3, "other_head=yes"),
        (4, "sex=male"),
        (5, "juvenile=yes"),
    ] {
        let to = phone.post(
            &format!("/scoop/1/animal/{no}/right"),
            &format!("right={right}"),
        );
        assert_eq!(to, format!("/scoop/1/animal/{no}?said=kept"));
    }
    phone.post("/scoop/1/animal/6/rung", "rung=G2");
    let animal = phone.page("/scoop/1/animal/3?said=kept");
    assert!(animal.contains("Kept.") && animal.contains("Head at the other end, says Mara"));
    let scoop = phone.page("/scoop/1");
    for told in ["not an animal, says Mara", "own rung G2, says Mara"] {
        assert!(scoop.contains(told), "{told}: {scoop}");
    }
    assert_eq!(
        before,
        keeper.json("scoop show 1"),
        "the measurement is as it was"
    );

    // No share before somebody says that the rest is right; then one of eight animals for each kind.
    assert!(
        phone
            .page("/errors")
            .contains("No scoop is noted as looked through")
    );
    phone.post("/scoop/1/looked-through", "done=yes");
    let errors = &keeper.json("scoop errors")[0];
    assert_eq!(errors["animals_looked_through"], 8);
    for kind in ["not_animal", "two_animals", "other_head", "juvenile"] {
        let found = errors["kinds"].as_array().expect("a list");
        let found = found.iter().find(|k| k["kind"] == kind).expect("its kind");
        assert_eq!(found["looked_through"], 1, "{kind}: {errors}");
    }
    let page = phone.page("/errors");
    assert!(page.contains("1 of 8"), "{page}");

    // Undo takes the mark back, then the own rung, then the corrections.
    phone.undo();
    assert_eq!(keeper.json("scoop errors")[0]["scoops_looked_through"], 0);
    phone.undo();
    assert!(keeper.json("rung list").is_empty());
    phone.undo();
    let left = keeper.json("scoop correct 1");
    assert_eq!(left.len(), 4, "{left:?}");

    // The program's own answer takes a correction back; the command line does the same.
    phone.post("/scoop/1/animal/1/right", "right=not_animal=no");
    assert_eq!(keeper.json("scoop correct 1").len(), 3);
    assert_eq!(keeper.json("scoop correct 1 2=one-animal").len(), 2);
    let told = keeper.ok("scoop correct 1 7=not-an-animal 8=female");
    assert!(
        told.contains("scoop 1 animal 7: not an animal, says tester"),
        "{told}"
    );
    assert!(
        keeper
            .refused("scoop correct 1 99=female")
            .contains("no animal 99")
    );
    assert!(
        keeper
            .refused("scoop correct 1 1=purple")
            .contains("purple")
    );
    phone.refused("/scoop/1/animal/1/right", "right=sex%3Dpurple");
}

#[test]
fn a_tank_is_sorted_cup_by_cup_and_the_server_may_start_anew_between() {
    let keeper = Keeper::new("page-sort");
    let phone = Phone::new(&keeper);
    let begun = phone.post(
        "/tank/A1/sort/start",
        "females=3&males=2&animals=20&counted=true&tub=4",
    );
    assert_eq!(begun, "/tank/A1/sort");
    let red = red();
    let to = phone.send("/tank/A1/sort/cup", &[("sex", "female")], &red);
    assert_eq!(to, "/tank/A1/sort/cup/1");
    let first = phone.page(&to);
    // Eight animals of the sample; each has its order.
    for no in 1..=8 {
        assert!(first.contains(&format!("{no}: ")), "{no}: {first}");
    }
    assert!(first.contains("KEEP") || first.contains("TUB F"), "{first}");
    let orders = phone.reply(&format!("{to}/orders.jpg"));
    assert_eq!((orders.status, &orders.body[..2]), (200, &[0xff, 0xd8][..]));

    let Phone {
        server,
        cookie,
        key,
    } = phone;
    drop(server);
    let server = Server::start(&keeper.0);
    assert_eq!(server.page("/tank/A1/sort/cup/1", &cookie), first);
    let phone = Phone {
        server,
        cookie,
        key,
    };
    let second = [red.as_slice(), b"another cup"].concat();
    let to = phone.send("/tank/A1/sort/cup", &[("sex", "male")], &second);
    assert_eq!(to, "/tank/A1/sort/cup/2");
    // The command line tells the same standing.
    let standing = keeper.ok("sort show A1");
    assert!(standing.contains("after 2 cups"), "{standing}");
    assert!(phone.page("/tank/A1/sort").contains("after 2 cups"));
    phone.undo();
    assert!(phone.page("/tank/A1/sort").contains("after 1 cups"));
    let ended = phone.answer("/tank/A1/sort/finish", "");
    assert!(
        ended.text().contains("Sorting of A1 ended")
            || ended.text().contains("Sorting of tank A1 ended"),
        "{}",
        ended.text()
    );
    phone.refused("/tank/A1/sort/start", "females=0&males=0&animals=20");
}

#[test]
fn losses_are_noted_hold_the_tank_and_are_taken_back() {
    let keeper = Keeper::new("page-notes");
    let phone = Phone::new(&keeper);
    assert_eq!(
        phone.post("/tank/A1/note", "kind=loss&count=3&text=after%20the%20move"),
        "/tank/A1"
    );
    // Three within a week stop selling by the usual rules of the house.
    assert!(
        phone.page("/").contains("HOLD: 3 lost within"),
        "{}",
        phone.page("/")
    );
    let noted = keeper.json("note list");
    assert_eq!(
        (noted[0]["note"].as_str(), noted[0]["count"].as_u64()),
        (Some("loss"), Some(3))
    );
    phone.undo();
    assert!(keeper.json("note list").is_empty());
    phone.refused("/tank/A1/note", "kind=loss&count=");
    phone.refused("/tank/A1/note", "kind=quarantine");
}

#[test]
fn wall_trend_and_prices_tell_what_the_commands_tell() {
    let keeper = Keeper::empty("page-house");
    let made = keeper.0.run(&["demo", "house"]);
    assert_eq!(made.status.code(), Some(0));
    let server = Server::start_with(&keeper.0, &["--house", "house/house.toml"]);
    let cookie = server.pair(&server.code, "Mara");
    let told = keeper.0.run(&["room", "--house", "house/house.toml"]);
    let told = String::from_utf8_lossy(&told.stdout).into_owned();
    assert!(
        told.contains("A1 R1: Coverage falls") || told.contains("A1 R1: coverage falls"),
        "{told}"
    );
    // The arrows are worked out beside the requests: asked again until they are there.
    let since = std::time::Instant::now();
    let wall = loop {
        let wall = server.page("/", &cookie);
        if !wall.contains("being worked out") {
            break wall;
        }
        assert!(since.elapsed().as_secs() < 60, "no arrows: {wall}");
        std::thread::sleep(std::time::Duration::from_millis(200));
    };
    assert!(
        wall.contains("Coverage falls") && wall.contains("a generation"),
        "{wall}"
    );
    assert!(wall.contains("HOLD: "), "{wall}");
    let trend = server.page("/tank/A1/trend", &cookie);
    assert!(trend.contains("Coverage falls") && trend.contains("/tank/A1/trend/coverage.svg"));
    for plot in ["/tank/A1/trend/coverage.svg", "/tank/A1/mix.svg"] {
        let reply = server.get(plot, &cookie);
        assert_eq!(reply.header("content-type"), "image/svg+xml", "{plot}");
        assert!(reply.header("content-security-policy").contains("sandbox"));
        assert!(reply.text().starts_with("<svg"), "{plot}");
    }
    assert_eq!(server.get("/tank/A1/trend/nosuch.svg", &cookie).status, 404);

    // Without a price list the page says how to begin one; with it, the same words as the command.
    let none = server.get("/prices", &cookie);
    if none.status != 200 {
        assert!(none.text().contains("price start"), "{}", none.text());
        let start = keeper.0.run(&["price", "start"]);
        keeper.0.file("house/prices.toml", start.stdout);
    }
    let prices = server.page("/prices", &cookie);
    let listed = keeper
        .0
        .run(&["price", "list", "--house", "house/house.toml"]);
    let listed = String::from_utf8_lossy(&listed.stdout).into_owned();
    assert!(
        prices.contains("coins") && listed.contains("coins"),
        "{prices}\n{listed}"
    );
    let price = listed
        .lines()
        .find(|line| line.starts_with("A1"))
        .and_then(|line| line.split("  ").last())
        .expect("a price")
        .trim();
    assert!(prices.contains(price), "{price}: {prices}");
}

#[test]
fn only_the_owner_signs_and_a_proof_is_locked_into_itself() {
    let keeper = Keeper::new("page-proof");
    let phone = Phone::new(&keeper);
    assert_eq!(phone.send("/tank/A1/scoop", &[], &red()), "/scoop/1");
    assert!(phone.page("/scoop/1/proof").contains("Make and sign it"));
    // More than the photo can carry is refused with its reasons, and nothing is written.
    let body = format!("key={}&lot=A1-1&at_least=950", phone.key);
    let refused = phone
        .server
        .post_plain("/scoop/1/proof", &phone.cookie, &body);
    assert!(
        refused.text().contains("Nothing was written"),
        "{}",
        refused.text()
    );
    assert!(phone.page("/proofs").contains("None yet"));

    assert_eq!(
        phone.post("/scoop/1/proof", "lot=A1-1&at_least="),
        "/proofs?new=A1-1"
    );
    let list = phone.page("/proofs");
    assert!(list.contains("/proofs/A1-1/page.html"), "{list}");
    let page = phone.server.get("/proofs/A1-1/page.html", &phone.cookie);
    let policy = page.header("content-security-policy");
    assert!(
        policy.starts_with("sandbox;") && policy.contains("default-src 'none'"),
        "{policy}"
    );
    assert!(page.text().contains("A1-1"));
    let saved = phone
        .server
        .get("/proofs/A1-1/page.html?save=1", &phone.cookie);
    assert!(
        saved
            .header("content-disposition")
            .starts_with("attachment")
    );
    // The command line checks what the page made.
    let folder = "room.book-proofs/A1-1";
    let checked = keeper.0.run(&["proof", "check", folder]);
    let told = String::from_utf8_lossy(&checked.stdout).into_owned();
    assert!(told.starts_with("Consistent, signed on"), "{told}");
    for away in [
        "/proofs/..%2F..%2Froom.book/page.html",
        "/proofs/A1-1/house.key",
        "/proofs/A1-1/..%2Froom.book",
    ] {
        assert_eq!(phone.server.get(away, &phone.cookie).status, 404, "{away}");
    }

    let code = phone
        .server
        .post_plain(
            "/devices/code",
            &phone.cookie,
            &format!("key={}&role=helper", phone.key),
        )
        .text();
    let code = code
        .split("<p class=\"code\">")
        .nth(1)
        .expect("a code")
        .to_string();
    let helper = phone
        .server
        .pair(code.split('<').next().unwrap_or_default(), "Ivo");
    let key = form_key(&phone.server.page("/tank/A1", &helper));
    assert_eq!(phone.server.get("/scoop/1/proof", &helper).status, 403);
    let body = format!("key={key}&lot=B&at_least=");
    assert_eq!(
        phone
            .server
            .post_plain("/scoop/1/proof", &helper, &body)
            .status,
        403
    );
    assert_eq!(
        phone.server.get("/proofs/A1-1/page.html", &helper).status,
        200
    );
    // Corrections are a helper's daily work.
    let body = format!("key={key}&right=sex%3Dmale");
    let right = phone
        .server
        .post_plain("/scoop/1/animal/1/right", &helper, &body);
    assert_eq!(right.status, 303);
}
