//! Cells as people fill them: numbers with units and marks, days in many forms, degrees in several.

use jiff::civil::{Date, DateTime, Time, date};
use outyard_base::Trouble;
use outyard_base::days::plus_days;

use super::grid::Cell;

/// Which mark parts whole from broken numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decimal {
    /// `1,200.5`
    Point,
    /// `1.200,5`
    Comma,
}

/// Which number of `3/7/2026` is the day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DayOrder {
    /// 3 July.
    DayFirst,
    /// 7 March.
    MonthFirst,
}

/// How the cells of a sheet are to be read where they could mean two things; `None` where nobody knows yet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Habits {
    /// The decimal mark.
    pub decimal: Option<Decimal>,
    /// The order of day and month.
    pub dates: Option<DayOrder>,
}

/// What a quantity measures, which says the units it may come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Weight, in kilograms.
    Weight,
    /// Temperature, in degrees Celsius.
    Temperature,
    /// Height, in metres.
    Height,
    /// Rain, in millimetres.
    Rain,
    /// Wind, in kilometres an hour.
    Wind,
    /// Solar energy of a day, in megajoules a square metre.
    Sun,
    /// Time, in minutes.
    Minutes,
    /// Part of a whole, in percent.
    Percent,
}

/// A unit: what it measures, how it is written, and how it becomes ours (times, then plus).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// What it measures.
    pub measure: Measure,
    /// Its word in a mapping.
    pub code: &'static str,
    /// How people write it; letters lower-case, without accents, blanks or marks but `/`.
    pub spellings: &'static [&'static str],
    /// Times this.
    pub times: f64,
    /// Plus this.
    pub plus: f64,
}

const fn unit(measure: Measure, code: &'static str, spellings: &'static [&'static str], times: f64) -> Unit {
    Unit { measure, code, spellings, times, plus: 0.0 }
}

/// Units read; the first of each measure is ours. Pound, foot, inch and mile by the international definition of 1959.
pub const UNITS: &[Unit] = &[
    unit(Measure::Weight, "kg", &["kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramos"], 1.0),
    unit(Measure::Weight, "lb", &["lb", "lbs", "pound", "pounds", "libra", "libras", "livre", "livres"], 0.453_592_37),
    unit(Measure::Weight, "g", &["g", "gram", "grams", "gramo", "gramos", "gramme", "grammes"], 0.001),
    unit(Measure::Temperature, "C", &["c", "celsius", "degc", "°c"], 1.0),
    Unit {
        measure: Measure::Temperature,
        code: "F",
        spellings: &["f", "fahrenheit", "degf", "°f"],
        times: 1.0 / 1.8,
        plus: -32.0 / 1.8,
    },
    unit(Measure::Height, "m", &["m", "metre", "metres", "meter", "meters", "metro", "metros", "masl", "msnm"], 1.0),
    unit(Measure::Height, "ft", &["ft", "foot", "feet", "pie", "pies", "pied", "pieds"], 0.3048),
    unit(Measure::Rain, "mm", &["mm", "millimetre", "millimetres", "millimeters", "milimetros"], 1.0),
    unit(Measure::Rain, "cm", &["cm", "centimetres", "centimeters"], 10.0),
    unit(Measure::Rain, "in", &["in", "inch", "inches", "pulgada", "pulgadas", "pouce", "pouces"], 25.4),
    unit(Measure::Wind, "km/h", &["km/h", "kmh", "kph", "kmperh"], 1.0),
    unit(Measure::Wind, "m/s", &["m/s", "ms", "mpers"], 3.6),
    unit(Measure::Wind, "mi/h", &["mi/h", "mph", "miperh"], 1.609_344),
    unit(Measure::Wind, "km/day", &["km/day", "km/d", "kmperday"], 1.0 / 24.0),
    unit(Measure::Sun, "MJ/m2", &["mj/m2", "mj/m²", "mj", "mjperm2"], 1.0),
    unit(Measure::Sun, "kWh/m2", &["kwh/m2", "kwh/m²", "kwh"], 3.6),
    unit(Measure::Minutes, "min", &["min", "mins", "minute", "minutes", "minuto", "minutos"], 1.0),
    unit(Measure::Minutes, "h", &["h", "hr", "hrs", "hour", "hours", "hora", "horas", "heure", "heures"], 60.0),
    unit(Measure::Percent, "%", &["%", "percent", "pct", "porcentaje", "pourcent"], 1.0),
    unit(Measure::Percent, "share", &["share", "part"], 100.0),
];

impl Unit {
    /// The unit of that code.
    pub fn of_code(measure: Measure, code: &str) -> Option<&'static Self> {
        UNITS.iter().find(|unit| unit.measure == measure && unit.code.eq_ignore_ascii_case(code.trim()))
    }

    /// The unit so written.
    pub fn of_word(measure: Measure, word: &str) -> Option<&'static Self> {
        let plain: String = word.trim().trim_end_matches('.').to_lowercase().replace(' ', "");
        UNITS.iter().find(|unit| unit.measure == measure && unit.spellings.contains(&plain.as_str()))
    }

    /// Our own unit of a measure.
    pub fn ours(measure: Measure) -> &'static Self {
        UNITS.iter().find(|unit| unit.measure == measure).expect("every measure has a unit")
    }

    /// A number of this unit in ours.
    pub fn to_ours(&self, number: f64) -> f64 {
        number * self.times + self.plus
    }
}

