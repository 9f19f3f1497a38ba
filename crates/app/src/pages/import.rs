//! A workbook before it is taken in: which column is taken for which, and what of it is new in the book.

use std::collections::BTreeMap;

use outyard_base::{Trouble, YardId};
use serde::Serialize;

use crate::intake::workbook::against::Against;
use crate::intake::workbook::grid::{Grid, column_letters};
use crate::intake::workbook::propose::{DOUBTFUL_BELOW, SheetMapping};
use crate::intake::workbook::take::{Known, Taken, take_in};
use crate::pages::book::{fact_in_words, yard_of};
use crate::situation::Situation;

/// Rows shown of what would come in. Assumed: enough to see whether the columns are right.
const FIRST_ROWS: usize = 8;

/// A column and what it is taken for.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ColumnView {
    /// The field.
    pub field: String,
    /// What the field is, in words.
    pub said: String,
    /// Letters of the column.
    pub column: String,
    /// What stands over it.
    pub header: String,
    /// Unit of its numbers.
    pub unit: Option<String>,
    /// How sure, of 1.
    pub sure: f64,
    /// To be looked at before it is taken in.
    pub doubtful: bool,
    /// Why.
    pub why: String,
}

/// A column of a sheet, by its letters and what stands over it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HeaderView {
    /// Its letters.
    pub column: String,
    /// What stands over it.
    pub header: String,
}

/// A field a sheet could have.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FieldView {
    /// The field.
    pub field: String,
    /// What it is, in words.
    pub said: String,
}

/// A sheet and what it is taken for.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SheetProposal {
    /// Name of the sheet; empty for a text file.
    pub sheet: String,
    /// What it tells of: `yards`, `counts`, `tallies`, `weather` or `scale`; none when it is left out.
    pub what: Option<String>,
    /// Why it is left out.
    pub left_out: Option<String>,
    /// First row of its header.
    pub header_from: usize,
    /// Last row of its header.
    pub header_to: usize,
    /// Rows taken.
    pub rows: usize,
    /// Its columns.
    pub columns: Vec<ColumnView>,
    /// Columns that are passed over.
    pub passed_over: Vec<HeaderView>,
    /// Fields it has no column for yet.
    pub fields_left: Vec<FieldView>,
}

/// Something that would be written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComingView {
    /// The day.
    pub on: String,
    /// The yard, if it tells of one.
    pub yard: Option<String>,
    /// What it tells.
    pub said: String,
    /// It corrects what the book says.
    pub corrects: bool,
    /// The row that tells it.
    pub from: String,
}

/// What a workbook would bring in, or brought in.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ImportView {
    /// Sheet by sheet.
    pub sheets: Vec<SheetProposal>,
    /// Yards in it.
    pub yards: usize,
    /// Counts of colonies in it.
    pub counts: usize,
    /// Colonies as last counted.
    pub colonies: u32,
    /// Visits in it.
    pub visits: usize,
    /// Readings of weather and scales in it.
    pub readings: u64,
    /// New in the book.
    pub new: usize,
    /// Correct what the book says.
    pub corrections: usize,
    /// Stand in the book already.
    pub same: usize,
    /// The first of what is new.
    pub first: Vec<ComingView>,
    /// Written now; nought when it was only looked at.
    pub written: usize,
    /// What is wrong with its rows; nothing of it is taken in before that is put right.
    pub faults: Vec<FaultView>,
}

/// Something wrong in a row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FaultView {
    /// Stable code.
    pub code: String,
    /// What is wrong.
    pub cause: String,
    /// What to do.
    pub remedy: String,
    /// Sheet, row and column.
    pub place: String,
}

