//! The room page: what a phone or tablet in the room sees. Reads requests, calls the library, writes pages; decides
//! nothing about animals.

mod access;
mod api;
mod corrections;
mod devices_routes;
mod filing;
mod grader;
mod listener;
mod own_form;
mod pages;
mod prices;
mod proofs;
mod routes;
mod scoop_routes;
mod sorting;
mod sorting_again;
mod sorting_sure;
mod tank_routes;
mod trends;
mod trouble;
mod upload;

use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};

use anyhow::{Context, Result};
use catchcup::book::proof_store::ProofStore;
use catchcup::book::{Book, HoldRules, PhotoStore, Stamp};
use catchcup::error::Error;
use catchcup::ladder::{Ladder, Rung, Shelf};
use catchcup::proof::key::HouseKey;
use catchcup::proof::price::Prices;
use catchcup::scoop::Order;
use jiff::civil::DateTime;
use tokio::net::TcpListener;

use access::{Codes, Devices, Role};
use grader::Grader;
use listener::Patient;
use trends::Trends;
use trouble::Trouble;

/// What the room page works with; made by the command line.
pub struct Settings {
    /// The book's file.
    pub book: PathBuf,
    /// The photos beside it.
    pub photos: PhotoStore,
    /// All ladders.
    pub shelf: Shelf,
    /// What is asked of every photo; ladder and netting are filled in for each.
    pub order: Order,
    /// The rung from which the house sells.
    pub sale_rung: Rung,
    /// When a tank is held back for its losses.
    pub holds: HoldRules,
    /// The local time.
    pub clock: fn() -> DateTime,
    /// Where to listen.
    pub address: SocketAddr,
    /// How photos of proofs are graded: nothing that only this house measured.
    pub proof_order: Order,
    /// What is read from the house's files when it is asked for.
    pub files: HouseFiles,
    /// Names under which the page may be asked for, besides the address itself.
    pub names: Vec<String>,
}

/// Reads one of the house's files when it is needed, so that a changed one counts at once.
type Read<T> = Box<dyn Fn() -> Result<T> + Send + Sync>;
/// A ladder with its text, by the line's name in rules files.
type ReadLadder = Box<dyn Fn(&str) -> Result<(Ladder, String)> + Send + Sync>;

/// The house's files.
pub struct HouseFiles {
    /// The price list.
    pub prices: Read<Prices>,
    /// The key that signs, made where there is none.
    pub key: Read<HouseKey>,
    /// The ladder of that id with its text.
    pub ladder: ReadLadder,
}

/// The running room page.
struct Room {
    settings: Settings,
    grader: Grader,
    /// Photos that were sent but not filed yet.
    waiting: PhotoStore,
    proofs: ProofStore,
    trends: Trends,
    devices: Mutex<Devices>,
    codes: Mutex<Codes>,
    guesses: Mutex<api::Guesses>,
}

/// Tells lines at the computer.
type Say = Arc<dyn Fn(&[String]) + Send + Sync>;

/// What every handler holds.
type Shared = Arc<Room>;

impl Room {
    /// Runs `work` with the book open, off the threads that answer.
    async fn book<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&mut Book) -> Result<T, Error> + Send + 'static,
    ) -> Result<T, Trouble> {
        let path = self.settings.book.clone();
        let done = tokio::task::spawn_blocking(move || work(&mut Book::open(&path)?));
        done.await
            .map_err(|_| Trouble::from(Error::bug("the program failed while reading the book")))?
            .map_err(Trouble::from)
    }

    fn stamp(&self, who: &str) -> Stamp {
        Stamp {
            at: (self.settings.clock)(),
            who: who.to_string(),
        }
    }
}

/// Folder of photos that wait, beside the book.
fn waiting_beside(book: &std::path::Path) -> PhotoStore {
    let mut name = book.file_name().unwrap_or_default().to_os_string();
    name.push("-waiting");
    PhotoStore::beside(&book.with_file_name(name))
}

/// Serves the room page until the program is ended; `say` is told where it listens and each pairing code.
///
/// # Errors
/// Where the book or the list of devices can't be read, or the address is taken.
pub fn serve(settings: Settings, say: impl Fn(&[String]) + Send + Sync + 'static) -> Result<()> {
    Book::open(&settings.book)?;
    let devices = Devices::beside(&settings.book)?;
    let room = Arc::new(Room {
        grader: Grader::new(),
        waiting: waiting_beside(&settings.book),
        proofs: ProofStore::beside(&settings.book),
        trends: Trends::default(),
        devices: Mutex::new(devices),
        codes: Mutex::new(Codes::default()),
        guesses: Mutex::default(),
        settings,
    });
    filing::forget_old(&room.waiting);
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .context("starting the server")?;
    runtime.block_on(run(room, Arc::new(say)))
}

async fn run(room: Shared, say: Say) -> Result<()> {
    let address = room.settings.address;
    let listener = TcpListener::bind(address)
        .await
        .with_context(|| format!("listening on {address}: is another room page running?"))?;
    let address = listener.local_addr().context("reading the address")?;
    room.trends.bring_up_to_date(&room);
    say(&first_words(&room, address));
    codes_on_enter(room.clone(), say, address);
    let service = routes::router(room).into_make_service_with_connect_info::<access::Peer>();
    axum::serve(Patient::new(listener), service)
        .with_graceful_shutdown(async {
            let _ = tokio::signal::ctrl_c().await;
        })
        .await
        .context("serving the room page")
}

fn first_words(room: &Room, address: SocketAddr) -> Vec<String> {
    let mut lines = vec![format!("The room page: http://{address}/")];
    if address.ip().is_loopback() {
        lines.push("Only this computer reaches it; phones in the room: --lan ADDRESS.".into());
    } else {
        lines.push("Everyone in this network can knock; only paired devices get in.".into());
        lines.push(access::OVERHEARD.into());
    }
    lines.extend(code_words(room, address));
    lines
}

/// A fresh code for the owner, as told on the screen.
fn code_words(room: &Room, address: SocketAddr) -> Vec<String> {
    let Ok(mut codes) = room.codes.lock() else {
        return Vec::new();
    };
    match codes.fresh(Role::Owner) {
        Ok(code) => {
            let link = format!("http://{address}/pair#{}", code.key);
            let mut lines = vec![
                format!("Pairing code: {}", code.digits),
                "It works once, for five minutes. Another one: press Enter here.".into(),
            ];
            if !address.ip().is_loopback() {
                lines.extend(access::qr_lines(&link));
            }
            lines
        }
        Err(trouble) => vec![trouble.note.message],
    }
}

/// A new code whenever somebody presses Enter at the computer.
fn codes_on_enter(room: Shared, say: Say, address: SocketAddr) {
    std::thread::spawn(move || {
        for line in std::io::stdin().lines() {
            if line.is_err() {
                break;
            }
            say(&code_words(&room, address));
        }
    });
}
