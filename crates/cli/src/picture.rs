//! The season of a yard as a picture: gain with its range, room and honey, clocks; 900 by 600.
//!
//! Colours are those of Okabe & Ito 2008 (`[OkabeIto2008]`), told apart by the colour-blind and in glare. What they say is said a
//! second time by shape, so that a grey print reads the same: ribbons are light, likely lines thick, room is dashed, the hand sum
//! is dotted and thin, seen nights are dots, brood clocks are full bars, the fill clock is a framed one with a diamond.

use jiff::civil::Date;
use outyard_app::season_picture::{BloomBar, DayDates, DayRange, DayValue, PutDownPicture, SeasonPicture};
use outyard_base::days::plus_days;
use outyard_base::range::day_month;
use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::drawing::DrawingAreaErrorKind;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

const BLUE: RGBColor = RGBColor(0, 114, 178);
const SKY: RGBColor = RGBColor(86, 180, 233);
const GREEN: RGBColor = RGBColor(0, 158, 115);
const ORANGE: RGBColor = RGBColor(230, 159, 0);
const VERMILLION: RGBColor = RGBColor(213, 94, 0);
const PURPLE: RGBColor = RGBColor(204, 121, 167);
const INK: RGBColor = RGBColor(0, 0, 0);
const PALE: RGBColor = RGBColor(216, 216, 216);

/// Size of the picture.
pub(crate) const SIZE: (u32, u32) = (900, 600);

/// Left and right edge of all panels.
const EDGES: (i32, i32) = (118, 884);
/// Top and bottom of the panels.
const GAIN: (i32, i32) = (84, 268);
const ROOM: (i32, i32) = (296, 414);
const CLOCKS: (i32, i32) = (432, 566);
/// Width of a letter of the small print, more or less.
const LETTER_WIDE: i32 = 7;
/// Most plants that get a bar.
const PLANTS_DRAWN: usize = 4;

type Root<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Panel<'a> = DrawingArea<SVGBackend<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;
type Drawn = Result<(), DrawingAreaErrorKind<std::io::Error>>;

/// Draws a season as SVG.
pub(crate) fn draw(season: &SeasonPicture) -> String {
    let mut svg = String::new();
    {
        let root = SVGBackend::with_string(&mut svg, SIZE).into_drawing_area();
        draw_on(&root, season).expect("a picture drawn in memory has nowhere to fail");
    }
    svg
}

fn draw_on(root: &Root<'_>, season: &SeasonPicture) -> Drawn {
    root.fill(&WHITE)?;
    head(root, season)?;
    let most = season.ahead_kg_per_day.iter().map(|day| day.value.high);
    let most = most.chain(season.seen_kg_per_day.iter().map(|day| day.value)).fold(2.0, f64::max);
    let least = season.ahead_kg_per_day.iter().map(|day| day.value.low);
    let least = least.chain(season.seen_kg_per_day.iter().map(|day| day.value)).fold(-0.5, f64::min);
    let gain = panel(root, season, GAIN, (least.floor().max(-4.0), most.ceil().min(14.0)));
    grid(root, season, &gain, GAIN, "kg a day", "gain of a strong colony")?;
    draw_gain(root, &gain, season)?;
    let room_most = season
        .put_downs
        .iter()
        .flat_map(|round| [&round.room_kg, &round.held_kg, &round.by_hand.room_kg])
        .flat_map(|days| days.iter().map(|day| day.value))
        .fold(20.0, f64::max);
    let room = panel(root, season, ROOM, (0.0, (room_most * 1.25 / 10.0).ceil() * 10.0));
    grid(root, season, &room, ROOM, "kg a colony", "room and honey above the excluder")?;
    draw_room(root, &room, season)?;
    let clocks = panel(root, season, CLOCKS, (0.0, 1.0));
    draw_clocks(root, &clocks, season)?;
    axis(root, season, &clocks)?;
    today_line(root, season, &gain)?;
    root.present()
}