/// Takes mapped sheets in, against what the outfit knows.
///
/// # Errors
/// Every fault of every row.
pub fn take_for(
    situation: &Situation,
    name: &str,
    grids: &[Grid],
    sheets: &[SheetMapping],
) -> Result<Taken, Vec<Trouble>> {
    let yards: BTreeMap<YardId, String> =
        situation.outfit.kept_yards().map(|(yard, known)| (yard.clone(), known.kept.name.clone())).collect();
    let stations =
        situation.stations.iter().map(|station| (station.name.clone(), (station.place, station.elevation))).collect();
    let scales = situation.scales.iter().map(|scale| (scale.name.clone(), scale.yard.clone())).collect();
    let known = Known {
        yards: &yards,
        jobs: &situation.jobs,
        plants: &situation.plants,
        today: situation.today,
        zone: &situation.settings.zone,
        home: (situation.settings.home, situation.settings.home_elevation),
        stations: &stations,
        scales: &scales,
    };
    take_in(name, grids, sheets, &known)
}

/// The sheets as they are mapped.
pub fn sheet_views(sheets: &[SheetMapping], rows: &BTreeMap<String, usize>) -> Vec<SheetProposal> {
    sheets
        .iter()
        .map(|sheet| {
            let said = |field: &str| {
                let known = sheet.subject.and_then(|subject| subject.field(field));
                known.map_or_else(String::new, |field| field.said.to_owned())
            };
            SheetProposal {
                sheet: sheet.sheet.clone(),
                what: sheet.subject.map(|subject| subject.code().to_owned()),
                left_out: (!sheet.why_out.is_empty()).then(|| sheet.why_out.clone()),
                header_from: sheet.header.0,
                header_to: sheet.header.1,
                rows: rows.get(&sheet.sheet).copied().unwrap_or_default(),
                columns: sheet
                    .columns
                    .iter()
                    .map(|(field, column)| ColumnView {
                        field: (*field).to_owned(),
                        said: said(field),
                        column: column_letters(column.column),
                        header: column.header.clone(),
                        unit: column.unit.map(|unit| unit.code.to_owned()),
                        sure: column.sure,
                        doubtful: column.sure < DOUBTFUL_BELOW,
                        why: column.why.clone(),
                    })
                    .collect(),
                passed_over: sheet
                    .passed_over
                    .iter()
                    .map(|(column, header)| HeaderView { column: column.clone(), header: header.clone() })
                    .collect(),
                fields_left: sheet.subject.map_or_else(Vec::new, |subject| {
                    subject
                        .fields()
                        .iter()
                        .filter(|field| !sheet.columns.contains_key(field.name))
                        .map(|field| FieldView { field: field.name.to_owned(), said: field.said.to_owned() })
                        .collect()
                }),
            }
        })
        .collect()
}

/// What a workbook brings in.
pub fn import_view(sheets: &[SheetMapping], taken: &Taken, plan: &Against, written: usize) -> ImportView {
    ImportView {
        sheets: sheet_views(sheets, &taken.rows),
        yards: taken.yards.len(),
        counts: taken.counts.len(),
        colonies: taken.colonies(),
        visits: taken.visits.len(),
        readings: taken.series.iter().map(|row| row.what.rows).sum(),
        new: plan.write.len() - plan.corrections(),
        corrections: plan.corrections(),
        same: plan.same,
        first: plan
            .write
            .iter()
            .take(FIRST_ROWS)
            .map(|row| ComingView {
                on: row.on.to_string(),
                yard: yard_of(&row.fact).map(|yard| yard.as_str().to_owned()),
                said: fact_in_words(&row.fact),
                corrects: row.corrects.is_some(),
                from: row.place.to_string(),
            })
            .collect(),
        written,
        faults: Vec::new(),
    }
}

/// A workbook that cannot be taken in as it is mapped.
pub fn import_faults(sheets: &[SheetMapping], faults: &[Trouble]) -> ImportView {
    let nothing = import_view(sheets, &Taken::default(), &Against::default(), 0);
    let faults = faults.iter().map(|fault| FaultView {
        code: fault.code.to_owned(),
        cause: fault.cause.clone(),
        remedy: fault.remedy.clone(),
        place: fault.place.as_ref().map(ToString::to_string).unwrap_or_default(),
    });
    ImportView { faults: faults.collect(), ..nothing }
}
