//! Who may call which route, in one table. A route that is not in it is refused to everybody; a test holds the table
//! against the description of the interface.

/// Who calls.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// Whoever sits at the office machine.
    Owner,
    /// A crew in the yard.
    Crew,
    /// The honey house.
    HoneyHouse,
    /// Someone who only looks, for a while.
    Reader,
}

impl Role {
    /// All there are.
    pub const ALL: [Self; 4] = [Self::Owner, Self::Crew, Self::HoneyHouse, Self::Reader];
}

use Role::{Crew, HoneyHouse, Owner, Reader};

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
    ("GET", "/api/v1/health", EVERYBODY),
    ("GET", "/api/v1/outfit", EVERYBODY),
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
    fn whoever_only_looks_changes_nothing() {
        for (method, path, roles) in WHO {
            assert!(*method == "GET" || !roles.contains(&Reader), "{method} {path}");
            assert!(roles.contains(&Owner), "{method} {path}");
        }
    }

    #[test]
    fn a_route_that_is_not_in_the_table_is_refused_to_everybody() {
        for role in Role::ALL {
            assert!(!may(role, "GET", "/api/v1/secrets") && !may(role, "DELETE", "/api/v1/book"));
        }
        assert!(may(Reader, "HEAD", "/api/v1/book") && !may(Crew, "POST", "/api/v1/replan"));
    }
}
