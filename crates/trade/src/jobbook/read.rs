//! Reading a job book: the outfit's own file laid over the default, then every field checked. All troubles are
//! found in one pass, each with its file, line and column.

use std::collections::{BTreeMap, BTreeSet};

use outyard_base::trouble::Spot;
use outyard_base::{Celsius, GearCode, Hours, JobCode, Kilograms, KilogramsPerDay, KilometresPerHour, Share, Trouble};

use super::fields::Fields;
use super::tree::{Node, lay_over, read_tree};
use super::{DEFAULT_JOB_BOOK_NAME, FallBack, Gear, GearNeed, GearPer, Job, JobBook, SeasonWindow, VisitRules, Worth};
use crate::clocks::ClockStart;
use crate::gate::WeatherGate;
use crate::kinds::Kind;

/// Reads the default job book and lays the outfit's own over it, given as file name and text.
///
/// A table is laid over field by field, so the outfit's file need hold only what differs; a list or a value replaces
/// the old one. A gear need with count 0 is taken off its job.
///
/// # Errors
/// Every trouble found: `TRD-001` not TOML, `TRD-002` unknown word on the left, `TRD-003` missing, `TRD-004` wrong
/// sort of value, `TRD-005` number out of range, `TRD-006` unknown word on the right, `TRD-007` no such hour or day,
/// `TRD-008` a kind without minutes, `TRD-009` a name that cannot be used.
pub fn read_job_book(default_text: &str, own: Option<(&str, &str)>) -> Result<JobBook, Vec<Trouble>> {
    let mut root = read_tree(DEFAULT_JOB_BOOK_NAME, default_text)?;
    if let Some((file, text)) = own {
        lay_over(&mut root, read_tree(file, text)?);
    }
    let mut troubles = Vec::new();
    let book = read_book(root, &mut troubles);
    match book {
        Some(book) if troubles.is_empty() => Ok(book),
        _ => Err(troubles),
    }
}

/// The names that may be referred to, whether or not what they name could be read: one slip must not make others.
struct Known {
    gear: BTreeSet<String>,
    gates: BTreeSet<String>,
    jobs: BTreeSet<String>,
}

fn listed(names: &BTreeSet<String>) -> String {
    names.iter().map(String::as_str).collect::<Vec<_>>().join(", ")
}

fn read_book(root: Node, troubles: &mut Vec<Trouble>) -> Option<JobBook> {
    let mut book = Fields::of("the job book", root, troubles)?;
    let known = Known { gear: book.keys_of("gear"), gates: book.keys_of("gates"), jobs: book.keys_of("jobs") };
    let visit = book.need("visit").and_then(|node| read_visit(node, book.troubles));
    let worth = book.need("worth").and_then(|node| read_worth(node, book.troubles));
    let gear = book.each("gear", read_gear);
    let gates = book.each("gates", read_gate);
    let gear: Option<BTreeMap<_, _>> = gear.map(|all| all.into_iter().map(|gear| (gear.code.clone(), gear)).collect());
    let gates: Option<BTreeMap<_, _>> =
        gates.map(|all| all.into_iter().map(|gate| (gate.code.clone(), gate)).collect());
    let jobs = book.each("jobs", |code, node, troubles| read_job(code, node, &known, troubles));
    book.nothing_else();
    let jobs = jobs?.into_iter().map(|job| (job.code.clone(), job)).collect();
    Some(JobBook { visit: visit?, worth: worth?, gear: gear?, gates: gates?, jobs })
}

fn read_visit(node: Node, troubles: &mut Vec<Trouble>) -> Option<VisitRules> {
    let mut visit = Fields::of("visit", node, troubles)?;
    let setup = visit.number("setup_pair_minutes", 0.0, 240.0);
    let third = visit.number("third_hand_saves_share", 0.0, 0.9).map(Share::of);
    let alone = visit.number("one_hand_takes_times", 1.0, 10.0);
    let spare = visit.share("spare_share");
    let always = visit.sentences("always_on_truck");
    visit.nothing_else();
    Some(VisitRules {
        setup_pair_minutes: setup?,
        third_hand_saves: third?,
        one_hand_takes: alone?,
        spare: spare?,
        always_on_truck: always?,
    })
}

