//! What the tags of a map mean for a loaded truck: where it may go, how fast, and what holds it up.
//!
//! What each tag means stands in the wiki of OpenStreetMap ([osm-wiki]). How fast a loaded truck is on it does not: the
//! wiki tells classes of roads, not speeds. Three limits are law somewhere and bound the table: 80 km/h for heavy trucks
//! on motorways and 60 km/h elsewhere outside towns in Germany ([stvo], § 18 and § 3), walking pace in a living street.
//! All other speeds are assumed; the outfit's own table of drives goes before them.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | v | `CLASSES` | speed of a loaded truck by class of road, bends, villages and crossings within | km/h | table | classes [osm-wiki] `Key:highway`; speeds assumed |
//! | v_t | `TRACKS` | speed on a track by its grade | km/h | 30, 20, 15, 10, 7; none told 12 | grades [osm-wiki] `Key:tracktype`; speeds assumed |
//! | v_s | `SURFACES` | most on a surface | km/h | table | surfaces [osm-wiki] `Key:surface`; speeds assumed |
//! | v_m | `SMOOTHNESS` | most by smoothness | km/h | table | [osm-wiki] `Key:smoothness`; speeds assumed |
//! | - | `OF_LIMIT` | share of a signed limit that is driven | - | 0.9 | assumed |
//! | - | `WET_SHARE` | speed on soft ground after rain against dry | - | 0.5 | assumed |
//! | - | `GATE` | get out, open, drive through, close | s | 90 | assumed |
//! | - | `CHAIN`, `LIFT_GATE`, `GRID`, `TOLL` | other things across a road | s | 90, 30, 5, 30 | assumed |
//! | - | `FORD` | walking pace into and out of a ford | s | 60 | assumed |
//! | - | `LAST_STRETCH` | what going through land open only to those who have business there counts for; no time | s | 600 | assumed |
//! | - | `FERRY_SPEED` | a ferry that tells no duration | km/h | 10 | assumed |
//! | - | `FERRY_WAIT` | waiting for a ferry, half of a usual interval | s | 900 | assumed |

/// Tags of one thing on the map: key and value.
pub(crate) type Tags<'a> = &'a [(&'a str, &'a str)];

/// Number of this table. Goes up whenever a rule changes, so that graphs kept with older rules are made anew.
pub const RULES_VERSION: u32 = 1;

/// The truck and the ground: what roads are held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Truck {
    /// Height with its load, in centimetres.
    pub height_cm: u32,
    /// Width, in centimetres.
    pub width_cm: u32,
    /// Length with its trailer, in centimetres.
    pub length_cm: u32,
    /// Weight loaded, in kilograms.
    pub weight_kg: u32,
    /// Weight on its heaviest axle, in kilograms.
    pub axle_kg: u32,
    /// True when the ground is soaked.
    pub wet: bool,
}

impl Truck {
    /// A middling loaded flatbed on dry ground. Every figure is assumed; `outfit.toml` tells better.
    /// 3.8 m high, 2.55 m wide, 10 m long, 12 t, 8 t on an axle (assumed).
    pub const USUAL: Self =
        Self { height_cm: 380, width_cm: 255, length_cm: 1000, weight_kg: 12_000, axle_kg: 8_000, wet: false };

    /// The same truck after rain.
    #[must_use]
    pub const fn in_the_wet(self) -> Self {
        Self { wet: true, ..self }
    }
}

