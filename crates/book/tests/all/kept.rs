use outyard_base::days::plus_days;
use outyard_book::kept::{Kept, Names};
use outyard_book::outfit::{FoldRules, JobTurns, fold_by};
use outyard_book::{Entry, Fact, wire};
use outyard_trade::JobBook;
use proptest::prelude::*;

use super::support::*;

fn rules(listed_least: usize) -> FoldRules {
    FoldRules { turns: JobTurns::of(&JobBook::standard()), listed_least }
}

/// The entries of devices that act at random over weeks: the later it is written, the later it happened, as a rule.
fn over_weeks(acts: &[Act]) -> Vec<Entry> {
    let mut entries = entries_of(acts);
    for (number, entry) in entries.iter_mut().enumerate() {
        let later = i64::try_from(number).unwrap() / 3;
        entry.happened_on = plus_days(entry.happened_on, later);
        entry.recorded_at += jiff::SignedDuration::from_hours(24 * later);
    }
    entries
}

/// What is kept, and what is not summed up in it.
struct Page {
    kept: Kept,
    names: Names,
    open: Vec<Entry>,
}

impl Page {
    fn turn(before: Option<Self>, new: &[Entry], rules: &FoldRules, open_least: usize) -> Option<Self> {
        let (kept, mut open) = match before {
            Some(page) => (Some((page.kept, page.names)), page.open),
            None => (None, Vec::new()),
        };
        open.extend_from_slice(new);
        let all: Vec<&Entry> = open.iter().collect();
        let turned = Kept::turn(kept, &all, rules, open_least)?;
        open.retain(|entry| !turned.summed_up.contains(&entry.id));
        let text = wire::write_kept(&turned.kept).expect("what is summed up can be written");
        let kept = wire::read_kept(&text).expect("what was just written");
        assert_eq!(kept, turned.kept);
        assert_eq!(wire::write_kept(&kept), Some(text));
        let names = Names::from_bytes(&turned.names.to_bytes()).expect("what was just written");
        Some(Self { kept, names, open })
    }

    /// The outfit with these new entries, when it can be had from what is kept.
    fn with(&self, new: &[Entry]) -> Option<outyard_book::Outfit> {
        if Kept::is_touched_by(&self.names, new) {
            return None;
        }
        self.kept.carry_on(self.open.iter().chain(new))
    }
}

#[test]
fn a_page_turned_in_a_season_of_four_years_gives_the_same_outfit() {
    let mut acts = Vec::new();
    for year in 0..4_i64 {
        for number in 0..200_u32 {
            let at = yard(number % 5);
            let tally = put_on(&at, &truck(number % 2), thirds(number % 7));
            let on = plus_days(day(1), year * 365 + i64::from(number / 5));
            let number = u32::try_from(year).unwrap() * 1000 + number;
            acts.push(entry(number, "a", on, i64::from(number % 600), Fact::VisitClosed(tally)));
        }
    }
    let rules = rules(40);
    let page = Page::turn(None, &acts, &rules, 60).expect("most of it can be summed up");
    assert!(page.open.len() < 80, "{} are open", page.open.len());
    let whole = fold_by(&acts, &rules);
    assert_eq!(page.with(&[]).as_ref(), Some(&whole));
    let years = &whole.yards[&yard(1)].years;
    assert_eq!((years.len(), years.values().map(|year| year.visits).sum::<u32>()), (4, 160));
    assert_eq!(whole.yards.values().map(|yard| yard.visits.len()).sum::<usize>(), 40);
    // Told late of the first year, or against an entry of it: the whole set must be folded.
    let late = entry(9000, "b", day(2), 3, Fact::Note { yard: None, text: "late".to_owned() });
    assert_eq!(page.with(std::slice::from_ref(&late)), None);
    let strike = entry(9001, "b", plus_days(day(1), 3 * 365 + 40), 3, Fact::Correction { of: id(3), instead: None });
    assert_eq!(page.with(std::slice::from_ref(&strike)), None);
    // Of the open days, anything may come.
    let open = page.open[3].id;
    let new = [
        entry(9002, "b", plus_days(day(1), 3 * 365 + 41), 3, Fact::Correction { of: open, instead: None }),
        entry(
            9003,
            "b",
            plus_days(day(1), 3 * 365 + 41),
            4,
            Fact::GearCounted { place: outyard_book::GearPlace::OnHives(yard(2)), gear: thirds(9) },
        ),
    ];
    let all: Vec<Entry> = acts.iter().chain(&new).cloned().collect();
    assert_eq!(page.with(&new), Some(fold_by(&all, &rules)));
    assert!(!page.kept.answers(&rules, day(1)) && page.kept.answers(&rules, plus_days(day(1), 2000)));
}

