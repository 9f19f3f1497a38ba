//! What a sheet may hold, and the words people put over its columns in English, Spanish and French.
//!
//! The words are ours, gathered from how such columns are called in plain speech. They are compared small, without
//! accents, marks, plural s and units.

use super::values::{Measure, plain_letters};

/// What the rows of a sheet tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    /// Yards, with the colonies counted there if the sheet has them.
    Yards,
    /// Counts of colonies: by yard and day, or one row a colony.
    Counts,
    /// Closed visits.
    Tallies,
    /// Daily weather of one station.
    Weather,
    /// Readings of one scale.
    Scale,
}

impl Subject {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Yards, Self::Counts, Self::Tallies, Self::Weather, Self::Scale];

    /// The word in a mapping and on the command line.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Yards => "yards",
            Self::Counts => "counts",
            Self::Tallies => "tallies",
            Self::Weather => "weather",
            Self::Scale => "scale",
        }
    }

    /// The subject of a word.
    pub fn read(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|subject| subject.code().eq_ignore_ascii_case(word.trim()))
    }

    /// What a sheet of it is often called.
    pub(super) const fn sheet_words(self) -> &'static [&'static str] {
        match self {
            Self::Yards => &["yard", "apiary", "apiario", "colmenar", "rucher", "site"],
            Self::Counts => &["count", "colony", "colonie", "hive", "inventory", "colmena", "ruche", "recuento"],
            Self::Tallies => &["tally", "tallie", "visit", "visita", "visite", "log", "work"],
            Self::Weather => &["weather", "station", "meteo", "clima", "tiempo"],
            Self::Scale => &["scale", "weight", "balance", "bascula", "balanza", "peso", "poids"],
        }
    }
}

/// How the cells of a field are read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sort {
    /// A short name.
    Name,
    /// Any words.
    Words,
    /// A whole number, at most this.
    Count(u32),
    /// A number of this measure between two bounds in our unit.
    Quantity(Measure, f64, f64),
    /// A day.
    Day,
    /// A day with its time.
    Moment,
    /// A time of day.
    Clock,
    /// Degrees north.
    North,
    /// Degrees east.
    East,
    /// Both degrees in one cell.
    Place,
    /// Yes or no.
    YesNo,
    /// Plants with their share.
    Forage,
    /// A kind of colony.
    Kind,
    /// A job of the job book.
    Job,
}

/// A field a column may stand for.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// Its word in a mapping.
    pub name: &'static str,
    /// What it means.
    pub said: &'static str,
    /// How its cells are read.
    pub sort: Sort,
    /// Words people put over such a column.
    pub words: &'static [&'static str],
}

const fn field(name: &'static str, said: &'static str, sort: Sort, words: &'static [&'static str]) -> Field {
    Field { name, said, sort, words }
}

/// Most colonies of a kind in one yard; past it the number stands in the wrong place. Assumed.
pub(super) const COLONIES_MOST: u32 = 2000;
/// Most boxes or excluders of one tally; assumed.
const GEAR_MOST: u32 = 10_000;

const YARD: Field = field(
    "yard",
    "short name of the yard",
    Sort::Name,
    &[
        "yard",
        "apiary",
        "site",
        "stand",
        "location",
        "bee yard",
        "yard no",
        "yard number",
        "yard id",
        "apiary no",
        "apiario",
        "colmenar",
        "asentamiento",
        "no de apiario",
        "rucher",
        "emplacement",
        "no rucher",
        "no du rucher",
    ],
);
const DAY: Field = field(
    "date",
    "the day",
    Sort::Day,
    &[
        "date",
        "day",
        "visited",
        "visit date",
        "date of visit",
        "fecha",
        "dia",
        "fecha de visita",
        "jour",
        "date de visite",
    ],
);
const DOUBLES: Field = field(
    "doubles",
    "colonies in two brood chambers",
    Sort::Count(COLONIES_MOST),
    &["double", "double deep", "two box", "2 box", "doble", "camara doble", "double corps", "deux corps"],
);
const SINGLES: Field = field(
    "singles",
    "colonies in one brood chamber",
    Sort::Count(COLONIES_MOST),
    &["single", "single deep", "one box", "1 box", "sencilla", "sencillo", "simple", "un corps", "simple corps"],
);
const SPLITS: Field = field(
    "splits",
    "this year's splits",
    Sort::Count(COLONIES_MOST),
    &["split", "nuc", "nuclei", "new colony", "nucleo", "division", "essaim", "nouvelle colonie"],
);
const WEAK: Field = field(
    "weak",
    "weak colonies",
    Sort::Count(COLONIES_MOST),
    &["weak", "small", "debil", "debile", "faible", "petite"],
);
const QUEENLESS: Field = field(
    "queenless",
    "queenless colonies",
    Sort::Count(COLONIES_MOST),
    &["queenless", "no queen", "without queen", "huerfana", "sin reina", "orpheline", "sans reine"],
);
const NOTE: Field = field(
    "note",
    "anything worth adding",
    Sort::Words,
    &["note", "remark", "comment", "nota", "observacion", "observacione", "comentario", "remarque", "commentaire"],
);

