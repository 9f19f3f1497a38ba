//! The nouns every room of outyard shares: units, ids, dates, clock times, places, sun, money and ranges.
//!
//! Nothing here knows about bees. Every quantity is a small type that checks its range when it is built, so a
//! weight can never be handed over as a temperature and a nonsense value stops where it came in.

pub mod chance;
pub mod clock_time;
pub mod days;
pub mod ids;
pub mod money;
pub mod place;
pub mod range;
pub mod sun;
pub mod trouble;
pub mod units;

pub use chance::Chance;
pub use clock_time::ClockTime;
pub use ids::{BadId, CrewId, DeviceId, GearCode, JobCode, ScaleId, StationId, TruckId, YardId};
pub use money::Cents;
pub use place::Place;
pub use range::{DateRange, Range};
pub use trouble::{Note, Trouble};
pub use units::{
    Celsius, DegreeDays, Grams, Hours, Kilograms, KilogramsPerDay, Kilometres, KilometresPerHour, Litres, Megajoules,
    Metres, Millimetres, Minutes, OutOfRange, Share,
};
