//! Reads plant tables.

use outyard_base::trouble::Spot;
use outyard_base::{Celsius, DegreeDays, KilogramsPerDay, Range, Trouble};
use serde::Deserialize;
use toml::Spanned;

use super::{Plant, PlantCode, Step, Trigger};
use crate::degree_days::{HeatRule, Method};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TableWire {
    #[serde(default)]
    plant: Vec<Spanned<PlantWire>>,
}

type Three = Spanned<[f64; 3]>;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PlantWire {
    code: Spanned<String>,
    name: String,
    source: String,
    heat: Option<HeatWire>,
    seeding: Option<SeedingWire>,
    strength_kg_per_day: Three,
    strength_source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct HeatWire {
    #[serde(default)]
    degrees: Degrees,
    method: Spanned<String>,
    base: Spanned<f64>,
    upper: Option<Spanned<f64>>,
    start: Spanned<String>,
    first_bloom: Three,
    full_bloom: Option<Three>,
    full_after_days: Option<Three>,
    end: Option<Three>,
    bloom_days: Option<Three>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SeedingWire {
    first_flower_days: Three,
    full_after_days: Three,
    bloom_days: Three,
    heat: Option<SeedingHeatWire>,
    #[serde(default)]
    by_heat: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SeedingHeatWire {
    #[serde(default)]
    degrees: Degrees,
    method: Spanned<String>,
    base: Spanned<f64>,
    upper: Option<Spanned<f64>>,
    first_flower: Three,
}

#[derive(Clone, Copy, Default, Deserialize)]
enum Degrees {
    #[default]
    C,
    F,
}

/// Reads a whole table, sorted by code.
pub(super) fn read_table(text: &str, file: &str) -> Result<Vec<Plant>, Trouble> {
    let reader = Reader { text, file };
    let table: TableWire = toml::from_str(text).map_err(|error| {
        let cause = error.message().to_owned();
        let trouble = Trouble::new("PLT-002", cause, "see the keys of the built-in plant table");
        error.span().map_or(trouble.clone(), |span| trouble.at(reader.place(span.start)))
    })?;
    let mut plants: Vec<Plant> = Vec::with_capacity(table.plant.len());
    for wire in &table.plant {
        let plant = reader.plant(wire.as_ref(), wire.span().start)?;
        if plants.iter().any(|known| known.code == plant.code) {
            return Err(Trouble::new("PLT-003", format!("plant {} stands twice", plant.code), "keep one of the two")
                .at(reader.place(wire.as_ref().code.span().start)));
        }
        plants.push(plant);
    }
    plants.sort_by(|left, right| left.code.cmp(&right.code));
    Ok(plants)
}

struct Reader<'a> {
    text: &'a str,
    file: &'a str,
}

impl Reader<'_> {
    fn place(&self, offset: usize) -> Spot {
        let before = &self.text[..self.text.floor_char_boundary(offset)];
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        let column = before[line_start..].chars().count() + 1;
        Spot::file(self.file).line(before.matches('\n').count() + 1).column(column.to_string())
    }

    fn three(&self, three: &Three, least: f64, most: f64) -> Result<Range<f64>, Trouble> {
        let [low, likely, high] = *three.as_ref();
        let trouble = |cause: String| {
            Trouble::new("PLT-004", cause, "write low, likely and high in rising order, within the limits")
                .at(self.place(three.span().start))
        };
        if !(low >= least && high <= most) {
            return Err(trouble(format!("{low}, {likely}, {high} is not within {least} to {most}")));
        }
        Range::new(low, likely, high).ok_or_else(|| trouble(format!("{low}, {likely}, {high} does not rise")))
    }

    fn heat_rule(
        &self,
        degrees: Degrees,
        method: &Spanned<String>,
        base: &Spanned<f64>,
        upper: Option<&Spanned<f64>>,
    ) -> Result<HeatRule, Trouble> {
        let bad =
            |cause: String, remedy: &str, offset: usize| Trouble::new("PLT-005", cause, remedy).at(self.place(offset));
        let Some(method_read) = Method::named(method.as_ref()) else {
            let cause = format!("\"{}\" is no way to sum degree days", method.as_ref());
            let names: Vec<_> = Method::all().map(Method::name).collect();
            return Err(bad(cause, &format!("use one of {}", names.join(", ")), method.span().start));
        };
        let read = |value: &Spanned<f64>| {
            let read = match degrees {
                Degrees::C => Celsius::new(*value.as_ref()),
                Degrees::F => Celsius::from_fahrenheit(*value.as_ref()),
            };
            read.map_err(|error| bad(error.to_string(), "see whether degrees is C or F", value.span().start))
        };
        let base_read = read(base)?;
        let upper_read = upper.map(read).transpose()?;
        if method_read.needs_upper() && upper_read.is_none() {
            let cause = format!("{} needs an upper threshold", method_read.name());
            return Err(bad(cause, "add upper, or use the method without a cutoff", method.span().start));
        }
        if let (Some(upper), Some(upper_read)) = (upper, upper_read)
            && upper_read <= base_read
        {
            return Err(bad(
                "the upper threshold is not above the base".to_owned(),
                "upper must be above base",
                upper.span().start,
            ));
        }
        Ok(HeatRule { method: method_read, base: base_read, upper: upper_read })
    }

    fn heat(&self, three: &Three, degrees: Degrees) -> Result<Range<DegreeDays>, Trouble> {
        let range = self.three(three, 0.0, 10_000.0)?;
        Ok(range.map(|heat| match degrees {
            Degrees::C => DegreeDays::of(heat),
            Degrees::F => DegreeDays::of(heat / 1.8),
        }))
    }

    fn plant(&self, wire: &PlantWire, offset: usize) -> Result<Plant, Trouble> {
        let code =
            PlantCode::new(wire.code.as_ref()).map_err(|trouble| trouble.at(self.place(wire.code.span().start)))?;
        let one_rule = |cause: &str| {
            Trouble::new("PLT-006", format!("plant {code}: {cause}"), "see the keys of the built-in plant table")
                .at(self.place(offset))
        };
        let (trigger, full, end) = match (&wire.heat, &wire.seeding) {
            (Some(heat), None) => {
                let rule = self.heat_rule(heat.degrees, &heat.method, &heat.base, heat.upper.as_ref())?;
                let start = self.month_day(&heat.start)?;
                let first = self.heat(&heat.first_bloom, heat.degrees)?;
                let step = |sum: &Option<Three>, days: &Option<Three>, what: &str| match (sum, days) {
                    (Some(sum), None) => self.heat(sum, heat.degrees).map(Step::HeatSum),
                    (None, Some(days)) => self.three(days, 0.0, 200.0).map(Step::DaysAfterFirst),
                    _ => Err(one_rule(what)),
                };
                let full =
                    step(&heat.full_bloom, &heat.full_after_days, "give full_bloom or full_after_days, one of them")?;
                let end = step(&heat.end, &heat.bloom_days, "give end or bloom_days, one of them")?;
                (Trigger::Heat { rule, start, first }, full, end)
            }
            (None, Some(seeding)) => {
                let days = self.three(&seeding.first_flower_days, 1.0, 300.0)?;
                let heat = match &seeding.heat {
                    Some(heat) => Some((
                        self.heat_rule(heat.degrees, &heat.method, &heat.base, heat.upper.as_ref())?,
                        self.heat(&heat.first_flower, heat.degrees)?,
                    )),
                    None => None,
                };
                if seeding.by_heat && heat.is_none() {
                    return Err(one_rule("by_heat is set but there is no heat sum"));
                }
                let full = Step::DaysAfterFirst(self.three(&seeding.full_after_days, 0.0, 200.0)?);
                let end = Step::DaysAfterFirst(self.three(&seeding.bloom_days, 0.0, 200.0)?);
                (Trigger::Seeding { days, heat, by_heat: seeding.by_heat }, full, end)
            }
            _ => return Err(one_rule("give heat or seeding, one of them")),
        };
        let later = match (full, end) {
            (Step::HeatSum(full), Step::HeatSum(end)) => full.likely <= end.likely,
            (Step::DaysAfterFirst(full), Step::DaysAfterFirst(end)) => full.likely <= end.likely,
            _ => true,
        };
        if !later {
            return Err(one_rule("the bloom ends before it is full"));
        }
        let strength = self.three(&wire.strength_kg_per_day, 0.0, 30.0)?.map(KilogramsPerDay::of);
        Ok(Plant {
            code,
            name: wire.name.clone(),
            trigger,
            full,
            end,
            strength,
            source: wire.source.clone(),
            strength_source: wire.strength_source.clone(),
        })
    }

    fn month_day(&self, text: &Spanned<String>) -> Result<(i8, i8), Trouble> {
        let read = || {
            let (month, day) = text.as_ref().split_once('-')?;
            let (month, day) = (month.parse().ok()?, day.parse().ok()?);
            // 2024 had a 29 February.
            jiff::civil::Date::new(2024, month, day).ok().map(|_| (month, day))
        };
        read().ok_or_else(|| {
            Trouble::new(
                "PLT-005",
                format!("\"{}\" is no month and day", text.as_ref()),
                "write the start of the sum as month-day, such as 01-01",
            )
            .at(self.place(text.span().start))
        })
    }
}
