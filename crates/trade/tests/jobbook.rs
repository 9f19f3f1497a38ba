//! The job book: the scenes worked by hand, an outfit's own file laid over the default, and every way of getting one
//! wrong.

use std::collections::BTreeSet;

use jiff::civil::date;
use outyard_base::{Cents, Minutes, Share, Trouble};
use outyard_trade::{
    ClockStart, DEFAULT_JOB_BOOK, GearSum, JobBook, Kind, KindCounts, MonthDay, SeasonWindow, Work, load_with_spare,
    read_job_book,
};
use proptest::prelude::*;

fn yard(doubles: u32, splits: u32) -> KindCounts {
    KindCounts::of(&[(Kind::Double, doubles), (Kind::Split, splits)])
}

/// A put-down visit: doubles blown, splits' brood lifted.
fn put_down(book: &JobBook, colonies: KindCounts) -> [Work<'_>; 2] {
    ["single-down-blow", "brood-lift"]
        .map(|code| Work { job: book.job(code).expect("a job of the default book"), colonies })
}

fn load(book: &JobBook, yards: &[KindCounts]) -> Vec<(String, u32)> {
    let run =
        yards.iter().fold(GearSum::default(), |run, colonies| run.and(&book.gear_out(&put_down(book, *colonies))));
    book.load_list(&run).into_iter().map(|line| (line.gear.to_string(), line.load)).collect()
}

fn read_over(text: &str) -> Result<JobBook, Vec<Trouble>> {
    read_job_book(DEFAULT_JOB_BOOK, Some(("own.toml", text)))
}

// Scene S1: yard 7, 26 doubles, 6 splits, a pair: 26x4 + 6x5 + 25 = 159 min = 2 h 39; 34 excluders, 34 thirds, 2 rims,
// 1 blower.
#[test]
fn s1_the_yard_sheet() {
    let book = JobBook::standard();
    let minutes = book.service_minutes(&put_down(&book, yard(26, 6)), 2);
    assert_eq!((minutes, minutes.spoken().as_str()), (Minutes(159), "2 h 39"));
    let expected = [("excluder", 34), ("third", 34), ("blower", 1), ("rim", 2)];
    assert_eq!(load(&book, &[yard(26, 6)]), expected.map(|(gear, count)| (gear.to_owned(), count)));
}

// Scene S2: yards 7, 12, 19 take 159 / 155 / 161 min; 96 thirds and 5 % = 101, within a deck of 120.
#[test]
fn s2_three_yards_in_a_day() {
    let book = JobBook::standard();
    let yards = [yard(26, 6), yard(20, 10), yard(34, 0)];
    let minutes = yards.map(|colonies| book.service_minutes(&put_down(&book, colonies), 2));
    assert_eq!(minutes, [159, 155, 161].map(Minutes));
    let load = load(&book, &yards);
    assert!(load.contains(&("third".to_owned(), 101)) && load.contains(&("excluder".to_owned(), 101)), "{load:?}");
    assert!(load.contains(&("rim".to_owned(), 2)) && load.contains(&("blower".to_owned(), 1)), "{load:?}");
}

// Job facts 4: a third hand saves about 25 % of the pair's work; the setup stays.
#[test]
fn hands_change_the_colony_work_and_not_the_setup() {
    let book = JobBook::standard();
    let at = |hands| book.service_minutes(&put_down(&book, yard(26, 6)), hands);
    assert_eq!(at(3), Minutes(126), "25 + 134 x 0.75 = 125.5");
    assert_eq!(at(4), Minutes(92), "25 + 134 / 2");
    assert!(at(1) > Minutes(2 * 134));
    assert!(JobBook::hands_caution(1).is_some_and(|words| words.contains("alone")));
    assert_eq!(JobBook::hands_caution(2), None);
    let factors: Vec<f64> = (1..=12).map(|hands| book.hands_factor(hands)).collect();
    assert!(factors.windows(2).all(|pair| pair[1] < pair[0]), "one hand more is never slower: {factors:?}");
    assert_eq!(book.service_minutes(&put_down(&book, KindCounts::NONE), 2), Minutes::ZERO);
}

