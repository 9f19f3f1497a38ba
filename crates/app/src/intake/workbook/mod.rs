//! Workbooks as people keep them: which column is which is proposed with reasons, confirmed by a person, and only then
//! taken in, with all faults of all sheets told at once.
//!
//! | module | holds |
//! |---|---|
//! | [`grid`] | a workbook as plain cells |
//! | [`decode`] | text tables of any letters and separator as such cells |
//! | [`fields`] | what a sheet may hold, and the words people put over columns |
//! | [`values`] | numbers, days and degrees as people write them |
//! | [`propose`] | header, subject and columns, each with how sure and why |
//! | [`mapping`] | a proposal as a file, changed and given back |
//! | [`take`] | rows to what they tell, or all their faults |
//! | [`against`] | what is new against the book, what corrects it, what stands there already |

pub mod against;
pub mod decode;
pub mod fields;
pub mod grid;
pub mod mapping;
pub mod propose;
mod read_cell;
pub mod take;
pub mod values;

#[cfg(test)]
mod tests;
