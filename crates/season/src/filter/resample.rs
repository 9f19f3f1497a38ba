//! Weights, how many draws they leave effective, and systematic resampling.

use outyard_base::Chance;

/// Shares of draws by the logarithms of their likelihood, raised to a power. They sum to 1; equal when nothing is likely.
pub fn shares(log_likelihood: &[f64], power: f64) -> Vec<f64> {
    let most = log_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    #[expect(clippy::cast_precision_loss, reason = "a count of draws")]
    let even = 1.0 / log_likelihood.len().max(1) as f64;
    if !most.is_finite() {
        return vec![even; log_likelihood.len()];
    }
    let weights: Vec<f64> = log_likelihood.iter().map(|likely| (power * (likely - most)).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.into_iter().map(|weight| weight / sum).collect()
}

/// Effective number of draws with such shares, 1/Σw² (Kong, Liu & Wong 1994).
///
/// ```
/// use outyard_season::filter::effective_size;
/// assert!((effective_size(&[0.25; 4]) - 4.0).abs() < 1e-12);
/// assert!((effective_size(&[1.0, 0.0, 0.0]) - 1.0).abs() < 1e-12);
/// ```
pub fn effective_size(shares: &[f64]) -> f64 {
    let squares: f64 = shares.iter().map(|share| share * share).sum();
    if squares > 0.0 { 1.0 / squares } else { 0.0 }
}

/// Indices of `count` draws taken by their shares, one random start and even steps from it (Kitagawa 1996): a draw with
/// share w is taken ⌊w·count⌋ or ⌈w·count⌉ times.
pub fn systematic(shares: &[f64], count: usize, chance: &mut Chance) -> Vec<usize> {
    #[expect(clippy::cast_precision_loss, reason = "a count of draws")]
    let step = 1.0 / count.max(1) as f64;
    let start = chance.uniform();
    let mut taken = Vec::with_capacity(count);
    let (mut index, mut below) = (0, shares.first().copied().unwrap_or(0.0));
    for number in 0..count {
        #[expect(clippy::cast_precision_loss, reason = "a count of draws")]
        let point = (number as f64 + start) * step;
        while point >= below && index + 1 < shares.len() {
            index += 1;
            below += shares[index];
        }
        taken.push(index);
    }
    taken
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        #[test]
        fn each_is_taken_as_often_as_its_share(
            weights in proptest::collection::vec(-8.0_f64..8.0, 1..40),
            count in 1_usize..200,
            seed in 0_u64..1000,
        ) {
            let shares = shares(&weights, 1.0);
            proptest::prop_assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-9);
            let taken = systematic(&shares, count, &mut Chance::new(seed, "test"));
            proptest::prop_assert_eq!(taken.len(), count);
            for (index, share) in shares.iter().enumerate() {
                let times = f64::from(u32::try_from(taken.iter().filter(|at| **at == index).count()).unwrap());
                let wanted = share * f64::from(u32::try_from(count).unwrap());
                proptest::prop_assert!((times - wanted).abs() < 1.0 + 1e-6, "{} of {}", times, wanted);
            }
        }

        #[test]
        fn the_effective_number_lies_between_one_and_all(weights in proptest::collection::vec(-30.0_f64..0.0, 1..60)) {
            let effective = effective_size(&shares(&weights, 1.0));
            let all = f64::from(u32::try_from(weights.len()).unwrap());
            proptest::prop_assert!((1.0 - 1e-9..=all + 1e-9).contains(&effective));
            proptest::prop_assert!((effective_size(&shares(&weights, 0.0)) - all).abs() < 1e-9);
        }
    }

    #[test]
    fn nothing_likely_leaves_all_alike() {
        assert_eq!(shares(&[f64::NEG_INFINITY; 4], 1.0), vec![0.25; 4]);
    }
}
