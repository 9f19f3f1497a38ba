//! Bloom written down in the book, and what it teaches the plants of each yard.
//!
//! Stages in the book are `seeded`, `first` and `full`. What was seen at a yard speaks for that yard and for its group; what was
//! seen over a group speaks for all its yards. It counts with the weather of the place where it was seen. Past seasons move
//! the thresholds of the plant table ([`outyard_season::plants::update`]); this season's own bloom stands on its day.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::days::days_from;
use outyard_base::{Note, Trouble, YardId};
use outyard_book::Fact;
use outyard_book::fact::Where;
use outyard_season::{
    Plant, PlantCode, PlantTable, SeasonTold, SeenBloom, WeatherSeries, in_season, learn_from, season_of,
    told_by_season,
};

use crate::situation::Situation;

/// Stage of a crop's seeding.
pub const SEEDED: &str = "seeded";
/// Stage of first bloom.
pub const FIRST: &str = "first";
/// Stage of full bloom.
pub const FULL: &str = "full";

/// Days before a bloom within which a seeding belongs to it: crops of autumn bloom the next spring. Assumed.
const SEEDED_WITHIN_DAYS: i64 = 330;

/// Bloom as somebody says it was seen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BloomSaid {
    /// Where.
    pub at: Where,
    /// Code of the plant.
    pub plant: String,
    /// Day the crop was seeded, when told.
    pub seeded: Option<Date>,
    /// Day of first bloom, when told.
    pub first: Option<Date>,
    /// Day of full bloom, when told.
    pub full: Option<Date>,
}

/// The facts to write for bloom that was seen, each with its day.
///
/// # Errors
/// `PLT-007` for a plant that is not in the table, `YRD-005` for a yard and `BLM-005` for a group that is not kept, `BLM-006`
/// for days that are still to come or run backwards; all of them at once.
pub fn facts_of(situation: &Situation, said: &BloomSaid) -> Result<Vec<(Date, Fact)>, Vec<Trouble>> {
    let mut faults = Vec::new();
    if PlantCode::new(&said.plant).ok().and_then(|code| situation.plants.get(&code)).is_none() {
        faults.push(Trouble::new(
            "PLT-007",
            format!("no plant \"{}\" in the plant table", said.plant),
            "use a code of the table, or add the plant to your own",
        ));
    }
    let mut kept = situation.outfit.kept_yards();
    match &said.at {
        Where::Yard(yard) if !kept.any(|(id, _)| id == yard) => faults.push(Trouble::new(
            "YRD-005",
            format!("no yard {yard} is kept"),
            "see the names of the yards, or import the yard first",
        )),
        Where::Group(group) if group.is_empty() || !kept.any(|(_, yard)| yard.kept.group == *group) => {
            faults.push(Trouble::new(
                "BLM-005",
                format!("no yard belongs to a group \"{group}\""),
                "use the name of a group as the yards have it, or name one yard",
            ));
        }
        Where::Yard(_) | Where::Group(_) => {}
    }
    let told: Vec<(&str, Date)> = [(SEEDED, said.seeded), (FIRST, said.first), (FULL, said.full)]
        .into_iter()
        .filter_map(|(stage, day)| Some((stage, day?)))
        .collect();
    if let Some((stage, day)) = told.iter().find(|(_, day)| *day > situation.today) {
        faults.push(Trouble::new(
            "BLM-006",
            format!("{stage} on {day} is still to come"),
            "write down what was seen, with its day; the morning you stand at is the last day that counts",
        ));
    }
    if let Some(pair) = told.windows(2).find(|pair| pair[1].1 < pair[0].1) {
        faults.push(Trouble::new(
            "BLM-006",
            format!("{} on {} lies before {} on {}", pair[1].0, pair[1].1, pair[0].0, pair[0].1),
            "the days run from seeding to first to full bloom",
        ));
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let fact =
        |stage: &str| Fact::BloomSeen { at: said.at.clone(), plant: said.plant.clone(), stage: stage.to_owned() };
    Ok(told.into_iter().map(|(stage, day)| (day, fact(stage))).collect())
}

/// What the bloom of one plant of a yard rests on besides the plant table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BloomRests {
    /// The plant.
    pub plant: PlantCode,
    /// Seasons written down that taught its thresholds, this one among them.
    pub records: usize,
    /// Day of this season on which it was first seen in bloom, or full when only that was written down.
    pub this_season: Option<Date>,
    /// The last day written down.
    pub last: Date,
}

