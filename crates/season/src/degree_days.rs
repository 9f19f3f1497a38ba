//! Degree days of one day from its low and high, by every method in use, and their sum over a season.
//!
//! A threshold fitted with one method, base and start date is only good with the same three. Formulas after Zalom et
//! al. 1983 (UC DANR leaflet 21373), the single sine of Baskerville & Emin 1969, the double sine of Allen 1976; the
//! two averages told apart by `McMaster` & Wilhelm 1997. With no upper limit the heat above a base a is
//! E(a) = M − a when the whole day is warmer; for the sine ((M − a)(π/2 − θ) + W cos θ)/π with θ = asin((a − M)/W);
//! for the triangle (Tx − a)²/(2(Tx − Tn)). Upper limits: horizontal E(a) − E(u); intermediate E(a) − 2E(u), not below
//! nought; vertical E(a) − E(u) − (u − a)p. The double methods average the half day up from this morning's low and
//! the half day down to tomorrow's.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | Tn, Tx | `low`, `high` | least and greatest temperature of the day | °C | input | station |
//! | Tn' | `next_low` | tomorrow's least; today's when not known | °C | input | station |
//! | a | `base` | lower threshold | °C | input | the plant's rule |
//! | u | `upper` | upper threshold, none when `None` | °C | input | the plant's rule |
//! | M | `mean` | (Tn + Tx)/2 | °C | - | - |
//! | W | `half_span` | (Tx − Tn)/2 | °C | - | - |
//! | p | `part_above` | part of the day above u | of 1 | - | Zalom et al. 1983 |

use core::f64::consts::{FRAC_PI_2, PI};

use outyard_base::days::days_from;
use outyard_base::{Celsius, DegreeDays};

use crate::weather::DayWeather;

/// What heat above the upper threshold does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cutoff {
    /// It counts in full: the upper threshold is not used.
    None,
    /// Growth goes on at the rate it has at the upper threshold.
    Horizontal,
    /// Growth slows by as much as the temperature is above it.
    Intermediate,
    /// Growth stops while the temperature is above it.
    Vertical,
}

/// How a day's heat is reckoned from its low and high.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Mean of low and high, less the base, not below nought; the upper threshold is not used.
    SimpleAverage,
    /// Low and high each brought within base and upper threshold, then the mean less the base.
    ClippedAverage,
    /// One sine curve through today's low and high.
    SingleSine(Cutoff),
    /// A half sine up from today's low and one down to tomorrow's.
    DoubleSine(Cutoff),
    /// One triangle through today's low and high.
    SingleTriangle(Cutoff),
    /// A half triangle up from today's low and one down to tomorrow's.
    DoubleTriangle(Cutoff),
}

impl Method {
    /// The name used in plant tables: `simple-average`, `double-sine-horizontal`.
    pub fn name(self) -> &'static str {
        use Cutoff::{Horizontal, Intermediate, None, Vertical};
        match self {
            Self::SimpleAverage => "simple-average",
            Self::ClippedAverage => "clipped-average",
            Self::SingleSine(None) => "single-sine",
            Self::SingleSine(Horizontal) => "single-sine-horizontal",
            Self::SingleSine(Intermediate) => "single-sine-intermediate",
            Self::SingleSine(Vertical) => "single-sine-vertical",
            Self::DoubleSine(None) => "double-sine",
            Self::DoubleSine(Horizontal) => "double-sine-horizontal",
            Self::DoubleSine(Intermediate) => "double-sine-intermediate",
            Self::DoubleSine(Vertical) => "double-sine-vertical",
            Self::SingleTriangle(None) => "single-triangle",
            Self::SingleTriangle(Horizontal) => "single-triangle-horizontal",
            Self::SingleTriangle(Intermediate) => "single-triangle-intermediate",
            Self::SingleTriangle(Vertical) => "single-triangle-vertical",
            Self::DoubleTriangle(None) => "double-triangle",
            Self::DoubleTriangle(Horizontal) => "double-triangle-horizontal",
            Self::DoubleTriangle(Intermediate) => "double-triangle-intermediate",
            Self::DoubleTriangle(Vertical) => "double-triangle-vertical",
        }
    }

    /// Every method there is.
    pub fn all() -> impl Iterator<Item = Self> {
        const CUTOFFS: [Cutoff; 4] = [Cutoff::None, Cutoff::Horizontal, Cutoff::Intermediate, Cutoff::Vertical];
        [Self::SimpleAverage, Self::ClippedAverage].into_iter().chain(CUTOFFS.into_iter().flat_map(|cutoff| {
            [
                Self::SingleSine(cutoff),
                Self::DoubleSine(cutoff),
                Self::SingleTriangle(cutoff),
                Self::DoubleTriangle(cutoff),
            ]
        }))
    }

    /// Reads a name as [`Method::name`] writes it.
    pub fn named(name: &str) -> Option<Self> {
        Self::all().find(|method| method.name() == name)
    }

    /// True when the method cannot do without an upper threshold.
    pub fn needs_upper(self) -> bool {
        match self {
            Self::SimpleAverage | Self::ClippedAverage => false,
            Self::SingleSine(cutoff)
            | Self::DoubleSine(cutoff)
            | Self::SingleTriangle(cutoff)
            | Self::DoubleTriangle(cutoff) => cutoff != Cutoff::None,
        }
    }
}

