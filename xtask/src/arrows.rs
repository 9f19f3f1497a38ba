//! Which room may lean on which, and which libraries stay outside the pure rooms.

use std::path::Path;
use std::process::Command;

use serde_json::Value;

use crate::house::Finding;

/// Each room and the rooms it may use.
const ARROWS: [(&str, &[&str]); 15] = [
    ("base", &[]),
    ("trade", &["base"]),
    ("season", &["base", "trade"]),
    ("runs", &["base"]),
    ("book", &["base", "trade"]),
    ("app", &["base", "trade", "season", "runs", "book"]),
    ("store", &["app", "base", "book"]),
    ("roads", &["app", "base"]),
    ("intake", &["app", "base"]),
    ("tables", &["app", "base", "book", "trade", "season"]),
    ("folder", &["base", "trade", "season", "book", "app", "store", "roads"]),
    ("server", &["base", "trade", "season", "runs", "book", "app", "store", "roads", "folder", "intake", "tables"]),
    (
        "cli",
        &["base", "trade", "season", "runs", "book", "app", "store", "roads", "folder", "intake", "tables", "server"],
    ),
    ("bench", &["base", "trade", "season", "runs", "book", "app", "store"]),
    ("xtask", &[]),
];
/// Arrows that only tests may draw, each with its reason: (from, to, why).
const FOR_TESTS_ONLY: [(&str, &str, &str); 3] = [
    ("roads", "book", "an outfit with yards is made of entries"),
    ("roads", "season", "a situation holds a plant table"),
    ("roads", "trade", "a situation holds a job book"),
];
/// Rooms that must not touch the world.
pub(crate) const PURE_ROOMS: [&str; 6] = ["base", "trade", "season", "runs", "book", "app"];
/// Libraries that reach the world; no pure room may depend on them outside its tests.
const WORLDLY: [&str; 12] = [
    "tokio",
    "sqlx",
    "axum",
    "reqwest",
    "hyper",
    "rusqlite",
    "ureq",
    "rand",
    "getrandom",
    "fastrand",
    "tempfile",
    "notify",
];
/// Libraries of chance, kept in one place.
const CHANCE_ONLY: [&str; 2] = ["rand_chacha", "rand_core"];

/// A package of the checkout.
#[derive(Debug, Clone)]
pub(crate) struct Package {
    /// Name without the project's prefix.
    pub(crate) room: String,
    /// What it depends on.
    pub(crate) needs: Vec<Need>,
}

/// One line of a package's dependencies.
#[derive(Debug, Clone)]
pub(crate) struct Need {
    /// Name of the package.
    pub(crate) name: String,
    /// Only for tests, benches and examples.
    pub(crate) for_tests: bool,
}

/// Asks cargo, without the network, for the packages of the checkout.
pub(crate) fn read_packages(root: &Path) -> Result<Vec<Package>, String> {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let answer = Command::new(cargo)
        .args(["metadata", "--format-version", "1", "--no-deps", "--offline"])
        .current_dir(root)
        .output()
        .map_err(|error| format!("cargo metadata could not be run: {error}"))?;
    if !answer.status.success() {
        return Err(format!("cargo metadata failed:\n{}", String::from_utf8_lossy(&answer.stderr)));
    }
    let metadata: Value =
        serde_json::from_slice(&answer.stdout).map_err(|error| format!("cargo metadata cannot be read: {error}"))?;
    packages_of(&metadata).ok_or_else(|| "cargo metadata lacks the packages".to_owned())
}

fn packages_of(metadata: &Value) -> Option<Vec<Package>> {
    let need = |value: &Value| {
        let for_tests = value.get("kind")?.as_str() == Some("dev");
        Some(Need { name: value.get("name")?.as_str()?.to_owned(), for_tests })
    };
    let package = |value: &Value| {
        let name = value.get("name")?.as_str()?;
        let needs = value.get("dependencies")?.as_array()?.iter().map(need).collect::<Option<_>>()?;
        Some(Package { room: name.strip_prefix("outyard-").unwrap_or(name).to_owned(), needs })
    };
    metadata.get("packages")?.as_array()?.iter().map(package).collect()
}

