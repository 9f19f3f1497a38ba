//! The season of each yard this morning: outlook, gains already seen, and the weather its gates are held against.

use std::collections::BTreeMap;
use std::sync::Arc;

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::{ClockTime, DateRange, KilogramsPerDay, Metres, Minutes, Note, Place, Range, Trouble, YardId};
use outyard_season::filter::{LearnRules, Learnt, ScaleYard, learn_group, outlook_learnt};
use outyard_season::flow::{PlantOutlook, no_scale_yet, outlook_with, usual_upkeep};
use outyard_season::members::{MemberRules, Members, draw_members_by};
use outyard_season::scale::Night;
use outyard_season::{
    BlendRules, DayWeather, ForagePart, GateVerdict, Origin, OutlookInput, PlantCode, PlantTable, Station,
    WeatherSeries, YardForage, YardOutlook, blend_to_place, learn_factor, modelled_gain, work_hours,
};
use outyard_trade::gate::WeatherGate;

use crate::blooms::{BloomBook, BloomRests};
use crate::due::YardSeason;
use crate::plan::GateDay;
use crate::situation::Situation;

/// Members a gate is held against; more would not change which half of them is open. Assumed.
const GATE_MEMBERS: usize = 20;
/// Days back for which gains are wanted: the longest a stack stands before it is pulled. Assumed.
const SEEN_DAYS: i64 = 60;
/// A day counts as open to a job when it is open in at least this share of the members. Assumed.
const OPEN_SHARE: f64 = 0.5;

/// Days back from which scales teach: before the first bloom that matters. Assumed.
const LEARN_DAYS: i64 = 120;

/// The season of one yard.
#[derive(Clone, Debug)]
pub struct YardAhead {
    /// Where the yard is.
    pub place: Place,
    /// As due visits need it.
    pub season: YardSeason,
    /// Bloom of its plants.
    pub bloom: Vec<PlantOutlook>,
    /// What that rests on besides the plant table.
    pub bloom_rests: Vec<BloomRests>,
    /// The outlook itself.
    pub outlook: YardOutlook,
    /// Weather of the members.
    pub members: Members,
    /// Net gain of the last night read for it.
    pub last_night: Option<(Date, KilogramsPerDay)>,
    /// Scale colonies against the model.
    pub factor: Range<f64>,
    /// Nights that speak for it, the first one first.
    pub nights: Vec<(Date, KilogramsPerDay)>,
    /// Whose nights they are.
    pub nights_of: String,
    /// What the scales of its group taught, when it has some.
    pub learnt: Option<Arc<Learnt>>,
}

/// The season of each yard that has a place on the map.
pub type Seasons = BTreeMap<YardId, YardAhead>;

/// Seasons of all yards that have a place, and what is worth knowing about them.
///
/// # Errors
/// `SIT-001` with no weather at all; `PLT-007` and `WTH-121` from the season.
pub fn seasons(situation: &Situation, days: usize) -> Result<(Seasons, Vec<Note>), Vec<Trouble>> {
    if situation.stations.iter().all(|station| station.seen.days().is_empty()) {
        return Err(vec![Trouble::new(
            "SIT-001",
            "there is no weather yet, so nothing can be said of the season",
            "give a station's daily file, past years and this one: outyard weather import FILE --station NAME ...",
        )]);
    }
    let mut notes: Vec<Note> = Vec::new();
    let mut troubles = Vec::new();
    let mut ready: Vec<YardReady> = Vec::new();
    let plants = Arc::new(situation.plants.clone());
    for (id, yard) in situation.outfit.kept_yards() {
        let Some(place) = yard.kept.place else {
            notes.push(Note::new(
                "SIT-103",
                format!("yard {id} has no place on the map and is left out of the outlook"),
            ));
            continue;
        };
        match YardReady::new(situation, id, place, &plants) {
            Ok(yard) => ready.push(yard),
            Err(trouble) => troubles.push(with_yard(trouble, id)),
        }
    }
    let bare: Vec<&str> = situation
        .outfit
        .kept_yards()
        .filter(|(_, yard)| yard.kept.forage.is_empty())
        .map(|(id, _)| id.as_str())
        .collect();
    if !bare.is_empty() {
        notes.push(Note::new(
            "SIT-104",
            format!(
                "nobody said what grows round yard {}: no bloom and no flow can be foreseen there",
                bare.join(", ")
            ),
        ));
    }
    let blooms = BloomBook::of(situation);
    notes.extend(blooms.notes.iter().cloned());
    teach_bloom(situation, &blooms, &mut ready);
    let learnt = learn_groups(situation, &ready, days).map_err(|trouble| vec![trouble])?;
    let mut all = BTreeMap::new();
    for yard in &ready {
        match yard_ahead(situation, yard, learnt.get(&yard.group), days) {
            Ok((ahead, more)) => {
                for note in more {
                    if !notes.iter().any(|known| known.text == note.text) {
                        notes.push(note);
                    }
                }
                all.insert(yard.id.clone(), ahead);
            }
            Err(trouble) => troubles.push(with_yard(trouble, &yard.id)),
        }
    }
    if troubles.is_empty() { Ok((all, notes)) } else { Err(troubles) }
}

