//! Ranges learnt from scales against truths drawn from the model; the example `twins` runs it in full.

mod twin;

use twin::{Twin, middle, share, twin};

// 48 seasons of three answers each: two standard errors of a share of 80 % are 7 % for all 144 and 12 % for each 48.
#[test]
fn ranges_of_four_in_five_hold_four_in_five_truths() {
    let twins: Vec<Twin> = (1000..1048).map(|seed| twin(seed, 60)).collect();
    let shares = [
        share(&twins, |twin| twin.sum_covered),
        share(&twins, |twin| twin.full_covered),
        share(&twins, |twin| twin.begin_covered),
    ];
    let all = shares.iter().sum::<f64>() / 3.0;
    assert!((0.73..=0.87).contains(&all), "{shares:?}");
    assert!(shares.iter().all(|share| (0.68..=0.92).contains(share)), "{shares:?}");
    // And they are worth having: nearer the truth than what one would say without them.
    let sum = middle(&twins, |twin| Some(twin.sum_error_kg));
    let sum_by_thumb = middle(&twins, |twin| Some(twin.sum_error_by_thumb_kg));
    assert!(sum < sum_by_thumb, "{sum} kg against {sum_by_thumb} kg");
    let full = middle(&twins, |twin| Some(twin.full_error_days));
    let full_by_thumb = middle(&twins, |twin| Some(twin.full_error_by_thumb_days));
    assert!(full < full_by_thumb, "{full} d against {full_by_thumb} d");
    let begin = middle(&twins, |twin| twin.begin_error_days);
    let begin_by_thumb = middle(&twins, |twin| twin.begin_error_by_thumb_days);
    assert!(begin <= begin_by_thumb, "{begin} d against {begin_by_thumb} d");
    let spread = middle(&twins, |twin| Some(twin.spread));
    assert!((0.1..0.4).contains(&spread), "{spread}");
}