/// What was written down of one plant at one place in one season.
#[derive(Clone, Debug)]
struct Told<'a> {
    at: &'a Where,
    plant: &'a PlantCode,
    season: i16,
    first: Option<Date>,
    full: Option<Date>,
    seeded: Option<Date>,
}

impl Told<'_> {
    fn last(&self) -> Option<Date> {
        self.full.max(self.first)
    }

    /// True when it was seen at the yard, in its group or over it.
    fn speaks_for(&self, yard: &YardId, group: &str, situation: &Situation) -> bool {
        let of_group = |name: &str| !group.is_empty() && name == group;
        match self.at {
            Where::Group(name) => of_group(name),
            Where::Yard(seen_at) => {
                let kept = situation.outfit.yards.get(seen_at).map(|yard| &yard.kept);
                seen_at == yard || kept.is_some_and(|kept| of_group(&kept.group))
            }
        }
    }
}

/// Bloom written down, put together by place, plant and season.
#[derive(Clone, Debug, Default)]
pub struct BloomBook<'a> {
    told: Vec<Told<'a>>,
    /// What is worth knowing of it.
    pub notes: Vec<Note>,
}

impl<'a> BloomBook<'a> {
    /// What the book of a situation tells.
    pub fn of(situation: &'a Situation) -> Self {
        let mut book = Self::default();
        let mut seedings: Vec<(&Where, &str, Date)> = Vec::new();
        let mut by_season: BTreeMap<(&Where, &str, i16), Told<'a>> = BTreeMap::new();
        for told in &situation.outfit.blooms {
            let bloom = &told.what;
            let plant = PlantCode::new(&bloom.plant).ok().and_then(|code| situation.plants.get(&code));
            let known = matches!(bloom.stage.as_str(), SEEDED | FIRST | FULL);
            let (Some(plant), true) = (plant, known) else {
                book.notes.push(Note::new(
                    "BLM-102",
                    format!(
                        "\"{}\" of \"{}\", written down for {}, is neither in the plant table nor a stage known here",
                        bloom.stage, bloom.plant, told.on
                    ),
                ));
                continue;
            };
            if bloom.stage == SEEDED {
                seedings.push((&bloom.at, &bloom.plant, told.on));
                continue;
            }
            let season = season_of(plant, told.on);
            let one = by_season.entry((&bloom.at, &bloom.plant, season)).or_insert_with(|| Told {
                at: &bloom.at,
                plant: &plant.code,
                season,
                first: None,
                full: None,
                seeded: None,
            });
            let date = if bloom.stage == FIRST { &mut one.first } else { &mut one.full };
            // Told twice, the earlier day counts: first is first.
            *date = Some(date.map_or(told.on, |known| known.min(told.on)));
        }
        for ((at, plant, _), mut one) in by_season {
            let bloomed = one.first.or(one.full).expect("one of the two was told");
            let of_forage = || match at {
                Where::Yard(yard) => seeding_of(situation, yard, plant),
                Where::Group(group) => situation
                    .outfit
                    .kept_yards()
                    .filter(|(_, yard)| yard.kept.group == *group)
                    .find_map(|(id, _)| seeding_of(situation, id, plant)),
            };
            let fits = |seeded: &Date| (1..=SEEDED_WITHIN_DAYS).contains(&days_from(*seeded, bloomed));
            one.seeded = seedings
                .iter()
                .filter(|seeding| (seeding.0, seeding.1) == (at, plant))
                .map(|seeding| seeding.2)
                .filter(fits)
                .max()
                .or_else(|| of_forage().filter(fits));
            book.told.push(one);
        }
        book
    }