/// What an outlook of a yard is made from, put together once.
struct YardReady {
    id: YardId,
    group: String,
    place: Place,
    history: WeatherSeries,
    forecast: Vec<DayWeather>,
    forage: YardForage,
    /// The plant table, moved by the bloom written down for it.
    plants: Arc<PlantTable>,
    /// What was written down of it.
    bloom_rests: Vec<BloomRests>,
    /// Nights that speak for it: its own scales', its group's, or all.
    nights: Vec<(Date, KilogramsPerDay)>,
    /// Whose nights they are.
    whose: String,
    /// Nights of its own scales, as they were read.
    own_nights: Vec<Night>,
    notes: Vec<Note>,
}

impl YardReady {
    fn new(situation: &Situation, id: &YardId, place: Place, plants: &Arc<PlantTable>) -> Result<Self, Trouble> {
        let yard = &situation.outfit.yards[id];
        let elevation = yard.kept.elevation.unwrap_or(situation.settings.home_elevation);
        let (history, forecast, notes) = weather_at(situation, place, elevation);
        let (nights, whose) = situation.nights_for(id, &yard.kept.group);
        let own_nights = situation
            .scales
            .iter()
            .filter(|scale| scale.yard == *id)
            .flat_map(|scale| scale.reading.nights.iter().copied())
            .collect();
        Ok(Self {
            id: id.clone(),
            group: yard.kept.group.clone(),
            place,
            history,
            forecast,
            forage: forage_of(situation, id)?,
            plants: Arc::clone(plants),
            bloom_rests: Vec::new(),
            nights,
            whose,
            own_nights,
            notes,
        })
    }

    fn input<'a>(&'a self, situation: &'a Situation, days: usize) -> OutlookInput<'a> {
        let settings = &situation.settings.outlook;
        OutlookInput {
            history: &self.history,
            forecast: &self.forecast,
            today: situation.today,
            horizon_days: settings.days.max(days + 14),
            member_count: settings.members,
            seed: settings.seed,
            rules: MemberRules::default(),
            place: self.place,
            forage: &self.forage,
            plants: &self.plants,
            scale_factor: no_scale_yet(),
            upkeep: usual_upkeep(),
            flow_rule: situation.flow_rule(),
            nights: &self.nights,
        }
    }
}

/// Moves the plants of each yard by the bloom written down for it.
fn teach_bloom(situation: &Situation, blooms: &BloomBook<'_>, ready: &mut [YardReady]) {
    if blooms.is_empty() {
        return;
    }
    let by_yard: BTreeMap<&YardId, &WeatherSeries> = ready.iter().map(|yard| (&yard.id, &yard.history)).collect();
    let weather = |id: &YardId| by_yard.get(id).copied();
    let taught: Vec<_> = ready.iter().map(|yard| blooms.teach(situation, &yard.id, &yard.history, weather)).collect();
    for (yard, (plants, rests, notes)) in ready.iter_mut().zip(taught) {
        if let Some(plants) = plants {
            yard.plants = Arc::new(plants);
        }
        yard.bloom_rests = rests;
        yard.notes.extend(notes);
    }
}

/// What the scales of a yard group taught, and which yards have them.
struct GroupLearnt {
    learnt: Arc<Learnt>,
    scale_yards: Vec<YardId>,
}