fn read_worth(node: Node, troubles: &mut Vec<Trouble>) -> Option<Worth> {
    let mut worth = Fields::of("worth", node, troubles)?;
    let honey = worth.money("honey_per_kg");
    let wage = worth.money("wage_per_hour");
    let road = worth.money("road_per_km");
    let full = worth.share("lost_once_full_share");
    let double = worth.number("late_put_down_kg_per_day", 0.0, 10.0);
    let split = worth.number("late_brood_lift_kg_per_day", 0.0, 10.0);
    let swarm = worth.kilograms("swarm_kg", 200.0);
    let queen = worth.kilograms("late_queen_kg", 200.0);
    let winter = worth.money("winter_loss");
    let unmade = worth.kilograms("split_not_made_kg", 200.0);
    let box_price = worth.money("box_price");
    let deep = worth.number("full_deep_kg", 5.0, 45.0).map(Kilograms::of);
    worth.nothing_else();
    Some(Worth {
        honey_per_kg: honey?,
        wage_per_hour: wage?,
        road_per_km: road?,
        lost_once_full: full?,
        late_put_down_kg_per_day: double?,
        late_brood_lift_kg_per_day: split?,
        swarm_kg: swarm?,
        late_queen_kg: queen?,
        winter_loss: winter?,
        split_not_made_kg: unmade?,
        box_price: box_price?,
        full_deep_kg: deep?,
    })
}

/// Reads a key as a name of gear or of a job.
fn read_code<T: core::str::FromStr<Err = outyard_base::BadId>>(
    key: &str,
    place: &Spot,
    troubles: &mut Vec<Trouble>,
) -> Option<T> {
    key.parse()
        .map_err(|bad: outyard_base::BadId| {
            troubles.push(Trouble::new("TRD-009", bad.to_string(), "use a short plain name").at(place.clone()));
        })
        .ok()
}

fn read_gear(key: &str, node: Node, troubles: &mut Vec<Trouble>) -> Option<Gear> {
    let code: Option<GearCode> = read_code(key, &node.place, troubles);
    let mut gear = Fields::of(format!("gear \"{key}\""), node, troubles)?;
    let said = gear.text("said");
    let weight = gear.kilograms("weight_kg", 5000.0);
    let box_places = gear.number("box_places", 0.0, 200.0);
    let takes_spare = gear.flag("takes_spare");
    let counts_as = match gear.take("counts_as") {
        None => code.clone(),
        Some(node) => gear.text_of("counts_as", node).and_then(|(word, place)| read_code(&word, &place, gear.troubles)),
    };
    let holds_deeps = gear.number_if("holds_deeps", 0.0, 3.0).map(Option::unwrap_or_default);
    gear.nothing_else();
    Some(Gear {
        code: code?,
        counts_as: counts_as?,
        said: said?,
        weight: weight?,
        box_places: box_places?,
        takes_spare: takes_spare?,
        holds_deeps: holds_deeps?,
    })
}

