//! One seed, one answer: whatever the count of threads.

mod outfit;

use outfit::{KINDS, colony, flows, input, worth};
use outyard_season::{ColonyRules, WaitingInput, colonies_ahead};

#[test]
fn one_thread_and_two_and_three_give_the_same_to_the_last_bit() {
    let (rules, worth) = (ColonyRules::default(), worth());
    let colonies = KINDS.map(|kind| colony(kind, &rules));
    let flows: Vec<_> = (0..3)
        .map(|yard| {
            let (mut gain, mut flight_h) = flows(yard);
            gain.truncate(40);
            flight_h.truncate(40);
            (gain, flight_h)
        })
        .collect();
    let inputs: Vec<WaitingInput<'_>> = flows
        .iter()
        .flat_map(|(gain, flight_h)| colonies.iter().map(|colony| input(colony, gain, flight_h, &worth, &rules)))
        .collect();
    let told = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a few threads");
        // Every number in full: the shortest text that reads back as the same bits.
        format!("{:?}", pool.install(|| colonies_ahead(&inputs)))
    };
    let one = told(1);
    assert!(one.len() > 1000);
    assert!(one == told(2) && one == told(3));
}
