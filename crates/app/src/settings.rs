//! `outfit.toml`: what changes seldom — where home is, who goes out in what, how roads are reckoned.
//!
//! Everything that *happens* is in the book. Rates of work and what things are worth are in the job book, the bloom of
//! plants in the plant table; both can be overridden by files named here.

use jiff::civil::Weekday;
use jiff::tz::TimeZone;
use outyard_base::trouble::Spot;
use outyard_base::{
    ClockTime, CrewId, Grams, JobCode, Kilograms, KilogramsPerDay, Kilometres, KilometresPerHour, Metres, Minutes,
    Place, Trouble, TruckId,
};
use outyard_season::FlowRule;
use serde::Deserialize;
use toml::Spanned;

use crate::intake::text::line_and_column;

/// Most yards on one run that the planner takes.
#[expect(clippy::cast_possible_truncation, reason = "a dozen")]
const STOPS_MAX: u32 = outyard_runs::problem::STOPS_MAX as u32;
/// The usual way to put doubles down.
const PUT_DOWN_BY: &str = "single-down-blow";

/// What `outfit.toml` says, checked.
#[derive(Clone, Debug)]
pub struct Settings {
    /// The outfit's name, as printed on its papers.
    pub name: String,
    /// Where the trucks stand at night.
    pub home: Place,
    /// Height of home above the sea.
    pub home_elevation: Metres,
    /// The outfit's own clock.
    pub zone: TimeZone,
    /// Name of the clock, as the tz database spells it.
    pub zone_name: String,
    /// How roads are reckoned.
    pub roads: Roads,
    /// When a flow counts as begun.
    pub flow: FlowRule,
    /// How far and how finely the season is looked at.
    pub outlook: OutlookRule,
    /// Crews, in the order of the file.
    pub crews: Vec<CrewRule>,
    /// Trucks, in the order of the file.
    pub trucks: Vec<TruckRule>,
    /// Most yards on one run.
    pub stops_max: usize,
    /// The job by which doubles are put down.
    pub put_down_by: JobCode,
    /// File with the outfit's own job book, beside `outfit.toml`.
    pub jobs_file: Option<String>,
    /// File with the outfit's own plants, beside `outfit.toml`.
    pub plants_file: Option<String>,
}

/// How roads are reckoned where no drive time is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Roads {
    /// Road length over straight line.
    pub detour: f64,
    /// Speed of a loaded truck over all roads.
    pub speed: KilometresPerHour,
    /// File of known drive times, beside `outfit.toml`.
    pub drives_file: Option<String>,
    /// Extract of the map of OpenStreetMap, beside `outfit.toml`.
    pub extract_file: Option<String>,
    /// The largest truck, loaded.
    pub truck: TruckSize,
    /// How far from a road a yard may lie to be put on it, in metres.
    pub off_road_most_m: f64,
}

/// What roads are held against: the largest truck of the outfit, loaded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TruckSize {
    /// Height, m.
    pub height_m: f64,
    /// Width, m.
    pub width_m: f64,
    /// Length with its trailer, m.
    pub length_m: f64,
    /// Weight, t.
    pub weight_t: f64,
    /// Weight on the heaviest axle, t.
    pub axle_t: f64,
}

/// How far and how finely the season is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutlookRule {
    /// Members of the ensemble.
    pub members: usize,
    /// Days of the season ahead.
    pub days: usize,
    /// Days for which runs are planned.
    pub plan_days: usize,
    /// Seed of the draws.
    pub seed: u64,
}

/// A crew that goes out together.
#[derive(Clone, Debug, PartialEq)]
pub struct CrewRule {
    /// Its name.
    pub id: CrewId,
    /// How many people.
    pub hands: u32,
    /// Leaves home no earlier.
    pub leave: ClockTime,
    /// Paid day without overtime, home to home.
    pub shift: Minutes,
    /// Longest day allowed.
    pub longest: Minutes,
    /// Length of the lunch break.
    pub lunch: Minutes,
    /// Lunch begins no later than this after leaving.
    pub lunch_within: Minutes,
    /// The truck it drives.
    pub truck: TruckId,
    /// Weekdays on which it does not go out.
    pub days_off: Vec<Weekday>,
    /// What overtime adds to the wage, as a share of it.
    pub overtime_extra: f64,
}