fn read_gate(key: &str, node: Node, troubles: &mut Vec<Trouble>) -> Option<WeatherGate> {
    let mut gate = Fields::of(format!("gate \"{key}\""), node, troubles)?;
    let from = gate.hour("from");
    let to = gate.hour("to");
    let temp_place = gate.place_of("min_temp_c");
    let min_temp = gate.number_if("min_temp_c", -40.0, 45.0);
    let max_temp = gate.number_if("max_temp_c", -40.0, 50.0);
    let max_wind = gate.number_if("max_wind_kmh", 0.0, 120.0);
    let dry_for = gate.number_if("dry_for_h", 0.0, 48.0);
    let sun = gate.number_if("min_radiation_w_per_m2", 0.0, 1400.0);
    let gain = gate.number_if("min_gain_yesterday_kg", -10.0, 20.0);
    let label_decides = gate.flag("label_decides");
    let words = gate.text("words");
    let instead = gate.text("instead");
    if let (Some(Some(low)), Some(Some(high))) = (min_temp, max_temp)
        && low > high
    {
        let cause = format!("{}: least {low} °C is above greatest {high} °C", gate.name);
        gate.complain("TRD-005", cause, "exchange them", temp_place);
    }
    gate.nothing_else();
    Some(WeatherGate {
        code: key.to_owned(),
        from: from?,
        to: to?,
        min_temp: min_temp?.map(Celsius::of),
        max_temp: max_temp?.map(Celsius::of),
        max_wind: max_wind?.map(KilometresPerHour::of),
        dry_for: dry_for?.map(Hours::of),
        min_radiation_w_per_m2: sun?,
        min_gain_yesterday: gain?.map(KilogramsPerDay::of),
        label_decides: label_decides?,
        words: words?,
        instead: instead?,
    })
}

fn known_kinds() -> String {
    Kind::ALL.map(Kind::code).join(", ")
}