const YARDS: &[Field] = &[
    YARD,
    field(
        "name",
        "what people call it",
        Sort::Words,
        &[
            "name",
            "yard name",
            "called",
            "known as",
            "nickname",
            "nombre",
            "nom",
            "nombre del apiario",
            "nom du rucher",
        ],
    ),
    field("latitude", "degrees north", Sort::North, &["latitude", "lat", "latitud", "gps north"]),
    field(
        "longitude",
        "degrees east, west is negative",
        Sort::East,
        &["longitude", "long", "lon", "lng", "longitud", "gps west"],
    ),
    field(
        "place",
        "latitude and longitude in one cell",
        Sort::Place,
        &[
            "coordinate",
            "gps",
            "position",
            "lat long",
            "lat lon",
            "latitude longitude",
            "coordenada",
            "coordonnee",
            "ubicacion",
        ],
    ),
    field(
        "elevation",
        "height above the sea",
        Sort::Quantity(Measure::Height, -430.0, 6000.0),
        &["elevation", "altitude", "height", "elevacion", "altitud", "altura", "hauteur"],
    ),
    field(
        "group",
        "yards that flow alike",
        Sort::Words,
        &["group", "region", "area", "district", "zone", "grupo", "zona", "groupe", "secteur"],
    ),
    DOUBLES,
    SINGLES,
    SPLITS,
    WEAK,
    QUEENLESS,
    field(
        "counted_on",
        "day of the count",
        Sort::Day,
        &[
            "counted on",
            "counted",
            "count date",
            "date of count",
            "inventory date",
            "as of",
            "date",
            "fecha",
            "fecha de conteo",
            "fecha de recuento",
            "date de comptage",
            "compte le",
        ],
    ),
    field(
        "forage",
        "plants with their share",
        Sort::Forage,
        &["forage", "plant", "flora", "bloom", "planta", "plante", "flore"],
    ),
    field(
        "gate",
        "gate, key, dog",
        Sort::Words,
        &["gate", "access", "key", "entry", "acceso", "porton", "llave", "acces", "barriere", "cle"],
    ),
    field(
        "wet_road",
        "whether the road is bad after rain",
        Sort::YesNo,
        &["wet road", "bad road", "mud", "road wet", "bad when wet", "camino malo", "barro", "route mouillee", "boue"],
    ),
    field(
        "landowner",
        "owner and terms",
        Sort::Words,
        &["landowner", "owner", "land owner", "farmer", "rent", "propietario", "dueno", "proprietaire"],
    ),
    NOTE,
];

const COUNTS: &[Field] = &[
    YARD,
    field(
        "date",
        "day of the count",
        Sort::Day,
        &[
            "date",
            "day",
            "counted on",
            "counted",
            "count date",
            "date of count",
            "inspected",
            "fecha",
            "dia",
            "fecha de conteo",
            "date de comptage",
            "jour",
        ],
    ),
    field(
        "kind",
        "kind of colony",
        Sort::Kind,
        &["kind", "type", "colony type", "class", "size", "tipo", "clase", "genre", "sorte"],
    ),
    field(
        "count",
        "how many",
        Sort::Count(COLONIES_MOST),
        &[
            "count", "number", "colony", "colonie", "hive", "qty", "quantity", "cantidad", "colmena", "ruche",
            "effectif", "how many",
        ],
    ),
    field(
        "colony",
        "mark of one colony; then each row is one",
        Sort::Name,
        &[
            "hive no",
            "hive id",
            "hive number",
            "colony id",
            "colony no",
            "colony number",
            "tag",
            "no de colmena",
            "etiqueta",
            "no de ruche",
            "etiquette",
        ],
    ),
    DOUBLES,
    SINGLES,
    SPLITS,
    WEAK,
    QUEENLESS,
    NOTE,
];