fn panel<'a>(root: &Root<'a>, season: &SeasonPicture, edges: (i32, i32), values: (f64, f64)) -> Panel<'a> {
    let days = 0.0..at(season.last);
    root.apply_coord_spec(Cartesian2d::new(days, values.0..values.1, (EDGES.0..EDGES.1, edges.1..edges.0)))
}

#[expect(clippy::cast_precision_loss, reason = "days of one season")]
fn at(day: i64) -> f64 {
    day as f64
}

fn first_date(season: &SeasonPicture) -> Date {
    season.first.parse().expect("the picture was made with a date")
}

fn said(season: &SeasonPicture, day: i64) -> String {
    day_month(plus_days(first_date(season), day))
}

fn text(root: &Root<'_>, words: &str, place: (i32, i32), size: u32, stands: (HPos, VPos)) -> Drawn {
    let style = ("sans-serif", size).into_font().color(&INK).pos(Pos::new(stands.0, stands.1));
    root.draw(&Text::new(words.to_owned(), place, style))
}

/// Title, and what each sign means.
fn head(root: &Root<'_>, season: &SeasonPicture) -> Drawn {
    let name = if season.name.is_empty() { String::new() } else { format!(", {}", season.name) };
    let title = format!("Yard {}{name}: the season on {}", season.yard, said(season, season.today));
    let style = ("sans-serif", 20).into_font().style(FontStyle::Bold).color(&INK);
    root.draw(&Text::new(title, (14, 10), style))?;
    let by = format!("nights: {}", season.seen_by);
    text(root, &by, (EDGES.1, 16), 13, (HPos::Right, VPos::Top))?;
    let (top, middle, bottom) = (42, 49, 56);
    let mut left = 14;
    let mut label = |words: &str, width: i32| -> Result<i32, DrawingAreaErrorKind<std::io::Error>> {
        text(root, words, (left + 32, middle), 13, (HPos::Left, VPos::Center))?;
        let here = left;
        left += width;
        Ok(here)
    };
    let here = label("night seen", 112)?;
    root.draw(&Circle::new((here + 14, middle), 3, INK.filled()))?;
    let here = label("gain, 8 in 10", 132)?;
    root.draw(&Rectangle::new([(here, top), (here + 28, bottom)], SKY.mix(0.45).filled()))?;
    root.draw(&PathElement::new(vec![(here, middle), (here + 28, middle)], BLUE.stroke_width(3)))?;
    let here = label("honey, 8 in 10", 140)?;
    root.draw(&Rectangle::new([(here, top), (here + 28, bottom)], ORANGE.mix(0.45).filled()))?;
    root.draw(&PathElement::new(vec![(here, middle), (here + 28, middle)], VERMILLION.stroke_width(3)))?;
    let here = label("room", 80)?;
    for dash in [0, 11, 22] {
        let points = vec![(here + dash, middle), (here + dash + 7, middle)];
        root.draw(&PathElement::new(points, GREEN.stroke_width(3)))?;
    }
    let here = label("by hand", 94)?;
    for dot in 0..5 {
        let points = vec![(here + 6 * dot, middle), (here + 6 * dot + 2, middle)];
        root.draw(&PathElement::new(points, INK.stroke_width(1)))?;
    }
    let here = label("brood clock, fixed", 158)?;
    root.draw(&Rectangle::new([(here, top + 2), (here + 28, bottom - 2)], GREEN.filled()))?;
    let here = label("boxes full, moves", 0)?;
    full_bar(root, (here, here + 28), Some(here + 14), middle)
}