fn short(text: &str) -> String {
    text.trim().chars().take(40).collect()
}

/// A trouble of a cell, its place still to come.
pub(super) fn fault(code: &'static str, cause: impl Into<String>, remedy: &str) -> Trouble {
    Trouble::new(code, cause, remedy)
}

/// A cell that says that there is nothing: `-`, `n/a`, `?`.
pub(super) fn says_none(cell: &Cell) -> bool {
    let Cell::Text(text) = cell else { return false };
    matches!(text.trim().to_lowercase().as_str(), "-" | "--" | "n/a" | "na" | "nan" | "null" | "none" | "." | "–" | "—")
}

fn is_gap(letter: char) -> bool {
    matches!(letter, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}' | '\'' | '’')
}

/// A number as written, cut into its marks.
struct Written<'a> {
    negative: bool,
    body: String,
    rest: &'a str,
}

fn cut_number(text: &str) -> Option<Written<'_>> {
    let text = text.trim();
    let (negative, text) = match text.strip_prefix(['-', '−']) {
        Some(rest) => (true, rest.trim_start()),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    };
    if !text.starts_with(|letter: char| letter.is_ascii_digit() || letter == '.' || letter == ',') {
        return None;
    }
    let letters: Vec<(usize, char)> = text.char_indices().collect();
    let mut body = String::new();
    let mut end = text.len();
    for (index, (at, letter)) in letters.iter().enumerate() {
        let next_is_digit = letters.get(index + 1).is_some_and(|(_, next)| next.is_ascii_digit());
        match letter {
            digit if digit.is_ascii_digit() => body.push(*digit),
            '.' | ',' if next_is_digit || !body.contains(['.', ',']) => body.push(*letter),
            gap if is_gap(*gap) && next_is_digit => {}
            _ => {
                end = *at;
                break;
            }
        }
    }
    Some(Written { negative, body, rest: text[end..].trim() })
}

/// What a written number says of the decimal mark: sure of one, or silent.
fn says_decimal(body: &str) -> Option<Decimal> {
    let of = |mark: char| if mark == '.' { Decimal::Point } else { Decimal::Comma };
    let marks: Vec<(usize, char)> = body.char_indices().filter(|(_, letter)| matches!(letter, '.' | ',')).collect();
    match marks.as_slice() {
        [] => None,
        [(at, mark)] => {
            let after = body.len() - at - 1;
            let lead = &body[..*at];
            (after != 3 || lead.is_empty() || lead == "0" || lead.len() > 3).then(|| of(*mark))
        }
        [.., (_, last)] if marks.iter().all(|(_, mark)| mark == last) => {
            // Several of one mark part thousands, so the other one is the decimal mark.
            Some(if *last == '.' { Decimal::Comma } else { Decimal::Point })
        }
        [.., (_, last)] => Some(of(*last)),
    }
}

/// What the text cells of a sheet say of its decimal mark: one of them, none, or both (then none holds for all).
pub(super) fn decimal_habit<'a>(cells: impl Iterator<Item = &'a Cell>) -> Option<Decimal> {
    let mut seen = (false, false);
    for cell in cells {
        let Cell::Text(text) = cell else { continue };
        match cut_number(text).and_then(|written| says_decimal(&written.body)) {
            Some(Decimal::Point) => seen.0 = true,
            Some(Decimal::Comma) => seen.1 = true,
            None => {}
        }
    }
    match seen {
        (true, false) => Some(Decimal::Point),
        (false, true) => Some(Decimal::Comma),
        _ => None,
    }
}

