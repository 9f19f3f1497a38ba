//! The sums an owner does by hand, through the command line: each with the numbers of its scene and with others, which
//! the test works out by itself.

use jiff::civil::Date;
use outyard_base::Chance;
use serde_json::Value;

use crate::common::{Outfit, RATES, SETTINGS, after, date, find, number, said, same};

/// Spares on top of what is needed, in hundredths.
fn with_spares(needed: u32, percent: u32) -> u32 {
    (needed * (100 + percent)).div_ceil(100)
}

fn loaded(load: &Value, gear: &str) -> (u64, u64) {
    let line = find(load, "gear", gear);
    (line["needed"].as_u64().unwrap(), line["load"].as_u64().unwrap())
}

/// Day numbers of the brood clocks after an excluder was put under brood: first, best and last day.
const CLOCKS: [(&str, i64, i64, Option<i64>); 6] = [
    ("egg-test", 4, 4, None),
    ("cell-look", 7, 8, Some(9)),
    ("open-worker-test", 10, 10, None),
    ("return", 12, 14, Some(16)),
    ("workers-out", 21, 22, None),
    ("drones-out", 24, 25, None),
];

pub(crate) fn holds_clocks(clocks: &Value, day0: Date) {
    for (code, from, best, to) in CLOCKS {
        let clock = find(clocks, "code", code);
        assert_eq!(clock["from"], after(day0, from).to_string(), "{code}");
        assert_eq!(clock["best"], after(day0, best).to_string(), "{code}");
        match to {
            Some(to) => assert_eq!(clock["to"], after(day0, to).to_string(), "{code}"),
            None => assert!(clock["to"].is_null(), "{code}"),
        }
    }
}

// Scene S1: yard 7, 26 doubles and 6 splits on 3 July; 25 minutes to set up, 4 a double, 5 a split, 5 % spare.
#[test]
fn scene_1_the_yard_sheet() {
    for (doubles, splits, setup, per_double, per_split, spare, day) in [
        (26, 6, 25, 4, 5, 5, "2026-07-03"),
        (31, 0, 25, 4, 5, 5, "2026-06-28"),
        (18, 14, 15, 6, 3, 10, "2027-07-11"),
        (0, 22, 30, 4, 7, 0, "2028-06-20"),
    ] {
        let outfit = Outfit::with_yards(&[("7", doubles, splits), ("8", 3, 3)]);
        let rates = RATES
            .replace("setup_pair_minutes = 25", &format!("setup_pair_minutes = {setup}"))
            .replace("spare_share = 0.05", &format!("spare_share = 0.{spare:02}"))
            .replace("double = 4", &format!("double = {per_double}"))
            .replace("split = 5", &format!("split = {per_split}"));
        outfit.put("jobs.toml", &rates);
        let (needed, day0) = (doubles + splits, date(day));
        let minutes = setup + doubles * per_double + splits * per_split;
        let load = with_spares(needed, spare);

        let sheet = outfit.json(&format!("yard 7 --on {day}"));
        let put_down = &sheet["put_down"];
        assert_eq!(put_down["minutes"], minutes);
        for gear in ["excluder", "third"] {
            assert_eq!(loaded(&put_down["load"], gear), (u64::from(needed), u64::from(load)), "{gear}");
        }
        let has = |gear: &str| put_down["load"].as_array().unwrap().iter().any(|line| line["gear"] == gear);
        if doubles > 0 {
            assert_eq!((loaded(&put_down["load"], "rim"), loaded(&put_down["load"], "blower")), ((2, 2), (1, 1)));
        } else {
            assert!(!has("rim") && !has("blower"), "nothing is blown");
        }
        holds_clocks(&put_down["clocks"], day0);

        let page = outfit.page(&format!("yard 7 --on {day}"));
        let wanted = [
            format!("To put down: {} h {:02} ({minutes} min)", minutes / 60, minutes % 60),
            format!("{load} excluders {needed}"),
            format!("{load} thirds {needed}"),
            format!("egg test {}", said(after(day0, 4))),
            format!("look for queen cells {} {} {}", said(after(day0, 7)), said(after(day0, 8)), said(after(day0, 9))),
            format!("open-brood test {}", said(after(day0, 10))),
            format!("normal return {} {} {}", said(after(day0, 12)), said(after(day0, 14)), said(after(day0, 16))),
            format!("upper box clear of worker brood {} {}", said(after(day0, 21)), said(after(day0, 22))),
            format!("upper box clear of drones {} {}", said(after(day0, 24)), said(after(day0, 25))),
            "Never alone in a yard".to_owned(),
        ];
        for line in wanted {
            assert!(page.contains(&line), "no \"{line}\" in {page}");
        }
    }
}