/// A low above its high, or an upper threshold below the base.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum BadDay {
    /// The day's low is above its high.
    #[error("the low of {low} is above the high of {high}")]
    Crossed {
        /// Low given.
        low: Celsius,
        /// High given.
        high: Celsius,
    },
    /// The upper threshold is below the base.
    #[error("the upper threshold of {upper} is below the base of {base}")]
    Thresholds {
        /// Base given.
        base: Celsius,
        /// Upper threshold given.
        upper: Celsius,
    },
}

#[derive(Clone, Copy)]
enum Shape {
    Sine,
    Triangle,
}

/// Heat above `base` of a full swing from `low` to `high`, with no upper limit.
fn heat_above(shape: Shape, low: f64, high: f64, base: f64) -> f64 {
    if high <= base {
        return 0.0;
    }
    let mean = f64::midpoint(low, high);
    if low >= base {
        return mean - base;
    }
    match shape {
        Shape::Sine => {
            let half_span = (high - low) / 2.0;
            let angle = ((base - mean) / half_span).clamp(-1.0, 1.0).asin();
            ((mean - base) * (FRAC_PI_2 - angle) + half_span * angle.cos()) / PI
        }
        Shape::Triangle => (high - base) * (high - base) / (2.0 * (high - low)),
    }
}

/// Part of the day above a temperature.
fn part_above(shape: Shape, low: f64, high: f64, upper: f64) -> f64 {
    if high <= upper {
        return 0.0;
    }
    if low >= upper {
        return 1.0;
    }
    match shape {
        Shape::Sine => {
            let half_span = (high - low) / 2.0;
            let angle = ((upper - f64::midpoint(low, high)) / half_span).clamp(-1.0, 1.0).asin();
            (FRAC_PI_2 - angle) / PI
        }
        Shape::Triangle => (high - upper) / (high - low),
    }
}

fn one_swing(shape: Shape, cutoff: Cutoff, low: f64, high: f64, base: f64, upper: f64) -> f64 {
    let all = heat_above(shape, low, high, base);
    match cutoff {
        Cutoff::None => all,
        Cutoff::Horizontal => all - heat_above(shape, low, high, upper),
        Cutoff::Intermediate => (all - 2.0 * heat_above(shape, low, high, upper)).max(0.0),
        Cutoff::Vertical => {
            let above = heat_above(shape, low, high, upper);
            (all - above - (upper - base) * part_above(shape, low, high, upper)).max(0.0)
        }
    }
}