#[test]
fn what_is_kept_is_refused_when_it_is_not_whole() {
    let acts: Vec<Entry> = (0..60)
        .map(|number| {
            entry(number, "a", plus_days(day(1), i64::from(number)), 1, Fact::YardGivenUp { yard: yard(number % 3) })
        })
        .collect();
    let page = Page::turn(None, &acts, &rules(5), 6).unwrap();
    let text = wire::write_kept(&page.kept).unwrap();
    for length in (0..text.len()).step_by(97) {
        assert_eq!(wire::read_kept(&text[..length]), None);
    }
    let newer = text.replace(&format!("\"format\":{}", wire::KEPT_FORMAT), "\"format\":999");
    assert!(newer != text && wire::read_kept(&newer).is_none());
    assert!(Names::from_bytes(&[1, 2, 3]).is_none());
    assert!(Names::from_bytes(&[9, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0]).is_none());
}

/// How often pages were turned, and carried on from.
#[derive(Debug, Default)]
struct Count {
    turned: u32,
    twice: u32,
    carried: u32,
    refused: u32,
}

fn look_at(acts: &[Act], seed: u64, count: &mut Count) {
    let entries = over_weeks(acts);
    let mut chance = outyard_base::Chance::new(seed, "kept");
    let rules = rules(1 + chance.index(4));
    // What has arrived when the page is turned: most of the first part, from three devices that share all they have.
    let arrived = entries.len() - chance.index(entries.len() / 2 + 1);
    let (here, rest): (Vec<_>, Vec<_>) =
        entries.iter().cloned().enumerate().partition(|(at, _)| *at < arrived && !chance.happens(0.03));
    let plain = |all: Vec<(usize, Entry)>| by_detours(&all.into_iter().map(|one| one.1).collect::<Vec<_>>(), seed);
    let (here, mut rest) = (plain(here), plain(rest));
    let Some(page) = Page::turn(None, &here, &rules, chance.index(12)) else { return };
    count.turned += 1;
    assert!(page.with(&[]) == Some(fold_by(&here, &rules)), "nothing new");
    let part = rest.split_off(rest.len() / 2);
    let mut known = here;
    let with = |page: &Page, new: &[Entry], known: &[Entry], count: &mut Count| match page.with(new) {
        None => count.refused += 1,
        Some(outfit) => {
            let all: Vec<&Entry> = known.iter().chain(new).collect();
            assert!(outfit == fold_by(all, &rules), "with what is new");
            count.carried += 1;
        }
    };
    with(&page, &rest, &known, count);
    // One by one: what is refused together may be fine alone.
    for one in &rest {
        with(&page, std::slice::from_ref(one), &known, count);
    }
    if !Kept::is_touched_by(&page.names, &rest)
        && let Some(next) = Page::turn(Some(page), &rest, &rules, chance.index(8))
    {
        count.twice += 1;
        known.extend(rest);
        assert!(next.with(&[]) == Some(fold_by(&known, &rules)), "a second page");
        with(&next, &part, &known, count);
    }
}

#[test]
fn pages_are_turned_and_carried_on_from_often_enough_to_mean_something() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};
    let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]);
    let mut runner = TestRunner::new_with_rng(ProptestConfig::default(), rng);
    let mut count = Count::default();
    for seed in 0..3000 {
        let acts = prop::collection::vec(act(), 8..96).new_tree(&mut runner).unwrap().current();
        look_at(&acts, seed, &mut count);
    }
    assert!(count.turned > 600 && count.twice > 40 && count.carried > 4000 && count.refused > 600, "{count:?}");
}

proptest! {
    #![proptest_config(cases(1500))]

    /// What is kept and any new entries, late ones and corrections of corrections among them, give what the whole set
    /// gives, or the whole set is asked for.
    #[test]
    fn what_is_kept_and_what_is_new_come_to_the_whole(acts in prop::collection::vec(act(), 2..64), seed in any::<u64>()) {
        look_at(&acts, seed, &mut Count::default());
    }
}
