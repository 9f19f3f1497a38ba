//! What the trade knows: kinds of colony, jobs and their gear, brood clocks, boxes, weather gates, signs, labels and
//! lifting. All of it is data and arithmetic: nothing here reads a file, a clock or the weather.
//!
//! Two rules hold in every module. A brood clock starts with a job and never moves with the weather. A number has a
//! source beside it, or stands marked as common practice, from memory or assumed.

pub mod boxes;
pub mod clocks;
pub mod gate;
pub mod jobbook;
pub mod kinds;
pub mod lifting;
pub mod methods;
pub mod noise;
pub mod signs;
pub mod stages;
pub mod treatments;

pub use boxes::{BoxDepth, BoxFacts, BoxWidth, FrameCount};
pub use clocks::{ClockMark, ClockStart, DatedMark, dated_marks, marks};
pub use gate::WeatherGate;
pub use jobbook::{
    DEFAULT_JOB_BOOK, FallBack, Gear, GearNeed, GearPer, GearSum, Job, JobBook, LoadLine, MonthDay, SeasonWindow,
    VisitRules, Work, Worth, load_with_spare, read_job_book,
};
pub use kinds::{BadKind, Kind, KindCounts};
pub use signs::{AboveSeen, BelowSeen, CombSeen, SignMeaning, SignReading, SignRefusal, Verdict, read_sign};
pub use treatments::{LabelTyped, LabelWords, SupersAnswer};