/// The sum of one day on bare numbers (°C), for inner loops: no checks. An infinite `upper` means none.
pub(crate) fn raw_day_sum(method: Method, low: f64, high: f64, next_low: f64, base: f64, upper: f64) -> f64 {
    // Tomorrow's low may be above today's high when a warm front comes in at night: that half day is then level.
    let next_low = next_low.min(high);
    match method {
        Method::SimpleAverage => (f64::midpoint(low, high) - base).max(0.0),
        Method::ClippedAverage => f64::midpoint(low.clamp(base, upper), high.clamp(base, upper)) - base,
        Method::SingleSine(cutoff) => one_swing(Shape::Sine, cutoff, low, high, base, upper),
        Method::SingleTriangle(cutoff) => one_swing(Shape::Triangle, cutoff, low, high, base, upper),
        Method::DoubleSine(cutoff) => f64::midpoint(
            one_swing(Shape::Sine, cutoff, low, high, base, upper),
            one_swing(Shape::Sine, cutoff, next_low, high, base, upper),
        ),
        Method::DoubleTriangle(cutoff) => f64::midpoint(
            one_swing(Shape::Triangle, cutoff, low, high, base, upper),
            one_swing(Shape::Triangle, cutoff, next_low, high, base, upper),
        ),
    }
}

/// Degree days of one day. Without `next_low` the double methods use today's low again; without `upper` no heat is
/// cut off.
///
/// ```
/// use outyard_base::Celsius;
/// use outyard_season::{Cutoff, Method, day_sum};
/// let sum = day_sum(
///     Method::SingleSine(Cutoff::None), Celsius::of(5.0), Celsius::of(15.0), None, Celsius::of(10.0), None,
/// ).unwrap();
/// assert!((sum.get() - 1.5915).abs() < 5e-5);
/// ```
///
/// # Errors
/// [`BadDay`] when low is above high or the upper threshold below the base.
pub fn day_sum(
    method: Method,
    low: Celsius,
    high: Celsius,
    next_low: Option<Celsius>,
    base: Celsius,
    upper: Option<Celsius>,
) -> Result<DegreeDays, BadDay> {
    if low > high {
        return Err(BadDay::Crossed { low, high });
    }
    if let Some(upper) = upper.filter(|upper| *upper < base) {
        return Err(BadDay::Thresholds { base, upper });
    }
    let upper = upper.map_or(f64::INFINITY, Celsius::get);
    let sum = raw_day_sum(method, low.get(), high.get(), next_low.unwrap_or(low).get(), base.get(), upper);
    Ok(DegreeDays::of(sum))
}

/// Method, base and upper threshold that belong together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeatRule {
    /// How a day's heat is reckoned.
    pub method: Method,
    /// Lower threshold.
    pub base: Celsius,
    /// Upper threshold, if the rule has one.
    pub upper: Option<Celsius>,
}

impl HeatRule {
    /// Heat of one day on bare numbers, °C·d.
    pub(crate) fn day(&self, low: f64, high: f64, next_low: f64) -> f64 {
        let upper = self.upper.map_or(f64::INFINITY, Celsius::get);
        raw_day_sum(self.method, low, high, next_low, self.base.get(), upper)
    }
}

/// The low of the next day, or the day's own when the next is not known.
pub(crate) fn low_after(day: &DayWeather, next: Option<&DayWeather>) -> Celsius {
    next.filter(|next| days_from(day.date, next.date) == 1).map_or(day.low, |next| next.low)
}

