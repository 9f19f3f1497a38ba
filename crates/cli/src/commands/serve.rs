//! `outyard serve`: the server, and who is let in at its door.

use std::io::{BufRead, IsTerminal, Write};

use outyard_base::Trouble;
use outyard_folder::Desk;
use outyard_server::{
    Accounts, DeviceView, Front, Invitation, Limits, Ready, Role, Serve, in_letters, pairing_address,
};
use serde_json::json;

use crate::args::{LetIn, ServeVerb, ServeWords};
use crate::commands::plan::effort;
use crate::reply::Reply;

/// Width of a terminal that says nothing of it. Common practice, no source.
const WIDTH: usize = 80;

/// Serves until it is told to stop, or does what is asked at the door.
pub(crate) fn serve(words: &ServeWords, desk: &Desk) -> Result<Reply, Vec<Trouble>> {
    // On this machine alone an empty folder is served too: the page leads to a new outfit.
    if words.door.is_some() || front(words) != Front::ThisMachine {
        desk.settings()?;
    }
    match &words.door {
        None => serve_on(words, desk),
        Some(ServeVerb::Passphrase) => passphrase(desk),
        Some(ServeVerb::Code { role, at }) => code(desk, *role, at.as_deref()),
        Some(ServeVerb::Devices) => devices(desk),
        Some(ServeVerb::LetOut { device }) => let_out(desk, device),
    }
}

fn serve_on(words: &ServeWords, desk: &Desk) -> Result<Reply, Vec<Trouble>> {
    let how = Serve {
        listen: words.listen,
        front: front(words),
        names: words.name.clone(),
        effort: effort(words.care),
        json_log: words.json_log,
        limits: Limits::default(),
    };
    outyard_server::serve(desk, &how, |ready| {
        // Said at once: the command itself ends only when the server does.
        std::io::stderr().write_all(said_at_start(&how.front, ready).as_bytes()).ok();
    })?;
    Ok(Reply::new("Stopped; all that was answered is in the book.\n", json!({ "stopped": true })))
}

fn front(words: &ServeWords) -> Front {
    match (&words.behind_proxy, &words.certificate, &words.key) {
        (Some(origin), _, _) => Front::BehindProxy { origin: origin.trim_end_matches('/').to_owned() },
        (None, Some(chain), Some(key)) => Front::Files { chain: chain.clone(), key: key.clone() },
        _ if words.own_authority || !words.listen.ip().is_loopback() => Front::OwnAuthority,
        _ => Front::ThisMachine,
    }
}

fn said_at_start(front: &Front, ready: &Ready) -> String {
    let mut text = format!("The desk, on this machine:  {}\n", ready.here);
    match front {
        Front::ThisMachine => {
            text += "No other machine can reach it. For phones: outyard serve --listen 0.0.0.0:7340\n";
        }
        Front::BehindProxy { .. } => {
            text += &format!("Behind the proxy; it hands requests on to http://{}\n", ready.address);
        }
        Front::OwnAuthority | Front::Files { .. } => {
            for (number, origin) in ready.elsewhere.iter().enumerate() {
                text += &format!("{:<28}{origin}\n", if number == 0 { "From other machines:" } else { "" });
            }
        }
    }
    if let (Some(fingerprint), Some(origin)) = (&ready.fingerprint, ready.elsewhere.first()) {
        let lead = format!("{}/trust", origin.replacen("https", "http", 1));
        let (first, second) = fingerprint.split_at(48);
        text += &format!(
            "\nA phone that is new here opens this first, and is led to trust the office:\n  {lead}\n{}\
            It shows this SHA-256 fingerprint; say yes on the phone only if it is the same:\n  {first}\n  {second}\n\n\
            Then it is let in: at the desk by Phones, Make a code, or with outyard serve code --at {origin}\n",
            picture(&lead)
        );
    } else if *front != Front::ThisMachine {
        text += "A phone is let in at the desk by Phones, Make a code, or with outyard serve code.\n";
    }
    text + "Ctrl-C stops it.\n"
}

/// A text as a picture for a camera, where somebody looks and it fits.
fn picture(text: &str) -> String {
    if !std::io::stderr().is_terminal() {
        return String::new();
    }
    let width = std::env::var("COLUMNS").ok().and_then(|width| width.parse().ok()).unwrap_or(WIDTH);
    in_letters(text, width).unwrap_or_default()
}