/// Learns from the scales of each named group that has some.
fn learn_groups(
    situation: &Situation,
    ready: &[YardReady],
    days: usize,
) -> Result<BTreeMap<String, GroupLearnt>, Trouble> {
    let mut by_group: BTreeMap<String, Vec<&YardReady>> = BTreeMap::new();
    for yard in ready.iter().filter(|yard| !yard.group.is_empty() && !yard.own_nights.is_empty()) {
        by_group.entry(yard.group.clone()).or_default().push(yard);
    }
    let settings = &situation.settings.outlook;
    let since = plus_days(situation.today, -LEARN_DAYS);
    by_group
        .into_iter()
        .map(|(group, yards)| {
            let scales: Vec<ScaleYard<'_>> = yards
                .iter()
                .map(|yard| ScaleYard { input: yard.input(situation, days), nights: &yard.own_nights })
                .collect();
            let learnt = learn_group(&scales, since, &LearnRules::default(), settings.members, settings.seed)?;
            let scale_yards = yards.iter().map(|yard| yard.id.clone()).collect();
            Ok((group, GroupLearnt { learnt: Arc::new(learnt), scale_yards }))
        })
        .collect()
}

fn with_yard(mut trouble: Trouble, yard: &YardId) -> Trouble {
    trouble.cause = format!("yard {yard}: {}", trouble.cause);
    trouble
}

/// Blends the stations to one place: history and forecast.
pub fn weather_at(
    situation: &Situation,
    place: Place,
    elevation: Metres,
) -> (WeatherSeries, Vec<DayWeather>, Vec<Note>) {
    let blend = |series: Vec<&WeatherSeries>| {
        let stations: Vec<Station<'_>> = situation
            .stations
            .iter()
            .zip(series)
            .map(|(station, series)| Station { place: station.place, elevation: station.elevation, series })
            .collect();
        blend_to_place(&stations, place, elevation, &BlendRules::default())
    };
    let (seen, notes) = blend(situation.stations.iter().map(|station| &station.seen).collect());
    let forecasts: Vec<WeatherSeries> =
        situation.stations.iter().map(|station| WeatherSeries::new(station.forecast.clone()).0).collect();
    // Notes on the forecast repeat those on what was seen.
    let (forecast, _) = blend(forecasts.iter().collect());
    (seen.series, forecast.series.days().to_vec(), notes)
}

fn yard_ahead(
    situation: &Situation,
    yard: &YardReady,
    group: Option<&GroupLearnt>,
    days: usize,
) -> Result<(YardAhead, Vec<Note>), Trouble> {
    let today = situation.today;
    let mut notes = yard.notes.clone();
    let mut input = yard.input(situation, days);
    let modelled = modelled_gain(&input, plus_days(today, -SEEN_DAYS), plus_days(today, -1))?;
    let as_nights: Vec<Night> = yard
        .nights
        .iter()
        .map(|(date, gain)| Night { date: *date, net_gain: *gain, range: Range::exact(*gain) })
        .collect();
    let factor = match as_nights.as_slice() {
        [] => no_scale_yet(),
        nights => learn_factor(nights, &modelled, usual_upkeep().likely),
    };
    let members = draw_members_by(
        &input.rules,
        input.history,
        today,
        input.forecast,
        input.horizon_days,
        input.member_count,
        input.seed,
    )?;
    let (outlook, more) = if let Some(group) = group {
        // The group's draws hold what its scales said already: the factor must not say it twice.
        let own = group.scale_yards.iter().position(|scale| *scale == yard.id);
        outlook_learnt(&input, &members, &group.learnt, own)?
    } else {
        input.scale_factor = factor;
        outlook_with(&input, &members)?
    };
    notes.extend(more);
    let (place, nights) = (yard.place, &yard.nights);
    let seen = seen_gains(today, nights, &modelled, factor.likely);
    let mut based_on = outlook.based_on.clone();
    based_on.push(format!("gain so far by {}", yard.whose));
    let season = YardSeason {
        first: outlook.first,
        gain: outlook.gain.clone(),
        flight_h: outlook.flight_h.clone(),
        south: yard.place.latitude() < 0.0,
        seen,
        begins: outlook.flow_begins,
        ends: outlook.flow_ends,
        flow_threshold_kg_per_day: situation.settings.flow.threshold.get(),
        based_on,
    };
    let last_night = nights.last().copied().filter(|(date, _)| days_from(*date, today) <= 2);
    let (nights, nights_of) = (nights.clone(), yard.whose.clone());
    let learnt = group.map(|group| Arc::clone(&group.learnt));
    let (bloom, bloom_rests) = (outlook.bloom.clone(), yard.bloom_rests.clone());
    Ok((
        YardAhead {
            place,
            season,
            bloom,
            bloom_rests,
            outlook,
            members,
            last_night,
            factor,
            nights,
            nights_of,
            learnt,
        },
        notes,
    ))
}

