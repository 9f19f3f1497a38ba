//! Files from outside: bytes to text, text to table, table to what the rooms understand. All parsing is pure.

pub mod bloom_file;
pub mod drives;
pub mod labels_file;
pub mod scale_file;
pub mod table;
pub mod text;
pub mod weather_file;
pub mod workbook;
pub mod yards_file;