/// A truck and what it carries.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TruckRule {
    /// Its name.
    pub id: TruckId,
    /// Room on deck, counted in empty deep boxes.
    pub deeps_empty: u32,
    /// What it may carry.
    pub payload: Grams,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SettingsText {
    name: Spanned<String>,
    #[serde(default)]
    jobs: Option<Spanned<String>>,
    #[serde(default)]
    plants: Option<Spanned<String>>,
    home: HomeText,
    #[serde(default)]
    roads: RoadsText,
    #[serde(default)]
    flow: FlowText,
    #[serde(default)]
    outlook: OutlookText,
    #[serde(default)]
    crew: Vec<CrewText>,
    #[serde(default)]
    truck: Vec<TruckText>,
    #[serde(default)]
    put_down_by: Option<Spanned<String>>,
    #[serde(default)]
    yards_per_run_max: Option<Spanned<u32>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct HomeText {
    latitude: Spanned<f64>,
    longitude: Spanned<f64>,
    #[serde(default)]
    elevation_m: Option<Spanned<f64>>,
    zone: Spanned<String>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct RoadsText {
    detour: Option<Spanned<f64>>,
    speed_km_per_h: Option<Spanned<f64>>,
    drives: Option<Spanned<String>>,
    extract: Option<Spanned<String>>,
    truck_height_m: Option<Spanned<f64>>,
    truck_width_m: Option<Spanned<f64>>,
    truck_length_m: Option<Spanned<f64>>,
    truck_weight_t: Option<Spanned<f64>>,
    truck_axle_t: Option<Spanned<f64>>,
    off_road_most_m: Option<Spanned<f64>>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct FlowText {
    threshold_kg_per_day: Option<Spanned<f64>>,
    days_running: Option<Spanned<u32>>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct OutlookText {
    members: Option<Spanned<u32>>,
    days: Option<Spanned<u32>>,
    plan_days: Option<Spanned<u32>>,
    seed: Option<Spanned<u64>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CrewText {
    name: Spanned<String>,
    #[serde(default)]
    hands: Option<Spanned<u32>>,
    #[serde(default)]
    leave: Option<Spanned<String>>,
    #[serde(default)]
    shift_min: Option<Spanned<u32>>,
    #[serde(default)]
    longest_min: Option<Spanned<u32>>,
    #[serde(default)]
    lunch_min: Option<Spanned<u32>>,
    #[serde(default)]
    lunch_within_min: Option<Spanned<u32>>,
    truck: Spanned<String>,
    #[serde(default)]
    days_off: Vec<Spanned<String>>,
    #[serde(default)]
    overtime_extra_share: Option<Spanned<f64>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TruckText {
    name: Spanned<String>,
    deeps_empty: Spanned<u32>,
    payload_kg: Spanned<f64>,
}

/// Collects faults with the line and column of the value they are about.
struct Reader<'a> {
    file: &'a str,
    text: &'a str,
    faults: Vec<Trouble>,
}

impl Reader<'_> {
    fn fault<T>(&mut self, value: &Spanned<T>, mut trouble: Trouble) {
        let (line, column) = line_and_column(self.text, value.span().start);
        trouble.place = None;
        self.faults.push(trouble.at(Spot::file(self.file).line(line).column(column.to_string())));
    }

    fn within<T: PartialOrd + Copy + core::fmt::Display>(
        &mut self,
        value: Option<&Spanned<T>>,
        usual: T,
        least: T,
        most: T,
        unit: &str,
    ) -> T {
        let Some(value) = value else { return usual };
        let number = *value.get_ref();
        if number >= least && number <= most {
            return number;
        }
        self.fault(
            value,
            Trouble::new(
                "SET-002",
                format!("{number} {unit} is outside {least} to {most} {unit}"),
                "correct the number, or leave the line out to take the usual one",
            ),
        );
        usual
    }

    fn take<T, U>(&mut self, value: &Spanned<T>, reading: Result<U, Trouble>) -> Option<U> {
        reading.map_err(|trouble| self.fault(value, trouble)).ok()
    }
}

/// What an outfit is begun with; everything else stands at its usual value and is changed in the file.
#[derive(Clone, Debug, PartialEq)]
pub struct Beginning {
    /// The outfit's name.
    pub name: String,
    /// Home base, degrees north.
    pub latitude: f64,
    /// Home base, degrees east.
    pub longitude: f64,
    /// Home above the sea, m.
    pub elevation_m: f64,
    /// The outfit's clock, as the tz database spells it.
    pub zone: String,
    /// Crews, by how many hands each has; each drives a truck of its own.
    pub crew_hands: Vec<u32>,
}

/// The first `outfit.toml`. What it says is checked by [`read_settings`], as every such file is.
pub fn first_settings(words: &Beginning) -> String {
    let mut text = format!(
        "# What changes seldom. Everything that happens is in the book. docs/settings.md lists every word.\n\
         name = {}\n\n[home]\nlatitude = {}\nlongitude = {}\nelevation_m = {}\nzone = {}\n\n\
         [roads]\ndetour = 1.3          # road over straight line\nspeed_km_per_h = 60\n\n\
         [flow]\nthreshold_kg_per_day = 1.0\ndays_running = 2\n",
        toml_text(&words.name),
        words.latitude,
        words.longitude,
        words.elevation_m,
        toml_text(&words.zone),
    );
    for at in 1..=words.crew_hands.len() {
        text.push_str(&format!(
            "\n[[truck]]\nname = \"Truck {at}\"\ndeeps_empty = 120     # room on deck, in empty deep boxes\npayload_kg = 2300\n"
        ));
    }
    for (at, hands) in words.crew_hands.iter().enumerate() {
        let at = at + 1;
        text.push_str(&format!(
            "\n[[crew]]\nname = \"Pair {at}\"\nhands = {hands}\nleave = \"07:00\"\nshift_min = 600\nlongest_min = 720\n\
             lunch_min = 30\ntruck = \"Truck {at}\"\n"
        ));
    }
    text
}

/// A text as TOML writes it.
fn toml_text(text: &str) -> String {
    let mut out = String::from("\"");
    for letter in text.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            letter if letter.is_control() => out.push(' '),
            letter => out.push(letter),
        }
    }
    out.push('"');
    out
}

/// Reads and checks `outfit.toml`.
///
/// # Errors
/// Every fault found, each with line and column: `SET-001` is no settings text or an unknown word, `SET-002` a number
/// out of range, `SET-003` an unknown clock, `SET-004` a crew without its truck or a name twice, `SET-005` no crew or
/// no truck, `SET-006` a clock time or weekday that cannot be read, and `PLC-001` for a home off the earth.
pub fn read_settings(file: &str, text: &str) -> Result<Settings, Vec<Trouble>> {
    let raw: SettingsText = toml::from_str(text).map_err(|error| {
        let (line, column) = line_and_column(text, error.span().map_or(0, |span| span.start));
        vec![
            Trouble::new(
                "SET-001",
                error.message().trim().replace('\n', ", "),
                "correct the line; every word outfit.toml may hold stands in docs/settings.md",
            )
            .at(Spot::file(file).line(line).column(column.to_string())),
        ]
    })?;
    let mut reader = Reader { file, text, faults: Vec::new() };
    let name = raw.name.get_ref().trim().to_owned();
    if name.is_empty() {
        reader.fault(&raw.name, Trouble::new("SET-002", "the outfit has no name", "write the name its papers carry"));
    }
    let home = Place::new(*raw.home.latitude.get_ref(), *raw.home.longitude.get_ref());
    let home = reader.take(&raw.home.latitude, home);
    let elevation_m = reader.within(raw.home.elevation_m.as_ref(), 0.0, -430.0, 6000.0, "m");
    let zone = TimeZone::get(raw.home.zone.get_ref()).map_err(|_| {
        Trouble::new(
            "SET-003",
            format!("there is no clock called \"{}\"", raw.home.zone.get_ref()),
            "write it as region/city of the tz database, such as America/Winnipeg",
        )
    });
    let zone = reader.take(&raw.home.zone, zone);
    let detour = reader.within(raw.roads.detour.as_ref(), 1.3, 1.0, 3.0, "times the straight line");
    let speed = reader.within(raw.roads.speed_km_per_h.as_ref(), 60.0, 5.0, 130.0, "km/h");
    // A middling loaded flatbed: 3.8 m high, 2.55 m wide, 10 m long, 12 t, 8 t on an axle; 1,000 m off the road (assumed).
    let truck = TruckSize {
        height_m: reader.within(raw.roads.truck_height_m.as_ref(), 3.8, 1.5, 6.0, "m"),
        width_m: reader.within(raw.roads.truck_width_m.as_ref(), 2.55, 1.5, 5.0, "m"),
        length_m: reader.within(raw.roads.truck_length_m.as_ref(), 10.0, 3.0, 40.0, "m"),
        weight_t: reader.within(raw.roads.truck_weight_t.as_ref(), 12.0, 1.0, 80.0, "t"),
        axle_t: reader.within(raw.roads.truck_axle_t.as_ref(), 8.0, 0.5, 20.0, "t"),
    };
    let off_road_most_m = reader.within(raw.roads.off_road_most_m.as_ref(), 1000.0, 10.0, 10_000.0, "m");
    let threshold = reader.within(raw.flow.threshold_kg_per_day.as_ref(), 1.0, 0.05, 20.0, "kg/d");
    let days_running = reader.within(raw.flow.days_running.as_ref(), 2, 1, 14, "days");
    let outlook = OutlookRule {
        members: reader.within(raw.outlook.members.as_ref(), 100, 5, 2000, "members") as usize,
        days: reader.within(raw.outlook.days.as_ref(), 45, 7, 150, "days") as usize,
        plan_days: reader.within(raw.outlook.plan_days.as_ref(), 14, 1, 28, "days") as usize,
        seed: raw.outlook.seed.map_or(1, Spanned::into_inner),
    };
    let stops_max = reader.within(raw.yards_per_run_max.as_ref(), 8, 1, STOPS_MAX, "yards") as usize;
    let put_down_by = match &raw.put_down_by {
        None => Some(JobCode::new(PUT_DOWN_BY).expect("a short plain code")),
        Some(text) => {
            let reading = JobCode::new(text.get_ref()).map_err(|bad| bad_name(&bad));
            reader.take(text, reading)
        }
    };
    let trucks = read_trucks(&mut reader, &raw.truck);
    let crews = read_crews(&mut reader, &raw.crew, &trucks);
    if (raw.crew.is_empty() || raw.truck.is_empty()) && reader.faults.is_empty() {
        reader.faults.push(
            Trouble::new(
                "SET-005",
                "no crew or no truck is named",
                "add a [[crew]] and a [[truck]]; docs/settings.md shows both",
            )
            .at(Spot::file(file)),
        );
    }
    match (home, zone, put_down_by) {
        (Some(home), Some(zone), Some(put_down_by)) if reader.faults.is_empty() => Ok(Settings {
            name,
            home,
            home_elevation: Metres::of(elevation_m),
            zone,
            zone_name: raw.home.zone.into_inner(),
            roads: Roads {
                detour,
                speed: KilometresPerHour::of(speed),
                drives_file: raw.roads.drives.map(Spanned::into_inner),
                extract_file: raw.roads.extract.map(Spanned::into_inner),
                truck,
                off_road_most_m,
            },
            flow: FlowRule { threshold: KilogramsPerDay::of(threshold), days_running },
            outlook,
            crews,
            trucks,
            stops_max,
            put_down_by,
            jobs_file: raw.jobs.map(Spanned::into_inner),
            plants_file: raw.plants.map(Spanned::into_inner),
        }),
        _ => Err(reader.faults),
    }
}

fn read_trucks(reader: &mut Reader<'_>, texts: &[TruckText]) -> Vec<TruckRule> {
    let mut trucks: Vec<TruckRule> = Vec::new();
    for text in texts {
        let payload_kg = reader.within(Some(&text.payload_kg), 1000.0, 50.0, 40_000.0, "kg");
        let deeps_empty = reader.within(Some(&text.deeps_empty), 1, 1, 2000, "boxes");
        let id = TruckId::new(text.name.get_ref()).map_err(|bad| bad_name(&bad));
        let Some(id) = reader.take(&text.name, id) else { continue };
        if trucks.iter().any(|truck| truck.id == id) {
            reader.fault(&text.name, Trouble::new("SET-004", format!("two trucks are called {id}"), "rename one"));
            continue;
        }
        trucks.push(TruckRule { id, deeps_empty, payload: Grams::ceil_of(Kilograms::of(payload_kg)) });
    }
    trucks
}

fn read_crews(reader: &mut Reader<'_>, texts: &[CrewText], trucks: &[TruckRule]) -> Vec<CrewRule> {
    let mut crews: Vec<CrewRule> = Vec::new();
    for text in texts {
        let id = CrewId::new(text.name.get_ref()).map_err(|bad| bad_name(&bad));
        let id = reader.take(&text.name, id);
        let leave = match &text.leave {
            None => Some(ClockTime::at(7, 0)),
            Some(leave) => {
                let reading = leave.get_ref().parse::<ClockTime>().map_err(|bad| {
                    Trouble::new("SET-006", bad.to_string(), "write the time as hours and minutes, such as 06:30")
                });
                reader.take(leave, reading)
            }
        };
        let hands = reader.within(text.hands.as_ref(), 2, 1, 12, "hands");
        let shift = reader.within(text.shift_min.as_ref(), 600, 60, 960, "min");
        let longest = reader.within(text.longest_min.as_ref(), shift.max(720), shift, 1080, "min");
        let lunch = reader.within(text.lunch_min.as_ref(), 30, 0, 180, "min");
        let lunch_within = reader.within(text.lunch_within_min.as_ref(), 360, 60, 900, "min");
        let extra = reader.within(text.overtime_extra_share.as_ref(), 0.5, 0.0, 3.0, "of the wage");
        let mut days_off = Vec::new();
        for day in &text.days_off {
            let reading = read_weekday(day.get_ref());
            days_off.extend(reader.take(day, reading));
        }
        let truck = TruckId::new(text.truck.get_ref()).ok().filter(|id| trucks.iter().any(|truck| truck.id == *id));
        if truck.is_none() {
            reader.fault(
                &text.truck,
                Trouble::new(
                    "SET-004",
                    format!("no truck is called \"{}\"", text.truck.get_ref()),
                    "name it as its [[truck]] does",
                ),
            );
        }
        if let Some(id) = id.as_ref().filter(|id| crews.iter().any(|crew| crew.id == **id)) {
            reader.fault(&text.name, Trouble::new("SET-004", format!("two crews are called {id}"), "rename one"));
        }
        if let (Some(id), Some(leave), Some(truck)) = (id, leave, truck) {
            crews.push(CrewRule {
                id,
                hands,
                leave,
                shift: Minutes(i64::from(shift)),
                longest: Minutes(i64::from(longest)),
                lunch: Minutes(i64::from(lunch)),
                lunch_within: Minutes(i64::from(lunch_within)),
                truck,
                days_off,
                overtime_extra: extra,
            });
        }
    }
    crews
}

fn bad_name(bad: &outyard_base::BadId) -> Trouble {
    Trouble::new("SET-002", bad.to_string(), "choose a short name of letters and digits")
}

fn read_weekday(text: &str) -> Result<Weekday, Trouble> {
    Ok(match text.trim().to_ascii_lowercase().as_str() {
        "monday" => Weekday::Monday,
        "tuesday" => Weekday::Tuesday,
        "wednesday" => Weekday::Wednesday,
        "thursday" => Weekday::Thursday,
        "friday" => Weekday::Friday,
        "saturday" => Weekday::Saturday,
        "sunday" => Weekday::Sunday,
        _ => {
            return Err(Trouble::new(
                "SET-006",
                format!("\"{}\" is no weekday", text.chars().take(40).collect::<String>()),
                "write it out: monday to sunday",
            ));
        }
    })
}

impl Settings {
    /// Road length between two places where no drive is known: the geodesic times the detour.
    pub fn road_length(&self, from: Place, to: Place) -> Kilometres {
        Kilometres::of(from.distance_to(to).kilometres().get() * self.roads.detour)
    }

    /// Drive time between two places where no drive is known, rounded up to whole minutes.
    pub fn drive_time(&self, from: Place, to: Place) -> Minutes {
        Minutes::ceil_of(self.road_length(from, to).get() / self.roads.speed.get() * 60.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = r#"
name = "Quill Valley Bees"
jobs = "jobs.toml"
[home]
latitude = 45.1
longitude = -93.9
elevation_m = 310
zone = "America/Chicago"
[[truck]]
name = "Red"
deeps_empty = 120
payload_kg = 2300
[[crew]]
name = "Pair one"
truck = "Red"
leave = "06:30"
days_off = ["sunday"]
"#;

    fn codes(text: &str) -> Vec<(&'static str, Option<usize>)> {
        read_settings("outfit.toml", text)
            .unwrap_err()
            .iter()
            .map(|trouble| (trouble.code, trouble.place.as_ref().and_then(|place| place.line)))
            .collect()
    }

    #[test]
    fn a_good_file_gives_settings_with_usual_values_where_silent() {
        let settings = read_settings("outfit.toml", GOOD).unwrap();
        assert_eq!(settings.crews[0].leave, ClockTime::at(6, 30));
        assert_eq!(settings.crews[0].hands, 2);
        assert_eq!(settings.trucks[0].payload, Grams(2_300_000));
        assert_eq!(settings.flow, FlowRule { threshold: KilogramsPerDay::of(1.0), days_running: 2 });
        assert_eq!(settings.crews[0].days_off, [Weekday::Sunday]);
    }

    #[test]
    fn every_fault_is_told_with_its_line() {
        assert_eq!(codes("name = \n"), [("SET-001", Some(1))]);
        assert_eq!(codes(&GOOD.replace("latitude = 45.1", "latitude = 145.1")), [("PLC-001", Some(5))]);
        assert_eq!(codes(&GOOD.replace("America/Chicago", "America/Nowhere")), [("SET-003", Some(8))]);
        assert_eq!(codes(&GOOD.replace("payload_kg = 2300", "payload_kg = -1")), [("SET-002", Some(12))]);
        assert_eq!(codes(&GOOD.replace("truck = \"Red\"", "truck = \"Blue\"")), [("SET-004", Some(15))]);
        assert_eq!(codes(&GOOD.replace("06:30", "6.30")), [("SET-006", Some(16))]);
        assert_eq!(codes(&GOOD.replace("sunday", "someday")), [("SET-006", Some(17))]);
        assert_eq!(codes(&GOOD.replace("[[crew]]", "[[gang]]")), [("SET-001", Some(13))]);
        let two = GOOD.replace("2300", "-5").replace("06:30", "x");
        assert_eq!(codes(&two), [("SET-002", Some(12)), ("SET-006", Some(16))]);
        let none = GOOD.split("[[truck]]").next().unwrap();
        assert_eq!(codes(none), [("SET-005", None)]);
        assert_eq!(codes(&format!("{GOOD}\ncolour = 1")), [("SET-001", Some(19))]);
    }

    // 45 N, 1° of longitude = 78.85 km (WGS 84, from memory); 1.3 detour at 60 km/h.
    #[test]
    fn unknown_roads_are_the_straight_line_with_a_detour() {
        let settings = read_settings("outfit.toml", GOOD).unwrap();
        let (from, to) = (Place::new(45.0, -93.0).unwrap(), Place::new(45.0, -94.0).unwrap());
        assert!((settings.road_length(from, to).get() - 78.85 * 1.3).abs() < 0.05);
        assert_eq!(settings.drive_time(from, to), Minutes(103));
    }
}
