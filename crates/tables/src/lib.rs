//! Workbooks at the edge of the house, read with their dangers in mind.
//!
//! What their cells mean is found out in `outyard_app::intake::workbook`; here they are only turned into plain cells.
//!
//! | module | holds |
//! |---|---|
//! | [`read`] | XLSX, ODS, XLS and text tables as plain cells, within bounds |

pub mod read;

mod bounds;
mod old;