#[test]
fn the_sheet_takes_the_outfits_own_way_to_put_down() {
    // Shaking takes 9 minutes a double and searching 12, by the built-in job book; nothing is blown.
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    outfit.put("outfit.toml", format!("put_down_by = \"single-down-shake\"\n{SETTINGS}"));
    assert_eq!(outfit.json("yard 7 --on 2026-07-03")["put_down"]["minutes"], 25 + 26 * 9 + 6 * 5);
    let day = outfit.json("day 7 --on 2026-07-03");
    assert_eq!(day["stops"][0]["minutes"], 25 + 26 * 9 + 6 * 5);
    assert!(day["load"].as_array().unwrap().iter().all(|line| line["gear"] != "blower"));
    let other = outfit.json("yard 7 --by single-down-search --on 2026-07-03");
    assert_eq!(other["put_down"]["minutes"], 25 + 26 * 12 + 6 * 5);
}

/// A day of scene S2: yards with doubles and splits, the drives between them in order from home to home.
struct DayOut {
    yards: &'static [(&'static str, u32, u32)],
    drives: &'static [i64],
    gate: (i64, i64),
    lunch: i64,
    deck: u32,
    payload_kg: u32,
}

fn clock(minutes: i64) -> String {
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}

fn minutes_of(value: &Value) -> i64 {
    let (hour, minute) = value.as_str().unwrap_or_else(|| panic!("{value} is no time")).split_once(':').unwrap();
    hour.parse::<i64>().unwrap() * 60 + minute.parse::<i64>().unwrap()
}