/// A number and the unit written behind it, if one.
///
/// # Errors
/// `IMP-011` no number, `IMP-012` a number somebody was not sure of, `IMP-014` one that could mean two, `IMP-018` a
/// formula that came to nothing.
pub(super) fn read_quantity(cell: &Cell, habits: Habits, whole: bool) -> Result<(f64, String), Trouble> {
    let text = match cell {
        Cell::Number(number) => return Ok((*number, String::new())),
        Cell::Broken(sign) => return Err(broken(sign)),
        Cell::Text(text) => text,
        Cell::Moment(_) | Cell::Truth(_) => {
            return Err(fault(
                "IMP-011",
                format!("\"{}\" is no number", cell.text()),
                "see whether the sheet turned a number into a day; set the cell to a plain number",
            ));
        }
    };
    let none = || fault("IMP-011", format!("\"{}\" is no number", short(text)), "write a plain number");
    let plain = text.trim();
    let unsure = plain.starts_with(['~', '≈', '<', '>', '±']) || plain.ends_with('?') || plain.starts_with("ca ");
    if unsure {
        return Err(fault(
            "IMP-012",
            format!("\"{}\" is not sure of itself", short(text)),
            "write the number you believe; what is doubtful goes into a note",
        ));
    }
    let written = cut_number(plain).ok_or_else(none)?;
    if written.rest.contains(|letter: char| letter.is_ascii_digit()) {
        return Err(none());
    }
    let number = to_number(&written.body, habits.decimal, whole).map_err(|two| {
        if two {
            fault(
                "IMP-014",
                format!(
                    "\"{}\" may be {} or {}",
                    short(text),
                    written.body.replace(['.', ','], ""),
                    written.body.replace(',', ".")
                ),
                "say which mark parts the decimals: decimal = \"comma\" or \"point\" in the mapping, or --decimal",
            )
        } else {
            none()
        }
    })?;
    Ok((if written.negative { -number } else { number }, written.rest.to_owned()))
}

/// `Err(true)` when it can mean two numbers, `Err(false)` when it means none.
fn to_number(body: &str, habit: Option<Decimal>, whole: bool) -> Result<f64, bool> {
    let said = says_decimal(body);
    let one_mark = body.matches(['.', ',']).count() == 1;
    let decimal = match (said, habit) {
        (Some(said), _) => said,
        (None, _) if !one_mark => Decimal::Point,
        (None, Some(habit)) => habit,
        // Nobody keeps thousandths of a colony.
        (None, None) if whole => {
            if body.contains(',') {
                Decimal::Point
            } else {
                Decimal::Comma
            }
        }
        (None, None) => return Err(true),
    };
    let (mark, thousands) = if decimal == Decimal::Point { ('.', ',') } else { (',', '.') };
    let (front, back) = body.split_once(mark).map_or((body, ""), |(front, back)| (front, back));
    let groups: Vec<&str> = front.split(thousands).collect();
    let grouped = groups.len() == 1 || (groups[0].len() <= 3 && groups[1..].iter().all(|group| group.len() == 3));
    if !grouped || back.contains(['.', ',']) {
        return Err(false);
    }
    format!("{}.{back}", groups.concat()).parse::<f64>().map_err(|_| false)
}

pub(super) fn broken(sign: &str) -> Trouble {
    fault("IMP-018", format!("the formula shows {sign}"), "mend the formula, or write the value in its place")
}