fn read_job(key: &str, node: Node, known: &Known, troubles: &mut Vec<Trouble>) -> Option<Job> {
    let code: Option<JobCode> = read_code(key, &node.place, troubles);
    let mut job = Fields::of(format!("job \"{key}\""), node, troubles)?;
    let name = job.text("name");
    let does = job.text("does");
    let source = job.text("source");
    let kinds_place = job.place_of("kinds");
    let kinds = job.words("kinds", &known_kinds(), |word| word.parse::<Kind>().ok());
    let pair_minutes = job.need("pair_minutes").and_then(|node| read_minutes(key, node, job.troubles));
    let sample = job.number_if("sample_hives", 1.0, 500.0);
    let fails = job.number_if("fails_share", 0.0, 1.0);
    let falls_back = read_fall_back(&mut job, known);
    let gear_out = job.each("gear_out", |what, node, troubles| read_need(key, what, node, known, troubles));
    let gear_home = job.each("gear_home", |what, node, troubles| read_need(key, what, node, known, troubles));
    let gate = read_gate_name(&mut job, known);
    let clocks = ClockStart::ALL.map(ClockStart::code).join(", ");
    let starts = job.words("starts", &clocks, |word| word.parse::<ClockStart>().ok());
    let season = read_season(&mut job);
    let cautions = job.sentences("cautions");
    if let (Some(kinds), Some(minutes)) = (&kinds, &pair_minutes) {
        check_kinds(&mut job, kinds, minutes, &kinds_place);
    }
    job.nothing_else();
    Some(Job {
        code: code?,
        name: name?,
        does: does?,
        source: source?,
        kinds: kinds?,
        pair_minutes: pair_minutes?,
        sample_hives: sample?.map(whole),
        fails: Share::of(fails?.unwrap_or(0.0)),
        falls_back: falls_back?,
        gear_out: gear_out?.into_iter().filter(|need| need.count > 0.0).collect(),
        gear_home: gear_home?.into_iter().filter(|need| need.count > 0.0).collect(),
        gate: gate?,
        starts: starts?,
        season: season?,
        cautions: cautions?,
    })
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked to lie from 1 to 500")]
fn whole(count: f64) -> u32 {
    count.round() as u32
}

fn read_minutes(job: &str, node: Node, troubles: &mut Vec<Trouble>) -> Option<BTreeMap<Kind, f64>> {
    let mut table = Fields::of(format!("pair_minutes of job \"{job}\""), node, troubles)?;
    let mut minutes = Some(BTreeMap::new());
    for kind in Kind::ALL {
        match (&mut minutes, table.number_if(kind.code(), 0.0, 240.0)) {
            (_, None) => minutes = None,
            (Some(minutes), Some(Some(number))) => {
                minutes.insert(kind, number);
            }
            (_, Some(_)) => {}
        }
    }
    table.nothing_else();
    minutes
}

fn check_kinds(job: &mut Fields<'_>, kinds: &[Kind], minutes: &BTreeMap<Kind, f64>, place: &Spot) {
    if kinds.is_empty() {
        let cause = format!("{} is for no kind of colony", job.name);
        job.complain("TRD-003", cause, format!("add kinds = [...] with some of {}", known_kinds()), place.clone());
    }
    for kind in kinds.iter().filter(|kind| !minutes.contains_key(kind)) {
        let cause = format!("{} says no minutes for {kind}", job.name);
        job.complain("TRD-008", cause, format!("add {kind} = to its pair_minutes"), place.clone());
    }
}

fn read_gate_name(job: &mut Fields<'_>, known: &Known) -> Option<String> {
    let node = job.need("gate")?;
    let (gate, place) = job.text_of("gate", node)?;
    if known.gates.contains(&gate) {
        return Some(gate);
    }
    let cause = format!("gate of {}: \"{gate}\" is not known", job.name);
    job.complain("TRD-006", cause, format!("known are {}", listed(&known.gates)), place);
    None
}

#[expect(clippy::option_option, reason = "not there and not readable are two things")]
fn read_fall_back(job: &mut Fields<'_>, known: &Known) -> Option<Option<FallBack>> {
    let Some(node) = job.take("falls_back") else { return Some(None) };
    let mut fall_back = Fields::of(format!("falls_back of {}", job.name), node, job.troubles)?;
    let other = fall_back.need("job").and_then(|node| fall_back.text_of("job", node)).and_then(|(other, place)| {
        if known.jobs.contains(&other) {
            return read_code(&other, &place, fall_back.troubles);
        }
        let cause = format!("{}: \"{other}\" is no job", fall_back.name);
        fall_back.complain("TRD-006", cause, format!("known are {}", listed(&known.jobs)), place);
        None
    });
    let share = fall_back.share("share");
    fall_back.nothing_else();
    Some(Some(FallBack { job: other?, share: share? }))
}

#[expect(clippy::option_option, reason = "not there and not readable are two things")]
fn read_season(job: &mut Fields<'_>) -> Option<Option<SeasonWindow>> {
    let Some(node) = job.take("season") else { return Some(None) };
    let mut season = Fields::of(format!("season of {}", job.name), node, job.troubles)?;
    let from = season.month_day("from");
    let to = season.month_day("to");
    season.nothing_else();
    Some(Some(SeasonWindow { from: from?, to: to? }))
}

fn read_need(job: &str, what: &str, node: Node, known: &Known, troubles: &mut Vec<Trouble>) -> Option<GearNeed> {
    let code: Option<GearCode> = read_code(what, &node.place, troubles);
    if !known.gear.contains(what) {
        troubles.push(
            Trouble::new(
                "TRD-006",
                format!("job \"{job}\" names gear \"{what}\", which is not known"),
                format!("known are {}; or add a table [gear.{what}]", listed(&known.gear)),
            )
            .at(node.place.clone()),
        );
    }
    let mut need = Fields::of(format!("gear \"{what}\" of job \"{job}\""), node, troubles)?;
    let per = need.need("per").and_then(|node| need.text_of("per", node)).and_then(|(word, place)| {
        let per = match word.as_str() {
            "colony" => Some(GearPer::Colony),
            "yard" => Some(GearPer::Yard),
            "crew" => Some(GearPer::Crew),
            _ => None,
        };
        if per.is_none() {
            let cause = format!("per of {}: \"{word}\" is not known", need.name);
            need.complain("TRD-006", cause, "known are colony, yard, crew", place);
        }
        per
    });
    let count = need.number("count", 0.0, 1000.0);
    let kinds = need.words("kinds", &known_kinds(), |word| word.parse::<Kind>().ok());
    need.nothing_else();
    Some(GearNeed { gear: code?, per: per?, count: count?, kinds: kinds? })
}