/// The fill clock: a framed bar with a diamond on the likely day.
fn full_bar(root: &Root<'_>, ends: (i32, i32), likely: Option<i32>, middle: i32) -> Drawn {
    let corners = [(ends.0, middle - 6), (ends.1.max(ends.0 + 3), middle + 6)];
    root.draw(&Rectangle::new(corners, ORANGE.mix(0.45).filled()))?;
    root.draw(&Rectangle::new(corners, VERMILLION.stroke_width(2)))?;
    let Some(x) = likely else { return Ok(()) };
    let diamond = vec![(x, middle - 7), (x + 7, middle), (x, middle + 7), (x - 7, middle)];
    root.draw(&Polygon::new(diamond, VERMILLION.filled()))
}

/// Days of the picture that are Mondays.
fn mondays(season: &SeasonPicture) -> impl Iterator<Item = i64> {
    let first = first_date(season);
    (0..=season.last).filter(move |day| plus_days(first, *day).weekday() == jiff::civil::Weekday::Monday)
}

/// Week lines, value lines and names of a panel.
fn grid(
    root: &Root<'_>,
    season: &SeasonPicture,
    panel: &Panel<'_>,
    edges: (i32, i32),
    unit: &str,
    title: &str,
) -> Drawn {
    let values = panel.get_y_range();
    for day in mondays(season) {
        let line = vec![(at(day), values.start), (at(day), values.end)];
        panel.draw(&PathElement::new(line, PALE.stroke_width(1)))?;
    }
    let step = step_of(values.end - values.start);
    let mut value = (values.start / step).ceil() * step;
    while value <= values.end {
        let y = panel.map_coordinate(&(0.0, value)).1;
        let style = if value.abs() < 1e-9 { INK.stroke_width(1) } else { PALE.stroke_width(1) };
        root.draw(&PathElement::new(vec![(EDGES.0, y), (EDGES.1, y)], style))?;
        // No nought below nought.
        let words = format!("{}", value + 0.0);
        text(root, &words, (EDGES.0 - 8, y), 13, (HPos::Right, VPos::Center))?;
        value += step;
    }
    text(root, unit, (14, edges.0 - 2), 13, (HPos::Left, VPos::Top))?;
    text(root, title, (EDGES.0, edges.0 - 4), 14, (HPos::Left, VPos::Bottom))
}

/// A round step that cuts a span into three to six.
fn step_of(span: f64) -> f64 {
    [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0].into_iter().find(|step| span / step <= 6.5).unwrap_or(100.0)
}

/// A light ribbon from low to high, and a thick line of the likely.
fn ribbon(panel: &Panel<'_>, days: &[DayRange], light: RGBColor, dark: RGBColor) -> Drawn {
    let values = panel.get_y_range();
    let within = |value: f64| value.clamp(values.start, values.end);
    let point = |value: fn(&DayRange) -> f64| move |day: &DayRange| (at(day.day), within(value(day)));
    let upper = days.iter().map(point(|day| day.value.high));
    let lower = days.iter().rev().map(point(|day| day.value.low));
    panel.draw(&Polygon::new(upper.chain(lower).collect::<Vec<_>>(), light.mix(0.45).filled()))?;
    let likely: Vec<(f64, f64)> = days.iter().map(point(|day| day.value.likely)).collect();
    panel.draw(&PathElement::new(likely, dark.stroke_width(3)))
}

