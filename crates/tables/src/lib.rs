//! Workbooks and column files at the edge of the house: read with their dangers in mind, written so that they open
//! cleanly elsewhere.
//!
//! What the cells of a workbook mean is found out in `outyard_app::intake::workbook`; what an outfit's tables are in
//! `outyard_app::outgoing`. Here they are only turned into bytes and back.
//!
//! | module | holds |
//! |---|---|
//! | [`read`] | XLSX, ODS, XLS and text tables as plain cells, within bounds |

pub mod read;

mod bounds;
mod old;
