//! The invented outfit written down as an outfit's own folder: settings, entries of the book, and the files of its
//! stations and scales.

use core::fmt::Write;

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use outyard_base::days::plus_days;
use outyard_base::{Chance, DeviceId, GearCode, JobCode};
use outyard_book::{
    ContentHash, Entry, EntryId, Fact, Forage, GearCounts, GearPlace, JobDone, MiteSample, OddCounts, SeriesKept,
    Tally, Treatment, YardKept,
};
use outyard_trade::{Kind, KindCounts};

use crate::demo::{DemoOutfit, DemoScale, DemoStation, DemoVisit, DemoWeather, DemoWork, DemoYard};
use crate::situation::{FORECAST, SCALE, WEATHER};

/// An invented outfit, ready to be written into a folder.
#[derive(Clone, Debug)]
pub struct DemoBook {
    /// `outfit.toml`.
    pub settings: String,
    /// All entries.
    pub entries: Vec<Entry>,
    /// Files the entries name, by content.
    pub files: Vec<String>,
}

/// Writes entries with names and times of their own, the same for one seed.
struct Pen {
    chance: Chance,
    zone: TimeZone,
    device: DeviceId,
    entries: Vec<Entry>,
}

impl Pen {
    fn write(&mut self, on: Date, author: &str, fact: Fact) {
        let mut bytes = [0_u8; 10];
        for byte in &mut bytes {
            *byte = u8::try_from(self.chance.below(256)).expect("below 256");
        }
        // Everything is written down in the evening of its day, a second after what was written before.
        let seconds = i8::try_from(self.entries.len() % 60).expect("below 60");
        let minutes = i8::try_from(self.entries.len() / 60 % 60).expect("below 60");
        let evening = on.at(20, minutes, seconds, 0);
        let at = self.zone.to_timestamp(evening).unwrap_or(Timestamp::UNIX_EPOCH);
        let id = EntryId::new(at, bytes);
        self.entries.push(Entry::new(id, self.device.clone(), author, on, at, fact));
    }
}

/// Writes the outfit down.
pub fn write_down(demo: &DemoOutfit) -> DemoBook {
    let mut pen = Pen {
        chance: Chance::new(demo.seed, "demo entry names"),
        zone: TimeZone::get(demo.time_zone).expect("the demo's zone is one of the tz database"),
        device: DeviceId::new("office").expect("a short plain name"),
        entries: Vec::new(),
    };
    let mut files = Vec::new();
    let year = demo.today.year();
    let new_year = Date::new(year, 1, 2).expect("every year has a second of January");
    for yard in &demo.yards {
        pen.write(new_year, "owner", Fact::YardKept(kept(yard)));
    }
    for gear in &demo.gear {
        let in_shed = gear.owned.saturating_sub(gear.on_hives_in_spring);
        let counts = GearCounts::one(gear.gear.clone(), in_shed);
        pen.write(new_year, "owner", Fact::GearCounted { place: GearPlace::Shed, gear: counts });
    }
    let first_put_down = demo
        .history
        .iter()
        .find(|visit| matches!(visit.work, DemoWork::PutDown { .. }))
        .map_or(demo.today, |visit| visit.date);
    let counted_on = plus_days(first_put_down, -2);
    for yard in &demo.yards {
        let counts = KindCounts::of(&[(Kind::Double, yard.doubles), (Kind::Split, yard.splits)]);
        pen.write(counted_on, "owner", Fact::ColoniesCounted { yard: yard.id.clone(), counts });
    }
    for visit in &demo.history {
        write_visit(&mut pen, visit);
    }
    for station in &demo.stations {
        keep_station(&mut pen, &mut files, station, demo.today);
    }
    for scale in &demo.scales {
        keep_scale(&mut pen, &mut files, scale, demo.today);
    }
    DemoBook { settings: settings(demo), entries: pen.entries, files }
}

fn kept(yard: &DemoYard) -> YardKept {
    YardKept {
        name: yard.name.clone(),
        place: Some(yard.place),
        elevation: Some(yard.elevation),
        group: yard.group.clone(),
        gate: yard.gate.clone(),
        wet_road: yard.wet_road,
        landowner: format!("{}, {}; {}", yard.landowner.name, yard.landowner.telephone, yard.landowner.rent),
        forage: yard
            .forage
            .iter()
            .map(|forage| Forage {
                plant: forage.plant.to_owned(),
                weight: forage.weight.get(),
                seeded_on: forage.seeded,
            })
            .collect(),
        ..YardKept::new(yard.id.clone())
    }
}