fn draw_gain(root: &Root<'_>, panel: &Panel<'_>, season: &SeasonPicture) -> Drawn {
    ribbon(panel, &season.ahead_kg_per_day, SKY, BLUE)?;
    let threshold = season.threshold_kg_per_day;
    let line = [(0.0, threshold), (at(season.last), threshold)];
    for dash in DashedLineSeries::new(line, 3, 4, INK.stroke_width(1)) {
        panel.draw(&dash)?;
    }
    let words = format!("flow counts from {threshold} kg");
    let place = panel.map_coordinate(&(0.0, threshold));
    text(root, &words, (place.0 + 6, place.1 - 4), 13, (HPos::Left, VPos::Bottom))?;
    let values = panel.get_y_range();
    for night in &season.seen_kg_per_day {
        let value = night.value.clamp(values.start, values.end);
        panel.draw(&Circle::new((at(night.day), value), 3, INK.filled()))?;
    }
    // Each on a line of its own: a short flow's begin and end stand close.
    for (dates, words, top) in [(&season.flow_begins, "begins", GAIN.0 + 2), (&season.flow_ends, "ends", GAIN.0 + 18)] {
        let Some(likely) = dates.likely.filter(|day| (0..=season.last).contains(day)) else { continue };
        let x = panel.map_coordinate(&(at(likely), 0.0)).0;
        root.draw(&PathElement::new(vec![(x, top), (x, top + 14)], BLUE.stroke_width(3)))?;
        let words = format!("flow {words} {}", range_words(season, dates));
        // To the right of its day as long as it fits there: to the left it would run across this morning's line.
        let wide = i32::try_from(words.len()).unwrap_or(0) * LETTER_WIDE;
        let stands = if x + 5 + wide > EDGES.1 { HPos::Right } else { HPos::Left };
        let beside = if matches!(stands, HPos::Right) { x - 5 } else { x + 5 };
        text(root, &words, (beside, top), 13, (stands, VPos::Top))?;
    }
    Ok(())
}

/// `12 Aug (5 Aug to 21 Aug)`.
fn range_words(season: &SeasonPicture, dates: &DayDates) -> String {
    let day = |day: Option<i64>| day.map(|day| said(season, day));
    match (day(dates.early), day(dates.likely), day(dates.late)) {
        (Some(early), Some(likely), Some(late)) if early == late => likely,
        (Some(early), Some(likely), Some(late)) => format!("{likely} ({early} to {late})"),
        (Some(early), Some(likely), None) => format!("{likely} ({early} or much later)"),
        (Some(early), None, _) => format!("perhaps, not before {early}"),
        _ => "not in sight".to_owned(),
    }
}

fn draw_room(root: &Root<'_>, panel: &Panel<'_>, season: &SeasonPicture) -> Drawn {
    let values = panel.get_y_range();
    let within = |value: f64| value.clamp(values.start, values.end);
    let Some(round) = season.put_downs.last() else {
        let middle = (i32::midpoint(EDGES.0, EDGES.1), i32::midpoint(ROOM.0, ROOM.1));
        return text(root, "no colony is put down yet", middle, 15, (HPos::Center, VPos::Center));
    };
    ribbon(panel, &round.held_ahead_kg, ORANGE, VERMILLION)?;
    dotted(panel, &round.by_hand.held_kg)?;
    dotted(panel, &round.by_hand.room_kg)?;
    let held: Vec<(f64, f64)> = round.held_kg.iter().map(|day| (at(day.day), within(day.value))).collect();
    panel.draw(&PathElement::new(held, VERMILLION.stroke_width(3)))?;
    let room: Vec<(f64, f64)> = round.room_kg.iter().map(|day| (at(day.day), within(day.value))).collect();
    for dash in DashedLineSeries::new(room, 9, 5, GREEN.stroke_width(3)) {
        panel.draw(&dash)?;
    }
    let words =
        format!("{} put down {}; full {}", round.colonies, said(season, round.day0), range_words(season, &round.full));
    text(root, &words, (EDGES.1, ROOM.0 - 4), 14, (HPos::Right, VPos::Bottom))
}

/// A thin dotted line: what a pencil would have.
fn dotted(panel: &Panel<'_>, days: &[DayValue]) -> Drawn {
    let values = panel.get_y_range();
    let points: Vec<(f64, f64)> = days
        .iter()
        .filter(|day| day.value <= values.end)
        .map(|day| (at(day.day), day.value.max(values.start)))
        .collect();
    for dot in DashedLineSeries::new(points, 2, 4, INK.stroke_width(1)) {
        panel.draw(&dot)?;
    }
    Ok(())
}