// Scene S2: yards 7, 12 and 19, drives 25, 15, 20 and 40 minutes, lunch 30, blowing from 09:00 to 19:00.
#[test]
fn scene_2_will_the_day_fit() {
    let scene = DayOut {
        yards: &[("7", 26, 6), ("12", 20, 10), ("19", 34, 0)],
        drives: &[25, 15, 20, 40],
        gate: (540, 1140),
        lunch: 30,
        deck: 120,
        payload_kg: 2300,
    };
    for day in [
        DayOut { ..scene },
        DayOut {
            yards: &[("A", 30, 4), ("B", 12, 12)],
            drives: &[50, 35, 20],
            gate: (600, 1080),
            lunch: 45,
            deck: 60,
            payload_kg: 1500,
        },
        DayOut {
            yards: &[("3", 8, 2), ("5", 9, 0), ("6", 10, 1), ("9", 7, 7)],
            drives: &[10, 12, 14, 16, 18],
            gate: (480, 1200),
            lunch: 0,
            deck: 96,
            payload_kg: 3700,
        },
        // The gate shuts before the last yard is done.
        DayOut { gate: (540, 1020), ..scene },
    ] {
        let outfit = Outfit::with_yards(day.yards);
        let mut drives = "from,to,minutes\n".to_owned();
        let names: Vec<&str> = day.yards.iter().map(|(yard, ..)| *yard).collect();
        let stands: Vec<&str> = ["home"].into_iter().chain(names.iter().copied()).chain(["home"]).collect();
        for (leg, minutes) in stands.windows(2).zip(day.drives) {
            drives.push_str(&format!("{},{},{minutes}\n", leg[0], leg[1]));
        }
        outfit.put("drives.csv", &drives);
        let settings = SETTINGS
            .replace("deeps_empty = 120", &format!("deeps_empty = {}", day.deck))
            .replace("payload_kg = 2300", &format!("payload_kg = {}", day.payload_kg))
            .replace("leave = \"06:00\"", &format!("leave = \"06:00\"\nlunch_min = {}\nlongest_min = 720", day.lunch));
        outfit.put("outfit.toml", format!("{settings}[roads]\ndrives = \"drives.csv\"\n"));
        let words =
            format!("day {} --gate {}-{} --on 2026-07-03", names.join(" "), clock(day.gate.0), clock(day.gate.1));
        let fit = outfit.json(&words);
        let page = outfit.page(&words);

        let work: Vec<i64> =
            day.yards.iter().map(|(_, doubles, splits)| i64::from(25 + 4 * doubles + 5 * splits)).collect();
        let inner: i64 = day.drives[1..day.yards.len()].iter().sum();
        let leave = day.gate.0 - day.drives[0];
        let last_end = day.gate.0 + work.iter().sum::<i64>() + inner + day.lunch;
        let needed: u32 = day.yards.iter().map(|(_, doubles, splits)| doubles + splits).sum();
        let load = with_spares(needed, 5);
        assert_eq!(loaded(&fit["load"], "third"), (u64::from(needed), u64::from(load)));
        assert_eq!(loaded(&fit["load"], "excluder"), (u64::from(needed), u64::from(load)));
        // Thirds of 9 kg, excluders of 0.65, a blower of 20 and two rims of 1.5 are far below the payload here.
        assert_eq!(fit["one_load"], load <= day.deck);
        assert_eq!(fit["full_boxes_home_max"], day.payload_kg / 37);
        assert!(page.contains(&format!("at most {} full boxes", day.payload_kg / 37)), "{page}");
        assert!(page.contains(&format!("{load} thirds {needed}")), "{page}");
        assert!(page.contains(if load <= day.deck { "One load." } else { "More than one load." }), "{page}");

        if last_end > day.gate.1 {
            assert_eq!(fit["fits"], false);
            assert!(fit["why_not"].as_str().unwrap().contains("gate"), "{fit}");
            assert!(page.contains("It does not fit"), "{page}");
            continue;
        }
        assert_eq!(fit["fits"], true);
        assert_eq!(fit["leave"], clock(leave));
        assert_eq!(fit["home"], clock(last_end + day.drives[day.yards.len()]));
        assert_eq!(fit["window_left_min"], day.gate.1 - last_end);
        // Every stop follows the one before, with the drive and at most one lunch between.
        let mut free_at = day.gate.0;
        let mut lunches = 0;
        for (at, stop) in fit["stops"].as_array().unwrap().iter().enumerate() {
            let (start, end) = (minutes_of(&stop["start"]), minutes_of(&stop["end"]));
            assert_eq!((stop["yard"].as_str().unwrap(), end - start), (names[at], work[at]));
            assert!(day.gate.0 <= start && end <= day.gate.1);
            let idle = start - free_at - if at == 0 { 0 } else { day.drives[at] };
            assert!(idle == 0 || idle == day.lunch, "{idle} min between the stops\n{fit:#}");
            lunches += i32::from(idle > 0);
            free_at = end;
        }
        if day.lunch > 0 {
            let (from, to) = (minutes_of(&fit["lunch"]["from"]), minutes_of(&fit["lunch"]["to"]));
            assert_eq!((to - from, lunches), (day.lunch, 1));
            assert!(from - leave <= 360, "lunch begins within six hours");
        } else {
            assert!(fit["lunch"].is_null());
        }
        for line in [format!("{} leave home", clock(leave)), format!("{} min of them left", day.gate.1 - last_end)] {
            assert!(page.contains(&line), "no \"{line}\" in {page}");
        }
    }
    // The scene's own times, to the minute.
    let outfit = Outfit::with_yards(scene.yards);
    outfit.put("drives.csv", "from,to,minutes\nhome,7,25\n7,12,15\n12,19,20\n19,home,40\n");
    outfit.put("outfit.toml", format!("{SETTINGS}[roads]\ndrives = \"drives.csv\"\n"));
    let fit = outfit.json("day 7 12 19 --gate 09:00-19:00 --on 2026-07-03");
    let times: Vec<&str> = fit["stops"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|stop| [stop["start"].as_str().unwrap(), stop["end"].as_str().unwrap()])
        .collect();
    assert_eq!(times, ["09:00", "11:39", "11:54", "14:29", "15:19", "18:00"]);
    assert_eq!((fit["leave"].as_str(), fit["home"].as_str()), (Some("08:35"), Some("18:40")));
}