fn gear(code: &str, count: u32) -> GearCounts {
    GearCounts::one(GearCode::new(code).expect("a short plain code"), count)
}

fn job(code: &str, done: &[(Kind, u32)]) -> JobDone {
    JobDone {
        job: JobCode::new(code).expect("a short plain code"),
        done: KindCounts::of(done),
        undone: KindCounts::NONE,
    }
}

fn write_visit(pen: &mut Pen, visit: &DemoVisit) {
    let mut tally = Tally::new(visit.yard.clone());
    tally.minutes = Some(visit.minutes);
    tally.hands = Some(2);
    let yard = visit.yard.clone();
    let crew = visit.crew.as_str();
    match &visit.work {
        DemoWork::FirstLook { alive, dead, light } => {
            tally.odd = OddCounts { dead: *dead, ..OddCounts::default() };
            tally.note = format!("first look: {alive} alive, {light} light");
        }
        DemoWork::TreatmentIn { ingredient, colonies, lot } => {
            let treatment = Treatment {
                yard,
                product: format!("{ingredient} strips"),
                ingredient: (*ingredient).to_owned(),
                lot: lot.clone(),
                colonies: *colonies,
                dose: "as the label says".to_owned(),
                days_in_least: Some(42),
                days_in_most: Some(56),
                days_before_supers: Some(14),
                supers_on_allowed: false,
                label: "invented label for the demo; a real label decides".to_owned(),
            };
            pen.write(visit.date, crew, Fact::TreatmentIn(treatment));
            return;
        }
        DemoWork::TreatmentOut { ingredient, colonies, .. } => {
            let out = Fact::TreatmentOut { yard, product: format!("{ingredient} strips"), colonies: Some(*colonies) };
            pen.write(visit.date, crew, out);
            return;
        }
        DemoWork::MiteWash { washes } => {
            for (bees, mites) in washes {
                let sample = MiteSample {
                    yard: yard.clone(),
                    colony: String::new(),
                    method: "wash".to_owned(),
                    bees: *bees,
                    mites: *mites,
                    board_days: None,
                };
                pen.write(visit.date, crew, Fact::MiteSample(sample));
            }
            return;
        }
        DemoWork::SecondBox { boxes } => {
            tally.note = format!("second brood box on {boxes}");
        }
        DemoWork::SplitsMade { made } => {
            tally.jobs = vec![job("split-mated-queen", &[(Kind::Split, *made)])];
        }
        DemoWork::SplitsChecked { laying, failed } => {
            tally.jobs = vec![job("split-check", &[(Kind::Split, laying + failed)])];
            tally.odd = OddCounts { queenless: *failed, ..OddCounts::default() };
        }
        DemoWork::SwarmRound { looked, with_cells } => {
            tally.jobs = vec![job("swarm-cells-check", &[(Kind::Double, *looked)])];
            tally.note = format!("cells in {with_cells}");
        }
        DemoWork::PutDown { doubles, splits, excluders, thirds, left } => {
            let mut put_down = job("single-down-blow", &[(Kind::Double, *doubles)]);
            put_down.undone = KindCounts::of(&[(Kind::Double, *left)]);
            tally.jobs = vec![put_down];
            if *splits > 0 {
                tally.jobs.push(job("brood-lift", &[(Kind::Split, *splits)]));
            }
            tally.boxes_on = gear("deep", *thirds);
            tally.gear_put = gear("excluder", *excluders);
        }
        DemoWork::Return { queen_above, supers } => {
            tally.jobs =
                vec![job("open-brood-test", &[(Kind::Single, 5)]), job("add-boxes", &[(Kind::Single, *supers)])];
            tally.boxes_on = gear("deep", *supers);
            tally.note = format!("queen above in {queen_above}");
        }
    }
    pen.write(visit.date, crew, Fact::VisitClosed(tally));
}