/// One row for each plant and two for each put-down: brood clock and fill clock.
fn draw_clocks(root: &Root<'_>, panel: &Panel<'_>, season: &SeasonPicture) -> Drawn {
    let x = |day: i64| panel.map_coordinate(&(at(day.clamp(0, season.last)), 0.0)).0;
    for day in mondays(season) {
        root.draw(&PathElement::new(vec![(x(day), CLOCKS.0), (x(day), CLOCKS.1)], PALE.stroke_width(1)))?;
    }
    let mut top = CLOCKS.0 + 2;
    for round in &season.put_downs {
        brood_row(root, season, round, top, &x)?;
        top += 40;
        if round.full.early.is_some_and(|day| day <= season.last) {
            let late = round.full.late.unwrap_or(season.last);
            let likely = round.full.likely.filter(|day| *day <= season.last).map(x);
            full_bar(root, (x(round.full.early.unwrap_or(0)), x(late)), likely, top + 8)?;
        }
        text(root, "boxes full", (EDGES.0 - 8, top + 8), 13, (HPos::Right, VPos::Center))?;
        top += 20;
    }
    let mut plants: Vec<&BloomBar> = season.bloom.iter().filter(|bloom| on_picture(bloom, season)).collect();
    plants.sort_by_key(|bloom| bloom.first.likely);
    let places = usize::try_from((CLOCKS.1 - top) / 15).unwrap_or(0).min(PLANTS_DRAWN);
    for bloom in plants.into_iter().take(places) {
        let (from, to) = (bloom.first.likely.unwrap_or(0), bloom.end.likely.unwrap_or(season.last));
        root.draw(&Rectangle::new([(x(from), top + 3), (x(to), top + 11)], PURPLE.mix(0.7).filled()))?;
        text(root, &short(&bloom.plant), (EDGES.0 - 8, top + 7), 12, (HPos::Right, VPos::Center))?;
        top += 15;
    }
    Ok(())
}

/// A name that fits beside the bars.
fn short(name: &str) -> String {
    const LETTERS: usize = 17;
    if name.chars().count() <= LETTERS {
        name.to_owned()
    } else {
        name.chars().take(LETTERS - 1).chain(['.']).collect()
    }
}

/// Whether some of the likely bloom falls into the picture.
fn on_picture(bloom: &BloomBar, season: &SeasonPicture) -> bool {
    bloom.first.likely.is_some_and(|first| first < season.last) && bloom.end.likely.is_none_or(|end| end > 0)
}

fn brood_row(
    root: &Root<'_>,
    season: &SeasonPicture,
    round: &PutDownPicture,
    top: i32,
    x: &impl Fn(i64) -> i32,
) -> Drawn {
    let label = format!("brood of {}", said(season, round.day0));
    text(root, &label, (EDGES.0 - 8, top + 18), 13, (HPos::Right, VPos::Center))?;
    root.draw(&PathElement::new(vec![(x(round.day0), top + 10), (x(round.day0), top + 26)], INK.stroke_width(2)))?;
    for (number, clock) in round.clocks.iter().filter(|clock| clock.from <= season.last).enumerate() {
        let ends = (x(clock.from), x(clock.to.unwrap_or(clock.best).max(clock.from)) + 6);
        root.draw(&Rectangle::new([(ends.0, top + 13), (ends.1, top + 23)], GREEN.filled()))?;
        // In turn above and below, or the names would run into each other.
        let (y, stands) = if number % 2 == 0 { (top + 12, VPos::Bottom) } else { (top + 24, VPos::Top) };
        let words = format!("{} {}", short_mark(clock.code, clock.name), said(season, clock.best));
        text(root, &words, (ends.0, y), 11, (HPos::Left, stands))?;
    }
    Ok(())
}

fn short_mark<'a>(code: &str, name: &'a str) -> &'a str {
    match code {
        "egg-test" => "eggs",
        "cell-look" => "cells",
        "open-worker-test" => "open brood",
        "workers-out" => "workers out",
        "drones-out" => "drones out",
        _ => name,
    }
}