/// Day on which boxes are full: room and honey day by day, cut in where they meet.
fn full_after(super_kg: f64, upper_kg: f64, gain: f64) -> Option<f64> {
    if gain <= 0.0 {
        return None;
    }
    let before_21 = super_kg / (gain - upper_kg / 21.0);
    if gain > upper_kg / 21.0 && before_21 <= 21.0 { Some(before_21) } else { Some((super_kg + upper_kg) / gain) }
}

// Scene S3: with one third on, full after 24, 12.9 and 7.1 days at 2, 3 and 4.5 kg a day; with two boxes 14.3.
#[test]
fn scene_3_when_he_must_be_back() {
    let outfit = Outfit::with_yards(&[("7", 1, 0)]);
    for (gain, boxes, full, back, for_room) in
        [(2.0, 1, 24.0, 14, 24), (3.0, 1, 12.9, 12, 12), (4.5, 1, 7.1, 7, 7), (4.5, 2, 14.3, 14, 14)]
    {
        let answer = outfit.json(&format!("fill --gain {gain} --boxes {boxes} --put-down 2026-07-03"));
        assert!((number(&answer["full_after_days"]) - full).abs() < 0.05, "{answer}");
        assert_eq!(answer["return_day_for_room"], for_room);
        assert_eq!(answer["return_day_for_queen_check"], 14);
        assert_eq!(answer["return_day"], back);
        assert_eq!(answer["return_date"], after(date("2026-07-03"), back).to_string());
    }
    let enough = outfit.json("fill --gain 3")["enough_for_14_days_up_to_kg_per_day"].clone();
    assert!((number(&enough) - 2.86).abs() < 0.005);

    for box_kg in [24.0, 20.0, 31.5] {
        for boxes in [0.5, 1.0, 2.5] {
            for gain in [0.9, 1.3, 2.2, 3.7, 5.1] {
                let (super_kg, upper_kg) = (boxes * box_kg, box_kg);
                let answer = outfit.json(&format!("fill --gain {gain} --boxes {boxes} --box-kg {box_kg}"));
                let full = full_after(super_kg, upper_kg, gain).unwrap();
                same(&answer["full_after_days"], full);
                let for_room = full.floor();
                same(&answer["return_day_for_room"], for_room);
                same(&answer["return_day"], for_room.min(14.0));
                let enough = (super_kg + upper_kg * 14.0 / 21.0) / 14.0;
                same(&answer["enough_for_14_days_up_to_kg_per_day"], enough);
                let page = outfit.page(&format!("fill --gain {gain} --boxes {boxes} --box-kg {box_kg}"));
                assert!(page.contains(&format!("full after {full:.1} days")), "{page}");
                assert!(page.contains(&format!("go on D+{:.0}", for_room.min(14.0))), "{page}");
                assert!(page.contains(&format!("enough up to {enough:.2} kg a day")), "{page}");
            }
        }
    }
    // The weight of a full box is the outfit's own when its job book says so.
    outfit.put("jobs.toml", RATES.replace("full_deep_kg = 24", "full_deep_kg = 27"));
    same(&outfit.json("fill --gain 4")["full_after_days"], full_after(27.0, 27.0, 4.0).unwrap());
    let never = outfit.json("fill --gain -0.3");
    assert!(never["full_after_days"].is_null() && never["return_day"] == 14);
    assert!(outfit.page("fill --gain -0.3").contains("never fill"));
}

/// A yard of scene S4: name, colonies, gain, free boxes.
type Waiting = (String, u32, f64, f64);

fn full_in(yard: &Waiting, box_kg: f64) -> f64 {
    if yard.2 > 0.0 { yard.3 * box_kg / yard.2 } else { f64::INFINITY }
}

fn lost(order: &[&Waiting], box_kg: f64) -> f64 {
    let of = |(morning, yard): (usize, &&Waiting)| {
        let late = (morning as f64 - full_in(yard, box_kg)).max(0.0);
        if late > 0.0 { f64::from(yard.1) * yard.2 * 0.6 * late } else { 0.0 }
    };
    order.iter().enumerate().map(of).sum()
}