// Job facts 2a: sample five hives a yard, not all. Lee et al. 2010: eight colonies whatever the yard's size.
#[test]
fn a_sample_job_opens_its_sample_and_no_more() {
    let book = JobBook::standard();
    let look = book.job("unwanted-cells-check").unwrap();
    assert_eq!(look.colonies_opened(&yard(34, 0)), 5);
    assert!((look.service_pair_minutes(&yard(34, 0)) - 5.0 * 8.0).abs() < 1e-9);
    assert!((look.service_pair_minutes(&yard(3, 0)) - 3.0 * 8.0).abs() < 1e-9);
    assert!((look.service_pair_minutes(&yard(20, 20)) - 5.0 * 6.5).abs() < 1e-9, "half doubles, half splits");
    let wash = book.job("mite-wash").unwrap();
    assert_eq!([yard(40, 0), yard(5, 1)].map(|colonies| wash.colonies_opened(&colonies)), [8, 6]);
}

// 62 full boxes of 37 kg is what a payload of 2,300 kg bears (job facts 4, scene S2).
#[test]
fn a_pull_brings_full_boxes_home_with_their_weight() {
    let book = JobBook::standard();
    let work = [Work { job: book.job("pull").unwrap(), colonies: yard(27, 0) }];
    let home = book.load_list(&book.gear_home(&work));
    let full = home.iter().find(|line| line.gear.as_str() == "full-box").unwrap();
    assert_eq!(full.load, 63, "27 x 2.3 = 62.1, and no spare on what comes home");
    assert!((full.weight.get() - 63.0 * 37.0).abs() < 1e-9);
    assert!(full.weight.get() > 2300.0 && full.weight.get() - 37.0 < 2300.0);
}

#[test]
fn boxes_of_every_name_are_deeps_in_the_shed() {
    let book = read_over("[gear.box]\ncounts_as = 'medium'\n").unwrap();
    let counts_as = |book: &JobBook, code: &str| {
        book.gear.values().find(|gear| gear.code.as_str() == code).unwrap().counts_as.to_string()
    };
    for code in ["third", "box", "full-box"] {
        assert_eq!(counts_as(&JobBook::standard(), code), "deep");
    }
    assert_eq!(counts_as(&book, "box"), "medium");
    assert_eq!(counts_as(&book, "excluder"), "excluder");
    for gear in book.gear.values() {
        let honey_box = ["third", "box", "full-box"].contains(&gear.code.as_str());
        assert!((gear.holds_deeps - f64::from(u8::from(honey_box))).abs() < 1e-12, "{}", gear.code);
    }
}

#[test]
fn what_the_crew_carries_serves_all_its_jobs_and_yards() {
    let book = JobBook::standard();
    let pull = Work { job: book.job("pull").unwrap(), colonies: yard(10, 0) };
    let blow = Work { job: book.job("single-down-blow").unwrap(), colonies: yard(10, 0) };
    let one = book.gear_out(&[pull, blow]);
    let both = one.clone().and(&one);
    for (gear, count) in &both.with_crew {
        assert_eq!(one.with_crew[gear], *count, "{gear}");
    }
    for (gear, count) in &both.in_yards {
        assert_eq!(2 * one.in_yards[gear], *count, "{gear}");
    }
}

#[test]
fn the_default_book_is_whole() {
    let book = JobBook::standard();
    let wanted = [
        "single-down-blow",
        "single-down-shake",
        "single-down-search",
        "brood-lift",
        "add-boxes",
        "egg-test",
        "unwanted-cells-check",
        "swarm-cells-check",
        "open-brood-test",
        "pull",
        "split-mated-queen",
        "split-ripe-cell",
        "split-virgin",
        "split-walk-away",
        "requeen",
        "unite",
        "mite-wash",
        "treatment-in",
        "treatment-out",
        "feed",
        "wrap",
        "move",
    ];
    for code in wanted {
        let job = book.job(code).unwrap();
        assert!(!job.cautions.is_empty(), "{code}");
        assert!(job.cautions.iter().any(|words| words.contains("Never alone")), "{code}");
        assert!(job.does.ends_with('.'), "{code}");
        assert_eq!(book.gate_of(job).code, job.gate);
    }
    // Every clock is started by a job, but for the two that start with an event in the hive or at the bench.
    let started: BTreeSet<ClockStart> = book.jobs.values().flat_map(|job| job.starts.iter().copied()).collect();
    let events = BTreeSet::from([ClockStart::Graft, ClockStart::PrimeSwarm]);
    assert_eq!(started.union(&events).count(), ClockStart::ALL.len());
    assert!(started.is_disjoint(&events));
    assert_eq!(book.worth.late_queen(), Cents(10_000), "20 kg at 5.00");
    let unknown = book.job("harvest").unwrap_err();
    assert_eq!(unknown.code, "TRD-010");
    assert!(unknown.remedy.contains("single-down-blow"), "{}", unknown.remedy);
}