/// Dates of the Mondays under the last panel.
fn axis(root: &Root<'_>, season: &SeasonPicture, panel: &Panel<'_>) -> Drawn {
    root.draw(&PathElement::new(vec![(EDGES.0, CLOCKS.1), (EDGES.1, CLOCKS.1)], INK.stroke_width(1)))?;
    for day in mondays(season) {
        let x = panel.map_coordinate(&(at(day), 0.0)).0;
        root.draw(&PathElement::new(vec![(x, CLOCKS.1), (x, CLOCKS.1 + 5)], INK.stroke_width(1)))?;
        text(root, &said(season, day), (x, CLOCKS.1 + 8), 13, (HPos::Center, VPos::Top))?;
    }
    Ok(())
}

/// This morning, through all panels.
fn today_line(root: &Root<'_>, season: &SeasonPicture, panel: &Panel<'_>) -> Drawn {
    let x = panel.map_coordinate(&(at(season.today), 0.0)).0;
    root.draw(&PathElement::new(vec![(x, GAIN.0 - 6), (x, CLOCKS.1)], INK.stroke_width(2)))?;
    text(root, "today", (x + 5, GAIN.0 - 4), 14, (HPos::Left, VPos::Bottom))
}

#[cfg(test)]
mod tests {
    use super::*;
    use outyard_app::season_picture::{ClockBar, HandPicture};
    use outyard_app::views::RangeView;

    fn dates(early: i64, likely: i64, late: i64) -> DayDates {
        DayDates { early: Some(early), likely: Some(likely), late: Some(late) }
    }

    /// A season of 40 days, this morning on day 10, put down on day 8.
    fn season() -> SeasonPicture {
        let range = |day: i64, likely: f64| DayRange {
            day,
            value: RangeView { low: likely - 0.5, likely, high: likely + 1.0 },
        };
        SeasonPicture {
            yard: "7".to_owned(),
            name: "Mill".to_owned(),
            first: "2026-06-23".to_owned(),
            today: 10,
            last: 40,
            threshold_kg_per_day: 1.0,
            seen_kg_per_day: (0..10).map(|day| DayValue { day, value: 0.2 * at(day) }).collect(),
            seen_by: "its own scale".to_owned(),
            ahead_kg_per_day: (10..=40).map(|day| range(day, 3.0 - 0.1 * at(day - 10))).collect(),
            flow_begins: dates(5, 6, 7),
            flow_ends: dates(28, 30, 33),
            bloom: vec![BloomBar { plant: "white clover".to_owned(), first: dates(2, 4, 6), end: dates(30, 33, 38) }],
            put_downs: vec![PutDownPicture {
                colonies: "26 double".to_owned(),
                day0: 8,
                room_kg: (8..=40).map(|day| DayValue { day, value: 24.0 + at((day - 8).min(21)) }).collect(),
                held_kg: vec![DayValue { day: 8, value: 0.0 }, DayValue { day: 10, value: 3.5 }],
                held_ahead_kg: (10..=40).map(|day| range(day, 3.5 + 1.5 * at(day - 10))).collect(),
                full: dates(24, 27, 31),
                by_hand: HandPicture {
                    room_kg: (8..=40).map(|day| DayValue { day, value: 26.0 + at((day - 8).min(21)) }).collect(),
                    held_kg: (8..=40).map(|day| DayValue { day, value: 1.4 * at(day - 8) }).collect(),
                    full: dates(25, 28, 32),
                },
                clocks: vec![
                    ClockBar { code: "egg-test", name: "egg test", from: 12, best: 12, to: None },
                    ClockBar { code: "cell-look", name: "look for queen cells", from: 15, best: 16, to: Some(17) },
                ],
            }],
        }
    }