/// A count: whole, 0 or more, at most `most`.
pub(super) fn read_whole(cell: &Cell, habits: Habits, most: u32) -> Result<u32, Trouble> {
    let (number, rest) = read_quantity(cell, habits, true)?;
    if !rest.is_empty() && !rest.chars().all(|letter| letter.is_alphabetic() || matches!(letter, '.' | ' ')) {
        return Err(fault("IMP-011", format!("\"{}\" is no count", short(&cell.text())), "write a whole number"));
    }
    if number.fract().abs() > 1e-9 || number < 0.0 {
        return Err(fault(
            "IMP-015",
            format!("\"{}\" is no count", short(&cell.text())),
            "write a whole number, 0 or more",
        ));
    }
    if number > f64::from(most) {
        return Err(fault(
            "IMP-016",
            format!("{number} is past {most}"),
            "see whether the number stands in the wrong column or row",
        ));
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number within u32")]
    Ok(number as u32)
}

const MONTHS: [&[&str]; 12] = [
    &["january", "jan", "enero", "ene", "janvier", "janv"],
    &["february", "feb", "febrero", "fevrier", "fevr", "fev"],
    &["march", "mar", "marzo", "mars"],
    &["april", "apr", "abril", "abr", "avril", "avr"],
    &["may", "mayo", "mai"],
    &["june", "jun", "junio", "juin"],
    &["july", "jul", "julio", "juillet", "juil"],
    &["august", "aug", "agosto", "ago", "aout"],
    &["september", "sep", "sept", "septiembre", "septembre"],
    &["october", "oct", "octubre", "octobre"],
    &["november", "nov", "noviembre", "novembre"],
    &["december", "dec", "diciembre", "dic", "decembre"],
];

fn month_of(word: &str) -> Option<i8> {
    MONTHS.iter().position(|names| names.contains(&word)).and_then(|at| i8::try_from(at + 1).ok())
}

/// Letters small and without accents, so that words of three languages compare.
pub(super) fn plain_letters(text: &str) -> String {
    text.chars()
        .flat_map(char::to_lowercase)
        .map(|letter| match letter {
            'á' | 'à' | 'â' | 'ä' | 'ã' => 'a',
            'é' | 'è' | 'ê' | 'ë' => 'e',
            'í' | 'ì' | 'î' | 'ï' => 'i',
            'ó' | 'ò' | 'ô' | 'ö' | 'õ' => 'o',
            'ú' | 'ù' | 'û' | 'ü' => 'u',
            'ñ' => 'n',
            'ç' => 'c',
            other => other,
        })
        .collect()
}

/// Runs of digits and runs of letters, in order.
fn runs(text: &str) -> Vec<String> {
    let mut runs: Vec<String> = Vec::new();
    let mut last = ' ';
    for letter in text.chars() {
        let sort = |letter: char| {
            if letter.is_ascii_digit() {
                'd'
            } else if letter.is_alphabetic() {
                'a'
            } else {
                ' '
            }
        };
        match (sort(last), sort(letter)) {
            (_, ' ') => {}
            (before, now) if before == now => runs.last_mut().expect("a run began").push(letter),
            _ => runs.push(letter.to_string()),
        }
        last = letter;
    }
    runs
}

/// What the parts of a written day say before anybody knows which comes first.
enum DayRead {
    Known(Date),
    /// Two small numbers and a year.
    Either(i8, i8, i16),
    None,
    NoYear,
}

/// The year of two digits: up to 69 of this century (assumed).
fn full_year(text: &str) -> Option<i16> {
    let year: i16 = text.parse().ok()?;
    match text.len() {
        4 => Some(year),
        2 => Some(if year <= 69 { 2000 + year } else { 1900 + year }),
        _ => None,
    }
}

fn cut_day(text: &str) -> DayRead {
    const LITTLE: [&str; 10] = ["st", "nd", "rd", "th", "de", "del", "le", "er", "of", "el"];
    let plain = plain_letters(text);
    let parts: Vec<String> = runs(&plain).into_iter().filter(|run| !LITTLE.contains(&run.as_str())).collect();
    let known = |year: Option<i16>, month: Option<i8>, day: &str| {
        let day = day.parse::<i8>().ok();
        match (year, month, day) {
            (Some(year), Some(month), Some(day)) => Date::new(year, month, day).map_or(DayRead::None, DayRead::Known),
            _ => DayRead::None,
        }
    };
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let words: Vec<&String> = parts.iter().filter(|part| !digits(part)).collect();
    let numbers: Vec<&String> = parts.iter().filter(|part| digits(part)).collect();
    let month = words.iter().find_map(|word| month_of(word));
    match (month, numbers.as_slice()) {
        // 3 July 2026, Jul 3 2026, 2026 July 3; a weekday before it is passed over.
        (Some(month), [first, second]) if words.len() <= 2 => {
            if first.len() == 4 {
                known(full_year(first), Some(month), second)
            } else {
                known(full_year(second), Some(month), first)
            }
        }
        (Some(_), [_]) => DayRead::NoYear,
        (None, [all]) if words.is_empty() && all.len() == 8 => {
            known(full_year(&all[..4]), all[4..6].parse().ok(), &all[6..])
        }
        (None, [first, second, third]) if words.is_empty() => {
            if first.len() == 4 {
                return known(full_year(first), second.parse().ok(), third);
            }
            let small = |text: &str| text.parse::<i8>().ok().filter(|number| (1..=31).contains(number));
            let (Some(year), Some(first), Some(second)) = (full_year(third), small(first), small(second)) else {
                return DayRead::None;
            };
            match (first > 12, second > 12) {
                (true, true) => DayRead::None,
                (true, false) => Date::new(year, second, first).map_or(DayRead::None, DayRead::Known),
                (false, true) => Date::new(year, first, second).map_or(DayRead::None, DayRead::Known),
                (false, false) if first == second => {
                    Date::new(year, first, second).map_or(DayRead::None, DayRead::Known)
                }
                (false, false) => DayRead::Either(first, second, year),
            }
        }
        (None, [_, _]) if words.is_empty() => DayRead::NoYear,
        _ => DayRead::None,
    }
}

/// What the cells of a column of days say of the order of day and month.
pub(super) fn day_habit<'a>(cells: impl Iterator<Item = &'a Cell>) -> Option<DayOrder> {
    let mut seen = (false, false);
    for cell in cells {
        let Cell::Text(text) = cell else { continue };
        let (day, _) = split_clock(text);
        let numbers: Vec<String> = runs(day);
        let [first, second, third] = numbers.as_slice() else { continue };
        let number = |text: &String| text.parse::<u32>().ok();
        let (Some(first_number), Some(second_number), Some(_)) = (number(first), number(second), number(third)) else {
            continue;
        };
        if first.len() == 4 {
            continue;
        }
        seen.0 |= first_number > 12 && second_number <= 12;
        seen.1 |= second_number > 12 && first_number <= 12;
    }
    match seen {
        (true, false) => Some(DayOrder::DayFirst),
        (false, true) => Some(DayOrder::MonthFirst),
        _ => None,
    }
}