    /// True when nothing was written down.
    pub fn is_empty(&self) -> bool {
        self.told.is_empty()
    }

    /// The plants of a yard as what was written down for it has them, and what each rests on. `weather` is that of the yard a
    /// record was seen at; without one, or for what was seen over a group, `own` counts.
    pub fn teach<'w>(
        &self,
        situation: &Situation,
        yard: &YardId,
        own: &'w WeatherSeries,
        weather: impl Fn(&YardId) -> Option<&'w WeatherSeries>,
    ) -> (Option<PlantTable>, Vec<BloomRests>, Vec<Note>) {
        let Some(kept) = situation.outfit.yards.get(yard).map(|yard| &yard.kept) else {
            return (None, Vec::new(), Vec::new());
        };
        let (mut rests, mut notes) = (Vec::new(), Vec::new());
        let mut table: Option<PlantTable> = None;
        for plant in situation.plants.plants() {
            let speaks: Vec<&Told<'_>> = self
                .told
                .iter()
                .filter(|told| *told.plant == plant.code && told.speaks_for(yard, &kept.group, situation))
                .collect();
            let seen: Vec<SeenBloom<'w>> = speaks
                .iter()
                .map(|told| SeenBloom {
                    first: told.first,
                    full: told.full,
                    seeded: told.seeded,
                    weather: match told.at {
                        Where::Yard(seen_at) => weather(seen_at).unwrap_or(own),
                        Where::Group(_) => own,
                    },
                })
                .collect();
            let told = told_by_season(plant, &seen);
            let taught: BTreeMap<i16, SeasonTold> =
                told.iter().filter(|(_, told)| told.teaches(plant)).map(|(season, told)| (*season, *told)).collect();
            for season in told.keys().filter(|season| !taught.contains_key(season)) {
                notes.push(Note::new(
                    "BLM-103",
                    format!(
                        "the bloom of {} written down in {season} teaches nothing: {}",
                        plant.name,
                        lacks(plant, &speaks, *season)
                    ),
                ));
            }
            let Some(last) =
                speaks.iter().filter(|told| taught.contains_key(&told.season)).filter_map(|told| told.last()).max()
            else {
                continue;
            };
            let season = season_of(plant, situation.today);
            let mut learnt = learn_from(plant, &taught.values().copied().collect::<Vec<_>>());
            if let Some(now) = taught.get(&season) {
                learnt = in_season(&learnt, *now);
            }
            let first_seen = speaks.iter().filter(|told| told.season == season && taught.contains_key(&season));
            rests.push(BloomRests {
                plant: plant.code.clone(),
                records: taught.len(),
                this_season: first_seen.filter_map(|told| told.first.or(told.full)).min(),
                last,
            });
            table = Some(table.unwrap_or_else(|| situation.plants.clone()).changed(learnt));
        }
        (table, rests, notes)
    }
}

/// Why a season taught nothing.
fn lacks(plant: &Plant, speaks: &[&Told<'_>], season: i16) -> &'static str {
    let by_seeding = matches!(plant.trigger, outyard_season::plants::Trigger::Seeding { .. });
    if by_seeding && speaks.iter().any(|told| told.season == season && told.seeded.is_none()) {
        "the day of seeding is not known"
    } else {
        "the weather of that season is not here in full"
    }
}

/// When a plant was seeded at a yard, as the yard's own forage has it.
fn seeding_of(situation: &Situation, yard: &YardId, plant: &str) -> Option<Date> {
    let forage = &situation.outfit.yards.get(yard)?.kept.forage;
    forage.iter().find(|forage| forage.plant == plant)?.seeded_on
}