    /// Points of the lines in a colour, in pixels.
    fn lines(svg: &str, colour: &str) -> Vec<Vec<(f64, f64)>> {
        svg.split("<polyline")
            .skip(1)
            .filter(|element| element.contains(colour))
            .map(|element| {
                let points = element.split("points=\"").nth(1).unwrap().split('"').next().unwrap();
                let point = |pair: &str| pair.split_once(',').map(|(x, y)| (x.parse().unwrap(), y.parse().unwrap()));
                points.split_whitespace().filter_map(point).collect()
            })
            .collect()
    }

    fn texts(svg: &str) -> Vec<String> {
        svg.split("<text")
            .skip(1)
            .map(|element| element.split_once('>').unwrap().1.split("</text>").next().unwrap().trim().to_owned())
            .collect()
    }

    // What is drawn is what was given: the likely gain, read back from its pixels by the two ends of the scale.
    #[test]
    fn the_lines_are_the_values() {
        let season = season();
        let svg = draw(&season);
        let likely = lines(&svg, "#0072B2").into_iter().max_by_key(Vec::len).unwrap();
        assert_eq!(likely.len(), 31);
        // The panel goes from -1 to 4 kg over its height, 0 to 40 days over its width.
        let kg = |y: f64| 4.0 - 5.0 * (y - f64::from(GAIN.0)) / f64::from(GAIN.1 - GAIN.0);
        let day = |x: f64| 40.0 * (x - f64::from(EDGES.0)) / f64::from(EDGES.1 - EDGES.0);
        for ((x, y), given) in likely.iter().zip(&season.ahead_kg_per_day) {
            assert!((day(*x) - at(given.day)).abs() < 0.06, "{x}");
            assert!((kg(*y) - given.value.likely).abs() < 0.03, "{y}: {given:?}");
        }
        let dots = svg.matches("<circle").count();
        assert_eq!(dots, 10 + 1, "a dot for each night and one in the legend");
        let held = lines(&svg, "#D55E00").into_iter().max_by_key(Vec::len).unwrap();
        assert_eq!(held.len(), 31);
        let rise = held[0].1 - held[10].1;
        // 15 kg of 60 on a panel 118 high.
        assert!((rise - 15.0 / 60.0 * 118.0).abs() < 1.5, "{rise}");
    }

    #[test]
    fn the_picture_has_its_parts() {
        let svg = draw(&season());
        assert!(svg.starts_with("<svg width=\"900\" height=\"600\""), "{}", &svg[..80]);
        assert_eq!(
            texts(&svg),
            [
                "Yard 7, Mill: the season on 3 Jul",
                "nights: its own scale",
                "night seen",
                "gain, 8 in 10",
                "honey, 8 in 10",
                "room",
                "by hand",
                "brood clock, fixed",
                "boxes full, moves",
                "-1",
                "0",
                "1",
                "2",
                "3",
                "4",
                "kg a day",
                "gain of a strong colony",
                "flow counts from 1 kg",
                "flow begins 29 Jun (28 Jun to 30 Jun)",
                "flow ends 23 Jul (21 Jul to 26 Jul)",
                "0",
                "10",
                "20",
                "30",
                "40",
                "50",
                "60",
                "kg a colony",
                "room and honey above the excluder",
                "26 double put down 1 Jul; full 20 Jul (17 Jul to 24 Jul)",
                "brood of 1 Jul",
                "eggs 5 Jul",
                "cells 9 Jul",
                "boxes full",
                "white clover",
                "29 Jun",
                "6 Jul",
                "13 Jul",
                "20 Jul",
                "27 Jul",
                "today",
            ]
        );
    }

    #[test]
    fn a_yard_with_nothing_put_down_has_a_picture_too() {
        let mut season = season();
        season.put_downs.clear();
        season.name = "Cut & <Dry>".to_owned();
        let svg = draw(&season);
        assert!(texts(&svg).iter().any(|words| words == "no colony is put down yet"));
        assert!(svg.contains("Cut &amp; &lt;Dry&gt;"), "names are words, not marks");
    }
}