fn with_accounts<T>(desk: &Desk, work: impl AsyncFnOnce(&Accounts) -> Result<T, Trouble>) -> Result<T, Vec<Trouble>> {
    Desk::run(async {
        let accounts = Accounts::open(desk.folder()).await?;
        work(&accounts).await.map_err(|trouble| vec![trouble])
    })
}

fn cannot_ask(error: &std::io::Error) -> Vec<Trouble> {
    vec![Trouble::new(
        "SRV-021",
        format!("the passphrase cannot be read: {error}"),
        "type it, or hand it on by the standard input",
    )]
}

fn passphrase(desk: &Desk) -> Result<Reply, Vec<Trouble>> {
    let words = if std::io::stdin().is_terminal() {
        let first = rpassword::prompt_password("The owner's new passphrase: ").map_err(|error| cannot_ask(&error))?;
        let again = rpassword::prompt_password("Once more: ").map_err(|error| cannot_ask(&error))?;
        if first != again {
            return Err(vec![Trouble::new(
                "SRV-021",
                "the two were not the same",
                "type it twice alike; nothing was changed",
            )]);
        }
        first
    } else {
        let mut line = String::new();
        std::io::stdin().lock().read_line(&mut line).map_err(|error| cannot_ask(&error))?;
        line.trim_end_matches(['\r', '\n']).to_owned()
    };
    with_accounts(desk, async |accounts| accounts.set_passphrase(&words).await)?;
    Ok(Reply::new(
        "The passphrase is set; browsers an older one opened are let out. It cannot be read back from anywhere.\n",
        json!({ "set": true }),
    ))
}

fn code(desk: &Desk, role: LetIn, at: Option<&str>) -> Result<Reply, Vec<Trouble>> {
    let role = match role {
        LetIn::Owner => Role::Owner,
        LetIn::Crew => Role::Crew,
        LetIn::HoneyHouse => Role::HoneyHouse,
        LetIn::Reader => Role::Reader,
    };
    let Invitation { code, until } = with_accounts(desk, async |accounts| match role {
        Role::Reader => accounts.invite_reader("reader", 14).await,
        role => accounts.invite(role).await,
    })?;

    let until_here = desk.zone().to_datetime(until).strftime("%Y-%m-%d %H:%M").to_string();
    let times = if role == Role::Reader { "" } else { ", once" };
    let mut text = format!("{code}   for {}, until {until_here}{times}\n", role.code());
    let url = at.map(|origin| pairing_address(origin.trim_end_matches('/'), &code));
    match &url {
        Some(url) => text += &format!("{url}\n{}", picture(url)),
        None => text += "The phone opens the office's address followed by /pair, and types it there.\n",
    }
    Ok(Reply::new(text, json!({ "code": code, "role": role.code(), "until": until.to_string(), "url": url })))
}

fn devices(desk: &Desk) -> Result<Reply, Vec<Trouble>> {
    let devices = with_accounts(desk, async |accounts| accounts.devices().await)?;
    if devices.is_empty() {
        return Ok(Reply::new("Nobody is let in but who sits at this machine.\n", json!([])));
    }
    let mut text = format!("{:<20}{:<12}{:<22}{:<18}until\n", "device", "may as", "whose", "last here");
    for DeviceView { device, role, name, last_seen, until, .. } in &devices {
        let minute = |at: &Option<String>| at.as_deref().map_or("-", |at| at.get(..16).unwrap_or(at)).replace('T', " ");
        text += &format!("{device:<20}{role:<12}{name:<22}{:<18}{}\n", minute(last_seen), minute(until));
    }
    let value = serde_json::to_value(&devices).expect("plain data");
    Ok(Reply::new(text, value))
}

fn let_out(desk: &Desk, device: &str) -> Result<Reply, Vec<Trouble>> {
    if !with_accounts(desk, async |accounts| accounts.let_out(device).await)? {
        return Err(vec![Trouble::new(
            "SRV-006",
            format!("no device {device} is let in"),
            "outyard serve devices says which are",
        )]);
    }
    Ok(Reply::new(format!("{device} is out.\n"), json!({ "let_out": device })))
}