/// Day and clock of one text: the clock is what holds a colon.
fn split_clock(text: &str) -> (&str, Option<&str>) {
    let text = text.trim();
    let Some(colon) = text.find(':') else { return (text, None) };
    let cut = text[..colon].rfind([' ', 'T', '\u{a0}', '\u{202f}']);
    match cut {
        Some(cut) => {
            (text[..cut].trim_end(), Some(text[cut..].trim_start_matches(['T', ' ', '\u{a0}', '\u{202f}']).trim()))
        }
        None => ("", Some(text)),
    }
}

/// Serial days of office sheets count from 30 December 1899, past the leap day 1900 never had (ECMA-376, 18.17.4.1).
const SERIAL_START: Date = date(1899, 12, 30);

/// Days of a sheet that make sense as days of an outfit: 1955 to 2119 as serial numbers. Assumed.
const SERIAL: core::ops::Range<f64> = 20_000.0..80_000.0;

/// The day and time of a serial number.
pub fn moment_of_serial(number: f64) -> Option<DateTime> {
    if !SERIAL.contains(&number) {
        return None;
    }
    #[expect(clippy::cast_possible_truncation, reason = "within some ten thousand days, and a day's seconds")]
    let (days, seconds) = (number.floor() as i64, (number.fract() * 86_400.0).round() as i64);
    let (days, seconds) = if seconds >= 86_400 { (days + 1, 0) } else { (days, seconds) };
    let day = plus_days(SERIAL_START, days);
    let part = |seconds: i64| i8::try_from(seconds).expect("below sixty");
    Some(day.at(part(seconds / 3600), part(seconds / 60 % 60), part(seconds % 60), 0))
}

/// Reads a day.
///
/// # Errors
/// `IMP-010` when day and month could be exchanged and nobody said how, `IMP-013` no day, `IMP-018`.
pub(super) fn read_day(cell: &Cell, habits: Habits) -> Result<Date, Trouble> {
    let day = match cell {
        Cell::Moment(at) => Ok(at.date()),
        Cell::Broken(sign) => return Err(broken(sign)),
        Cell::Number(number) => {
            let plain = number.to_string();
            moment_of_serial(*number)
                .map(DateTime::date)
                .or_else(|| match cut_day(&plain) {
                    DayRead::Known(day) => Some(day),
                    _ => None,
                })
                .ok_or(DayRead::None)
        }
        Cell::Truth(_) => Err(DayRead::None),
        Cell::Text(text) => match (cut_day(split_clock(text).0), habits.dates) {
            (DayRead::Known(day), _) => Ok(day),
            (DayRead::Either(first, second, year), Some(DayOrder::DayFirst)) => {
                Date::new(year, second, first).map_err(|_| DayRead::None)
            }
            (DayRead::Either(first, second, year), Some(DayOrder::MonthFirst)) => {
                Date::new(year, first, second).map_err(|_| DayRead::None)
            }
            (other, _) => Err(other),
        },
    };
    let told = short(&cell.text());
    match day {
        Ok(day) if (1955..=2119).contains(&day.year()) => Ok(day),
        Err(DayRead::Either(..)) => Err(fault(
            "IMP-010",
            format!("\"{told}\" can be read day first or month first"),
            "say which: dates = \"day-first\" or \"month-first\" in the mapping, or --dates",
        )),
        Err(DayRead::NoYear) => Err(fault("IMP-013", format!("\"{told}\" has no year"), "write the year too")),
        _ => Err(fault(
            "IMP-013",
            format!("\"{told}\" is no day"),
            "write it as 2026-07-03; a day that is not known is an empty cell",
        )),
    }
}

/// Reads a time of day.
fn read_clock(text: &str) -> Option<Time> {
    let plain = text.trim().to_lowercase();
    let (clock, afternoon) = if let Some(clock) = plain.strip_suffix("pm").or_else(|| plain.strip_suffix("p.m.")) {
        (clock.trim(), Some(true))
    } else if let Some(clock) = plain.strip_suffix("am").or_else(|| plain.strip_suffix("a.m.")) {
        (clock.trim(), Some(false))
    } else {
        (plain.as_str(), None)
    };
    let mut parts = clock.split(':').map(|part| part.split('.').next().unwrap_or(part).parse::<i8>());
    let hour = parts.next()?.ok()?;
    let minute = parts.next()?.ok()?;
    let second = parts.next().map_or(Some(0), Result::ok)?;
    let hour = match afternoon {
        Some(true) if hour < 12 => hour + 12,
        Some(false) if hour == 12 => 0,
        _ => hour,
    };
    Time::new(hour, minute, second, 0).ok()
}

/// A moment as a file writes it: on the outfit's clock, or exact with an offset of its own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Told {
    Local(DateTime),
    Exact(jiff::Timestamp),
}