/// Every order of the yards.
fn orders<'a>(yards: &[&'a Waiting]) -> Vec<Vec<&'a Waiting>> {
    if yards.is_empty() {
        return vec![Vec::new()];
    }
    let mut all = Vec::new();
    for at in 0..yards.len() {
        let mut rest = yards.to_vec();
        let first = rest.remove(at);
        all.extend(orders(&rest).into_iter().map(|mut order| {
            order.insert(0, first);
            order
        }));
    }
    all
}

fn priced<'a>(outfit: &Outfit, yards: &'a [Waiting], own: &[&'a Waiting], box_kg: f64) -> Value {
    let mut text = "yard,colonies,gain_kg_per_day,free_boxes\n".to_owned();
    for (yard, colonies, gain, free) in yards {
        text.push_str(&format!("{yard},{colonies},{gain},{free}\n"));
    }
    outfit.put("waiting.csv", &text);
    let names: Vec<&str> = own.iter().map(|yard| yard.0.as_str()).collect();
    let words = format!("first waiting.csv --box-kg {box_kg} --order {}", names.join(","));
    let answer = outfit.json(&words);

    let by_name = |name: &Value| yards.iter().find(|yard| yard.0 == name.as_str().unwrap()).unwrap();
    let best: Vec<&Waiting> = answer["best"]["order"].as_array().unwrap().iter().map(by_name).collect();
    let least =
        orders(&yards.iter().collect::<Vec<_>>()).iter().map(|order| lost(order, box_kg)).fold(f64::INFINITY, f64::min);
    assert!((lost(&best, box_kg) - least).abs() < 1e-6, "{answer:#}");
    let money = |kg: f64| (kg * 500.0).round();
    for (told, kg) in [(&answer["best"], least), (find(&answer["others"], "said", "your order"), lost(own, box_kg))] {
        same(&told["lost_kg"], kg);
        same(&told["lost_cents"], money(kg));
    }
    for yard in yards {
        let told = &find(&answer["yards"], "yard", &yard.0)["full_in_days"];
        if yard.2 > 0.0 { same(told, full_in(yard, box_kg)) } else { assert!(told.is_null(), "{told}") }
    }
    // The reason, not just the order: each yard with the day it is full and what a morning more costs.
    let page = outfit.page(&words);
    assert_eq!(answer["reasons"].as_array().unwrap().len(), yards.len());
    for yard in yards.iter().filter(|yard| yard.2 > 0.0) {
        let reason =
            format!("{}: {} colonies at {:.1} kg/d, full in {:.2} days", yard.0, yard.1, yard.2, full_in(yard, box_kg));
        assert!(page.contains(&reason), "no \"{reason}\" in {page}");
    }
    assert!(page.contains(&format!("your order {}", names.join(", "))), "{page}");
    answer
}

// Scene S4: N, S and W; the order W, N, S loses nothing, N, W, S 39.6 kg (198) and S, N, W 93.6 kg.
#[test]
fn scene_4_which_yard_first() {
    let outfit = Outfit::with_yards(&[("7", 1, 0)]);
    let yard = |name: &str, colonies: u32, gain: f64, free: f64| -> Waiting { (name.to_owned(), colonies, gain, free) };
    let scene = [yard("N", 34, 3.5, 0.4), yard("S", 28, 1.2, 1.0), yard("W", 20, 4.5, 0.05)];
    let [north, south, west] = &scene;
    let answer = priced(&outfit, &scene, &[north, west, south], 24.0);
    assert_eq!(answer["best"]["order"], serde_json::json!(["W", "N", "S"]));
    same(&answer["best"]["lost_kg"], 0.0);
    let own = find(&answer["others"], "said", "your order");
    assert!((number(&own["lost_kg"]) - 39.6).abs() < 1e-9 && own["lost_cents"] == 19_800, "{own}");
    let answer = priced(&outfit, &scene, &[south, north, west], 24.0);
    assert!((number(&find(&answer["others"], "said", "your order")["lost_kg"]) - 93.6).abs() < 1e-9);

    let small = [yard("East 1", 12, 2.0, 0.1), yard("East 2", 40, 2.9, 0.12)];
    // Names with blanks cannot be parted at blanks: these go by other names on the command line.
    let small = small.map(|(name, colonies, gain, free)| (name.replace(' ', "-"), colonies, gain, free));
    priced(&outfit, &small, &[&small[0], &small[1]], 20.0);

    let chance = &mut Chance::new(4, "waiting yards");
    for count in [3, 5, 6] {
        let yards: Vec<Waiting> = (0..count)
            .map(|at| {
                let gain = (chance.between(0.0, 6.0) * 10.0).round() / 10.0;
                let free = (chance.between(0.0, 0.9) * 20.0).round() / 20.0;
                yard(&format!("Y{at}"), 10 + chance.below(35) as u32, gain, free)
            })
            .collect();
        let own: Vec<&Waiting> = yards.iter().rev().collect();
        priced(&outfit, &yards, &own, 26.0);
    }
}

