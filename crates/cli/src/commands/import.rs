//! Taking in a workbook as people keep it: a proposal, a look at it, a yes, and entries.

use std::fs;
use std::io::{self, BufRead, IsTerminal, Read, Write};
use std::path::Path;

use outyard_app::intake::text::LARGEST_FILE_BYTES;
use outyard_app::intake::workbook::against::{Against, against};
use outyard_app::intake::workbook::grid::{Grid, column_letters};
use outyard_app::intake::workbook::mapping::{lay_habits, lay_over, read_mapping, write_mapping};
use outyard_app::intake::workbook::propose::{DOUBTFUL_BELOW, SheetMapping, Wishes, propose};
use outyard_app::intake::workbook::take::Taken;
use outyard_app::intake::workbook::values::Habits;
use outyard_app::pages::import::take_for;
use outyard_app::ports::Store;
use outyard_app::situation::Situation;
use outyard_base::trouble::Spot;
use outyard_base::{Note, Trouble};
use outyard_book::{Entry, Fact};
use outyard_folder::{Desk, read_file, write_whole};
use outyard_tables::read::read_workbook;
use serde_json::{Value, json};

use crate::args::ImportWords;
use crate::reply::{Reply, count_of, hang};
use crate::table::{Stand, lay_out};

type Answer = Result<Reply, Vec<Trouble>>;

/// Rows shown of what would come in.
const FIRST_ROWS: usize = 3;

fn one(trouble: Trouble) -> Vec<Trouble> {
    vec![trouble]
}

/// `outyard import`.
pub(crate) fn import(words: &ImportWords, desk: &Desk, as_json: bool) -> Answer {
    let situation = desk.situation()?;
    let name = words.file.display().to_string();
    let (grids, mut notes) = read_workbook(&name, &read_bytes(&words.file)?)?;
    let sheets = mapped(words, &situation, &grids)?;
    if let Some(file) = &words.mapping_to {
        write_whole(file, write_mapping(&name, &sheets).as_bytes())?;
    }
    let head = proposal_page(&sheets);
    let taken = match take_for(&situation, &name, &grids, &sheets) {
        Ok(taken) => taken,
        Err(faults) => {
            // Whoever must put faults right wants to see which column was taken for which.
            if words.dry_run && !as_json {
                show(&head);
            }
            return Err(faults);
        }
    };
    notes.extend(taken.notes.clone());
    let book = desk.entries()?;
    let plan = against(&taken, &book, situation.today);
    notes.extend(plan.notes.clone());
    let mut page = format!("{head}{}", coming_page(&taken, &plan));
    let confirmed = words.yes || words.mapping.is_some();
    if words.dry_run {
        page.push_str("\nNothing was written.\n");
        if let Some(file) = &words.mapping_to {
            let file = file.display();
            page.push_str(&format!(
                "The mapping stands in {file}: put right what is wrong and give it back with --mapping {file}.\n"
            ));
        }
        return Ok(Reply::new(page, told(&sheets, &taken, &plan, 0, true)).with(notes));
    }
    if plan.write.is_empty() {
        page.push_str("\nAll of it stands in the book already; nothing was written.\n");
        return Ok(Reply::new(page, told(&sheets, &taken, &plan, 0, false)).with(notes));
    }
    let agreed = confirmed || (asks(as_json) && agreed(&page, &notes)?);
    if !agreed {
        return Err(one(Trouble::new(
            "IMP-006",
            "nobody confirmed which column is which; nothing was written",
            "look at it with --dry-run, then say --yes, or give back the mapping with --mapping",
        )));
    }
    let written = write(desk, &plan)?;
    let done = format!(
        "\n{} written: {} new, {} corrected.\n",
        count_of(written, "entry").replace("entrys", "entries"),
        written - plan.corrections(),
        plan.corrections()
    );
    // Who said yes on the screen has seen the page.
    let page = if confirmed { page + &done } else { done };
    Ok(Reply::new(page, told(&sheets, &taken, &plan, written, false)).with(if confirmed { notes } else { Vec::new() }))
}

