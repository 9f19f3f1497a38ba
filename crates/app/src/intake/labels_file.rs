//! Labels of what happened at hives on scales, to score the scale reader against.

use jiff::Timestamp;
use jiff::civil::Time;
use jiff::tz::TimeZone;
use outyard_base::Trouble;
use outyard_season::scale::ChangeKind;
use outyard_season::scale::score::{Label, LabelKind};

use super::scale_file::{read_time, with_timestamp};
use super::table::{ColumnMap, ColumnRule, Faults, Row, Table, read_number};

/// What a table of labels may hold.
pub const COLUMNS: &[ColumnRule] = &[
    ColumnRule { name: "series", meaning: "name of the series, the beginning of its file's name", needed: true },
    ColumnRule { name: "time", meaning: "when it happened or began", needed: true },
    ColumnRule { name: "until", meaning: "when it was over", needed: false },
    ColumnRule { name: "kind", meaning: "what happened", needed: true },
    ColumnRule { name: "kg", meaning: "kilograms put on, or taken off with a minus", needed: false },
    ColumnRule { name: "confidence", meaning: "high, medium or low", needed: false },
    ColumnRule { name: "note", meaning: "anything worth adding", needed: false },
];

/// Most a label may say was put on or taken off, kg. Assumed.
const LABEL_KG_MOST: f64 = 400.0;

/// Words for what happened.
const KINDS: [(&str, LabelKind); 20] = [
    ("box-on", LabelKind::Lasting(ChangeKind::BoxOn)),
    ("box_added", LabelKind::Lasting(ChangeKind::BoxOn)),
    ("box-off", LabelKind::Lasting(ChangeKind::BoxOff)),
    ("box_removed", LabelKind::Lasting(ChangeKind::BoxOff)),
    ("pull", LabelKind::Lasting(ChangeKind::Pull)),
    ("harvest", LabelKind::Lasting(ChangeKind::Pull)),
    ("feed", LabelKind::Lasting(ChangeKind::Feed)),
    ("feeding", LabelKind::Lasting(ChangeKind::Feed)),
    ("swarm", LabelKind::Lasting(ChangeKind::Swarm)),
    ("rezero", LabelKind::Lasting(ChangeKind::Rezero)),
    ("tare", LabelKind::Lasting(ChangeKind::Rezero)),
    ("inspection", LabelKind::Inspection),
    ("work-that-returned", LabelKind::Inspection),
    ("flow-begins", LabelKind::FlowBegins),
    ("flow_start", LabelKind::FlowBegins),
    ("flow-ends", LabelKind::FlowEnds),
    ("flow_end", LabelKind::FlowEnds),
    ("fault", LabelKind::Fault),
    ("sensor_fault", LabelKind::Fault),
    ("gap", LabelKind::Fault),
];

/// The labels of one series.
#[derive(Clone, Debug, PartialEq)]
pub struct SeriesLabels {
    /// Name of the series.
    pub series: String,
    /// Its labels in the order of the file.
    pub labels: Vec<Label>,
}

/// Reads a table of labels, by series in the order of the file. A time without an offset is taken on the clock `zone`. A
/// confidence left empty is high. A note that begins with "transient until" and a time of day counts as `until`.
///
/// # Errors
/// All faults at once: those of the table and its cells, `SCL-002` a time, `SCL-007` a kind not known, `SCL-008` a
/// confidence not known, `SCL-009` an end before its begin, `SCL-010` kilograms that do not fit their kind.
pub fn read_labels(
    file: &str,
    text: &str,
    map: &ColumnMap,
    zone: &TimeZone,
) -> Result<Vec<SeriesLabels>, Vec<Trouble>> {
    let table = Table::read(file, text, COLUMNS, &with_timestamp(text, map))?;
    let mut faults = Faults::default();
    let mut all: Vec<SeriesLabels> = Vec::new();
    for row in table.rows() {
        let series = faults.keep(row.needed("series"));
        let label = faults.keep(read_label(row, zone));
        let (Some(series), Some(label)) = (series, label) else { continue };
        match all.iter_mut().find(|known| known.series == series) {
            Some(known) => known.labels.push(label),
            None => all.push(SeriesLabels { series: series.to_owned(), labels: vec![label] }),
        }
    }
    faults.or(all)
}

