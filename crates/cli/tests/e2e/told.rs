//! What the crews were told holds from one morning to the next, until the money or the owner says otherwise.

use std::collections::BTreeMap;

use serde_json::Value;

use crate::common::after;
use crate::rain::two_pairs;

/// Day and crew of every visit of some runs, by its key; of those told at once, the first four days.
fn places(runs: &[&Value], until: &str) -> BTreeMap<String, (String, String)> {
    let mut all = BTreeMap::new();
    for run in runs.iter().filter(|run| run["date"].as_str().unwrap() <= until) {
        for stop in run["stops"].as_array().unwrap() {
            let place = (run["date"].as_str().unwrap().to_owned(), run["crew"].as_str().unwrap().to_owned());
            assert!(all.insert(stop["visit"].as_str().unwrap().to_owned(), place).is_none(), "one visit on two runs");
        }
    }
    all
}

fn runs_of(morning: &Value) -> Vec<&Value> {
    ["today", "later"].iter().flat_map(|when| morning[*when].as_array().unwrap()).collect()
}

#[test]
fn runs_told_stand_until_the_owner_changes_them() {
    let (outfit, today) = two_pairs(27, 1);
    let until = after(today, 3).to_string();
    let words = format!("--on {today} --care quick --days 6");
    let first = outfit.json(&format!("morning {words} --tell"));
    assert_eq!(first["told"], Value::Null, "nothing was told before");
    let told = places(&runs_of(&first), &until);
    assert!(told.len() >= 12, "{told:?}");

    // The same morning again: every visit of the days told where it was told.
    let second = outfit.json(&format!("morning {words}"));
    assert_eq!(places(&runs_of(&second), &until), told);
    assert_eq!((&second["told"]["stayed"], &second["told"]["slid"]), (&told.len().into(), &serde_json::json!([])));

    // One yard is closed before the others: the other crew's runs stand, and nothing told is put off; what the time won lets come
    // sooner may come sooner.
    let closed = &first["today"][0]["stops"][0];
    let yard = closed["yard"].as_str().unwrap();
    outfit.json(&format!(
        "tally {yard} --done single-down-blow:double=23 --done brood-lift:split=7 --boxes-on deep=30 --put excluder=30 --on {today}"
    ));
    let third = outfit.json(&format!("morning {words}"));
    let mut left = told.clone();
    left.remove(closed["visit"].as_str().unwrap());
    let mut now = places(&runs_of(&third), &until);
    now.retain(|visit, _| left.contains_key(visit));
    assert_eq!(now.len(), left.len(), "all that was told is still on a run");
    let other = first["today"][1]["crew"].as_str().unwrap();
    for (visit, was) in &left {
        let is = &now[visit];
        assert!(is == was || (is.0 < was.0 && was.1 != other), "{visit} was told for {was:?} and is now {is:?}");
    }
    let stayed = left.iter().filter(|(visit, was)| now.get(*visit) == Some(*was)).count();
    assert!(stayed + 2 >= left.len(), "{stayed} of {} stand", left.len());
    let page = outfit.page(&format!("morning {words}"));
    assert!(page.contains(&format!("{stayed} visits as told, {} not.", left.len() - stayed)), "{page}");

    // It rains, and the crews are told to stay home: that holds on later mornings, without being said again.
    outfit.json(&format!("replan --rain {today} --tell {words}"));
    let wet = outfit.json(&format!("morning {words}"));
    assert_eq!(wet["today"], serde_json::json!([]), "nobody goes out");
    assert_eq!(wet["told"]["nobody_out"], serde_json::json!([today.to_string()]));
    assert_eq!(wet["told"]["slid"], serde_json::json!([]), "what was told last is what stands");

    // The next morning the runs told for it stand; whatever was told for the day before and not closed is named.
    let next = after(today, 1);
    let weather = crate::rain::mild_weather(today);
    outfit.put("weather.csv", weather);
    outfit.json(&format!("weather import weather.csv --station home --latitude 45.1 --longitude -93.9 --on {next}"));
    let dry = outfit.json(&format!("morning --on {next} --care quick --days 6"));
    let (wet_places, dry_places) = (places(&runs_of(&wet), &until), places(&runs_of(&dry), &until));
    let told = wet_places.len();
    let kept = wet_places.iter().filter(|(visit, place)| dry_places.get(*visit) == Some(*place)).count();
    assert_eq!(dry["told"]["missed"], serde_json::json!([]));
    assert_eq!(dry["told"]["nobody_out"], serde_json::json!([]), "the wet day is over");
    let slid = dry["told"]["slid"].as_array().unwrap().len();
    assert_eq!(dry["told"]["stayed"].as_u64().unwrap() as usize + slid, told);
    assert!(kept * 10 >= 8 * told, "{kept} of {told} stand\n{:#}", dry["told"]);

    // Afresh, nothing that was told counts.
    let afresh = outfit.json(&format!("morning {words} --afresh"));
    assert_eq!(afresh["told"], Value::Null);
    assert!(!afresh["today"].as_array().unwrap().is_empty());
}
