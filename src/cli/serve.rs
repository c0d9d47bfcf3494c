//! `catchcup serve`: the room page on this computer or in the room's network.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};

use anyhow::Result;
use catchcup::ladder::Rung;
use catchcup::scene::CupSpec;
use catchcup::scoop::{Netted, Order};

use super::book::{Desk, now, rooms::house_shelf};
use super::colours;
use super::house::House;
use super::output::Out;
use super::price::prices_in;
use super::proof::keys;
use super::proof::make::ladder_and_text;
use super::serve_args::ServeArgs;
use crate::web::{HouseFiles, Settings, serve};

/// Serves until it is ended with Ctrl-C.
///
/// # Errors
/// Where the book can't be opened or the address is taken.
pub fn run(args: &ServeArgs) -> Result<bool> {
    let desk = Desk::new(&args.desk)?;
    let ip = args.lan.unwrap_or(IpAddr::V4(Ipv4Addr::LOCALHOST));
    let settings = Settings {
        shelf: house_shelf(&desk.house)?,
        order: order(&desk.house)?,
        sale_rung: desk
            .house
            .sale_rung
            .or(Rung::from_index(4))
            .unwrap_or(Rung::BEST),
        holds: desk.house.holds,
        clock: now,
        address: SocketAddr::new(ip, args.port),
        proof_order: proof_order(&desk.house),
        files: files(args, &desk.house)?,
        names: args
            .name
            .iter()
            .map(|name| name.to_ascii_lowercase())
            .collect(),
        photos: desk.photos,
        book: desk.path,
    };
    serve(settings, |lines| {
        // Nobody may be reading what is said; the page goes on all the same.
        let mut out = Out::new();
        let _ = lines.iter().try_for_each(|line| out.line(line));
    })?;
    Ok(true)
}

/// What is read from the house's files.
fn files(args: &ServeArgs, house: &House) -> Result<HouseFiles> {
    let (folder, own) = (house.folder.clone(), house.clone());
    let keys = keys::folder(args.keys.as_deref());
    Ok(HouseFiles {
        prices: Box::new(move || prices_in(None, &folder)),
        key: Box::new(move || match &keys {
            Ok(folder) => Ok(keys::key(folder)?.0),
            Err(error) => Err(error.clone().into()),
        }),
        ladder: Box::new(move |line| ladder_and_text(line, &own)),
    })
}

/// How photos of proofs are graded: only what lies in the photo can be checked by others.
fn proof_order(house: &House) -> Order {
    Order {
        ladder: None,
        cup: CupSpec {
            floor_mm: house.cup_mm,
            px_per_mm: None,
            dark: false,
            colour: colours::chart(house),
        },
        sex: None,
        juvenile_mm: house.juvenile_mm,
        netted: Netted::Unknown,
        minutes: house.minutes,
    }
}

/// What is asked of every photo in this house.
fn order(house: &House) -> Result<Order> {
    let cup = colours::cup(None, house)?;
    let cup_mm = cup.as_ref().and_then(|cup| cup.floor_mm);
    Ok(Order {
        ladder: None,
        cup: CupSpec {
            floor_mm: cup_mm.or(house.cup_mm),
            px_per_mm: None,
            dark: false,
            colour: colours::spec(None, house, cup.as_ref())?,
        },
        sex: None,
        juvenile_mm: house.juvenile_mm,
        netted: Netted::Unknown,
        minutes: house.minutes,
    })
}