/// Reads a day with its time.
///
/// # Errors
/// As [`read_day`]; `IMP-013` when there is no time in it.
pub(super) fn read_moment(cell: &Cell, habits: Habits) -> Result<Told, Trouble> {
    match cell {
        Cell::Moment(at) => return Ok(Told::Local(*at)),
        Cell::Number(number) => {
            if let Some(at) = moment_of_serial(*number) {
                return Ok(Told::Local(at));
            }
        }
        _ => {}
    }
    let text = cell.text();
    if let Ok(instant) = text.trim().parse::<jiff::Timestamp>() {
        return Ok(Told::Exact(instant));
    }
    let day = read_day(cell, habits)?;
    split_clock(&text).1.and_then(read_clock).map(|clock| Told::Local(day.to_datetime(clock))).ok_or_else(|| {
        fault("IMP-013", format!("\"{}\" has no time of day", short(&text)), "write it as 2026-07-03 05:40")
    })
}

/// Reads a time of day that stands in a cell of its own.
pub(super) fn read_clock_cell(cell: &Cell) -> Result<Time, Trouble> {
    let time = match cell {
        Cell::Moment(at) => Some(at.time()),
        Cell::Number(number) if (0.0..1.0).contains(number) => {
            moment_of_serial(SERIAL.start + number).map(DateTime::time)
        }
        other => read_clock(&other.text()),
    };
    time.ok_or_else(|| fault("IMP-013", format!("\"{}\" is no time of day", short(&cell.text())), "write it as 05:40"))
}

/// Which way degrees run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Axis {
    North,
    East,
}

/// Reads degrees: decimal, degrees and minutes, or degrees, minutes and seconds, with a sign or a letter.
///
/// # Errors
/// `IMP-017`.
pub(super) fn read_degrees(cell: &Cell, axis: Axis, west: bool) -> Result<f64, Trouble> {
    let bad = |why: &str| {
        fault(
            "IMP-017",
            format!("\"{}\" {why}", short(&cell.text())),
            "write degrees as 45.512 (west and south negative) or as 45°30'43\"N",
        )
    };
    let degrees = match cell {
        Cell::Number(number) => *number,
        Cell::Broken(sign) => return Err(broken(sign)),
        Cell::Text(text) => degrees_of(text, axis).ok_or_else(|| bad("is no degree"))?,
        Cell::Moment(_) | Cell::Truth(_) => return Err(bad("is no degree")),
    };
    let degrees = if west && degrees > 0.0 { -degrees } else { degrees };
    let most = if axis == Axis::North { 90.0 } else { 180.0 };
    if degrees.abs() <= most { Ok(degrees) } else { Err(bad("lies outside the globe")) }
}

fn degrees_of(text: &str, axis: Axis) -> Option<f64> {
    let mut sign = None;
    let mut numbers = String::new();
    let upper = text.trim().replace(['º', 'ª'], " ").to_uppercase().replace("NORTH", "N").replace("SOUTH", "S");
    let upper = upper.replace("WEST", "W").replace("EAST", "E");
    for letter in upper.chars() {
        match letter {
            'N' | 'S' if axis == Axis::North && sign.is_none() => sign = Some(if letter == 'N' { 1.0 } else { -1.0 }),
            // O stands for oeste and ouest.
            'E' | 'W' | 'O' if axis == Axis::East && sign.is_none() => {
                sign = Some(if letter == 'E' { 1.0 } else { -1.0 });
            }
            letter if letter.is_alphabetic() => return None,
            '0'..='9' | '.' | ',' | '-' | '−' => numbers.push(if letter == '−' { '-' } else { letter }),
            _ => numbers.push(' '),
        }
    }
    let parts: Option<Vec<f64>> =
        numbers.split_whitespace().map(|part| part.trim_end_matches(',').replace(',', ".").parse().ok()).collect();
    let (whole, broken) = match parts?.as_slice() {
        [degrees] => (*degrees, 0.0),
        [degrees, minutes] if (0.0..60.0).contains(minutes) && degrees.fract() == 0.0 => (*degrees, minutes / 60.0),
        [degrees, minutes, seconds]
            if (0.0..60.0).contains(minutes) && (0.0..=60.0).contains(seconds) && degrees.fract() == 0.0 =>
        {
            (*degrees, minutes / 60.0 + seconds / 3600.0)
        }
        _ => return None,
    };
    let negative = numbers.trim_start().starts_with('-');
    match (sign, negative) {
        // A minus and a letter together say one thing twice only for south and west.
        (Some(1.0), true) => None,
        (Some(sign), _) => Some(sign * (whole.abs() + broken)),
        (None, true) => Some(-(whole.abs() + broken)),
        (None, false) => Some(whole + broken),
    }
}