// Scene S5: one comb from the upper box, put down 3 July; with other days of the put-down too.
#[test]
fn scene_5_reading_a_comb() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    for put_down in ["2026-07-03", "2028-02-24", "2027-06-28"] {
        let day0 = date(put_down);
        let sign = |day: i64, seen: &str| {
            let words = format!("sign --put-down {put_down} --seen-on {} --seen {seen}", after(day0, day));
            (outfit.json(&words), outfit.page(&words))
        };
        let does = |answer: &Value, what: &str| {
            answer["do"].as_array().unwrap().iter().any(|step| step.as_str().unwrap().contains(what))
        };
        // (a) Eggs on day 5: the queen is above; exchange the boxes.
        let (eggs, page) = sign(5, "above-eggs");
        assert_eq!((eggs["outcome"].as_str(), eggs["verdict"].as_str()), (Some("meaning"), Some("queen-above")));
        assert!(does(&eggs, "Exchange the boxes") && page.contains("a queen is above the excluder"), "{page}");
        // (b) Only capped brood on day 10: she is down.
        let (capped, page) = sign(10, "above-capped-only");
        assert_eq!(capped["verdict"], "not-above");
        assert!(page.contains("she is down"), "{page}");
        // (c) Open larvae on day 14: the queen is above.
        let (larvae, page) = sign(14, "above-open-larvae");
        assert_eq!(larvae["verdict"], "queen-above");
        assert!(page.contains("a queen is above the excluder"), "{page}");
        // (d) A hinged or torn cell on day 14: a virgin is above; look for eggs from day 20 to 30.
        // (e) No eggs and cells below on day 14: lost on day 0; eggs from day 20 to 30, no requeening before.
        let (from, to) = (after(day0, 20), after(day0, 30));
        for (seen, verdict) in [("above-hinged-cell", "virgin-above"), ("below-no-eggs-cells", "queen-lost")] {
            let (answer, page) = sign(14, seen);
            assert_eq!(answer["verdict"], verdict);
            let eggs = find(&answer["next"], "code", "new-queen-eggs");
            assert_eq!((&eggs["from"], &eggs["to"]), (&from.to_string().into(), &to.to_string().into()));
            assert!(page.contains(&format!("{} to {}", said(from), said(to))), "{page}");
            assert!(does(
                &answer,
                if seen.starts_with("above") { "Look for eggs above" } else { "Do not requeen before" }
            ));
        }
        // Eggs on day 2 prove nothing: they may have been laid before.
        let (refused, page) = sign(2, "above-eggs");
        assert_eq!(
            (&refused["outcome"], &refused["counts_from"]),
            (&"refused".into(), &after(day0, 4).to_string().into())
        );
        assert!(refused["why"].as_str().unwrap().contains("before the put-down"), "{refused}");
        assert!(refused.get("verdict").is_none() && page.contains("Proves nothing"), "{page}");
        // Each test counts from its own day on, not a day sooner.
        for (seen, first) in [
            ("above-eggs", 4),
            ("above-open-larvae", 10),
            ("above-capped-only", 10),
            ("above-hinged-cell", 10),
            ("below-no-eggs-cells", 4),
        ] {
            for day in 0..first {
                assert_eq!(sign(day, seen).0["outcome"], "refused", "{seen} on day {day}");
            }
            assert_eq!(sign(first, seen).0["outcome"], "meaning", "{seen} on day {first}");
        }
    }
    // The day of the put-down comes from the book when the yard is named.
    outfit.json("tally 7 --done single-down-blow:double=26 --on 2026-07-03");
    let answer = outfit.json("sign --yard 7 --seen above-eggs --on 2026-07-08");
    assert_eq!(answer["verdict"], "queen-above");
    assert_eq!(outfit.json("sign --yard 7 --seen above-eggs --on 2026-07-05")["outcome"], "refused");
}

