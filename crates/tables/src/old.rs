//! The older make of workbook (BIFF8 in a compound file, [MS-XLS] and [MS-CFB]): how many cells its sheets would unfold
//! to, counted before anybody unfolds them.

use outyard_base::Trouble;

use crate::bounds::{CELLS_MOST, too_large, torn};

const SECTOR_SIZES: [usize; 2] = [512, 4096];
const SHORT_SECTOR: usize = 64;
/// From here on a number in the chain of sectors is a mark, not a sector.
const MARKS: u32 = 0xffff_fffa;
/// Records that hold cells: they begin with row and column.
const CELL_RECORDS: [u16; 12] =
    [0x0006, 0x00bd, 0x00be, 0x00d6, 0x00fd, 0x0201, 0x0203, 0x0204, 0x0205, 0x0207, 0x027e, 0x0406];
/// Cells a sheet of this make unfolds to at most in our hands: sparse ones grow to their full breadth. Assumed.
const UNFOLDED_MOST: u64 = 4 * CELLS_MOST as u64;

fn u16_at(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(bytes.get(at..at + 2)?.try_into().ok()?))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?))
}

/// Adds up height by breadth over the sheets.
pub(crate) fn check_old(file: &str, bytes: &[u8]) -> Result<(), Trouble> {
    let stream = workbook_stream(bytes).ok_or_else(|| torn(file, "its table of contents is damaged"))?;
    let mut unfolded: u64 = 0;
    let mut corners: Option<(u16, u16, u16, u16)> = None;
    let mut at = 0;
    while let (Some(sort), Some(length)) = (u16_at(&stream, at), u16_at(&stream, at + 2)) {
        let body = at + 4;
        if CELL_RECORDS.contains(&sort)
            && let (Some(row), Some(first)) = (u16_at(&stream, body), u16_at(&stream, body + 2))
        {
            let last = match sort {
                // Several cells in one record: the last column stands at its end.
                0x00bd | 0x00be => u16_at(&stream, body + usize::from(length).saturating_sub(2)).unwrap_or(first),
                _ => first,
            };
            let (top, bottom, left, right) = corners.unwrap_or((row, row, first, first));
            corners = Some((top.min(row), bottom.max(row), left.min(first), right.max(last)));
        }
        // Where a sheet ends, its cells are unfolded.
        if sort == 0x000a {
            unfolded += corners.take().map_or(0, area);
        }
        at = body + usize::from(length);
    }
    unfolded += corners.map_or(0, area);
    if unfolded > UNFOLDED_MOST {
        return Err(too_large(file, format!("its sheets spread over {unfolded} cells")));
    }
    Ok(())
}

fn area((top, bottom, left, right): (u16, u16, u16, u16)) -> u64 {
    (u64::from(bottom - top) + 1) * (u64::from(right.max(left) - left) + 1)
}

/// The stream `Workbook` (or `Book`) of a compound file.
fn workbook_stream(bytes: &[u8]) -> Option<Vec<u8>> {
    let sector_size = 1_usize.checked_shl(u32::from(u16_at(bytes, 30)?))?;
    if !SECTOR_SIZES.contains(&sector_size) {
        return None;
    }
    let sector = |number: u32| -> Option<&[u8]> {
        let start = (number as usize).checked_add(1)?.checked_mul(sector_size)?;
        bytes.get(start..bytes.len().min(start.checked_add(sector_size)?)).filter(|part| !part.is_empty())
    };
    let sectors_most = bytes.len() / sector_size + 1;
    // The list of chain sectors: 109 in the head, more in sectors of their own.
    let mut lists: Vec<u32> = (0..109).filter_map(|index| u32_at(bytes, 76 + 4 * index)).collect();
    let mut next = u32_at(bytes, 68)?;
    while next < MARKS && lists.len() < sectors_most {
        let part = sector(next)?;
        lists.extend((0..sector_size / 4 - 1).filter_map(|index| u32_at(part, 4 * index)));
        next = u32_at(part, sector_size - 4)?;
    }
    let mut chain: Vec<u32> = Vec::new();
    for list in lists.into_iter().filter(|list| *list < MARKS).take(sectors_most) {
        let part = sector(list)?;
        chain.extend((0..sector_size / 4).map(|index| u32_at(part, 4 * index).unwrap_or(u32::MAX)));
    }
    let follow = |first: u32| -> Vec<u8> {
        let (mut at, mut out, mut steps) = (first, Vec::new(), 0);
        while at < MARKS && steps <= sectors_most {
            let Some(part) = sector(at) else { break };
            out.extend_from_slice(part);
            at = chain.get(at as usize).copied().unwrap_or(u32::MAX);
            steps += 1;
        }
        out
    };
    let contents = follow(u32_at(bytes, 48)?);
    let records = || contents.chunks_exact(128);
    let name = |record: &[u8]| -> String {
        let length = usize::from(u16_at(record, 64).unwrap_or(0)).min(64);
        let units: Vec<u16> =
            record[..length].chunks_exact(2).map(|pair| u16::from_le_bytes([pair[0], pair[1]])).collect();
        String::from_utf16_lossy(&units).trim_end_matches('\0').to_owned()
    };
    let found = records()
        .find(|record| name(record) == "Workbook")
        .or_else(|| records().find(|record| name(record) == "Book"))?;
    let (first, size) = (u32_at(found, 116)?, u32_at(found, 120)? as usize);
    if size >= u32_at(bytes, 56)? as usize {
        let mut stream = follow(first);
        stream.truncate(size);
        return Some(stream);
    }
    // Short streams lie in small sectors within the stream of the root.
    let root = follow(u32_at(records().next()?, 116)?);
    let short_chain = follow(u32_at(bytes, 60)?);
    let (mut at, mut stream, mut steps) = (first, Vec::new(), 0);
    while at < MARKS && steps <= root.len() / SHORT_SECTOR {
        let start = at as usize * SHORT_SECTOR;
        stream.extend_from_slice(root.get(start..start + SHORT_SECTOR)?);
        at = u32_at(&short_chain, 4 * at as usize)?;
        steps += 1;
    }
    stream.truncate(size);
    Some(stream)
}