/// Reads both degrees of one cell: `45.5, -93.9`, `45°30'N 93°54'W`.
///
/// # Errors
/// `IMP-017`.
pub(super) fn read_place(cell: &Cell) -> Result<(f64, f64), Trouble> {
    let text = cell.text();
    let letter = text.char_indices().find(|(_, letter)| matches!(letter, 'N' | 'S' | 'n' | 's'));
    let halves: Vec<(&str, &str)> = match letter {
        Some((0, _)) => text.find(['W', 'E', 'O', 'w', 'e', 'o']).map(|at| text.split_at(at)).into_iter().collect(),
        Some((at, _)) => vec![text.split_at(at + 1)],
        None => [";", ", ", " ", ","].iter().filter_map(|mark| text.split_once(mark)).collect(),
    };
    let clean = |half: &str| Cell::Text(half.trim_matches([',', ';', ' ', '(', ')']).to_owned());
    let found = halves.into_iter().find_map(|(north, east)| {
        let north = read_degrees(&clean(north), Axis::North, false).ok()?;
        let east = read_degrees(&clean(east), Axis::East, false).ok()?;
        Some((north, east))
    });
    found.ok_or_else(|| {
        fault(
            "IMP-017",
            format!("\"{}\" is no place", short(&text)),
            "write latitude and longitude as 45.512, -93.901, or in two columns",
        )
    })
}