/// Stock and shortage day by day: what is short is carried on until boxes come.
fn stock_by_day(stock: i64, need: &[i64], wet: &[i64]) -> Vec<(i64, i64)> {
    let mut balance = stock;
    need.iter()
        .zip(wet)
        .map(|(need, wet)| {
            balance += wet - need;
            (balance.max(0), (-balance).max(0))
        })
        .collect()
}

// Scene S7: 540 empties on 17 July, 96 needed a day, 80 wet a day from 23 July: short by 36 on 22 July; extracting three
// days earlier cures it with 108 left on 28 July, or 132 boxes to get.
#[test]
fn scene_7_supers_short_by_how_many_and_when() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    for (stock, first, days, need, wet_a_day, wet_after) in [
        (540, "2026-07-17", 12, 96, 80, 6),
        (700, "2026-06-28", 15, 110, 100, 8),
        (300, "2027-07-20", 10, 90, 20, 7),
        (900, "2026-07-10", 9, 60, 40, 5),
    ] {
        let day0 = date(first);
        let needs = vec![need; days];
        let wet_from =
            |start: usize| -> Vec<i64> { (0..days).map(|day| if day >= start { wet_a_day } else { 0 }).collect() };
        let wet = wet_from(wet_after);
        let mut text = "date,need,returns\n".to_owned();
        for (day, wet) in wet.iter().enumerate() {
            text.push_str(&format!("{},{need},{wet}\n", after(day0, day as i64)));
        }
        outfit.put("need.csv", &text);
        let words = format!("gear ahead need.csv --stock {stock}");
        let (answer, page) = (outfit.json(&words), outfit.page(&words));
        let wanted = stock_by_day(stock, &needs, &wet);
        for (told, (day, (stock, short))) in
            answer["forecast"].as_array().unwrap().iter().zip(wanted.iter().enumerate())
        {
            assert_eq!((&told["stock"], &told["short"]), (&(*stock).into(), &(*short).into()), "day {day}");
            assert_eq!(told["date"], after(day0, day as i64).to_string());
        }
        let Some(at) = wanted.iter().position(|(_, short)| *short > 0) else {
            assert!(answer["first_short"].is_null() && answer["cure"]["cure"] == "not-needed", "{answer:#}");
            assert!(page.contains("Never short"), "{page}");
            continue;
        };
        let short_on = after(day0, at as i64);
        assert_eq!(answer["first_short"], short_on.to_string());
        assert!(page.contains(&format!("Short by {} on {}", wanted[at].1, said(short_on))), "{page}");
        let missing = wanted.iter().map(|(_, short)| *short).max().unwrap();
        // The fewest days earlier that leave no day short and a day's need at the end.
        let cure = (1..=wet_after)
            .map(|earlier| (earlier, stock_by_day(stock, &needs, &wet_from(wet_after - earlier))))
            .find(|(_, days)| days.iter().all(|(_, short)| *short == 0) && days.last().unwrap().0 >= need);
        if let Some((earlier, days)) = cure {
            assert_eq!(answer["cure"]["days_earlier"], earlier);
            assert_eq!(answer["cure"]["or_boxes_to_get"], missing);
            let left = days.last().unwrap().0;
            assert_eq!(answer["cure"]["forecast"].as_array().unwrap().last().unwrap()["stock"], left);
            let advice = format!(
                "{earlier} days earlier: never short, {left} left at the end. Otherwise buy or borrow {missing}"
            );
            assert!(page.contains(&advice), "{page}");
        } else {
            assert_eq!((&answer["cure"]["cure"], &answer["cure"]["boxes"]), (&"get-boxes".into(), &missing.into()));
            assert!(page.contains(&format!("buy or borrow {missing} boxes")), "{page}");
        }
    }
}

