//! Who may call which route, in one table. A route that is not in it is refused to everybody; a test holds the table
//! against the description of the interface.

/// Who calls.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// The owner: whoever sits at the office machine, or knows the passphrase.
    Owner,
    /// A crew in the yard.
    Crew,
    /// The honey house.
    HoneyHouse,
    /// Someone who only looks, for a while.
    Reader,
    /// Someone who was not let in.
    Stranger,
}

impl Role {
    /// All who can be let in.
    pub const ALL: [Self; 4] = [Self::Owner, Self::Crew, Self::HoneyHouse, Self::Reader];

    /// How it is written.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Owner => "owner",
            Self::Crew => "crew",
            Self::HoneyHouse => "honey-house",
            Self::Reader => "reader",
            Self::Stranger => "stranger",
        }
    }

    /// The role of a word; nobody is let in as a stranger.
    pub fn of_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.code() == code)
    }
}

use Role::{Crew, HoneyHouse, Owner, Reader, Stranger};

/// Known or not.
const ANYBODY: &[Role] = &[Owner, Crew, HoneyHouse, Reader, Stranger];

/// Everybody who is known here.
const EVERYBODY: &[Role] = &[Owner, Crew, HoneyHouse, Reader];
/// Those who work.
const WORKERS: &[Role] = &[Owner, Crew, HoneyHouse];
/// Those who go out.
const CREWS: &[Role] = &[Owner, Crew];
/// The owner alone.
const ALONE: &[Role] = &[Owner];

/// Method, path and who may call it.
pub const WHO: &[(&str, &str, &[Role])] = &[
    ("GET", "/api/v1/about", EVERYBODY),
    ("GET", "/api/v1/me", EVERYBODY),
    ("POST", "/api/v1/login", ANYBODY),
    ("POST", "/api/v1/logout", EVERYBODY),
    ("POST", "/api/v1/pair", ANYBODY),
    ("POST", "/api/v1/pair/codes", ALONE),
    ("GET", "/api/v1/devices", ALONE),
    ("DELETE", "/api/v1/devices/{device}", ALONE),
    ("GET", "/api/v1/feeds/links", ALONE),
    ("POST", "/api/v1/feeds/links", ALONE),
    ("DELETE", "/api/v1/feeds/links/{link}", ALONE),
    ("GET", "/api/v1/feeds/by/{token}/{feed}", ANYBODY),
    ("GET", "/api/v1/health", EVERYBODY),
    ("GET", "/api/v1/outfit", EVERYBODY),
    ("POST", "/api/v1/outfit", ALONE),
    ("POST", "/api/v1/import", ALONE),
    ("GET", "/api/v1/morning", WORKERS),
    ("GET", "/api/v1/runs", WORKERS),
    ("POST", "/api/v1/replan", ALONE),
    ("POST", "/api/v1/what-if", ALONE),
    ("GET", "/api/v1/yards", EVERYBODY),
    ("GET", "/api/v1/yards/{yard}", EVERYBODY),
    ("GET", "/api/v1/season", WORKERS),
    ("GET", "/api/v1/outlook/{yard}", WORKERS),
    ("GET", "/api/v1/gear", WORKERS),
    ("GET", "/api/v1/gear/ahead", WORKERS),
    ("GET", "/api/v1/book", EVERYBODY),
    ("POST", "/api/v1/entries", WORKERS),
    ("POST", "/api/v1/tally", WORKERS),
    ("POST", "/api/v1/corrections/strike", WORKERS),
    ("GET", "/api/v1/doubts", WORKERS),
    ("POST", "/api/v1/doubts/{yard}/settle", ALONE),
    ("PUT", "/api/v1/files/{hash}", CREWS),
    ("GET", "/api/v1/files/{hash}", WORKERS),
    ("GET", "/api/v1/events", WORKERS),
    ("GET", "/api/v1/phone/pack", CREWS),
    ("GET", "/api/v1/feeds/visits.ics", WORKERS),
    ("GET", "/api/v1/feeds/runs.gpx", WORKERS),
    ("GET", "/api/v1/feeds/map.geojson", WORKERS),
    ("GET", "/api/v1/tables/{table}", EVERYBODY),
    ("GET", "/api/v1/openapi.json", EVERYBODY),
];

/// Whether a role may call a route.
pub(crate) fn may(role: Role, method: &str, path: &str) -> bool {
    // Asking for the head of an answer is asking for it.
    let method = if method == "HEAD" { "GET" } else { method };
    WHO.iter().any(|(verb, route, roles)| *verb == method && *route == path && roles.contains(&role))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whoever_only_looks_changes_nothing_but_himself() {
        let coming_and_going = ["/api/v1/login", "/api/v1/logout", "/api/v1/pair"];
        for (method, path, roles) in WHO {
            assert!(*method == "GET" || !roles.contains(&Reader) || coming_and_going.contains(path), "{method} {path}");
            assert!(roles.contains(&Owner), "{method} {path}");
            let open = coming_and_going.contains(path) || *path == "/api/v1/feeds/by/{token}/{feed}";
            assert!(!roles.contains(&Stranger) || open, "{method} {path} is open to strangers");
        }
        for role in Role::ALL {
            assert_eq!(Role::of_code(role.code()), Some(role));
        }
        assert_eq!(Role::of_code("stranger"), None);
    }

    #[test]
    fn a_route_that_is_not_in_the_table_is_refused_to_everybody() {
        for role in Role::ALL {
            assert!(!may(role, "GET", "/api/v1/secrets") && !may(role, "DELETE", "/api/v1/book"));
        }
        assert!(may(Reader, "HEAD", "/api/v1/book") && !may(Crew, "POST", "/api/v1/replan"));
    }
}
