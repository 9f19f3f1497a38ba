//! Pictures.

use outyard_app::season_picture::season_picture;
use outyard_app::work_out::{Found, find_due};
use outyard_base::Trouble;
use outyard_folder::{Desk, write_whole};

use crate::args::PictureWords;
use crate::picture;
use crate::progress::Waiting;
use crate::reply::Reply;

/// `outyard picture`.
pub(crate) fn season(words: &PictureWords, desk: &Desk) -> Result<Reply, Vec<Trouble>> {
    let waiting = Waiting::new("looking at weather and scales");
    let situation = desk.situation()?;
    let Found { seasons, yards, stacks, notes, .. } = find_due(&situation, situation.settings.outlook.plan_days)?;
    drop(waiting);
    super::plan::find_yard(&situation, &words.yard)?;
    let Some(ahead) = seasons.get(&words.yard) else {
        return Err(vec![Trouble::new(
            "SIT-103",
            format!("yard {} has no place on the map, so nothing can be drawn of its season", words.yard),
            "import the yard with its latitude and longitude",
        )]);
    };
    let season = season_picture(&situation, &words.yard, &yards[&words.yard], ahead, &stacks[&words.yard]);
    let name = words.file.display().to_string();
    write_whole(&words.file, picture::draw(&season).as_bytes())?;
    let page = format!("The season of yard {} is drawn in {name}\n", words.yard);
    Ok(Reply::new(page, season).with(situation.notes.clone()).with(notes))
}