fn read_bytes(path: &Path) -> Result<Vec<u8>, Vec<Trouble>> {
    let name = path.display().to_string();
    let mut bytes = Vec::new();
    let limit = LARGEST_FILE_BYTES as u64 + 1;
    let read = fs::File::open(path).and_then(|file| file.take(limit).read_to_end(&mut bytes));
    match read {
        Err(error) => Err(one(Trouble::new(
            "FIL-001",
            format!("cannot be read: {error}"),
            "see that the file is there, that it is a file and that you may read it",
        )
        .at(Spot::file(name)))),
        Ok(_) if bytes.len() > LARGEST_FILE_BYTES => Err(one(Trouble::new(
            "FIL-004",
            "the file is larger than 256 MiB",
            "split it by year and import the parts",
        )
        .at(Spot::file(name)))),
        Ok(_) => Ok(bytes),
    }
}

fn mapped(words: &ImportWords, situation: &Situation, grids: &[Grid]) -> Result<Vec<SheetMapping>, Vec<Trouble>> {
    let habits = Habits { decimal: words.decimal, dates: words.dates };
    let mut sheets = match &words.mapping {
        Some(file) => read_mapping(&file.display().to_string(), &read_file(file)?, grids)?,
        None => propose(
            grids,
            &Wishes { sheet: words.sheet.as_deref(), subject: words.what, habits, jobs: &situation.jobs },
        ),
    };
    lay_habits(habits, &mut sheets);
    for choice in &words.map {
        lay_over(choice, grids, &mut sheets).map_err(one)?;
    }
    for sheet in &mut sheets {
        if let Some(source) = &words.source {
            sheet.source.clone_from(source);
        }
        if sheet.source.is_empty() {
            // A text file has no sheet names: its own name says where the readings are from.
            let stem = words.file.file_stem().map(|stem| stem.to_string_lossy().into_owned());
            sheet.source = stem.unwrap_or_default();
        }
        if let Some(yard) = &words.yard {
            yard.as_str().clone_into(&mut sheet.yard);
        }
    }
    Ok(sheets)
}

fn sheet_said(sheet: &SheetMapping) -> String {
    if sheet.sheet.is_empty() { "The table".to_owned() } else { format!("Sheet {}", sheet.sheet) }
}

fn proposal_page(sheets: &[SheetMapping]) -> String {
    let mut page = String::new();
    for sheet in sheets {
        let Some(subject) = sheet.subject else {
            page.push_str(&hang("", &format!("{} is left out: {}.", sheet_said(sheet), sheet.why_out)));
            continue;
        };
        let (first, last) = sheet.header;
        let header = if first == last { format!("row {last}") } else { format!("rows {first} and {last}") };
        page.push_str(&format!("{}: {}, header in {header}\n", sheet_said(sheet), subject.code()));
        page.push_str(&lay_out(
            &[
                ("field", Stand::Left),
                ("column", Stand::Left),
                ("unit", Stand::Left),
                ("sure", Stand::Right),
                ("why", Stand::Left),
            ],
            sheet.columns.iter().map(|(field, column)| {
                let doubt = if column.sure < DOUBTFUL_BELOW { "? " } else { "" };
                vec![
                    (*field).to_owned(),
                    format!("{} {}", column_letters(column.column), column.header),
                    column.unit.map_or(String::new(), |unit| unit.code.to_owned()),
                    format!("{doubt}{:.0} %", column.sure * 100.0),
                    column.why.clone(),
                ]
            }),
        ));
        if !sheet.passed_over.is_empty() {
            let others: Vec<String> =
                sheet.passed_over.iter().map(|(letters, header)| format!("{letters} {header}")).collect();
            page.push_str(&hang("  Passed over: ", &others.join(", ")));
        }
        page.push('\n');
    }
    page
}

fn coming_page(taken: &Taken, plan: &Against) -> String {
    let mut page = String::new();
    for (noun, count) in [
        ("yard", taken.yards.len()),
        ("count of colonies", taken.counts.len()),
        ("visit", taken.visits.len()),
        ("series of readings", taken.series.len()),
    ] {
        if count > 0 {
            page.push_str(&match noun {
                "count of colonies" => format!("{count} counts, {} colonies as last counted\n", taken.colonies()),
                "series of readings" => {
                    let rows: u64 = taken.series.iter().map(|row| row.what.rows).sum();
                    format!("{count} series with {rows} readings\n")
                }
                noun => format!("{}\n", count_of(count, noun)),
            });
        }
    }
    let new = plan.write.len() - plan.corrections();
    page.push_str(&format!(
        "{new} new in the book, {} correct what it says, {} stand there already\n",
        plan.corrections(),
        plan.same
    ));
    let shown: Vec<Vec<String>> = plan
        .write
        .iter()
        .filter(|row| row.corrects.is_none())
        .take(FIRST_ROWS)
        .chain(plan.write.iter().filter(|row| row.corrects.is_some()).take(FIRST_ROWS))
        .map(|row| {
            let does = if row.corrects.is_some() { "corrects" } else { "new" };
            vec![row.on.to_string(), does.to_owned(), said(&row.fact), row.place.to_string()]
        })
        .collect();
    if !shown.is_empty() {
        page.push_str("\nThe first of them\n");
        page.push_str(&lay_out(
            &[("day", Stand::Left), ("", Stand::Left), ("tells", Stand::Left), ("from", Stand::Left)],
            shown,
        ));
    }
    page
}