const TALLIES: &[Field] = &[
    DAY,
    YARD,
    field(
        "job",
        "what was done",
        Sort::Job,
        &["job", "work", "done", "work done", "what", "trabajo", "tarea", "labor", "travail", "operation"],
    ),
    DOUBLES,
    SINGLES,
    SPLITS,
    WEAK,
    QUEENLESS,
    field(
        "boxes_on",
        "deep boxes put on hives",
        Sort::Count(GEAR_MOST),
        &[
            "box on",
            "boxe on",
            "super on",
            "super added",
            "added",
            "alza puesta",
            "alzas puesta",
            "hausse posee",
            "hausses posee",
        ],
    ),
    field(
        "boxes_off",
        "deep boxes taken off hives",
        Sort::Count(GEAR_MOST),
        &[
            "box off",
            "boxe off",
            "super off",
            "super taken",
            "taken off",
            "alza quitada",
            "alzas quitada",
            "hausse retiree",
            "hausses retiree",
        ],
    ),
    field(
        "boxes_left",
        "deep boxes left loose in the yard",
        Sort::Count(GEAR_MOST),
        &["box left", "boxe left", "left in yard", "loose", "alzas dejada", "hausses laissee"],
    ),
    field(
        "excluders_on",
        "excluders put on",
        Sort::Count(GEAR_MOST),
        &["excluder on", "excluder", "excluder put", "excluidor", "rejilla", "grille", "grille posee"],
    ),
    field(
        "excluders_off",
        "excluders taken off",
        Sort::Count(GEAR_MOST),
        &["excluder off", "excluder taken", "grille retiree"],
    ),
    field(
        "full",
        "how full the honey boxes stood",
        Sort::Quantity(Measure::Percent, 0.0, 100.0),
        &["full", "fullness", "how full", "fill", "lleno", "llenado", "plein", "remplissage"],
    ),
    field(
        "minutes",
        "minutes at the yard",
        Sort::Quantity(Measure::Minutes, 0.0, 1440.0),
        &[
            "minute",
            "time",
            "duration",
            "time at yard",
            "hour",
            "minuto",
            "hora",
            "tiempo",
            "duracion",
            "duree",
            "temp",
            "heure",
        ],
    ),
    field(
        "hands",
        "people who worked",
        Sort::Count(30),
        &["hand", "people", "crew", "crew size", "worker", "persona", "gente", "personne", "equipe"],
    ),
    field("truck", "truck the gear came on", Sort::Name, &["truck", "vehicle", "camion", "vehiculo", "vehicule"]),
    NOTE,
];

const TEMPERATURE: Sort = Sort::Quantity(Measure::Temperature, -89.2, 56.7);

const WEATHER: &[Field] = &[
    DAY,
    field(
        "low",
        "lowest air temperature",
        TEMPERATURE,
        &[
            "low",
            "min",
            "tmin",
            "minimum",
            "min temp",
            "temp min",
            "minimum temperature",
            "minima",
            "temp minima",
            "temperature mini",
        ],
    ),
    field(
        "high",
        "highest air temperature",
        TEMPERATURE,
        &[
            "high",
            "max",
            "tmax",
            "maximum",
            "max temp",
            "temp max",
            "maximum temperature",
            "maxima",
            "temp maxima",
            "temperature maxi",
        ],
    ),
    field(
        "rain",
        "rain",
        Sort::Quantity(Measure::Rain, 0.0, 1825.0),
        &["rain", "rainfall", "precip", "precipitation", "lluvia", "precipitacion", "pluie"],
    ),
    field(
        "wind",
        "mean wind 2 m above ground",
        Sort::Quantity(Measure::Wind, 0.0, 200.0),
        &["wind", "wind speed", "mean wind", "viento", "velocidad del viento", "vent", "vitesse du vent"],
    ),
    field(
        "sun",
        "solar energy of the day",
        Sort::Quantity(Measure::Sun, 0.0, 45.0),
        &["sun", "solar", "radiation", "solar radiation", "global radiation", "radiacion", "rayonnement"],
    ),
];

const SCALE: &[Field] = &[
    field(
        "time",
        "day and time of the reading",
        Sort::Moment,
        &[
            "time",
            "timestamp",
            "date time",
            "datetime",
            "date and time",
            "read at",
            "fecha hora",
            "fecha y hora",
            "horodatage",
            "date heure",
        ],
    ),
    field("date", "the day, when the time stands beside it", Sort::Day, &["date", "day", "fecha", "dia", "jour"]),
    field(
        "clock",
        "time of day, when the day stands beside it",
        Sort::Clock,
        &["time", "clock", "hour", "hora", "heure"],
    ),
    field(
        "weight",
        "weight as shown",
        Sort::Quantity(Measure::Weight, -50.0, 600.0),
        &["weight", "mass", "gross", "scale", "reading", "hive weight", "peso", "masa", "poids", "masse"],
    ),
];

