//! One file for each group of verbs.

pub(crate) mod book;
pub(crate) mod import;
pub(crate) mod keeping;
pub(crate) mod outfit;
pub(crate) mod outlook;
pub(crate) mod pictures;
pub(crate) mod plan;
pub(crate) mod rates;
pub(crate) mod roads;
pub(crate) mod scales;
pub(crate) mod scores;
pub(crate) mod serve;
pub(crate) mod sheets;
pub(crate) mod sums;
pub(crate) mod tables;
pub(crate) mod write;