/// Reads yes or no in three languages.
///
/// # Errors
/// `YRD-004`.
pub(super) fn read_yes_no(cell: &Cell) -> Result<bool, Trouble> {
    match cell {
        Cell::Truth(truth) => return Ok(*truth),
        Cell::Broken(sign) => return Err(broken(sign)),
        _ => {}
    }
    match plain_letters(&cell.text()).as_str() {
        "yes" | "y" | "true" | "1" | "x" | "si" | "s" | "oui" | "o" | "bad" | "mala" | "malo" => Ok(true),
        "no" | "n" | "false" | "0" | "non" | "ok" | "good" => Ok(false),
        _ => Err(fault("YRD-004", format!("\"{}\" is neither yes nor no", short(&cell.text())), "write yes or no")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(text: &str) -> Cell {
        Cell::Text(text.to_owned())
    }

    fn number(from: &str, decimal: Option<Decimal>, whole: bool) -> Result<(f64, String), &'static str> {
        read_quantity(&text(from), Habits { decimal, dates: None }, whole).map_err(|trouble| trouble.code)
    }

    #[test]
    fn numbers_come_in_with_marks_and_units() {
        let cases = [
            ("1,200.5", None, 1200.5, ""),
            ("1.200,5", None, 1200.5, ""),
            ("1 200", None, 1200.0, ""),
            ("1\u{a0}200,25 kg", None, 1200.25, "kg"),
            ("1'200'000", None, 1_200_000.0, ""),
            ("12,5", None, 12.5, ""),
            ("0,125", None, 0.125, ""),
            ("34 lbs.", None, 34.0, "lbs."),
            ("-3.5", None, -3.5, ""),
            ("−2", None, -2.0, ""),
            ("1,200", Some(Decimal::Point), 1200.0, ""),
            ("1,200", Some(Decimal::Comma), 1.2, ""),
            ("1.200", Some(Decimal::Comma), 1200.0, ""),
            ("27°C", None, 27.0, "°C"),
        ];
        for (from, decimal, want, unit) in cases {
            let (got, rest) = number(from, decimal, false).unwrap();
            assert!((got - want).abs() < 1e-9 && rest == unit, "{from}: {got} {rest}");
        }
        assert_eq!(number("1,200", None, false), Err("IMP-014"));
        assert_eq!(number("1,200", None, true), Ok((1200.0, String::new())));
        assert_eq!(number("1.200", None, true), Ok((1200.0, String::new())));
        for (from, code) in [
            ("many", "IMP-011"),
            ("1,2,3", "IMP-011"),
            ("12-15", "IMP-011"),
            ("~30", "IMP-012"),
            ("30?", "IMP-012"),
            ("", "IMP-011"),
            ("1.2.3,4.5", "IMP-011"),
        ] {
            assert_eq!(number(from, None, false), Err(code), "{from}");
        }
    }

    #[test]
    fn the_decimal_mark_is_what_all_cells_agree_on() {
        let habit = |cells: &[&str]| decimal_habit(cells.iter().map(|cell| text(cell)).collect::<Vec<_>>().iter());
        assert_eq!(habit(&["1,200", "12,5"]), Some(Decimal::Comma));
        assert_eq!(habit(&["1,200", "12.5"]), Some(Decimal::Point));
        assert_eq!(habit(&["1,200,000"]), Some(Decimal::Point));
        assert_eq!(habit(&["1,200", "7"]), None);
        assert_eq!(habit(&["12,5", "12.5"]), None);
    }

    #[test]
    fn counts_are_whole_and_sensible() {
        let whole = |from: &str| read_whole(&text(from), Habits::default(), 2000).map_err(|trouble| trouble.code);
        assert_eq!(whole(" 26 "), Ok(26));
        assert_eq!(whole("26 hives"), Ok(26));
        assert_eq!(whole("26.0"), Ok(26));
        assert_eq!(whole("2.5"), Err("IMP-015"));
        assert_eq!(whole("-1"), Err("IMP-015"));
        assert_eq!(whole("2600"), Err("IMP-016"));
        assert_eq!(whole("26 (2 dead)"), Err("IMP-011"));
        assert_eq!(read_whole(&Cell::Broken("#REF!".into()), Habits::default(), 9).unwrap_err().code, "IMP-018");
    }

    #[test]
    fn days_come_in_many_forms() {
        let want = date(2026, 7, 3);
        let habits = Habits { decimal: None, dates: Some(DayOrder::DayFirst) };
        for from in [
            "2026-07-03",
            "3/7/2026",
            "03.07.26",
            "3-7-2026",
            "3 July 2026",
            "July 3, 2026",
            "3-jul-26",
            "3 de julio de 2026",
            "le 3 juillet 2026",
            "Fri 3 Jul 2026",
            "20260703",
            "2026/7/3",
            "3rd July 2026",
            "2026-07-03T05:40",
            "3/7/2026 5:40",
        ] {
            assert_eq!(read_day(&text(from), habits), Ok(want), "{from}");
        }
        assert_eq!(read_day(&Cell::Number(46206.0), Habits::default()), Ok(want));
        assert_eq!(read_day(&Cell::Number(20_260_703.0), Habits::default()), Ok(want));
        let code = |from: &str| read_day(&text(from), Habits::default()).map_err(|trouble| trouble.code);
        assert_eq!(code("3/7/2026"), Err("IMP-010"));
        assert_eq!(code("13/7/2026"), Ok(date(2026, 7, 13)));
        assert_eq!(code("7/13/2026"), Ok(date(2026, 7, 13)));
        assert_eq!(code("7/7/2026"), Ok(date(2026, 7, 7)));
        for from in ["31/6/2026", "13/13/2026", "soon", "3 July", "3/7", "1026-07-03", "Jul"] {
            assert_eq!(code(from), Err("IMP-013"), "{from}");
        }
    }

    #[test]
    fn the_order_of_days_is_what_the_column_shows() {
        let habit = |cells: &[&str]| day_habit(cells.iter().map(|cell| text(cell)).collect::<Vec<_>>().iter());
        assert_eq!(habit(&["3/7/2026", "13/7/2026"]), Some(DayOrder::DayFirst));
        assert_eq!(habit(&["3/7/2026", "7/13/26 5:40"]), Some(DayOrder::MonthFirst));
        assert_eq!(habit(&["3/7/2026", "2026-07-13"]), None);
        assert_eq!(habit(&["13/7/2026", "7/13/2026"]), None);
    }

    #[test]
    fn moments_have_a_clock() {
        let at = |from: &str| read_moment(&text(from), Habits { decimal: None, dates: Some(DayOrder::MonthFirst) });
        let want = date(2026, 7, 3).at(17, 40, 0, 0);
        for from in ["2026-07-03 17:40", "7/3/2026 5:40 PM", "2026-07-03T17:40:00", "3 Jul 2026 17:40"] {
            assert_eq!(at(from), Ok(Told::Local(want)), "{from}");
        }
        assert!(matches!(at("2026-07-03T17:40:00Z"), Ok(Told::Exact(_))));
        assert_eq!(at("2026-07-03").unwrap_err().code, "IMP-013");
        assert_eq!(at("2026-07-03 25:40").unwrap_err().code, "IMP-013");
        assert_eq!(read_clock_cell(&Cell::Number(0.25)).unwrap(), Time::constant(6, 0, 0, 0));
    }

    #[test]
    fn degrees_come_in_several_forms() {
        let close = |from: &str, axis, want: f64| {
            let got = read_degrees(&text(from), axis, false).unwrap();
            assert!((got - want).abs() < 1e-6, "{from}: {got}");
        };
        for from in
            ["45.5125", "45,5125", "45°30'45\"N", "45° 30.75' N", "N45 30 45", "45 30 45", "45.5125 n", "45º30′45″"]
        {
            close(from, Axis::North, 45.5125);
        }
        for from in ["-93.9", "93.9 W", "93°54'O", "-93 54", "W 93 54 00", "−93,9"] {
            close(from, Axis::East, -93.9);
        }
        assert!((read_degrees(&Cell::Number(93.9), Axis::East, true).unwrap() + 93.9).abs() < 1e-9);
        for (from, axis) in
            [("93.9 W", Axis::North), ("145.1", Axis::North), ("45 75", Axis::North), ("west", Axis::East)]
        {
            assert_eq!(read_degrees(&text(from), axis, false).unwrap_err().code, "IMP-017", "{from}");
        }
        for from in ["45.5, -93.9", "45.5 -93.9", "45,5; -93,9", "45°30'N 93°54'W", "N45.5 W93.9", "(45.5, -93.9)"] {
            let (north, east) = read_place(&text(from)).unwrap();
            assert!((north - 45.5).abs() < 1e-6 && (east + 93.9).abs() < 1e-6, "{from}: {north} {east}");
        }
        assert_eq!(read_place(&text("behind the mill")).unwrap_err().code, "IMP-017");
    }
}