/// What a way is called in lists when it has no name, and how fast it is: class, km/h (assumed).
const CLASSES: [(&str, f64); 18] = [
    ("motorway", 80.0),
    ("motorway_link", 50.0),
    ("trunk", 75.0),
    ("trunk_link", 45.0),
    ("primary", 65.0),
    ("primary_link", 40.0),
    ("secondary", 60.0),
    ("secondary_link", 35.0),
    ("tertiary", 50.0),
    ("tertiary_link", 30.0),
    ("unclassified", 40.0),
    ("road", 25.0),
    ("residential", 25.0),
    ("living_street", 7.0),
    ("service", 15.0),
    ("track", 12.0),
    ("ferry", FERRY_SPEED),
    ("rest_area", 15.0),
];
/// Tracks by grade, km/h (assumed), and whether the ground is soft ([osm-wiki] `Key:tracktype`: solid, mostly solid, even mixture, mostly soft, soft).
const TRACKS: [(&str, f64, bool); 5] = [
    ("grade1", 30.0, false),
    ("grade2", 20.0, false),
    ("grade3", 15.0, true),
    ("grade4", 10.0, true),
    ("grade5", 7.0, true),
];
/// Most on a surface, km/h (assumed), and whether it is soft.
const SURFACES: [(&str, f64, bool); 20] = [
    ("compacted", 60.0, false),
    ("fine_gravel", 60.0, false),
    ("gravel", 60.0, false),
    ("metal", 40.0, false),
    ("wood", 30.0, false),
    ("sett", 40.0, false),
    ("cobblestone", 30.0, false),
    ("unhewn_cobblestone", 20.0, false),
    ("grass_paver", 20.0, false),
    ("pebblestone", 30.0, false),
    ("rock", 10.0, false),
    ("unpaved", 40.0, false),
    ("dirt", 20.0, true),
    ("earth", 20.0, true),
    ("ground", 20.0, true),
    ("clay", 20.0, true),
    ("grass", 12.0, true),
    ("sand", 10.0, true),
    ("soil", 15.0, true),
    ("mud", 7.0, true),
];
/// Most by smoothness, km/h (assumed); nought is shut.
const SMOOTHNESS: [(&str, f64); 5] =
    [("bad", 30.0), ("very_bad", 15.0), ("horrible", 7.0), ("very_horrible", 0.0), ("impassable", 0.0)];
/// Share of a signed limit that is driven (assumed).
const OF_LIMIT: f64 = 0.9;
/// Speed on soft ground after rain against dry (assumed: 0.5).
const WET_SHARE: f64 = 0.5;
/// Speed of a ferry that tells no duration, 10 km/h (assumed).
const FERRY_SPEED: f64 = 10.0;
/// Waiting for a ferry, 900 s in tenths (assumed).
pub(crate) const FERRY_WAIT: u32 = 9_000;
/// Through a ford, 60 s in tenths (assumed).
const FORD: u32 = 600;
/// Opening and closing a gate, 90 s in tenths (assumed).
const GATE: u32 = 900;
/// A chain, 90 s in tenths (assumed).
const CHAIN: u32 = 900;
/// A bar that is lifted, 30 s in tenths (assumed).
const LIFT_GATE: u32 = 300;
/// A cattle grid, 5 s in tenths (assumed).
const GRID: u32 = 50;
/// A toll booth or border post, 30 s in tenths (assumed).
const TOLL: u32 = 300;
/// What entering land open only to those with business there counts for, 600 s in tenths (assumed).
pub(crate) const LAST_STRETCH: u32 = 6_000;

/// Who may drive on something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Access {
    Open,
    /// For those who have business there: the first or the last stretch of a drive, never the way through.
    Business,
    Shut,
}

/// What a way is to the truck.
#[expect(clippy::struct_excessive_bools, reason = "each is a plain yes or no of the map")]
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct WayRule {
    /// Speed, km/h.
    pub(crate) speed: f64,
    pub(crate) forward: bool,
    pub(crate) backward: bool,
    /// Only for those who have business there.
    pub(crate) business: bool,
    /// Soft ground.
    pub(crate) soft: bool,
    pub(crate) ferry: bool,
    /// What a ferry tells of its crossing, in tenths of a second for its whole length.
    pub(crate) crossing: Option<u32>,
    /// Name or number, else the class of road.
    pub(crate) name: String,
}

/// What a point on a road is to the truck.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct NodeRule {
    /// Nobody drives past.
    pub(crate) shut: bool,
    /// Time it takes, tenths of a second.
    pub(crate) held: u32,
    /// Counts as a gate.
    pub(crate) gate: bool,
    /// Only for those who have business beyond.
    pub(crate) business: bool,
}

fn value<'a>(tags: Tags<'a>, key: &str) -> Option<&'a str> {
    tags.iter().find(|(known, _)| *known == key).map(|(_, value)| *value)
}