fn keep_station(pen: &mut Pen, files: &mut Vec<String>, station: &DemoStation, today: Date) {
    for (what, days) in [(WEATHER, &station.seen), (FORECAST, &station.forecast)] {
        let (Some(first), Some(last)) = (days.first(), days.last()) else { continue };
        let text = weather_text(days);
        let series = SeriesKept {
            source: station.name.clone(),
            what: what.to_owned(),
            place: Some(station.place),
            elevation: Some(station.elevation),
            yard: None,
            columns: Vec::new(),
            content: ContentHash::of(text.as_bytes()),
            rows: days.len() as u64,
            from: first.date,
            to: last.date,
        };
        files.push(text);
        pen.write(plus_days(today, -1), "office", Fact::SeriesKept(series));
    }
}

fn weather_text(days: &[DemoWeather]) -> String {
    let mut text = "date,low_c,high_c,rain_mm,wind_km_per_h,sun_mj_per_m2\n".to_owned();
    for day in days {
        writeln!(
            text,
            "{},{:.1},{:.1},{:.1},{:.1},{:.1}",
            day.date,
            day.tmin.get(),
            day.tmax.get(),
            day.rain.get(),
            day.wind.get(),
            day.radiation.get()
        )
        .expect("writing to a text never fails");
    }
    text
}

fn keep_scale(pen: &mut Pen, files: &mut Vec<String>, scale: &DemoScale, today: Date) {
    let (Some(first), Some(last)) = (scale.readings.first(), scale.readings.last()) else { return };
    let mut text = "time,weight_kg\n".to_owned();
    for reading in &scale.readings {
        writeln!(text, "{},{:.2}", reading.at, reading.gross.get()).expect("writing to a text never fails");
    }
    let date = |at: Timestamp| pen.zone.to_datetime(at).date();
    let series = SeriesKept {
        source: scale.id.as_str().to_owned(),
        what: SCALE.to_owned(),
        place: None,
        elevation: None,
        yard: Some(scale.yard.clone()),
        columns: Vec::new(),
        content: ContentHash::of(text.as_bytes()),
        rows: scale.readings.len() as u64,
        from: date(first.at),
        to: date(last.at),
    };
    files.push(text);
    pen.write(plus_days(today, -1), "office", Fact::SeriesKept(series));
}

fn settings(demo: &DemoOutfit) -> String {
    let mut text = format!(
        "# {}: an invented outfit. Every word this file may hold stands in docs/settings.md.\n\
         name = \"{}\"\n\n\
         [home]\nlatitude = {:.5}\nlongitude = {:.5}\nelevation_m = {:.0}\nzone = \"{}\"\n\n\
         [flow]\nthreshold_kg_per_day = 1.0\ndays_running = 2\n\n\
         [outlook]\nmembers = 100\ndays = 45\nplan_days = 14\nseed = {}\n",
        demo.name,
        demo.name,
        demo.home.place.latitude(),
        demo.home.place.longitude(),
        demo.home.elevation.get(),
        demo.time_zone,
        demo.seed,
    );
    for truck in &demo.trucks {
        write!(
            text,
            "\n[[truck]]\nname = \"{}\"\ndeeps_empty = {}\npayload_kg = {:.0}\n",
            truck.id,
            truck.deck_empty_deeps,
            truck.payload.get()
        )
        .expect("writing to a text never fails");
    }
    for crew in &demo.crews {
        let longest = (crew.home_by - crew.leaves).get();
        write!(
            text,
            "\n[[crew]]\nname = \"{}\"\nhands = {}\nleave = \"{}\"\nshift_min = {}\nlongest_min = {longest}\nlunch_min = 30\ntruck = \"{}\"\n",
            crew.id,
            crew.people.len(),
            crew.leaves,
            longest.min(600),
            crew.truck
        )
        .expect("writing to a text never fails");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::read_settings;
    use jiff::civil::date;

    #[test]
    fn the_demo_is_written_down_the_same_each_time_and_its_settings_are_good() {
        let demo = crate::demo::invent(3, date(2026, 7, 3));
        let (book, again) = (write_down(&demo), write_down(&demo));
        assert_eq!(book.entries, again.entries);
        let settings = read_settings("outfit.toml", &book.settings).unwrap();
        assert_eq!((settings.crews.len(), settings.trucks.len()), (2, 2));
        assert!(book.entries.iter().all(|entry| entry.happened_on <= demo.today));
        let outfit = outyard_book::fold(&book.entries);
        assert_eq!(outfit.kept_yards().count(), 40);
        assert_eq!(outfit.colonies().total(), 1200);
        assert!(outfit.conflicts.is_empty());
    }
}