fn forage_of(situation: &Situation, id: &YardId) -> Result<YardForage, Trouble> {
    let plants = situation.outfit.yards[id]
        .kept
        .forage
        .iter()
        .map(|forage| {
            Ok(ForagePart {
                plant: PlantCode::new(&forage.plant)?,
                weight: outyard_base::Share::new(forage.weight.clamp(0.0, 1.0)).expect("clamped to a share"),
                seeding: forage.seeded_on,
            })
        })
        .collect::<Result<_, Trouble>>()?;
    Ok(YardForage { plants })
}

/// Gains of the days before today, the last one first: what scales showed, else what the model says of the weather seen.
fn seen_gains(today: Date, nights: &[(Date, KilogramsPerDay)], modelled: &[(Date, f64)], factor: f64) -> Vec<f64> {
    let upkeep = usual_upkeep().likely.get();
    (1..=SEEN_DAYS)
        .map(|back| {
            let date = plus_days(today, -back);
            let night = nights.binary_search_by_key(&date, |night| night.0).ok().map(|at| nights[at].1.get());
            let model =
                || modelled.binary_search_by_key(&date, |day| day.0).ok().map(|at| modelled[at].1 * factor - upkeep);
            night.or_else(model).unwrap_or(0.0)
        })
        .collect()
}

/// Minutes the outfit's clock is ahead of UTC on a date.
pub fn utc_offset(situation: &Situation, date: Date) -> Minutes {
    let noon = date.at(12, 0, 0, 0);
    situation
        .settings
        .zone
        .to_timestamp(noon)
        .map_or(Minutes::ZERO, |at| Minutes(i64::from(situation.settings.zone.to_offset(at).seconds()) / 60))
}

fn verdict_in(
    ahead: &YardAhead,
    gate: &WeatherGate,
    offset: Minutes,
    member: usize,
    day: usize,
) -> Option<GateVerdict> {
    let weather = ahead.members.days[member].get(day)?;
    let yesterday = match day {
        0 => ahead.last_night.map(|(_, gain)| gain),
        _ => ahead.season.gain[member].get(day - 1).map(|gain| KilogramsPerDay::of(*gain)),
    };
    Some(work_hours(weather, ahead.place, gate, yesterday, offset))
}

/// When a job's gate is open in a yard on a day of the plan in one member; `None` when it is shut.
pub fn open_in_member(
    situation: &Situation,
    ahead: &YardAhead,
    gate: &WeatherGate,
    member: usize,
    day: usize,
) -> Option<(ClockTime, ClockTime)> {
    let date = plus_days(situation.today, i64::try_from(day).unwrap_or(0));
    verdict_in(ahead, gate, utc_offset(situation, date), member, day)?.open.filter(|(from, to)| from < to)
}

/// When a job's gate is open in a yard on a day of the plan, over a handful of members: within the forecast by the rule of
/// the half, beyond it for the hours that can be counted on.
pub fn gate_day(situation: &Situation, ahead: &YardAhead, gate: &WeatherGate, day: usize) -> GateDay {
    let date = plus_days(situation.today, i64::try_from(day).unwrap_or(0));
    let offset = utc_offset(situation, date);
    let taken = ahead.members.days.len().min(GATE_MEMBERS);
    let verdicts: Vec<GateVerdict> =
        (0..taken).filter_map(|member| verdict_in(ahead, gate, offset, member, day)).collect();
    let known =
        ahead.members.days.first().and_then(|days| days.get(day)).is_some_and(|day| day.origin != Origin::Drawn);
    if known { half_of(&verdicts) } else { usable_of(&verdicts) }
}

/// Openings and closings of the verdicts that are open, each in order, and the share of all that are.
fn openings(verdicts: &[GateVerdict]) -> (Vec<ClockTime>, Vec<ClockTime>, f64) {
    let mut from: Vec<ClockTime> = verdicts.iter().filter_map(|verdict| verdict.open.map(|open| open.0)).collect();
    let mut to: Vec<ClockTime> = verdicts.iter().filter_map(|verdict| verdict.open.map(|open| open.1)).collect();
    from.sort();
    to.sort();
    #[expect(clippy::cast_precision_loss, reason = "a handful of members")]
    let share_open = from.len() as f64 / verdicts.len().max(1) as f64;
    (from, to, share_open)
}

