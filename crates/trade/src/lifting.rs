//! Lifting: the revised NIOSH equation and the count of lifts in a day. It tells what a lift weighs on a back; it is
//! no permission to lift. The law of the place, a doctor and the hand himself outrank it.
//!
//! RWL = 23 kg · HM · VM · DM · AM · FM · CM, and lifting index LI = load / RWL (Waters et al. 1993) `[NIOSH94-110]`.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | LC | `LOAD_CONSTANT` | most in the best posture | kg | 23 | `[NIOSH94-110]` |
//! | H | `reach_cm` | hands ahead of the ankles | cm | HM 25/H, 1 below 25, 0 past 63 | `[NIOSH94-110]` |
//! | V | `height_cm` | hands above the floor | cm | VM 1 - 0.003·abs(V - 75), 0 past 175 | `[NIOSH94-110]` |
//! | D | `travel_cm` | height moved | cm | DM 0.82 + 4.5/D, 1 below 25, 0 past 175 | `[NIOSH94-110]` |
//! | A | `twist_deg` | turn of the trunk | ° | AM 1 - 0.0032·A, 0 past 135 | `[NIOSH94-110]` |
//! | F | `lifts_per_minute` | how often | 1/min | FM table 5 | NIOSH 94-110 table 5, from memory |
//! | C | `Grip` | how it can be held | - | CM 1.00 / 0.95 / 0.90 | `[NIOSH94-110]` |

use outyard_base::Kilograms;

/// Most that is recommended in the best posture.
pub const LOAD_CONSTANT: f64 = 23.0;

/// How long the lifting goes on in a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LiftSpell {
    /// Up to one hour.
    UpToOneHour,
    /// More than one, up to two hours.
    UpToTwoHours,
    /// More than two, up to eight hours.
    UpToEightHours,
}

/// How the load can be held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grip {
    /// Handles.
    Good,
    /// Hand holds such as those cut in a box.
    Fair,
    /// Nothing to hold.
    Poor,
}

/// One lift, as it is done again and again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lift {
    /// What is lifted.
    pub load: Kilograms,
    /// Hands ahead of the ankles, cm.
    pub reach_cm: f64,
    /// Hands above the floor at the start, cm.
    pub height_cm: f64,
    /// Height moved, cm.
    pub travel_cm: f64,
    /// Turn of the trunk, degrees.
    pub twist_deg: f64,
    /// Lifts a minute.
    pub lifts_per_minute: f64,
    /// How long it goes on.
    pub spell: LiftSpell,
    /// How it can be held.
    pub grip: Grip,
}

/// The factors of the equation, each 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LiftFactors {
    /// HM.
    pub reach: f64,
    /// VM.
    pub height: f64,
    /// DM.
    pub travel: f64,
    /// AM.
    pub twist: f64,
    /// FM.
    pub often: f64,
    /// CM.
    pub grip: f64,
}

/// Table 5: lifts a minute up to, then FM for up to 1, 2 and 8 hours with the hands below 75 cm, then the same at
/// 75 cm and above (NIOSH 94-110 table 5, from memory).
const OFTEN: [(f64, [f64; 3], [f64; 3]); 18] = [
    (0.2, [1.00, 0.95, 0.85], [1.00, 0.95, 0.85]),
    (0.5, [0.97, 0.92, 0.81], [0.97, 0.92, 0.81]),
    (1.0, [0.94, 0.88, 0.75], [0.94, 0.88, 0.75]),
    (2.0, [0.91, 0.84, 0.65], [0.91, 0.84, 0.65]),
    (3.0, [0.88, 0.79, 0.55], [0.88, 0.79, 0.55]),
    (4.0, [0.84, 0.72, 0.45], [0.84, 0.72, 0.45]),
    (5.0, [0.80, 0.60, 0.35], [0.80, 0.60, 0.35]),
    (6.0, [0.75, 0.50, 0.27], [0.75, 0.50, 0.27]),
    (7.0, [0.70, 0.42, 0.22], [0.70, 0.42, 0.22]),
    (8.0, [0.60, 0.35, 0.18], [0.60, 0.35, 0.18]),
    (9.0, [0.52, 0.30, 0.00], [0.52, 0.30, 0.15]),
    (10.0, [0.45, 0.26, 0.00], [0.45, 0.26, 0.13]),
    (11.0, [0.41, 0.00, 0.00], [0.41, 0.23, 0.00]),
    (12.0, [0.37, 0.00, 0.00], [0.37, 0.21, 0.00]),
    (13.0, [0.00, 0.00, 0.00], [0.34, 0.00, 0.00]),
    (14.0, [0.00, 0.00, 0.00], [0.31, 0.00, 0.00]),
    (15.0, [0.00, 0.00, 0.00], [0.28, 0.00, 0.00]),
    (f64::INFINITY, [0.00, 0.00, 0.00], [0.00, 0.00, 0.00]),
];

impl Lift {
    /// The six factors. How often is read from the row at or above it, never below.
    pub fn factors(&self) -> LiftFactors {
        LiftFactors {
            reach: if self.reach_cm > 63.0 { 0.0 } else { (25.0 / self.reach_cm.max(25.0)).min(1.0) },
            height: if self.height_cm > 175.0 { 0.0 } else { 1.0 - 0.003 * (self.height_cm - 75.0).abs() },
            travel: if self.travel_cm > 175.0 { 0.0 } else { 0.82 + 4.5 / self.travel_cm.max(25.0) },
            twist: if self.twist_deg > 135.0 { 0.0 } else { 1.0 - 0.0032 * self.twist_deg.max(0.0) },
            often: self.often(),
            grip: match self.grip {
                Grip::Fair if self.height_cm < 75.0 => 0.95,
                Grip::Good | Grip::Fair => 1.0,
                Grip::Poor => 0.9,
            },
        }
    }

    fn often(&self) -> f64 {
        let column = match self.spell {
            LiftSpell::UpToOneHour => 0,
            LiftSpell::UpToTwoHours => 1,
            LiftSpell::UpToEightHours => 2,
        };
        OFTEN
            .iter()
            .find(|(up_to, ..)| self.lifts_per_minute <= *up_to)
            .map_or(0.0, |(_, low, high)| if self.height_cm < 75.0 { low[column] } else { high[column] })
    }

    /// The recommended weight limit in this posture.
    pub fn recommended(&self) -> Kilograms {
        let of = self.factors();
        Kilograms::of(LOAD_CONSTANT * of.reach * of.height * of.travel * of.twist * of.often * of.grip)
    }

    /// The lifting index: load by recommended weight. Up to 1 nominal, above 3 high (from memory); infinite when the
    /// posture allows nothing.
    pub fn index(&self) -> f64 {
        let recommended = self.recommended();
        if recommended.get() > 0.0 { self.load / recommended } else { f64::INFINITY }
    }
}

/// What to say about a day's lifting: how many lifts fall to each hand, and to lift by two or by boom when a load
/// passes the constant of the equation.
///
/// # Panics
/// With no hands.
pub fn lifts_caution(lifts: u32, hands: u32, heaviest: Kilograms) -> String {
    assert!(hands > 0, "a crew has at least one hand");
    let each = lifts.div_ceil(hands);
    let heavy = if heaviest.get() > LOAD_CONSTANT {
        format!(
            " The heaviest is {heaviest:.0}: above {LOAD_CONSTANT:.0} kg no posture is good enough, lift by two or by boom."
        )
    } else {
        String::new()
    };
    format!("{lifts} lifts, {each} a hand if shared evenly.{heavy} Decks at knee height, rests and water.")
}
