//! Files that are not what they say, torn ones, locked ones and such as would fill a machine: each is refused with its code
//! and what to do, and none takes the program down.

#![expect(clippy::unwrap_used, reason = "what fails here fails the test, with its line")]

use std::io::{Cursor, Write};

use outyard_app::intake::workbook::grid::{Cell, Grid};
use outyard_base::Chance;
use outyard_tables::read::read_workbook;
use rust_xlsxwriter::{Formula, Workbook};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

fn code(file: &str, bytes: &[u8]) -> &'static str {
    let faults = read_workbook(file, bytes).unwrap_err();
    assert!(faults.iter().all(|fault| !fault.remedy.is_empty() && fault.place.is_some()));
    faults[0].code
}

fn packed(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in parts {
        archive.start_file(*name, SimpleFileOptions::default()).unwrap();
        archive.write_all(content).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

fn small() -> Vec<u8> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    sheet.write_string(0, 0, "yard").unwrap();
    sheet.write_formula(1, 0, Formula::new("=3+4").set_result("7")).unwrap();
    sheet.write_formula(2, 0, Formula::new("=1/0").set_result("#DIV/0!")).unwrap();
    book.save_to_buffer().unwrap()
}

#[test]
fn formulas_come_in_as_what_they_show() {
    let (grids, _) = read_workbook("a.xlsx", &small()).unwrap();
    let cells: Vec<&Cell> = grids[0].rows.iter().map(|row| &row.cells[0].1).collect();
    assert_eq!(cells, [&Cell::Text("yard".into()), &Cell::Number(7.0), &Cell::Broken("#DIV/0!".into())]);
}

#[test]
fn a_bomb_is_refused_before_it_goes_off() {
    // 300 MB of noughts in some 300 kB.
    let bomb = packed(&[("xl/workbook.xml", b"<workbook/>"), ("xl/worksheets/sheet1.xml", &vec![b' '; 300 << 20])]);
    assert!(bomb.len() < 2 << 20, "{}", bomb.len());
    assert_eq!(code("a.xlsx", &bomb), "WBK-002");
    let words = packed(&[("xl/workbook.xml", b"<workbook/>"), ("xl/sharedStrings.xml", &vec![b' '; 65 << 20])]);
    assert_eq!(code("a.xlsx", &words), "WBK-002");
}

#[test]
fn a_row_that_says_it_comes_a_million_times_is_refused() {
    let content = r#"<?xml version="1.0"?><office:document-content xmlns:office="o" xmlns:table="t" xmlns:text="x"><office:body><office:spreadsheet>
        <table:table table:name="A"><table:table-row table:number-rows-repeated="1048576"><table:table-cell
        table:number-columns-repeated="1000" office:value-type="float" office:value="7"/></table:table-row></table:table>
        </office:spreadsheet></office:body></office:document-content>"#;
    let ods =
        packed(&[("mimetype", b"application/vnd.oasis.opendocument.spreadsheet"), ("content.xml", content.as_bytes())]);
    assert_eq!(code("a.ods", &ods), "WBK-002");
}

#[test]
fn cells_at_the_ends_of_the_earth_are_two_cells() {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    sheet.write_number(0, 0, 1.0).unwrap();
    sheet.write_number(1_048_575, 16_383, 2.0).unwrap();
    let (grids, _): (Vec<Grid>, _) = read_workbook("a.xlsx", &book.save_to_buffer().unwrap()).unwrap();
    assert_eq!((grids[0].rows.len(), grids[0].rows[1].line), (2, 1_048_576));
}

#[test]
fn what_is_no_table_is_named() {
    assert_eq!(code("a.xlsx", &packed(&[("readme.txt", b"hello")])), "WBK-004");
    assert_eq!(code("a.xlsx", &packed(&[("word/document.xml", b"<w/>")])), "WBK-004");
    assert_eq!(code("a.xlsx", b"%PDF-1.7 and so on"), "WBK-004");
    assert_eq!(code("a.parquet", b"PAR1....PAR1"), "WBK-004");
    assert_eq!(code("a.xlsx", b"PK\x03\x04 torn off"), "WBK-001");
    assert_eq!(code("a.xls", &[0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1, 0, 0]), "WBK-001");
    let mut wrapped = vec![0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1];
    wrapped.resize(2048, 0);
    wrapped.extend("EncryptedPackage".encode_utf16().flat_map(u16::to_le_bytes));
    assert_eq!(code("a.xlsx", &wrapped), "WBK-003");
    let (_, notes) = read_workbook("a.xlsx", b"yard,name\n7,Mill\n").unwrap();
    assert_eq!(notes[0].code, "IMP-110");
}

/// Cut off anywhere, or with bytes changed at random, a workbook is read or refused; the program goes on.
#[test]
fn torn_and_gnawed_workbooks_are_read_or_refused() {
    let whole = small();
    let mut chance = Chance::new(7, "gnawed workbooks");
    let mut refused = 0;
    for round in 0..400 {
        let mut bytes = whole.clone();
        if round % 2 == 0 {
            bytes.truncate(chance.index(bytes.len()));
        } else {
            for _ in 0..8 {
                let at = chance.index(bytes.len());
                bytes[at] = u8::try_from(chance.below(256)).unwrap();
            }
        }
        if let Err(faults) = read_workbook("a.xlsx", &bytes) {
            refused += 1;
            assert!(
                matches!(faults[0].code, "WBK-001" | "WBK-002" | "WBK-003" | "WBK-004" | "FIL-002" | "FIL-006"),
                "{faults:?}"
            );
        }
    }
    assert!(refused >= 200, "{refused}");
}