fn read_label(row: Row<'_>, zone: &TimeZone) -> Result<Label, Trouble> {
    let at = row.read("time", |text| read_time(text, zone))?;
    let kind = row.read("kind", read_kind)?;
    let sure = row.read_if_any("confidence", read_sure)?.unwrap_or(true);
    let kg = row.read_if_any("kg", read_number)?;
    let until = row.read_if_any("until", |text| read_time(text, zone))?;
    let until = until.or_else(|| transient_until(row.text("note")?, at, zone)).unwrap_or(at);
    if until < at {
        return Err(Trouble::new("SCL-009", "it is over before it begins", "see time and until")
            .at(row.spot(if row.text("until").is_some() { "until" } else { "time" })));
    }
    let fits = kg.is_none_or(|kg| match kind {
        _ if kg.abs() > LABEL_KG_MOST => false,
        LabelKind::Lasting(ChangeKind::BoxOn | ChangeKind::Feed) => kg > 0.0,
        LabelKind::Lasting(ChangeKind::BoxOff | ChangeKind::Pull | ChangeKind::Swarm) => kg < 0.0,
        _ => true,
    });
    if !fits {
        return Err(Trouble::new(
            "SCL-010",
            "the kilograms do not fit what happened",
            "what was put on is above nought, what was taken off or left is below",
        )
        .at(row.spot("kg")));
    }
    Ok(Label { at, until, kind, kg, sure })
}

fn read_kind(text: &str) -> Result<LabelKind, Trouble> {
    let word = text.trim().to_ascii_lowercase();
    KINDS.iter().find(|(known, _)| *known == word).map(|(_, kind)| *kind).ok_or_else(|| {
        Trouble::new(
            "SCL-007",
            format!("\"{}\" is not known as something that happens", word.chars().take(40).collect::<String>()),
            format!("the words are: {}", KINDS.map(|(known, _)| known).join(", ")),
        )
    })
}

fn read_sure(text: &str) -> Result<bool, Trouble> {
    match text.trim().to_ascii_lowercase().as_str() {
        "high" => Ok(true),
        "medium" | "low" => Ok(false),
        other => Err(Trouble::new(
            "SCL-008",
            format!("\"{}\" is no confidence", other.chars().take(40).collect::<String>()),
            "write high, medium or low; only high is scored",
        )),
    }
}

/// The end told in a note as `transient until 08:10`, on the day of its begin.
fn transient_until(note: &str, at: Timestamp, zone: &TimeZone) -> Option<Timestamp> {
    let rest = note.trim().strip_prefix("transient until ")?;
    let time: Time = rest.get(..5)?.parse().ok()?;
    zone.to_timestamp(zone.to_datetime(at).date().to_datetime(time)).ok().filter(|until| *until >= at)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Vec<SeriesLabels>, Vec<Trouble>> {
        read_labels("labels.csv", text, &ColumnMap::new(), &TimeZone::UTC)
    }

    #[test]
    fn labels_come_by_series_with_their_ends() {
        let text = "series,timestamp,kind,kg,confidence,note\n\
            a,2026-06-01T08:30,box_added,6.5,high,\n\
            b,2026-06-02T09:00,inspection,0,,\"transient until 09:45; all put back\"\n\
            a,2026-06-03T08:30,flow_start,,low,\n";
        let all = read(text).unwrap();
        assert_eq!(all.iter().map(|one| one.series.as_str()).collect::<Vec<_>>(), ["a", "b"]);
        assert_eq!(all[0].labels[0].kind, LabelKind::Lasting(ChangeKind::BoxOn));
        assert_eq!((all[0].labels[0].kg, all[0].labels[0].sure, all[0].labels[1].sure), (Some(6.5), true, false));
        assert_eq!((all[1].labels[0].until - all[1].labels[0].at).as_mins(), 45);
        let ours = "series,time,until,kind,kg\nc,2026-06-01 08:30,2026-06-01 09:00,pull,-20\n";
        let label = read(ours).unwrap()[0].labels[0];
        assert_eq!((label.until - label.at).as_mins(), 30);
    }

    #[test]
    fn bad_cells_are_told_with_their_place() {
        let cases = [
            ("a,2026-06-01T08:30,,honey,1,high", "SCL-007", "kind"),
            ("a,2026-06-01T08:30,,box-on,1,sure", "SCL-008", "confidence"),
            ("a,2026-06-01T08:30,2026-06-01T08:00,box-on,1,high", "SCL-009", "until"),
            ("a,2026-06-01T08:30,,box-on,-1,high", "SCL-010", "kg"),
            ("a,2026-06-01T08:30,,swarm,2,high", "SCL-010", "kg"),
            ("a,2026-06-01T08:30,,rezero,900,high", "SCL-010", "kg"),
            ("a,June,,box-on,1,high", "SCL-002", "time"),
            ("a,2026-06-01T08:30,,box-on,much,high", "TAB-008", "kg"),
            (",2026-06-01T08:30,,box-on,1,high", "TAB-007", "series"),
        ];
        for (row, code, column) in cases {
            let faults = read(&format!("series,time,until,kind,kg,confidence\n{row}\n")).unwrap_err();
            assert_eq!((faults.len(), faults[0].code), (1, code), "{row}: {faults:?}");
            let place = faults[0].place.as_ref().unwrap();
            assert_eq!((place.line, place.column.as_deref()), (Some(2), Some(column)), "{row}");
        }
    }
}