/// The first of `running` days in a row at or over the threshold.
fn flow_began(nights: &[f64], threshold: f64, running: usize) -> Option<usize> {
    nights.windows(running).position(|window| window.iter().all(|gain| *gain >= threshold))
}

// Scene S10: North began 3 July, known on the evening of the 4th; South not yet, one day met, look on the 6th.
#[test]
fn scene_10_has_the_flow_started() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    for (first, threshold, running, groups) in [
        ("2026-07-01", 1.0, 2, [("North", vec![0.2, 0.4, 1.1, 1.8, 2.4]), ("South", vec![0.1, -0.2, 0.3, 0.9, 1.2])]),
        (
            "2026-06-27",
            1.5,
            3,
            [("River", vec![1.6, 1.4, 1.5, 1.7, 2.2, 3.0]), ("Hill", vec![0.0, 0.4, 1.2, 0.2, 1.6, 1.9])],
        ),
        ("2027-05-30", 0.4, 1, [("A", vec![0.1, 0.5, 0.6]), ("B", vec![-0.5, 0.1, 0.3])]),
    ] {
        let day0 = date(first);
        let mut text = "date,group,net_kg\n".to_owned();
        for (group, nights) in &groups {
            for (day, gain) in nights.iter().enumerate() {
                text.push_str(&format!("{},{group},{gain}\n", after(day0, day as i64)));
            }
        }
        outfit.put("nights.csv", &text);
        outfit.put(
            "outfit.toml",
            format!("{SETTINGS}[flow]\nthreshold_kg_per_day = {threshold}\ndays_running = {running}\n"),
        );
        let by_flags = outfit.json(&format!("flow nights.csv --threshold {threshold} --days-running {running}"));
        let answer = outfit.json("flow nights.csv");
        assert_eq!(answer, by_flags, "the outfit's own rule and the words of the command line say the same");
        let page = outfit.page("flow nights.csv");
        for (group, nights) in &groups {
            let told = find(&answer, "group", group);
            if let Some(day) = flow_began(nights, threshold, running) {
                let (began, known) = (after(day0, day as i64), after(day0, (day + running - 1) as i64));
                assert_eq!((&told["flow"], &told["since"]), (&"on".into(), &began.to_string().into()));
                assert_eq!(told["known_on_evening_of"], known.to_string());
                let line = format!("on since {}, known on the evening of {}", said(began), said(known));
                assert!(page.contains(&line), "no \"{line}\" in {page}");
            } else {
                let met = nights.iter().rev().take_while(|gain| **gain >= threshold).count();
                let again = after(day0, (nights.len() - 1 + running - met) as i64);
                assert_eq!((&told["flow"], &told["days_met"]), (&"not-yet".into(), &met.into()));
                assert_eq!(told["look_again_on_evening_of"], again.to_string());
                assert!(page.contains(&format!("look again on the evening of {}", said(again))), "{page}");
            }
        }
    }
    // Canola seeded 15 May: first flower 4 July, end 24 to 29 July; other seedings shift with their day.
    for seeded in ["2026-05-15", "2026-05-08", "2027-05-21"] {
        let day = date(seeded);
        let bloom = outfit.json(&format!("bloom canola --seeded {seeded}"));
        let canola = find(&bloom, "plant", "canola");
        assert_eq!(canola["year"], day.year());
        assert_eq!(canola["first"]["likely"], after(day, 50).to_string());
        assert_eq!(canola["end"]["early"], after(day, 70).to_string());
        assert_eq!(canola["end"]["late"], after(day, 75).to_string());
        let page = outfit.page(&format!("bloom canola --seeded {seeded}"));
        assert!(page.contains(&said(after(day, 50))), "{page}");
        assert!(page.contains(&format!("({} to {})", said(after(day, 70)), said(after(day, 75)))), "{page}");
    }
    assert_eq!(after(date("2026-05-15"), 50), date("2026-07-04"));
}