/// Heat of a row of days summed up to and with each day. Where the next day is not known its low is taken as the day's
/// own.
pub fn heat_sum(rule: &HeatRule, days: &[DayWeather]) -> Vec<DegreeDays> {
    let mut sum = 0.0;
    let mut sums = Vec::with_capacity(days.len());
    for (index, day) in days.iter().enumerate() {
        let next_low = low_after(day, days.get(index + 1));
        sum += rule.day(day.low.get(), day.high.get(), next_low.get());
        sums.push(DegreeDays::of(sum));
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    // Reference: midpoint rule with 2e6 points a day over the defining curves (tmin, tmax, base, upper, then simple,
    // clipped, sine none / horizontal / vertical / intermediate, triangle none / horizontal / vertical), °C·d.
    const SINGLE: [[f64; 13]; 21] = [
        [2.0, 8.0, 10.0, 30.0, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000],
        [5.0, 15.0, 10.0, 30.0, 0.0000, 2.5000, 1.5915, 1.5915, 1.5915, 1.5915, 1.2500, 1.2500, 1.2500],
        [5.0, 10.0, 10.0, 30.0, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000],
        [0.0, 20.0, 10.0, 30.0, 0.0000, 5.0000, 3.1831, 3.1831, 3.1831, 3.1831, 2.5000, 2.5000, 2.5000],
        [8.0, 22.0, 10.0, 30.0, 5.0000, 6.0000, 5.3256, 5.3256, 5.3256, 5.3256, 5.1429, 5.1429, 5.1429],
        [12.0, 28.0, 10.0, 30.0, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000],
        [10.0, 30.0, 10.0, 30.0, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000],
        [12.0, 34.0, 10.0, 30.0, 13.0000, 11.0000, 13.0000, 12.2621, 6.6534, 11.5242, 13.0000, 12.6364, 9.0000],
        [5.0, 35.0, 10.0, 30.0, 10.0000, 10.0000, 10.8816, 10.0000, 4.6456, 9.1184, 10.4167, 10.0000, 6.6667],
        [-3.0, 33.0, 10.0, 30.0, 5.0000, 10.0000, 8.4521, 8.0814, 4.3528, 7.7107, 7.3472, 7.2222, 5.5556],
        [31.0, 38.0, 10.0, 30.0, 24.5000, 20.0000, 24.5000, 20.0000, 0.0000, 15.5000, 24.5000, 20.0000, 0.0000],
        [30.0, 36.0, 10.0, 30.0, 23.0000, 20.0000, 23.0000, 20.0000, 0.0000, 17.0000, 23.0000, 20.0000, 0.0000],
        [9.9, 10.1, 10.0, 30.0, 0.0000, 0.0500, 0.0318, 0.0318, 0.0318, 0.0318, 0.0250, 0.0250, 0.0250],
        [15.0, 15.0, 10.0, 30.0, 5.0000, 5.0000, 5.0000, 5.0000, 5.0000, 5.0000, 5.0000, 5.0000, 5.0000],
        [-5.0, 9.0, 0.0, 25.0, 2.0000, 4.5000, 3.3197, 3.3197, 3.3197, 3.3197, 2.8929, 2.8929, 2.8929],
        [3.0, 27.0, 0.0, 25.0, 15.0000, 14.0000, 15.0000, 14.7529, 10.0921, 14.5057, 15.0000, 14.9167, 12.8333],
        [1.0, 12.0, 5.0, 25.0, 1.5000, 3.5000, 2.5662, 2.5662, 2.5662, 2.5662, 2.2273, 2.2273, 2.2273],
        [4.0, 18.0, 5.0, 25.0, 6.0000, 6.5000, 6.1143, 6.1143, 6.1143, 6.1143, 6.0357, 6.0357, 6.0357],
        [7.0, 31.0, 5.0, 25.0, 14.0000, 11.0000, 14.0000, 12.6920, 6.0254, 11.3841, 14.0000, 13.2500, 8.2500],
        [16.0, 29.0, 4.4, 26.7, 18.1000, 16.9500, 18.1000, 17.6817, 11.5185, 17.2634, 18.1000, 17.8965, 13.9512],
        [-8.0, 16.0, 4.4, 26.7, 0.0000, 5.8000, 3.6218, 3.6218, 3.6218, 3.6218, 2.8033, 2.8033, 2.8033],
    ];

    // Reference as above: tmin, tmax, next tmin, base, upper, then sine and triangle none / horizontal / vertical.
    const DOUBLE: [[f64; 11]; 8] = [
        [5.0, 20.0, 9.0, 10.0, 30.0, 4.2002, 4.2002, 4.2002, 3.9394, 3.9394, 3.9394],
        [0.0, 25.0, -4.0, 10.0, 30.0, 5.0885, 5.0885, 5.0885, 4.1897, 4.1897, 4.1897],
        [12.0, 34.0, 15.0, 10.0, 30.0, 13.7500, 12.9828, 7.1438, 13.7500, 13.3577, 9.4342],
        [8.0, 36.0, 4.0, 10.0, 30.0, 11.6766, 10.5113, 4.5964, 11.3170, 10.7143, 6.6964],
        [2.0, 9.0, 6.0, 10.0, 30.0, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000, 0.0000],
        [11.0, 29.0, 11.0, 10.0, 30.0, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000, 10.0000],
        [-2.0, 13.0, 3.0, 5.0, 25.0, 3.0152, 3.0152, 3.0152, 2.6667, 2.6667, 2.6667],
        [6.0, 28.0, 10.0, 5.0, 25.0, 13.0000, 12.4971, 7.4120, 13.0000, 12.7727, 9.7424],
    ];

    fn check(method: Method, low: f64, high: f64, next_low: Option<f64>, base: f64, upper: f64, want: f64) {
        let got = day_sum(
            method,
            Celsius::of(low),
            Celsius::of(high),
            next_low.map(Celsius::of),
            Celsius::of(base),
            Some(Celsius::of(upper)),
        )
        .unwrap()
        .get();
        assert!((got - want).abs() < 7e-5, "{} of {low} to {high}: {got}, reference {want}", method.name());
    }

    #[test]
    fn every_single_method_matches_the_reference() {
        use Cutoff::{Horizontal, Intermediate, None as Uncut, Vertical};
        let methods = [
            Method::SimpleAverage,
            Method::ClippedAverage,
            Method::SingleSine(Uncut),
            Method::SingleSine(Horizontal),
            Method::SingleSine(Vertical),
            Method::SingleSine(Intermediate),
            Method::SingleTriangle(Uncut),
            Method::SingleTriangle(Horizontal),
            Method::SingleTriangle(Vertical),
        ];
        for row in SINGLE {
            for (method, want) in methods.into_iter().zip(&row[4..]) {
                check(method, row[0], row[1], None, row[2], row[3], *want);
            }
        }
    }

    #[test]
    fn every_double_method_matches_the_reference() {
        use Cutoff::{Horizontal, None as Uncut, Vertical};
        let methods = [
            Method::DoubleSine(Uncut),
            Method::DoubleSine(Horizontal),
            Method::DoubleSine(Vertical),
            Method::DoubleTriangle(Uncut),
            Method::DoubleTriangle(Horizontal),
            Method::DoubleTriangle(Vertical),
        ];
        for row in DOUBLE {
            for (method, want) in methods.into_iter().zip(&row[5..]) {
                check(method, row[0], row[1], Some(row[2]), row[3], row[4], *want);
            }
        }
    }

    /// Brute force over the defining curve, for the cases the tables leave out.
    fn by_brute_force(shape: Shape, cutoff: Cutoff, low: f64, high: f64, base: f64, upper: f64) -> f64 {
        let count = 200_000_u32;
        let sum: f64 = (0..count)
            .map(|step| {
                let part = (f64::from(step) + 0.5) / f64::from(count);
                let swing = match shape {
                    Shape::Sine => (core::f64::consts::TAU * part).sin(),
                    Shape::Triangle if part < 0.5 => 4.0 * part - 1.0,
                    Shape::Triangle => 3.0 - 4.0 * part,
                };
                let heat = f64::midpoint(low, high) + (high - low) / 2.0 * swing;
                match cutoff {
                    Cutoff::Horizontal => heat.clamp(base, upper) - base,
                    Cutoff::Intermediate => (heat - base).max(0.0) - 2.0 * (heat - upper).max(0.0),
                    Cutoff::Vertical if heat > upper => 0.0,
                    Cutoff::None | Cutoff::Vertical => (heat - base).max(0.0),
                }
            })
            .sum();
        (sum / f64::from(count)).max(0.0)
    }

    #[test]
    fn intermediate_triangle_and_intermediate_doubles_match_brute_force() {
        for row in SINGLE {
            let (low, high, base, upper) = (row[0], row[1], row[2], row[3]);
            let half = |shape, low| by_brute_force(shape, Cutoff::Intermediate, low, high, base, upper);
            let triangle = half(Shape::Triangle, low);
            check(Method::SingleTriangle(Cutoff::Intermediate), low, high, None, base, upper, triangle);
            let next = low - 3.0;
            let double = f64::midpoint(half(Shape::Sine, low), half(Shape::Sine, next));
            check(Method::DoubleSine(Cutoff::Intermediate), low, high, Some(next), base, upper, double);
            let double = f64::midpoint(triangle, half(Shape::Triangle, next));
            check(Method::DoubleTriangle(Cutoff::Intermediate), low, high, Some(next), base, upper, double);
        }
    }

    #[test]
    fn edges_are_answered_or_refused() {
        let of = |method, low, high, base, upper: Option<f64>| {
            day_sum(method, Celsius::of(low), Celsius::of(high), None, Celsius::of(base), upper.map(Celsius::of))
        };
        assert!(matches!(of(Method::SimpleAverage, 9.0, 8.0, 5.0, None), Err(BadDay::Crossed { .. })));
        assert!(matches!(of(Method::SimpleAverage, 1.0, 8.0, 5.0, Some(4.0)), Err(BadDay::Thresholds { .. })));
        for method in Method::all() {
            for (low, high) in [(4.0, 4.0), (12.0, 12.0), (40.0, 40.0), (10.0, 30.0), (-20.0, 45.0)] {
                let sum = of(method, low, high, 10.0, Some(30.0)).unwrap().get();
                assert!(sum.is_finite() && sum >= 0.0, "{} of {low} to {high}", method.name());
                // With base and upper threshold equal there is nothing to gather between them.
                let nothing = of(method, low, high, 20.0, Some(20.0)).unwrap().get();
                if method.needs_upper() || method == Method::ClippedAverage {
                    assert!(nothing.abs() < 1e-12, "{} gathered {nothing}", method.name());
                }
                // A double method with no next low is the single one.
                let no_upper = of(method, low, high, 10.0, None).unwrap().get();
                assert!(no_upper.is_finite() && no_upper >= 0.0);
            }
            assert_eq!(Method::named(method.name()), Some(method));
        }
        let single = of(Method::SingleSine(Cutoff::None), 5.0, 20.0, 10.0, None).unwrap();
        assert_eq!(of(Method::DoubleSine(Cutoff::None), 5.0, 20.0, 10.0, None).unwrap(), single);
        assert_eq!(Method::named("average"), None);
    }

    // 1 °C·d = 1.8 °F·d, no offset of 32.
    #[test]
    fn fahrenheit_days_are_1_8_to_one() {
        let celsius = raw_day_sum(Method::SingleSine(Cutoff::None), 5.0, 15.0, 5.0, 10.0, f64::INFINITY);
        let fahrenheit = raw_day_sum(Method::SingleSine(Cutoff::None), 41.0, 59.0, 41.0, 50.0, f64::INFINITY);
        assert!((DegreeDays::from_fahrenheit(fahrenheit).unwrap().get() - celsius).abs() < 1e-12);
    }

    proptest::proptest! {
        #[test]
        fn cutoffs_keep_their_order(
            low in -20.0_f64..30.0, span in 0.0_f64..25.0, next in -20.0_f64..40.0, base in -5.0_f64..15.0,
            above in 0.0_f64..25.0,
        ) {
            let (high, upper) = (low + span, base + above);
            for make in [Method::SingleSine, Method::DoubleSine, Method::SingleTriangle, Method::DoubleTriangle] {
                let sum = |cutoff| raw_day_sum(make(cutoff), low, high, next, base, upper);
                proptest::prop_assert!(sum(Cutoff::None) + 1e-9 >= sum(Cutoff::Horizontal));
                proptest::prop_assert!(sum(Cutoff::Horizontal) + 1e-9 >= sum(Cutoff::Intermediate));
                proptest::prop_assert!(sum(Cutoff::Horizontal) + 1e-9 >= sum(Cutoff::Vertical));
                proptest::prop_assert!(sum(Cutoff::Vertical) >= 0.0);
                proptest::prop_assert!(sum(Cutoff::Horizontal) <= above + 1e-9);
            }
        }
    }
}