fn said(fact: &Fact) -> String {
    match fact {
        Fact::YardKept(kept) => {
            let place = kept
                .place
                .map_or(String::new(), |place| format!(" at {:.4}, {:.4}", place.latitude(), place.longitude()));
            format!("yard {} {}{place}", kept.yard, kept.name)
        }
        Fact::ColoniesCounted { yard, counts } => format!("yard {yard}: {counts}"),
        Fact::VisitClosed(tally) => {
            let jobs: Vec<String> = tally.jobs.iter().map(|job| format!("{} {}", job.job, job.done)).collect();
            format!("yard {}: {}", tally.yard, jobs.join("; "))
        }
        Fact::SeriesKept(series) => {
            format!("{} {}: {} readings, {} to {}", series.what, series.source, series.rows, series.from, series.to)
        }
        other => other.name().to_owned(),
    }
}

fn show(page: &str) {
    // A reader that closed its end is no trouble of ours.
    drop(io::stdout().lock().write_all(page.as_bytes()));
}

fn asks(as_json: bool) -> bool {
    !as_json && io::stdin().is_terminal() && io::stdout().is_terminal()
}

fn agreed(page: &str, notes: &[Note]) -> Result<bool, Vec<Trouble>> {
    show(page);
    for note in notes {
        show(&hang("  - ", &note.to_string()));
    }
    show("\nIs that right, and is it to be written? [y/N] ");
    drop(io::stdout().lock().flush());
    let mut line = String::new();
    io::stdin().lock().read_line(&mut line).map_err(|error| {
        one(Trouble::new("FIL-001", format!("the answer cannot be read: {error}"), "say --yes instead"))
    })?;
    Ok(matches!(line.trim().to_lowercase().as_str(), "y" | "yes"))
}

fn write(desk: &Desk, plan: &Against) -> Result<usize, Vec<Trouble>> {
    let entries: Vec<Entry> = plan.write.iter().map(|one| desk.entry(one.on, one.told())).collect::<Result<_, _>>()?;
    desk.with_store(async |store| {
        for text in plan.write.iter().filter_map(|one| one.file.as_ref()) {
            store.keep_file(text.as_bytes()).await.map_err(|error| one(error.into()))?;
        }
        store.append(&entries).await.map(|appended| appended.new).map_err(|error| one(error.into()))
    })
}

fn told(sheets: &[SheetMapping], taken: &Taken, plan: &Against, written: usize, dry_run: bool) -> Value {
    let sheets: Vec<Value> = sheets
        .iter()
        .map(|sheet| {
            let columns: Vec<Value> = sheet
                .columns
                .iter()
                .map(|(field, column)| {
                    json!({
                        "field": field,
                        "column": column_letters(column.column),
                        "header": column.header,
                        "unit": column.unit.map(|unit| unit.code),
                        "sure": column.sure,
                        "why": column.why,
                    })
                })
                .collect();
            json!({
                "sheet": sheet.sheet,
                "what": sheet.subject.map(outyard_app::intake::workbook::fields::Subject::code),
                "left_out": (!sheet.why_out.is_empty()).then_some(&sheet.why_out),
                "header": [sheet.header.0, sheet.header.1],
                "rows": taken.rows.get(&sheet.sheet),
                "columns": columns,
            })
        })
        .collect();
    json!({
        "sheets": sheets,
        "yards": taken.yards.len(),
        "counts": taken.counts.len(),
        "colonies": taken.colonies(),
        "visits": taken.visits.len(),
        "series": taken.series.len(),
        "new": plan.write.len() - plan.corrections(),
        "corrections": plan.corrections(),
        "same": plan.same,
        "entries_written": written,
        "dry_run": dry_run,
    })
}