fn access_of(word: &str) -> Option<Access> {
    let mut found = None;
    for part in word.split([';', '|']) {
        found = match (found, part.trim()) {
            (_, "yes" | "permissive" | "designated" | "official" | "public") => return Some(Access::Open),
            (None, "no" | "use_sidepath" | "emergency" | "military") => Some(Access::Shut),
            (
                _,
                "private"
                | "permit"
                | "destination"
                | "customers"
                | "delivery"
                | "agricultural"
                | "forestry"
                | "residents"
                | "agricultural_forestry"
                | "employees"
                | "visitors",
            ) => Some(Access::Business),
            (found, _) => found,
        };
    }
    found
}

/// The word of the narrowest key that is there holds ([osm-wiki] `Key:access`).
fn access(tags: Tags<'_>) -> Access {
    ["hgv", "goods", "motor_vehicle", "vehicle", "access"]
        .into_iter()
        .find_map(|key| value(tags, key).and_then(access_of))
        .unwrap_or(Access::Open)
}

/// A number at the head of a text, and what follows it.
fn number(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    let end = text.find(|letter: char| !letter.is_ascii_digit() && letter != '.').unwrap_or(text.len());
    let number = text[..end].parse::<f64>().ok()?;
    Some((number, text[end..].trim()))
}

/// A limit of weight in kilograms ([osm-wiki] `Key:maxweight`): tonnes unless another unit is told.
fn weight_kg(text: &str) -> Option<f64> {
    let (number, unit) = number(text)?;
    match unit {
        "" | "t" | "tonnes" => Some(number * 1000.0),
        "kg" => Some(number),
        "st" => Some(number * 907.184_74),
        "lt" => Some(number * 1_016.046_908_8),
        "lbs" | "lb" => Some(number * 0.453_592_37),
        _ => None,
    }
}

/// A limit of length in centimetres ([osm-wiki] `Key:maxheight`): metres, or feet and inches as 12'6".
fn length_cm(text: &str) -> Option<f64> {
    let (whole, rest) = number(text)?;
    if let Some(inches) = rest.strip_prefix('\'') {
        let inches = if inches.trim().is_empty() { 0.0 } else { number(inches)?.0 };
        return Some(whole * 30.48 + inches * 2.54);
    }
    match rest {
        "" | "m" => Some(whole * 100.0),
        "cm" => Some(whole),
        "ft" => Some(whole * 30.48),
        _ => None,
    }
}

/// A speed limit in km/h ([osm-wiki] `Key:maxspeed`); `None` for words that name no number.
fn limit_km_per_h(text: &str) -> Option<f64> {
    if text == "walk" || text.ends_with(":walk") || text.ends_with(":living_street") {
        return Some(7.0);
    }
    let (number, unit) = number(text)?;
    let speed = match unit {
        "" | "km/h" | "kmh" | "kph" => number,
        "mph" => number * 1.609_344,
        "knots" => number * 1.852,
        _ => return None,
    };
    (speed >= 1.0).then_some(speed)
}

/// True when a limit on the way or at the point stops the truck.
fn too_big(tags: Tags<'_>, truck: Truck) -> bool {
    let over = |keys: &[&str], read: fn(&str) -> Option<f64>, have: u32| {
        keys.iter().filter_map(|key| value(tags, key).and_then(read)).any(|most| most > 0.0 && f64::from(have) > most)
    };
    over(&["maxweight", "maxweightrating", "maxweight:hgv", "maxweightrating:hgv"], weight_kg, truck.weight_kg)
        || over(&["maxaxleload"], weight_kg, truck.axle_kg)
        || over(&["maxheight", "maxheight:physical"], length_cm, truck.height_cm)
        || over(&["maxwidth", "maxwidth:physical"], length_cm, truck.width_cm)
        || over(&["maxlength"], length_cm, truck.length_cm)
}

/// A duration as `HH:MM`, `HH:MM:SS`, minutes, or ISO 8601 `PT1H20M`, in tenths of a second.
fn duration(text: &str) -> Option<u32> {
    const LONGEST_S: f64 = 172_800.0;
    let seconds = if let Some(iso) = text.strip_prefix("PT") {
        let mut rest = iso;
        let mut seconds = 0.0;
        while !rest.is_empty() {
            let (count, after) = number(rest)?;
            let unit = after.chars().next()?;
            seconds += count
                * match unit {
                    'H' => 3600.0,
                    'M' => 60.0,
                    'S' => 1.0,
                    _ => return None,
                };
            rest = &after[unit.len_utf8()..];
        }
        seconds
    } else {
        let parts: Vec<f64> = text.split(':').map(|part| part.trim().parse().ok()).collect::<Option<_>>()?;
        match parts[..] {
            [minutes] => minutes * 60.0,
            [hours, minutes] => hours * 3600.0 + minutes * 60.0,
            [hours, minutes, seconds] => hours * 3600.0 + minutes * 60.0 + seconds,
            _ => return None,
        }
    };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held between nought and two days")]
    (seconds > 0.0 && seconds <= LONGEST_S).then(|| (seconds * 10.0).round() as u32)
}