#[test]
fn an_own_file_changes_only_what_it_holds() {
    let book = read_over(
        "[visit]\nsetup_pair_minutes = 15\n[jobs.single-down-blow.pair_minutes]\ndouble = 3.5\nweak = 3\n\
         [jobs.single-down-blow.gear_out]\nrim.count = 0\n[gates.blow]\nmin_temp_c = 1_6.5\n",
    )
    .unwrap();
    let standard = JobBook::standard();
    assert_eq!(book.service_minutes(&put_down(&book, yard(26, 6)), 2), Minutes(15 + 91 + 30));
    let blow = book.job("single-down-blow").unwrap();
    assert_eq!(blow.kinds, [Kind::Double], "minutes for a kind do not by themselves make the job one for it");
    assert_eq!(blow.gear_out.len() + 1, standard.job("single-down-blow").unwrap().gear_out.len());
    assert!((book.gates["blow"].min_temp.unwrap().get() - 16.5).abs() < 1e-12);
    assert_eq!(book.gates["blow"].max_wind, standard.gates["blow"].max_wind);
    assert_eq!(book.job("pull"), standard.job("pull"));
    assert_eq!(book.worth, standard.worth);
}

#[test]
fn an_own_job_stands_beside_the_others() {
    let book = read_over(
        "[jobs.mow]\nname = 'Mow'\ndoes = 'Grass cut before the entrances.'\nsource = 'our own rate'\n\
         kinds = ['double', 'single', 'split', 'weak', 'queenless']\n\
         pair_minutes = { double = 0.5, single = 0.5, split = 0.5, weak = 0.5, queenless = 0.5 }\ngate = 'lid'\n\
         season = { from = '11-15', to = '02-29' }\n",
    )
    .unwrap();
    let mow = book.job("mow").unwrap();
    assert_eq!(book.service_minutes(&[Work { job: mow, colonies: yard(20, 10) }], 2), Minutes(40));
    let season = mow.season.unwrap();
    for (day, holds) in [
        (date(2026, 11, 14), false),
        (date(2026, 11, 15), true),
        (date(2026, 12, 31), true),
        (date(2027, 2, 28), true),
        (date(2028, 2, 29), true),
        (date(2027, 3, 1), false),
    ] {
        assert_eq!(season.holds(day), holds, "{day}");
    }
    let summer = SeasonWindow { from: MonthDay { month: 6, day: 15 }, to: MonthDay { month: 7, day: 15 } };
    assert!(summer.holds(date(2026, 6, 15)) && summer.holds(date(2026, 7, 15)) && !summer.holds(date(2026, 7, 16)));
}

/// The one trouble of an own file: code, line, column.
fn trouble(text: &str) -> (&'static str, usize, String) {
    let mut troubles = read_over(text).expect_err(text);
    assert_eq!(troubles.len(), 1, "{text}: {troubles:?}");
    let trouble = troubles.remove(0);
    let place = trouble.place.expect("a trouble of a file has its place");
    assert_eq!(place.file.as_deref(), Some("own.toml"), "{text}");
    assert!(!trouble.remedy.is_empty());
    (trouble.code, place.line.expect("a line"), place.column.expect("a column"))
}