/// A day nobody can foretell: open from the middle opening on for as many hours as the members have on average, shut days
/// among them. A day that is fine in two years of five counts for two fifths of its hours, neither whole nor not at all.
fn usable_of(verdicts: &[GateVerdict]) -> GateDay {
    let (from, _, share_open) = openings(verdicts);
    let all: f64 = verdicts.iter().filter(|verdict| verdict.open.is_some()).map(|verdict| verdict.hours.get()).sum();
    #[expect(clippy::cast_precision_loss, reason = "a handful of members")]
    let hours = all / verdicts.len().max(1) as f64;
    #[expect(clippy::cast_possible_truncation, reason = "minutes of one day")]
    let usable = Minutes((hours * 60.0).floor() as i64);
    let open = from
        .get(from.len() / 2)
        .map(|from| (*from, (*from + usable).min(ClockTime::at(24, 0))))
        .filter(|(from, to)| from < to);
    let deciding =
        format!("no forecast; open in {:.0} % of past years, {hours:.1} h to be counted on", share_open * 100.0);
    GateDay { open, deciding, share_open }
}

/// The middle verdict: open when half the members are, from the middle of their openings to the middle of their
/// closings.
fn half_of(verdicts: &[GateVerdict]) -> GateDay {
    let (from, to, share_open) = openings(verdicts);
    let open = share_open >= OPEN_SHARE && !from.is_empty();
    let window = open.then(|| (from[from.len() / 2], to[to.len() / 2]));
    let deciding = verdicts
        .iter()
        .find(|verdict| verdict.open.is_some() == open)
        .map(|verdict| match &verdict.not_read {
            Some(missing) => format!("{}; {missing}", verdict.deciding),
            None => verdict.deciding.clone(),
        })
        .unwrap_or_default();
    GateDay { open: window.filter(|(from, to)| from < to), deciding, share_open }
}

/// Gates of all jobs of a visit taken together on a day: open where all are.
pub fn gates_together(gates: &[GateDay]) -> GateDay {
    let mut all =
        GateDay { open: Some((ClockTime::MIDNIGHT, ClockTime::at(24, 0))), deciding: String::new(), share_open: 1.0 };
    for gate in gates {
        all.open = match (all.open, gate.open) {
            (Some((from, to)), Some((other_from, other_to))) => {
                Some((from.max(other_from), to.min(other_to))).filter(|(from, to)| from < to)
            }
            _ => None,
        };
        if gate.open.is_none() || all.deciding.is_empty() || gate.share_open < all.share_open {
            all.deciding.clone_from(&gate.deciding);
        }
        all.share_open = all.share_open.min(gate.share_open);
    }
    all
}

/// When the flow begins over all yards, for the head of a page: the range of their likely dates.
pub fn flow_over(seasons: &Seasons) -> DateRange {
    DateRange::of_members(seasons.values().map(|ahead| ahead.season.begins.likely))
}

#[cfg(test)]
mod tests {
    use super::*;
    use outyard_base::Hours;

    fn verdict(open: Option<(u8, u8)>) -> GateVerdict {
        let hours = open.map_or(0, |(from, to)| to - from);
        GateVerdict {
            open: open.map(|(from, to)| (ClockTime::at(i64::from(from), 0), ClockTime::at(i64::from(to), 0))),
            hours: Hours::of(f64::from(hours)),
            deciding: String::new(),
            not_read: None,
        }
    }

    #[test]
    fn a_day_nobody_can_foretell_counts_by_its_expected_hours() {
        // Two years of five are open, from 9 to 19 and from 11 to 17: 16 h in five years, 3.2 h a day from 11 on.
        let verdicts = [Some((9, 19)), None, Some((11, 17)), None, None].map(verdict);
        let day = usable_of(&verdicts);
        let (from, to) = day.open.unwrap();
        assert_eq!((from, to - from), (ClockTime::at(11, 0), Minutes(192)));
        assert!((day.share_open - 0.4).abs() < 1e-12);
        assert!(half_of(&verdicts).open.is_none());
        // The same every year: no hour is lost; never: no hour is there.
        let sure = usable_of(&[verdict(Some((9, 19))), verdict(Some((9, 19)))]);
        assert_eq!(sure.open, half_of(&[verdict(Some((9, 19)))]).open);
        assert_eq!(usable_of(&[verdict(None), verdict(None)]).open, None);
        assert_eq!(usable_of(&[]).open, None);
    }
}
