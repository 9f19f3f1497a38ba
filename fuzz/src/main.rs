//! Feeds one reader by coverage: libFuzzer grows inputs that reach new branches. Which reader, `OUTYARD_READER` says;
//! CONTRIBUTING.md has the command.

#![no_main]

use std::sync::LazyLock;

use libfuzzer_sys::fuzz_target;

mod readers;

static READER: LazyLock<readers::Reader> = LazyLock::new(|| {
    let wanted = std::env::var("OUTYARD_READER").unwrap_or_else(|_| "lines".to_owned());
    let mut all = readers::readers();
    let names: Vec<&str> = all.iter().map(|reader| reader.name).collect();
    let place = names.iter().position(|name| *name == wanted);
    let place = place.unwrap_or_else(|| panic!("OUTYARD_READER is one of {}", names.join(", ")));
    let reader = all.swap_remove(place);
    assert_eq!((reader.read)(reader.sample.as_bytes()), Ok(()), "it refuses its sample");
    if let Ok(folder) = std::env::var("OUTYARD_SAMPLES") {
        std::fs::write(std::path::Path::new(&folder).join("sample"), reader.sample).expect("the folder is there");
    }
    reader
});

fuzz_target!(init: drop(LazyLock::force(&READER)), |bytes: &[u8]| {
    if let Err(troubles) = (READER.read)(bytes) {
        readers::told_well(READER.name, &troubles, bytes);
    }
});
