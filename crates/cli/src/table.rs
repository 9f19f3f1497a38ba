//! Tables that fit a terminal of 100 columns.

use comfy_table::presets::NOTHING;
use comfy_table::{Cell, CellAlignment, ColumnConstraint, ContentArrangement, Table};

use crate::reply::PAGE_WIDTH;

/// How a column stands.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Stand {
    /// Words.
    Left,
    /// Numbers.
    Right,
    /// Names to be typed again elsewhere: never broken.
    Whole,
}

/// Lays out a table under its headers, at most 100 columns wide; long words break inside their cell.
pub(crate) fn lay_out(columns: &[(&str, Stand)], rows: impl IntoIterator<Item = Vec<String>>) -> String {
    let mut table = Table::new();
    table
        .load_style(NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(u16::try_from(PAGE_WIDTH).expect("a page is narrow"));
    let cell = |text: &str, stand: Stand| {
        let alignment = match stand {
            Stand::Left | Stand::Whole => CellAlignment::Left,
            Stand::Right => CellAlignment::Right,
        };
        Cell::new(text).set_alignment(alignment)
    };
    table.set_header(columns.iter().map(|(name, stand)| cell(name, *stand)));
    for row in rows {
        table.add_row(columns.iter().zip(&row).map(|((_, stand), text)| cell(text, *stand)));
    }
    for (column, (_, stand)) in table.column_iter_mut().zip(columns) {
        if matches!(stand, Stand::Whole) {
            column.set_constraint(ColumnConstraint::ContentWidth);
        }
    }
    let mut text = String::new();
    for line in table.lines() {
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}
