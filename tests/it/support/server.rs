//! The room page, started on a free port, and a plain HTTP client to ask it with.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Stdio};
use std::time::Duration;

use super::room::Room;

/// A running room page; it ends with this value.
pub struct Server {
    child: Child,
    /// Address and port.
    pub host: String,
    /// The pairing code shown at the start.
    pub code: String,
}

/// What the server answered.
#[derive(Debug)]
pub struct Reply {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub body: Vec<u8>,
}

impl Reply {
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// A header's value; empty where there is none.
    pub fn header(&self, name: &str) -> &str {
        let found = self.headers.iter().find(|(known, _)| known == name);
        found.map_or("", |(_, value)| value.as_str())
    }
}

impl Server {
    /// Starts the page over the book `room.book`.
    pub fn start(room: &Room) -> Self {
        Self::start_with(room, &["--book", "room.book"])
    }

    /// Starts the page with these options; the house's key lies in the room.
    pub fn start_with(room: &Room, options: &[&str]) -> Self {
        let all = [&["serve", "--port", "0", "--keys", "keys"], options].concat();
        let mut child = room
            .command(&all)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("the server starts");
        let mut lines = BufReader::new(child.stdout.take().expect("its output")).lines();
        let (mut host, mut code) = (String::new(), String::new());
        while code.is_empty() {
            let line = lines.next().expect("it says its code").expect("text");
            if let Some(link) = line.strip_prefix("The room page: http://") {
                host = link.trim_end_matches('/').to_string();
            }
            if let Some(digits) = line.strip_prefix("Pairing code: ") {
                code = digits.to_string();
            }
        }
        // What it says later must find a reader.
        std::thread::spawn(move || lines.for_each(drop));
        Self { child, host, code }
    }

    /// Sends a request as it stands; the headers are added to `Host` and `Connection`.
    pub fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Reply {
        self.try_ask(method, path, headers, body)
            .expect("an answer that is whole")
    }

    fn try_ask(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: &[u8],
    ) -> std::io::Result<Reply> {
        let mut stream = TcpStream::connect(&self.host)?;
        stream.set_read_timeout(Some(Duration::from_secs(120)))?;
        let mut head = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\n");
        if !headers.iter().any(|(name, _)| *name == "Host") {
            head += &format!("Host: {}\r\n", self.host);
        }
        if !body.is_empty() && !headers.iter().any(|(name, _)| *name == "Content-Length") {
            head += &format!("Content-Length: {}\r\n", body.len());
        }
        for (name, value) in headers {
            head += &format!("{name}: {value}\r\n");
        }
        stream.write_all(format!("{head}\r\n").as_bytes())?;
        // A server that refuses at the head of a request need not read the rest.
        let _ = stream.write_all(body);
        let mut bytes = Vec::new();
        let end = stream.read_to_end(&mut bytes);
        if bytes.is_empty() {
            end?;
        }
        Ok(reply(&bytes))
    }

    /// Pairs with a code; the cookie to be sent with each request.
    pub fn pair(&self, code: &str, name: &str) -> String {
        let body = format!("code={code}&name={name}");
        let reply = self.post_plain("/pair", "", &body);
        assert_eq!(reply.status, 303, "{}", reply.text());
        let cookie = reply.header("set-cookie");
        assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"));
        cookie.split(';').next().unwrap_or_default().to_string()
    }

    pub fn get(&self, path: &str, cookie: &str) -> Reply {
        self.ask("GET", path, &[("Cookie", cookie)], b"")
    }

    /// A page that must be there.
    #[track_caller]
    pub fn page(&self, path: &str, cookie: &str) -> String {
        let reply = self.get(path, cookie);
        assert_eq!(reply.status, 200, "{path}: {}", reply.text());
        reply.text()
    }

    /// Posts a plain form as a page of the server itself would.
    pub fn post_plain(&self, path: &str, cookie: &str, body: &str) -> Reply {
        let origin = format!("http://{}", self.host);
        let headers = [
            ("Cookie", cookie),
            ("Origin", origin.as_str()),
            ("Content-Type", "application/x-www-form-urlencoded"),
        ];
        self.ask("POST", path, &headers, body.as_bytes())
    }

    /// Posts a form with fields and photos as a page of the server itself would.
    pub fn post_photos(
        &self,
        path: &str,
        cookie: &str,
        fields: &[(&str, &str)],
        photos: &[(&str, &[u8])],
    ) -> Reply {
        let origin = format!("http://{}", self.host);
        let headers = [
            ("Cookie", cookie),
            ("Origin", origin.as_str()),
            ("Content-Type", "multipart/form-data; boundary=EDGE"),
        ];
        self.ask("POST", path, &headers, &multipart(fields, photos))
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A form with photos [RFC7578].
pub fn multipart(fields: &[(&str, &str)], photos: &[(&str, &[u8])]) -> Vec<u8> {
    let mut body = Vec::new();
    for (name, value) in fields {
        let part =
            format!("--EDGE\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
        body.extend_from_slice(part.as_bytes());
    }
    for (file, bytes) in photos {
        let head = format!(
            "--EDGE\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"{file}\"\r\n\
             Content-Type: image/jpeg\r\n\r\n"
        );
        body.extend_from_slice(head.as_bytes());
        body.extend_from_slice(bytes);
        body.extend_from_slice(b"\r\n");
    }
    body.extend_from_slice(b"--EDGE--\r\n");
    body
}

/// The key that a page's forms bring along.
pub fn form_key(page: &str) -> String {
    let after = page.split("name=\"key\" value=\"").nth(1).expect("a form");
    after.split('"').next().unwrap_or_default().to_string()
}

fn reply(bytes: &[u8]) -> Reply {
    let end = bytes.windows(4).position(|w| w == b"\r\n\r\n");
    let end = end.expect("the end of the head");
    let head = String::from_utf8_lossy(&bytes[..end]);
    let mut lines = head.lines();
    let status = lines.next().and_then(|l| l.split(' ').nth(1)?.parse().ok());
    Reply {
        status: status.expect("a status"),
        headers: lines
            .filter_map(|line| line.split_once(": "))
            .map(|(name, value)| (name.to_ascii_lowercase(), value.to_string()))
            .collect(),
        body: bytes[end + 4..].to_vec(),
    }
}