const NAME_LETTERS_MOST: usize = 60;

fn name_of(tags: Tags<'_>, class: &str) -> String {
    let plain =
        |text: &str| text.chars().filter(|letter| !letter.is_control()).take(NAME_LETTERS_MOST).collect::<String>();
    let told: Vec<String> =
        ["ref", "name"].iter().filter_map(|key| value(tags, key).map(plain)).filter(|text| !text.is_empty()).collect();
    if told.is_empty() { class.replace('_', " ") } else { told.join(" ") }
}

/// What a way is to the truck; `None` when it cannot or may not drive there.
pub(crate) fn way_rule(tags: Tags<'_>, truck: Truck) -> Option<WayRule> {
    let ferry = value(tags, "route") == Some("ferry");
    let class = if ferry { "ferry" } else { value(tags, "highway")? };
    let (class, class_speed) = *CLASSES.iter().find(|(known, _)| *known == class)?;
    if value(tags, "area") == Some("yes") || too_big(tags, truck) {
        return None;
    }
    let access = access(tags);
    if access == Access::Shut {
        return None;
    }
    let surface = value(tags, "surface").and_then(|word| SURFACES.iter().find(|(known, ..)| *known == word));
    let paved = matches!(
        value(tags, "surface"),
        Some("asphalt" | "concrete" | "paved" | "concrete:plates" | "chipseal" | "paving_stones")
    );
    let grade = value(tags, "tracktype").and_then(|word| TRACKS.iter().find(|(known, ..)| *known == word));
    let mut speed = class_speed;
    let mut soft = surface.is_some_and(|(_, _, soft)| *soft) || grade.is_some_and(|(_, _, soft)| *soft);
    if class == "track" {
        match (grade, surface) {
            (Some((_, by_grade, _)), _) => speed = *by_grade,
            (None, Some(_)) => speed = 20.0,
            (None, None) if paved => speed = 30.0,
            // Nobody told what the ground is: taken for soft (assumed).
            (None, None) => soft = true,
        }
    } else if let Some((word, by_grade, _)) = grade
        && *word != "grade1"
    {
        speed = speed.min(by_grade * 1.5);
    }
    if let Some((_, most, _)) = surface {
        speed = speed.min(*most);
    }
    if let Some((_, most)) =
        value(tags, "smoothness").and_then(|word| SMOOTHNESS.iter().find(|(known, _)| *known == word))
    {
        speed = speed.min(*most);
    }
    if !ferry {
        for key in ["maxspeed:hgv", "maxspeed"] {
            if let Some(limit) = value(tags, key).and_then(limit_km_per_h) {
                speed = speed.min(limit * OF_LIMIT);
                break;
            }
        }
    }
    let ford = value(tags, "ford").is_some_and(|word| word != "no");
    if ford {
        speed = speed.min(5.0);
    }
    let swamped = ford || value(tags, "surface") == Some("mud") || value(tags, "tracktype") == Some("grade5");
    if truck.wet && (swamped || value(tags, "winter_road") == Some("yes")) {
        return None;
    }
    if truck.wet && soft {
        speed *= WET_SHARE;
    }
    if speed < 1.0 {
        return None;
    }
    let round = matches!(value(tags, "junction"), Some("roundabout" | "circular"));
    let (forward, backward) = match value(tags, "oneway:hgv").or_else(|| value(tags, "oneway")) {
        Some("yes" | "true" | "1") => (true, false),
        Some("-1" | "reverse") => (false, true),
        Some("no" | "false" | "0") => (true, true),
        // Open one way now and the other way later: by whose clock the map does not say.
        Some("reversible" | "alternating") => return None,
        _ => (true, !(round || class == "motorway")),
    };
    Some(WayRule {
        speed,
        forward,
        backward,
        business: access == Access::Business,
        soft,
        ferry,
        crossing: if ferry { value(tags, "duration").and_then(duration) } else { None },
        name: name_of(tags, class),
    })
}

