//! `outyard serve`.

use std::io::Write;

use outyard_base::Trouble;
use outyard_folder::Desk;
use outyard_server::Serve;
use serde_json::json;

use crate::args::ServeWords;
use crate::commands::plan::effort;
use crate::reply::Reply;

/// Serves until it is told to stop.
pub(crate) fn serve(words: &ServeWords, desk: &Desk) -> Result<Reply, Vec<Trouble>> {
    let how = Serve { listen: words.listen, effort: effort(words.care), json_log: words.json_log };
    outyard_server::serve(desk, &how, |address| {
        // Said at once: the command itself ends only when the server does.
        writeln!(std::io::stderr(), "open http://{address} in a browser; Ctrl-C stops it").ok();
    })?;
    Ok(Reply::new("Stopped; all that was answered is in the book.\n", json!({ "stopped": true })))
}
