//! The page as a browser fetches it: the built one where it was built, else a plain one that says how to make it.

use std::path::Path;

use crate::support::serve;

#[test]
fn the_page_is_handed_out_with_its_parts() {
    let served = serve();
    let first = served.get("/");
    assert_eq!((first.status, &first.headers["content-type"]), (200, &"text/html; charset=utf-8".parse().unwrap()));
    assert_eq!(first.headers["cache-control"], "no-cache");
    let policy = first.headers["content-security-policy"].to_str().unwrap();
    assert!(policy.contains("script-src 'self';") && policy.contains("frame-ancestors 'none'"), "{policy}");
    assert_eq!(served.get_with("/", "if-none-match", first.headers["etag"].to_str().unwrap()).status, 304);
    // The page finds its own way about; what looks like a file is one or is nothing.
    assert_eq!(served.get("/desk/season").body, first.body);
    for nothing in [
        "/assets/none.js",
        "/assets/../index.html",
        "/none.js",
        "/..%2f..%2fCargo.toml",
        "/.gitignore",
        "/api",
        "/api/v2",
    ] {
        let said = served.get(nothing);
        assert_eq!((said.status, said.code().as_str()), (404, "SRV-006"), "{nothing}: {}", said.body);
    }
    if !Path::new(env!("CARGO_MANIFEST_DIR")).join("page/index.html").exists() {
        assert!(first.body.contains("make web"), "{}", first.body);
        println!("the page was not built: only the plain page was looked at");
        return;
    }
    assert!(!first.body.contains("<script>"), "a script stands in the page itself, and the policy forbids it");
    let mut parts = 0;
    for part in first.body.split('"').filter(|part| part.starts_with("/assets/")) {
        let said = served.get(part);
        let sort = said.headers["content-type"].to_str().unwrap();
        let wanted = if part.contains(".css") { "text/css" } else { "text/javascript" };
        assert!(sort.starts_with(wanted), "{part}: {sort}");
        assert_eq!(said.headers["cache-control"], "public, max-age=31536000, immutable", "{part}");
        parts += 1;
    }
    assert!(parts >= 2, "a script and a style sheet: {}", first.body);
    assert_eq!(served.get("/sw.js").headers["cache-control"], "no-cache");
    assert_eq!(served.get("/manifest.webmanifest").headers["content-type"], "application/manifest+json");
    let packed = served.get_with("/sw.js", "accept-encoding", "gzip");
    assert_eq!(packed.headers["vary"], "accept-encoding");
}
