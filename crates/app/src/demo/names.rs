//! Invented names. The words were put together for this list; none was taken from a map, a farm or a brand.

use outyard_base::Chance;

const VALLEYS: [&str; 16] = [
    "Ashquill",
    "Brindlemoor",
    "Dunwether",
    "Fennorrow",
    "Harrowmeet",
    "Ilvermead",
    "Kestermoor",
    "Lorrimead",
    "Marrowick",
    "Ombervale",
    "Pellanmoor",
    "Quernholt",
    "Sorrelmeet",
    "Tavermoor",
    "Umberlow",
    "Vennaway",
];
const FAMILIES: [&str; 28] = [
    "Arkelby",
    "Brummost",
    "Castrow",
    "Dromby",
    "Ennisway",
    "Fellanby",
    "Grissop",
    "Hollanquist",
    "Imberly",
    "Jorrick",
    "Kellomar",
    "Lundrow",
    "Mossandal",
    "Norrin",
    "Ockerby",
    "Pruddock",
    "Quistmoor",
    "Rendalow",
    "Skarrow",
    "Tollumby",
    "Undervik",
    "Vardelow",
    "Wimberlin",
    "Yestrow",
    "Zettaby",
    "Orrelby",
    "Tamsvik",
    "Haverlund",
];
const FIRST_NAMES: [&str; 20] = [
    "Ada", "Bert", "Clara", "Dov", "Edith", "Frank", "Greta", "Hugo", "Ines", "Jonas", "Karin", "Luis", "Marta",
    "Nils", "Olga", "Pablo", "Rosa", "Sven", "Tilda", "Walt",
];
const FEATURES: [&str; 24] = [
    "slough",
    "north quarter",
    "windbreak",
    "gravel pit",
    "old school",
    "creek bend",
    "stone pile",
    "east gate",
    "elms",
    "hay bottom",
    "corner eighty",
    "basswoods",
    "culvert",
    "round barn",
    "lane end",
    "two silos",
    "ridge",
    "crossing",
    "poplars",
    "south pasture",
    "dugout",
    "white rock",
    "long field",
    "ditch bank",
];
const GATES: [&str; 10] = [
    "wire gate, close it behind you",
    "chain and lock, key on the ring of the truck",
    "open lane, keep right of the well",
    "swing gate by the mailbox, lift it to latch",
    "cattle in the lane: close both gates",
    "no gate; park off the road",
    "combination lock, the numbers are with the owner",
    "electric fence, hook on the left post",
    "gate under the elms, turn the truck before loading",
    "ask at the house after eight in the evening",
];
const RENTS: [&str; 4] = ["a pail of honey", "two cases of jars", "a case of jars", "a pail of honey and a card"];

fn pick<'a>(chance: &mut Chance, list: &[&'a str]) -> &'a str {
    list[chance.index(list.len())]
}

/// Name of the valley.
pub(super) fn valley(seed: u64) -> String {
    format!("{} Valley", pick(&mut Chance::new(seed, "demo valley"), &VALLEYS))
}

/// A landowner: first name and family name.
pub(super) fn landowner(chance: &mut Chance) -> (String, &'static str) {
    let family = pick(chance, &FAMILIES);
    (format!("{} {family}", pick(chance, &FIRST_NAMES)), family)
}

/// What a yard on a family's land is called.
pub(super) fn yard(chance: &mut Chance, family: &str) -> String {
    format!("{family} {}", pick(chance, &FEATURES))
}

/// How to get in.
pub(super) fn gate(chance: &mut Chance) -> String {
    pick(chance, &GATES).to_owned()
}

/// What the landowner is given.
pub(super) fn rent(chance: &mut Chance) -> String {
    pick(chance, &RENTS).to_owned()
}

/// First names of a crew, none twice.
pub(super) fn people(chance: &mut Chance, count: usize) -> Vec<String> {
    let mut all = FIRST_NAMES;
    chance.shuffle(&mut all);
    all.iter().take(count).map(|name| (*name).to_owned()).collect()
}