/// Finds reversed arrows and worldly libraries.
pub(crate) fn check(packages: &[Package]) -> Vec<Finding> {
    packages.iter().flat_map(check_package).collect()
}

fn check_package(package: &Package) -> Vec<Finding> {
    let room = package.room.as_str();
    let path = if room == "xtask" { "xtask/Cargo.toml".to_owned() } else { format!("crates/{room}/Cargo.toml") };
    let Some((_, allowed)) = ARROWS.iter().find(|(name, _)| *name == room) else {
        return vec![Finding::at(&path, 0, format!("room {room} is not in the list of rooms in xtask/src/arrows.rs"))];
    };
    let objection = |need: &Need| {
        if let Some(other) = need.name.strip_prefix("outyard-") {
            let for_its_tests =
                need.for_tests && FOR_TESTS_ONLY.iter().any(|(from, to, _)| (*from, *to) == (room, other));
            return (!allowed.contains(&other) && !for_its_tests)
                .then(|| format!("reversed arrow: {room} must not use {other}; see docs/design/0001-rooms.md"));
        }
        let pure = PURE_ROOMS.contains(&room);
        if pure && !need.for_tests && WORLDLY.contains(&need.name.as_str()) {
            return Some(format!("{room} is a pure room and must not use {}", need.name));
        }
        (pure && room != "base" && CHANCE_ONLY.contains(&need.name.as_str()))
            .then(|| format!("{} belongs to base alone; draw from outyard_base::Chance", need.name))
    };
    package.needs.iter().filter_map(objection).map(|what| Finding::at(&path, 0, what)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(room: &str, needs: &[(&str, bool)]) -> Vec<String> {
        let needs = needs.iter().map(|(name, for_tests)| Need { name: (*name).to_owned(), for_tests: *for_tests });
        check(&[Package { room: room.to_owned(), needs: needs.collect() }]).into_iter().map(|it| it.what).collect()
    }

    #[test]
    fn arrows_that_point_inward_pass() {
        assert!(found("season", &[("outyard-base", false), ("outyard-trade", false), ("serde", false)]).is_empty());
        assert!(found("store", &[("outyard-app", false), ("outyard-book", false), ("sqlx", false)]).is_empty());
        assert!(found("base", &[("rand_chacha", false), ("rand_core", false)]).is_empty());
        assert!(found("app", &[("tokio", true)]).is_empty());
    }

    #[test]
    fn reversed_arrows_fail_in_tests_too() {
        for (room, other, for_tests) in [
            ("base", "outyard-trade", false),
            ("runs", "outyard-trade", false),
            ("season", "outyard-runs", true),
            ("book", "outyard-app", false),
            ("app", "outyard-store", true),
            ("store", "outyard-season", false),
            ("xtask", "outyard-base", false),
        ] {
            let found = found(room, &[(other, for_tests)]);
            assert!(found.len() == 1 && found[0].starts_with("reversed arrow"), "{room} -> {other}: {found:?}");
        }
    }

    #[test]
    fn a_worldly_library_in_a_pure_room_fails() {
        assert_eq!(found("season", &[("tokio", false)]).len(), 1);
        assert_eq!(found("runs", &[("rand_chacha", false)]).len(), 1);
        assert_eq!(found("trade", &[("rand", false)]).len(), 1);
    }

    #[test]
    fn a_room_nobody_listed_fails() {
        assert!(found("attic", &[])[0].contains("not in the list"));
    }

    #[test]
    fn metadata_is_read_as_cargo_writes_it() {
        let text = r#"{"packages": [{"name": "outyard-runs", "dependencies": [
            {"name": "outyard-base", "kind": null}, {"name": "proptest", "kind": "dev"}]}]}"#;
        let packages = packages_of(&serde_json::from_str(text).unwrap()).unwrap();
        assert_eq!(packages[0].room, "runs");
        assert_eq!(packages[0].needs.iter().map(|need| need.for_tests).collect::<Vec<_>>(), [false, true]);
        assert!(packages_of(&serde_json::json!({"packages": [{}]})).is_none());
    }

    #[test]
    fn this_checkout_is_read() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
        let packages = read_packages(root).unwrap();
        assert!(packages.iter().any(|package| package.room == "base"));
    }
}