#[test]
fn every_slip_is_refused_where_it_stands() {
    for (text, code, line, column) in [
        ("[visit]\nsetup_pair_minutes = = 3", "TRD-001", 2, "22"),
        ("[visit]\n  setup_minutes = 3", "TRD-002", 2, "3"),
        ("[vist]\nsetup_pair_minutes = 3", "TRD-002", 1, "2"),
        ("\n\n[jobs.pull]\ncaution = ['x']", "TRD-002", 4, "1"),
        ("[jobs.pull]\npair_minutes.boomer = 3", "TRD-002", 2, "14"),
        ("[gear.pail]\nsaid = 'pails'\nweight_kg = 1", "TRD-003", 1, "7"),
        ("[jobs.pull]\nkinds = []", "TRD-003", 2, "1"),
        ("[jobs.pull]\nname = 3", "TRD-004", 2, "1"),
        ("visit = 3", "TRD-004", 1, "1"),
        ("[worth]\nhoney_per_kg = '5.00'", "TRD-004", 2, "1"),
        ("[worth]\nhoney_per_kg = 2026-07-03", "TRD-004", 2, "1"),
        ("[jobs.pull]\npair_minutes.double = -1", "TRD-005", 2, "14"),
        ("[visit]\nspare_share = 5", "TRD-005", 2, "1"),
        ("[visit]\nspare_share = nan", "TRD-005", 2, "1"),
        ("[gates.blow]\nmin_temp_c = 40", "TRD-005", 2, "1"),
        ("[jobs.pull]\nkinds = ['double', 'tripel']", "TRD-006", 2, "20"),
        ("[jobs.pull]\ngate = 'sunny'", "TRD-006", 2, "1"),
        ("[jobs.pull]\nstarts = ['pull']", "TRD-006", 2, "11"),
        ("[jobs.pull]\ngear_out.crane = { per = 'crew', count = 1 }", "TRD-006", 2, "10"),
        ("[jobs.pull]\ngear_out.box.per = 'hive'", "TRD-006", 2, "14"),
        ("[jobs.pull]\nfalls_back = { job = 'pul', share = 0.1 }", "TRD-006", 2, "16"),
        ("[gates.blow]\nfrom = '9am'", "TRD-007", 2, "1"),
        ("[jobs.pull]\nseason.from = '02-30'", "TRD-007", 2, "8"),
        ("[jobs.pull]\nkinds = ['double', 'weak']", "TRD-008", 2, "1"),
        ("[gear.box]\ncounts_as = ''", "TRD-009", 2, "1"),
        ("[gear.\"\"]\nsaid = 'x'\nweight_kg = 1\nbox_places = 1", "TRD-009", 1, "7"),
        ("[jobs.pull]\ndoes = ' '", "TRD-009", 2, "1"),
    ] {
        assert_eq!(trouble(text), (code, line, column.to_owned()), "{text}");
    }
}

#[test]
fn all_slips_are_found_in_one_pass() {
    let troubles = read_over(
        "[visit]\nspare_share = 7\n[worth]\nprice = 3\n[gear.third]\nweight_kg = 'nine'\n[gates.lid]\nto = '25:00'\n\
         [jobs.pull]\nkinds = ['dobule']\ngate = 'warm'\n[jobs.feed]\ncolour = 1\n",
    )
    .unwrap_err();
    let mut found: Vec<(usize, &str)> =
        troubles.iter().map(|trouble| (trouble.place.as_ref().unwrap().line.unwrap(), trouble.code)).collect();
    found.sort_unstable();
    assert_eq!(
        found,
        [
            (2, "TRD-005"),
            (4, "TRD-002"),
            (6, "TRD-004"),
            (8, "TRD-007"),
            (10, "TRD-006"),
            (11, "TRD-006"),
            (13, "TRD-002")
        ]
    );
}

proptest! {
    // Against whole-number arithmetic: ceil(total x (100 + percent) / 100).
    #[test]
    fn spares_never_gain_one_from_binary_dust(total in 0_u32..20_000, percent in 0_u32..=100) {
        let share = Share::of(f64::from(percent) / 100.0);
        prop_assert_eq!(load_with_spare(total, share), (total * (100 + percent)).div_ceil(100));
    }

    #[test]
    fn any_text_is_read_or_refused_with_places(text in "([\\[\\]a-z_.=\" 0-9\n'-]|visit|jobs|pull){0,60}") {
        if let Err(troubles) = read_over(&text) {
            prop_assert!(!troubles.is_empty());
            for trouble in troubles {
                prop_assert!(trouble.place.is_some(), "{}", trouble);
            }
        }
    }

    // A line lost from the default book is noticed or harmless, never a panic.
    #[test]
    fn a_default_book_with_a_line_gone_is_read_or_refused(gone in 0_usize..600) {
        let text: Vec<&str> = DEFAULT_JOB_BOOK.lines().enumerate().filter(|(at, _)| *at != gone).map(|(_, l)| l).collect();
        if let Ok(book) = read_job_book(&text.join("\n"), None) {
            for job in book.jobs.values() {
                let work = Work { job, colonies: yard(26, 6) };
                let minutes = book.service_minutes(&[work], 2);
                prop_assert!(minutes >= Minutes::ZERO);
                prop_assert!(book.gates.contains_key(&job.gate));
            }
        }
    }
}