/// What a point on a road is to the truck; `None` when it is nothing to it.
pub(crate) fn node_rule(tags: Tags<'_>, truck: Truck) -> Option<NodeRule> {
    let mut rule = NodeRule::default();
    if value(tags, "ford").is_some_and(|word| word != "no") {
        rule.held = FORD;
        rule.shut = truck.wet;
    }
    if let Some(barrier) = value(tags, "barrier") {
        let said = ["hgv", "goods", "motor_vehicle", "vehicle", "access"]
            .into_iter()
            .find_map(|key| value(tags, key).and_then(access_of));
        match barrier {
            "gate" | "swing_gate" | "sliding_gate" | "hampshire_gate" | "wicket_gate" | "yes" => {
                (rule.held, rule.gate) = (GATE, true);
            }
            "chain" | "rope" => (rule.held, rule.gate) = (CHAIN, true),
            "lift_gate" | "swing_barrier" => (rule.held, rule.gate) = (LIFT_GATE, true),
            "cattle_grid" => rule.held = GRID,
            "toll_booth" | "border_control" => rule.held = TOLL,
            "bollard"
            | "block"
            | "jersey_barrier"
            | "log"
            | "debris"
            | "cycle_barrier"
            | "motorcycle_barrier"
            | "stile"
            | "kissing_gate"
            | "turnstile"
            | "full-height_turnstile"
            | "planter"
            | "bus_trap"
            | "sump_buster"
            | "rock"
            | "horse_stile"
            | "tank_trap"
            | "ditch"
            | "wall"
            | "fence" => {
                rule.shut = said != Some(Access::Open);
            }
            _ => {}
        }
        match said {
            Some(Access::Shut) => rule.shut = true,
            Some(Access::Business) => rule.business = true,
            _ => {}
        }
    }
    if too_big(tags, truck) {
        rule.shut = true;
    }
    (rule != NodeRule::default()).then_some(rule)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn way(tags: &[(&str, &str)]) -> Option<WayRule> {
        way_rule(tags, Truck::USUAL)
    }

    fn speed(tags: &[(&str, &str)]) -> f64 {
        way(tags).unwrap().speed
    }

    #[test]
    fn speeds_follow_class_limit_surface_and_grade() {
        assert!((speed(&[("highway", "secondary")]) - 60.0).abs() < 1e-9);
        assert!((speed(&[("highway", "secondary"), ("maxspeed", "30 mph")]) - 0.9 * 48.280_32).abs() < 1e-9);
        assert!((speed(&[("highway", "secondary"), ("maxspeed", "100"), ("maxspeed:hgv", "40")]) - 36.0).abs() < 1e-9);
        assert!((speed(&[("highway", "secondary"), ("maxspeed", "none")]) - 60.0).abs() < 1e-9);
        assert!((speed(&[("highway", "secondary"), ("maxspeed", "0")]) - 60.0).abs() < 1e-9);
        assert!((speed(&[("highway", "tertiary"), ("surface", "dirt")]) - 20.0).abs() < 1e-9);
        assert!((speed(&[("highway", "track"), ("tracktype", "grade4")]) - 10.0).abs() < 1e-9);
        assert!(
            (speed(&[("highway", "track"), ("tracktype", "grade2"), ("smoothness", "horrible")]) - 7.0).abs() < 1e-9
        );
        assert_eq!(way(&[("highway", "track"), ("smoothness", "impassable")]), None);
        assert_eq!(way(&[("highway", "footway")]), None);
        assert_eq!(way(&[("building", "yes")]), None);
    }

    #[test]
    fn rain_slows_soft_ground_and_shuts_the_softest() {
        let wet = Truck::USUAL.in_the_wet();
        let grade4 = [("highway", "track"), ("tracktype", "grade4")];
        assert!((way_rule(&grade4, wet).unwrap().speed - 5.0).abs() < 1e-9);
        assert_eq!(way_rule(&[("highway", "track"), ("tracktype", "grade5")], wet), None);
        assert_eq!(way_rule(&[("highway", "service"), ("ford", "yes")], wet), None);
        assert!(node_rule(&[("ford", "yes")], wet).unwrap().shut);
        assert!(!node_rule(&[("ford", "yes")], Truck::USUAL).unwrap().shut);
        let paved = [("highway", "track"), ("surface", "asphalt")];
        assert_eq!(way_rule(&paved, wet), way_rule(&paved, Truck::USUAL));
    }

    #[test]
    fn the_narrowest_word_on_access_holds() {
        let road = |more: &[(&'static str, &'static str)]| {
            let mut tags = vec![("highway", "unclassified")];
            tags.extend(more);
            way(&tags).map(|rule| rule.business)
        };
        assert_eq!(road(&[]), Some(false));
        assert_eq!(road(&[("access", "no")]), None);
        assert_eq!(road(&[("access", "no"), ("motor_vehicle", "yes")]), Some(false));
        assert_eq!(road(&[("motor_vehicle", "yes"), ("hgv", "no")]), None);
        assert_eq!(road(&[("access", "private")]), Some(true));
        assert_eq!(road(&[("motor_vehicle", "agricultural;forestry")]), Some(true));
        assert_eq!(road(&[("hgv", "destination")]), Some(true));
    }

    #[test]
    fn limits_are_read_in_all_their_units() {
        let at = |key, text| way(&[("highway", "primary"), (key, text)]).is_some();
        for (key, text, open) in [
            ("maxweight", "12", true),
            ("maxweight", "11.9 t", false),
            ("maxweight", "7.5", false),
            ("maxweight", "20000 lbs", false),
            ("maxweight", "30000 lbs", true),
            ("maxweight", "none", true),
            ("maxaxleload", "7", false),
            ("maxheight", "3.8", true),
            ("maxheight", "3.7 m", false),
            ("maxheight", "12'6\"", true),
            ("maxheight", "12'5\"", false),
            ("maxheight", "default", true),
            ("maxwidth", "2.5", false),
            ("maxlength", "9", false),
        ] {
            assert_eq!(at(key, text), open, "{key}={text}");
        }
    }

    #[test]
    fn one_way_streets_roundabouts_and_motorways() {
        let ways = |tags: &[(&str, &str)]| way(tags).map(|rule| (rule.forward, rule.backward));
        assert_eq!(ways(&[("highway", "primary")]), Some((true, true)));
        assert_eq!(ways(&[("highway", "primary"), ("oneway", "yes")]), Some((true, false)));
        assert_eq!(ways(&[("highway", "primary"), ("oneway", "-1")]), Some((false, true)));
        assert_eq!(ways(&[("highway", "tertiary"), ("junction", "roundabout")]), Some((true, false)));
        assert_eq!(ways(&[("highway", "motorway")]), Some((true, false)));
        assert_eq!(ways(&[("highway", "primary"), ("oneway", "reversible")]), None);
    }

    #[test]
    fn gates_hold_up_and_bollards_stop() {
        let at = |tags: &[(&str, &str)]| node_rule(tags, Truck::USUAL);
        assert_eq!(at(&[("barrier", "gate")]), Some(NodeRule { held: 900, gate: true, ..NodeRule::default() }));
        assert!(at(&[("barrier", "gate"), ("access", "no")]).unwrap().shut);
        assert!(at(&[("barrier", "gate"), ("access", "private")]).unwrap().business);
        assert!(at(&[("barrier", "bollard")]).unwrap().shut);
        assert_eq!(at(&[("barrier", "bollard"), ("motor_vehicle", "yes")]), None);
        assert_eq!(at(&[("highway", "crossing")]), None);
        assert!(at(&[("barrier", "height_restrictor"), ("maxheight", "2.2")]).unwrap().shut);
    }

    #[test]
    fn a_ferry_tells_its_crossing() {
        let ferry = |duration| way(&[("route", "ferry"), ("duration", duration)]).unwrap().crossing;
        assert_eq!(ferry("00:20"), Some(12_000));
        assert_eq!(ferry("PT1H5M"), Some(39_000));
        assert_eq!(ferry("15"), Some(9_000));
        assert_eq!(ferry("soon"), None);
        assert_eq!(way(&[("route", "ferry"), ("motor_vehicle", "no")]), None);
    }
}