impl Subject {
    /// Fields a sheet of it may have.
    pub const fn fields(self) -> &'static [Field] {
        match self {
            Self::Yards => YARDS,
            Self::Counts => COUNTS,
            Self::Tallies => TALLIES,
            Self::Weather => WEATHER,
            Self::Scale => SCALE,
        }
    }

    /// One of its fields.
    pub fn field(self, name: &str) -> Option<&'static Field> {
        self.fields().iter().find(|field| field.name.eq_ignore_ascii_case(name.trim()))
    }

    /// What is missing before a sheet can be taken in, given the fields that have a column.
    pub(super) fn lacks(self, has: impl Fn(&str) -> bool) -> Option<&'static str> {
        let counts = ["doubles", "singles", "splits", "weak", "queenless"].into_iter().any(&has);
        let place = has("place") || (has("latitude") && has("longitude"));
        let time = has("time") || (has("date") && has("clock"));
        let needs: &[(bool, &'static str)] = match self {
            Self::Yards => &[(has("yard"), "yard"), (place, "latitude and longitude, or place")],
            Self::Counts => &[(has("yard"), "yard"), (counts || has("kind"), "kind, or a column for each kind")],
            Self::Tallies => &[(has("date"), "date"), (has("yard"), "yard"), (has("job"), "job")],
            Self::Weather => &[(has("date"), "date"), (has("low") && has("high"), "low and high")],
            Self::Scale => &[(time, "time, or date and clock"), (has("weight"), "weight")],
        };
        needs.iter().find(|(there, _)| !there).map(|(_, what)| *what)
    }
}

/// Words of a header: small, plain, without marks, brackets and plural s.
pub(super) fn words_of(text: &str) -> Vec<String> {
    let plain = plain_letters(text);
    let mut words: Vec<String> = plain
        .split(|letter: char| !(letter.is_alphanumeric() || letter == '%' || letter == '°'))
        .filter(|word| !word.is_empty())
        .map(|word| if word.len() > 3 { word.strip_suffix('s').unwrap_or(word).to_owned() } else { word.to_owned() })
        .collect();
    // "No." and "n°" and "#" all number something.
    for word in &mut words {
        if matches!(word.as_str(), "n°" | "nº" | "num" | "nr") {
            "no".clone_into(word);
        }
    }
    words
}

/// How well a header's words stand for a field: 1 our own name, 0.95 one of its words, 0.7 one of them among others.
pub(super) fn word_score(field: &Field, header: &[String]) -> f64 {
    if header.is_empty() {
        return 0.0;
    }
    let own = words_of(field.name);
    if own == header {
        return 1.0;
    }
    let mut best: f64 = 0.0;
    for phrase in field.words {
        let phrase = words_of(phrase);
        if phrase == header {
            return 0.95;
        }
        if header.len() > phrase.len() && header.windows(phrase.len()).any(|part| part == phrase) {
            // Of a long header a short word says little.
            #[expect(clippy::cast_precision_loss, reason = "a handful of words")]
            let part = phrase.len() as f64 / header.len() as f64;
            best = best.max(0.45 + 0.4 * part);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    fn best(subject: Subject, header: &str) -> Option<&'static str> {
        let words = words_of(header);
        let scored = subject.fields().iter().map(|field| (word_score(field, &words), field.name));
        scored.max_by(|left, right| left.0.total_cmp(&right.0)).filter(|(score, _)| *score > 0.5).map(|(_, name)| name)
    }

    #[test]
    fn headers_of_three_languages_find_their_field() {
        for (subject, header, want) in [
            (Subject::Yards, "Apiary", "yard"),
            (Subject::Yards, "Colmenar", "yard"),
            (Subject::Yards, "Emplacement", "yard"),
            (Subject::Yards, "LATITUD", "latitude"),
            (Subject::Yards, "Élévation", "elevation"),
            (Subject::Yards, "Dueño", "landowner"),
            (Subject::Yards, "Double deeps", "doubles"),
            (Subject::Counts, "Sans reine", "queenless"),
            (Subject::Counts, "Hive No.", "colony"),
            (Subject::Counts, "# Hives", "count"),
            (Subject::Tallies, "Fecha de visita", "date"),
            (Subject::Tallies, "Hausses posées", "boxes_on"),
            (Subject::Weather, "Temp. max", "high"),
            (Subject::Weather, "Précipitations", "rain"),
            (Subject::Scale, "Poids", "weight"),
            (Subject::Scale, "Date/Time", "time"),
        ] {
            assert_eq!(best(subject, header), Some(want), "{header}");
        }
        assert_eq!(best(Subject::Yards, "Invoice"), None);
    }

    #[test]
    fn every_field_is_found_by_its_own_name_and_each_of_its_words() {
        for subject in Subject::ALL {
            assert_eq!(Subject::read(subject.code()), Some(subject));
            for field in subject.fields() {
                assert!((word_score(field, &words_of(field.name)) - 1.0).abs() < 1e-9, "{}", field.name);
                for word in field.words {
                    assert!(word_score(field, &words_of(word)) >= 0.95, "{}: {word}", field.name);
                }
            }
        }
    }
}
